//! The walk over entities: what is drawn, what is inserted, what is left out.

use super::entity::{Entity, Vertex, draw_polyline, range};
use super::file::{Block, File, name_of};
use super::pairs::{Pair, Pairs, cut_off};
use crate::Refusal;
use crate::format::drawing::{Collector, Kind, Layer, Pen, Why, place, short_name, stated};
use crate::format::{numbers, text};
use crate::limits;
use crate::report::About;
use kurbo::Affine;

/// Polyline flags of the published reference: a surface, not a line; a line in space.
const SURFACE: i64 = 16 | 64;
const IN_SPACE: i64 = 8;
/// Vertex flag: the frame of a spline, not a point of it.
const FRAME: i64 = 16;
/// What rises by no more than this, mm, lies in the plane.
const LEVEL: f64 = 0.05;
/// Deepest nesting of blocks.
const DEEPEST: usize = 32;
/// Most entities, counted wherever their blocks are inserted: a few blocks of a few inserts each, nested, are
/// more than any memory holds.
const MOST_ENTITIES: usize = limits::MAX_EDGES;

/// Entities that nobody cuts: texts, dimensions, fills, pictures, endless lines.
const ASIDE: [&[u8]; 24] = [
    b"ACAD_TABLE",
    b"ARCALIGNEDTEXT",
    b"ARC_DIMENSION",
    b"ATTDEF",
    b"ATTRIB",
    b"CAMERA",
    b"DGNUNDERLAY",
    b"DIMENSION",
    b"DWFUNDERLAY",
    b"GEOPOSITIONMARKER",
    b"IMAGE",
    b"LARGE_RADIAL_DIMENSION",
    b"LEADER",
    b"LIGHT",
    b"MTEXT",
    b"MULTILEADER",
    b"OLE2FRAME",
    b"PDFUNDERLAY",
    b"RAY",
    b"RTEXT",
    b"TEXT",
    b"TOLERANCE",
    b"WIPEOUT",
    b"XLINE",
];
/// Areas that are filled: mostly their rims are drawn as well.
const FILLS: [&[u8]; 4] = [b"HATCH", b"MPOLYGON", b"SOLID", b"TRACE"];
/// Entities that show nothing of their own.
const NOTHING: [&[u8]; 6] = [
    b"SEQEND",
    b"VERTEX",
    b"VIEWPORT",
    b"ENDBLK",
    b"OLEFRAME",
    b"SUN",
];

/// Where entities are drawn: the model, or a block as it is inserted.
pub(super) struct Place<'a> {
    map: Affine,
    /// Layers of the inserts around, the nearest first.
    layers: Vec<String>,
    /// Names of the blocks around.
    blocks: Vec<&'a str>,
    hidden: Option<Why>,
}

impl Place<'_> {
    pub(super) fn model(map: Affine) -> Self {
        Self {
            map,
            layers: Vec::new(),
            blocks: Vec::new(),
            hidden: None,
        }
    }
}

/// A POLYLINE whose VERTEX entities are still coming.
struct Polyline {
    vertices: Vec<Vertex>,
    closed: bool,
    /// The map and the layer it is drawn by; nothing where it stays out.
    drawn: Option<(Affine, Layer)>,
    stated: bool,
    traced: bool,
}

/// The walk's state.
pub(super) struct Draw<'a, 'f> {
    file: &'f File<'a>,
    out: &'f mut Collector,
    entities: usize,
}

impl<'a, 'f> Draw<'a, 'f> {
    pub(super) fn new(file: &'f File<'a>, out: &'f mut Collector) -> Self {
        Self {
            file,
            out,
            entities: 0,
        }
    }

    /// Draws entities up to the end of their section or block.
    pub(super) fn entities(
        &mut self,
        pairs: &mut Pairs<'a>,
        place: &Place<'_>,
    ) -> Result<(), Refusal> {
        let mut kind: Option<(&[u8], usize)> = None;
        let mut groups: Vec<Pair<'_>> = Vec::new();
        let mut polyline: Option<Polyline> = None;
        while let Some(pair) = pairs.next()? {
            if pair.code != 0 {
                groups.push(pair);
                continue;
            }
            if let Some((kind, line)) = kind {
                let entity = Entity {
                    kind,
                    line,
                    pairs: &groups,
                };
                // What a pen refuses knows no line.
                self.entity(&entity, place, &mut polyline)
                    .map_err(|e| match e {
                        Refusal::File(problem) => entity.refuse(problem),
                        other => other,
                    })?;
            }
            groups.clear();
            if matches!(pair.value, b"ENDSEC" | b"ENDBLK" | b"EOF") {
                return self.finish(polyline.take());
            }
            kind = Some((pair.value, pair.line));
        }
        Err(cut_off(pairs.line()))
    }

    fn entity(
        &mut self,
        entity: &Entity<'_>,
        place: &Place<'_>,
        polyline: &mut Option<Polyline>,
    ) -> Result<(), Refusal> {
        self.entities += 1;
        if self.entities > MOST_ENTITIES {
            return Err(Refusal::File(format!(
                "its blocks are inserted so often that they hold more than {MOST_ENTITIES} entities"
            )));
        }
        match (entity.kind, &mut *polyline) {
            (b"VERTEX", Some(open)) => {
                if open.drawn.is_some() && entity.integer(70) & FRAME == 0 {
                    open.vertices.push(entity.vertex()?);
                }
                Ok(())
            }
            (b"SEQEND", Some(_)) => self.finish(polyline.take()),
            // Some programs leave its end out: whatever is no corner ends it.
            (_, Some(_)) => {
                self.finish(polyline.take())?;
                self.entity(entity, place, polyline)
            }
            (b"POLYLINE", None) => {
                *polyline = Some(self.begin(entity, place)?);
                Ok(())
            }
            (b"INSERT", None) => self.insert(entity, place),
            _ => self.simple(entity, place),
        }
    }

    /// The layers that an entity lies on, the nearest first, and why it is not shown.
    fn lies(&self, entity: &Entity<'_>, place: &Place<'_>) -> (Vec<String>, Option<Why>) {
        let own = text::of_any(entity.text(8).unwrap_or(b"0"));
        // What lies on layer 0 of a block lies on that of its insert.
        let inherits = own.trim() == "0" && !place.layers.is_empty();
        let own = (!inherits).then(|| short_name(&own).to_owned());
        let names: Vec<String> = own
            .into_iter()
            .chain(place.layers.iter().cloned())
            .collect();
        let nearest = names.first().map(|n| n.to_uppercase()).unwrap_or_default();
        let off = self.file.hidden.get(&nearest).copied();
        (names, hidden(entity).or(place.hidden).or(off))
    }

    /// The layer an entity is drawn on; nothing where it stays out.
    fn layer(&mut self, entity: &Entity<'_>, place: &Place<'_>) -> Option<Layer> {
        let (names, hidden) = self.lies(entity, place);
        let nearest = names.first().map(|n| n.to_uppercase()).unwrap_or_default();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let layer = self.out.layers.take(&names, hidden)?;
        let own_line = name_of(entity.text(6).unwrap_or_default());
        if let Some(line) = self.file.broken_by(&own_line, &nearest) {
            self.out.layers.broken(line);
        }
        Some(layer)
    }

    fn leave(&mut self, entity: &Entity<'_>) {
        let kind = if ASIDE.contains(&entity.kind) {
            Kind::Aside
        } else {
            Kind::Lost
        };
        self.out.left.add(kind, &numbers::shown(entity.kind));
    }

    /// Counts what rises out of the plane by more than anybody sees.
    fn leans(&mut self, rise: f64, map: &Affine) {
        if rise * map.determinant().abs().sqrt() > LEVEL {
            self.out.left.leaning += 1;
        }
    }

    /// An entity of one piece.
    fn simple(&mut self, entity: &Entity<'_>, around: &Place<'_>) -> Result<(), Refusal> {
        if NOTHING.contains(&entity.kind) {
            return Ok(());
        }
        // These are in the plane's own coordinates, the others in those of the drawing.
        let own_plane = matches!(entity.kind, b"CIRCLE" | b"ARC" | b"LWPOLYLINE");
        let plane = if own_plane {
            entity.plane()?
        } else {
            Some(Affine::IDENTITY)
        };
        let tilted = entity.kind == b"ELLIPSE" && entity.plane()?.is_none();
        let known = own_plane || matches!(entity.kind, b"LINE" | b"POINT" | b"ELLIPSE" | b"SPLINE");
        // What is not cut anyway is not looked for on its layer.
        if ASIDE.contains(&entity.kind) {
            self.leave(entity);
            return Ok(());
        }
        if FILLS.contains(&entity.kind) {
            return self.fill(entity, around);
        }
        if entity.text(5).is_some_and(|h| self.file.frames.contains(h)) {
            self.out.left.add(Kind::Aside, "frame of a text");
            return Ok(());
        }
        let Some(layer) = self.layer(entity, around) else {
            return Ok(());
        };
        let (Some(plane), true, false) = (plane, known, tilted) else {
            self.leave(entity);
            return Ok(());
        };
        let map = around.map * plane;
        self.leans(entity.rise()?, &map);
        self.out.left.wide += usize::from(entity.is_wide()?);
        let mut pen = Pen::new(map, layer, &mut *self.out).tracing(entity.says(stated::TRACED));
        match entity.kind {
            b"LINE" => entity.draw_line(&mut pen),
            b"CIRCLE" | b"ARC" => entity.draw_round(&mut pen),
            b"ELLIPSE" => entity.draw_ellipse(&mut pen),
            b"SPLINE" => {
                if !entity.draw_spline(&mut pen)? {
                    self.leave(entity);
                }
                Ok(())
            }
            b"LWPOLYLINE" => {
                let closed = entity.integer(70) & 1 == 1;
                let vertices = entity.light_vertices()?;
                draw_polyline(&vertices, closed, pen, entity.says(stated::EDGES))?;
                if let Some(said) = entity.miscounts(vertices.len()) {
                    self.out.doubt(About::File, said);
                }
                Ok(())
            }
            _ => {
                let at = place(&map, entity.point(10)?);
                self.out.within(at)?;
                self.out.mark(at)
            }
        }
    }

    /// A filled area is not read; whether anything is lost with it shows once all lines are there.
    fn fill(&mut self, entity: &Entity<'_>, around: &Place<'_>) -> Result<(), Refusal> {
        let (names, hidden) = self.lies(entity, around);
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        if !self.out.layers.shows(&names, hidden) {
            self.out.left.add(Kind::Aside, &numbers::shown(entity.kind));
            return Ok(());
        }
        let map = around.map * entity.plane()?.unwrap_or_default();
        let rim = entity.rim().unwrap_or_default();
        let rim = rim.into_iter().map(|p| place(&map, p));
        self.out.fill(&numbers::shown(entity.kind), rim);
        Ok(())
    }

    fn begin(&mut self, entity: &Entity<'_>, place: &Place<'_>) -> Result<Polyline, Refusal> {
        let flags = entity.integer(70);
        let plane = if flags & IN_SPACE != 0 {
            Some(Affine::IDENTITY)
        } else {
            entity.plane()?
        };
        let layer = self.layer(entity, place);
        let drawn = match (layer, plane) {
            (Some(layer), Some(plane)) if flags & SURFACE == 0 => {
                self.out.left.wide += usize::from(entity.is_wide()?);
                Some((place.map * plane, layer))
            }
            (None, _) => None,
            _ => {
                self.leave(entity);
                None
            }
        };
        Ok(Polyline {
            vertices: Vec::new(),
            closed: flags & 1 == 1,
            drawn,
            stated: entity.says(stated::EDGES),
            traced: entity.says(stated::TRACED),
        })
    }

    fn finish(&mut self, polyline: Option<Polyline>) -> Result<(), Refusal> {
        let Some(p) = polyline else { return Ok(()) };
        let Some((map, layer)) = p.drawn else {
            return Ok(());
        };
        self.leans(range(p.vertices.iter().map(|v| v.z)), &map);
        let pen = Pen::new(map, layer, &mut *self.out).tracing(p.traced);
        draw_polyline(&p.vertices, p.closed, pen, p.stated)
    }

    /// Draws a block where it is inserted: scaled, turned and moved so that its base point comes to lie on
    /// the place; in rows and columns that are turned but not scaled.
    fn insert(&mut self, entity: &Entity<'_>, place: &Place<'_>) -> Result<(), Refusal> {
        let name = entity.name(2);
        let Some((name, block)) = self.file.blocks.get_key_value(&name) else {
            self.out
                .left
                .add(Kind::Lost, "INSERT of a block that is not there");
            return Ok(());
        };
        if block.elsewhere {
            self.out
                .left
                .add(Kind::Lost, "INSERT of a drawing in another file");
            return Ok(());
        }
        let Some(plane) = entity.plane()? else {
            self.leave(entity);
            return Ok(());
        };
        if place.blocks.len() >= DEEPEST || place.blocks.contains(&name.as_str()) {
            self.out
                .left
                .add(Kind::Lost, "INSERT of a block within itself");
            return Ok(());
        }
        let own = name_or_zero(entity);
        let inherits = own == "0" && !place.layers.is_empty();
        let layers = (!inherits)
            .then_some(own)
            .into_iter()
            .chain(place.layers.iter().cloned());
        let layers: Vec<String> = layers.collect();
        let nearest = layers
            .first()
            .map(|l| name_of(l.as_bytes()))
            .unwrap_or_default();
        // On a layer that is only off, what has layers of its own still shows.
        let frozen = self
            .file
            .hidden
            .get(&nearest)
            .copied()
            .filter(|w| *w == Why::Frozen);
        let mut inner = Place {
            map: place.map,
            layers,
            blocks: [place.blocks.as_slice(), &[name.as_str()]].concat(),
            hidden: place.hidden.or(hidden(entity)).or(frozen),
        };
        for map in copies(entity, block)? {
            inner.map = place.map * plane * map;
            self.entities += 1;
            self.entities(&mut block.groups.clone(), &inner)?;
        }
        Ok(())
    }
}

/// Invisible, or on a sheet.
fn hidden(entity: &Entity<'_>) -> Option<Why> {
    let sheet = (entity.integer(67) == 1).then_some(Why::OnSheet);
    sheet.or((entity.integer(60) == 1).then_some(Why::Invisible))
}

fn name_or_zero(entity: &Entity<'_>) -> String {
    short_name(&text::of_any(entity.text(8).unwrap_or(b"0"))).to_owned()
}

/// The maps of an insert, one for each row and column.
fn copies(entity: &Entity<'_>, block: &Block<'_>) -> Result<Vec<Affine>, Refusal> {
    let at = entity.point_or_origin(10)?;
    let scale = (entity.number_or(41, 1.0)?, entity.number_or(42, 1.0)?);
    let turn = Affine::rotate(entity.number_or(50, 0.0)?.to_radians());
    let step = (entity.number_or(44, 0.0)?, entity.number_or(45, 0.0)?);
    let count = |code| usize::try_from(entity.integer(code).max(1)).unwrap_or(usize::MAX);
    let (columns, rows) = (count(70), count(71));
    if columns.saturating_mul(rows) > MOST_ENTITIES {
        return Err(entity.refuse(format!("this INSERT has {columns} columns and {rows} rows")));
    }
    let own = Affine::scale_non_uniform(scale.0, scale.1)
        * Affine::translate((-block.base.x, -block.base.y));
    let cells = (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row)));
    let map = |(column, row): (usize, usize)| {
        let aside = Affine::translate((column as f64 * step.0, row as f64 * step.1));
        Affine::translate((at.x, at.y)) * turn * aside * own
    };
    Ok(cells.map(map).collect())
}
