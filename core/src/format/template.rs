//! A paper template in true size, tiled over as many pages as it takes, with a bar to measure.
//!
//! Lay the pages edge to edge over their crosses, glue the sheet onto the plate, and cut or mark
//! along the lines: the outline itself is drawn, not the torch's path. A printer that shrinks to fit
//! spoils it, so every page carries a bar of 100 mm.

use crate::cautions::CAUTION_LINE;
use crate::cut::Plan;
use crate::format::Units;
use crate::format::plan_svg::{Frame, escaped};
use crate::geom::Point;
use core::fmt::Write;

/// Most pages that are written.
pub const MAX_PAGES: usize = 400;
/// White edge that printers need, mm.
const EDGE: f64 = 12.0;
/// Room for the bar and the page's name, mm.
const FOOT: f64 = 16.0;

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

/// The outline of a plan as pages in true size, one HTML file. More than [`MAX_PAGES`] pages are not
/// written; the first page then says so.
#[must_use]
pub fn write(plan: &Plan, paper: Paper) -> String {
    let frame = Frame::of(plan, Units::Mm);
    let (w, h) = paper.size();
    let (tile_w, tile_h) = (w - 2.0 * EDGE, h - 2.0 * EDGE - FOOT);
    let count = |whole: f64, tile: f64| (libm::ceil(whole / tile - 1e-9) as usize).max(1);
    let (columns, rows) = (
        count(frame.bounds.width(), tile_w),
        count(frame.bounds.height(), tile_h),
    );
    let title = if plan.settings.title.is_empty() {
        "Template"
    } else {
        &plan.settings.title
    };
    let mut out = head(title, paper);
    if columns.saturating_mul(rows) > MAX_PAGES {
        let _ = writeln!(
            out,
            "<p>This template would take {columns} x {rows} pages, over the limit of {MAX_PAGES}.</p></body></html>"
        );
        return out;
    }
    let _ = writeln!(
        out,
        "<svg width=\"0\" height=\"0\" style=\"position:absolute\"><defs><g id=\"all\" fill=\"none\" stroke=\"black\" stroke-width=\"0.3\">"
    );
    for l in &plan.outline.loops {
        let _ = writeln!(
            out,
            "<path d=\"{}\"/>",
            frame.course(&l.path.edges(), l.path.is_closed())
        );
    }
    for mark in &plan.outline.marks {
        let p = mark.at;
        let (left, right) = (Point::new(p.x - 3.0, p.y), Point::new(p.x + 3.0, p.y));
        let (low, high) = (Point::new(p.x, p.y - 3.0), Point::new(p.x, p.y + 3.0));
        let _ = writeln!(
            out,
            "<path d=\"M{} L{} M{} L{}\"/>",
            frame.place(left),
            frame.place(right),
            frame.place(low),
            frame.place(high)
        );
    }
    out.push_str("</g></defs></svg>\n");
    for row in 0..rows {
        for column in 0..columns {
            page(
                &mut out,
                title,
                (column, row),
                (columns, rows),
                (w, h),
                (tile_w, tile_h),
            );
        }
    }
    out.push_str("</body></html>\n");
    out
}

fn head(title: &str, paper: Paper) -> String {
    format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>{} - template</title><style>@page{{size:{};margin:0}}html,body{{margin:0;padding:0}}svg.page{{display:block;page-break-after:always;break-after:page}}svg.page:last-child{{page-break-after:auto;break-after:auto}}text{{font-family:sans-serif}}</style></head><body>\n",
        escaped(title),
        paper.name()
    )
}

fn page(
    out: &mut String,
    title: &str,
    (column, row): (usize, usize),
    (columns, rows): (usize, usize),
    (w, h): (f64, f64),
    (tile_w, tile_h): (f64, f64),
) {
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
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{foot}\" font-size=\"3.4\">{} - column {} of {columns}, row {} of {rows}</text>",
        EDGE + 106.0,
        escaped(title),
        column + 1,
        row + 1
    );
    let _ = writeln!(
        out,
        "<text x=\"{EDGE}\" y=\"{}\" font-size=\"2.1\">{}</text>",
        foot + 5.5,
        escaped(CAUTION_LINE)
    );
    out.push_str("</svg>\n");
}
