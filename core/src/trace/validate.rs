//! The door: everything that later stages rely on is checked here, once, in one linear pass.
//!
//! After it every coordinate is finite and within [`limits::MAX_COORDINATE`], the counts are within
//! their limits, and there is something to read. Times are not checked: they are a help that
//! nothing relies on.

use super::Trace;
use crate::error::Refusal;
use crate::geom::Point;
use crate::limits;
use crate::settings::Settings;

/// Refuses a trace that no outline can be read from, with a sentence; `Ok` when it can go on.
pub(super) fn validate(trace: &Trace, settings: &Settings) -> Result<(), Refusal> {
    check_settings(settings)?;
    check_counts(trace)?;
    for (number, stroke) in trace.strokes.iter().enumerate() {
        let is_bad = |p: &Point| {
            !((p.x.abs() <= limits::MAX_COORDINATE) & (p.y.abs() <= limits::MAX_COORDINATE))
        };
        // Block by block without a way out in between: some of a block at once.
        let bad_block = |b: &[Point]| b.iter().fold(false, |bad, p| bad | is_bad(p));
        if stroke.points.chunks(256).any(bad_block)
            && let Some(index) = stroke.points.iter().position(is_bad)
        {
            let p = stroke.points.get(index).copied().unwrap_or_default();
            return Err(bad_point(number, index, p));
        }
    }
    check_extent(trace)
}

fn check_settings(settings: &Settings) -> Result<(), Refusal> {
    let lengths = [
        ("the spacing of stations", settings.station),
        ("the largest size of a mark", settings.mark_size),
    ];
    for (name, value) in lengths {
        if !(value.is_finite() && value > 0.0 && value <= limits::MAX_COORDINATE) {
            return Err(Refusal::Setting(format!(
                "{name} is {value} mm; it must be a length above zero"
            )));
        }
    }
    Ok(())
}

fn check_counts(trace: &Trace) -> Result<(), Refusal> {
    let limit = |what, value: usize, limit: usize| {
        (value > limit).then(|| Refusal::Limit {
            what,
            value: value.to_string(),
            limit: limit.to_string(),
        })
    };
    let strokes = limit(
        "the number of strokes",
        trace.strokes.len(),
        limits::MAX_STROKES,
    );
    let points = limit(
        "the number of points",
        trace.point_count(),
        limits::MAX_POINTS,
    );
    strokes.or(points).map_or(Ok(()), Err)
}

fn bad_point(stroke: usize, index: usize, p: Point) -> Refusal {
    let place = format!("point {} of stroke {}", index + 1, stroke + 1);
    if p.is_finite() {
        return Refusal::Limit {
            what: "a coordinate",
            value: format!("({}, {}) at {place}", p.x, p.y),
            limit: format!("{} mm", limits::MAX_COORDINATE),
        };
    }
    Refusal::Trace(format!(
        "{place} is ({}, {}), which is no place on the plate",
        p.x, p.y
    ))
}

/// One stroke of one or two points, or all points in one place: nothing to read. Touches in
/// strokes of their own are marks and always welcome when there are more than two.
fn check_extent(trace: &Trace) -> Result<(), Refusal> {
    if !trace.drawn.is_empty() {
        return Ok(());
    }
    let refuse = |text: &str| Err(Refusal::Trace(text.into()));
    let mut points = trace.strokes.iter().flat_map(|s| s.points.iter());
    let Some(&first) = points.next() else {
        return refuse("the trace has no points");
    };
    match trace.point_count() {
        1 => return refuse("the trace is one point: there is no outline to read"),
        2 => return refuse("the trace is two points: there is no outline to read"),
        _ => {}
    }
    if points.all(|&p| p == first) {
        return refuse("all points of the trace are the same: there is no outline to read");
    }
    Ok(())
}
