//! The coupon: what is cut, and what calipers on it say.

use crate::chance::Chance;
use trued::Units;
use trued::cut::CutSettings;
use trued::jobs::coupon::{CouponSettings, MAX_RUNGS, PLUG, feeds, measured, read_sheet, sheet};
use trued::jobs::{CouponMeasured, coupon};
use trued::machine::{Profile, Squareness};
use trued::{Edge, Point, Role};

const LADDER: CouponSettings = CouponSettings {
    feed_from: 1800.0,
    feed_to: 3000.0,
    rungs: 6,
};

#[test]
fn every_rung_has_its_feed_and_its_notches() {
    for rungs in 2..=MAX_RUNGS {
        for kerf in [0.8, 1.5, 3.0] {
            let ladder = CouponSettings { rungs, ..LADDER };
            let made = coupon(&ladder, &CutSettings::new(kerf, 2400.0, 0.4)).unwrap();
            assert_eq!(made.feeds.len(), rungs);
            assert_eq!((made.feeds[0], made.feeds[rungs - 1]), (1800.0, 3000.0));
            // Rungs are the first loops; each is one cut at its own feed, the rest at the middle feed.
            for (i, feed) in made.feeds.iter().enumerate() {
                let own: Vec<_> = made
                    .plan
                    .cuts
                    .iter()
                    .filter(|c| c.loop_index == i)
                    .collect();
                assert_eq!(own.len(), 1);
                assert_eq!(own[0].feed, *feed);
            }
            assert!(
                made.plan
                    .cuts
                    .iter()
                    .filter(|c| c.loop_index >= rungs)
                    .all(|c| c.feed == 2400.0)
            );
            // Notches below each rung: corners at the bottom edge, in groups of as many as the rung's number.
            let edge = made
                .outline
                .loops
                .iter()
                .find(|l| l.role == Role::Part)
                .unwrap();
            let xs: Vec<f64> = edge
                .path
                .edges()
                .iter()
                .filter(|e| {
                    (e.from().y - e.to().y).abs() < 1e-9 && e.from().y > 1.0 && e.from().y < 6.0
                })
                .map(|e| e.point_at(0.5).x)
                .collect();
            assert_eq!(xs.len(), rungs * (rungs + 1) / 2);
            let mut start = 0;
            for (number, rung) in made.outline.loops.iter().take(rungs).enumerate() {
                let group = &xs[start..start + number + 1];
                start += number + 1;
                let middle = group.iter().sum::<f64>() / group.len() as f64;
                let x = rung.path.edges()[0].from().x;
                assert!((middle - x).abs() < 1e-9);
            }
            let unwanted: Vec<&str> = made
                .plan
                .warnings
                .iter()
                .filter(|w| !w.text.contains("open path") && !w.text.contains("cut along"))
                .map(|w| w.text.as_str())
                .collect();
            assert!(
                unwanted.is_empty(),
                "{rungs} rungs, kerf {kerf}: {unwanted:?}"
            );
        }
    }
}

/// The plug's path stays on its own line: plug and hole differ by two kerfs.
#[test]
fn the_plug_is_cut_along_its_own_line() {
    let made = coupon(&LADDER, &CutSettings::new(1.5, 2400.0, 0.4)).unwrap();
    let plug = made
        .plan
        .cuts
        .iter()
        .find(|c| c.path.len() == 5 && c.role == Role::Open)
        .unwrap();
    let mut length: Vec<f64> = plug.path.iter().map(Edge::length).collect();
    length.sort_by(f64::total_cmp);
    assert_eq!(length, [0.25 * PLUG, 0.75 * PLUG, PLUG, PLUG, PLUG]);
}

/// Kerf from calipers of 0.05 mm on a machine a percent out of scale.
#[test]
fn calipers_give_the_kerf() {
    let (runs, mut holds, mut squares) = (2000, 0, 0.0);
    for seed in 0..runs {
        let mut c = Chance::new(seed);
        let (kerf, scale) = (c.within(0.8, 2.5), c.within(0.99, 1.01));
        let m = CouponMeasured {
            slot: Some(kerf + c.normal(0.05)),
            plug: Some(PLUG * scale - kerf + c.normal(0.05)),
            hole: Some(PLUG * scale + kerf + c.normal(0.05)),
            caliper: 0.05,
            ..CouponMeasured::default()
        };
        let (found, pm) = measured(&m, None).unwrap().kerf.unwrap();
        holds += i32::from((found - kerf).abs() <= pm);
        squares += (found - kerf) * (found - kerf);
    }
    let share = 100.0 * f64::from(holds) / runs as f64;
    println!(
        "coupon: kerf from slot, plug and hole with 0.05 mm calipers: off by {:.3} mm rms, ± holds in {share:.1} %",
        (squares / runs as f64).sqrt()
    );
    assert!((94.0..96.5).contains(&share));
}

#[test]
fn a_filled_in_sheet_is_read_back() {
    let mut cut = CutSettings::new(1.5, 2400.0, 0.4);
    cut.thickness = Some(2.0);
    let blank = sheet(&LADDER, &cut, &feeds(&LADDER).unwrap(), Units::Mm);
    assert!(
        measured(&read_sheet(&blank).unwrap().0, None)
            .unwrap_err()
            .to_string()
            .contains("fill in")
    );
    let filled = blank
        .replace("rung,\n", "rung,3\n")
        .replace("slot,\n", "slot, 1.6\n")
        .replace("plug,\n", "plug,28.5\n")
        .replace("hole,\n", "hole,31.6\n");
    let (m, ladder) = read_sheet(&filled).unwrap();
    let says = measured(&m, ladder.as_ref()).unwrap();
    assert_eq!(says.feed, Some(2280.0));
    let (kerf, _) = says.kerf.unwrap();
    assert!((kerf - (2.0 * 1.55 + 1.6) / 3.0).abs() < 1e-12);
    // What it was cut with goes on into the row: the next cut lacks nothing.
    let row = says.row("hood 2", &m);
    assert_eq!((row.thickness, row.pierce), (Some(2.0), Some(0.4)));
    assert!(says.doubts.is_empty(), "{:?}", says.doubts);
    // A sheet in inches says the same.
    let inches = sheet(&LADDER, &cut, &feeds(&LADDER).unwrap(), Units::Inch)
        .replace("slot,\n", "slot,0.063\n");
    let (m, ladder) = read_sheet(&inches).unwrap();
    assert!((m.slot.unwrap() - 1.6002).abs() < 1e-9 && (m.caliper - 0.05).abs() < 2e-3);
    assert!((ladder.unwrap().feed_to - LADDER.feed_to).abs() < 0.01);
    // A slip of the finger is a doubt, not a kerf.
    for (figures, word) in [
        ("slot,16\n", "takes away 0.5 to 6"),
        ("kerf,1.5\nslot,3\n", "cut for one of 1.5"),
    ] {
        let (m, _) = read_sheet(figures).unwrap();
        let says = measured(&m, None).unwrap();
        assert!(
            says.doubts.iter().any(|d| d.text.contains(word)),
            "{:?}",
            says.doubts
        );
    }
    for (bad, word) in [
        ("slot,wide\n", "line 1"),
        ("slot,nan\n", "no number"),
        ("shoe,3\n", "nothing that is measured"),
        ("rung,2.5\n", "whole"),
        ("bottom,100\n", "squareness needs"),
        ("hello\n", "no row"),
    ] {
        let said = read_sheet(bad).unwrap_err().to_string();
        assert!(said.contains(word), "{said}");
    }
    let refuse = |text: &str, word: &str| {
        let (m, l) = read_sheet(text).unwrap();
        let said = measured(&m, l.as_ref()).unwrap_err().to_string();
        assert!(said.contains(word), "{said}");
    };
    refuse("plug,31\nhole,29\n", "no smaller");
    refuse("rung,3\n", "ladder");
    refuse(
        "feed_from,100\nfeed_to,200\nrungs,3\nrung,4\n",
        "rungs 1 to 3",
    );
    refuse("slot,-1\n", "slot");
    let (m, _) = read_sheet("slot,1.0\nplug,28\nhole,32\n").unwrap();
    let says = measured(&m, None).unwrap();
    assert!(
        says.doubts[0]
            .text
            .contains("more than the calipers explain")
    );
}

/// A coupon cut by a crooked machine with its profile: the torch goes where a true machine would.
#[test]
fn a_corrected_plan_is_cut_true() {
    let machine = Squareness {
        scale_x: 1.01,
        scale_y: 0.99,
        out_of_square: 0.0175,
    };
    let profile = Profile {
        square: Some(machine),
        arm: None,
    };
    let made = coupon(&LADDER, &CutSettings::new(1.5, 2400.0, 0.4)).unwrap();
    let sent = made.plan.corrected(&profile);
    let mut worst = 0.0f64;
    for (told, wanted) in sent.cuts.iter().zip(&made.plan.cuts) {
        let to: Vec<&Edge> = wanted.moves().collect();
        worst = worst.max(machine.apply(told.pierce.at).distance(wanted.pierce.at));
        let mut before: Option<Point> = None;
        for edge in told.moves() {
            if let Some(end) = before {
                assert!(end.distance(edge.from()) < 1e-9);
            }
            before = Some(edge.to());
            for i in 0..=20 {
                let at = machine.apply(edge.point_at(f64::from(i) / 20.0));
                worst = worst.max(to.iter().map(|e| e.distance(at)).fold(f64::MAX, f64::min));
            }
        }
    }
    println!(
        "coupon: a plan corrected for a machine 1° and 1 % out is cut within {worst:.4} mm of the true one"
    );
    assert!(worst < 0.0105);
}
