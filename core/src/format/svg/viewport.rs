//! How large a user unit is: width, height, `viewBox`, `preserveAspectRatio`.
//!
//! The outermost element says how large the picture is on the plate. In order: a width or height
//! in a real unit (mm, cm, in, pt, pc, and px at 96 to the inch), spread over the `viewBox`; a
//! bare number, which states no unit and is taken in the unit the person gave; nothing, which
//! leaves one user unit to be one of those.
//!
//! Y points down in SVG and up on the plate. The picture is turned over within its own box,
//! `y = top + bottom − y'`, so that it stays where it lies; where there is no box, about y = 0. A box that is not as
//! long and wide as its page lies on it where `preserveAspectRatio` says, and the page's corner stays.

use crate::Refusal;
use crate::format::Units;
use crate::geom::Point;
use crate::outline::Bounds;
use core::str::FromStr;
use kurbo::Affine;
use svgtypes::{Align, AspectRatio, Length, LengthUnit, ViewBox};

/// CSS pixels in an inch.
const PIXELS: f64 = 96.0;

/// Marks of programs whose pixels are other parts of an inch, and how many make one (from memory). They stand
/// in the file's beginning.
const OTHERS: [(&str, u32); 4] = [
    ("ns.adobe.com/AdobeIllustrator", 72),
    ("Generator: Adobe Illustrator", 72),
    ("inkscape:version=\"0.4", 90),
    ("inkscape:version=\"0.91", 90),
];
/// How much of a file is its beginning, bytes.
const BEGINNING: usize = 5000;

/// How many pixels are an inch to the program that wrote a file, where that is known not to be 96.
pub(super) fn other_pixels(text: &str) -> Option<u32> {
    let begin = text.get(..text.floor_char_boundary(BEGINNING))?;
    let said = OTHERS.iter().find(|(mark, _)| begin.contains(mark));
    said.map(|(_, n)| *n)
}

/// Pixels in an em: the size of letters that browsers start from (from memory).
const EM: f64 = 16.0;

/// What lengths inside a viewport refer to.
#[derive(Clone, Copy, Debug)]
pub(super) struct Viewport {
    /// Width and height in user units, for percentages.
    pub(super) width: f64,
    pub(super) height: f64,
    /// User units in a mm written inside the picture.
    pub(super) per_mm: f64,
    /// The size of letters here, which lengths in em count by.
    pub(super) em: f64,
}

/// The outermost viewport and the map from its user units to mm, y up.
pub(super) struct Root {
    pub(super) viewport: Viewport,
    pub(super) to_mm: Affine,
    /// What of it shows, in user units.
    pub(super) page: Option<Bounds>,
    /// The file states no real unit; those of the person were taken.
    pub(super) unstated: bool,
    /// The file states its size in pixels.
    pub(super) pixels: bool,
}

/// The attributes that make a viewport, as written.
#[derive(Clone, Copy, Default)]
pub(super) struct Stated<'a> {
    pub(super) width: Option<&'a str>,
    pub(super) height: Option<&'a str>,
    pub(super) view_box: Option<&'a str>,
    pub(super) aspect: Option<&'a str>,
}

/// A side of the picture: in mm, or a share of something unknown.
#[derive(Clone, Copy)]
enum Side {
    Mm(f64),
    Bare(f64),
    Unknown,
}

impl Side {
    fn of(text: Option<&str>) -> Result<Self, String> {
        let Some(text) = text else {
            return Ok(Self::Unknown);
        };
        if text.trim() == "auto" {
            return Ok(Self::Unknown);
        }
        let length = length(text)?;
        let mm = |unit: f64| Ok(Self::Mm(length.number * unit));
        if length.number <= 0.0 {
            return Err(format!("a picture {text} wide or high holds nothing"));
        }
        match length.unit {
            LengthUnit::None => Ok(Self::Bare(length.number)),
            LengthUnit::Percent => Ok(Self::Unknown),
            unit => mm(unit_in_mm(unit)?),
        }
    }

    fn in_mm(self, unit: f64) -> Option<f64> {
        match self {
            Self::Mm(v) => Some(v),
            Self::Bare(v) => Some(v * unit),
            Self::Unknown => None,
        }
    }
}

/// A length as written.
pub(super) fn length(text: &str) -> Result<Length, String> {
    let shown = || crate::format::numbers::shown(text.as_bytes());
    let length =
        Length::from_str(text.trim()).map_err(|_| format!("\"{}\" is no length", shown()))?;
    Ok(length)
}

fn unit_in_mm(unit: LengthUnit) -> Result<f64, String> {
    match unit {
        LengthUnit::Mm => Ok(1.0),
        LengthUnit::Cm => Ok(10.0),
        LengthUnit::In => Ok(25.4),
        LengthUnit::Pt => Ok(25.4 / 72.0),
        LengthUnit::Pc => Ok(25.4 / 6.0),
        LengthUnit::Px => Ok(25.4 / PIXELS),
        // The letters of a page where nobody said how large they are.
        LengthUnit::Em => Ok(25.4 / PIXELS * EM),
        LengthUnit::Ex => Ok(0.5 * 25.4 / PIXELS * EM),
        LengthUnit::None | LengthUnit::Percent => Err("a length without a unit is none".to_owned()),
    }
}

impl Viewport {
    /// A length in user units; a percentage is of `whole`.
    pub(super) fn user(&self, length: Length, whole: f64) -> Result<f64, String> {
        match length.unit {
            LengthUnit::None | LengthUnit::Px => Ok(length.number),
            LengthUnit::Percent => Ok(0.01 * length.number * whole),
            LengthUnit::Em => Ok(length.number * self.em),
            LengthUnit::Ex => Ok(0.5 * length.number * self.em),
            unit => Ok(length.number * unit_in_mm(unit)? * self.per_mm),
        }
    }

    /// With letters of the size that a style says; words for sizes are not known, and change nothing.
    pub(super) fn lettered(self, size: Option<&str>) -> Self {
        let size = size.and_then(|s| self.user(length(s).ok()?, self.em).ok());
        let em = size
            .filter(|s| s.is_finite() && *s >= 0.0)
            .unwrap_or(self.em);
        Self { em, ..self }
    }

    /// The length that percentages of neither width nor height refer to.
    pub(super) fn diagonal(&self) -> f64 {
        (0.5 * (self.width * self.width + self.height * self.height)).sqrt()
    }
}

fn view_box(text: &str) -> Result<ViewBox, String> {
    let shown = crate::format::numbers::shown(text.as_bytes());
    ViewBox::from_str(text).map_err(|_| format!("viewBox \"{shown}\" is no rectangle"))
}

fn aspect(text: Option<&str>) -> AspectRatio {
    // An aspect that makes no sense is passed over, as the standard asks.
    text.and_then(|t| AspectRatio::from_str(t.trim()).ok())
        .unwrap_or_default()
}

/// The scales that fit a box into a viewport, and how much room is left across and down.
fn fit(view: &ViewBox, width: f64, height: f64, aspect: &AspectRatio) -> (f64, f64, f64, f64) {
    let (sx, sy) = (width / view.w, height / view.h);
    if aspect.align == Align::None {
        return (sx, sy, 0.0, 0.0);
    }
    let s = if aspect.slice { sx.max(sy) } else { sx.min(sy) };
    let share = |min: bool, mid: bool| match (min, mid) {
        (true, _) => 0.0,
        (_, true) => 0.5,
        _ => 1.0,
    };
    use Align::{XMaxYMid, XMaxYMin};
    use Align::{XMidYMax, XMidYMid, XMidYMin, XMinYMax, XMinYMid, XMinYMin};
    let x = share(
        matches!(aspect.align, XMinYMin | XMinYMid | XMinYMax),
        matches!(aspect.align, XMidYMin | XMidYMid | XMidYMax),
    );
    let y = share(
        matches!(aspect.align, XMinYMin | XMidYMin | XMaxYMin),
        matches!(aspect.align, XMinYMid | XMidYMid | XMaxYMid),
    );
    (s, s, x * (width - s * view.w), y * (height - s * view.h))
}

/// The outermost viewport; `units` are those of a picture that states none.
pub(super) fn root(stated: &Stated<'_>, units: Units) -> Result<Root, String> {
    let unit = units.in_mm();
    let (width, height) = (Side::of(stated.width)?, Side::of(stated.height)?);
    let is_mm = |s: Side| matches!(s, Side::Mm(_));
    let unstated = !is_mm(width) && !is_mm(height);
    let in_pixels = [stated.width, stated.height]
        .into_iter()
        .flatten()
        .any(|t| t.trim().ends_with("px"));
    let pixels = [stated.width, stated.height]
        .into_iter()
        .flatten()
        .any(|t| !t.trim().ends_with(|c: char| c.is_ascii_digit() || c == '%'));
    match stated.view_box {
        Some(text) => {
            let view = view_box(text)?;
            let (w, h) = match (width.in_mm(unit), height.in_mm(unit)) {
                (Some(w), Some(h)) => (w, h),
                (Some(w), None) => (w, view.h * w / view.w),
                (None, Some(h)) => (view.w * h / view.h, h),
                (None, None) => (view.w * unit, view.h * unit),
            };
            let (sx, sy, left, top) = fit(&view, w, h, &aspect(stated.aspect));
            let bottom = h - sy * view.h - top;
            let per_mm = if unstated { 1.0 / sx } else { PIXELS / 25.4 };
            let viewport = Viewport {
                width: view.w,
                height: view.h,
                per_mm,
                em: EM * 25.4 / PIXELS * per_mm,
            };
            Ok(Root {
                page: Some(shown(&view, (sx, sy, left, top), (w, h))),
                viewport,
                to_mm: Affine::translate((left, bottom))
                    * turned_over(sx, sy, view.y + view.y + view.h),
                unstated,
                pixels: in_pixels,
            })
        }
        None => {
            // Without a viewBox a user unit is a CSS pixel where the file speaks of real units.
            let scale = if pixels && !unstated {
                25.4 / PIXELS
            } else {
                unit
            };
            let side = |s: Side| s.in_mm(unit).map_or(0.0, |mm| mm / scale);
            let viewport = Viewport {
                width: side(width),
                height: side(height),
                per_mm: 1.0 / scale,
                em: EM * 25.4 / PIXELS / scale,
            };
            let sized = viewport.width > 0.0 && viewport.height > 0.0;
            Ok(Root {
                page: sized.then(|| page(0.0, 0.0, viewport.width, viewport.height)),
                to_mm: turned_over(scale, scale, viewport.height),
                viewport,
                unstated,
                pixels: in_pixels,
            })
        }
    }
}

/// The rectangle of a picture's own page.
pub(super) fn page(x: f64, y: f64, width: f64, height: f64) -> Bounds {
    Bounds {
        min: Point::new(x, y),
        max: Point::new(x + width, y + height),
    }
}

/// What shows of a box: the whole of the place it was fitted into, in its own units.
fn shown(
    view: &ViewBox,
    (sx, sy, left, top): (f64, f64, f64, f64),
    (width, height): (f64, f64),
) -> Bounds {
    page(
        view.x - left / sx,
        view.y - top / sy,
        width / sx,
        height / sy,
    )
}

fn turned_over(sx: f64, sy: f64, sum: f64) -> Affine {
    Affine::new([sx, 0.0, 0.0, -sy, 0.0, sy * sum])
}

/// The viewport of a picture within the picture, the map from its user units to those around, and what shows of it.
pub(super) fn nested(
    stated: &Stated<'_>,
    (x, y): (f64, f64),
    (width, height): (f64, f64),
    around: &Viewport,
) -> Result<(Viewport, Affine, Bounds), String> {
    let Some(text) = stated.view_box else {
        let viewport = Viewport {
            width,
            height,
            ..*around
        };
        let shows = page(0.0, 0.0, width, height);
        return Ok((viewport, Affine::translate((x, y)), shows));
    };
    let view = view_box(text)?;
    let fitted = fit(&view, width, height, &aspect(stated.aspect));
    let (sx, sy, left, top) = fitted;
    let map = Affine::new([
        sx,
        0.0,
        0.0,
        sy,
        x + left - sx * view.x,
        y + top - sy * view.y,
    ]);
    let viewport = Viewport {
        width: view.w,
        height: view.h,
        ..*around
    };
    let shows = shown(&view, fitted, (width, height));
    Ok((viewport, map, shows))
}

/// A refusal at a line. Parsers quote what they met, line ends and all; a sentence has none.
pub(super) fn at(line: usize, problem: String) -> Refusal {
    let visible = |c: char| if c.is_control() { '\u{FFFD}' } else { c };
    Refusal::Line {
        line,
        problem: problem.chars().map(visible).collect(),
    }
}
