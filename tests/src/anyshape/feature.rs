//! What is done to the corners of a polygon.

use trued::{Chain, Path, Point, Shape};

/// What becomes of a corner.
#[derive(Clone, Copy, Debug)]
pub enum Feature {
    /// It stays.
    Sharp,
    /// An arc of this radius, tangent to both sides.
    Fillet(f64),
    /// Cut off, so far along either side.
    Chamfer(f64, f64),
    /// A round bite of this radius about the corner.
    Bite(f64),
}

/// A closed polygon, counter-clockwise, with something done to each corner and sides that bow by
/// `sweeps` (0 for straight). Nothing where that does not fit.
#[must_use]
pub fn shaped(corners: &[Point], features: &[Feature], sweeps: &[f64]) -> Option<Path> {
    let n = corners.len();
    // What each corner takes of the side before it and of the one after it.
    let mut takes = Vec::with_capacity(n);
    for i in 0..n {
        let (a, p, b) = (corners[(i + n - 1) % n], corners[i], corners[(i + 1) % n]);
        let turn = trued::geom::turn_between(p - a, b - p);
        takes.push(match features[i] {
            Feature::Sharp => (0.0, 0.0),
            Feature::Fillet(r) => {
                let t = r * libm::tan(0.5 * turn.abs());
                (t, t)
            }
            Feature::Chamfer(s, t) => (s, t),
            Feature::Bite(r) => (r, r),
        });
    }
    let (mut out, mut shapes) = (Vec::new(), Vec::new());
    for i in 0..n {
        let (a, p, b) = (corners[(i + n - 1) % n], corners[i], corners[(i + 1) % n]);
        let (into, away) = ((p - a).unit()?, (b - p).unit()?);
        let next = (i + 1) % n;
        if takes[i].1 + takes[next].0 > p.distance(b) - super::LEAST {
            return None;
        }
        let bows = sweeps[i] != 0.0 || sweeps[(i + n - 1) % n] != 0.0;
        if bows && !matches!(features[i], Feature::Sharp) {
            return None;
        }
        let turn = trued::geom::turn_between(p - a, b - p);
        match features[i] {
            Feature::Sharp => out.push(p),
            Feature::Fillet(_) => {
                out.push(p - into * takes[i].0);
                shapes.push(Shape::Arc { sweep: turn });
                out.push(p + away * takes[i].1);
            }
            Feature::Chamfer(..) => {
                out.push(p - into * takes[i].0);
                shapes.push(Shape::Line);
                out.push(p + away * takes[i].1);
            }
            Feature::Bite(_) => {
                out.push(p - into * takes[i].0);
                let inside = core::f64::consts::PI - turn;
                shapes.push(Shape::Arc { sweep: -inside });
                out.push(p + away * takes[i].1);
            }
        }
        shapes.push(if sweeps[i] == 0.0 {
            Shape::Line
        } else {
            Shape::Arc { sweep: sweeps[i] }
        });
    }
    Some(Path::Chain(Chain {
        corners: out,
        shapes,
    }))
}
