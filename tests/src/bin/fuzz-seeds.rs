//! Writes the fuzzer's first corpus from the examples: `fuzz-seeds EXAMPLES CORPUS`.

use std::fs;
use std::path::Path;
use trued::format::{self, Content, Units, document, dxf, svg};
use trued::{Hint, Point, Settings, Stroke, Trace, true_up};

#[path = "../../fuzz/src/spell.rs"]
#[allow(dead_code)]
mod spell;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [examples, corpus] = words.as_slice() else {
        return Err("usage: fuzz-seeds EXAMPLES CORPUS".into());
    };
    let (examples, corpus) = (Path::new(examples), Path::new(corpus));
    let put = |target: &str, name: &str, bytes: &[u8]| -> std::io::Result<()> {
        let folder = corpus.join(target);
        fs::create_dir_all(&folder)?;
        fs::write(folder.join(name), bytes)
    };
    let files = |folder: &str| -> std::io::Result<Vec<std::path::PathBuf>> {
        let mut all: Vec<_> = fs::read_dir(examples.join(folder))?
            .map(|e| e.map(|e| e.path()))
            .collect::<Result<_, _>>()?;
        all.sort();
        Ok(all)
    };
    for file in files("traces")? {
        let name = file
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let Ok(Content::Trace(whole)) =
            format::read("a.csv", &fs::read(&file)?, Units::Mm).map(|i| i.content)
        else {
            return Err(format!("{name} is not read").into());
        };
        // Few points and small, so that many are tried in a second.
        let most = whole.point_count().div_ceil(80).max(1);
        let small = |k: f64| {
            let point = move |p: &Point| Point::new(k * p.x, k * p.y);
            Trace::from_strokes(whole.strokes.iter().map(|s| {
                let points = s.points.iter().step_by(most).map(point);
                points.collect::<Vec<_>>()
            }))
        };
        put("trace", &name, &spell::spelt(&small(0.2)))?;
        let trace = small(1.0);
        let few = Trace::from_strokes(
            trace
                .strokes
                .iter()
                .map(|s: &Stroke| s.points.iter().take(12).copied().collect::<Vec<_>>()),
        );
        let rows: String = few
            .strokes
            .iter()
            .enumerate()
            .flat_map(|(i, s)| {
                s.points
                    .iter()
                    .map(move |p| format!("{},{},{i}\n", p.x, p.y))
            })
            .collect();
        put(
            "csv",
            &name,
            format!("# units: mm\nx,y,stroke\n{rows}").as_bytes(),
        )?;
        let job = document::Job {
            trace: few,
            hints: vec![Hint {
                at: Point::new(1.0, 2.0),
                says: trued::hint::Says::Size(50.0),
            }],
            ..document::Job::default()
        };
        put(
            "document",
            &format!("{name}_job"),
            document::write_job(&job).as_bytes(),
        )?;
        if let Ok(trued) = true_up(&whole, &Settings::default(), &[]) {
            let o = &trued.outline;
            put(
                "document",
                &name,
                document::write(o, &trued::Report::default()).as_bytes(),
            )?;
            put("svg", &name, svg::write(o, Units::Mm).as_bytes())?;
            put("dxf", &name, dxf::write(o, Units::Mm).as_bytes())?;
            put("plan", &name, &spell::spelt_outline(o))?;
        }
    }
    let hints = [Hint {
        at: Point::new(1.0, 2.0),
        says: trued::hint::Says::Hole(8.0, Vec::new()),
    }];
    let mut sides = vec![(
        0u8,
        "hints".to_owned(),
        document::write_hints(&hints).into_bytes(),
    )];
    for (folder, which) in [("machines", 1u8), ("measurements", 2), ("touches", 4)] {
        for file in files(folder)? {
            let name = file
                .file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned();
            let which = if which == 2 && !name.contains("book") {
                3
            } else {
                which
            };
            sides.push((which, name, fs::read(&file)?));
        }
    }
    for (which, name, bytes) in sides {
        let all = [&[which], bytes.as_slice()].concat();
        put("sides", &name, &all)?;
    }
    Ok(())
}
