//! What is said of a picture that served: what was left out, and how sure the scale is.

use super::camera::Camera;
use super::frame::Frame;
use super::lines::Lines;
use super::view::{Lens, View};
use super::{Ask, Picture, Scale, Wanted};
use crate::geom::{Point, Vec2};
use crate::report::{About, Doubt, Note};

pub(super) fn tell(found: &Lines, ask: &Ask, notes: &mut Vec<Note>, doubts: &mut Vec<Doubt>) {
    if let Some(at) = found.left.first() {
        let text = match found.left.len() {
            1 => {
                "one more line is seen and was left out: it is open, or of another width".to_owned()
            }
            n => format!(
                "{n} more lines are seen and were left out: they are open, small or of another width"
            ),
        };
        notes.push(Note::at(text, *at));
    }
    if found.open {
        let at = found
            .taken
            .first()
            .and_then(|l| l.places.last())
            .map(|p| p.at);
        let text =
            "no closed line is seen: what was found is open; look whether a piece of it is missing";
        doubts.push(match at {
            Some(at) => Doubt::at(About::Closing, text, at),
            None => Doubt::new(About::Closing, text),
        });
    }
    if let Some(at) = found.broken {
        doubts.push(Doubt::at(
            About::Closing,
            "an open line is longer than what was taken, and like it: if it is the outline, close its gaps and take the picture again",
            at,
        ));
    }
    if let Some(at) = found.small.first() {
        doubts.push(Doubt::at(
            About::Role,
            "a small closed line inside the outline was left out, as too small or as writing: if it is a hole, draw it larger or wipe what stands beside it, and take the picture again",
            *at,
        ));
    }
    if found.open && ask.line != Wanted::Middle {
        notes.push(Note::new(
            "an open line has no inside: its left side as found was taken for it",
        ));
    }
}

/// What lenses do beside bending by one number, as a share of lengths.
const OTHER_BENDS: f64 = 0.0004;

/// Half-width of the 95 % interval of a length across the frame, as a share of it.
/// `other` is what else it may be off by, as a share, standard deviation.
pub(super) fn scale_error(frame: &Frame, size: (f64, f64), ask: &Ask, other: f64) -> f64 {
    if matches!(ask.scale, Scale::Across(_)) {
        return 0.02;
    }
    // Each corner moved by what it is known to, both ways: what happens to lengths in the frame's middle.
    let view =
        |corners: &[Point; 4]| View::of_rectangle(size.0, size.1, corners, frame.view.lens());
    let (a, b) = (
        Point::new(0.3 * size.0, 0.3 * size.1),
        Point::new(0.7 * size.0, 0.7 * size.1),
    );
    let (p, q) = (frame.view.sees(a), frame.view.sees(b));
    let long = a.distance(b);
    let mut sum = 0.0;
    for i in 0..4 {
        for v in [Vec2::new(1.0, 0.0), Vec2::new(0.0, 1.0)] {
            let mut corners = frame.corners;
            if let Some(c) = corners.get_mut(i) {
                *c = *c + v * frame.sure;
            }
            if let Some(moved) = view(&corners) {
                let change = moved.plate(p).distance(moved.plate(q)) / long - 1.0;
                sum += change * change;
            }
        }
    }
    // What the lens may still bend beside what the picture tells of it; and other forms of bend.
    let lens = frame.view.lens();
    let lens = Lens {
        bend: lens.bend + frame.bends,
        ..lens
    };
    let bent = View::of_rectangle(size.0, size.1, &frame.corners, lens)
        .map_or(0.0, |v| v.plate(p).distance(v.plate(q)) / long - 1.0);
    1.96 * libm::sqrt(sum + bent * bent + OTHER_BENDS * OTHER_BENDS + other * other)
}

/// Whether marks that were found by themselves may be others.
pub(super) fn is_doubtful(frame: &Frame, ask: &Ask) -> bool {
    matches!(ask.scale, Scale::Frame(..)) && ask.corners.is_none() && frame.is_doubtful()
}

pub(super) fn tell_scale(
    frame: &Frame,
    size: (f64, f64),
    ask: &Ask,
    plus_minus: f64,
    picture: &Picture,
    notes: &mut Vec<Note>,
    doubts: &mut Vec<Doubt>,
) {
    let long = size.0.max(size.1);
    let from = match ask.scale {
        Scale::Frame(w, h) => format!("the marks at {w} x {h} mm"),
        Scale::Sheet(paper) => format!("the {} sheet", paper.name()),
        Scale::Target(..) => "the printed target".to_owned(),
        Scale::Across(w) => format!("the picture's width said to be {w} mm"),
    };
    notes.push(Note::new(format!(
        "scale from {from}: ± {:.2} % ({:.2} mm over {long:.0} mm), if they truly measure so and lie in the plane of the line",
        100.0 * plus_minus,
        plus_minus * long
    )));
    let camera = Camera::of(&frame.view, picture.width().max(picture.height()) as f64);
    let tilt = camera.tilt(&frame.view).to_degrees();
    if matches!(ask.scale, Scale::Across(_)) {
        doubts.push(Doubt::new(
            About::Units,
            "nothing in the picture tells its scale: measure one length on the plate and give it as a size before cutting",
        ));
    } else if is_doubtful(frame, ask) {
        let at = frame.corners.map(|p| format!("{:.0},{:.0}", p.x, p.y));
        doubts.push(Doubt::new(
            About::Units,
            format!("the four marks are not quite alike, or stand a little oddly: look whether they are yours (pixels {}), else show them with --corners", at.join(" ")),
        ));
    } else if plus_minus > 0.01 && !doubts.iter().any(|d| d.about == About::Units) {
        doubts.push(Doubt::new(
            About::Units,
            format!("the scale is known to {:.1} % only: take the picture nearer and straighter, or measure one length on the plate and give it as a size", 100.0 * plus_minus),
        ));
    } else if tilt > 45.0 {
        notes.push(Note::new(format!(
            "the picture was taken {tilt:.0}° askew; straighter from above is truer"
        )));
    }
}
