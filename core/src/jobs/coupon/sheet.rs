//! The sheet that is filled in at the bench: rows of `what,value`, with what the coupon was cut with.

use super::{CouponMeasured, CouponSettings};
use crate::Refusal;
use crate::cut::CutSettings;
use crate::units::Units;

/// Most lines of a sheet.
const MOST_LINES: usize = 500;

/// The blank sheet to fill in, in the person's unit; it carries the ladder and the figures of the book.
#[must_use]
pub fn sheet(s: &CouponSettings, cut: &CutSettings, feeds: &[f64], units: Units) -> String {
    let figure = |mm: f64| libm::round(mm / units.in_mm() * 1e4) / 1e4;
    let unit = units.name();
    let mut out = format!(
        "# Measurements on a coupon. Write the figures after the commas; leave out what was not measured.\n\
         # Lengths in {unit}. Count a rung by the notches below it.\n#\n"
    );
    for (i, feed) in feeds.iter().enumerate() {
        out.push_str(&format!("# rung {}: {} {unit}/min\n", i + 1, figure(*feed)));
    }
    out.push_str(&format!(
        "what,value\nunits,{unit}\nfeed_from,{}\nfeed_to,{}\nrungs,{}\n\
         # what it was cut with, from the cutter's own book\nkerf,{}\npierce,{}\nthickness,{}\n\
         # the rung with the least dross and the straightest face\nrung,\n\
         # width of the single slot; side of the plug that fell out; side of the hole it left\nslot,\nplug,\nhole,\n\
         # the square: four sides, then the diagonals from bottom left and from bottom right\n\
         bottom,\nright,\ntop,\nleft,\nrising,\nfalling,\n\
         # how far one reading of your calipers may be off\ncaliper,{}\n",
        figure(s.feed_from),
        figure(s.feed_to),
        s.rungs,
        figure(cut.kerf),
        cut.pierce,
        cut.thickness.map_or(String::new(), |t| figure(t).to_string()),
        figure(0.05)
    ));
    out
}

/// Reads a filled-in sheet.
///
/// # Errors
/// Names the line that is no measurement.
pub fn read_sheet(text: &str) -> Result<(CouponMeasured, Option<CouponSettings>), Refusal> {
    let mut m = CouponMeasured {
        caliper: 0.05,
        ..CouponMeasured::default()
    };
    let mut square: [Option<f64>; 6] = [None; 6];
    let (mut from, mut to, mut rungs) = (None, None, None);
    let mut unit = 1.0;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    for (i, line) in text.lines().enumerate() {
        let bad = |problem: String| Refusal::Line {
            line: i + 1,
            problem,
        };
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') || line == "what,value" {
            continue;
        }
        if i > MOST_LINES {
            return Err(bad(
                "this is no sheet of measurements: it is too long".into()
            ));
        }
        let (what, value) = line
            .split_once(',')
            .ok_or_else(|| bad(format!("\"{line}\" is no row of what,value")))?;
        let (what, value) = (what.trim(), value.trim());
        if value.is_empty() {
            continue;
        }
        if what == "units" {
            unit = Units::from_name(value)
                .ok_or_else(|| bad(format!("\"{value}\" is no unit; write mm or in")))?
                .in_mm();
            continue;
        }
        let figure: f64 = value
            .parse()
            .ok()
            .filter(|v: &f64| v.is_finite())
            .ok_or_else(|| bad(format!("{what} is \"{value}\": that is no number")))?;
        let whole = || {
            let fine = (1.0..=100.0).contains(&figure) && figure == libm::floor(figure);
            fine.then_some(figure as usize)
                .ok_or_else(|| bad(format!("{what} is {value}: it must be a whole number")))
        };
        let mm = figure * unit;
        let names = ["bottom", "right", "top", "left", "rising", "falling"];
        match what {
            "feed_from" => from = Some(mm),
            "feed_to" => to = Some(mm),
            "rungs" => rungs = Some(whole()?),
            "kerf" => m.cut_with.kerf = Some(mm),
            "pierce" => m.cut_with.pierce = Some(figure),
            "thickness" => m.cut_with.thickness = Some(mm),
            "rung" => m.rung = Some(whole()?),
            "slot" => m.slot = Some(mm),
            "plug" => m.plug = Some(mm),
            "hole" => m.hole = Some(mm),
            "caliper" => m.caliper = mm,
            _ => {
                let place = names.iter().position(|n| *n == what);
                let slot = place.and_then(|p| square.get_mut(p)).ok_or_else(|| {
                    bad(format!(
                        "\"{what}\" is nothing that is measured on a coupon"
                    ))
                })?;
                *slot = Some(mm);
            }
        }
    }
    if let [Some(a), Some(b), Some(c), Some(d), Some(e), Some(f)] = square {
        (m.sides, m.diagonals) = (Some([a, b, c, d]), Some([e, f]));
    } else if square.iter().any(Option::is_some) {
        return Err(Refusal::File(
            "squareness needs all of bottom, right, top, left, rising, falling".into(),
        ));
    }
    let ladder = match (from, to, rungs) {
        (Some(feed_from), Some(feed_to), Some(rungs)) => Some(CouponSettings {
            feed_from,
            feed_to,
            rungs,
        }),
        _ => None,
    };
    Ok((m, ladder))
}
