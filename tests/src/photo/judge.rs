//! How near a trace comes to the lines that were drawn.

use trued::{Point, Trace};

/// What was seen of one trace.
#[derive(Clone, Copy, Debug, Default)]
pub struct Verdict {
    /// Distance of the trace from the truth, root mean square, mm.
    pub rms: f64,
    /// The farthest point of the trace from the truth, mm.
    pub off: f64,
    /// The farthest point of the truth from the trace, mm.
    pub missed: f64,
}

impl Verdict {
    /// As near as is wanted.
    #[must_use]
    pub fn is_good(&self, rms: f64, off: f64) -> bool {
        self.rms <= rms && self.off <= off && self.missed <= off
    }
}

/// Runs of segments in cells, to be asked for the nearest.
struct Cells {
    cells: std::collections::BTreeMap<(i64, i64), Vec<(Point, Point)>>,
}

const CELL: f64 = 4.0;

impl Cells {
    fn new(runs: &[Vec<Point>]) -> Self {
        let mut cells: std::collections::BTreeMap<(i64, i64), Vec<(Point, Point)>> =
            Default::default();
        for run in runs {
            for w in run.windows(2) {
                let cell = |v: f64| (v / CELL).floor() as i64;
                for x in cell(w[0].x.min(w[1].x))..=cell(w[0].x.max(w[1].x)) {
                    for y in cell(w[0].y.min(w[1].y))..=cell(w[0].y.max(w[1].y)) {
                        cells.entry((x, y)).or_default().push((w[0], w[1]));
                    }
                }
            }
        }
        Self { cells }
    }

    /// Distance to the nearest segment, at most about two cells.
    fn distance(&self, p: Point) -> f64 {
        let (x, y) = ((p.x / CELL).floor() as i64, (p.y / CELL).floor() as i64);
        let mut near: f64 = 2.0 * CELL;
        for i in x - 2..=x + 2 {
            for j in y - 2..=y + 2 {
                for &(a, b) in self.cells.get(&(i, j)).into_iter().flatten() {
                    let d = b - a;
                    let t = ((p - a).dot(d) / d.length_squared().max(1e-12)).clamp(0.0, 1.0);
                    near = near.min(p.distance(a + d * t));
                }
            }
        }
        near
    }
}

fn spread(runs: &[Vec<Point>]) -> impl Iterator<Item = Point> + '_ {
    runs.iter().flat_map(|r| r.windows(2)).flat_map(|w| {
        let n = (w[0].distance(w[1]) / 0.2) as usize + 1;
        (0..n).map(move |i| w[0].lerp(w[1], i as f64 / n as f64))
    })
}

/// Judges the lines of a trace (its marks aside). Loops are closed over gaps under 8 mm.
#[must_use]
pub fn judge(trace: &Trace, truth: &[Vec<Point>]) -> Verdict {
    let runs: Vec<Vec<Point>> = trace
        .strokes
        .iter()
        .filter(|s| s.points.len() > 1)
        .map(|s| s.points.clone())
        .collect();
    let mut v = Verdict::default();
    let cells = Cells::new(truth);
    let (mut sum, mut n) = (0.0, 0.0);
    for p in spread(&runs) {
        let d = cells.distance(p);
        sum += d * d;
        n += 1.0;
        v.off = v.off.max(d);
    }
    v.rms = if n > 0.0 {
        (sum / n).sqrt()
    } else {
        f64::INFINITY
    };
    let mut joined = runs.clone();
    joined.extend(runs.iter().filter_map(|r| {
        let (a, b) = (*r.first()?, *r.last()?);
        (a.distance(b) < 8.0).then(|| vec![b, a])
    }));
    let cells = Cells::new(&joined);
    v.missed = spread(truth).map(|p| cells.distance(p)).fold(0.0, f64::max);
    v
}
