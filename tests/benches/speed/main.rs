//! How fast, beside what. Each table answers one question, with peers in the same run on the same
//! trace, ratios first.
//!
//! `cargo bench -p trued-tests --bench speed` prints all tables; words after `--` choose some:
//! `million small offset files plan`.

mod files;
mod million;
mod offset;
mod plan;
mod small;

use trued_tests::pace::{Timed, shown};

fn main() {
    let asked: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with('-'))
        .collect();
    let tables: [(&str, fn()); 5] = [
        ("million", million::table),
        ("small", small::table),
        ("offset", offset::table),
        ("plan", plan::table),
        ("files", files::table),
    ];
    for (name, table) in tables {
        if asked.is_empty() || asked.iter().any(|a| a == name) {
            table();
        }
    }
}

/// Prints a table: how many times as long as the first case, then the times.
fn print(question: &str, cases: &[Timed]) {
    println!("\n### {question}\n");
    println!("| times as long | least | median | |\n|---:|---:|---:|---|");
    let unit = cases.first().map_or(f64::NAN, Timed::least);
    for c in cases {
        println!(
            "| {:.2} | {} | {} | {} |",
            c.least() / unit,
            shown(c.least()),
            shown(c.median()),
            c.name
        );
    }
}
