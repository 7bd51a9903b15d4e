//! A reader that remembers what it studied gives what a reading from nothing gives, to the last bit.

use trued::hint::{EdgeKind, Hint, LoopKind, Says};
use trued::{Hand as Said, Point, Reader, Settings, Trace, true_up};
use trued_tests::anyshape::Kind;
use trued_tests::hand::{self, Extra, Form, Hand, Input, Level, trace_of};
use trued_tests::rng::Rng;

/// A plate of some kind with two marks in it, and beside it another.
fn drawn(rng: &mut Rng) -> Trace {
    let hand = Hand {
        level: Level::Ordinary,
        form: Form::Ou,
        input: Input::Stroke,
    };
    let mut strokes = Vec::new();
    for kind in [Kind::Polygon, Kind::Orthogonal] {
        let path = kind.draw(rng);
        let trace = trace_of(&path, hand, &Extra::default(), rng);
        let aside = 500.0 * f64::from(u8::from(kind == Kind::Orthogonal));
        let moved = trace.strokes.into_iter().map(|mut s| {
            for p in &mut s.points {
                *p = Point::new(p.x + aside, p.y);
            }
            s
        });
        strokes.extend(moved);
    }
    strokes.push(hand::mark(Point::new(900.0, 900.0), Level::Ordinary, rng));
    Trace {
        strokes,
        drawn: Vec::new(),
    }
}

/// A correction of any sort, near some place on the trace.
fn said(trace: &Trace, rng: &mut Rng) -> Hint {
    let stroke = &trace.strokes[rng.below(2)];
    let at = stroke.points[rng.below(stroke.points.len())];
    let says = match rng.below(6) {
        0 => Says::Edge(EdgeKind::Straight),
        1 => Says::Edge(EdgeKind::Arc),
        2 => Says::Size(rng.range(20.0, 120.0)),
        3 => Says::Scale(rng.range(20.0, 120.0)),
        4 => Says::Loop(LoopKind::Hole),
        _ => Says::Hole(8.0, Vec::new()),
    };
    Hint { at, says }
}

#[test]
fn what_is_remembered_changes_nothing() {
    for seed in 0..6 {
        let mut rng = Rng::named(seed, "remembered");
        let (mut trace, mut reader) = (drawn(&mut rng), Reader::default());
        let mut settings = Settings::default();
        let mut hints: Vec<Hint> = Vec::new();
        for step in 0..8 {
            match step {
                3 => settings.whole = Some(1.0),
                5 => settings.hand = Said::Traced,
                6 => hints.clear(),
                7 => trace.strokes[1].points.truncate(100),
                _ => hints.push(said(&trace, &mut rng)),
            }
            let remembered = reader.true_up(&trace, &settings, &hints);
            let anew = true_up(&trace, &settings, &hints);
            assert_eq!(remembered, anew, "seed {seed}, step {step}: {hints:?}");
        }
    }
}
