//! What a hand has just drawn, 200 and 1,000 points: is the outline there while it is still on the pen?

use super::print;
use trued::format::document;
use trued::reading::search;
use trued::trace::{Stations, clean};
use trued::{Path, Settings, Trace, true_up};
use trued_tests::pace::{Timed, rounded_rectangle, shape, take_turns, wandering};

pub fn table() {
    let blank = shape("rectangle", &[76.0, 50.0, 20.0, 15.0, 0.12]);
    one("a rectangle of 76 by 50", &blank, 200);
    one(
        "a rectangle of 300 by 200 with round corners",
        &rounded_rectangle(),
        1000,
    );
}

fn one(what: &str, path: &Path, n: usize) {
    let settings = Settings::default();
    let trace = Trace::from_strokes([wandering(path, n, 1)]);
    let Some(kept) = clean(&trace, &settings)
        .ok()
        .and_then(|c| c.paths.first().cloned())
    else {
        return;
    };
    let along = || {
        Stations::along(
            &kept.points,
            kept.closed,
            &kept.bridged,
            kept.step,
            settings.station,
        )
    };
    let stations = along();
    let (wander, noise) = search::hand_of(&stations, &settings);
    let Ok(trued) = true_up(&trace, &settings, &[]) else {
        return;
    };
    let mut cases = [
        Timed::new("**trace to outline, with its report**", || {
            true_up(&trace, &settings, &[])
        }),
        Timed::new("· cleaning", || clean(&trace, &settings)),
        Timed::new("· stations", along),
        Timed::new("· wander", || search::hand_of(&stations, &settings)),
        Timed::new("· readings", || {
            search::read_path(&stations, &wander, &noise)
        }),
        Timed::new("its document as JSON", || {
            document::write(&trued.outline, &trued.report)
        }),
    ];
    take_turns(&mut cases, 1.0, 2001);
    print(
        &format!("{n} points of {what} ({} stations)", stations.len()),
        &cases,
    );
}
