//! What a hand has just drawn, 200 and 1,000 points: is the outline there while it is still on the pen?

use super::print;
use super::stages::Staged;
use trued::Path;
use trued::format::document;
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
    let Some(staged) = Staged::of(wandering(path, n, 1)) else {
        return;
    };
    let Ok(trued) = staged.whole() else {
        return;
    };
    let mut cases = staged.timed();
    cases.push(Timed::new("its document as JSON", || {
        document::write(&trued.outline, &trued.report)
    }));
    take_turns(&mut cases, 1.0, 2001);
    print(
        &format!("{n} points of {what} ({} stations)", staged.stations()),
        &cases,
    );
}
