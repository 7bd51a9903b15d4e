//! What to know before anything is written: too small, too thin, too near, too short, off the
//! stock. Each finding has a place and a size, and none stops the work.

use super::clear::Near;
use super::kerf::{Offset, Side, offset};
use super::lead::on_plate;
use super::plan::{Cut, Warning, WarningKind, name};
use super::settings::CutSettings;
use super::severed;
use super::twice;
use crate::geom::near::{crossings, inside, nearest};
use crate::geom::{Edge, Point};
use crate::outline::nesting::parents;
use crate::outline::{Bounds, Outline, Path, Role};

/// Metal that stands further than this from where half the kerf puts a path is an edge that was not reached, in kerfs:
/// the round of the torch leaves a fifth of one in any sharp inner corner, and smaller fillets and clips there leave
/// less.
const NOT_REACHED: f64 = 0.25;
/// A cut deeper than this into another piece is named, mm.
const EATEN: f64 = 1e-3;
/// An open cut within half a kerf of an edge for longer than this, in kerfs, follows it: one that crosses at a
/// quarter of a right angle is there for less than three.
const ALONG: f64 = 4.0;
/// Loops nearer than this touch, mm.
const TOUCHING: f64 = 0.005;
/// So many places of an edge are looked at.
const MOST_LOOKS: f64 = 2000.0;

/// All checks, in the order of their kinds.
pub(super) fn all(
    cuts: &[Cut],
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) {
    let edges = outline
        .loops
        .iter()
        .enumerate()
        .filter(|(_, l)| l.role != Role::Open)
        .flat_map(|(i, l)| l.path.edges().into_iter().map(move |e| (i, e)))
        .collect();
    let outlines = Near::new(edges);
    closed_mouths(cuts, outline, settings, warnings);
    let twice = twice::find(outline, settings, warnings);
    eaten(cuts, outline, &outlines, &twice, settings, warnings);
    eaten_along(cuts, outline, &outlines, settings, warnings);
    severed::all(cuts, outline, settings, warnings);
    webs(outline, &outlines, settings, warnings);
    small_holes(outline, settings, warnings);
    short_edges(outline, settings, warnings);
    off_stock(cuts, outline, settings, warnings);
    out_of_reach(cuts, settings, warnings);
}

fn warn(warnings: &mut Vec<Warning>, kind: WarningKind, text: String, at: Point, size: f64) {
    warnings.push(Warning {
        kind,
        text,
        at: Some(at),
        size: Some(size),
    });
}

fn place(p: Point) -> String {
    format!("({:.1}, {:.1}) mm", p.x, p.y)
}

/// Radius of the largest circle that fits inside a closed loop, mm, to 0.01 mm.
pub(super) fn inner_radius(path: &Path) -> f64 {
    if let Path::Circle(c) = path {
        return c.radius;
    }
    let (mut fits, mut vanishes) = (0.0, path.area().abs().sqrt());
    while vanishes - fits > 0.005 && vanishes > 1e-3 * fits {
        let middle = 0.5 * (fits + vanishes);
        match offset(path, Side::Inside, middle) {
            Ok(Offset::Vanished) | Err(_) => vanishes = middle,
            Ok(_) => fits = middle,
        }
        if vanishes - fits < 1e-6 * vanishes {
            break;
        }
    }
    fits
}

/// Edges of a loop that its own path passes by: the opening they bound is narrower than the kerf.
fn closed_mouths(
    cuts: &[Cut],
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) {
    let half = 0.5 * settings.kerf;
    for (index, l) in outline
        .loops
        .iter()
        .enumerate()
        .filter(|(_, l)| l.role != Role::Open)
    {
        let own: Vec<(usize, Edge)> = cuts
            .iter()
            .filter(|c| c.loop_index == index)
            .flat_map(|c| c.path.iter().map(|e| (0, *e)))
            .collect();
        // Bridges leave edges uncut on purpose; a swallowed loop has been named already.
        if own.is_empty() || cuts.iter().any(|c| c.loop_index == index && !c.closed) {
            continue;
        }
        let near = Near::new(own);
        let reach = half + NOT_REACHED * settings.kerf;
        let mut missed: Vec<(Point, f64)> = Vec::new();
        for edge in l.path.edges() {
            let middle = edge.point_at(0.5);
            if near.within_of(middle, reach).is_empty() {
                missed.push((middle, edge.length()));
            }
        }
        let Some((at, _)) = missed.iter().max_by(|a, b| a.1.total_cmp(&b.1)).copied() else {
            continue;
        };
        let length = missed.iter().map(|m| m.1).sum();
        let text = format!(
            "{} has an opening at {} narrower than the kerf of {} mm: {} of its edges ({length:.1} mm) cannot be cut",
            name(outline, index),
            place(at),
            settings.kerf,
            missed.len()
        );
        warn(warnings, WarningKind::ClosedMouth, text, at, length);
    }
}

/// Cuts that come nearer than half a kerf to another loop.
fn eaten(
    cuts: &[Cut],
    outline: &Outline,
    outlines: &Near,
    twice: &[(usize, usize)],
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) {
    let half = 0.5 * settings.kerf;
    let mut found: Vec<(usize, usize, f64, Point)> = Vec::new();
    for cut in cuts.iter().filter(|c| c.role != Role::Open) {
        for hit in cut
            .path
            .iter()
            .flat_map(|e| outlines.within(e, half - EATEN))
        {
            if hit.owner == cut.loop_index {
                continue;
            }
            let pair = (cut.loop_index, hit.owner);
            let depth = half - hit.nearest.distance;
            match found.iter_mut().find(|f| (f.0, f.1) == pair) {
                Some(f) if f.2 < depth => (f.2, f.3) = (depth, hit.nearest.at),
                Some(_) => {}
                None => found.push((pair.0, pair.1, depth, hit.nearest.at)),
            }
        }
    }
    let mut crossed: Vec<(usize, usize)> = Vec::new();
    for (by, of, depth, at) in found {
        let pair = (by.min(of), by.max(of));
        if crossed.contains(&pair) || twice.contains(&pair) {
            continue;
        }
        if let Some(at) = crossing(outline, by, of) {
            crossed.push(pair);
            warn(
                warnings,
                WarningKind::Crossed,
                run_into(outline, pair, at),
                at,
                depth,
            );
            continue;
        }
        let text = format!(
            "the cut of {} eats {depth:.2} mm into {} at {}: they are nearer than the kerf of {} mm",
            name(outline, by),
            name(outline, of),
            place(at),
            settings.kerf
        );
        warn(warnings, WarningKind::Eaten, text, at, depth);
    }
}

/// Open cuts that run along the edge of a loop: they begin or end there, or cross it, but do not follow it.
fn eaten_along(
    cuts: &[Cut],
    outline: &Outline,
    outlines: &Near,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) {
    let half = 0.5 * settings.kerf;
    for cut in cuts.iter().filter(|c| c.role == Role::Open) {
        let mut along: Vec<(usize, f64, Point)> = Vec::new();
        for edge in &cut.path {
            let parts = (edge.length() / half).ceil().clamp(1.0, MOST_LOOKS);
            for k in 0..parts as usize {
                let at = edge.point_at((k as f64 + 0.5) / parts);
                let mut owners: Vec<usize> = outlines
                    .within_of(at, half - EATEN)
                    .iter()
                    .map(|h| h.owner)
                    .collect();
                owners.dedup();
                for owner in owners {
                    let long = edge.length() / parts;
                    match along.iter_mut().find(|a| a.0 == owner) {
                        Some(a) => a.1 += long,
                        None => along.push((owner, long, at)),
                    }
                }
            }
        }
        for (owner, long, at) in along {
            if long > ALONG * settings.kerf {
                let text = format!(
                    "{} is cut along its middle, and follows the edge of {} for {long:.1} mm from {} on: it cuts into it; \
                     leave it out, or move it off",
                    name(outline, cut.loop_index),
                    name(outline, owner),
                    place(at)
                );
                warn(warnings, WarningKind::Eaten, text, at, long);
            }
        }
    }
}

/// Where the lines of two loops cross.
fn crossing(outline: &Outline, a: usize, b: usize) -> Option<Point> {
    let edges = |i: usize| outline.loops.get(i).map(|l| l.path.edges());
    let (a, b) = (edges(a)?, edges(b)?);
    let pairs = a.iter().flat_map(|e| b.iter().map(move |f| (e, f)));
    pairs.into_iter().find_map(|(e, f)| {
        let boxes = Bounds::of_edge(e).touches(&Bounds::of_edge(f), 0.0);
        boxes.then(|| crossings(e, f).into_iter().next()).flatten()
    })
}

/// What two loops whose lines cross do to one another, how far, and what to do about it.
fn run_into(outline: &Outline, (a, b): (usize, usize), at: Point) -> String {
    // How deep the second reaches into the first, by places along it.
    let deep = |of: usize, by: usize| {
        let edges = |i: usize| outline.loops.get(i).map(|l| l.path.edges());
        let (of, by) = (edges(of).unwrap_or_default(), edges(by).unwrap_or_default());
        let places = by
            .iter()
            .flat_map(|e| (0..8).map(|k| e.point_at(f64::from(k) / 8.0)));
        let inner = places.filter(|p| inside(&of, *p));
        inner
            .map(|p| {
                of.iter()
                    .map(|e| e.distance(p))
                    .fold(f64::INFINITY, f64::min)
            })
            .fold(0.0, f64::max)
    };
    let (first, second) = (name(outline, a), name(outline, b));
    let role = |i: usize| outline.loops.get(i).map(|l| l.role);
    let by = deep(a, b).max(deep(b, a));
    let at = place(at);
    match (role(a), role(b)) {
        (Some(Role::Part), Some(Role::Part)) => format!(
            "{first} and {second} overlap by {by:.1} mm at {at}: each is cut into the other; move them apart, or cut them \
             one at a time"
        ),
        (Some(Role::Part), _) | (_, Some(Role::Part)) => format!(
            "{first} and {second} cross at {at}: the hole breaks out of the rim; move it inwards, make it smaller, or \
             trace the notch with the outline"
        ),
        _ => format!(
            "{first} and {second} run into each other at {at}: make them one, or move them apart"
        ),
    }
}

/// Metal between a hole and its part or another hole, and necks of a part.
fn webs(outline: &Outline, outlines: &Near, settings: &CutSettings, warnings: &mut Vec<Warning>) {
    let least = settings.least_web();
    let parents = parents(&outline.loops);
    let part_around = |i: usize| {
        let around = parents.get(i).and_then(Option::as_ref)?;
        let parts = around
            .iter()
            .filter(|j| outline.loops.get(**j).is_some_and(|l| l.role == Role::Part));
        // The innermost is the one with the most around itself.
        parts
            .copied()
            .max_by_key(|j| parents.get(*j).and_then(Option::as_ref).map_or(0, Vec::len))
    };
    for (index, l) in outline.loops.iter().enumerate() {
        match l.role {
            Role::Hole => {
                let own = part_around(index);
                let mut found: Vec<(usize, f64, Point)> = Vec::new();
                for hit in l
                    .path
                    .edges()
                    .iter()
                    .flat_map(|e| outlines.within(e, least))
                {
                    let other = hit.owner;
                    let is_hole = outline
                        .loops
                        .get(other)
                        .is_some_and(|o| o.role == Role::Hole);
                    let same_part = own.is_some()
                        && (own == Some(other)
                            || (is_hole && other > index && part_around(other) == own));
                    if !same_part {
                        continue;
                    }
                    match found.iter_mut().find(|f| f.0 == other) {
                        Some(f) if hit.nearest.distance < f.1 => {
                            (f.1, f.2) = (hit.nearest.distance, hit.nearest.at)
                        }
                        Some(_) => {}
                        None => found.push((other, hit.nearest.distance, hit.nearest.at)),
                    }
                }
                for (other, wide, at) in found {
                    let (a, b) = (name(outline, index), name(outline, other));
                    let at_place = place(at);
                    let text = if wide < TOUCHING {
                        format!(
                            "{a} and {b} touch at {at_place}: nothing holds there; move them apart, or make them one"
                        )
                    } else {
                        format!(
                            "the web between {a} and {b} at {at_place} is {wide:.2} mm: under {least} mm it may burn away"
                        )
                    };
                    warn(warnings, WarningKind::ThinWeb, text, at, wide);
                }
            }
            Role::Part => neck(&name(outline, index), &l.path, least, warnings),
            Role::Open => {}
        }
    }
}

/// A part that falls in two, or away, when half the least web is taken off all round.
fn neck(what: &str, path: &Path, least: f64, warnings: &mut Vec<Warning>) {
    let falls = |d: f64| offset(path, Side::Inside, 0.5 * d).ok();
    let pieces = match falls(least) {
        Some(Offset::Several(pieces)) => pieces,
        Some(Offset::Vanished) => {
            let wide = 2.0 * inner_radius(path);
            let at = path.edges().first().map_or(Point::default(), Edge::from);
            let text = format!(
                "{what} at {} is nowhere wider than {wide:.2} mm: under {least} mm it may burn away",
                place(at)
            );
            warn(warnings, WarningKind::ThinWeb, text, at, wide);
            return;
        }
        _ => return,
    };
    let (mut holds, mut parts) = (0.0, least);
    for _ in 0..12 {
        let middle = 0.5 * (holds + parts);
        match falls(middle) {
            Some(Offset::One(_)) => holds = middle,
            _ => parts = middle,
        }
    }
    let between = |a: &Path, b: &Path| {
        let (a, b) = (a.edges(), b.edges());
        a.iter()
            .flat_map(|e| b.iter().map(move |f| nearest(e, f)))
            .min_by(|m, n| m.distance.total_cmp(&n.distance))
    };
    let at = match pieces.as_slice() {
        [first, second, ..] => between(first, second).map(|n| n.at),
        _ => None,
    };
    let at = at.unwrap_or_default();
    let text = format!(
        "{what} has a neck of {holds:.2} mm near {}: under {least} mm it may burn away",
        place(at)
    );
    warn(warnings, WarningKind::ThinWeb, text, at, holds);
}

fn small_holes(outline: &Outline, settings: &CutSettings, warnings: &mut Vec<Warning>) {
    let Some(thickness) = settings.thickness else {
        return;
    };
    let least = settings.hole_ratio * thickness;
    for (index, l) in outline
        .loops
        .iter()
        .enumerate()
        .filter(|(_, l)| l.role == Role::Hole)
    {
        let too_small = matches!(
            offset(&l.path, Side::Inside, 0.5 * least),
            Ok(Offset::Vanished)
        );
        if !too_small {
            continue;
        }
        let wide = 2.0 * inner_radius(&l.path);
        let at = Bounds::of_path(&l.path).map_or(Point::default(), |b| b.min.midpoint(b.max));
        let text = format!(
            "{} at {} is {wide:.2} mm wide: in {thickness} mm plate a hole under {least} mm comes out ragged; drill it",
            name(outline, index),
            place(at)
        );
        warn(warnings, WarningKind::SmallHole, text, at, wide);
    }
}

fn short_edges(outline: &Outline, settings: &CutSettings, warnings: &mut Vec<Warning>) {
    for (index, l) in outline.loops.iter().enumerate() {
        for (number, edge) in l.path.edges().iter().enumerate() {
            let length = edge.length();
            if length < settings.least_edge {
                let at = edge.point_at(0.5);
                let text = format!(
                    "edge {} of {} at {} is {length:.2} mm long: under {} mm the machine may not follow it",
                    number + 1,
                    name(outline, index),
                    place(at),
                    settings.least_edge
                );
                warn(warnings, WarningKind::ShortEdge, text, at, length);
            }
        }
    }
}

/// Paths that leave the plate; leads have been named where they were laid.
fn off_stock(cuts: &[Cut], outline: &Outline, settings: &CutSettings, warnings: &mut Vec<Warning>) {
    let Some(stock) = &settings.stock else { return };
    let mut border = stock.border.edges();
    border.extend(stock.openings.iter().flat_map(Path::edges));
    let mut said: Vec<usize> = Vec::new();
    for cut in cuts {
        let Some(edge) = cut.path.iter().find(|e| !on_plate(e, stock, &border, 0.0)) else {
            continue;
        };
        if said.contains(&cut.loop_index) {
            continue;
        }
        said.push(cut.loop_index);
        let at = edge.point_at(0.5);
        let text = format!(
            "the cut of {} leaves the stock near {}",
            name(outline, cut.loop_index),
            place(at)
        );
        warn(warnings, WarningKind::OffStock, text, at, cut.length);
    }
}

fn out_of_reach(cuts: &[Cut], settings: &CutSettings, warnings: &mut Vec<Warning>) {
    let Some((across, up)) = settings.reach else {
        return;
    };
    let mut over = 0.0_f64;
    let mut at = None;
    for edge in cuts.iter().flat_map(Cut::moves) {
        let b = Bounds::of_edge(edge);
        let worst = (-b.min.x)
            .max(-b.min.y)
            .max(b.max.x - across)
            .max(b.max.y - up);
        if worst > over {
            (over, at) = (worst, Some(edge.point_at(0.5)));
        }
    }
    if let Some(at) = at {
        let text = format!(
            "the torch would leave the machine's reach of {across} x {up} mm by {over:.1} mm near {}: move or turn the piece, \
             or say where the machine's zero lies (--zero)",
            place(at)
        );
        warn(warnings, WarningKind::OutOfReach, text, at, over);
    }
}
