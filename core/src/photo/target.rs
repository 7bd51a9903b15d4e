//! The printed target: eight discs on one page, and finding them.
//!
//! Four discs stand at the corners of 170 x 230 mm, four more on its sides at places that no turn of the page
//! brings onto one another: so it is known which way the page lies, and the lens's bend comes out of eight
//! points. The page carries its own check: who prints it measures from disc to disc, and says what it measured
//! where the printer made it otherwise.

use super::frame::{self, Frame};
use super::mark::{MarkKind, Seen};
use super::view::{Lens, View};
use crate::format::template::Paper;
use crate::geom::Point;
use crate::machine::least_squares::minimize;
use core::fmt::Write as _;

/// From disc to disc across and up, mm.
pub const TARGET: (f64, f64) = (170.0, 230.0);
/// The discs on the sides, as shares of those.
const SIDES: [(f64, f64); 4] = [
    (55.0 / 170.0, 0.0),
    (1.0, 95.0 / 230.0),
    (125.0 / 170.0, 1.0),
    (0.0, 150.0 / 230.0),
];
/// Radius of a disc, mm.
const RADIUS: f64 = 4.0;
/// How far a disc may lie from where it should, mm.
const NEAR: f64 = 3.0;

/// The target as a page in true size.
#[must_use]
pub fn target(paper: Paper) -> String {
    let (w, h) = paper.size();
    let (left, low) = (0.5 * (w - TARGET.0), 0.5 * (h + TARGET.1) - 4.0);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">\n\
         <rect width=\"{w}\" height=\"{h}\" fill=\"white\"/>\n"
    );
    let corners = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
    for (x, y) in corners.into_iter().chain(SIDES) {
        let (x, y) = (left + TARGET.0 * x, low - TARGET.1 * y);
        let _ = writeln!(
            out,
            "<circle cx=\"{x:.3}\" cy=\"{y:.3}\" r=\"{RADIUS}\"/><path stroke=\"white\" stroke-width=\"0.12\" d=\"M{} {y:.3} h1.2 M{x:.3} {} v1.2\"/>",
            x - 0.6,
            y - 0.6
        );
    }
    let text = [
        "Print at 100 %. Then measure with a rule, from the white cross in one disc to the next:"
            .to_owned(),
        format!(
            "lower left to lower right disc must be {:.1} mm; lower left to upper left {:.1} mm.",
            TARGET.0, TARGET.1
        ),
        "If they measure otherwise, say what they measure:  --frame target:169.6x229.5".to_owned(),
        "Lay the page flat beside the line, in the same plane, all eight discs in the picture."
            .to_owned(),
    ];
    for (i, t) in text.iter().enumerate() {
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" font-family=\"sans-serif\" font-size=\"3.6\">{t}</text>",
            left + 12.0,
            0.5 * h - 10.0 + 6.0 * i as f64
        );
    }
    out.push_str("</svg>\n");
    out
}

/// A way the target may lie: discs found, cost, frame, and the discs with where they are seen.
type Laid = (usize, f64, Frame, Vec<(Point, Point)>);

/// Finds the target among what was seen; `size` is what its discs measure.
pub(super) fn find(seen: &[Seen], size: (f64, f64), lens: Lens) -> Option<Frame> {
    let (w, h) = size;
    let mut best: Option<Laid> = None;
    for (across, up) in [(w, h), (h, w)] {
        let discs = seen.iter().filter(|s| s.kind == MarkKind::Dot && s.dark);
        let discs: Vec<Seen> = discs.copied().collect();
        for candidate in frame::candidates(&discs, across, up, lens) {
            if candidate.is_dear() {
                continue;
            }
            let [a, b, c, d] = candidate.corners;
            for corners in [[a, b, c, d], [b, c, d, a], [c, d, a, b], [d, a, b, c]] {
                let Some(view) = View::of_rectangle(w, h, &corners, lens) else {
                    continue;
                };
                let pairs = matched(seen, &view, size);
                let better = |x: &Laid| (pairs.len(), -candidate.cost) > (x.0, -x.1);
                if pairs.len() >= 7 && best.as_ref().is_none_or(better) {
                    let frame = Frame {
                        view,
                        corners,
                        ..candidate
                    };
                    best = Some((pairs.len(), candidate.cost, frame, pairs));
                }
            }
        }
    }
    let (_, _, frame, pairs) = best?;
    solved(frame, size, &pairs).or(Some(frame))
}

/// Places of the target (mm) with where they are seen.
fn matched(seen: &[Seen], view: &View, (w, h): (f64, f64)) -> Vec<(Point, Point)> {
    let corners = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
    let places = corners
        .into_iter()
        .chain(SIDES)
        .map(|(x, y)| Point::new(w * x, h * y));
    let dots: Vec<&Seen> = seen
        .iter()
        .filter(|s| s.dark && s.kind == MarkKind::Dot && is_disc(s, view))
        .collect();
    places
        .filter_map(|p| {
            let off = |s: &&&Seen| view.plate(s.at).distance(p);
            let near = dots.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
            (off(&near) < NEAR).then_some((p, near.at))
        })
        .collect()
}

/// Whether a dot is as large as the target's discs, about: the print may be off by a few percent, its rim by the blur.
fn is_disc(seen: &Seen, view: &View) -> bool {
    let (across, up) = view.rates(view.plate(seen.at));
    let radius = seen.radius / libm::sqrt(across.cross(up).abs());
    radius > 0.7 * RADIUS && radius < 1.4 * RADIUS
}

/// Corners and bend by least squares over all discs.
fn solved(frame: Frame, size: (f64, f64), pairs: &[(Point, Point)]) -> Option<Frame> {
    let lens = frame.view.lens();
    let view_of = |v: &[f64]| -> Option<(View, [Point; 4])> {
        let [ax, ay, bx, by, cx, cy, dx, dy, bend] = *v else {
            return None;
        };
        let corners = [(ax, ay), (bx, by), (cx, cy), (dx, dy)].map(|(x, y)| Point::new(x, y));
        let lens = Lens { bend, ..lens };
        Some((View::of_rectangle(size.0, size.1, &corners, lens)?, corners))
    };
    let residuals = |v: &[f64]| -> Vec<f64> {
        let Some((view, _)) = view_of(v) else {
            return vec![1e6; 2 * pairs.len() + 1];
        };
        let mut out: Vec<f64> = pairs
            .iter()
            .flat_map(|(p, q)| {
                let off = view.sees(*p) - *q;
                [off.x / 0.2, off.y / 0.2]
            })
            .collect();
        out.push(view.lens().bend / 0.004);
        out
    };
    let mut start: Vec<f64> = frame.corners.iter().flat_map(|p| [p.x, p.y]).collect();
    start.push(0.0);
    let mut scale = vec![1.0; 8];
    scale.push(0.01);
    let fit = minimize(&start, &scale, &residuals)?;
    let (view, corners) = view_of(&fit.values)?;
    let off = libm::sqrt(fit.cost() / pairs.len() as f64) * 0.2;
    (off < 4.0).then_some(Frame {
        view,
        corners,
        sure: 0.05 + 0.5 * off,
        ..frame
    })
}
