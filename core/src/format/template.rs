//! A paper template in true size, tiled over as many pages as it takes, with a bar to measure.
//!
//! Lay the pages edge to edge over their crosses, glue the sheet onto the plate, and cut or mark
//! along the lines: the outline itself is drawn, not the torch's path. Round holes and marks have a
//! cross for the centre punch. A printer that shrinks to fit spoils it, so every page carries a bar of
//! 100 mm. Pages stand upright or lie, whichever takes fewer, and pages with nothing on them are left
//! out; a small plan in the foot of every page shows where it goes.

use crate::cautions::CAUTION_LINE;
use crate::cut::Plan;
use crate::format::Units;
use crate::format::plan_svg::{Frame, escaped};
use crate::geom::{Point, Vec2};
use crate::outline::{Bounds, Outline, Path};
use core::fmt::Write;

/// Most pages that are written.
pub const MAX_PAGES: usize = 400;
/// White edge that printers need, mm.
const EDGE: f64 = 12.0;
/// Room for the bar and the page's name, mm.
const FOOT: f64 = 16.0;
/// White round the outline, mm: as much as half a line is wide, and a hair.
const ROUND: f64 = 0.5;
/// Longest side of the small plan of pages, mm.
const PLAN: f64 = 12.0;

/// Paper sizes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 x 297 mm.
    #[default]
    A4,
    /// 215.9 x 279.4 mm.
    Letter,
}

impl Paper {
    /// Width and height, mm.
    #[must_use]
    pub const fn size(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }

    /// As style sheets call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "letter",
        }
    }
}

/// How the outline is divided over pages.
struct Tiles {
    /// The paper as it is laid, mm.
    paper: (f64, f64),
    lying: bool,
    /// What one page shows, mm.
    tile: (f64, f64),
    columns: usize,
    rows: usize,
    /// Row by row: something is drawn there.
    used: Vec<bool>,
}

impl Tiles {
    fn new(paper: Paper, frame: &Frame, outline: &Outline) -> Self {
        let (w, h) = paper.size();
        let upright = Self::of((w, h), false, frame);
        let lying = Self::of((h, w), true, frame);
        // Upright unless lying saves pages.
        let mut tiles = if lying.count() < upright.count() {
            lying
        } else {
            upright
        };
        tiles.look(frame, outline);
        tiles
    }

    fn of(paper: (f64, f64), lying: bool, frame: &Frame) -> Self {
        let tile = (paper.0 - 2.0 * EDGE, paper.1 - 2.0 * EDGE - FOOT);
        let count = |whole: f64, tile: f64| (libm::ceil(whole / tile - 1e-9) as usize).max(1);
        Self {
            paper,
            lying,
            tile,
            columns: count(frame.bounds.width(), tile.0),
            rows: count(frame.bounds.height(), tile.1),
            used: Vec::new(),
        }
    }

    fn count(&self) -> usize {
        self.columns.saturating_mul(self.rows)
    }

    /// Finds the pages with something on them.
    fn look(&mut self, frame: &Frame, outline: &Outline) {
        if self.count() > MAX_PAGES {
            return;
        }
        self.used = vec![false; self.count()];
        let runs = outline.loops.iter().map(|l| l.path.flatten(0.2));
        let crosses = centres(outline).into_iter().map(|c| vec![c]);
        for run in runs.chain(crosses) {
            let ends = run.windows(2).filter_map(|w| match w {
                [a, b] => Some((*a, *b)),
                _ => None,
            });
            let dot = run.first().map(|p| (*p, *p));
            for (a, b) in ends.chain(dot) {
                // Long straight runs are looked at every few mm, with the line's width about them.
                let steps = (libm::ceil(a.distance(b) / 4.0) as usize).max(1);
                for i in 0..=steps {
                    self.mark(frame, a.lerp(b, i as f64 / steps as f64));
                }
            }
        }
    }

    fn mark(&mut self, frame: &Frame, p: Point) {
        let (x, y) = (p.x - frame.bounds.min.x, frame.bounds.max.y - p.y);
        for (dx, dy) in [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)] {
            let index = |v: f64, tile: f64, n: usize| {
                ((v.max(0.0) / tile) as usize).min(n.saturating_sub(1))
            };
            let column = index(x + ROUND * dx, self.tile.0, self.columns);
            let row = index(y + ROUND * dy, self.tile.1, self.rows);
            if let Some(used) = self.used.get_mut(row * self.columns + column) {
                *used = true;
            }
        }
    }

    fn is_used(&self, column: usize, row: usize) -> bool {
        self.used
            .get(row * self.columns + column)
            .copied()
            .unwrap_or(false)
    }
}

/// The outline of a plan as pages in true size, one HTML file. More than [`MAX_PAGES`] pages are not
/// written; the first page then says so.
#[must_use]
pub fn write(plan: &Plan, paper: Paper) -> String {
    let outline = &plan.outline;
    let mut frame = Frame::of(&plan.outline, Some(plan), Units::Mm);
    if let Some(b) = Bounds::of_outline(outline) {
        let round = Vec2::new(ROUND, ROUND);
        (frame.bounds.min, frame.bounds.max) = (b.min + (-round), b.max + round);
    }
    let tiles = Tiles::new(paper, &frame, outline);
    let title = match plan.settings.title.as_str() {
        "" => "Template",
        title => title,
    };
    let mut out = head(title, paper, tiles.lying);
    if tiles.count() > MAX_PAGES {
        let _ = writeln!(
            out,
            "<p>This template would take {} x {} pages, over the limit of {MAX_PAGES}.</p></body></html>",
            tiles.columns, tiles.rows
        );
        return out;
    }
    lines(&mut out, outline, &frame);
    for row in 0..tiles.rows {
        for column in (0..tiles.columns).filter(|c| tiles.is_used(*c, row)) {
            page(&mut out, title, (column, row), &tiles);
        }
    }
    out.push_str("</body></html>\n");
    out
}

/// Where the centre punch goes: round holes, and marks.
fn centres(outline: &Outline) -> Vec<Point> {
    let round = outline.loops.iter().filter_map(|l| match &l.path {
        Path::Circle(c) => Some(c.center),
        Path::Chain(_) => None,
    });
    round.chain(outline.marks.iter().map(|m| m.at)).collect()
}

/// All lines once; every page shows its part of them.
fn lines(out: &mut String, outline: &Outline, frame: &Frame) {
    out.push_str("<svg width=\"0\" height=\"0\" style=\"position:absolute\"><defs><g id=\"all\" fill=\"none\" stroke=\"black\" stroke-width=\"0.3\">\n");
    for l in &outline.loops {
        let d = frame.course(&l.path.edges(), l.path.is_closed());
        let _ = writeln!(out, "<path d=\"{d}\"/>");
    }
    for p in centres(outline) {
        let arm = |v: Vec2| format!("M{} L{}", frame.place(p + (-v)), frame.place(p + v));
        let _ = writeln!(
            out,
            "<path stroke-width=\"0.15\" d=\"{} {}\"/>",
            arm(Vec2::new(3.0, 0.0)),
            arm(Vec2::new(0.0, 3.0))
        );
    }
    out.push_str("</g></defs></svg>\n");
}

fn head(title: &str, paper: Paper, lying: bool) -> String {
    format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>{} - template</title><style>@page{{size:{}{};margin:0}}html,body{{margin:0;padding:0}}svg.page{{display:block;page-break-after:always;break-after:page}}svg.page:last-child{{page-break-after:auto;break-after:auto}}text{{font-family:sans-serif}}</style></head><body>\n",
        escaped(title),
        paper.name(),
        if lying { " landscape" } else { "" }
    )
}

fn page(out: &mut String, title: &str, (column, row): (usize, usize), tiles: &Tiles) {
    let ((w, h), (tile_w, tile_h)) = (tiles.paper, tiles.tile);
    let _ = writeln!(
        out,
        "<svg class=\"page\" xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">"
    );
    let (x, y) = (column as f64 * tile_w, row as f64 * tile_h);
    let _ = writeln!(
        out,
        "<svg x=\"{EDGE}\" y=\"{EDGE}\" width=\"{tile_w}\" height=\"{tile_h}\" viewBox=\"{x} {y} {tile_w} {tile_h}\"><use href=\"#all\"/></svg>"
    );
    // Crosses at the tile's corners: neighbours are laid cross on cross.
    for (cx, cy) in [
        (EDGE, EDGE),
        (EDGE + tile_w, EDGE),
        (EDGE, EDGE + tile_h),
        (EDGE + tile_w, EDGE + tile_h),
    ] {
        let _ = writeln!(
            out,
            "<path fill=\"none\" stroke=\"black\" stroke-width=\"0.15\" d=\"M{} {cy} h8 M{cx} {} v8\"/>",
            cx - 4.0,
            cy - 4.0
        );
    }
    let foot = h - EDGE - 5.0;
    let _ = writeln!(
        out,
        "<path fill=\"none\" stroke=\"black\" stroke-width=\"0.4\" d=\"M{EDGE} {foot} h100 M{EDGE} {} v6 M{} {} v6\"/>",
        foot - 3.0,
        EDGE + 100.0,
        foot - 3.0
    );
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"3.4\">must measure 100 mm: print at 100 %</text>",
        EDGE + 2.0,
        foot - 1.2
    );
    let place = match tiles.count() {
        1 => String::new(),
        _ => format!(
            " - column {} of {}, row {} of {}",
            column + 1,
            tiles.columns,
            row + 1,
            tiles.rows
        ),
    };
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{foot}\" font-size=\"3.4\">{}{place}</text>",
        EDGE + 106.0,
        escaped(title)
    );
    if tiles.count() > 1 {
        plan_of_pages(out, (column, row), tiles);
    }
    let _ = writeln!(
        out,
        "<text x=\"{EDGE}\" y=\"{}\" font-size=\"2.1\">{}</text>",
        foot + 5.5,
        escaped(CAUTION_LINE)
    );
    out.push_str("</svg>\n");
}

/// All pages as small boxes in the foot: this one black, those left out missing.
fn plan_of_pages(out: &mut String, (column, row): (usize, usize), tiles: &Tiles) {
    let whole = (
        tiles.columns as f64 * tiles.tile.0,
        tiles.rows as f64 * tiles.tile.1,
    );
    let scale = PLAN / whole.0.max(whole.1);
    let (w, h) = (tiles.tile.0 * scale, tiles.tile.1 * scale);
    let left = tiles.paper.0 - EDGE - whole.0 * scale;
    let top = tiles.paper.1 - EDGE + 1.0 - PLAN;
    for r in 0..tiles.rows {
        for c in (0..tiles.columns).filter(|c| tiles.is_used(*c, r)) {
            let fill = if (c, r) == (column, row) {
                "black"
            } else {
                "none"
            };
            let _ = writeln!(
                out,
                "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{w:.2}\" height=\"{h:.2}\" fill=\"{fill}\" stroke=\"black\" stroke-width=\"0.15\"/>",
                left + c as f64 * w,
                top + r as f64 * h
            );
        }
    }
}
