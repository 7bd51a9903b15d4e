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
        bends: super::lens::USUAL,
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
    seen.order_by(|a, b| b.plain().total_cmp(&a.plain()));
    seen
}

pub(super) fn reduced_by(picture: &Picture) -> usize {
    let pixels = (picture.width() * picture.height()) as f64;
    ((libm::sqrt(pixels / SMALL) + 0.4) as usize).max(1)
}

/// Four marks.
fn marks(picture: &Picture, w: f64, h: f64, lens: Lens) -> Result<Frame, Refusal> {
    let seen = seen_in(picture);
    match frame::find(&seen, w, h, lens) {
        Found::One(frame) => Ok(*frame),
        Found::Two => Err(Refusal::Trace(format!(
            "more than one four of marks could be the corners of {w} x {h} mm: cover what is no mark, or show the corners yourself with --corners"
        ))),
        Found::None => {
            let turned = matches!(frame::find(&seen, h, w, lens), Found::One(_));
            Err(poor(
                picture,
                &match w != h && turned {
                    true => format!(
                        "four marks stand as the corners of {h} x {w} mm, not {w} x {h}: the width lies along the side nearer to the picture's horizontal; say --frame {h}x{w}"
                    ),
                    false => format!(
                        "no four marks stand as the corners of {w} x {h} mm: all four must be in the picture, alike (dots or crosses of 4 to 12 mm), with clear ground around and nothing like them near; or show the corners yourself with --corners"
                    ),
                },
            ))
        }
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
    } else if sharpness(picture, 3, high - low) < 0.25 {
        format!("the picture is blurred: hold the camera still and focus on the plate; {otherwise}")
    } else {
        otherwise.to_owned()
    };
    Refusal::Trace(text)
}

/// Whether a picture that served is so blurred that what is measured in it is not what was drawn: brightness changes over
/// many pixels by twice what it does over a few.
pub(super) fn is_blurred(picture: &Picture) -> bool {
    sharpness(picture, 3, 1.0) < 0.5 * sharpness(picture, 12, 1.0)
}

/// How much brightness changes at most from so many pixels before a place to as many behind it, as a share of a span.
fn sharpness(picture: &Picture, within: isize, span: f32) -> f32 {
    let by = (picture.width().max(picture.height()) / 2000).max(1);
    let grey = picture.grey(by).mean(1);
    let wide = grey.width.max(1);
    let mut steps: Vec<f32> = (0..grey.values.len())
        .step_by(7)
        .map(|i| {
            let (x, y) = ((i % wide) as isize, (i / wide) as isize);
            (grey.at(x + within, y) - grey.at(x - within, y))
                .abs()
                .max((grey.at(x, y + within) - grey.at(x, y - within)).abs())
        })
        .collect();
    quantile(&mut steps, 0.9995) / span.max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::template::Paper;

    const DOTS: [(f64, f64); 4] = [
        (100.0, 500.0),
        (700.0, 500.0),
        (700.0, 100.0),
        (100.0, 100.0),
    ];

    /// 800 x 600 pixels of a grained ground, with what a rule says of each place, 0..1, laid over it.
    fn picture(tone: impl Fn(f64, f64) -> Option<f64>) -> Picture {
        let (mut bytes, mut seed) = (Vec::new(), 9u32);
        for i in 0..800 * 600 {
            let (x, y) = (f64::from(i % 800), f64::from(i / 800));
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let grain = f64::from(seed >> 24) / 32.0;
            let v = tone(x, y).unwrap_or(0.6);
            bytes.extend([(230.0 * v + grain) as u8; 3]);
        }
        Picture::from_rgb(800, 600, bytes).unwrap()
    }

    fn dotted(places: &[(f64, f64)]) -> Picture {
        picture(|x, y| {
            let near = |&(a, b): &(f64, f64)| (11.5 - libm::hypot(x - a, y - b)).clamp(0.0, 1.0);
            let ink = places.iter().map(near).fold(0.0, f64::max);
            (ink > 0.0).then_some(0.6 - 0.5 * ink)
        })
    }

    fn points(places: [(f64, f64); 4]) -> [Point; 4] {
        places.map(|(x, y)| Point::new(x, y))
    }

    #[test]
    fn four_dots_are_the_frame_and_three_with_a_blot_are_none() {
        let ask = Ask::of(Scale::Frame(300.0, 200.0));
        let blots = [(160.0, 470.0), (620.0, 160.0)];
        let (frame, _) = frame_of(&dotted(&[&DOTS[..], &blots].concat()), &ask).unwrap();
        for (got, want) in frame.corners.iter().zip(points(DOTS)) {
            assert!(got.distance(want) < 0.1, "{got:?} {want:?}");
        }
        assert!(frame_of(&dotted(&[&DOTS[1..], &blots].concat()), &ask).is_err());
    }

    #[test]
    fn a_frame_said_the_wrong_way_round_is_told() {
        let ask = Ask::of(Scale::Frame(200.0, 300.0));
        let said = frame_of(&dotted(&DOTS), &ask).err().map(|e| e.to_string());
        assert!(said.is_some_and(|s| s.contains("--frame 300x200")));
    }

    #[test]
    fn corners_that_are_shown_go_to_the_marks_beside_them() {
        let mut ask = Ask::of(Scale::Frame(300.0, 200.0));
        ask.corners = Some(points([
            (108.0, 493.0),
            (695.0, 505.0),
            (706.0, 96.0),
            (100.0, 108.0),
        ]));
        let (frame, _) = frame_of(&dotted(&DOTS), &ask).unwrap();
        for (got, want) in frame.corners.iter().zip(points(DOTS)) {
            assert!(got.distance(want) < 0.1, "{got:?} {want:?}");
        }
        // Where no mark is, they stay.
        let (frame, _) = frame_of(&dotted(&DOTS[1..]), &ask).unwrap();
        let [first, ..] = frame.corners;
        assert!(first.distance(Point::new(108.0, 493.0)) < 1e-9);
    }

    #[test]
    fn a_sheet_is_found_and_a_dark_one_is_refused() {
        let ask = Ask::of(Scale::Sheet(Paper::A4));
        let sheet = |inside: f64| {
            picture(move |x, y| {
                let depth = (x - 100.0).min(694.0 - x).min(y - 90.0).min(510.0 - y);
                let share = depth.clamp(-0.5, 0.5) + 0.5;
                (share > 0.0).then_some(0.6 + share * (inside - 0.6))
            })
        };
        let (frame, size) = frame_of(&sheet(0.95), &ask).unwrap();
        assert_eq!(size, (297.0, 210.0));
        let want = points([(100.0, 510.0), (694.0, 510.0), (694.0, 90.0), (100.0, 90.0)]);
        for (got, want) in frame.corners.iter().zip(want) {
            assert!(got.distance(want) < 0.6, "{got:?} {want:?}");
        }
        assert!(frame_of(&sheet(0.3), &ask).is_err());
    }
}
