//! What tells the scale: marks, sheet, target, corners a person shows, or a width that was said; and why a
//! picture that shows none of it cannot serve.

use super::camera::Camera;
use super::frame::{self, Found, Frame, in_order};
use super::grid::quantile;
use super::mark::{self, Seen};
use super::spots::spots;
use super::view::{Lens, View};
use super::{Ask, Picture, Scale, sheet, target};
use crate::Refusal;
use crate::geom::{Point, Sorted as _};

/// About the pixels of the picture in which marks are looked for.
const SMALL: f64 = 1.6e6;
/// Most spots that are looked at closely.
const MOST_SPOTS: usize = 1200;

/// The frame and its sides.
pub(super) fn frame_of(picture: &Picture, ask: &Ask) -> Result<(Frame, (f64, f64)), Refusal> {
    let lens = Lens::straight(picture.width(), picture.height());
    let (w, h) = (picture.width() as f64, picture.height() as f64);
    if let Some(shown) = ask.corners {
        return shown_frame(picture, shown, ask, lens);
    }
    match ask.scale {
        Scale::Across(across) => {
            let corners =
                [(0.0, h), (w, h), (w, 0.0), (0.0, 0.0)].map(|(x, y)| Point::new(x - 0.5, y - 0.5));
            let size = (across, across * h / w);
            Ok((said(corners, size, lens)?, size))
        }
        Scale::Sheet(paper) => {
            let (a, b) = paper.size();
            sheet::find(picture, (b, a), lens).ok_or_else(|| poor(picture, &format!(
                "no {} sheet is found: all four of its sides must be in the picture, flat, and brighter than what lies around", paper.name()
            )))
        }
        Scale::Frame(w, h) => marks(picture, w, h, lens).map(|f| (f, (w, h))),
        Scale::Target(w, h) => target::find(&seen_in(picture), (w, h), lens)
            .map(|f| (f, (w, h)))
            .ok_or_else(|| poor(picture, "the printed target is not found: all its eight discs must be in the picture, flat and in the line's plane")),
    }
}

fn said(corners: [Point; 4], size: (f64, f64), lens: Lens) -> Result<Frame, Refusal> {
    let view = View::of_rectangle(size.0, size.1, &corners, lens);
    let view = view
        .ok_or_else(|| Refusal::Setting("the four corners are no corners of a rectangle".into()))?;
    Ok(Frame {
        view,
        corners,
        cost: 0.0,
        sure: 1.0,
    })
}

/// The frame at corners a person showed: at the marks or along the sheet's sides where these are near, else just there.
fn shown_frame(
    picture: &Picture,
    shown: [Point; 4],
    ask: &Ask,
    lens: Lens,
) -> Result<(Frame, (f64, f64)), Refusal> {
    let corners = in_order(shown).ok_or_else(|| {
        Refusal::Setting(
            "the four corners that were shown do not stand as the corners of a rectangle".into(),
        )
    })?;
    let size = match ask.scale {
        Scale::Frame(w, h) | Scale::Target(w, h) => (w, h),
        Scale::Across(w) => (w, w),
        Scale::Sheet(paper) => {
            let (a, b) = paper.size();
            let misfit = |w: f64, h: f64| {
                let view = View::of_rectangle(w, h, &corners, lens);
                view.map_or(f64::INFINITY, |v| {
                    Camera::of(&v, 2.0 * lens.middle.x).misfit
                })
            };
            if misfit(b, a) < misfit(a, b) {
                (b, a)
            } else {
                (a, b)
            }
        }
    };
    let found = match ask.scale {
        Scale::Frame(w, h) => frame::near(&seen_in(picture), &corners, (w, h), lens),
        Scale::Sheet(_) => sheet::near(picture, &corners, size, lens).map(|f| f.0),
        Scale::Target(..) | Scale::Across(_) => None,
    };
    let frame = match found {
        Some(frame) => frame,
        // A finger or a glance at the pixels is off by about so much.
        None => Frame {
            sure: (0.0012 * lens.reach).max(1.0),
            ..said(corners, size, lens)?
        },
    };
    Ok((frame, size))
}

/// What may be marks in a picture, the plainest first.
pub(super) fn seen_in(picture: &Picture) -> Vec<Seen> {
    let by = reduced_by(picture);
    let mut seen: Vec<Seen> = Vec::new();
    for spot in spots(&picture.grey(by)).iter().take(MOST_SPOTS) {
        let Some(mark) = mark::look(picture, spot, by) else {
            continue;
        };
        let same = |s: &&mut Seen| {
            s.kind == mark.kind
                && s.dark == mark.dark
                && s.at.distance(mark.at) < 0.5 * s.radius.max(mark.radius)
        };
        match seen.iter_mut().find(same) {
            Some(old) if old.stands_out < mark.stands_out => *old = mark,
            Some(_) => {}
            None => seen.push(mark),
        }
    }
    let plain = |s: &Seen| libm::log(s.stands_out.max(0.1)) - 4.0 * s.rough / s.radius;
    seen.order_by(|a, b| plain(b).total_cmp(&plain(a)));
    seen
}

pub(super) fn reduced_by(picture: &Picture) -> usize {
    let pixels = (picture.width() * picture.height()) as f64;
    ((libm::sqrt(pixels / SMALL) + 0.4) as usize).max(1)
}

/// Four marks.
fn marks(picture: &Picture, w: f64, h: f64, lens: Lens) -> Result<Frame, Refusal> {
    match frame::find(&seen_in(picture), w, h, lens) {
        Found::One(frame) => Ok(*frame),
        Found::Two => Err(Refusal::Trace(format!(
            "more than one four of marks could be the corners of {w} x {h} mm: cover what is no mark, or show the corners yourself with --corners"
        ))),
        Found::None => Err(poor(
            picture,
            &format!(
                "no four marks stand as the corners of {w} x {h} mm: all four must be in the picture, alike (dots or crosses of 4 to 12 mm), with clear ground around and nothing like them near; or show the corners yourself with --corners"
            ),
        )),
    }
}

/// A refusal that says what is wrong with the picture as a whole, if something is.
fn poor(picture: &Picture, otherwise: &str) -> Refusal {
    let by = (picture.width().max(picture.height()) / 600).max(1);
    let grey = picture.grey(by);
    let (low, high) = (grey.quantile(0.02), grey.quantile(0.98));
    let text = if high < 45.0 {
        format!(
            "the picture is too dark (its brightest parts reach {high:.0} of 255): more light; {otherwise}"
        )
    } else if low > 235.0 {
        format!(
            "the picture is blinded (even its darkest parts have {low:.0} of 255): less light or a shorter exposure; {otherwise}"
        )
    } else if high - low < 12.0 {
        format!("the picture shows next to nothing: {otherwise}")
    } else if blurred(picture, high - low) {
        format!("the picture is blurred: hold the camera still and focus on the plate; {otherwise}")
    } else {
        otherwise.to_owned()
    };
    Refusal::Trace(text)
}

/// Nowhere does brightness change within a few pixels as it does over many.
fn blurred(picture: &Picture, span: f32) -> bool {
    let by = (picture.width().max(picture.height()) / 2000).max(1);
    let grey = picture.grey(by).mean(1);
    let wide = grey.width.max(1);
    let mut steps: Vec<f32> = (0..grey.values.len())
        .step_by(7)
        .map(|i| {
            let (x, y) = ((i % wide) as isize, (i / wide) as isize);
            (grey.at(x + 3, y) - grey.at(x - 3, y))
                .abs()
                .max((grey.at(x, y + 3) - grey.at(x, y - 3)).abs())
        })
        .collect();
    quantile(&mut steps, 0.9995) < 0.25 * span
}
