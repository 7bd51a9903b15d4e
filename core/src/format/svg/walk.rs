//! From an SVG file to a trace: the walk over its elements.

mod drawn;

use super::clip::Clip;
use super::entities;
use super::paint::{Paint, is_zero};
use super::shapes::{SHAPES, Shape};
use super::style::{Sheet, Style, without_comments};
use super::transform;
use super::viewport::{self, Viewport, at};
use crate::Refusal;
use crate::format::drawing::{Collector, Kind, Why, short_name, stated};
use crate::format::{Input, Units, Wanted, numbers, text};
use crate::geom::Point;
use crate::limits::{self, MAX_NESTING};
use crate::report::About;
use kurbo::Affine;
use roxmltree::{Document, Node, ParsingOptions};
use std::collections::BTreeMap;

/// The name space of the elements.
const SVG: &str = "http://www.w3.org/2000/svg";
/// Elements, texts and comments that any file may hold, and how many bytes of it allow one more:
/// what keeps a file of nothing but tags from filling the memory.
const FEW_NODES: usize = 200_000;
const BYTES_PER_NODE: usize = 24;
/// Most elements, counted wherever they are used: uses of uses are more than any memory holds.
const MOST_ELEMENTS: usize = limits::MAX_EDGES;

/// What is known on the way down to an element.
#[derive(Clone, Copy)]
struct Place<'a> {
    to_mm: Affine,
    viewport: Viewport,
    depth: usize,
    hidden: Option<Why>,
    visibility: Option<&'a str>,
    paint: Paint<'a>,
    traced: bool,
}

/// The walk.
struct Walk<'a, 'input, 's> {
    document: &'a Document<'input>,
    sheet: &'s Sheet<'a>,
    ids: BTreeMap<&'a str, Node<'a, 'input>>,
    out: Collector,
    /// Names of the groups around, outermost first, and what is being used.
    names: Vec<&'a str>,
    used: Vec<&'a str>,
    elements: usize,
    /// What clips the place, the page, and how many shapes they touched.
    clips: Vec<Clip>,
    page: Option<Clip>,
    clipped: usize,
    beyond: usize,
    outside: usize,
    /// Loops that the picture shows filled, within others.
    wound_alike: Vec<Point>,
}

/// Reads an SVG file.
///
/// # Errors
/// Refuses what is no SVG, is cut off, holds no geometry, or passes a limit.
pub fn read(bytes: &[u8], wanted: &Wanted) -> Result<Input, Refusal> {
    let bytes = text::decoded(bytes);
    let text = text::of_any(&bytes);
    entities::check(&text).map_err(Refusal::File)?;
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: u32::try_from(FEW_NODES + bytes.len() / BYTES_PER_NODE).unwrap_or(u32::MAX),
        ..ParsingOptions::default()
    };
    let document = Document::parse_with_options(&text, options).map_err(|e| broken(&e))?;
    let element = document.root_element();
    if element.tag_name().name() != "svg" {
        let name = numbers::shown(element.tag_name().name().as_bytes());
        return Err(Refusal::File(format!(
            "the file is XML but no SVG; its outermost element is \"{name}\""
        )));
    }
    let styles = document
        .descendants()
        .filter(|n| n.has_tag_name((SVG, "style")) || n.has_tag_name("style"))
        .filter(|n| n.attribute("media") != Some("print"));
    let sheets: Vec<String> = styles
        .map(|n| without_comments(&n.children().filter_map(|t| t.text()).collect::<String>()))
        .collect();
    let mut sheet = Sheet::of(&sheets);
    // Sheets in other files.
    let elsewhere = |n: &Node<'_, '_>| n.pi().is_some_and(|pi| pi.target == "xml-stylesheet");
    sheet.unread += document.root().children().filter(elsewhere).count();
    let with_ids = document
        .descendants()
        .filter_map(|n| Some((n.attribute("id")?, n)));
    let mut walk = Walk {
        document: &document,
        sheet: &sheet,
        // Of several of one name the first counts.
        ids: with_ids.collect::<Vec<_>>().into_iter().rev().collect(),
        out: Collector::for_file(bytes.len(), wanted),
        names: Vec::new(),
        used: Vec::new(),
        elements: 0,
        clips: Vec::new(),
        page: None,
        clipped: 0,
        beyond: 0,
        outside: 0,
        wound_alike: Vec::new(),
    };
    let units = walk.root(&element, wanted)?;
    Ok(Input {
        units,
        ..walk.finish()?
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

fn stated<'a>(node: &Node<'a, '_>, style: &Style<'a>) -> viewport::Stated<'a> {
    viewport::Stated {
        width: style.get("width"),
        height: style.get("height"),
        view_box: node.attribute("viewBox"),
        aspect: node.attribute("preserveAspectRatio"),
    }
}

/// It is meant for everyone, or for readers of English.
fn is_for_all(node: &Node<'_, '_>) -> bool {
    node.attribute("requiredExtensions")
        .is_none_or(str::is_empty)
        && node
            .attribute("systemLanguage")
            .is_none_or(|l| l.split(',').any(|l| l.trim().starts_with("en")))
}

/// What lies beyond the picture's own place shows as well.
fn is_open(style: &Style<'_>) -> bool {
    matches!(style.get("overflow"), Some("visible" | "auto"))
}

impl<'a, 'input> Walk<'a, 'input, '_> {
    fn line(&self, node: &Node<'_, '_>) -> usize {
        let position = self.document.text_pos_at(node.range().start);
        usize::try_from(position.row).unwrap_or(1)
    }

    fn refuse<T>(&self, node: &Node<'_, '_>, problem: String) -> Result<T, Refusal> {
        Err(at(self.line(node), problem))
    }

    /// The line goes before what was said without one. Finding it costs a walk through the text.
    fn with_line(&self, node: &Node<'_, '_>, e: Refusal) -> Refusal {
        match e {
            Refusal::File(problem) => at(self.line(node), problem),
            other => other,
        }
    }

    /// Draws all of it; the unit that the file states.
    fn root(&mut self, node: &Node<'a, 'input>, wanted: &Wanted) -> Result<Option<Units>, Refusal> {
        let style = self.sheet.of_element(node);
        let root = viewport::root(&stated(node, &style), wanted.units)
            .or_else(|problem| self.refuse(node, problem))?;
        if root.unstated {
            let unit = wanted.units.name();
            let text =
                format!("the file states no unit of length; its lengths are taken as {unit}");
            if wanted.units_said {
                self.out.note(text);
            } else {
                self.out
                    .doubt(About::Units, format!("{text}; --units says which"));
            }
        } else if root.pixels {
            match viewport::other_pixels(self.document.input_text()) {
                None => self
                    .out
                    .note("the file states its size in pixels: taken as 96 to the inch"),
                Some(n) => self.out.doubt(
                    About::Units,
                    format!(
                        "the file states its size in pixels, taken as 96 to the inch; the program that wrote it counts {n}: hold one size against the plate"
                    ),
                ),
            }
        }
        let place = Place {
            to_mm: root.to_mm,
            viewport: root.viewport,
            depth: 0,
            hidden: None,
            visibility: None,
            paint: Paint::default(),
            traced: false,
        };
        let mut inside = self.styled(node, &style, &place)?;
        // A transform of the outermost element turns the picture within its box.
        inside.to_mm = place.to_mm * self.transform(node, &style, &place)?;
        let page = root.page.filter(|_| !is_open(&style));
        self.page = page.and_then(|p| Clip::page(root.to_mm, p));
        self.children(node, &inside)?;
        let inches = style.get("width").is_some_and(|w| w.ends_with("in"));
        let stated = if inches { Units::Inch } else { Units::Mm };
        Ok((!root.unstated).then_some(stated))
    }

    fn children(&mut self, node: &Node<'a, 'input>, place: &Place<'a>) -> Result<(), Refusal> {
        for child in node.children().filter(Node::is_element) {
            self.element(&child, place)?;
        }
        Ok(())
    }

    fn element(&mut self, node: &Node<'a, 'input>, around: &Place<'a>) -> Result<(), Refusal> {
        let tag = node.tag_name();
        if tag.namespace().is_some_and(|n| n != SVG) {
            return Ok(());
        }
        self.elements += 1;
        if self.elements > MOST_ELEMENTS || self.sheet.is_exhausted() {
            return Err(Refusal::File(format!(
                "with all that it uses and styles the file draws more than {MOST_ELEMENTS} elements"
            )));
        }
        if around.depth >= MAX_NESTING {
            return Err(Refusal::Limit {
                what: "the nesting of elements",
                value: format!("over {MAX_NESTING} at line {}", self.line(node)),
                limit: MAX_NESTING.to_string(),
            });
        }
        let name = tag.name();
        let shows = SHAPES.contains(&name)
            || matches!(
                name,
                "g" | "a" | "switch" | "svg" | "use" | "text" | "image" | "foreignObject"
            );
        // Not drawn: defs, symbol, clipPath, mask, pattern, marker, title, style, …
        if !shows {
            return Ok(());
        }
        let style = self.sheet.of_element(node);
        let clips = self.clips.len();
        let mut place = self.styled(node, &style, around)?;
        let named = self.names.len();
        self.names.extend(node.attribute("id").map(short_name));
        let labels = node.attributes().filter(|a| a.name() == "label");
        self.names.extend(labels.map(|a| short_name(a.value())));
        match name {
            "svg" => self.nested(None, node, &style, &place)?,
            "g" | "a" | "switch" | "use" => {
                place.to_mm *= self.transform(node, &style, &place)?;
                match name {
                    "switch" => self.switched(node, &place)?,
                    "use" => self.used(node, &style, &place)?,
                    _ => self.children(node, &place)?,
                }
            }
            "text" | "image" | "foreignObject" => {
                if place.hidden.is_none() {
                    self.out.left.add(Kind::Aside, name);
                }
            }
            _ => {
                place.to_mm *= self.transform(node, &style, &place)?;
                self.shape(node, &style, &place)
                    .map_err(|e| self.with_line(node, e))?;
            }
        }
        self.names.truncate(named);
        self.clips.truncate(clips);
        Ok(())
    }

    /// What an element's style changes for all that is in it.
    fn styled(
        &mut self,
        node: &Node<'a, 'input>,
        style: &Style<'a>,
        around: &Place<'a>,
    ) -> Result<Place<'a>, Refusal> {
        let visibility = style.get("visibility").filter(|v| *v != "inherit");
        let gone = style.get("display") == Some("none")
            || is_zero(style.get("opacity"))
            || !is_for_all(node);
        let place = Place {
            depth: around.depth + 1,
            hidden: around.hidden.or(gone.then_some(Why::Invisible)),
            visibility: visibility.or(around.visibility),
            paint: around.paint.under(style),
            traced: around.traced || node.attribute(stated::TRACE).is_some(),
            viewport: around.viewport.lettered(style.get("font-size")),
            ..*around
        };
        let cut = |name: &str| {
            style
                .get(name)
                .filter(|v| !matches!(*v, "none" | "inherit" | ""))
        };
        if cut("mask").is_some() {
            self.clips.push(Clip::Unknown);
        }
        if let Some(clip) = cut("clip-path") {
            // A clip lies in the lengths of what it clips.
            let map = around.to_mm * self.transform(node, style, around)?;
            let target = clip
                .split_once('#')
                .and_then(|(_, id)| self.ids.get(id.trim_end_matches([')', '"', '\''])));
            match target {
                Some(target) => {
                    let clip = Clip::of(target, self.sheet, map, &around.viewport);
                    self.clips.push(clip);
                }
                // A shape that the style itself describes; what refers to nothing clips nothing.
                None if !clip.starts_with("url") => self.clips.push(Clip::Unknown),
                None => {}
            }
        }
        Ok(place)
    }

    fn transform(
        &self,
        node: &Node<'_, '_>,
        style: &Style<'_>,
        place: &Place<'_>,
    ) -> Result<Affine, Refusal> {
        // Moves, turns and sizes may be said alone as well; they come first (CSS Transforms 2, 7).
        let alone = ["translate", "rotate", "scale"].map(|name| {
            let value = style.get(name).filter(|v| *v != "none")?;
            Some(format!("{name}({value}) "))
        });
        let transform = style.get("transform").map(str::to_owned);
        let text: String = alone.into_iter().flatten().chain(transform).collect();
        if text.is_empty() {
            return Ok(Affine::IDENTITY);
        }
        if style.get("transform-box").is_some_and(|b| b != "view-box")
            && style.get("transform-origin").is_some()
        {
            return self.refuse(
                node,
                "the transform is about the shape's own box, which is not known here".into(),
            );
        }
        transform::of(&text, style.get("transform-origin"), &place.viewport)
            .or_else(|problem| self.refuse(node, problem))
    }

    /// The first child that is meant for everyone, or for readers of English.
    fn switched(&mut self, node: &Node<'a, 'input>, place: &Place<'a>) -> Result<(), Refusal> {
        let fits = |n: &Node<'_, '_>| {
            n.is_element() && n.tag_name().namespace().is_none_or(|n| n == SVG) && is_for_all(n)
        };
        match node.children().find(fits) {
            Some(child) => self.element(&child, place),
            None => Ok(()),
        }
    }

    /// Draws what a `use` refers to, moved to its place.
    fn used(
        &mut self,
        node: &Node<'a, 'input>,
        style: &Style<'a>,
        place: &Place<'a>,
    ) -> Result<(), Refusal> {
        let href = node
            .attributes()
            .find(|a| a.name() == "href")
            .map(|a| a.value());
        let found = href
            .and_then(|h| h.trim().strip_prefix('#'))
            .and_then(|id| self.ids.get_key_value(id));
        let Some((id, target)) = found.map(|(id, target)| (*id, *target)) else {
            if place.hidden.is_none() {
                self.out
                    .left
                    .add(Kind::Lost, "use of what is not in the file");
            }
            return Ok(());
        };
        if self.used.contains(&id) {
            self.out.left.add(Kind::Lost, "use of what it is part of");
            return Ok(());
        }
        let own = Shape {
            node,
            style,
            viewport: &place.viewport,
        };
        let side = |name, whole| own.length(name, whole).map_err(|e| self.with_line(node, e));
        let x = side("x", place.viewport.width)?.unwrap_or(0.0);
        let y = side("y", place.viewport.height)?.unwrap_or(0.0);
        let mut inside = *place;
        inside.to_mm *= Affine::translate((x, y));
        self.used.push(id);
        let done = if matches!(target.tag_name().name(), "symbol" | "svg") {
            let target_style = self.sheet.of_element(&target);
            let named = self.names.len();
            self.names.extend(target.attribute("id").map(short_name));
            let place = self.styled(&target, &target_style, &inside)?;
            let done = self.nested(Some(&own), &target, &target_style, &place);
            self.names.truncate(named);
            done
        } else {
            self.element(&target, &inside)
        };
        self.used.pop();
        done
    }

    /// Draws a picture within the picture, as large as its use says, or else it itself.
    fn nested(
        &mut self,
        user: Option<&Shape<'_, 'a, 'input>>,
        node: &Node<'a, 'input>,
        style: &Style<'a>,
        place: &Place<'a>,
    ) -> Result<(), Refusal> {
        let around = &place.viewport;
        let own = Shape {
            node,
            style,
            viewport: around,
        };
        let side = |of: &Shape<'_, 'a, 'input>, name, whole| {
            of.length(name, whole)
                .map_err(|e| self.with_line(of.node, e))
        };
        let of_use = |name, whole| user.map_or(Ok(None), |u| side(u, name, whole));
        let size = |name, whole| Ok(of_use(name, whole)?.or(side(&own, name, whole)?));
        let at = (
            side(&own, "x", around.width)?,
            side(&own, "y", around.height)?,
        );
        let at = (at.0.unwrap_or(0.0), at.1.unwrap_or(0.0));
        let (width, height) = (size("width", around.width)?, size("height", around.height)?);
        let size = (
            width.unwrap_or(around.width),
            height.unwrap_or(around.height),
        );
        let (viewport, map, shows) = viewport::nested(&stated(node, style), at, size, around)
            .or_else(|problem| self.refuse(node, problem))?;
        let to_mm = place.to_mm * self.transform(node, style, place)? * map;
        if !is_open(style) {
            self.clips.extend(Clip::page(to_mm, shows));
        }
        let inside = Place {
            viewport,
            to_mm,
            ..*place
        };
        self.children(node, &inside)
    }
}
