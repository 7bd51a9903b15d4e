//! Touches of known points as rows.
//!
//! A header names the columns, in any order; `#` starts a comment line:
//!
//! * `known_x,known_y`: the known place, mm, in the frame of its ruler, grid or pattern;
//! * `reported_x,reported_y`: where the machine believes the tip to be, mm, **or**
//! * `joint1_deg,joint2_deg`: its joint angles, degrees;
//! * `tip`: which tip touched (any name of the profile; default `tip`);
//! * `placement`: which laying of the ruler or pattern (any label; default all one).

use crate::Refusal;
use crate::geom::Point;
use crate::machine::{Joints, Reported, Touch};

/// Name of the tip where the rows name none.
pub const TIP: &str = "tip";

/// Reads touches; `tip` is the name of the tip where the rows name none.
///
/// # Errors
/// Names the line and what is wrong with it.
pub fn read(bytes: &[u8], tip: &str) -> Result<Vec<Touch>, Refusal> {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let mut rows = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(bytes);
    let broken = |e: &csv::Error| {
        let line = e.position().map_or(1, csv::Position::line);
        Refusal::Line {
            line: usize::try_from(line).unwrap_or(usize::MAX),
            problem: "this row cannot be read as text".into(),
        }
    };
    let head = rows.headers().map_err(|e| broken(&e))?.clone();
    let column = |name: &str| head.iter().position(|h| h.eq_ignore_ascii_case(name));
    let need = |name: &str| {
        column(name).ok_or_else(|| {
            Refusal::File(format!("the header names no column {name}; wanted are known_x,known_y and reported_x,reported_y or joint1_deg,joint2_deg"))
        })
    };
    let known = [need("known_x")?, need("known_y")?];
    let by_joints = column("joint1_deg").is_some();
    let reported = if by_joints {
        [need("joint1_deg")?, need("joint2_deg")?]
    } else {
        [need("reported_x")?, need("reported_y")?]
    };
    let (tips, placements) = (column("tip"), column("placement"));
    let mut touches = Vec::new();
    for row in rows.records() {
        let row = row.map_err(|e| broken(&e))?;
        let line = row.position().map_or(0, csv::Position::line);
        let figure = |at: usize| -> Result<f64, Refusal> {
            let text = row.get(at).unwrap_or("");
            let value = text.parse().ok().filter(|v: &f64| v.is_finite());
            value.ok_or_else(|| Refusal::Line {
                line: usize::try_from(line).unwrap_or(usize::MAX),
                problem: format!(
                    "{} is \"{text}\": that is no number",
                    head.get(at).unwrap_or("a column")
                ),
            })
        };
        let pair = |[x, y]: [usize; 2]| Ok((figure(x)?, figure(y)?));
        let (x, y) = pair(known)?;
        let (a, b) = pair(reported)?;
        let label = |at: Option<usize>| at.and_then(|i| row.get(i)).filter(|l| !l.is_empty());
        touches.push(Touch {
            known: Point::new(x, y),
            reported: if by_joints {
                Reported::Joints(Joints {
                    first: a.to_radians(),
                    second: b.to_radians(),
                })
            } else {
                Reported::Place(Point::new(a, b))
            },
            tip: label(tips).unwrap_or(tip).to_owned(),
            placement: label(placements).unwrap_or("").to_owned(),
        });
        if touches.len() > crate::machine::calibrate::MAX_TOUCHES {
            break;
        }
    }
    Ok(touches)
}
