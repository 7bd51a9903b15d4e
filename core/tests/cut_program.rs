//! `trued cut` as a person meets it: what must be given, what is said, what is written.

use std::fs;
use std::path::Path;
use std::process::Command;

const PIECE: &str = r#"{ "trued": 1, "units": "mm", "loops": [ { "closed": true, "role": "part", "edges": [
  { "line": { "from": [0,0], "to": [80,0] } }, { "line": { "from": [80,0], "to": [80,50] } },
  { "line": { "from": [80,50], "to": [0,50] } }, { "line": { "from": [0,50], "to": [0,0] } } ] } ],
  "marks": [ { "at": [20, 25] } ] }"#;

const BOOK: &str = "name,thickness,kerf,feed,pierce\nhood 2,2,1.4,3000,0.3\n";

/// Runs `trued cut piece.json …` in a folder; the status and what was said.
fn cut(folder: &Path, rest: &str) -> (i32, String) {
    // Words in quotes stay together.
    let mut args: Vec<String> = vec!["cut".into(), "piece.json".into()];
    for (i, part) in rest.split('"').enumerate() {
        match i % 2 {
            0 => args.extend(part.split_whitespace().map(str::to_owned)),
            _ => args.push(part.to_owned()),
        }
    }
    let output = Command::new(env!("CARGO_BIN_EXE_trued"))
        .args(&args)
        .current_dir(folder)
        .output()
        .expect("the program runs");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code().unwrap_or(-1), said)
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("piece.json"), PIECE).expect("a file");
    folder
}

#[test]
fn kerf_feed_and_pierce_are_asked_for() {
    let here = folder();
    for (rest, about) in [
        (
            "--kerf 1.5 --feed 2400 -o x.ngc",
            "pierce delay must be given",
        ),
        ("--kerf 1.5 --pierce 0.4 -o x.ngc", "feed must be given"),
        ("--feed 2400 --pierce 0.4 -o x.ngc", "kerf must be given"),
        (
            "--kerf -1 --feed 2400 --pierce 0.4 -o x.ngc",
            "must be over 0",
        ),
        (
            "--kerf 1.5 --feed 0 --pierce 0.4 -o x.ngc",
            "must be over 0",
        ),
        ("--kerf 1.5 --feed quick --pierce 0.4 -o x.ngc", "no speed"),
        (
            "--kerf 1.5 --feed 2400 --pierce -1 -o x.ngc",
            "pierce delay is -1",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 --copies 0 -o x.ngc",
            "no count",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 --thickness 99ga -o x.ngc",
            "no gauge",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 -o x.txt",
            "ending tells no format",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 --dry-run -o x.dxf",
            "dry run",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 --stock 10y10 -o x.ngc",
            "neither a file nor a size",
        ),
        ("--material \"hood 2\" -o x.ngc", "no materials.csv here"),
    ] {
        let (status, said) = cut(here.path(), rest);
        assert!(
            status == 2 && said.contains(about),
            "{rest}: {status} {said}"
        );
        assert!(!here.path().join("x.ngc").exists());
    }
}

#[test]
fn a_material_is_recalled_from_the_book() {
    let here = folder();
    fs::write(here.path().join("book.csv"), BOOK).expect("a file");
    let (status, said) = cut(
        here.path(),
        "--materials book.csv --material \"Hood 2\" -o x.ngc",
    );
    assert_eq!(status, 0, "{said}");
    assert!(said.contains("kerf 1.4 mm, feed 3000 mm/min, pierce delay 0.3 s, plate 2 mm"));
    // Without a name of the file it is materials.csv in this folder; a flag goes before the book.
    fs::rename(
        here.path().join("book.csv"),
        here.path().join("materials.csv"),
    )
    .expect("moved");
    let (status, said) = cut(
        here.path(),
        "--material \"hood 2\" --feed 95in/min -o x.ngc",
    );
    assert_eq!(status, 0, "{said}");
    assert!(said.contains("kerf 1.4 mm, feed 2413 mm/min"), "{said}");
    let (status, said) = cut(here.path(), "--material brass -o x.ngc");
    assert!(status == 2 && said.contains("\"hood 2\""), "{said}");
}

#[test]
fn marks_are_left_alone_unless_a_hole_is_asked_for() {
    let here = folder();
    let figures = "--kerf 0.06in --feed 2400 --pierce 0.4 --out-units in";
    let (status, said) = cut(here.path(), &format!("{figures} -o x.ngc"));
    assert_eq!(status, 0, "{said}");
    assert!(said.contains("mark at (0.787, 0.984) in is left alone") && said.contains("1 cut,"));
    assert!(said.contains("local codes"));
    // No stray digits of the conversion.
    assert!(said.contains("kerf 0.06 in,"), "{said}");
    let (status, said) = cut(here.path(), &format!("{figures} --hole 8 -o x.ngc"));
    assert!(
        status == 0 && said.contains("2 cuts") && !said.contains("left alone"),
        "{said}"
    );
}

#[test]
fn what_does_not_fit_is_said_with_its_size() {
    let here = folder();
    let figures = "--kerf 1.5 --feed 2400 --pierce 0.4";
    let (status, said) = cut(here.path(), &format!("{figures} --stock 40x40 -o x.ngc"));
    assert_eq!(status, 1);
    assert!(
        said.contains("80.0 x 50.0 mm does not fit on the stock of 40.0 x 40.0 mm"),
        "{said}"
    );
    let (status, said) = cut(
        here.path(),
        &format!("{figures} --stock 200x200 --copies 20 -o x.json"),
    );
    // Warnings do not change the status.
    assert_eq!(status, 0);
    assert!(
        said.contains("of 20 copies fit") && said.contains("of 20 pieces of 80.0 x 50.0 mm"),
        "{said}"
    );
}
