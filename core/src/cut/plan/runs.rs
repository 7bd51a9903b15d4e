//! From the outline to the torch's paths before they get their leads: each loop moved beside itself by half the kerf,
//! on its way round, outsides parted by bridges.

use super::{Warning, WarningKind, met, name};
use crate::Refusal;
use crate::cut::kerf::{self, Crossing, Offset, Side};
use crate::cut::lead::Waste;
use crate::cut::settings::{CutSettings, Way};
use crate::cut::{bridge, checks, course};
use crate::geom::{Edge, Point};
use crate::outline::nesting::parents;
use crate::outline::{Bounds, Loop, Outline, Path, Role};

/// One path before leads: of which loop, which way the waste lies, where.
pub(super) struct Run {
    pub loop_index: usize,
    pub role: Role,
    pub edges: Vec<Edge>,
    pub waste: Waste,
    pub closed: bool,
    /// A lead-out is wanted: outsides only.
    pub out: bool,
}

pub(super) fn runs(
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) -> Result<Vec<Run>, Refusal> {
    let half = 0.5 * settings.kerf;
    let mut all = Vec::new();
    for (index, l) in outline.loops.iter().enumerate() {
        let side = match l.role {
            Role::Part => Side::Outside,
            Role::Hole => Side::Inside,
            Role::Open => {
                all.push(open_run(index, l, outline, settings, warnings));
                continue;
            }
        };
        let what = name(outline, index);
        let moved = kerf::offset(&l.path, side, half).map_err(|c| crossing(&what, c))?;
        tell_offset(&what, &l.path, side, &moved, settings, warnings);
        for (k, path) in moved.into_loops().into_iter().enumerate() {
            // Behind a closed mouth the waste lies inside, as in a hole.
            let pocket = side == Side::Outside && k > 0;
            all.push(closed_run(index, l.role, &path, pocket, settings));
        }
    }
    Ok(all)
}

fn open_run(
    index: usize,
    l: &Loop,
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) -> Run {
    let edges = met::carried_on(index, l, outline, settings, warnings);
    let at = edges.first().map_or(Point::default(), Edge::from);
    warnings.push(Warning {
        kind: WarningKind::OpenPath,
        text: format!(
            "{} from ({:.1}, {:.1}) mm is cut along itself, without kerf offset and without leads",
            name(outline, index),
            at.x,
            at.y
        ),
        at: Some(at),
        size: Some(course::length(&edges)),
    });
    Run {
        loop_index: index,
        role: Role::Open,
        edges,
        waste: Waste::Left,
        closed: false,
        out: false,
    }
}

fn closed_run(index: usize, role: Role, path: &Path, pocket: bool, settings: &CutSettings) -> Run {
    let inner = role == Role::Hole || pocket;
    let way = if inner {
        settings.outside.other()
    } else {
        settings.outside
    };
    let counter_clockwise = way == Way::CounterClockwise;
    // The waste of an outside lies outside: left of a clockwise run. Of a hole, the other way about.
    let waste = if inner == counter_clockwise {
        Waste::Left
    } else {
        Waste::Right
    };
    Run {
        loop_index: index,
        role,
        edges: course::turning(path, counter_clockwise),
        waste,
        closed: true,
        out: !inner,
    }
}

fn crossing(what: &str, c: Crossing) -> Refusal {
    Refusal::Trace(match c {
        Crossing::At(p) => format!(
            "{what} crosses or touches itself at ({:.2}, {:.2}) mm: it cannot be cut as it is",
            p.x, p.y
        ),
        Crossing::Flat(p) => format!(
            "{what} at ({:.2}, {:.2}) mm encloses nothing: it cannot be cut",
            p.x, p.y
        ),
    })
}

/// Says what the kerf did to a loop besides moving it.
fn tell_offset(
    what: &str,
    path: &Path,
    side: Side,
    moved: &Offset,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) {
    let middle = Bounds::of_path(path).map_or(Point::default(), |b| b.min.midpoint(b.max));
    let kerf = settings.kerf;
    let (kind, text, size) = match (side, moved) {
        (Side::Inside, Offset::Vanished) => {
            let wide = 2.0 * checks::inner_radius(path);
            let text = format!(
                "{what} at ({:.1}, {:.1}) mm is {wide:.2} mm wide, no wider than the kerf of {kerf} mm: it is not cut",
                middle.x, middle.y
            );
            (WarningKind::Swallowed, text, wide)
        }
        (Side::Inside, Offset::Several(loops)) => {
            let text = format!(
                "{what} at ({:.1}, {:.1}) mm has places narrower than the kerf of {kerf} mm: it is cut as {} openings",
                middle.x,
                middle.y,
                loops.len()
            );
            (WarningKind::Split, text, kerf)
        }
        _ => return,
    };
    warnings.push(Warning {
        kind,
        text,
        at: Some(middle),
        size: Some(size),
    });
}

/// Outsides parted by bridges where asked, the gaps that stay, and what is to be said of them.
pub(super) fn bridged(
    runs: Vec<Run>,
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) -> (Vec<Run>, Vec<Edge>) {
    if settings.bridges == 0 {
        return (runs, Vec::new());
    }
    let metal = settings.bridge_metal();
    let (mut all, mut gaps) = (Vec::new(), Vec::new());
    let open = runs.iter().filter(|r| r.role == Role::Open);
    let open: Vec<Edge> = open.flat_map(|r| r.edges.iter().copied()).collect();
    let loops = outline.loops.iter().zip(parents(&outline.loops));
    let of_parts = loops.filter(|(l, _)| l.role == Role::Part);
    let holding: Vec<usize> = of_parts
        .flat_map(|(_, around)| around.unwrap_or_default())
        .filter(|i| outline.loops.get(*i).is_some_and(|l| l.role == Role::Hole))
        .collect();
    let mut warn = |kind, text: String, at: Option<Point>| {
        warnings.push(Warning {
            kind,
            text,
            at,
            size: Some(metal),
        });
    };
    for run in runs {
        // What falls out of a hole takes a part with it that hangs on it by bridges.
        let holds = run.closed && holding.contains(&run.loop_index);
        if !run.out && !holds {
            all.push(run);
            continue;
        }
        let gap = metal + settings.kerf;
        let mouths = bridge::mouths(&run.edges, &open, gap);
        let parts = bridge::stretches(&run.edges, settings.bridges, gap, &mouths);
        let what = name(outline, run.loop_index);
        let at = run.edges.first().map(Edge::from);
        if parts.gaps.is_empty() {
            let text = format!(
                "{what} is too small for a bridge of {metal} mm beside a kerf of {} mm: nothing holds it; ask for narrower \
                 ones or for none",
                settings.kerf
            );
            warn(WarningKind::WeakBridge, text, at);
            all.push(run);
            continue;
        }
        if parts.stretches.len() < settings.bridges {
            let text = format!(
                "{what} is too small for {} bridges: it gets {}",
                settings.bridges,
                parts.stretches.len()
            );
            warn(WarningKind::FewBridges, text, at);
        }
        if let Some(mouth) = parts
            .gaps
            .iter()
            .find_map(|g| bridge::cut_by(g, &open, settings.kerf))
        {
            let text = format!(
                "a bridge of {what} lies where an open line ends or crosses, which cuts it: ask for another number of \
                 bridges (--bridges)"
            );
            warn(WarningKind::WeakBridge, text, Some(mouth));
        }
        gaps.extend(parts.gaps);
        all.extend(parts.stretches.into_iter().map(|edges| Run {
            edges,
            closed: false,
            out: false,
            ..run
        }));
    }
    if !outline.loops.iter().any(|l| l.role == Role::Part) {
        let text = "bridges hold parts in the sheet, and here is none, only what is cut out of it: what is inside the \
                    openings falls; leave bridges out, or say which side is kept (--keep inside)";
        warn(WarningKind::WeakBridge, text.to_owned(), None);
    }
    let least = settings.least_bridge();
    if let (Some(gap), true) = (gaps.first(), metal < least) {
        let text = format!(
            "bridges of {metal} mm melt through beside the cut, and the pieces fall: make them {least:.1} mm or wider \
             (--bridge-width)"
        );
        warn(WarningKind::WeakBridge, text, Some(gap.point_at(0.5)));
    }
    (all, gaps)
}
