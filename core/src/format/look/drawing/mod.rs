//! The one picture of a piece and its cuts.
//!
//! From the back to the front: the metal that is kept, hatched; the stock; the hand's line, dotted; the
//! outline, thin; the torch's path, thick, its leads, travel, pierces and way; then words: sizes at their
//! places, order numbers, letters of the kinds of pieces, sizes over all, the worst departure, and beside the
//! drawing each doubt in full, a line leading to its place. Weight, dash, hatch and frame tell things apart;
//! there is one ink.

mod words;

use super::labels::{Crowd, LETTER};
use super::pieces::{kinds, parts};
use super::seen::{Seen, length};
use crate::cut::Plan;
use crate::format::Units;
use crate::format::plan_svg::{Frame, body};
use crate::geom::{Edge, Point, Vec2};
use crate::outline::nesting::parents;
use crate::outline::{Bounds, Outline, Role};
use crate::report::Doubt;
use core::fmt::Write;

/// Order numbers and letters beyond this would only blacken the picture,
const MOST_NUMBERS: usize = 250;
/// sizes beyond this too: all of them stand in the table.
const MOST_LABELS: usize = 120;
/// Letters in a line of a doubt beside the drawing.
const COLUMN: usize = 34;
/// Most lines of one doubt.
const MOST_LINES: usize = 9;

/// What is told of the lines under the picture.
pub const KEY: &str = "Hatched: the metal that is kept. Dotted: what was traced. Thin line: the outline. Thick line: torch on. Dashes: travel, torch off. Cross: pierce. Number: order. Arrow: way round.";

const STYLE: &str = "<style>path,line,circle{vector-effect:non-scaling-stroke}.hatch{stroke:#000;stroke-width:.2px}#stock path{stroke-width:.5mm}#hand path{stroke-width:.45mm;stroke:#777;stroke-linecap:round;stroke-dasharray:.01mm .9mm}#outline path{stroke-width:.2mm}.bare #outline path{stroke-width:.4mm}#cut-parts path,#cut-holes path,#cut-open path{stroke-width:.45mm}#leads path{stroke-width:.3mm}#travel path{stroke-width:.15mm;stroke-dasharray:1mm 1mm}#pierces path{stroke-width:.2mm}#ways path{stroke-width:.3mm}#over path,#zero path,.lead{stroke-width:.15mm}#worst path{stroke-width:.35mm}text{font-family:sans-serif}#letters text{font-weight:bold;fill:#555}.rim text{fill:#fff;stroke:#fff;stroke-linejoin:round}#doubts text{font-weight:bold}</style>\n";

/// What is drawn.
pub struct Picture<'a> {
    outline: &'a Outline,
    seen: &'a Seen,
    doubts: &'a [Doubt],
    plan: Option<&'a Plan>,
    units: Units,
}

impl<'a> Picture<'a> {
    /// A plan with what was traced of its pieces.
    #[must_use]
    pub fn of_plan(plan: &'a Plan, seen: &'a Seen, units: Units) -> Self {
        Self {
            outline: &plan.outline,
            doubts: &plan.doubts,
            plan: Some(plan),
            seen,
            units,
        }
    }

    /// An outline with what was traced of it.
    #[must_use]
    pub const fn of_outline(
        outline: &'a Outline,
        seen: &'a Seen,
        doubts: &'a [Doubt],
        units: Units,
    ) -> Self {
        Self {
            outline,
            seen,
            doubts,
            plan: None,
            units,
        }
    }

    /// The picture as SVG that fills what room it is given.
    #[must_use]
    pub fn svg(&self) -> String {
        let mut frame = Frame::of(self.outline, self.plan, Units::Mm);
        let hand = self.seen.traced.iter().flatten().copied();
        let hand = Bounds::of_points(hand).filter(|_| self.plan.is_none());
        frame.hold(hand);
        let text = 0.018 * frame.bounds.width().max(1.3 * frame.bounds.height());
        let inner = Bounds {
            min: frame.bounds.min + Vec2::new(-2.5 * text, -2.0 * text),
            max: frame.bounds.max + Vec2::new(2.5 * text, 2.0 * text),
        };
        // Room for the sizes over all, below and on the right, and for the doubts beyond them.
        frame.bounds.min = inner.min + Vec2::new(0.0, -5.0 * text);
        frame.bounds.max = inner.max + Vec2::new(7.5 * text, 0.0);
        let mut drawing = Drawing {
            out: String::new(),
            crowd: Crowd::new(inner, text, self.lines(0.6 * text)),
            text,
            inner,
            frame,
            of: self,
        };
        let column = drawing.frame.bounds.max.x;
        let doubts = self.placed_doubts();
        if !doubts.is_empty() {
            drawing.frame.bounds.max.x += (LETTER * COLUMN as f64 + 2.0) * text;
        }
        drawing.all(&doubts, column);
        drawing.out
    }

    /// Doubts that have a place, with their numbers.
    fn placed_doubts(&self) -> Vec<(usize, &Doubt, Point)> {
        let numbered = self.doubts.iter().enumerate();
        numbered
            .filter_map(|(i, d)| Some((i + 1, d, d.at?)))
            .collect()
    }

    /// Places along everything drawn, that words had better not cover.
    fn lines(&self, step: f64) -> Vec<Point> {
        let edges = self.outline.loops.iter().flat_map(|l| l.path.edges());
        let cuts = self.plan.into_iter().flat_map(|p| &p.cuts);
        let leads = cuts.flat_map(|c| c.lead_in.iter().chain(&c.lead_out).copied());
        edges
            .chain(leads)
            .flat_map(|e| {
                let n = libm::ceil(e.length() / step).clamp(1.0, 200.0);
                (0..=n as usize).map(move |k| e.point_at(k as f64 / n))
            })
            .collect()
    }
}

struct Drawing<'a> {
    out: String,
    crowd: Crowd,
    /// Height of a figure.
    text: f64,
    /// Where words may go.
    inner: Bounds,
    frame: Frame,
    of: &'a Picture<'a>,
}

impl Drawing<'_> {
    fn all(&mut self, doubts: &[(usize, &Doubt, Point)], column: f64) {
        self.metal();
        self.hand();
        self.outline();
        self.zero();
        if let Some(plan) = self.of.plan {
            let torch = body(plan, &self.frame, true);
            self.out.push_str(&torch);
            self.ways(plan);
        }
        self.over_all();
        self.bar();
        let mut words: Vec<(Point, f64, &str, String)> = Vec::new();
        if let Some(plan) = self.of.plan {
            let kinds = kinds(&plan.outline);
            if kinds.len() > 1 {
                self.letters(&kinds);
            }
            for (i, cut) in plan.cuts.iter().enumerate().take(MOST_NUMBERS) {
                let (at, anchor) = self.place_of_number(cut);
                let half = Vec2::new(0.6, 0.5) * self.text;
                self.crowd.block(at, half);
                words.push((
                    at + Vec2::new(0.0, -0.3 * self.text),
                    0.9,
                    anchor,
                    (i + 1).to_string(),
                ));
            }
        }
        self.badges(doubts);
        self.worst(&mut words);
        self.labels(&mut words);
        self.words_on_rims("order", &words);
        self.callouts(doubts, column);
        let b = self.frame.bounds;
        let (w, h) = (self.frame.length(b.width()), self.frame.length(b.height()));
        let bare = if self.of.plan.is_none() {
            " class=\"bare\""
        } else {
            ""
        };
        let t = self.frame.length(0.55 * self.text);
        self.out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"The piece, what was traced of it, and its cuts\"{bare}>\n{STYLE}<defs><pattern id=\"kept\" width=\"{t}\" height=\"{t}\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><line class=\"hatch\" x1=\"0\" y1=\"0\" x2=\"0\" y2=\"{t}\"/></pattern></defs>\n{}</svg>\n",
            self.out
        );
    }

    /// What is kept: every part less its holes, and a band of the sheet around openings.
    fn metal(&mut self) {
        self.out.push_str(
            "<g id=\"metal\" stroke=\"none\" fill=\"url(#kept)\" fill-rule=\"evenodd\">\n",
        );
        for (part, holes) in parts(self.of.outline) {
            let loops = core::iter::once(part).chain(holes);
            let d: Vec<String> = loops
                .map(|l| self.frame.course(&l.path.edges(), true))
                .collect();
            let _ = writeln!(self.out, "<path d=\"{}\"/>", d.join(" "));
        }
        let around = parents(&self.of.outline.loops);
        let lone = self.of.outline.loops.iter().zip(&around);
        let lone: Vec<String> = lone
            .filter(|(l, a)| l.role == Role::Hole && a.as_ref().is_some_and(Vec::is_empty))
            .map(|(l, _)| self.frame.course(&l.path.edges(), true))
            .collect();
        let band = self.frame.length(4.0 * self.text);
        for d in &lone {
            let _ = writeln!(
                self.out,
                "<path d=\"{d}\" fill=\"none\" stroke=\"url(#kept)\" stroke-linejoin=\"round\" style=\"vector-effect:none;stroke-width:{band}\"/>"
            );
        }
        for d in &lone {
            let _ = writeln!(self.out, "<path d=\"{d}\" fill=\"white\"/>");
        }
        self.out.push_str("</g>\n");
    }

    fn hand(&mut self) {
        self.out
            .push_str("<g id=\"hand\" fill=\"none\" stroke-linejoin=\"round\">\n");
        for stroke in &self.of.seen.traced {
            let Some(first) = stroke.first() else {
                continue;
            };
            let mut d = format!("M{}", self.frame.place(*first));
            for p in stroke.iter().skip(1) {
                let _ = write!(d, "L{}", self.frame.place(*p));
            }
            if stroke.len() == 1 {
                d.push_str("h0");
            }
            let _ = writeln!(self.out, "<path d=\"{d}\"/>");
        }
        self.out.push_str("</g>\n");
    }

    fn outline(&mut self) {
        self.out
            .push_str("<g id=\"outline\" fill=\"none\" stroke=\"black\">\n");
        for l in &self.of.outline.loops {
            let d = self.frame.course(&l.path.edges(), l.path.is_closed());
            let _ = writeln!(self.out, "<path d=\"{d}\"/>");
        }
        let r = 0.35 * self.text;
        for mark in &self.of.outline.marks {
            let (a, b) = (Vec2::new(r, 0.0), Vec2::new(0.0, r));
            let d = [
                self.stroke(mark.at + (-a), mark.at + a),
                self.stroke(mark.at + (-b), mark.at + b),
            ];
            let _ = writeln!(self.out, "<path d=\"{}\"/>", d.join(" "));
        }
        self.out.push_str("</g>\n");
    }

    /// The machine's zero, where it lies within the picture.
    fn zero(&mut self) {
        let b = self.inner;
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
            "<g id=\"zero\" fill=\"none\" stroke=\"black\"><path d=\"{}\"/><circle cx=\"{x}\" cy=\"{y}\" r=\"{:.2}\" stroke-width=\".15mm\"/></g>",
            d.join(" "),
            0.45 * t
        );
    }

    /// A small arrow on each path: which way round the torch goes.
    fn ways(&mut self, plan: &Plan) {
        self.out
            .push_str("<g id=\"ways\" fill=\"none\" stroke=\"black\">\n");
        for cut in plan.cuts.iter().take(MOST_NUMBERS) {
            let length: f64 = cut.path.iter().map(Edge::length).sum();
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
    fn over_all(&mut self) {
        let Some(b) = Bounds::of_outline(self.of.outline) else {
            return;
        };
        let t = self.text;
        let low = self.inner.min.y - 0.6 * t;
        let right = self.inner.max.x + 0.6 * t;
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
            "<g id=\"over\"><path fill=\"none\" stroke=\"black\" d=\"{}\"/>",
            d.join(" ")
        );
        let below = Point::new(0.5 * (b.min.x + b.max.x), low - 1.3 * t);
        let beside = Point::new(right + 0.7 * t, 0.5 * (b.min.y + b.max.y) - 0.35 * t);
        let unit = self.of.units.name();
        let size = |mm: f64| format!("{} {unit}", length(mm, self.of.units));
        self.words(below, 1.1, "middle", &size(b.width()));
        self.words(beside, 1.1, "start", &size(b.height()));
        self.out.push_str("</g>\n");
    }

    /// A bar of a round length, so that the scale is seen, and its length in words.
    fn bar(&mut self) {
        let unit = self.of.units.in_mm();
        let most = 0.3 * self.inner.width() / unit;
        let decade = libm::pow(10.0, libm::floor(libm::log10(most.max(1e-9))));
        let step = [5.0, 2.0, 1.0]
            .into_iter()
            .map(|k| k * decade)
            .find(|s| *s <= most);
        let Some(long) = step else { return };
        let t = self.text;
        let from = Point::new(self.inner.min.x + 0.5 * t, self.inner.min.y - 4.0 * t);
        let to = from + Vec2::new(long * unit, 0.0);
        let tick = Vec2::new(0.0, 0.35 * t);
        let d = [
            self.stroke(from, to),
            self.stroke(from + tick, from + (-tick)),
            self.stroke(to + tick, to + (-tick)),
        ];
        let _ = writeln!(
            self.out,
            "<g id=\"bar\"><path fill=\"none\" stroke=\"black\" stroke-width=\".35mm\" d=\"{}\"/>",
            d.join(" ")
        );
        let words = format!(
            "this bar is {long} {}; all figures are {}",
            self.of.units.name(),
            match self.of.units {
                Units::Mm => "millimetres",
                Units::Inch => "inches",
            }
        );
        self.words(to + Vec2::new(0.8 * t, -0.35 * t), 0.9, "start", &words);
        self.out.push_str("</g>\n");
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
