//! The picture of the cut sheet: the metal that stays in grey, the torch's paths over it, each cut's
//! number at its pierce, each kind of piece with its letter, and the sizes over all.

use super::figures::Said;
use super::pieces::{Kind, extent, parts};
use crate::cut::{Cut, Plan};
use crate::format::Units;
use crate::format::plan_svg::{Frame, body};
use crate::geom::{Point, Vec2};
use crate::outline::{Bounds, Role};
use core::fmt::Write;

/// Order numbers and letters beyond this would only blacken the picture.
const MOST_NUMBERS: usize = 250;

const STYLE: &str = "<style>path{vector-effect:non-scaling-stroke}#metal{fill:#e4e4e4}#stock path{stroke-width:0.5mm}#cut-parts path,#cut-holes path,#cut-open path{stroke-width:0.4mm}#leads path{stroke-width:0.3mm}#travel path{stroke-width:0.15mm;stroke-dasharray:1mm 1mm}#pierces path{stroke-width:0.2mm}#ways path{stroke-width:0.3mm}#sizes path,#zero path{stroke-width:0.15mm}text{font-family:sans-serif}#letters text{font-weight:bold;fill:#555}</style>\n";

struct Drawing<'a> {
    out: String,
    plan: &'a Plan,
    frame: Frame,
    /// Height of a figure.
    text: f64,
    said: Said,
}

/// The picture as SVG that fills what room it is given.
pub(super) fn picture(plan: &Plan, kinds: &[Kind], units: Units) -> String {
    let mut frame = Frame::of(plan, Units::Mm);
    let text = 0.02 * frame.bounds.width().max(1.3 * frame.bounds.height());
    // Room for the sizes over all, below and on the right.
    frame.bounds.min = frame.bounds.min + Vec2::new(0.0, -3.0 * text);
    frame.bounds.max = frame.bounds.max + Vec2::new(7.5 * text, 0.0);
    let mut drawing = Drawing {
        out: String::new(),
        plan,
        frame,
        text,
        said: Said(units),
    };
    drawing.open();
    drawing.metal();
    drawing.zero();
    let torch = body(plan, &drawing.frame, true);
    drawing.out.push_str(&torch);
    drawing.ways();
    drawing.sizes();
    if kinds.len() > 1 {
        drawing.letters(kinds);
    }
    drawing.order();
    drawing.out.push_str("</svg>\n");
    drawing.out
}

impl Drawing<'_> {
    fn open(&mut self) {
        let b = self.frame.bounds;
        let (w, h) = (self.frame.length(b.width()), self.frame.length(b.height()));
        let _ = writeln!(
            self.out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"The cuts in their order\">"
        );
        self.out.push_str(STYLE);
    }

    /// What stays: every part less its holes.
    fn metal(&mut self) {
        self.out
            .push_str("<g id=\"metal\" stroke=\"none\" fill-rule=\"evenodd\">\n");
        for (part, holes) in parts(&self.plan.outline) {
            let loops = core::iter::once(part).chain(holes);
            let d: Vec<String> = loops
                .map(|l| self.frame.course(&l.path.edges(), true))
                .collect();
            let _ = writeln!(self.out, "<path d=\"{}\"/>", d.join(" "));
        }
        self.out.push_str("</g>\n");
    }

    /// The machine's zero, where it lies within the picture.
    fn zero(&mut self) {
        let b = self.frame.bounds;
        let within = b.min.x <= 0.0 && b.min.y <= 0.0 && b.max.x >= 0.0 && b.max.y >= 0.0;
        if !within {
            return;
        }
        let (o, t) = (Point::new(0.0, 0.0), self.text);
        let d = [
            self.stroke(Point::new(-0.8 * t, 0.0), Point::new(0.8 * t, 0.0)),
            self.stroke(Point::new(0.0, -0.8 * t), Point::new(0.0, 0.8 * t)),
        ];
        let (x, y) = self.at(o);
        let _ = writeln!(
            self.out,
            "<g id=\"zero\" fill=\"none\" stroke=\"black\"><path d=\"{}\"/><circle cx=\"{x}\" cy=\"{y}\" r=\"{:.2}\" stroke-width=\"{:.2}\"/></g>",
            d.join(" "),
            0.45 * t,
            0.05 * t
        );
    }

    /// A small arrow on each path: which way round the torch goes.
    fn ways(&mut self) {
        self.out
            .push_str("<g id=\"ways\" fill=\"none\" stroke=\"black\">\n");
        for cut in self.plan.cuts.iter().take(MOST_NUMBERS) {
            let length: f64 = cut.path.iter().map(|e| e.length()).sum();
            if length < 8.0 * self.text {
                continue;
            }
            // Beyond the number, on the way the torch takes first.
            let (i, t) = crate::cut::course::place(&cut.path, (2.5 * self.text).min(0.25 * length));
            let Some(edge) = cut.path.get(i) else {
                continue;
            };
            let (tip, along) = (edge.point_at(t), edge.direction_at(t));
            let back = -along * (0.5 * self.text);
            let side = along.left() * (0.25 * self.text);
            let _ = writeln!(
                self.out,
                "<path d=\"M{} L{} L{}\"/>",
                self.frame.place(tip + back + side),
                self.frame.place(tip),
                self.frame.place(tip + back + (-side))
            );
        }
        self.out.push_str("</g>\n");
    }

    /// Width and height of all pieces together, below and on the right of all that is drawn.
    fn sizes(&mut self) {
        let Some(b) = extent(&self.plan.outline) else {
            return;
        };
        let t = self.text;
        let low = self.frame.bounds.min.y + 1.7 * t;
        let right = self.frame.bounds.max.x - 7.0 * t;
        let tick = Vec2::new(0.0, 0.4 * t);
        let side = Vec2::new(0.4 * t, 0.0);
        let (bl, br) = (Point::new(b.min.x, low), Point::new(b.max.x, low));
        let (rl, rh) = (Point::new(right, b.min.y), Point::new(right, b.max.y));
        let d = [
            self.stroke(bl, br),
            self.stroke(bl + tick, bl + (-tick)),
            self.stroke(br + tick, br + (-tick)),
            self.stroke(rl, rh),
            self.stroke(rl + side, rl + (-side)),
            self.stroke(rh + side, rh + (-side)),
        ];
        let _ = writeln!(
            self.out,
            "<g id=\"sizes\"><path fill=\"none\" stroke=\"black\" d=\"{}\"/>",
            d.join(" ")
        );
        let below = Point::new(0.5 * (b.min.x + b.max.x), low - 1.2 * t);
        let beside = Point::new(right + 0.7 * t, 0.5 * (b.min.y + b.max.y) - 0.35 * t);
        let (across, up) = (self.said.size(b.width()), self.said.size(b.height()));
        self.words(below, 1.1, "middle", &across);
        self.words(beside, 1.1, "start", &up);
        self.out.push_str("</g>\n");
    }

    fn letters(&mut self, kinds: &[Kind]) {
        self.out.push_str("<g id=\"letters\">\n");
        let places = kinds
            .iter()
            .flat_map(|k| k.places.iter().map(|p| (*p, k.letter.clone())));
        for (p, letter) in places.take(MOST_NUMBERS).collect::<Vec<_>>() {
            self.words(p + Vec2::new(0.0, -0.5 * self.text), 1.4, "middle", &letter);
        }
        self.out.push_str("</g>\n");
    }

    /// Each cut's number beside its pierce, on the side of the waste where there is room. A white rim lies
    /// under each, drawn first: not every reader of SVG can paint a rim behind its figure.
    fn order(&mut self) {
        for rim in [true, false] {
            let style = match rim {
                true => format!(
                    "id=\"rims\" fill=\"white\" stroke=\"white\" stroke-linejoin=\"round\" stroke-width=\"{:.2}\"",
                    0.25 * self.text
                ),
                false => "id=\"order\"".to_owned(),
            };
            let _ = writeln!(self.out, "<g {style}>");
            for (i, cut) in self.plan.cuts.iter().enumerate().take(MOST_NUMBERS) {
                let (p, anchor) = self.place_of_number(cut);
                let p = p + Vec2::new(0.0, -0.3 * self.text);
                self.words(p, 0.9, anchor, &(i + 1).to_string());
            }
            self.out.push_str("</g>\n");
        }
    }

    fn place_of_number(&self, cut: &Cut) -> (Point, &'static str) {
        let t = self.text;
        let pierce = cut.pierce.at;
        let bounds = cut
            .path
            .iter()
            .map(Bounds::of_edge)
            .reduce(|a, b| a.union(&b));
        if let Some(b) = bounds.filter(|_| cut.role == Role::Hole)
            && b.width().min(b.height()) < 4.0 * t
        {
            // No room inside the hole: on its right.
            let at = Point::new(b.max.x + 0.3 * t, 0.5 * (b.min.y + b.max.y));
            return (at, "start");
        }
        let join = cut.lead_in.last().map(crate::geom::Edge::to);
        let away = join.and_then(|j| (pierce - j).unit());
        let away = away.unwrap_or(Vec2::new(0.0, 1.0));
        let anchor = match away.x {
            x if x > 0.5 => "start",
            x if x < -0.5 => "end",
            _ => "middle",
        };
        (pierce + away * (0.8 * t), anchor)
    }

    fn words(&mut self, at: Point, height: f64, anchor: &str, text: &str) {
        let (x, y) = self.at(at);
        let _ = writeln!(
            self.out,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{:.2}\" text-anchor=\"{anchor}\">{text}</text>",
            height * self.text
        );
    }

    fn at(&self, p: Point) -> (String, String) {
        let b = self.frame.bounds;
        (
            self.frame.length(p.x - b.min.x),
            self.frame.length(b.max.y - p.y),
        )
    }

    fn stroke(&self, a: Point, b: Point) -> String {
        format!("M{} L{}", self.frame.place(a), self.frame.place(b))
    }
}
