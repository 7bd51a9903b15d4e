//! What was given twice, grew too large, went missing or lost its doubts on the way.

use crate::bench::{Bench, FIGURES, mm};

/// Refused, and `file` is as it was.
fn kept(b: &Bench, line: &str, file: &str, words: &[&str]) {
    let before = b.has(file).then(|| b.get(file));
    let (status, said) = b.run(line);
    assert!(status != 0, "trued {line}\n{said}");
    for word in words {
        assert!(said.contains(word), "\"{word}\" in\n{said}");
    }
    assert_eq!(b.has(file).then(|| b.get(file)), before, "trued {line}");
}

#[test]
fn no_door_writes_over_what_it_reads() {
    let b = Bench::new();
    b.put("a.csv", &mm().rectangle(20.0, 30.0, 120.0, 80.0).rows);
    b.put("p.json", "{}");
    for (line, file) in [
        (
            "tip a.csv --machine p.json --believed a --true b -o a.csv",
            "a.csv",
        ),
        (
            "tip a.csv --machine p.json --believed a --true b -o p.json",
            "p.json",
        ),
        ("arm a.csv --machine p.json -o a.csv", "a.csv"),
        ("photo a.csv --frame a4 -o ./a.csv", "a.csv"),
        (
            "coupon --measured a.csv --material m --materials a.csv",
            "a.csv",
        ),
        ("outline a.csv --look a.csv -o x.json", "a.csv"),
        ("opening p.json --hole 8 --round 100 -o p.json", "p.json"),
        (
            "blanks p.json --count 2 --scrap 300x200 -o p.json",
            "p.json",
        ),
        ("cut p.json -o p.json", "p.json"),
    ] {
        kept(&b, line, file, &["is read and would be overwritten"]);
        assert_eq!(b.run(line).0, 2, "{line}");
    }
}
