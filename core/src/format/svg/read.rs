//! From an SVG file to a trace: the walk over its elements.

use super::ellipse::{Elliptic, Stated};
use super::entities;
use super::path::Pen;
use super::viewport::{self, Viewport, at};
use crate::Refusal;
use crate::format::sampling::Collector;
use crate::format::{Content, Input, Units, numbers, stated, text_of};
use crate::geom::Point;
use crate::limits::{MAX_COORDINATE, MAX_NESTING};
use crate::report::Note;
use kurbo::Affine;
use roxmltree::{Document, Node, ParsingOptions};
use std::collections::BTreeMap;
use std::str::FromStr;

/// The name space of the elements.
const SVG: &str = "http://www.w3.org/2000/svg";
/// Elements, texts and comments that any file may hold, and how many bytes of it allow one more:
/// what keeps a file of nothing but tags from filling the memory.
const FEW_NODES: usize = 200_000;
const BYTES_PER_NODE: usize = 24;

/// What is known on the way down to an element.
#[derive(Clone, Copy)]
struct Place {
    to_mm: Affine,
    viewport: Viewport,
    depth: usize,
}

/// The walk.
struct Walk<'a, 'input> {
    document: &'a Document<'input>,
    out: Collector,
    left_alone: BTreeMap<String, usize>,
}

/// Reads an SVG file; `units` are those of a picture that states none.
///
/// # Errors
/// Refuses what is no SVG, is cut off, holds no geometry, or passes a limit.
pub fn read(bytes: &[u8], units: Units) -> Result<Input, Refusal> {
    let text = text_of(bytes)?;
    entities::check(text).map_err(Refusal::File)?;
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: u32::try_from(FEW_NODES + bytes.len() / BYTES_PER_NODE).unwrap_or(u32::MAX),
        ..ParsingOptions::default()
    };
    let document = Document::parse_with_options(text, options).map_err(|e| broken(&e))?;
    let element = document.root_element();
    if element.tag_name().name() != "svg" {
        let name = numbers::shown(element.tag_name().name().as_bytes());
        return Err(Refusal::File(format!(
            "the file is XML but no SVG; its outermost element is \"{name}\""
        )));
    }
    let mut walk = Walk {
        document: &document,
        out: Collector::for_file(bytes.len()),
        left_alone: BTreeMap::new(),
    };
    let root = viewport::root(&stated(&element), units)
        .map_err(|problem| at(walk.line(&element), problem))?;
    let place = Place {
        to_mm: root.to_mm * walk.transform(&element)?,
        viewport: root.viewport,
        depth: 0,
    };
    walk.children(&element, &place)?;
    let mut notes = Vec::new();
    if root.unstated {
        let unit = units.name();
        notes.push(format!(
            "the file states no unit of length; its lengths are taken as {unit}"
        ));
    }
    let inches = |side: Option<&str>| side.is_some_and(|s| s.trim().ends_with("in"));
    let stated = match inches(element.attribute("width")) {
        true => Units::Inch,
        false => Units::Mm,
    };
    Ok(Input {
        units: (!root.unstated).then_some(stated),
        ..walk.finish(notes)?
    })
}

fn broken(e: &roxmltree::Error) -> Refusal {
    if matches!(e, roxmltree::Error::NodesLimitReached) {
        return Refusal::File(format!(
            "the file holds more elements than {FEW_NODES} and one for every {BYTES_PER_NODE} bytes"
        ));
    }
    let text = e.to_string();
    // The parser ends its sentences with the place, which goes to the front here.
    let problem = text.split(" at ").next().unwrap_or(&text);
    let line = usize::try_from(e.pos().row).unwrap_or(1);
    at(line, format!("the XML is broken or cut off: {problem}"))
}

fn stated<'a>(node: &Node<'a, '_>) -> viewport::Stated<'a> {
    viewport::Stated {
        width: node.attribute("width"),
        height: node.attribute("height"),
        view_box: node.attribute("viewBox"),
        aspect: node.attribute("preserveAspectRatio"),
    }
}

/// `display: none`, as an attribute or in the style.
fn hidden(node: &Node<'_, '_>) -> bool {
    let style = node.attribute("style").unwrap_or_default();
    let says_none = |rule: &str| {
        rule.split_once(':').is_some_and(|(key, value)| {
            key.trim() == "display" && value.trim().trim_end_matches("!important").trim() == "none"
        })
    };
    node.attribute("display").map(str::trim) == Some("none") || style.split(';').any(says_none)
}

impl Walk<'_, '_> {
    fn line(&self, node: &Node<'_, '_>) -> usize {
        let position = self.document.text_pos_at(node.range().start);
        usize::try_from(position.row).unwrap_or(1)
    }

    fn children(&mut self, node: &Node<'_, '_>, place: &Place) -> Result<(), Refusal> {
        for child in node.children().filter(Node::is_element) {
            self.element(&child, place)?;
        }
        Ok(())
    }

    fn element(&mut self, node: &Node<'_, '_>, around: &Place) -> Result<(), Refusal> {
        let tag = node.tag_name();
        if tag.namespace().is_some_and(|n| n != SVG) || hidden(node) {
            return Ok(());
        }
        if around.depth >= MAX_NESTING {
            return Err(Refusal::Limit {
                what: "the nesting of elements",
                value: format!("over {MAX_NESTING} at line {}", self.line(node)),
                limit: MAX_NESTING.to_string(),
            });
        }
        let mut place = Place {
            depth: around.depth + 1,
            ..*around
        };
        match tag.name() {
            "g" | "a" | "switch" => {
                place.to_mm *= self.transform(node)?;
                self.children(node, &place)
            }
            "svg" => {
                place = self.nested(node, &place)?;
                self.children(node, &place)
            }
            "path" | "polyline" | "polygon" | "line" | "rect" | "circle" | "ellipse" => {
                place.to_mm *= self.transform(node)?;
                // Finding a line costs a walk through the text, so it is done only here.
                self.shape(node, &place).map_err(|e| match e {
                    Refusal::File(problem) => at(self.line(node), problem),
                    other => other,
                })
            }
            "use" | "text" | "image" | "foreignObject" => {
                *self.left_alone.entry(tag.name().to_owned()).or_default() += 1;
                Ok(())
            }
            // Not drawn: defs, symbol, clipPath, mask, pattern, marker, title, style, …
            _ => Ok(()),
        }
    }

    fn refuse<T>(&self, node: &Node<'_, '_>, problem: String) -> Result<T, Refusal> {
        Err(at(self.line(node), problem))
    }

    fn transform(&self, node: &Node<'_, '_>) -> Result<Affine, Refusal> {
        let Some(text) = node.attribute("transform") else {
            return Ok(Affine::IDENTITY);
        };
        match svgtypes::Transform::from_str(text) {
            Ok(t) => Ok(Affine::new([t.a, t.b, t.c, t.d, t.e, t.f])),
            Err(e) => self.refuse(node, format!("the transform is broken: {e}")),
        }
    }

    fn nested(&self, node: &Node<'_, '_>, place: &Place) -> Result<Place, Refusal> {
        let around = &place.viewport;
        let x = self.length(node, place, "x", around.width)?.unwrap_or(0.0);
        let y = self.length(node, place, "y", around.height)?.unwrap_or(0.0);
        let width = self.length(node, place, "width", around.width)?;
        let height = self.length(node, place, "height", around.height)?;
        let size = (
            width.unwrap_or(around.width),
            height.unwrap_or(around.height),
        );
        let (viewport, map) = viewport::nested(&stated(node), (x, y), size, around)
            .map_err(|problem| at(self.line(node), problem))?;
        Ok(Place {
            viewport,
            to_mm: place.to_mm * map,
            ..*place
        })
    }

    /// An attribute that is a length, in user units; a percentage is of `whole`.
    fn length(
        &self,
        node: &Node<'_, '_>,
        place: &Place,
        name: &str,
        whole: f64,
    ) -> Result<Option<f64>, Refusal> {
        let Some(text) = node.attribute(name) else {
            return Ok(None);
        };
        if text.trim() == "auto" {
            return Ok(None);
        }
        let length = viewport::length(text).and_then(|l| place.viewport.user(l, whole));
        match length {
            Ok(v) => Ok(Some(v)),
            Err(problem) => self.refuse(node, format!("{name}: {problem}")),
        }
    }

    fn shape(&mut self, node: &Node<'_, '_>, place: &Place) -> Result<(), Refusal> {
        match node.tag_name().name() {
            "path" => {
                let data = node.attribute("d").unwrap_or_default();
                if data.trim().is_empty() || data.trim() == "none" {
                    return Ok(());
                }
                let stated = node.attribute(stated::ATTRIBUTE);
                Pen::new(&place.to_mm, &mut self.out)
                    .stating(stated.and_then(stated::pieces))
                    .draw(data)
            }
            "polyline" => self.points(node, place, false),
            "polygon" => self.points(node, place, true),
            "line" => self.straight(node, place),
            "rect" => self.rectangle(node, place),
            _ => self.round(node, place),
        }
    }

    fn points(&mut self, node: &Node<'_, '_>, place: &Place, closed: bool) -> Result<(), Refusal> {
        let text = node.attribute("points").unwrap_or_default();
        let mut pen = Pen::new(&place.to_mm, &mut self.out);
        let mut x = None;
        let mut count = 0;
        for number in svgtypes::NumberListParser::from(text) {
            let number =
                number.map_err(|e| Refusal::File(format!("the points are broken: {e}")))?;
            let Some(x) = x.take() else {
                x = Some(number);
                continue;
            };
            count += 1;
            if count == 1 {
                pen.move_to(Point::new(x, number))?;
            } else {
                pen.line_to(Point::new(x, number))?;
            }
        }
        if x.is_some() {
            return Err(Refusal::File(
                "the points end with an x without its y".into(),
            ));
        }
        if closed && count > 1 {
            pen.close()?;
        }
        pen.lift()
    }

    fn straight(&mut self, node: &Node<'_, '_>, place: &Place) -> Result<(), Refusal> {
        let Viewport { width, height, .. } = place.viewport;
        let get = |name, whole| Ok(self.length(node, place, name, whole)?.unwrap_or(0.0));
        let from: Result<_, Refusal> = Ok((get("x1", width)?, get("y1", height)?));
        let to: Result<_, Refusal> = Ok((get("x2", width)?, get("y2", height)?));
        let (from, to) = (from?, to?);
        let mut pen = Pen::new(&place.to_mm, &mut self.out);
        pen.move_to(Point::new(from.0, from.1))?;
        pen.line_to(Point::new(to.0, to.1))?;
        pen.lift()
    }

    fn rectangle(&mut self, node: &Node<'_, '_>, place: &Place) -> Result<(), Refusal> {
        let Viewport { width, height, .. } = place.viewport;
        let x = self.length(node, place, "x", width)?.unwrap_or(0.0);
        let y = self.length(node, place, "y", height)?.unwrap_or(0.0);
        let w = self.length(node, place, "width", width)?.unwrap_or(0.0);
        let h = self.length(node, place, "height", height)?.unwrap_or(0.0);
        let rx = self.length(node, place, "rx", width)?;
        let ry = self.length(node, place, "ry", height)?;
        // A rectangle without width or height is not drawn.
        if !(w > 0.0 && h > 0.0) {
            return Ok(());
        }
        let rx_said = rx.or(ry).unwrap_or(0.0).max(0.0);
        let ry_said = ry.or(rx).unwrap_or(0.0).max(0.0);
        let radii = (rx_said.min(0.5 * w), ry_said.min(0.5 * h));
        rounded(
            &mut Pen::new(&place.to_mm, &mut self.out),
            (x, y, w, h),
            radii,
        )
    }

    fn round(&mut self, node: &Node<'_, '_>, place: &Place) -> Result<(), Refusal> {
        let viewport = &place.viewport;
        let diagonal = viewport.diagonal();
        let cx = self
            .length(node, place, "cx", viewport.width)?
            .unwrap_or(0.0);
        let cy = self
            .length(node, place, "cy", viewport.height)?
            .unwrap_or(0.0);
        let r = self.length(node, place, "r", diagonal)?;
        let (rx, ry) = if node.tag_name().name() == "circle" {
            (r, r)
        } else {
            let rx = self.length(node, place, "rx", viewport.width)?;
            let ry = self.length(node, place, "ry", viewport.height)?;
            (rx.or(ry), ry.or(rx))
        };
        let (rx, ry) = (rx.unwrap_or(0.0), ry.unwrap_or(0.0));
        // Without a radius it is not drawn.
        if !(rx > 0.0 && ry > 0.0) {
            return Ok(());
        }
        if rx.max(ry) > MAX_COORDINATE {
            return self.refuse(node, format!("a radius of {} is too large", rx.max(ry)));
        }
        let whole = Elliptic::whole(Point::new(cx, cy), rx, ry);
        let start = Point::new(cx + rx, cy);
        let mut pen = Pen::new(&place.to_mm, &mut self.out);
        pen.move_to(start)?;
        pen.elliptic(&whole, start)?;
        pen.close()
    }

    fn finish(self, mut notes: Vec<String>) -> Result<Input, Refusal> {
        let left: Vec<String> = self
            .left_alone
            .iter()
            .map(|(name, n)| format!("{n} {name}"))
            .collect();
        let (trace, more) = self.out.finish().map_err(|e| match e {
            Refusal::File(problem) if !left.is_empty() => Refusal::File(format!(
                "{problem} that can be read, only {}",
                left.join(", ")
            )),
            other => other,
        })?;
        notes.extend(more);
        if !left.is_empty() {
            notes.push(format!(
                "left alone, since no outline is read from it: {}",
                left.join(", ")
            ));
        }
        Ok(Input {
            notes: notes.into_iter().map(Note::new).collect(),
            ..Input::of(Content::Trace(trace))
        })
    }
}

/// A rectangle with corners rounded by quarter ellipses, in the direction the standard gives.
fn rounded(
    pen: &mut Pen<'_>,
    (x, y, w, h): (f64, f64, f64, f64),
    (rx, ry): (f64, f64),
) -> Result<(), Refusal> {
    let p = Point::new;
    let ends = [
        (p(x + rx, y), p(x + w - rx, y), p(x + w, y + ry)),
        (p(x + w, y + ry), p(x + w, y + h - ry), p(x + w - rx, y + h)),
        (p(x + w - rx, y + h), p(x + rx, y + h), p(x, y + h - ry)),
        (p(x, y + h - ry), p(x, y + ry), p(x + rx, y)),
    ];
    pen.move_to(p(x + rx, y))?;
    for (from, straight, turned) in ends {
        if from != straight {
            pen.line_to(straight)?;
        }
        if rx > 0.0 && ry > 0.0 {
            pen.arc(&Stated {
                from: straight,
                to: turned,
                radii: (rx, ry),
                rotation: 0.0,
                large: false,
                positive: true,
            })?;
        }
    }
    pen.close()
}
