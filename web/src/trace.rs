//! Traces as typed arrays: a long one is a million small objects otherwise.

use js_sys::{Float64Array, Object, Reflect, Uint32Array};
use trued::cut::Figures;
use trued::{Hint, Point, Refusal, Settings, Stroke, Trace};
use wasm_bindgen::prelude::*;

/// A file's content on its way to the page.
#[derive(Default)]
pub struct Opened {
    /// What it was.
    pub kind: &'static str,
    /// Its trace.
    pub trace: Trace,
    /// How it is to be read, where a job says so.
    pub settings: Option<Settings>,
    /// What was said of it.
    pub hints: Vec<Hint>,
    /// How it is to be cut, where a job says so.
    pub cut: Option<Figures>,
    /// A job's stock as it was traced.
    pub scrap: Option<Trace>,
}

/// A trace taken apart.
struct Arrays {
    points: Vec<f64>,
    starts: Vec<u32>,
    times: Vec<f64>,
}

/// Strokes from `x, y` by turns, the number of each stroke's first point, and times.
pub fn from_arrays(points: &[f64], starts: &[u32], times: &[f64]) -> Result<Trace, Refusal> {
    let count = points.len() / 2;
    let unfit = |what: &str| Refusal::Trace(format!("the page's {what} do not fit together"));
    if !points.len().is_multiple_of(2) || !(times.is_empty() || times.len() == count) {
        return Err(unfit("points and times"));
    }
    let mut strokes = Vec::with_capacity(starts.len());
    for (i, &start) in starts.iter().enumerate() {
        let start = start as usize;
        let end = starts.get(i + 1).map_or(count, |&e| e as usize);
        let run = points.get(2 * start..2 * end);
        let run = run.ok_or_else(|| unfit("strokes and points"))?;
        let clock = times.get(start..end).unwrap_or_default();
        strokes.push(Stroke {
            points: run.as_chunks().0.iter().map(|&p| Point::from(p)).collect(),
            times: if clock.iter().all(|t| t.is_finite()) {
                clock.to_vec()
            } else {
                Vec::new()
            },
        });
    }
    Ok(Trace {
        strokes,
        drawn: Vec::new(),
    })
}

fn arrays(trace: &Trace) -> Arrays {
    let count = trace.point_count();
    let timed = trace.strokes.iter().any(|s| !s.times.is_empty());
    let mut points = Vec::with_capacity(2 * count);
    let mut starts = Vec::with_capacity(trace.strokes.len());
    let mut times = Vec::with_capacity(if timed { count } else { 0 });
    for stroke in &trace.strokes {
        // At most `MAX_POINTS`, which is far below what an u32 counts.
        starts.push(u32::try_from(points.len() / 2).unwrap_or(u32::MAX));
        points.extend(stroke.points.iter().flat_map(|p| [p.x, p.y]));
        if timed && stroke.times.len() == stroke.points.len() {
            times.extend(&stroke.times);
        } else if timed {
            times.extend(stroke.points.iter().map(|_| f64::NAN));
        }
    }
    Arrays {
        points,
        starts,
        times,
    }
}

fn put(object: &Object, key: &str, value: &JsValue) -> Result<(), JsError> {
    Reflect::set(object, &key.into(), value)
        .map(|_| ())
        .map_err(|_| JsError::new("the page refused an object"))
}

/// Puts a trace into an object of the page.
fn put_trace(object: &Object, trace: &Trace) -> Result<(), JsError> {
    let arrays = arrays(trace);
    put(
        object,
        "points",
        &Float64Array::from(arrays.points.as_slice()),
    )?;
    put(
        object,
        "starts",
        &Uint32Array::from(arrays.starts.as_slice()),
    )?;
    put(
        object,
        "times",
        &Float64Array::from(arrays.times.as_slice()),
    )?;
    put(object, "drawn", &super::given(&trace.drawn)?)
}

/// What was opened as an object of the page, with the file's notes and doubts.
pub fn to_object(
    opened: &Opened,
    (notes, doubts): (JsValue, JsValue),
    inches: bool,
) -> Result<JsValue, JsError> {
    let object = Object::new();
    put(&object, "kind", &opened.kind.into())?;
    put_trace(&object, &opened.trace)?;
    put(&object, "settings", &super::given(&opened.settings)?)?;
    put(&object, "hints", &super::given(&opened.hints)?)?;
    put(&object, "cut", &super::given(&opened.cut)?)?;
    let scrap = match &opened.scrap {
        Some(trace) => {
            let scrap = Object::new();
            put_trace(&scrap, trace)?;
            scrap.into()
        }
        None => JsValue::NULL,
    };
    put(&object, "scrap", &scrap)?;
    put(&object, "notes", &notes)?;
    put(&object, "doubts", &doubts)?;
    put(&object, "inches", &inches.into())?;
    Ok(object.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arrays_and_strokes_are_the_same_trace() {
        let timed = Stroke {
            points: vec![Point::new(0.0, 1.0), Point::new(2.0, 3.0)],
            times: vec![0.0, 0.1],
        };
        let plain = Stroke::new(vec![Point::new(4.0, 5.0)]);
        let trace = Trace {
            strokes: vec![timed, plain],
            drawn: Vec::new(),
        };
        let arrays = arrays(&trace);
        assert_eq!(arrays.starts, [0, 2]);
        let back = from_arrays(&arrays.points, &arrays.starts, &arrays.times);
        assert_eq!(back.ok(), Some(trace));
    }

    #[test]
    fn arrays_that_do_not_fit_are_refused() {
        assert!(from_arrays(&[0.0; 3], &[0], &[]).is_err());
        assert!(from_arrays(&[0.0; 4], &[0], &[0.0]).is_err());
        assert!(from_arrays(&[0.0; 4], &[0, 3], &[]).is_err());
        assert!(from_arrays(&[0.0; 4], &[1, 0], &[]).is_err());
    }
}
