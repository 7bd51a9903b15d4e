//! Makes the table that the wander of a trace is read from: what a unit Ornstein–Uhlenbeck process
//! on a straight path leaves as residuals in windows of stations.
//!
//! `cargo run --release -p trued-tests --bin wander-table > core/src/trace/wander_table.in`

use trued::Point;
use trued::trace::{Stations, wander};
use trued_tests::rng::Rng;

/// Stations simulated for each correlation length.
const STATIONS: usize = 60_000;
/// Steps of the process within a station.
const SUBSTEPS: usize = 20;
/// Size of the simulated wander, mm: small, so that the fits are linear in it.
const SIZE: f64 = 1e-2;

fn main() {
    let mut rng = Rng::new(7);
    println!("[");
    for correlation in wander::CORRELATIONS {
        let decay = (-1.0 / (SUBSTEPS as f64 * correlation)).exp();
        let kick = (1.0 - decay * decay).sqrt();
        let mut r = rng.normal();
        let points = (0..STATIONS)
            .map(|i| {
                let mut sum = 0.0;
                for _ in 0..SUBSTEPS {
                    r = decay * r + kick * rng.normal();
                    sum += r;
                }
                Point::new(i as f64 + 0.5, SIZE * sum / SUBSTEPS as f64)
            })
            .collect();
        let stations = Stations {
            points,
            weights: vec![1.0; STATIONS],
            closed: false,
            step: 1.0,
            sample_step: 0.0,
            seam: None,
        };
        let row: Vec<String> = wander::window_quantiles(&stations)
            .iter()
            .map(|q| format!("{:.4}", q.unwrap_or(0.0) - 2.0 * SIZE.ln()))
            .collect();
        println!("    [{}],", row.join(", "));
    }
    println!("]");
}
