//! An outline as a drawing exchange file.
//!
//! Release 12 (`AC1009`) in plain ASCII, the form that most programs and machines understand:
//! closed loops are closed polylines whose arcs are bulges, tan(sweep/4) (the published DXF
//! reference, group code 42), circles are circles, marks are points. Layers are named by role and
//! all have one colour. A polyline says that its edges are as stated ([`stated`]). Units stand in the header, the cautions in comments at the top.

use crate::cautions::CAUTIONS;
use crate::format::Units;
use crate::format::drawing::stated;
use crate::format::numbers::short;
use crate::geom::Point;
use crate::outline::{Bounds, Chain, Loop, Outline, Path, Role, Shape};
use core::fmt::Write;

/// White or black, whichever the paper is not: the one colour of every layer.
const COLOR: &str = "7";

/// The layers by role.
const LAYERS: [&str; 4] = ["PART", "HOLE", "OPEN", "MARK"];

fn layer(role: Role) -> &'static str {
    match role {
        Role::Part => "PART",
        Role::Hole => "HOLE",
        Role::Open => "OPEN",
    }
}

/// Text under construction.
struct Pairs {
    text: String,
    unit: f64,
}

impl Pairs {
    fn put(&mut self, code: u16, value: &str) {
        // Writing into a String cannot fail.
        let _ = write!(self.text, "{code}\n{value}\n");
    }

    fn length(&mut self, code: u16, mm: f64) {
        let value = short(mm / self.unit);
        self.put(code, &value);
    }

    fn point(&mut self, p: Point) {
        self.length(10, p.x);
        self.length(20, p.y);
        self.put(30, "0");
    }

    fn entity(&mut self, kind: &str, layer: &str) {
        self.put(0, kind);
        self.put(8, layer);
    }
}

/// The outline as DXF text in `units`.
#[must_use]
pub fn write(outline: &Outline, units: Units) -> String {
    let mut out = Pairs {
        text: String::new(),
        unit: units.in_mm(),
    };
    out.put(999, &format!("Outline, lengths in {}", units.name()));
    for caution in CAUTIONS {
        out.put(999, caution);
    }
    header(&mut out, outline, units);
    tables(&mut out);
    out.put(0, "SECTION");
    out.put(2, "ENTITIES");
    for l in &outline.loops {
        course(&mut out, l);
    }
    for mark in &outline.marks {
        out.entity("POINT", "MARK");
        out.point(mark.at);
    }
    out.put(0, "ENDSEC");
    out.put(0, "EOF");
    out.text
}

fn header(out: &mut Pairs, outline: &Outline, units: Units) {
    let (insunits, measurement) = match units {
        Units::Mm => ("4", "1"),
        Units::Inch => ("1", "0"),
    };
    out.put(0, "SECTION");
    out.put(2, "HEADER");
    out.put(9, "$ACADVER");
    out.put(1, "AC1009");
    out.put(9, "$INSUNITS");
    out.put(70, insunits);
    out.put(9, "$MEASUREMENT");
    out.put(70, measurement);
    if let Some(b) = Bounds::of_outline(outline) {
        out.put(9, "$EXTMIN");
        out.point(b.min);
        out.put(9, "$EXTMAX");
        out.point(b.max);
    }
    out.put(0, "ENDSEC");
}

fn tables(out: &mut Pairs) {
    out.put(0, "SECTION");
    out.put(2, "TABLES");
    out.put(0, "TABLE");
    out.put(2, "LTYPE");
    out.put(70, "1");
    for (code, value) in [
        (0, "LTYPE"),
        (2, "CONTINUOUS"),
        (70, "0"),
        (3, "Solid line"),
        (72, "65"),
        (73, "0"),
        (40, "0"),
        (0, "ENDTAB"),
    ] {
        out.put(code, value);
    }
    out.put(0, "TABLE");
    out.put(2, "LAYER");
    out.put(70, &LAYERS.len().to_string());
    for name in LAYERS {
        out.put(0, "LAYER");
        out.put(2, name);
        out.put(70, "0");
        out.put(62, COLOR);
        out.put(6, "CONTINUOUS");
    }
    out.put(0, "ENDTAB");
    out.put(0, "TABLE");
    out.put(2, "APPID");
    out.put(70, "1");
    out.put(0, "APPID");
    out.put(2, stated::APPLICATION);
    out.put(70, "0");
    out.put(0, "ENDTAB");
    out.put(0, "ENDSEC");
}

fn course(out: &mut Pairs, l: &Loop) {
    let layer = layer(l.role);
    match &l.path {
        Path::Circle(c) => {
            out.entity("CIRCLE", layer);
            out.point(c.center);
            out.length(40, c.radius);
        }
        Path::Chain(chain) => polyline(out, chain, layer),
    }
}

fn polyline(out: &mut Pairs, chain: &Chain, layer: &str) {
    out.entity("POLYLINE", layer);
    out.put(66, "1");
    out.put(10, "0");
    out.put(20, "0");
    out.put(30, "0");
    out.put(70, if chain.is_closed() { "1" } else { "0" });
    out.put(1001, stated::APPLICATION);
    out.put(1000, stated::EDGES);
    for (i, corner) in chain.corners.iter().enumerate() {
        out.entity("VERTEX", layer);
        out.point(*corner);
        if let Some(Shape::Arc { sweep }) = chain.shapes.get(i) {
            out.put(42, &bulge(*sweep).to_string());
        }
    }
    out.entity("SEQEND", layer);
}

/// tan of a quarter of the included angle, negative when clockwise.
fn bulge(sweep: f64) -> f64 {
    libm::tan(0.25 * sweep)
}
