//! A DXF file: its sections, the units and layers it states, and where its blocks are.
//!
//! The file is gone through once without drawing anything, to learn where blocks and entities begin; then the
//! entities are drawn, and a block wherever it is inserted, straight from the text. So nothing of the file is
//! kept twice, and its sections may come in any order.

use super::binary;
use super::draw::{Draw, Place};
use super::header::Header;
use super::pairs::{Pair, Pairs, cut_off};
use crate::Refusal;
use crate::format::drawing::{Collector, Why, short_name};
use crate::format::{Input, Wanted, numbers, text};
use crate::geom::{Point, Vec2};
use crate::report::About;
use kurbo::Affine;
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

/// A block's base point, and the groups after its own.
pub(super) struct Block<'a> {
    pub(super) base: Point,
    /// What it shows is in another file.
    pub(super) elsewhere: bool,
    pub(super) groups: Pairs<'a>,
}

/// What is learnt before anything is drawn. Names are folded to upper case, as the format does.
#[derive(Default)]
pub(super) struct File<'a> {
    header: Header,
    /// Layers that are not shown, and all that are named: whether they are plotted.
    pub(super) hidden: BTreeMap<String, Why>,
    layers: Vec<(String, bool)>,
    /// Layers whose lines are broken (dashed and the like), and the name of their line type.
    broken: BTreeMap<String, String>,
    /// Line types that the file itself describes without a gap, by whatever name ("Durchgehend" is German).
    whole_lines: BTreeSet<String>,
    pub(super) blocks: BTreeMap<String, Block<'a>>,
    entities: Vec<Pairs<'a>>,
    /// Handles of polylines that are the frames of texts.
    pub(super) frames: BTreeSet<&'a [u8]>,
    /// The file ends between two sections, without an EOF.
    unfinished: bool,
}

/// A name of a layer or block as it is looked up.
pub(super) fn name_of(value: &[u8]) -> String {
    text::of_any(value).trim().to_uppercase()
}

/// The name of a line type that leaves gaps; nothing where lines are drawn whole, or as their layer or block says.
fn broken_line(value: &[u8]) -> Option<String> {
    let name = name_of(value);
    let whole = ["", "CONTINUOUS", "BYLAYER", "BYBLOCK"].contains(&name.as_str());
    (!whole).then(|| short_name(&name).to_owned())
}

/// Names that every program draws with gaps: writers of small files name them and leave the gaps out.
const NEVER_WHOLE: [&str; 8] = [
    "BORDER", "CENTER", "DASH", "DIVIDE", "DOT", "HIDDEN", "ISO", "PHANTOM",
];

/// Reads a DXF file.
///
/// # Errors
/// Refuses what is no DXF, is cut off, holds no geometry, or passes a limit.
pub fn read(bytes: &[u8], wanted: &Wanted) -> Result<Input, Refusal> {
    match binary::as_text(bytes) {
        // Its groups have no lines: they are counted.
        Some(text) => text
            .and_then(|text| read_text(&text, wanted))
            .map_err(|e| match e {
                Refusal::Line { line, problem } => Refusal::File(format!(
                    "group {} of the binary file: {problem}",
                    line.div_ceil(2)
                )),
                other => other,
            }),
        None => match text::decoded(bytes) {
            Cow::Borrowed(bytes) => read_text(bytes, wanted),
            Cow::Owned(bytes) => read_text(&bytes, wanted),
        },
    }
}

fn read_text(bytes: &[u8], wanted: &Wanted) -> Result<Input, Refusal> {
    let mut file = File::default();
    file.scan(&mut Pairs::of(bytes))?;
    let (scale, guessed) = file.header.scale(wanted);
    let unit = wanted.units;
    let as_stated = Frame {
        scale,
        moved: Vec2::default(),
        guessed,
    };
    let (refusal, far) = match file.drawn(bytes.len(), &as_stated, wanted) {
        Ok(input) => return Ok(input),
        Err(refused) => refused,
    };
    // Programs that leave the unit at metres when they draw millimetres are common, plates of 100 m are not.
    if scale > 2.0 * unit.in_mm() {
        let said = format!(
            "in the unit that the drawing states, {scale} mm, it would be too large for any plate; its lengths are taken as {}",
            unit.name()
        );
        let smaller = Frame {
            scale: unit.in_mm(),
            guessed: Some(said),
            ..as_stated.clone()
        };
        if let Ok(input) = file.drawn(bytes.len(), &smaller, wanted) {
            return Ok(input);
        }
    }
    // Parts are cut out of surveys and of plans of whole sites, and stay where they lay there.
    let Some(far) = far else { return Err(refusal) };
    let whole = |v: f64| libm::round(v / WHOLE) * WHOLE;
    let nearer = Frame {
        moved: Vec2::new(-whole(far.x), -whole(far.y)),
        ..as_stated
    };
    file.drawn(bytes.len(), &nearer, wanted)
        .map_err(|_| refusal)
}

/// A drawing far from its origin is moved by a multiple of this, mm.
const WHOLE: f64 = 1000.0;

/// How a file's lengths come onto the plate.
#[derive(Clone)]
struct Frame {
    /// mm in one of them.
    scale: f64,
    /// By how much all is moved, mm.
    moved: Vec2,
    /// What is to be said of the scale.
    guessed: Option<String>,
}

/// Block flags of the published reference: a drawing in another file, or one laid over.
const ELSEWHERE: i64 = 4 | 8;
/// Where a text's extended data name its frames.
const FRAMES_BEGIN: &[u8] = b"ACAD_MTEXT_TEXT_BORDERS_BEGIN";

/// Where in the file the scan is.
#[derive(Clone, Copy, PartialEq)]
enum Section {
    None,
    Header,
    Tables,
    Blocks,
    Other,
}

impl<'a> File<'a> {
    /// Draws all of it; where that is refused since it lies too far away, with the place.
    fn drawn(
        &self,
        bytes: usize,
        frame: &Frame,
        wanted: &Wanted,
    ) -> Result<Input, (Refusal, Option<Point>)> {
        let mut out = Collector::for_file(bytes, wanted);
        for (layer, plotted) in &self.layers {
            out.layers.meet(layer);
            if !plotted {
                out.layers.unplotted(layer);
            }
        }
        match frame.guessed.clone() {
            Some(said) if wanted.units_said => out.note(said),
            Some(said) => out.doubt(About::Units, format!("{said}; --units says which")),
            None => {}
        }
        if self.unfinished {
            out.note("the file has no EOF at its end; all of its sections are whole");
        }
        let Vec2 { x, y } = frame.moved;
        if frame.moved != Vec2::default() {
            out.note(format!(
                "the drawing lies far from its origin: moved by ({x}, {y}) mm"
            ));
        }
        let place = Place::model(Affine::translate((x, y)) * Affine::scale(frame.scale));
        let mut draw = Draw::new(self, &mut out);
        for entities in &self.entities {
            let drawn = draw.entities(&mut entities.clone(), &place);
            if let Err(refusal) = drawn {
                return Err((refusal, out.far));
            }
        }
        let drawn = out.finish().map_err(|refusal| (refusal, None))?;
        Ok(Input {
            units: self.header.stated(),
            ..drawn
        })
    }

    /// Goes through all of the file.
    fn scan(&mut self, pairs: &mut Pairs<'a>) -> Result<(), Refusal> {
        let mut section = Section::None;
        let (mut any, mut of_a_text) = (false, false);
        while let Some(pair) = pairs.next()? {
            // Until 2018 the frame of a text is a polyline of its own, which the text's extended data name.
            match (pair.code, pair.value) {
                (1000, FRAMES_BEGIN) => of_a_text = true,
                (1005, handle) if of_a_text => {
                    self.frames.insert(handle);
                }
                (0 | 1000, _) => of_a_text = false,
                _ => {}
            }
            match (pair.code, pair.value, section) {
                // What comes after the EOF is no part of the file.
                (0, b"EOF", Section::None) => return Ok(()),
                (0, b"EOF", _) => return Err(cut_off(pair.line)),
                (0, b"SECTION", Section::None) => {
                    any = true;
                    section = self.section_after(pairs)?;
                }
                (0, b"ENDSEC", _) => section = Section::None,
                (0, b"LAYER", Section::Tables) => self.layer(pairs)?,
                (0, b"LTYPE", Section::Tables) => self.line_type(pairs)?,
                (0, b"BLOCK", Section::Blocks) => self.block(pairs)?,
                (0, _, Section::None) => {
                    return Err(Refusal::Line {
                        line: pair.line,
                        problem: format!(
                            "\"{}\" where a SECTION belongs: this is no DXF file",
                            numbers::shown(pair.value)
                        ),
                    });
                }
                (_, _, Section::Header) => self.header.take(&pair),
                _ => {}
            }
        }
        self.unfinished = any && section == Section::None;
        if self.unfinished {
            Ok(())
        } else {
            Err(cut_off(pairs.line()))
        }
    }

    /// The section whose name follows.
    fn section_after(&mut self, pairs: &mut Pairs<'a>) -> Result<Section, Refusal> {
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
            b"TABLES" => Section::Tables,
            b"BLOCKS" => Section::Blocks,
            b"ENTITIES" => {
                self.entities.push(pairs.clone());
                Section::Other
            }
            _ => Section::Other,
        })
    }

    /// A layer of the table: a negative colour is off, the flag 1 frozen; its entities have its line type.
    fn layer(&mut self, pairs: &mut Pairs<'a>) -> Result<(), Refusal> {
        let (mut name, mut why, mut broken) = (String::new(), None, None);
        let mut plotted = true;
        for pair in own_groups(pairs)? {
            match pair.code {
                2 => name = short_name(&text::of_any(pair.value)).to_owned(),
                70 if pair.integer() & 1 == 1 => why = Some(Why::Frozen),
                62 if pair.integer() < 0 => why = why.or(Some(Why::Off)),
                6 => broken = broken_line(pair.value),
                290 => plotted = pair.integer() != 0,
                _ => {}
            }
        }
        if let Some(why) = why {
            self.hidden.insert(name.to_uppercase(), why);
        }
        if let Some(line) = broken {
            self.broken.insert(name.to_uppercase(), line);
        }
        self.layers.push((name, plotted));
        Ok(())
    }

    /// A line type of the table: its dashes are positive lengths, its gaps negative ones, its dots 0.
    fn line_type(&mut self, pairs: &mut Pairs<'a>) -> Result<(), Refusal> {
        let (mut name, mut whole) = (String::new(), true);
        for pair in own_groups(pairs)? {
            match pair.code {
                2 => name = short_name(&name_of(pair.value)).to_owned(),
                49 => whole &= pair.number()? > 0.0,
                _ => {}
            }
        }
        if whole && !NEVER_WHOLE.iter().any(|n| name.starts_with(n)) {
            self.whole_lines.insert(name);
        }
        Ok(())
    }

    /// The name of the line type that an entity of its own, or on such a layer, leaves gaps by.
    pub(super) fn broken_by(&self, own: &str, layer: &str) -> Option<String> {
        let line = if matches!(own, "" | "BYLAYER") {
            self.broken.get(layer).cloned()
        } else {
            broken_line(own.as_bytes())
        };
        line.filter(|l| !self.whole_lines.contains(l))
    }

    fn block(&mut self, pairs: &mut Pairs<'a>) -> Result<(), Refusal> {
        let (mut name, mut base) = (String::new(), Point::default());
        let mut elsewhere = false;
        for pair in own_groups(pairs)? {
            match pair.code {
                2 => name = name_of(pair.value),
                70 => elsewhere = pair.integer() & ELSEWHERE != 0,
                10 => base.x = pair.number()?,
                20 => base.y = pair.number()?,
                _ => {}
            }
        }
        let groups = pairs.clone();
        self.blocks.entry(name).or_insert(Block {
            base,
            elsewhere,
            groups,
        });
        Ok(())
    }
}

/// The groups up to the next code 0, which is left to come.
fn own_groups<'a>(pairs: &mut Pairs<'a>) -> Result<Vec<Pair<'a>>, Refusal> {
    let mut groups = Vec::new();
    loop {
        let before = pairs.clone();
        match pairs.next()? {
            Some(pair) if pair.code != 0 => groups.push(pair),
            _ => {
                *pairs = before;
                return Ok(groups);
            }
        }
    }
}
