//! A sheet of 200 parts with two holes each: how long does its plan take?

use super::print;
use trued::cut::{CutSettings, plan};
use trued_tests::pace::{Timed, plates, take_turns};

pub fn table() {
    let settings = CutSettings::new(1.5, 2400.0, 0.6);
    let (few, many) = (plates(20), plates(200));
    let mut cases = [
        Timed::new("plan of 20 parts with two holes each", || {
            plan(&few, &settings)
        }),
        Timed::new("**plan of 200 parts with two holes each**", || {
            plan(&many, &settings)
        }),
    ];
    take_turns(&mut cases, 2.0, 101);
    print("From an outline to ordered cuts with leads", &cases);
}
