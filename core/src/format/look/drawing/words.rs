//! What stands in words on the picture: letters of kinds, sizes, doubts, numbers of cuts, each where it covers nothing
//! else, on a rim that keeps it readable.

use super::{COLUMN, Drawing, MOST_LABELS, MOST_LINES, MOST_NUMBERS};
use crate::cut::Cut;
use crate::format::Units;
use crate::format::look::labels::wrapped;
use crate::format::look::pieces::Kind;
use crate::format::look::seen::{Label, LabelKind};
use crate::format::look::told;
use crate::format::plan_svg::escaped;
use crate::geom::{Edge, Point, Vec2};
use crate::outline::{Bounds, Role};
use crate::report::Doubt;
use core::fmt::Write;

impl Drawing<'_> {
    pub(super) fn letters(&mut self, kinds: &[Kind]) {
        self.out.push_str("<g id=\"letters\">\n");
        let places = kinds
            .iter()
            .flat_map(|k| k.places.iter().map(|p| (*p, k.letter.clone())));
        for (p, letter) in places.take(MOST_NUMBERS).collect::<Vec<_>>() {
            self.crowd.block(p, Vec2::new(0.6, 0.8) * self.text);
            self.words(p + Vec2::new(0.0, -0.5 * self.text), 1.4, "middle", &letter);
        }
        self.out.push_str("</g>\n");
    }

    /// Sizes and numbers, each where there is room near its place.
    pub(super) fn labels(&mut self, words: &mut Vec<(Point, f64, &str, String)>) {
        self.out
            .push_str("<g id=\"labels\" fill=\"none\" stroke=\"black\">\n");
        for label in self.of.seen.labels.iter().take(MOST_LABELS) {
            let letters = label.text.chars().count();
            let placed = self.crowd.place(label.at, letters, 0.85);
            if placed.led {
                let way = placed.middle - label.at;
                let to = label.at + way * 0.8;
                let d = self.stroke(label.at, to);
                let _ = writeln!(self.out, "<path class=\"lead\" d=\"{d}\"/>");
            }
            self.frame_of(label, placed.middle, placed.half);
            words.push((
                placed.middle + Vec2::new(0.0, -0.3 * self.text),
                0.85,
                "middle",
                label.text.clone(),
            ));
        }
        self.out.push_str("</g>\n");
    }

    /// Numbers have a frame: a box for an edge, a circle for a corner, two for a hole.
    pub(super) fn frame_of(&mut self, label: &Label, middle: Point, half: Vec2) {
        let (x, y) = self.at(middle);
        let mut ring = |r: f64| {
            let _ = writeln!(
                self.out,
                "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r:.2}\" fill=\"white\" stroke-width=\".2mm\"/>"
            );
        };
        let r = half.x.max(half.y);
        match label.kind {
            LabelKind::Size => {}
            LabelKind::Corner => ring(r),
            LabelKind::Hole => {
                ring(1.2 * r);
                ring(r);
            }
            LabelKind::Edge => {
                let low = middle + (-half);
                let across = Vec2::new(2.0 * half.x, 0.0);
                let up = Vec2::new(0.0, 2.0 * half.y);
                let corners = [low, low + across, low + across + up, low + up];
                let d = corners.map(|p| self.frame.place(p)).join("L");
                let _ = writeln!(
                    self.out,
                    "<path d=\"M{d}Z\" fill=\"white\" stroke-width=\".2mm\"/>"
                );
            }
        }
    }

    /// Where the outline lies furthest from the hand's line: a bar between two heads, and how far.
    pub(super) fn worst(&mut self, words: &mut Vec<(Point, f64, &str, String)>) {
        let Some(worst) = self.of.seen.worst else {
            return;
        };
        let t = self.text;
        let way = (worst.traced - worst.meant)
            .unit()
            .unwrap_or(Vec2::new(0.0, 1.0));
        let head = |tip: Point, way: Vec2| {
            let back = tip + way * (1.1 * t);
            let wing = way.left() * (0.3 * t);
            let foot = tip + way * (0.6 * t);
            format!(
                "{} {} {}",
                self.stroke(back, tip),
                self.stroke(foot + wing, tip),
                self.stroke(foot + (-wing), tip)
            )
        };
        let d = format!("{} {}", head(worst.traced, way), head(worst.meant, -way));
        let _ = writeln!(
            self.out,
            "<g id=\"worst\" fill=\"none\" stroke=\"black\"><path d=\"{d}\"/></g>"
        );
        let text = format!("furthest off: {}", {
            let (far, unit) = (worst.distance(), self.of.units);
            match unit {
                Units::Mm => format!("{far:.2}"),
                Units::Inch => format!("{:.3}", far / unit.in_mm()),
            }
        });
        let at = worst.traced + way * (1.3 * t);
        let placed = self.crowd.place(at, text.chars().count(), 0.85);
        words.push((
            placed.middle + Vec2::new(0.0, -0.3 * t),
            0.85,
            "middle",
            text,
        ));
    }

    /// The number of each doubt at its place, in a heavy ring.
    pub(super) fn badges(&mut self, doubts: &[(usize, &Doubt, Point)]) {
        self.out.push_str("<g id=\"doubts\">\n");
        for (number, _, at) in doubts {
            let (x, y) = self.at(*at);
            let r = 0.8 * self.text;
            self.crowd.block(*at, Vec2::new(r, r));
            let _ = writeln!(
                self.out,
                "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r:.2}\" fill=\"white\" stroke=\"black\" stroke-width=\".7mm\"/>"
            );
            self.words(
                *at + Vec2::new(0.0, -0.35 * self.text),
                1.0,
                "middle",
                &number.to_string(),
            );
        }
        self.out.push_str("</g>\n");
    }

    /// Each doubt in full beside the drawing, a line leading to its place.
    pub(super) fn callouts(&mut self, doubts: &[(usize, &Doubt, Point)], column: f64) {
        let t = self.text;
        let mut top = self.frame.bounds.max.y - 0.5 * t;
        self.out.push_str("<g id=\"callouts\">\n");
        for (number, doubt, at) in doubts {
            let said = self.of.units.said(&told(doubt));
            let mut lines = wrapped(&format!("doubt {number}: {said}"), COLUMN);
            lines.truncate(MOST_LINES);
            let from = Point::new(column, top - 0.8 * t);
            let off = (*at - from).unit().unwrap_or(Vec2::new(-1.0, 0.0));
            let d = self.stroke(from, *at + -off * (0.8 * t));
            let _ = writeln!(
                self.out,
                "<path class=\"lead\" fill=\"none\" stroke=\"black\" d=\"{d}\"/>"
            );
            for line in lines {
                top -= 1.25 * t;
                self.words(Point::new(column + 0.5 * t, top), 0.95, "start", &line);
            }
            top -= 0.8 * t;
        }
        self.out.push_str("</g>\n");
        self.frame.bounds.min.y = self.frame.bounds.min.y.min(top);
    }

    /// Words over a white rim, which is drawn first: not every reader of SVG can paint a rim behind its
    /// figure.
    pub(super) fn words_on_rims(&mut self, id: &str, words: &[(Point, f64, &str, String)]) {
        let wide = 0.25 * self.text;
        for rim in [true, false] {
            let _ = match rim {
                true => writeln!(self.out, "<g class=\"rim\" stroke-width=\"{wide:.2}\">"),
                false => writeln!(self.out, "<g id=\"{id}\">"),
            };
            for (at, height, anchor, text) in words {
                self.words(*at, *height, anchor, text);
            }
            self.out.push_str("</g>\n");
        }
    }

    pub(super) fn place_of_number(&self, cut: &Cut) -> (Point, &'static str) {
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
        let join = cut.lead_in.last().map(Edge::to);
        let away = join.and_then(|j| (pierce - j).unit());
        let away = away.unwrap_or(Vec2::new(0.0, 1.0));
        let anchor = match away.x {
            x if x > 0.5 => "start",
            x if x < -0.5 => "end",
            _ => "middle",
        };
        (pierce + away * (0.8 * t), anchor)
    }

    pub(super) fn words(&mut self, at: Point, height: f64, anchor: &str, text: &str) {
        let (x, y) = self.at(at);
        let _ = writeln!(
            self.out,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{:.2}\" text-anchor=\"{anchor}\">{}</text>",
            height * self.text,
            escaped(text)
        );
    }
}
