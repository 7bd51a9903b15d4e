//! What a shape is painted with, as far as it tells whether anything of the shape shows.
//!
//! A shape shows by its inside or by its line. Either shows nothing where its paint is `none`, where it lets
//! everything through, and a line also where it has no width (the standard, "Painting"): programs leave such
//! shapes behind as areas to click on, and nobody means to cut them.

use super::style::Style;
use crate::format::drawing::Inside;
use crate::format::numbers;

/// What is painted with from here on down, where it is said.
#[derive(Clone, Copy, Default)]
pub(super) struct Paint<'a> {
    pub(super) fill: Option<&'a str>,
    pub(super) fill_rule: Option<&'a str>,
    stroke: Option<&'a str>,
    fill_opacity: Option<&'a str>,
    stroke_opacity: Option<&'a str>,
    stroke_width: Option<&'a str>,
    dashes: Option<&'a str>,
    /// At the first, the middle and the last corner.
    pub(super) markers: [Option<&'a str>; 3],
}

impl<'a> Paint<'a> {
    /// What an element's style makes of what it inherits.
    pub(super) fn under(&self, style: &Style<'a>) -> Self {
        let said = |name: &str, from| style.get(name).filter(|v| *v != "inherit").or(from);
        let marker = |name: &str, from| said(name, said("marker", from));
        Self {
            fill: said("fill", self.fill),
            fill_rule: said("fill-rule", self.fill_rule),
            stroke: said("stroke", self.stroke),
            fill_opacity: said("fill-opacity", self.fill_opacity),
            stroke_opacity: said("stroke-opacity", self.stroke_opacity),
            stroke_width: said("stroke-width", self.stroke_width),
            dashes: said("stroke-dasharray", self.dashes),
            markers: [
                marker("marker-start", self.markers[0]),
                marker("marker-mid", self.markers[1]),
                marker("marker-end", self.markers[2]),
            ],
        }
    }

    /// Nothing of a shape shows. That a mere line is not painted unless it is said is passed over: it can have been
    /// meant for nothing else.
    pub(super) fn is_nothing(&self, is_line: bool) -> bool {
        let line = if is_line { Some("black") } else { None };
        let inside = !is_line && self.fills();
        !inside && !self.lines(self.stroke.or(line))
    }

    /// Neither inside nor line is said.
    pub(super) fn is_unsaid(&self) -> bool {
        self.fill.is_none() && self.stroke.is_none()
    }

    /// What it makes of the inside of a shape; unsaid, insides are black and lines are not drawn, though whoever says
    /// nothing may as well have meant the line.
    pub(super) fn inside(&self) -> Inside {
        match (self.fills(), self.is_unsaid() || self.lines(self.stroke)) {
            (false, _) => Inside::Clear,
            (true, true) => Inside::Lined,
            (true, false) => Inside::Filled,
        }
    }

    /// The lengths of dashes and gaps, where a line with gaps is all that shows.
    pub(super) fn broken(&self) -> Option<&'a str> {
        let is_whole = |d: &str| {
            d == "none"
                || d.split([',', ' '])
                    .all(|n| n.is_empty() || is_zero(Some(n)))
        };
        let broken = self.dashes.filter(|d| !is_whole(d));
        broken.filter(|_| self.lines(self.stroke) && !self.fills())
    }

    fn fills(&self) -> bool {
        !is_none(self.fill) && !is_zero(self.fill_opacity)
    }

    fn lines(&self, stroke: Option<&str>) -> bool {
        stroke.is_some()
            && !is_none(stroke)
            && !is_zero(self.stroke_opacity)
            && !is_zero(self.stroke_width)
    }
}

/// Paints nothing: by its name, or as a colour that lets everything through.
fn is_none(paint: Option<&str>) -> bool {
    let Some(paint) = paint else { return false };
    let hex = paint.strip_prefix('#').unwrap_or_default();
    let last = paint
        .strip_prefix("rgba(")
        .or(paint.strip_prefix("hsla("))
        .and_then(|p| p.trim_end_matches(')').rsplit([',', '/']).next());
    matches!(paint, "none" | "transparent")
        || is_zero(last)
        || (hex.len() == 8 && hex.ends_with("00"))
        || (hex.len() == 4 && hex.ends_with('0'))
}

/// A share, or a length in whatever unit, that is nothing.
pub(super) fn is_zero(text: Option<&str>) -> bool {
    let figure = |t: &str| {
        let unit = |c: char| c.is_ascii_alphabetic() || c == '%';
        numbers::number(t.trim().trim_end_matches(unit).as_bytes()).is_ok_and(|v| v == 0.0)
    };
    text.is_some_and(figure)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_paints_nothing_is_known_for_it() {
        for paint in [
            "none",
            "transparent",
            "#ff000000",
            "#f000",
            "rgba(0, 0, 0, 0)",
            "rgba(0 0 0 / 0%)",
        ] {
            assert!(is_none(Some(paint)), "{paint}");
        }
        for paint in [
            "#ff0000",
            "#f00",
            "#ff0000ff",
            "rgba(0,0,0,0.5)",
            "rgb(0,0,0)",
            "url(#a)",
            "black",
        ] {
            assert!(!is_none(Some(paint)), "{paint}");
        }
        assert!(is_zero(Some("0mm")) && is_zero(Some("0")) && is_zero(Some("0.0%")));
        assert!(!is_zero(Some("0.01mm")) && !is_zero(Some("thin")) && !is_zero(None));
    }

    #[test]
    fn a_shape_shows_by_its_inside_or_its_line() {
        let none = Paint {
            fill: Some("none"),
            ..Paint::default()
        };
        assert!(
            none.is_nothing(false) && !none.is_nothing(true) && !Paint::default().is_nothing(false)
        );
        let red = Paint {
            stroke: Some("red"),
            ..none
        };
        assert!(!red.is_nothing(false) && !red.is_nothing(true));
        for unseen in [
            Paint {
                stroke_width: Some("0"),
                ..red
            },
            Paint {
                stroke_opacity: Some("0"),
                ..red
            },
            Paint {
                fill: None,
                fill_opacity: Some("0"),
                ..none
            },
        ] {
            assert!(unseen.is_nothing(false));
        }
    }
}
