//! From what was read of several inputs to one plan.
//!
//! What came from one input is a [`Group`]: its loops and marks lie to one another as they were traced, and
//! are moved, turned and copied together. A round opening without its bolt holes, or a hole without the slit
//! beside it, would be another part. Where no stock and no copies are asked for, all groups stay where they
//! were traced.

use super::layout::{Layout, Placement, Spacing, Turns, layout};
use super::plan::roles::{holes_astray, marks_beside, marks_swallowing};
use super::plan::{Plan, plan, with_marks};
use super::ranges::MOST_COPIES;
use super::settings::CutSettings;
use super::stock::Stock;
use crate::Refusal;
use crate::geom::near::inside;
use crate::geom::{Edge, Point, Vec2};
use crate::outline::nesting::parents;
use crate::outline::{Bounds, Outline, Role};
use crate::reading::Trued;
use crate::report::{About, Doubt};

/// What came of one input.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Group {
    /// What it is called where there are several.
    pub name: String,
    /// Its loops and marks.
    pub outline: Outline,
    /// What may be wrong with them.
    pub doubts: Vec<Doubt>,
}

impl From<Outline> for Group {
    fn from(outline: Outline) -> Self {
        Self {
            outline,
            ..Self::default()
        }
    }
}

impl From<&Trued> for Group {
    fn from(read: &Trued) -> Self {
        Self {
            name: String::new(),
            outline: read.outline.clone(),
            doubts: read.report.doubts.clone(),
        }
    }
}

/// How copies are to lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lay {
    /// Copies of every group.
    pub copies: usize,
    /// Metal between two groups besides the kerf, mm; `None` leaves room for the leads, and less where
    /// a group would otherwise have no place at all.
    pub gap: Option<f64>,
    /// Which turns are allowed.
    pub turns: Turns,
}

/// A plan and where its groups lie.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// The plan; none where no group fits on the stock.
    pub plan: Option<Plan>,
    /// Which copy of which group lies where.
    pub layout: Layout,
}

/// Doubts nearer than this to one another, mm, are about one thing.
const TOLD: f64 = 0.1;

/// The parts of an outline as groups of their own: each outermost loop with all that lies inside it. What
/// lies outside every loop is one group more.
#[must_use]
pub fn pieces(outline: &Outline) -> Vec<Outline> {
    let around = parents(&outline.loops);
    let around = |i: usize| around.get(i).and_then(Option::as_ref);
    let outermost: Vec<usize> = (0..outline.loops.len())
        .filter(|&i| around(i).is_some_and(Vec::is_empty))
        .collect();
    let borders: Vec<Vec<Edge>> = outermost
        .iter()
        .filter_map(|&i| outline.loops.get(i).map(|l| l.path.edges()))
        .collect();
    let mut all: Vec<Outline> = vec![Outline::default(); borders.len() + 1];
    let owner = |p: Point| borders.iter().position(|b| inside(b, p));
    for (i, l) in outline.loops.iter().enumerate() {
        let own = outermost
            .iter()
            .position(|&o| o == i || around(i).is_some_and(|a| a.contains(&o)));
        let by_place = || l.path.edges().first().and_then(|e| owner(e.point_at(0.5)));
        let piece = own.or_else(by_place).unwrap_or(borders.len());
        if let Some(piece) = all.get_mut(piece) {
            piece.loops.push(l.clone());
        }
    }
    for mark in &outline.marks {
        if let Some(piece) = all.get_mut(owner(mark.at).unwrap_or(borders.len())) {
            piece.marks.push(*mark);
        }
    }
    all.retain(|piece| !(piece.loops.is_empty() && piece.marks.is_empty()));
    all
}

/// Plans the cuts of all groups: where they were traced, or laid out.
///
/// Without a stock in the settings copies go on a square large enough for all of them.
///
/// # Errors
/// What [`layout`] and [`plan`] refuse.
pub fn job(groups: &[Group], lay: Option<Lay>, settings: &CutSettings) -> Result<Job, Refusal> {
    let groups: Vec<Group> = groups.iter().map(|g| ready(g, settings)).collect();
    let layout = match lay {
        Some(lay) => laid(&groups, lay, settings)?,
        None => in_place(&groups),
    };
    let plan = match layout.placements.is_empty() {
        true => None,
        false => Some(as_laid(&groups, &layout, settings)?),
    };
    Ok(Job { plan, layout })
}

/// Plans the cuts of groups that have been laid out already.
///
/// # Errors
/// What [`plan`] refuses.
pub fn planned(groups: &[Group], layout: &Layout, settings: &CutSettings) -> Result<Plan, Refusal> {
    let groups: Vec<Group> = groups.iter().map(|g| ready(g, settings)).collect();
    as_laid(&groups, layout, settings)
}

fn as_laid(groups: &[Group], layout: &Layout, settings: &CutSettings) -> Result<Plan, Refusal> {
    let mut all = Outline::default();
    for placement in &layout.placements {
        if let Some(group) = groups.get(placement.piece) {
            let mut moved = placement.apply(&group.outline);
            all.loops.append(&mut moved.loops);
            all.marks.append(&mut moved.marks);
        }
    }
    // Each group has had its sides settled by itself.
    let settings = CutSettings {
        keep: None,
        ..settings.clone()
    };
    let mut plan = plan(&all, &settings)?;
    let mut doubts = carried(groups, layout);
    if let Some(n) = layout.asked.iter().max().filter(|n| **n > MOST_COPIES) {
        let text = format!(
            "{n} copies are asked for: more than {MOST_COPIES} are hardly laid on one plate"
        );
        doubts.push(Doubt::new(About::Machine, text));
    }
    doubts.append(&mut plan.doubts);
    plan.doubts = doubts;
    let names: Vec<&str> = groups.iter().map(|g| g.name.as_str()).collect();
    plan.tell_layout(layout, &names);
    Ok(plan)
}

/// The group as it is cut: kept side and holes settled, since its shape on the stock depends on them.
fn ready(group: &Group, settings: &CutSettings) -> Group {
    let outline = match settings.keep {
        Some(keep) => keep.apply(&group.outline),
        None => group.outline.clone(),
    };
    let beside = match settings.keep {
        Some(_) => None,
        None => marks_beside(&outline),
    };
    let swallowing = marks_swallowing(&outline, settings);
    let mut astray = match settings.keep {
        Some(_) => Vec::new(),
        None => holes_astray(&outline),
    };
    // What the reading has told of a place is not told again.
    let near = |at: Point| move |d: &Doubt| d.at.is_some_and(|p| p.distance(at) < TOLD);
    astray.retain(|d| !d.at.is_some_and(|at| group.doubts.iter().any(near(at))));
    let told = beside.into_iter().chain(swallowing).chain(astray);
    Group {
        doubts: group.doubts.iter().cloned().chain(told).collect(),
        outline: with_marks(outline, settings),
        name: group.name.clone(),
    }
}

/// What was doubtful before is so after, at the place where the group lies first.
fn carried(groups: &[Group], layout: &Layout) -> Vec<Doubt> {
    let mut all = Vec::new();
    for (i, group) in groups.iter().enumerate() {
        let place = layout.placements.iter().find(|p| p.piece == i);
        let named = groups.len() > 1 && !group.name.is_empty();
        all.extend(group.doubts.iter().map(|d| Doubt {
            text: match named {
                true => format!("{}: {}", group.name, d.text),
                false => d.text.clone(),
            },
            at: d.at.map(|at| place.map_or(at, |p| p.carry(at))),
            about: d.about,
        }));
    }
    all
}

/// Every group where it was traced.
fn in_place(groups: &[Group]) -> Layout {
    Layout {
        placements: (0..groups.len()).map(Placement::of).collect(),
        ..Layout::default()
    }
}

fn laid(groups: &[Group], lay: Lay, settings: &CutSettings) -> Result<Layout, Refusal> {
    let all: Vec<(Outline, usize)> = groups
        .iter()
        .map(|g| (g.outline.clone(), lay.copies))
        .collect();
    if let ([(only, 1)], Some(stock)) = (all.as_slice(), &settings.stock)
        && stays(only, stock, 0.5 * settings.kerf)
    {
        return Ok(in_place(groups));
    }
    let leads = settings.lead_length();
    let gaps = match lay.gap {
        Some(gap) => vec![gap],
        None => vec![leads, 0.5 * leads, 0.25 * leads, 0.0],
    };
    let mut found = Layout::default();
    let spaced = |gap: f64| Spacing {
        between: settings.kerf + gap,
        edge: settings.kerf + gap,
    };
    for gap in &gaps {
        let spacing = spaced(*gap);
        found = match &settings.stock {
            Some(stock) => layout(&all, stock, spacing, lay.turns)?,
            None => on_a_square(&all, spacing, lay.turns)?,
        };
        if found.fits.iter().all(|fits| *fits > 0) {
            break;
        }
    }
    let least = spaced(gaps.last().copied().unwrap_or_default());
    if let Some(stock) = settings.stock.as_ref().filter(|_| all.len() > 1) {
        for (i, (outline, _)) in all.iter().enumerate() {
            let alone = [(outline.clone(), 1)];
            if found.fits.get(i) == Some(&0)
                && layout(&alone, stock, least, lay.turns)?.fits_in_all() > 0
            {
                found.crowded_out.push(i);
            }
        }
    }
    Ok(found)
}

/// Openings have their place in the sheet: they stay there where the stock holds them. A part is laid as near
/// to the stock's corner as it goes.
fn stays(group: &Outline, stock: &Stock, room: f64) -> bool {
    let loops = &group.loops;
    !loops.is_empty()
        && loops.iter().all(|l| l.role != Role::Part)
        && loops
            .iter()
            .flat_map(|l| l.path.edges())
            .all(|e| stock.holds(&e, room))
}

fn on_a_square(
    all: &[(Outline, usize)],
    spacing: Spacing,
    turns: Turns,
) -> Result<Layout, Refusal> {
    let room = |o: &Outline| {
        Bounds::of_outline(o).map_or(Vec2::default(), |b| {
            Vec2::new(b.width() + spacing.between, b.height() + spacing.between)
        })
    };
    let area: f64 = all
        .iter()
        .map(|(o, n)| room(o).x * room(o).y * *n as f64)
        .sum();
    let largest = all
        .iter()
        .map(|(o, _)| room(o).x.max(room(o).y))
        .fold(0.0, f64::max);
    let mut side = area.sqrt().max(largest) + 2.0 * spacing.edge;
    loop {
        let found = layout(all, &Stock::rectangle(side, side)?, spacing, turns)?;
        if found.fits_in_all() == found.asked_in_all() {
            return Ok(found);
        }
        side *= 1.15;
    }
}
