//! How fast, beside what. Each table answers one question, with peers in the same run on the same
//! trace, ratios first.
//!
//! `cargo run --release -p trued-tests --bin speed` prints all tables; words after `--` choose some:
//! `million small shapes offset plan files`, and a number says how many small files (10,000 where none does).

mod files;
mod million;
mod offset;
mod plan;
mod shapes;
mod small;
mod stages;

use trued_tests::pace::{Timed, shown};

fn main() {
    let asked: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<usize> = asked.iter().filter_map(|a| a.parse().ok()).collect();
    let all = asked.len() == numbers.len();
    let small_files = numbers.first().copied().unwrap_or(10_000);
    let tables: [(&str, &dyn Fn()); 6] = [
        ("million", &million::table),
        ("small", &small::table),
        ("shapes", &shapes::table),
        ("offset", &offset::table),
        ("plan", &plan::table),
        ("files", &|| files::table(small_files)),
    ];
    for (name, table) in tables {
        if all || asked.iter().any(|a| a == name) {
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
