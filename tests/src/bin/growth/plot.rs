//! The picture of the growth: one panel for each axis, both scales logarithmic, the fitted slope
//! beside each line. Time is a full line with round dots, memory a dashed one with square dots.

use crate::Axis;
use core::fmt::Write as _;

const WIDTH: f64 = 330.0;
const HEIGHT: f64 = 250.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 20.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 40.0;
const COLUMNS: usize = 3;

const INK: &str = "#f4f6f7";
const FAINT: &str = "#8b9196";

/// All axes as one SVG.
pub fn drawn(axes: &[Axis]) -> String {
    let rows = axes.len().div_ceil(COLUMNS);
    let (w, h) = (WIDTH * COLUMNS as f64, HEIGHT * rows as f64);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" role=\"img\" \
         font-family=\"sans-serif\" font-size=\"11\" fill=\"{INK}\" \
         aria-label=\"Time and memory against points, edges, strokes, parts and files\">\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#3b3f42\"/>\n"
    );
    for (i, axis) in axes.iter().enumerate() {
        let (x, y) = (WIDTH * (i % COLUMNS) as f64, HEIGHT * (i / COLUMNS) as f64);
        let _ = writeln!(svg, "<g transform=\"translate({x},{y})\">");
        panel(&mut svg, axis);
        svg.push_str("</g>\n");
    }
    svg.push_str("</svg>\n");
    svg
}

/// A logarithmic scale over whole decades.
struct Scale {
    low: i32,
    high: i32,
    from: f64,
    to: f64,
}

impl Scale {
    fn over(values: impl Iterator<Item = f64>, from: f64, to: f64) -> Self {
        let (mut low, mut high) = (i32::MAX, i32::MIN);
        for l in values.filter(|v| *v > 0.0).map(libm::log10) {
            low = low.min(libm::floor(l) as i32);
            high = high.max(libm::ceil(l) as i32);
        }
        if low > high {
            (low, high) = (0, 1);
        }
        Self {
            low,
            high: high.max(low + 1),
            from,
            to,
        }
    }

    fn at(&self, value: f64) -> f64 {
        let share = (libm::log10(value) - f64::from(self.low)) / f64::from(self.high - self.low);
        self.from + share * (self.to - self.from)
    }
}

fn panel(svg: &mut String, axis: &Axis) {
    let (right, bottom) = (WIDTH - RIGHT, HEIGHT - BOTTOM);
    let across = Scale::over(axis.samples.iter().map(|s| s.size as f64), LEFT, right);
    let bytes = |s: &crate::Sample| s.bytes.map(|b| b as f64);
    // Memory of the moments alone is none at all: no line.
    let has_memory = axis.samples.iter().filter_map(bytes).any(|b| b > 0.0);
    let middle = if has_memory {
        0.5 * (TOP + bottom)
    } else {
        bottom
    };
    let _ = writeln!(
        svg,
        "<text x=\"{LEFT}\" y=\"18\" font-weight=\"bold\">{}: {}</text>",
        axis.what, axis.name
    );
    let times = Scale::over(axis.samples.iter().map(|s| s.seconds), middle - 6.0, TOP);
    ladder(svg, &times, |d| match d {
        ..-3 => format!("{} µs", tens(d + 6)),
        -3..0 => format!("{} ms", tens(d + 3)),
        _ => format!("{} s", tens(d)),
    });
    let points = axis.samples.iter().map(|s| (s.size as f64, s.seconds));
    course(svg, &across, &times, points, axis.of_time(), false);
    if has_memory {
        let memory = Scale::over(axis.samples.iter().filter_map(bytes), bottom, middle + 14.0);
        ladder(svg, &memory, |d| match d {
            ..3 => format!("{} B", tens(d)),
            3..6 => format!("{} kB", tens(d - 3)),
            6..9 => format!("{} MB", tens(d - 6)),
            _ => format!("{} GB", tens(d - 9)),
        });
        let samples = axis.samples.iter();
        let points = samples.filter_map(|s| Some((s.size as f64, bytes(s)?)));
        course(svg, &across, &memory, points, axis.exponent(bytes), true);
    }
    for d in across.low..=across.high {
        let x = across.at(libm::pow(10.0, f64::from(d)));
        let _ = writeln!(
            svg,
            "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
            bottom + 16.0,
            count(d)
        );
    }
}

fn ladder(svg: &mut String, scale: &Scale, name: impl Fn(i32) -> String) {
    for d in scale.low..=scale.high {
        let y = scale.at(libm::pow(10.0, f64::from(d)));
        let _ = writeln!(
            svg,
            "<path d=\"M{LEFT} {y:.1}H{:.1}\" stroke=\"{FAINT}\" stroke-width=\"0.4\"/>\
             <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
            WIDTH - RIGHT,
            LEFT - 6.0,
            y + 4.0,
            name(d)
        );
    }
}

fn course(
    svg: &mut String,
    across: &Scale,
    up: &Scale,
    points: impl Iterator<Item = (f64, f64)>,
    exponent: Option<f64>,
    dashed: bool,
) {
    let places: Vec<(f64, f64)> = points
        .filter(|p| p.1 > 0.0)
        .map(|(x, y)| (across.at(x), up.at(y)))
        .collect();
    let line: Vec<String> = places
        .iter()
        .map(|(x, y)| format!("{x:.1},{y:.1}"))
        .collect();
    let dash = if dashed {
        " stroke-dasharray=\"5 3\""
    } else {
        ""
    };
    let _ = writeln!(
        svg,
        "<polyline fill=\"none\" stroke=\"{INK}\" stroke-width=\"1.4\"{dash} points=\"{}\"/>",
        line.join(" ")
    );
    for (x, y) in &places {
        let _ = if dashed {
            writeln!(
                svg,
                "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"4.6\" height=\"4.6\"/>",
                x - 2.3,
                y - 2.3
            )
        } else {
            writeln!(svg, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"2.6\"/>")
        };
    }
    let what = if dashed { "memory" } else { "time" };
    // Lines rise: below their right end there is room.
    if let Some(e) = exponent {
        let _ = writeln!(
            svg,
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{what} ~ n<tspan dy=\"-4\" font-size=\"8\">{e:.2}</tspan></text>",
            WIDTH - RIGHT - 4.0,
            up.from - 6.0
        );
    }
}

fn tens(d: i32) -> String {
    match d {
        0.. => "1".to_owned() + &"0".repeat(d.unsigned_abs() as usize),
        _ => format!("{}", libm::pow(10.0, f64::from(d))),
    }
}

fn count(d: i32) -> String {
    match d {
        ..3 => tens(d),
        3..6 => tens(d - 3) + " k",
        _ => tens(d - 6) + " M",
    }
}
