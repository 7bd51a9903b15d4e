//! Transforms, as attributes write them and as CSS does: with units, percentages, and about an origin.

use super::viewport::{self, Viewport};
use kurbo::Affine;

/// A transform, about an origin where one is said.
pub(super) fn of(text: &str, origin: Option<&str>, viewport: &Viewport) -> Result<Affine, String> {
    let map = parsed(text, viewport).map_err(|e| format!("the transform is broken: {e}"))?;
    let Some(origin) = origin else {
        return Ok(map);
    };
    let parts: Vec<&str> = origin.split_whitespace().collect();
    let side = |i: usize, whole: f64| match parts.get(i).copied() {
        None | Some("center") => Ok(if parts.is_empty() { 0.0 } else { 0.5 * whole }),
        Some("left" | "top") => Ok(0.0),
        Some("right" | "bottom") => Ok(whole),
        Some(length) => viewport::length(length).and_then(|l| viewport.user(l, whole)),
    };
    let (x, y) = (side(0, viewport.width)?, side(1, viewport.height)?);
    Ok(Affine::translate((x, y)) * map * Affine::translate((-x, -y)))
}

fn parsed(text: &str, viewport: &Viewport) -> Result<Affine, String> {
    let mut map = Affine::IDENTITY;
    let mut rest = text.trim();
    while !rest.is_empty() && rest != "none" {
        let (name, after) = rest.split_once('(').ok_or_else(|| broken(rest))?;
        let (inside, after) = after.split_once(')').ok_or_else(|| broken(rest))?;
        map *= one(name.trim(), inside, viewport)?;
        rest = after.trim_start_matches(|c: char| c == ',' || c.is_whitespace());
    }
    Ok(map)
}

fn broken(text: &str) -> String {
    format!(
        "\"{}\" is none",
        crate::format::numbers::shown(text.as_bytes())
    )
}

/// One function with its arguments.
fn one(name: &str, inside: &str, viewport: &Viewport) -> Result<Affine, String> {
    let parts: Vec<&str> = inside
        .split(|c: char| c == ',' || c.is_whitespace())
        .filter(|p| !p.is_empty())
        .flat_map(run_together)
        .collect();
    let fails = || broken(&format!("{name}({inside})"));
    let number = |i: usize| -> Result<f64, String> {
        let text = parts.get(i).ok_or_else(fails)?;
        let value = crate::format::numbers::number(text.as_bytes());
        value.map_err(|_| fails())
    };
    let length = |i: usize, whole: f64| -> Result<f64, String> {
        let text = parts.get(i).ok_or_else(fails)?;
        viewport.user(viewport::length(text)?, whole)
    };
    let angle = |i: usize| parts.get(i).and_then(|t| radians(t)).ok_or_else(fails);
    let or = |i: usize, default: f64| {
        if i < parts.len() {
            number(i)
        } else {
            Ok(default)
        }
    };
    let (w, h) = (viewport.width, viewport.height);
    Ok(match name {
        "matrix" => {
            let all = [
                number(0)?,
                number(1)?,
                number(2)?,
                number(3)?,
                length(4, w)?,
                length(5, h)?,
            ];
            Affine::new(all)
        }
        "translate" => {
            let y = if parts.len() > 1 { length(1, h)? } else { 0.0 };
            Affine::translate((length(0, w)?, y))
        }
        "translateX" => Affine::translate((length(0, w)?, 0.0)),
        "translateY" => Affine::translate((0.0, length(0, h)?)),
        "scale" => Affine::scale_non_uniform(number(0)?, or(1, number(0)?)?),
        "scaleX" => Affine::scale_non_uniform(number(0)?, 1.0),
        "scaleY" => Affine::scale_non_uniform(1.0, number(0)?),
        "rotate" => {
            let turn = Affine::rotate(angle(0)?);
            let at = (or(1, 0.0)?, or(2, 0.0)?);
            Affine::translate(at) * turn * Affine::translate((-at.0, -at.1))
        }
        "skew" => {
            let y = if parts.len() > 1 { angle(1)? } else { 0.0 };
            Affine::skew(libm::tan(angle(0)?), libm::tan(y))
        }
        "skewX" => Affine::skew(libm::tan(angle(0)?), 0.0),
        "skewY" => Affine::skew(0.0, libm::tan(angle(0)?)),
        _ => return Err(fails()),
    })
}

/// Numbers that only their signs or points keep apart, as some programs write them: `1-2`.
fn run_together(part: &str) -> impl Iterator<Item = &str> {
    let mut rest = part;
    core::iter::from_fn(move || {
        let mut before = ' ';
        let mut point = false;
        let end = rest.char_indices().find_map(|(i, c)| {
            let sign = matches!(c, '+' | '-') && i > 0 && !matches!(before, 'e' | 'E');
            let second = c == '.' && point;
            point |= c == '.';
            before = c;
            (sign || second).then_some(i)
        });
        let (one, after) = rest.split_at_checked(end.unwrap_or(rest.len()))?;
        rest = after;
        (!one.is_empty()).then_some(one)
    })
}

/// An angle; a bare number is degrees.
fn radians(text: &str) -> Option<f64> {
    let units = [
        ("deg", 1.0_f64.to_radians()),
        ("grad", core::f64::consts::PI / 200.0),
        ("rad", 1.0),
        ("turn", core::f64::consts::TAU),
        ("", 1.0_f64.to_radians()),
    ];
    let (number, unit) = units
        .iter()
        .find_map(|(name, unit)| Some((text.strip_suffix(name)?, unit)))?;
    let number = crate::format::numbers::number(number.as_bytes()).ok()?;
    Some(number * unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn css_and_attributes_say_the_same() {
        let viewport = Viewport {
            width: 200.0,
            height: 100.0,
            per_mm: 1.0,
            em: 16.0,
        };
        let same = |a: &str, b: &str, origin: Option<&str>| {
            let (a, b) = (of(a, None, &viewport), of(b, origin, &viewport));
            let (a, b) = (
                a.expect("a transform").as_coeffs(),
                b.expect("a transform").as_coeffs(),
            );
            let off = a
                .iter()
                .zip(b)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0, f64::max);
            assert!(off < 1e-12, "{a:?} {b:?}");
        };
        same(
            "translate(10,20) rotate(30)",
            "translate(10px, 20px) rotate(30deg)",
            None,
        );
        same("rotate(90 100 50)", "rotate(0.25turn)", Some("center"));
        same("rotate(90 20 50)", "rotate(90deg)", Some("10% 50%"));
        same("translate(1 -2)", "translate(1-2)", None);
        same("matrix(1,0,0,-1,0,5)", "translateY(5px) scaleY(-1)", None);
        same("translate(20 50)", "translate(10%, 50%)", None);
        assert!(of("rotate(a)", None, &viewport).is_err());
        assert!(of("turn(3", None, &viewport).is_err());
    }
}
