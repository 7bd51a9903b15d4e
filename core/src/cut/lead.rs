//! Leads: how the torch gets from the pierce onto the path, and off it again.
//!
//! A pierce blows a hole wider than the kerf and leaves a crater, so it must lie in the waste, and
//! the torch must join the path where a small mark does least harm: in the middle of a long edge,
//! away from corners. For every candidate place, from the longest edge down, the asked lead is
//! tried, first the asked style and then the other; when none fits, a shorter one, down to a
//! twentieth. A lead fits when all of it keeps
//!
//! 1. half a kerf from every outline: the part's own, and every neighbour's; its pierce further off
//!    by half the lead's length or one kerf, whichever is less;
//! 2. off every other path and every lead laid before, by half a kerf where possible;
//! 3. off its own path except where it joins it, and off every bridge;
//! 4. half a kerf inside the border of the stock, where the stock is known.
//!
//! Where none fits, one is taken that only keeps half a kerf from every outline and crosses nothing:
//! it may begin close to the edge (in a hole hardly wider than the kerf: at its middle) and run
//! beside a neighbour's path. Then condition 4 is given up, and at last the lead: the torch pierces on
//! the path itself. All three are named. The search is greedy: one cut's lead can take a place that a
//! later cut would have needed more.

use super::clear::Near;
use super::course;
use super::settings::{CutSettings, LeadStyle};
use super::stock::Stock;
use crate::geom::Sorted as _;
use crate::geom::near::{crossings, inside, nearest};
use crate::geom::{Arc, Edge, Line, Point, Vec2};
use core::f64::consts::FRAC_PI_2;

/// Parts of the asked length that are tried in turn.
const SHORTER: [f64; 9] = [1.0, 0.8, 0.6, 0.45, 0.33, 0.24, 0.16, 0.1, 0.05];
/// Rounding slack when a distance is compared with half a kerf, mm.
const SLACK: f64 = 1e-6;
/// How far beyond half a kerf from the edges the pierce stays even where room is short, mm, and how far
/// its lead stays off other paths. Less is no better than a pierce on the path.
const TIGHT: f64 = 0.01;
/// Most places on one path where a lead is tried.
const MOST_PLACES: usize = 24;

/// What the leads must keep clear of.
pub struct Surroundings<'a> {
    /// All outlines of parts and holes.
    pub outlines: Near,
    /// All torch paths, owned by the number of their cut.
    pub paths: Near,
    /// Leads laid so far.
    pub laid: Vec<Edge>,
    /// Stretches of path that stay uncut, so that a piece hangs on them.
    pub bridges: Vec<Edge>,
    /// The plate, where known, with its edges.
    pub stock: Option<(&'a Stock, Vec<Edge>)>,
    /// Half the kerf, mm.
    pub half: f64,
}

/// How a lead had to be changed to fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fit {
    /// It lies as asked, or shortened, on the stock.
    Good,
    /// It keeps off every outline, but the pierce has less room than it should.
    Tight,
    /// It fits only by leaving the stock.
    OffStock,
    /// None fits: the torch pierces on the path.
    None,
}

/// A closed or open run with its leads.
#[derive(Clone, Debug, PartialEq)]
pub struct Led {
    /// From the pierce to the path; empty where none fits.
    pub lead_in: Vec<Edge>,
    /// The path from where the lead joins it.
    pub path: Vec<Edge>,
    /// Overlap at the close and the way off.
    pub lead_out: Vec<Edge>,
    /// How it fits.
    pub fit: Fit,
}

/// What is asked of a lead, from the best to the last that is taken.
const ASKED: [Care; 3] = [
    Care {
        on_stock: true,
        room: true,
    },
    Care {
        on_stock: true,
        room: false,
    },
    Care {
        on_stock: false,
        room: true,
    },
];

/// What is asked of a lead besides keeping half a kerf from every outline and crossing nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Care {
    /// It stays on the stock.
    on_stock: bool,
    /// The pierce stays further off the edges, and all of it half a kerf off other paths.
    room: bool,
}

impl Care {
    fn fit(self) -> Fit {
        match (self.on_stock, self.room) {
            (true, true) => Fit::Good,
            (true, false) => Fit::Tight,
            (false, _) => Fit::OffStock,
        }
    }
}

/// The waste lies to the left (+1) or right (-1) of travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Waste {
    /// To the left.
    Left,
    /// To the right.
    Right,
}

impl Waste {
    fn sign(self) -> f64 {
        if self == Self::Left { 1.0 } else { -1.0 }
    }
}

/// A closed path with lead-in, overlap and lead-out. `out` is the length of the lead-out, 0 for none.
#[must_use]
pub fn closed(
    edges: &[Edge],
    waste: Waste,
    number: usize,
    out: f64,
    settings: &CutSettings,
    around: &Surroundings<'_>,
) -> Led {
    let places = places(edges);
    for care in ASKED {
        if !care.on_stock && around.stock.is_none() {
            break;
        }
        for length in lengths(settings.lead_length(), edges, care) {
            for &(index, t) in &places {
                let Some(edge) = edges.get(index) else {
                    continue;
                };
                let join = (edge.point_at(t), edge.direction_at(t));
                let Some(lead_in) = try_styles(join, waste, length, number, settings, around, care)
                else {
                    continue;
                };
                let path = course::started_at(edges, index, t);
                let out = out * length / settings.lead_length().max(1e-9);
                let lead_out = close(
                    &path,
                    waste,
                    number,
                    (out, care),
                    settings,
                    around,
                    &lead_in,
                );
                return Led {
                    lead_in: vec![lead_in],
                    path,
                    lead_out,
                    fit: care.fit(),
                };
            }
        }
    }
    let (index, t) = places.first().copied().unwrap_or((0, 0.0));
    let path = course::started_at(edges, index, t);
    let lead_out = course::between(&path, 0.0, settings.overlap_length());
    Led {
        lead_in: Vec::new(),
        path,
        lead_out,
        fit: Fit::None,
    }
}

/// An open stretch of a path, from bridge to bridge, with a lead-in at its beginning.
///
/// The lead comes straight from the waste, square to the path: one that ran into it along its direction
/// would come over the bridge and cut off what it hangs on. Where none fits, the torch pierces on the path
/// a lead's length beyond the bridge, runs back to it, and then along the stretch.
#[must_use]
pub fn open(
    edges: Vec<Edge>,
    waste: Waste,
    number: usize,
    settings: &CutSettings,
    around: &Surroundings<'_>,
) -> Led {
    let mut led = Led {
        lead_in: Vec::new(),
        path: edges,
        lead_out: Vec::new(),
        fit: Fit::None,
    };
    let Some(first) = led.path.first() else {
        return led;
    };
    let (at, off) = (first.from(), first.direction_at(0.0).left() * waste.sign());
    for care in ASKED {
        for length in lengths(settings.lead_length(), &led.path, care) {
            let square = Edge::Line(Line {
                from: at + off * length,
                to: at,
            });
            if length > 1e-3
                && pierces_well(&square, length, around, care)
                && fits(&square, at, number, around, care, &[])
            {
                led.lead_in = vec![square];
                led.fit = care.fit();
                return led;
            }
        }
    }
    let back = settings.lead_length().min(0.5 * course::length(&led.path));
    let run = course::between(&led.path, 0.0, back);
    led.lead_in = run.iter().rev().map(Edge::reversed).collect();
    led
}

/// The lengths that are tried: the asked one and shorter ones; where room is short first from the
/// very middle of a round hole.
fn lengths(asked: f64, edges: &[Edge], care: Care) -> Vec<f64> {
    let mut all: Vec<f64> = SHORTER.iter().map(|s| asked * s).collect();
    if let ([Edge::Arc(a)], false) = (edges, care.room) {
        all.insert(0, a.radius);
    }
    all
}

/// Middles of the edges, longest first; a whole circle at eight places; then quarters of edges.
fn places(edges: &[Edge]) -> Vec<(usize, f64)> {
    if let [Edge::Arc(_)] = edges {
        return [0.25, 0.0, 0.5, 0.75, 0.125, 0.375, 0.625, 0.875]
            .iter()
            .map(|&t| (0, t))
            .collect();
    }
    let mut order: Vec<(usize, f64)> = edges.iter().map(Edge::length).enumerate().collect();
    // Ties by number, so that equal sides give the same answer everywhere.
    order.order_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let longest = order.first().map_or(0.0, |o| o.1);
    let middles = order.iter().map(|o| (o.0, 0.5));
    let quarters = order
        .iter()
        .filter(|o| o.1 > 0.5 * longest)
        .flat_map(|o| [(o.0, 0.25), (o.0, 0.75)]);
    let mut all: Vec<(usize, f64)> = middles.take(MOST_PLACES - 8).collect();
    all.extend(quarters.take(8));
    all
}

fn try_styles(
    join: (Point, Vec2),
    waste: Waste,
    length: f64,
    number: usize,
    settings: &CutSettings,
    around: &Surroundings<'_>,
    care: Care,
) -> Option<Edge> {
    if length <= 1e-3 {
        return None;
    }
    let (at, along) = join;
    let off = along.left() * waste.sign();
    let slanted = Edge::Line(Line {
        from: at + (off - along) * (length * core::f64::consts::FRAC_1_SQRT_2),
        to: at,
    });
    let square = Edge::Line(Line {
        from: at + off * length,
        to: at,
    });
    let arc = quarter_in(at, along, off, length, waste);
    let order = match settings.lead_style {
        // Straight away from the edge leaves the pierce most room.
        _ if !care.room => [square, slanted, arc],
        LeadStyle::Arc => [arc, slanted, square],
        LeadStyle::Straight => [slanted, square, arc],
    };
    order.into_iter().find(|lead| {
        pierces_well(lead, length, around, care) && fits(lead, at, number, around, care, &[])
    })
}

/// The crater at the beginning of a lead keeps off every outline.
fn pierces_well(lead: &Edge, length: f64, around: &Surroundings<'_>, care: Care) -> bool {
    let dot = Edge::Line(Line {
        from: lead.from(),
        to: lead.from(),
    });
    let more = if care.room {
        (0.5 * length).min(2.0 * around.half)
    } else {
        TIGHT.min(0.5 * length)
    };
    let room = around.half + more;
    around.outlines.within(&dot, room).is_empty()
}

/// The quarter arc of this length that runs into `at` in the direction `along`.
fn quarter_in(at: Point, along: Vec2, off: Vec2, length: f64, waste: Waste) -> Edge {
    let radius = length / FRAC_PI_2;
    let center = at + off * radius;
    Edge::Arc(Arc {
        from: center - along * radius,
        to: at,
        center,
        radius,
        sweep: FRAC_PI_2 * waste.sign(),
    })
}

fn quarter_out(at: Point, along: Vec2, off: Vec2, length: f64, waste: Waste) -> Edge {
    let radius = length / FRAC_PI_2;
    let center = at + off * radius;
    Edge::Arc(Arc {
        from: at,
        to: center + along * radius,
        center,
        radius,
        sweep: FRAC_PI_2 * waste.sign(),
    })
}

/// Overlap along the path, then off it where that fits.
fn close(
    path: &[Edge],
    waste: Waste,
    number: usize,
    (out, care): (f64, Care),
    settings: &CutSettings,
    around: &Surroundings<'_>,
    lead_in: &Edge,
) -> Vec<Edge> {
    let overlap = settings.overlap_length().min(0.5 * course::length(path));
    let mut run = course::between(path, 0.0, overlap);
    let last = run.last().or(path.last());
    let Some((at, along)) = last.map(|e| (e.to(), e.direction_at(1.0))) else {
        return run;
    };
    let off = along.left() * waste.sign();
    for shorter in SHORTER {
        let length = out * shorter;
        if length <= 1e-3 {
            break;
        }
        let arc = quarter_out(at, along, off, length, waste);
        let slanted = Edge::Line(Line {
            from: at,
            to: at + (off + along) * (length * core::f64::consts::FRAC_1_SQRT_2),
        });
        let order = match settings.lead_style {
            LeadStyle::Arc => [arc, slanted],
            LeadStyle::Straight => [slanted, arc],
        };
        let own = core::slice::from_ref(lead_in);
        if let Some(lead) = order
            .into_iter()
            .find(|l| fits(l, at, number, around, care, own))
        {
            run.push(lead);
            break;
        }
    }
    run
}

/// The lead keeps clear of everything it must; `at` is where it joins the path of cut `number`.
fn fits(
    lead: &Edge,
    at: Point,
    number: usize,
    around: &Surroundings<'_>,
    care: Care,
    also: &[Edge],
) -> bool {
    let half = around.half;
    if !around.outlines.within(lead, half - SLACK).is_empty() {
        return false;
    }
    for (owner, other) in around.paths.around(lead, half) {
        let near = nearest(lead, &other);
        let own = owner == number;
        let least = if care.room { half } else { TIGHT };
        if !own && near.distance < least {
            return false;
        }
        if own
            && crossings(lead, &other)
                .iter()
                .any(|p| p.distance(at) > 1e-5)
        {
            return false;
        }
    }
    let reach = half + lead.length();
    // Two edges are never nearer than their starts less both lengths.
    let far = |other: &Edge| other.from().distance(lead.from()) > reach + other.length();
    let apart = |other: &Edge| far(other) || nearest(lead, other).distance >= half;
    if !around.laid.iter().all(apart) {
        return false;
    }
    // Metal that is to hold: only the lead that begins the stretch beside it touches it, at its end.
    let spoils = |bridge: &Edge| {
        let near = nearest(lead, bridge);
        near.distance < half - SLACK && near.at.distance(at) > 1e-5
    };
    if around.bridges.iter().any(|b| !far(b) && spoils(b)) {
        return false;
    }
    // Its own lead-in may meet the lead-out only where both join the path.
    if also
        .iter()
        .any(|o| crossings(lead, o).iter().any(|p| p.distance(at) > 1e-5))
    {
        return false;
    }
    match &around.stock {
        Some((stock, edges)) if care.on_stock => on_plate(lead, stock, edges, half),
        _ => true,
    }
}

/// The whole edge lies on the plate, `margin` from its border and openings.
#[must_use]
pub fn on_plate(edge: &Edge, stock: &Stock, border: &[Edge], margin: f64) -> bool {
    let start = edge.from();
    border
        .iter()
        .all(|b| nearest(edge, b).distance >= margin - SLACK)
        && inside(&stock.border.edges(), start)
        && !stock.openings.iter().any(|o| inside(&o.edges(), start))
}
