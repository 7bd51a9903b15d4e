//! A small drawing of an outline on a terminal that can show one: dots of Braille, two across and four down in each
//! letter.

use std::io::IsTerminal as _;
use trued::Outline;
use trued::geom::Point;
use trued::outline::Bounds;

/// Letters across and down at most.
const ACROSS: usize = 64;
const DOWN: usize = 20;

/// Draws the outline on standard error, where that is a terminal that speaks Unicode.
pub fn print(outline: &Outline) {
    let speaks = ["LC_ALL", "LC_CTYPE", "LANG"].iter().any(|name| {
        let value = std::env::var(name).unwrap_or_default().to_ascii_lowercase();
        value.contains("utf-8") || value.contains("utf8")
    });
    if std::io::stderr().is_terminal() && speaks {
        for line in lines(outline) {
            eprintln!("  {line}");
        }
    }
}

/// The drawing, line by line.
fn lines(outline: &Outline) -> Vec<String> {
    let Some(bounds) = Bounds::of_outline(outline) else {
        return Vec::new();
    };
    let (width, height) = (bounds.width().max(1e-6), bounds.height().max(1e-6));
    let dots = |n: usize| (n - 1) as f64;
    let scale = (dots(2 * ACROSS) / width).min(dots(4 * DOWN) / height);
    let (across, down) = (
        (scale * width) as usize / 2 + 1,
        (scale * height) as usize / 4 + 1,
    );
    let mut cells = vec![0u8; across * down];
    let mut dot = |p: Point| {
        let x = (scale * (p.x - bounds.min.x)).max(0.0) as usize;
        let y = (scale * (bounds.max.y - p.y)).max(0.0) as usize;
        let bit = match (x % 2, y % 4) {
            (0, 3) => 6,
            (_, 3) => 7,
            (0, row) => row,
            (_, row) => row + 3,
        };
        if let Some(cell) = cells.get_mut((y / 4).min(down - 1) * across + (x / 2).min(across - 1))
        {
            *cell |= 1 << bit;
        }
    };
    for edge in outline.loops.iter().flat_map(|l| l.path.edges()) {
        let steps = (2.0 * scale * edge.length()).clamp(1.0, 5_000.0) as usize;
        (0..=steps).for_each(|i| dot(edge.point_at(i as f64 / steps as f64)));
    }
    outline.marks.iter().for_each(|m| dot(m.at));
    let letter = |c: &u8| char::from_u32(0x2800 + u32::from(*c)).unwrap_or(' ');
    cells
        .chunks(across)
        .map(|row| row.iter().map(letter).collect::<String>())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use trued::{Chain, Loop, Path, Role, Shape};

    #[test]
    fn a_rectangle_has_its_four_sides() {
        let corners = [(0.0, 0.0), (60.0, 0.0), (60.0, 30.0), (0.0, 30.0)];
        let outline = Outline {
            loops: vec![Loop {
                role: Role::Part,
                path: Path::Chain(Chain {
                    corners: corners.map(|(x, y)| Point::new(x, y)).to_vec(),
                    shapes: vec![Shape::Line; 4],
                }),
                deviation: None,
            }],
            marks: Vec::new(),
        };
        let lines = lines(&outline);
        assert!(lines.len() <= DOWN && lines.len() > 10);
        let blank = |c: char| c == '\u{2800}';
        assert!(lines[0].chars().all(|c| !blank(c)));
        let middle: Vec<char> = lines[lines.len() / 2].chars().collect();
        assert!(!blank(middle[0]) && blank(middle[middle.len() / 2]));
    }
}
