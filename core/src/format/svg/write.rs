//! An outline as a picture in real size.
//!
//! One user unit is one mm (or one inch) and the page is as large as the outline with a margin. Y
//! points down in SVG: the outline is turned over within its page, `y' = top + bottom − y`, which
//! the reader does again, so a file read back lies where it lay.
//!
//! The end points and radius of an arc that is near a half circle hardly tell where its centre is,
//! so arcs wider than [`WIDEST_ARC`] are written as pieces; the reader joins pieces of one circle.
//! A path says that its edges are as stated ([`stated`]). Roles are told by group names and line weight, never by hue.

use crate::cautions::CAUTIONS;
use crate::format::Units;
use crate::format::drawing::stated;
use crate::format::numbers::short;
use crate::geom::{Arc, Edge, Point};
use crate::outline::{Bounds, Loop, Outline, Path, Role};
use core::fmt::Write;

/// Room around the outline, mm.
const MARGIN: f64 = 5.0;

/// Arcs that turn further than this are written in pieces, radians (150°).
const WIDEST_ARC: f64 = 2.617_993_877_991_494;

/// How a group is drawn: its name, its line weight in mm, its dash.
struct Look {
    role: Role,
    name: &'static str,
    weight: f64,
    dash: Option<[f64; 2]>,
}

const LOOKS: [Look; 3] = [
    Look {
        role: Role::Part,
        name: "parts",
        weight: 0.7,
        dash: None,
    },
    Look {
        role: Role::Hole,
        name: "holes",
        weight: 0.35,
        dash: None,
    },
    Look {
        role: Role::Open,
        name: "open-cuts",
        weight: 0.35,
        dash: Some([3.0, 1.5]),
    },
];

/// Diameter of the dot that shows a mark, mm.
const DOT: f64 = 1.2;

/// The one ink of the picture.
const INK: &str = "#1c1c1c";

/// The page: what turns mm, y up, into user units, y down.
struct Page {
    min: Point,
    max: Point,
    unit: f64,
}

impl Page {
    fn of(outline: &Outline, units: Units) -> Self {
        let b = Bounds::of_outline(outline).unwrap_or(Bounds::of_point(Point::default()));
        let unit = units.in_mm();
        // Whole units, so that turning over adds no rounding of its own.
        let low = |v: f64| libm::floor((v - MARGIN) / unit);
        let high = |v: f64| libm::ceil((v + MARGIN) / unit);
        Self {
            min: Point::new(low(b.min.x), low(b.min.y)),
            max: Point::new(high(b.max.x), high(b.max.y)),
            unit,
        }
    }

    fn x(&self, x: f64) -> String {
        short(x / self.unit)
    }

    fn y(&self, y: f64) -> String {
        short(self.min.y + self.max.y - y / self.unit)
    }

    fn length(&self, mm: f64) -> String {
        short(mm / self.unit)
    }

    fn at(&self, p: Point) -> String {
        format!("{} {}", self.x(p.x), self.y(p.y))
    }
}

/// The outline as SVG text in `units`.
#[must_use]
pub fn write(outline: &Outline, units: Units) -> String {
    let page = Page::of(outline, units);
    let mut text = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    head(&mut text, &page, units);
    for look in &LOOKS {
        let loops = outline.loops.iter().filter(|l| l.role == look.role);
        group(&mut text, &page, look, &loops.collect::<Vec<_>>());
    }
    marks(&mut text, &page, outline);
    text.push_str("</svg>\n");
    text
}

// Writing into a String cannot fail, so the results of `write!` are dropped below.

fn head(text: &mut String, page: &Page, units: Units) {
    let (w, h) = (page.max.x - page.min.x, page.max.y - page.min.y);
    let unit = units.name();
    let _ = writeln!(
        text,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}{unit}\" height=\"{h}{unit}\" \
         viewBox=\"{} {} {w} {h}\">",
        page.min.x, page.min.y
    );
    let _ = writeln!(text, "<title>Outline in real size, {unit}</title>");
    text.push_str("<desc>");
    for (i, caution) in CAUTIONS.iter().enumerate() {
        text.push_str(if i == 0 { "" } else { "\n" });
        text.push_str(&escaped(caution));
    }
    text.push_str("</desc>\n");
}

fn group(text: &mut String, page: &Page, look: &Look, loops: &[&Loop]) {
    if loops.is_empty() {
        return;
    }
    let _ = write!(
        text,
        "<g id=\"{}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"{}\"",
        look.name,
        page.length(look.weight)
    );
    if let Some([on, off]) = look.dash {
        let (on, off) = (page.length(on), page.length(off));
        let _ = write!(text, " stroke-dasharray=\"{on} {off}\"");
    }
    text.push_str(" stroke-linejoin=\"round\">\n");
    for l in loops {
        match &l.path {
            Path::Circle(c) => {
                let (x, y, r) = (
                    page.x(c.center.x),
                    page.y(c.center.y),
                    page.length(c.radius),
                );
                let _ = writeln!(text, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>");
            }
            Path::Chain(_) => {
                let (d, pieces) = course(page, &l.path);
                let _ = writeln!(
                    text,
                    "<path {}=\"{}\" d=\"{d}\"/>",
                    stated::ATTRIBUTE,
                    stated::attribute(&pieces)
                );
            }
        }
    }
    text.push_str("</g>\n");
}

/// Path data: one sub-path, closed by `Z` where the course is closed; and of how many pieces each edge is.
fn course(page: &Page, path: &Path) -> (String, Vec<usize>) {
    let edges = path.edges();
    let mut d = String::new();
    let mut counts = vec![1; edges.len()];
    let Some(first) = edges.first() else {
        return (d, counts);
    };
    let _ = write!(d, "M{}", page.at(first.from()));
    let closed = path.is_closed();
    for (i, (edge, count)) in edges.iter().zip(&mut counts).enumerate() {
        match edge {
            // `Z` draws the last straight edge of a closed course.
            Edge::Line(_) if closed && i + 1 == edges.len() => {}
            Edge::Line(line) => {
                let _ = write!(d, "L{}", page.at(line.to));
            }
            Edge::Arc(arc) => *count = pieces(&mut d, page, arc),
        }
    }
    if closed {
        d.push('Z');
    }
    (d, counts)
}

/// Writes an arc; tells in how many pieces.
fn pieces(d: &mut String, page: &Page, arc: &Arc) -> usize {
    // Turned over, a counter-clockwise arc still looks so, and SVG's flag 1 means clockwise to the eye.
    let flag = u8::from(arc.sweep < 0.0);
    let r = page.length(arc.radius);
    let ends = arc_ends(arc);
    for to in &ends {
        let _ = write!(d, "A{r} {r} 0 0 {flag} {}", page.at(*to));
    }
    ends.len()
}

/// Where the pieces of an arc end: near a half turn, ends and radius hardly tell its centre.
pub(crate) fn arc_ends(arc: &Arc) -> Vec<Point> {
    let count = libm::ceil(arc.sweep.abs() / WIDEST_ARC).clamp(1.0, 3.0) as usize;
    let inner = (1..count).map(|k| arc.point_at(k as f64 / count as f64));
    inner.chain([arc.to]).collect()
}

/// A mark is a path of no length, drawn as a dot by its round ends.
fn marks(text: &mut String, page: &Page, outline: &Outline) {
    if outline.marks.is_empty() {
        return;
    }
    let _ = writeln!(
        text,
        "<g id=\"marks\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"{}\" stroke-linecap=\"round\">",
        page.length(DOT)
    );
    for mark in &outline.marks {
        let _ = writeln!(text, "<path d=\"M{}h0\"/>", page.at(mark.at));
    }
    text.push_str("</g>\n");
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}
