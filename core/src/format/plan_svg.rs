//! A plan as a picture in real mm or inches: one group a role, one for leads, travel and pierces.
//!
//! Torch and travel are told apart by weight and dash, pierces by a small punch mark, the order by
//! number; one colour throughout. The picture's y runs down, so the drawing is turned over once, in
//! the numbers, and every circular arc stays an SVG arc of its true radius.

use crate::cautions::CAUTIONS;
use crate::cut::{Cut, Plan, Stock};
use crate::format::svg::arc_ends;
use crate::format::{Units, figures};
use crate::geom::{Edge, Point};
use crate::outline::{Bounds, Outline, Path, Role};
use core::fmt::Write;

/// White space round the picture, mm.
const MARGIN: f64 = 5.0;

/// The frame of a picture: what it shows, and how mm become the file's numbers.
pub(crate) struct Frame {
    pub(crate) bounds: Bounds,
    unit: f64,
}

impl Frame {
    /// The frame that holds an outline, and the plan with its stock.
    pub(crate) fn of(outline: &Outline, plan: Option<&Plan>, units: Units) -> Self {
        let cuts = plan.into_iter().flat_map(|p| &p.cuts);
        let moves = cuts.flat_map(Cut::moves).map(Bounds::of_edge);
        let stock = plan.and_then(|p| p.settings.stock.as_ref());
        let stock = stock.and_then(|s| Bounds::of_path(&s.border));
        let bounds = moves
            .chain(Bounds::of_outline(outline))
            .chain(stock)
            .reduce(|a, b| a.union(&b));
        let mut bounds = bounds.unwrap_or(Bounds::of_point(Point::default()));
        bounds.min = Point::new(bounds.min.x - MARGIN, bounds.min.y - MARGIN);
        bounds.max = Point::new(bounds.max.x + MARGIN, bounds.max.y + MARGIN);
        Self {
            bounds,
            unit: units.in_mm(),
        }
    }

    /// Makes room for more.
    pub(crate) fn hold(&mut self, more: Option<Bounds>) {
        if let Some(more) = more {
            self.bounds = self.bounds.union(&more);
        }
    }

    pub(crate) fn length(&self, mm: f64) -> String {
        let v = libm::round(mm / self.unit * 1e12) / 1e12 + 0.0;
        v.to_string()
    }

    pub(crate) fn place(&self, p: Point) -> String {
        format!(
            "{} {}",
            self.length(p.x - self.bounds.min.x),
            self.length(self.bounds.max.y - p.y)
        )
    }

    /// The `d` of a run of edges that hang together.
    pub(crate) fn course(&self, edges: &[Edge], closed: bool) -> String {
        let mut d = String::new();
        for (i, edge) in edges.iter().enumerate() {
            if i == 0 {
                let _ = write!(d, "M{}", self.place(edge.from()));
            }
            match edge {
                Edge::Line(l) => {
                    let _ = write!(d, " L{}", self.place(l.to));
                }
                Edge::Arc(a) => {
                    let r = self.length(a.radius);
                    // Turned over, counter-clockwise becomes SVG's sweep 0.
                    let way = u8::from(a.sweep < 0.0);
                    for to in arc_ends(a) {
                        let _ = write!(d, " A{r} {r} 0 0 {way} {}", self.place(to));
                    }
                }
            }
        }
        if closed {
            d.push_str(" Z");
        }
        d
    }
}

pub(crate) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// The plan as SVG text in `units`.
#[must_use]
pub fn write(plan: &Plan, units: Units) -> String {
    let frame = Frame::of(&plan.outline, Some(plan), units);
    let (w, h) = (
        frame.length(frame.bounds.width()),
        frame.length(frame.bounds.height()),
    );
    let unit = units.name();
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}{unit}\" height=\"{h}{unit}\" viewBox=\"0 0 {w} {h}\">\n"
    );
    let title = if plan.settings.title.is_empty() {
        "Cut plan"
    } else {
        &plan.settings.title
    };
    let _ = writeln!(out, "<title>{}</title>", escaped(title));
    let _ = writeln!(out, "<desc>");
    let _ = writeln!(
        out,
        "Lengths in {unit}. Kerf {} mm, already in the paths.",
        plan.settings.kerf
    );
    let told = figures::told(plan, units);
    for text in told.iter().map(String::as_str).chain(CAUTIONS) {
        let _ = writeln!(out, "{}", escaped(text));
    }
    let _ = writeln!(out, "</desc>");
    out.push_str(&body(plan, &frame, true));
    out.push_str("</svg>\n");
    out
}

/// All groups of the picture, without the frame around them.
pub(crate) fn body(plan: &Plan, frame: &Frame, with_travel: bool) -> String {
    let mut out = String::new();
    let thin = frame.length(0.25);
    if let Some(stock) = &plan.settings.stock {
        group(
            &mut out,
            "stock",
            &format!(
                "stroke-width=\"{}\" stroke-opacity=\"0.6\"",
                frame.length(0.8)
            ),
        );
        stock_courses(&mut out, stock, frame);
        out.push_str("</g>\n");
    }
    for (role, id) in [
        (Role::Hole, "cut-holes"),
        (Role::Part, "cut-parts"),
        (Role::Open, "cut-open"),
    ] {
        group(
            &mut out,
            id,
            &format!("stroke-width=\"{}\"", frame.length(0.6)),
        );
        // The number of each cut is its place in the order.
        let numbered = plan.cuts.iter().enumerate();
        for (i, cut) in numbered.filter(|(_, c)| c.role == role) {
            let d = frame.course(&cut.path, cut.closed);
            let _ = writeln!(out, "<path id=\"cut-{}\" d=\"{d}\"/>", i + 1);
        }
        out.push_str("</g>\n");
    }
    group(
        &mut out,
        "leads",
        &format!("stroke-width=\"{}\"", frame.length(0.4)),
    );
    for run in plan
        .cuts
        .iter()
        .flat_map(|c| [&c.lead_in, &c.lead_out])
        .filter(|r| !r.is_empty())
    {
        let _ = writeln!(out, "<path d=\"{}\"/>", frame.course(run, false));
    }
    out.push_str("</g>\n");
    if with_travel {
        let dash = format!("{} {}", frame.length(2.0), frame.length(2.0));
        group(
            &mut out,
            "travel",
            &format!("stroke-width=\"{thin}\" stroke-dasharray=\"{dash}\""),
        );
        for pair in plan.cuts.windows(2) {
            if let [a, b] = pair {
                let _ = writeln!(
                    out,
                    "<path d=\"M{} L{}\"/>",
                    frame.place(a.end()),
                    frame.place(b.pierce.at)
                );
            }
        }
        out.push_str("</g>\n");
    }
    group(&mut out, "pierces", &format!("stroke-width=\"{thin}\""));
    for cut in &plan.cuts {
        let p = cut.pierce.at;
        let arm = |dx: f64, dy: f64| {
            let q = Point::new(p.x + dx, p.y + dy);
            let o = Point::new(p.x - dx, p.y - dy);
            format!("M{} L{}", frame.place(o), frame.place(q))
        };
        let _ = writeln!(out, "<path d=\"{} {}\"/>", arm(0.8, 0.8), arm(0.8, -0.8));
    }
    out.push_str("</g>\n");
    out
}

fn stock_courses(out: &mut String, stock: &Stock, frame: &Frame) {
    for path in core::iter::once(&stock.border).chain(&stock.openings) {
        let _ = writeln!(
            out,
            "<path d=\"{}\"/>",
            frame.course(&Path::edges(path), true)
        );
    }
}

fn group(out: &mut String, id: &str, style: &str) {
    let _ = writeln!(
        out,
        "<g id=\"{id}\" fill=\"none\" stroke=\"black\" {style}>"
    );
}
