//! A shape that the walk has come to, drawn where it shows; and what is to be said of all of them in the end.

use super::super::clip::{Clip, Leaves};
use super::super::shapes::Shape;
use super::super::style::Style;
use super::{Place, Walk};
use crate::Refusal;
use crate::format::drawing::{Inside, Kind, Pen, Why, short_name};
use crate::format::{Input, numbers};
use crate::report::{About, Doubt};
use roxmltree::Node;

/// Most loops that are told one by one.
const MOST_TOLD: usize = 3;

impl<'a, 'input> Walk<'a, 'input, '_> {
    pub(super) fn shape(
        &mut self,
        node: &Node<'a, 'input>,
        style: &Style<'a>,
        place: &Place<'a>,
    ) -> Result<(), Refusal> {
        let unpainted = place.paint.is_nothing(node.tag_name().name() == "line");
        let unseen = matches!(place.visibility, Some("hidden" | "collapse"));
        let hidden = place
            .hidden
            .or(unseen.then_some(Why::Invisible))
            .or(unpainted.then_some(Why::Unpainted));
        let names: Vec<&str> = self.names.iter().rev().copied().collect();
        let Some(layer) = self.out.layers.take(&names, hidden) else {
            return Ok(());
        };
        if let Some(dashes) = place.paint.broken() {
            self.out.layers.broken(short_name(dashes).to_owned());
        }
        let shape = Shape {
            node,
            style,
            viewport: &place.viewport,
        };
        let before = self.out.mark_here();
        let inside = place.paint.inside();
        let pen = Pen::new(place.to_mm, layer, &mut self.out)
            .tracing(place.traced)
            .painting(inside);
        if let Some(broken) = shape.draw(pen)? {
            let line = self.line(node);
            self.out.doubt(
                About::File,
                format!("line {line}: {broken}; what came before it is drawn"),
            );
        }
        let area = inside == Inside::Filled || inside == Inside::Lined && place.paint.is_unsaid();
        if area && place.paint.fill_rule != Some("evenodd") {
            self.wound_alike.extend(self.out.wound_alike(before));
        }
        let cuts = |c: &Clip| c.leaves(&self.out, before) != Leaves::All;
        if self.clips.iter().any(cuts) {
            self.clipped += 1;
        }
        match self.page.map(|p| p.leaves(&self.out, before)) {
            Some(Leaves::Part) => self.beyond += 1,
            Some(Leaves::Nothing) => self.outside += 1,
            _ => {}
        }
        self.tell_beside(node, place);
        Ok(())
    }

    /// What is painted along a shape or within it, and is no shape of its own. What marks both ends is an arrow; what
    /// marks every corner may be holes.
    fn tell_beside(&mut self, node: &Node<'_, '_>, place: &Place<'a>) {
        let kind_of = |said: Option<&str>| {
            let (_, id) = said?.split_once('#')?;
            let target = self.ids.get(id.trim_end_matches([')', '"', '\'']))?;
            Some(target.tag_name().name())
        };
        let marked = place.paint.markers.map(|m| kind_of(m) == Some("marker"));
        let of_fill = kind_of(place.paint.fill);
        let bears = matches!(
            node.tag_name().name(),
            "path" | "polyline" | "polygon" | "line"
        );
        match marked {
            [_, true, _] if bears => self.out.left.add(Kind::Lost, "marker at corners"),
            [true, _, _] | [_, _, true] if bears => self.out.left.add(Kind::Aside, "marker"),
            _ => {}
        }
        if of_fill == Some("pattern") {
            self.out.left.add(Kind::Aside, "pattern");
        }
    }

    pub(super) fn finish(mut self) -> Result<Input, Refusal> {
        if self.clipped > 0 {
            let n = numbers::counted(self.clipped, "shape is", "shapes are");
            let text = format!(
                "{n} clipped or masked in the picture: what is cut away there comes in all the same"
            );
            self.out.doubt(About::File, text);
        }
        if self.beyond > 0 {
            let n = numbers::counted(self.beyond, "shape reaches", "shapes reach");
            self.out.note(format!("{n} beyond the page of the picture"));
        }
        if self.outside > 0 {
            let n = numbers::counted(self.outside, "shape lies", "shapes lie");
            self.out.note(format!(
                "{n} outside the page of the picture, where not every program shows them: all come in"
            ));
        }
        let filled = "this loop runs the same way round as the one it lies in, so the picture shows no hole here: it comes in \
                      as drawn and would be cut as one";
        let more = |n| {
            format!(
                "{} more run the way round of what they lie in",
                numbers::counted(n, "loop", "loops")
            )
        };
        for doubt in Doubt::first_of(About::File, &self.wound_alike, MOST_TOLD, filled, more) {
            self.out.doubts.push(doubt);
        }
        if self.sheet.unread > 0 {
            let n = numbers::counted(self.sheet.unread, "rule", "rules");
            let text = format!(
                "{n} of its style sheets cannot be read, and may hide, show or move something"
            );
            self.out.doubt(About::File, text);
        }
        self.out.finish()
    }
}
