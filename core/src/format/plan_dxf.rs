//! A plan as a drawing exchange file: release 12, plain ASCII, one layer a role, all of one colour.
//!
//! Closed paths are closed polylines with arcs as bulges, tan(sweep/4) (the published DXF
//! reference, group code 42), or single LINE, ARC and CIRCLE entities on request. Leads and
//! overlaps are open polylines on a layer of their own, pierces are points.

use crate::cautions::CAUTIONS;
use crate::cut::{Cleared, Cut, Plan};
use crate::format::{Units, comments, figures};
use crate::geom::{Arc, Edge, Point};
use crate::outline::{Bounds, Role};
use core::fmt::Write;

const LAYERS: [&str; 6] = [
    "CUT_PARTS",
    "CUT_HOLES",
    "CUT_OPEN",
    "LEADS",
    "PIERCES",
    "STOCK",
];

/// How paths are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Entities {
    /// One polyline a path, arcs as bulges; whole circles as circles.
    #[default]
    Polylines,
    /// One LINE, ARC or CIRCLE an edge.
    Single,
}

struct Pairs {
    text: String,
    unit: f64,
}

impl Pairs {
    fn put(&mut self, code: u16, value: &str) {
        let _ = write!(self.text, "{code}\n{value}\n");
    }

    fn number(&mut self, code: u16, value: f64) {
        // Twelve digits after the point: an inch file keeps every mm to 1e-9.
        let rounded = libm::round(value * 1e12) / 1e12 + 0.0;
        self.put(code, &format!("{rounded:?}"));
    }

    fn length(&mut self, code: u16, mm: f64) {
        let v = mm / self.unit;
        self.number(code, v);
    }

    fn point(&mut self, code: u16, p: Point) {
        self.length(code, p.x);
        self.length(code + 10, p.y);
        self.put(code + 20, "0.0");
    }

    fn entity(&mut self, kind: &str, layer: &str) {
        self.put(0, kind);
        self.put(8, layer);
    }
}

/// The plan as DXF text in `units`.
#[must_use]
pub fn write(plan: Cleared<'_>, units: Units, entities: Entities) -> String {
    let mut out = Pairs {
        text: String::new(),
        unit: units.in_mm(),
    };
    let title = if plan.settings.title.is_empty() {
        "cut plan"
    } else {
        &plan.settings.title
    };
    comment(
        &mut out,
        &format!(
            "{title}, lengths in {}; {}",
            units.name(),
            units.said(&format!(
                "kerf {} mm already in the paths",
                plan.settings.kerf
            ))
        ),
    );
    for caution in CAUTIONS {
        comment(&mut out, caution);
    }
    for text in figures::told(&plan, units) {
        comment(&mut out, &text);
    }
    header(&mut out, &plan, units);
    tables(&mut out);
    out.put(0, "SECTION");
    out.put(2, "ENTITIES");
    if let Some(stock) = &plan.settings.stock {
        for path in core::iter::once(&stock.border).chain(&stock.openings) {
            course(&mut out, "STOCK", &path.edges(), true, entities);
        }
    }
    for cut in &plan.cuts {
        let layer = match cut.role {
            Role::Part => "CUT_PARTS",
            Role::Hole => "CUT_HOLES",
            Role::Open => "CUT_OPEN",
        };
        out.entity("POINT", "PIERCES");
        out.point(10, cut.pierce.at);
        course(&mut out, "LEADS", &cut.lead_in, false, entities);
        course(&mut out, layer, &cut.path, cut.closed, entities);
        course(&mut out, "LEADS", &cut.lead_out, false, entities);
    }
    out.put(0, "ENDSEC");
    out.put(0, "EOF");
    out.text
}

fn comment(out: &mut Pairs, text: &str) {
    for line in comments::lines(text) {
        out.put(999, &line);
    }
}

fn header(out: &mut Pairs, plan: &Plan, units: Units) {
    let (insunits, measurement) = match units {
        Units::Mm => ("4", "1"),
        Units::Inch => ("1", "0"),
    };
    for (code, value) in [
        (0, "SECTION"),
        (2, "HEADER"),
        (9, "$ACADVER"),
        (1, "AC1009"),
        (9, "$INSUNITS"),
        (70, insunits),
        (9, "$MEASUREMENT"),
        (70, measurement),
    ] {
        out.put(code, value);
    }
    let bounds = plan
        .cuts
        .iter()
        .flat_map(Cut::moves)
        .map(Bounds::of_edge)
        .reduce(|a, b| a.union(&b));
    if let Some(b) = bounds {
        out.put(9, "$EXTMIN");
        out.point(10, b.min);
        out.put(9, "$EXTMAX");
        out.point(10, b.max);
    }
    out.put(0, "ENDSEC");
}

fn tables(out: &mut Pairs) {
    let lines = [
        (0, "SECTION"),
        (2, "TABLES"),
        (0, "TABLE"),
        (2, "LTYPE"),
        (70, "1"),
        (0, "LTYPE"),
        (2, "CONTINUOUS"),
        (70, "0"),
        (3, "Solid line"),
        (72, "65"),
        (73, "0"),
        (40, "0.0"),
        (0, "ENDTAB"),
        (0, "TABLE"),
        (2, "LAYER"),
    ];
    for (code, value) in lines {
        out.put(code, value);
    }
    out.put(70, &LAYERS.len().to_string());
    for name in LAYERS {
        // 7 is black on white and white on black: the one colour of every layer.
        for (code, value) in [
            (0, "LAYER"),
            (2, name),
            (70, "0"),
            (62, "7"),
            (6, "CONTINUOUS"),
        ] {
            out.put(code, value);
        }
    }
    out.put(0, "ENDTAB");
    out.put(0, "ENDSEC");
}

fn course(out: &mut Pairs, layer: &str, edges: &[Edge], closed: bool, entities: Entities) {
    if let [Edge::Arc(a)] = edges
        && a.is_full()
    {
        return circle(out, layer, a);
    }
    if entities == Entities::Single {
        for edge in edges {
            single(out, layer, edge);
        }
    } else if !edges.is_empty() {
        polyline(out, layer, edges, closed);
    }
}

fn circle(out: &mut Pairs, layer: &str, a: &Arc) {
    out.entity("CIRCLE", layer);
    out.point(10, a.center);
    out.length(40, a.radius);
}

fn single(out: &mut Pairs, layer: &str, edge: &Edge) {
    match edge {
        Edge::Line(l) => {
            out.entity("LINE", layer);
            out.point(10, l.from);
            out.point(11, l.to);
        }
        Edge::Arc(a) if a.is_full() => circle(out, layer, a),
        Edge::Arc(a) => {
            // An ARC always runs counter-clockwise.
            let (from, to) = if a.sweep > 0.0 {
                (a.from, a.to)
            } else {
                (a.to, a.from)
            };
            let degrees = |p: Point| {
                let d = (p - a.center).angle().to_degrees();
                if d < 0.0 { d + 360.0 } else { d }
            };
            out.entity("ARC", layer);
            out.point(10, a.center);
            out.length(40, a.radius);
            out.number(50, degrees(from));
            out.number(51, degrees(to));
        }
    }
}

fn polyline(out: &mut Pairs, layer: &str, edges: &[Edge], closed: bool) {
    out.entity("POLYLINE", layer);
    out.put(66, "1");
    out.point(10, Point::default());
    out.put(70, if closed { "1" } else { "0" });
    let mut vertex = |p: Point, bulge: f64| {
        out.entity("VERTEX", layer);
        out.point(10, p);
        if bulge != 0.0 {
            out.number(42, bulge);
        }
    };
    for edge in edges {
        match edge {
            Edge::Line(l) => vertex(l.from, 0.0),
            // A bulge over 2.4 (270 degrees) is ill seen by readers: two pieces.
            Edge::Arc(a) if a.sweep.abs() > 1.5 * core::f64::consts::PI => {
                let half = libm::tan(0.125 * a.sweep);
                vertex(a.from, half);
                vertex(a.point_at(0.5), half);
            }
            Edge::Arc(a) => vertex(a.from, libm::tan(0.25 * a.sweep)),
        }
    }
    if let Some(last) = edges.last().filter(|_| !closed) {
        vertex(last.to(), 0.0);
    }
    out.entity("SEQEND", layer);
}
