//! From a DXF file to a trace: sections, header, entities.

use super::entities::{Entity, Facing, Vertex, draw_polyline};
use super::header::Header;
use super::pairs::{Pair, Pairs, cut_off};
use crate::Refusal;
use crate::format::sampling::Collector;
use crate::format::{Content, Input, Units, numbers};
use crate::report::Note;
use std::collections::BTreeMap;

/// How the binary form of the format begins.
const BINARY: &[u8] = b"AutoCAD Binary DXF";

/// Polyline flags of the published reference: a surface, not a line.
const SURFACE: i64 = 16 | 64;
/// Vertex flag: the frame of a spline, not a point of it.
const FRAME: i64 = 16;
/// Most kinds of entity that are named as left alone.
const MOST_KINDS: usize = 12;

/// Where in the file the reader is.
#[derive(Clone, Copy, PartialEq)]
enum Section {
    None,
    Header,
    Entities,
    Other,
}

/// A POLYLINE whose VERTEX entities are still coming.
struct Polyline {
    line: usize,
    vertices: Vec<Vertex>,
    closed: bool,
    facing: Facing,
    drawn: bool,
    stated: bool,
}

/// The reader's state.
struct Reader {
    scale: f64,
    out: Collector,
    polyline: Option<Polyline>,
    left_alone: BTreeMap<String, usize>,
}

/// Reads a DXF file; `units` are those of a drawing that states none.
///
/// # Errors
/// Refuses what is no DXF, is cut off, holds no geometry, or passes a limit.
pub fn read(bytes: &[u8], units: Units) -> Result<Input, Refusal> {
    if bytes.starts_with(BINARY) {
        return Err(Refusal::File(
            "this is the binary form of DXF; save it as ASCII DXF".into(),
        ));
    }
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let mut reader = Reader {
        scale: units.in_mm(),
        out: Collector::for_file(bytes.len()),
        polyline: None,
        left_alone: BTreeMap::new(),
    };
    let (note, units) = reader.sections(&mut Pairs::of(bytes), units)?;
    Ok(Input {
        units,
        ..reader.finish(note)?
    })
}

impl Reader {
    /// Reads to the EOF; a sentence where the units had to be guessed, and the unit that is stated.
    fn sections(
        &mut self,
        pairs: &mut Pairs<'_>,
        units: Units,
    ) -> Result<(Option<String>, Option<Units>), Refusal> {
        let mut header = Header::default();
        let mut section = Section::None;
        let mut note = header.scale(units).ok().and_then(|(_, note)| note);
        // The entity whose groups are being collected, and the line it starts at.
        let mut kind: Option<(&[u8], usize)> = None;
        let mut groups: Vec<Pair<'_>> = Vec::new();
        while let Some(pair) = pairs.next()? {
            if pair.code == 0 {
                if let Some((kind, line)) = kind.take() {
                    self.entity(kind, line, &groups)?;
                }
                groups.clear();
                match (pair.value, section) {
                    (b"EOF", Section::None) => return Ok((note, header.stated())),
                    (b"EOF", _) => return Err(cut_off(pair.line)),
                    (b"SECTION", Section::None) => section = section_after(pairs)?,
                    (b"ENDSEC", Section::Header) => {
                        let (scale, said) =
                            header.scale(units).map_err(|problem| Refusal::Line {
                                line: pair.line,
                                problem,
                            })?;
                        (self.scale, note, section) = (scale, said, Section::None);
                    }
                    (b"ENDSEC", _) => section = Section::None,
                    (value, Section::Entities) => kind = Some((value, pair.line)),
                    (_, Section::None) => {
                        return Err(Refusal::Line {
                            line: pair.line,
                            problem: format!(
                                "\"{}\" where a SECTION belongs: this is no DXF file",
                                numbers::shown(pair.value)
                            ),
                        });
                    }
                    _ => {}
                }
            } else if section == Section::Header {
                header.take(&pair);
            } else if kind.is_some() {
                groups.push(pair);
            }
        }
        Err(cut_off(pairs.line()))
    }

    fn entity(&mut self, kind: &[u8], line: usize, pairs: &[Pair<'_>]) -> Result<(), Refusal> {
        let entity = Entity {
            kind,
            line,
            pairs,
            scale: self.scale,
        };
        match (kind, &mut self.polyline) {
            (b"VERTEX", Some(open)) => {
                if open.drawn && entity.flags() & FRAME == 0 {
                    open.vertices.push(entity.vertex()?);
                }
                return Ok(());
            }
            (b"SEQEND", Some(_)) => {
                return match self.polyline.take() {
                    Some(p) if p.drawn => {
                        draw_polyline(&p.vertices, p.closed, p.facing, p.stated, &mut self.out)
                    }
                    _ => Ok(()),
                };
            }
            (_, Some(open)) => {
                return Err(Refusal::Line {
                    line: open.line,
                    problem: "the POLYLINE that starts here has no SEQEND".into(),
                });
            }
            _ => {}
        }
        let facing = entity.facing()?;
        let known = matches!(
            kind,
            b"LINE" | b"ARC" | b"CIRCLE" | b"POINT" | b"LWPOLYLINE" | b"POLYLINE"
        );
        let drawn = known && facing != Facing::Askew && !entity.is_on_sheet();
        if kind == b"POLYLINE" {
            let flags = entity.flags();
            let drawn = drawn && flags & SURFACE == 0;
            self.polyline = Some(Polyline {
                line,
                vertices: Vec::new(),
                closed: flags & 1 == 1,
                facing,
                drawn,
                stated: entity.is_stated(),
            });
            if !drawn {
                self.leave(kind);
            }
            return Ok(());
        }
        if !drawn {
            self.leave(kind);
            return Ok(());
        }
        match kind {
            b"LINE" => entity.draw_line(&mut self.out),
            b"POINT" => entity.draw_point(&mut self.out),
            b"CIRCLE" => entity.draw_circle(facing, &mut self.out),
            b"ARC" => entity.draw_arc(facing, &mut self.out),
            _ => {
                let vertices = entity.light_vertices()?;
                let closed = entity.flags() & 1 == 1;
                draw_polyline(&vertices, closed, facing, entity.is_stated(), &mut self.out)
            }
        }
    }

    fn leave(&mut self, kind: &[u8]) {
        // Ends of what is not drawn anyway.
        if matches!(kind, b"SEQEND" | b"ATTRIB" | b"VERTEX" | b"VIEWPORT") {
            return;
        }
        let name = numbers::shown(kind);
        if self.left_alone.len() < MOST_KINDS || self.left_alone.contains_key(&name) {
            *self.left_alone.entry(name).or_default() += 1;
        }
    }

    fn finish(self, note: Option<String>) -> Result<Input, Refusal> {
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
        let mut notes: Vec<String> = note.into_iter().chain(more).collect();
        if !left.is_empty() {
            let left = left.join(", ");
            notes.push(format!(
                "left alone, since no outline is read from it: {left}"
            ));
        }
        Ok(Input {
            notes: notes.into_iter().map(Note::new).collect(),
            ..Input::of(Content::Trace(trace))
        })
    }
}

/// The section whose name follows.
fn section_after(pairs: &mut Pairs<'_>) -> Result<Section, Refusal> {
    let Some(pair) = pairs.next()? else {
        return Err(cut_off(pairs.line()));
    };
    Ok(match pair.value {
        _ if pair.code != 2 => {
            return Err(Refusal::Line {
                line: pair.line,
                problem: "a SECTION without a name".into(),
            });
        }
        b"HEADER" => Section::Header,
        b"ENTITIES" => Section::Entities,
        _ => Section::Other,
    })
}
