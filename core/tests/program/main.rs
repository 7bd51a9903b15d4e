//! The program as a person meets it: sentences, exit status, files left alone.

mod corrections;

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

struct Shop {
    folder: tempfile::TempDir,
}

impl Shop {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a folder for the test"),
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn put(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        fs::write(&path, content).expect("a file for the test");
        path
    }

    fn run(&self, args: &[&str]) -> Run {
        self.run_with(args, b"")
    }

    fn run_with(&self, args: &[&str], input: &[u8]) -> Run {
        let mut child = Command::new(env!("CARGO_BIN_EXE_trued"))
            .args(args)
            .current_dir(self.folder.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        if let Some(mut stdin) = child.stdin.take() {
            // A program that refuses its arguments does not read its input.
            let _ = stdin.write_all(input);
        }
        Run::of(&child.wait_with_output().expect("the program ends"))
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.folder.path()).expect("the test's folder");
        let mut names: Vec<String> = entries
            .map(|e| {
                e.expect("an entry")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect();
        names.sort();
        names
    }
}

struct Run {
    status: i32,
    out: String,
    said: String,
}

impl Run {
    fn of(output: &Output) -> Self {
        Self {
            status: output.status.code().expect("no signal"),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            said: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }
}

fn text(path: &Path) -> String {
    fs::read_to_string(path).expect("the file is there")
}

/// A hinge blank, 80 × 50 mm, traced with a sure hand.
fn hinge_blank() -> String {
    let mut rows = String::from("x,y\n");
    let corners = [
        (0.0, 0.0),
        (80.0, 0.0),
        (80.0, 50.0),
        (0.0, 50.0),
        (0.0, 0.0),
    ];
    for (a, b) in corners.iter().zip(corners.iter().skip(1)) {
        for i in 0..100 {
            let t = f64::from(i) / 100.0;
            let (x, y) = (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
            let wave = 0.1 * libm::sin(f64::from(i) * 0.3);
            rows.push_str(&format!("{},{}\n", x + wave, y - wave));
        }
    }
    rows
}

const PLATE: &str = r#"{ "trued": 1, "units": "mm",
  "loops": [ { "closed": true, "role": "part", "edges": [
      { "line": { "from": [0,0], "to": [50,0] } },
      { "arc": { "from": [50,0], "to": [50,30], "center": [50,15], "radius": 15, "sweep": 3.141592653589793 } },
      { "line": { "from": [50,30], "to": [0,30] } },
      { "line": { "from": [0,30], "to": [0,0] } } ] },
    { "closed": true, "role": "hole", "edges": [
      { "arc": { "from": [55,15], "to": [55,15], "center": [50,15], "radius": 5, "sweep": -6.283185307179586 } } ] } ],
  "marks": [ { "at": [12.5, 12.5] } ] }"#;

#[test]
fn wrong_input_is_refused_with_file_line_and_value_and_nothing_is_touched() {
    let svg = |inside: &str| format!("<svg xmlns=\"http://www.w3.org/2000/svg\">\n{inside}</svg>");
    let cases: Vec<(&str, Vec<u8>, &str)> = vec![
        ("empty.csv", b"".to_vec(), "the file is empty"),
        ("blank.csv", b" \n\n".to_vec(), "the file is empty"),
        ("header.csv", b"x,y\n".to_vec(), "a header and no points"),
        ("one.csv", b"x,y\n1,2\n".to_vec(), "one point"),
        ("two.csv", b"x,y\n1,2\n3,4\n".to_vec(), "two points"),
        (
            "same.csv",
            b"x,y\n1,2\n1,2\n1,2\n1,2\n".to_vec(),
            "the same",
        ),
        (
            "nan.csv",
            b"x,y\n1,2\n1,NaN\n".to_vec(),
            "line 3: \"NaN\" is not a finite number",
        ),
        (
            "inf.csv",
            b"x,y\n1,2\n-inf,2\n".to_vec(),
            "line 3: \"-inf\" is not a finite number",
        ),
        (
            "big.csv",
            b"x,y\n1,2\n1,2e9\n".to_vec(),
            "line 3: 2e9 is further",
        ),
        (
            "huge.csv",
            b"x,y\n1,2\n1,1e999\n".to_vec(),
            "line 3: 1e999 is further",
        ),
        (
            "text.csv",
            b"x,y\n1,2\n1,two\n".to_vec(),
            "line 3: \"two\" is not a number",
        ),
        (
            "comma.csv",
            b"x,y\r\n1,2\r\n1,5,2\r\n".to_vec(),
            "line 3: the row has 3 columns where the header has 2",
        ),
        (
            "few.csv",
            b"x,y,t\n1,2,0\n1,2\n".to_vec(),
            "line 3: the row has 2 columns where the header has 3",
        ),
        (
            "headless.csv",
            b"a,b\n1,2\n3,4\n5,6\n".to_vec(),
            "line 1: the header must name",
        ),
        (
            "picture.csv",
            b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR".to_vec(),
            "this is a picture: say what tells its scale",
        ),
        (
            "cut.svg",
            b"<svg xmlns=\"http://www.w3.org/2000/svg\"><path d=\"M0 0L9".to_vec(),
            "broken or cut off",
        ),
        ("nothing.svg", svg("").into_bytes(), "there is no geometry"),
        (
            "words.svg",
            svg("<text>hello</text>").into_bytes(),
            "only 1 text",
        ),
        (
            "path.svg",
            svg("<path d=\"M0 0L10,x\"/>").into_bytes(),
            "line 2: the path data is broken",
        ),
        (
            "far.svg",
            svg("<path d=\"M0 0L1e7 0\"/>").into_bytes(),
            "line 2: (10000000, 0) mm is further",
        ),
        (
            "cut.dxf",
            b"0\nSECTION\n2\nENTITIES\n0\nLINE\n10\n0\n20\n".to_vec(),
            "cut off",
        ),
        (
            "noeof.dxf",
            b"0\nSECTION\n2\nENTITIES\n0\nLINE\n10\n0\n".to_vec(),
            "line 8: the file is cut off here",
        ),
        (
            "nothing.dxf",
            b"0\nSECTION\n2\nENTITIES\n0\nENDSEC\n0\nEOF\n".to_vec(),
            "there is no geometry",
        ),
        (
            "text.dxf",
            b"0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n10\nx\n20\n0\n40\n5\n0\nENDSEC\n0\nEOF\n"
                .to_vec(),
            "line 8: \"x\" is not a number",
        ),
        (
            "spline.dxf",
            b"0\nSECTION\n2\nENTITIES\n0\nSPLINE\n0\nENDSEC\n0\nEOF\n".to_vec(),
            "only 1 SPLINE",
        ),
        (
            "other.json",
            b"{\"a\":1}".to_vec(),
            "no outline, job or hints",
        ),
        (
            "cut.json",
            b"{\"trued\":1,\"units\":\"mm\",\"loops\":[{".to_vec(),
            "line 1: EOF",
        ),
        ("version.json", b"{\"trued\":2}".to_vec(), "only version 1"),
        (
            "hints.json",
            b"{\"trued_hints\":1,\"hints\":[]}".to_vec(),
            "hints without a trace",
        ),
    ];
    let shop = Shop::new();
    let old = shop.put("out.svg", "what was here before");
    for (name, content, sentence) in cases {
        shop.put(name, content);
        let run = shop.run(&["outline", name, "-o", "out.svg"]);
        assert_eq!(run.status, 1, "{name}: {}", run.said);
        assert!(run.said.contains(sentence), "{name}: {}", run.said);
        assert!(
            run.said.starts_with(&format!("trued: {name}: ")),
            "{name}: {}",
            run.said
        );
        assert_eq!(run.said.lines().count(), 1, "{name}: {}", run.said);
        assert_eq!(text(&old), "what was here before", "{name}");
        fs::remove_file(shop.path(name)).expect("the input is still there");
        assert_eq!(shop.names(), ["out.svg"], "{name}");
    }
}

#[test]
fn entity_bombs_are_refused_at_once() {
    let mut nested = String::from("<!DOCTYPE svg [\n<!ENTITY a0 \"boom\">\n");
    for i in 1..30 {
        let refs = format!("&a{};", i - 1).repeat(10);
        nested.push_str(&format!("<!ENTITY a{i} \"{refs}\">\n"));
    }
    nested.push_str("]><svg xmlns=\"http://www.w3.org/2000/svg\"><desc>&a29;</desc></svg>");
    let long = format!(
        "<!DOCTYPE svg [<!ENTITY a \"{}\">]><svg xmlns=\"http://www.w3.org/2000/svg\"><desc>{}</desc></svg>",
        "x".repeat(100_000),
        "&a;".repeat(100_000)
    );
    let short = format!(
        "<!DOCTYPE svg [<!ENTITY a \"{}\">]><svg xmlns=\"http://www.w3.org/2000/svg\"><desc>{}</desc></svg>",
        "x".repeat(200),
        "&a;".repeat(100_000)
    );
    let shop = Shop::new();
    for (name, bomb) in [
        ("nested.svg", nested),
        ("long.svg", long),
        ("short.svg", short),
    ] {
        shop.put(name, bomb);
        let run = shop.run(&["outline", name, "-o", "out.svg"]);
        assert_eq!(run.status, 1, "{name}: {}", run.said);
        assert!(run.said.contains("entit"), "{name}: {}", run.said);
        assert!(!shop.path("out.svg").exists());
    }
}

#[test]
fn odd_input_is_accepted() {
    let blank = hinge_blank();
    let tail = |text: &str| {
        text.lines()
            .skip(1)
            .map(|l| format!("{l}\n"))
            .collect::<String>()
    };
    let mixed: String = blank
        .lines()
        .enumerate()
        .map(|(i, l)| format!("{l}{}", ["\n", "\r\n", "\r"][i % 3]))
        .collect();
    let cases = [
        ("mixed.csv", mixed),
        ("bom.csv", format!("\u{feff}{blank}")),
        ("tiny.csv", format!("x,y\n1e-300,-1e-300\n{}", tail(&blank))),
        (
            "comments.csv",
            format!(
                "# a hinge blank\n# units: mm\nX , Y\n# traced\n{}",
                tail(&blank)
            ),
        ),
        (
            "quoted.csv",
            format!("\"x\",\"y\"\n\"0\",\"0\"\n{}", tail(&blank)),
        ),
        ("columns.csv", {
            let rows = tail(&blank);
            let rows = rows.lines().map(|l| format!("a b,{l},0.5\n"));
            format!("stroke,x,y,pressure\n{}", rows.collect::<String>())
        }),
        ("time.csv", {
            let rows = tail(&blank);
            let rows = rows.lines().enumerate();
            let rows = rows.map(|(i, l)| format!("{l},{}\n", (i * 7919) % 13));
            format!("x,y,t\n{}", rows.collect::<String>())
        }),
    ];
    let shop = Shop::new();
    for (name, content) in cases {
        shop.put(name, content);
        let run = shop.run(&["outline", name]);
        assert_eq!(run.status, 0, "{name}: {}", run.said);
        assert!(run.out.starts_with("{ \"trued\": 1"), "{name}: {}", run.out);
        assert!(run.out.contains("\"closed\": true"), "{name}: {}", run.out);
    }
}

#[test]
fn an_inch_is_25_4_mm_by_file_or_by_flag() {
    // NBS Circular 572 addendum (1959): 1 in = 25.4 mm exactly. A file read in inches must give
    // the very same outline as one whose figures were multiplied before.
    let blank = hinge_blank();
    let rows = |k: f64| -> String {
        blank
            .lines()
            .skip(1)
            .map(|l| {
                let numbers = l
                    .split(',')
                    .map(|n| k * n.parse::<f64>().expect("a number"));
                numbers.map(|n| n.to_string()).collect::<Vec<_>>().join(",") + "\n"
            })
            .collect()
    };
    let shop = Shop::new();
    shop.put("mm.csv", format!("x,y\n{}", rows(25.4)));
    shop.put("in.csv", format!("# units: in\nx,y\n{}", rows(1.0)));
    shop.put("bare.csv", format!("x,y\n{}", rows(1.0)));
    let mm = shop.run(&["outline", "mm.csv"]).out;
    assert!(mm.contains("\"closed\": true"));
    // The document is in mm and says which unit the person thinks in.
    let in_inches = |args: &[&str]| shop.run(args).out.replace(" \"traced_in\": \"in\",", "");
    assert_ne!(shop.run(&["outline", "in.csv"]).out, mm);
    assert_eq!(in_inches(&["outline", "in.csv"]), mm);
    assert_eq!(in_inches(&["outline", "in.csv", "--units", "mm"]), mm);
    assert_eq!(in_inches(&["outline", "bare.csv", "--units", "in"]), mm);
}

#[test]
fn a_document_goes_through_unchanged_in_every_format() {
    let shop = Shop::new();
    shop.put("plate.json", PLATE);
    assert_eq!(
        shop.run(&["outline", "plate.json", "-o", "a.json"]).status,
        0
    );
    assert_eq!(shop.run(&["outline", "a.json", "-o", "b.json"]).status, 0);
    assert_eq!(text(&shop.path("a.json")), text(&shop.path("b.json")));
    let run = shop.run(&["outline", "plate.json", "-o", "c.svg", "--out-units", "in"]);
    assert_eq!((run.status, run.out.as_str()), (0, ""));
    let svg = text(&shop.path("c.svg"));
    assert!(
        svg.contains("in\" viewBox=") && svg.contains("<circle") && svg.contains("<desc>Fumes")
    );
    let run = shop.run(&["outline", "plate.json", "--format", "dxf"]);
    assert!(
        run.out
            .starts_with("999\nOutline, lengths in mm\n999\nFumes"),
        "{}",
        run.out
    );
    assert!(run.out.ends_with("0\nEOF\n"));
}

#[test]
fn results_and_talk_go_their_own_ways() {
    let shop = Shop::new();
    shop.put("plate.json", PLATE);
    let run = shop.run_with(&["outline", "-"], PLATE.as_bytes());
    assert_eq!(run.status, 0);
    assert!(run.out.starts_with('{') && run.out.contains("\"cautions\""));
    let cautions = run.said.lines().filter(|l| l.starts_with("Cautions: "));
    assert_eq!(cautions.count(), 1, "{}", run.said);
    assert!(run.said.contains("2 loops, 1 mark"), "{}", run.said);
    assert!(!run.said.contains('\u{1b}'), "no colours or bars in a pipe");
    let quiet = shop.run(&["outline", "plate.json", "-q"]);
    assert_eq!((quiet.status, quiet.said.as_str()), (0, ""));
    assert_eq!(quiet.out, run.out);
}

#[test]
fn standard_input_is_told_by_its_first_bytes() {
    let shop = Shop::new();
    let run = shop.run_with(&["outline", "-"], hinge_blank().as_bytes());
    assert_eq!(run.status, 0, "{}", run.said);
    let run = shop.run_with(&["outline", "-"], b"<svg></svg>");
    assert!(run.said.contains("no geometry"), "{}", run.said);
    let run = shop.run_with(&["outline", "-"], b"  0\r\nSECTION\r\n  2\r\nENTITIES\r\n");
    assert!(
        run.said
            .contains("standard input: line 4: the file is cut off"),
        "{}",
        run.said
    );
    let run = shop.run(&["outline", "-", "-", "--out-dir", "."]);
    assert_eq!(run.status, 2);
}

#[test]
fn a_batch_goes_on_after_a_bad_input() {
    let shop = Shop::new();
    fs::create_dir(shop.path("out")).expect("a folder");
    shop.put("a.json", PLATE);
    shop.put("b.csv", "x,y\n1,2\nbroken\n");
    shop.put("c.json", PLATE);
    let args = [
        "outline",
        "a.json",
        "b.csv",
        "c.json",
        "missing.csv",
        "--out-dir",
        "out",
        "--format",
        "svg",
    ];
    let run = shop.run(&args);
    assert_eq!(run.status, 1);
    assert!(run.said.contains("trued: b.csv: line 3: "), "{}", run.said);
    assert!(
        run.said.contains("trued: missing.csv: cannot be read"),
        "{}",
        run.said
    );
    let mut written: Vec<_> = fs::read_dir(shop.path("out"))
        .expect("the folder")
        .map(|e| {
            e.expect("an entry")
                .file_name()
                .into_string()
                .expect("a name")
        })
        .collect();
    written.sort();
    assert_eq!(written, ["a.svg", "c.svg"]);
}

#[test]
fn what_makes_no_sense_is_usage_and_writes_nothing() {
    let shop = Shop::new();
    shop.put("a.json", PLATE);
    fs::create_dir(shop.path("other")).expect("a folder");
    shop.put("other/a.csv", hinge_blank());
    fs::create_dir(shop.path("out")).expect("a folder");
    let cases: &[(&[&str], &str)] = &[
        (&["outline"], "required"),
        (
            &["outline", "a.json", "--out-dir", "nowhere"],
            "nowhere: there is no such folder",
        ),
        (
            &["outline", "a.json", "-o", "nowhere/a.svg"],
            "nowhere: there is no such folder",
        ),
        (&["outline", "a.json", "-o", "out"], "tells no format"),
        (&["outline", "a.json", "-o", "a.ngc"], "tells no format"),
        (
            &["outline", "a.json", "-o", "b.svg", "--format", "dxf"],
            "does not go with",
        ),
        (
            &["outline", "a.json", "-o", "b.svg", "--out-dir", "out"],
            "cannot be used with",
        ),
        (&["outline", "a.json", "other/a.csv"], "need a folder"),
        (
            &["outline", "a.json", "other/a.csv", "--out-dir", "out"],
            "would both be written to",
        ),
        (&["outline", "a.json", "--units", "cm"], "invalid value"),
        (&["outline", "a.json", "--whole", "three"], "is no unit"),
        (
            &["outline", "a.json", "--hints", "nohints.json"],
            "cannot be read",
        ),
        (
            &["outline", "a.json", "--hints", "other/a.csv"],
            "other/a.csv: ",
        ),
        (&["trace", "a.json"], "unrecognized subcommand"),
    ];
    for (args, sentence) in cases {
        let run = shop.run(args);
        assert_eq!(run.status, 2, "{args:?}: {}", run.said);
        assert!(run.said.contains(sentence), "{args:?}: {}", run.said);
        assert_eq!(run.out, "", "{args:?}");
        assert_eq!(shop.names(), ["a.json", "other", "out"], "{args:?}");
        let written = fs::read_dir(shop.path("out")).expect("the folder").count();
        assert_eq!(written, 0, "{args:?}");
    }
}

#[test]
fn help_leads_a_first_time_user() {
    let shop = Shop::new();
    let run = shop.run(&["--help"]);
    assert_eq!(run.status, 0);
    assert!(
        run.out.contains("trued outline hinge_blank.csv -o"),
        "{}",
        run.out
    );
    let run = shop.run(&["outline", "--help"]);
    assert_eq!(run.status, 0);
    for flag in [
        "--out-dir",
        "--format",
        "--units",
        "--out-units",
        "--hints",
        "--whole",
        "Examples:",
    ] {
        assert!(run.out.contains(flag), "{flag} in {}", run.out);
    }
}

#[cfg(unix)]
#[test]
fn an_existing_file_keeps_its_permissions_and_no_passing_file_stays() {
    use std::os::unix::fs::PermissionsExt;
    let shop = Shop::new();
    shop.put("a.json", PLATE);
    let out = shop.put("out.dxf", "old");
    fs::set_permissions(&out, fs::Permissions::from_mode(0o664)).expect("permissions");
    assert_eq!(shop.run(&["outline", "a.json", "-o", "out.dxf"]).status, 0);
    let mode = fs::metadata(&out).expect("the file").permissions().mode();
    assert_eq!(mode & 0o777, 0o664);
    assert_eq!(shop.names(), ["a.json", "out.dxf"]);
}

#[test]
fn what_is_drawn_stays_what_it_is_through_every_format() {
    let shop = Shop::new();
    shop.put(
        "shelf.svg",
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"200mm\" viewBox=\"0 0 200 100\">\
         <rect x=\"10\" y=\"10\" width=\"80\" height=\"50\" rx=\"8\"/><circle cx=\"50\" cy=\"35\" r=\"10\"/>\
         <path d=\"M120 20L160 25\"/></svg>",
    );
    for (from, to) in [
        ("shelf.svg", "a.dxf"),
        ("a.dxf", "b.svg"),
        ("b.svg", "c.json"),
        ("c.json", "d.dxf"),
        ("d.dxf", "e.json"),
    ] {
        let run = shop.run(&["outline", from, "-o", to, "--out-units", "in"]);
        assert_eq!(run.status, 0, "{from}: {}", run.said);
        for words in ["4 lines, 4 arcs", "circle", "1 line"] {
            assert!(run.said.contains(words), "{from}: {}", run.said);
        }
    }
    let json = text(&shop.path("e.json"));
    for role in ["\"part\"", "\"hole\"", "\"open\""] {
        assert_eq!(json.matches(role).count(), 1, "{role} in {json}");
    }
}

#[test]
fn polylines_of_a_drawing_are_touches_when_the_person_says_so() {
    let shop = Shop::new();
    shop.put(
        "touched.svg",
        "<svg xmlns=\"http://www.w3.org/2000/svg\"><polygon points=\"0.1,0 80,0.2 80.1,50 0,49.9\"/></svg>",
    );
    let drawn = shop.run(&["outline", "touched.svg"]);
    assert!(drawn.out.contains("80.1"), "as it is: {}", drawn.out);
    let touched = shop.run(&["outline", "touched.svg", "--kind", "touched"]);
    assert_eq!(touched.status, 0, "{}", touched.said);
    assert_ne!(drawn.out, touched.out);
}
