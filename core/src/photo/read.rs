//! The flow from picture to trace.

use super::camera::{Camera, focal_for_height};
use super::flat::{Area, Flat};
use super::frame::Frame;
use super::ink::Tint;
use super::lines::{self, Lines};
use super::part::{self, Rim};
use super::profile::{Light, Measured};
use super::say::{scale_error, tell, tell_scale};
use super::scale::{frame_of, is_blurred};
use super::straight::{straighten, stretches};
use super::thick::Above;
use super::{Ask, Photo, Picture, Scale, Wanted, Watch, tips};
use crate::geom::Point;
use crate::report::{About, Doubt, Note};
use crate::{Refusal, Stroke, Trace};

/// Smallest and largest side of a frame, mm.
const SIDES: (f64, f64) = (20.0, 20_000.0);
/// White round the target's discs, mm: its page.
const PAGE: f64 = 34.0;

/// Error of parallax that is doubted, mm.
const GUESSED: f64 = 0.3;

/// What was found, on its way into the trace.
struct Found {
    strokes: Vec<Stroke>,
    width: f64,
    /// What lengths may be off by beside the scale, as a share.
    off: f64,
    notes: Vec<Note>,
    doubts: Vec<Doubt>,
}

/// Reads a picture. `watch` is told how far the work is (0..1) and answers whether to go on.
///
/// # Errors
/// Refuses, with a sentence that says what to do, a picture in which frame or line cannot be trusted.
pub fn read(
    picture: &Picture,
    ask: &Ask,
    watch: &mut dyn FnMut(f64) -> bool,
) -> Result<Photo, Refusal> {
    let mut watch = Watch(watch);
    check(ask)?;
    watch.at(0.02)?;
    let (mut frame, size) = frame_of(picture, ask)?;
    watch.at(0.3)?;
    let flat = Flat::of(picture, &frame.view, area_of(ask, size));
    watch.at(0.45)?;
    let on_mark = mark_areas(&frame, size, ask);
    let keep = |p: Point| !on_mark.iter().any(|a| a.holds(p));
    let mut found = match ask.part {
        true => part_of(picture, &flat, &mut frame, size, &keep, ask)?,
        false => line_of(&flat, &mut frame, size, &keep, ask, &mut watch)?,
    };
    let plus_minus = scale_error(&frame, size, ask, found.off);
    tell_scale(
        &frame,
        size,
        ask,
        plus_minus,
        picture,
        &mut found.notes,
        &mut found.doubts,
    );
    if is_blurred(picture) {
        found.doubts.push(Doubt::new(
            About::Reading,
            "the picture is blurred: what is measured in it may be wrong by as much; hold the camera still, focus on the plate and take it again",
        ));
    }
    watch.at(1.0)?;
    Ok(Photo {
        trace: Trace {
            strokes: found.strokes,
            drawn: Vec::new(),
        },
        notes: found.notes,
        doubts: found.doubts,
        view: frame.view,
        corners: frame.corners,
        frame: size,
        plus_minus,
        width: found.width,
        flat,
    })
}

/// A drawn line.
fn line_of(
    flat: &Flat,
    frame: &mut Frame,
    size: (f64, f64),
    keep: &dyn Fn(Point) -> bool,
    ask: &Ask,
    watch: &mut Watch,
) -> Result<Found, Refusal> {
    let lines = lines::find(flat, keep, watch)?;
    watch.at(0.85)?;
    let grid = lines.tint.light(flat);
    let light = Light {
        flat,
        grid: &grid,
        sign: if lines.dark { 1.0 } else { -1.0 },
    };
    let runs: Vec<Vec<Point>> = lines.taken.iter().flat_map(stretches).collect();
    let again = unbowed(frame, size, ask, &runs);
    let mut found = Found {
        strokes: Vec::new(),
        width: 0.0,
        off: 0.0,
        notes: Vec::new(),
        doubts: Vec::new(),
    };
    let mut unsure = Vec::new();
    for line in &lines.taken {
        found.width = found.width.max(line.width);
        let run = tips::finish(&light, line, shift_of(line, ask.line, &lines), &mut unsure);
        if run.len() > 1 {
            found
                .strokes
                .push(Stroke::new(run.into_iter().map(&again).collect()));
        }
    }
    if found.strokes.is_empty() {
        return Err(Refusal::Trace(
            "a line is seen but cannot be measured: take the picture nearer, sharp and in even light".into(),
        ));
    }
    let dots = lines.dots.iter().map(|p| Stroke::new(vec![again(*p)]));
    found.strokes.extend(dots);
    for p in &mut unsure {
        *p = again(*p);
    }
    found.doubts.extend(Doubt::first_of(
        About::Closing,
        &unsure,
        3,
        "the line is not seen here, and its way was guessed: draw it through and take the picture again, or look whether it is right",
        |n| format!("{n} more places where the line is not seen were guessed"),
    ));
    tell(&lines, ask, &mut found.notes, &mut found.doubts);
    Ok(found)
}

/// Takes the lens's bend out of the view by what is straight in runs of points, where nothing has told it yet, and moves
/// points of the plate as they were seen before to where they are.
fn unbowed(
    frame: &mut Frame,
    size: (f64, f64),
    ask: &Ask,
    runs: &[Vec<Point>],
) -> impl Fn(Point) -> Point + use<> {
    let before = frame.view;
    // A sheet and the target have told the lens already.
    if matches!(ask.scale, Scale::Frame(..)) || ask.corners.is_some() {
        straighten(frame, size, runs);
    }
    let after = frame.view;
    move |p| match before == after {
        true => p,
        false => after.plate(before.sees(p)),
    }
}

/// A part's silhouette.
fn part_of(
    picture: &Picture,
    flat: &Flat,
    frame: &mut Frame,
    size: (f64, f64),
    keep: &dyn Fn(Point) -> bool,
    ask: &Ask,
) -> Result<Found, Refusal> {
    let long = size.0.max(size.1);
    let area = match ask.scale {
        // The part lies beside the target's page.
        Scale::Target(..) if ask.corners.is_none() => area_of(ask, size),
        _ => Area {
            low: Point::new(0.0, 0.0),
            high: Point::new(size.0, size.1),
        }
        .grown(-0.005 * long),
    };
    let mut part = part::find(flat, &Tint::Grey.light(flat), area, keep)?;
    let places = |r: &Vec<Rim>| r.iter().chain(r.first()).map(|p| p.at).collect();
    let runs: Vec<Vec<Point>> = part.rims.iter().map(places).collect();
    let again = unbowed(frame, size, ask, &runs);
    for p in part.rims.iter_mut().flatten() {
        p.at = again(p.at);
    }
    let mut doubts = Vec::new();
    if let Some(at) = part.vague {
        doubts.push(Doubt::at(
            About::Closing,
            "part of the rim is hardly seen and was guessed: a shadow, or glare, lies there; take the picture again in even light, or look whether it is right",
            again(at),
        ));
    }
    if let Some(wide) = part::is_thread(&part.rims) {
        doubts.push(Doubt::new(
            About::Reading,
            format!("what was taken for a part is a ring or band only {wide:.1} mm wide: if it is a drawn line, leave out --part"),
        ));
    }
    let parallax = Parallax::of(picture, frame, &part.rims, ask)?;
    doubts.extend(parallax.doubt);
    let stroke = |rim: &Vec<Rim>| {
        let mut points = match parallax.above {
            Some(a) => a.lowered(rim),
            None => rim.iter().map(|p| p.at).collect(),
        };
        points.extend(points.first().copied());
        Stroke::new(points)
    };
    Ok(Found {
        strokes: part.rims.iter().map(stroke).collect(),
        width: 0.0,
        off: parallax.off,
        notes: vec![parallax.note],
        doubts,
    })
}

/// From where the part was seen, what is said of it, and whether that is too much of a guess.
struct Parallax {
    above: Option<Above>,
    off: f64,
    note: Note,
    doubt: Option<Doubt>,
}

impl Parallax {
    fn of(picture: &Picture, frame: &Frame, rims: &[Vec<Rim>], ask: &Ask) -> Result<Self, Refusal> {
        let long = picture.width().max(picture.height()) as f64;
        let camera = match ask.camera {
            Some(height) => focal_for_height(&frame.view, height, long),
            None => Camera::of(&frame.view, long),
        };
        let (foot, seen_from) = camera.stands(&frame.view);
        let height = ask.camera.unwrap_or(seen_from);
        let thick = ask.thickness;
        if thick >= height {
            return Err(Refusal::Setting(format!(
                "a part {thick} mm thick would reach the camera, which stands {height:.0} mm over the plate"
            )));
        }
        let far = rims.iter().flatten().map(|p| p.at.distance(foot));
        let far = far.fold(0.0, f64::max);
        if thick <= 0.0 {
            let each = far / height;
            let text = format!(
                "the part's thickness is not said: for each mm of it, its upper edge comes out up to {each:.2} mm too far out; say --thickness"
            );
            return Ok(Self {
                above: None,
                off: 0.0,
                note: Note::new(text),
                doubt: None,
            });
        }
        let (low, high) = Camera::heights(&frame.view, long);
        let off = match ask.camera {
            Some(_) => 0.0,
            None => thick * (1.0 / low - 1.0 / height).max(1.0 / height - 1.0 / high),
        };
        let wrong = far * off;
        let doubt = (wrong > GUESSED).then(|| {
        Doubt::new(
            About::Units,
            format!("how high the camera stood is a guess, anything from {low:.0} to {high:.0} mm, so that edges may be {wrong:.1} mm off: say its height over the plate with --height, or take the picture from higher up"),
        )
    });
        let from = match ask.camera {
            Some(_) => String::new(),
            None if high > 1.15 * low => format!(", or anything from {low:.0} to {high:.0} mm"),
            None => ", as the frame shows it".to_owned(),
        };
        let text = format!(
            "the camera stood {height:.0} mm over the plate{from}; up to {:.2} mm of parallax of {thick} mm thickness were taken out",
            far / height * thick
        );
        let above = Above {
            foot,
            height,
            thickness: thick,
        };
        Ok(Self {
            above: Some(above),
            off,
            note: Note::new(text),
            doubt,
        })
    }
}

pub(super) fn check(ask: &Ask) -> Result<(), Refusal> {
    let sides = match ask.scale {
        Scale::Frame(w, h) | Scale::Target(w, h) => [w, h],
        Scale::Across(w) => [w, w],
        Scale::Sheet(paper) => paper.size().into(),
    };
    let fits = |v: f64| v >= SIDES.0 && v <= SIDES.1;
    match sides.into_iter().find(|v| !fits(*v)) {
        Some(v) => Err(Refusal::Setting(format!(
            "a frame with a side of {v} mm cannot be used; from {} to {} mm can",
            SIDES.0, SIDES.1
        ))),
        None => Ok(()),
    }
}

/// What of the plate is looked at.
fn area_of(ask: &Ask, size: (f64, f64)) -> Area {
    let frame = Area {
        low: Point::new(0.0, 0.0),
        high: Point::new(size.0, size.1),
    };
    let long = size.0.max(size.1);
    match ask.scale {
        Scale::Frame(..) => frame.grown(0.15 * long),
        Scale::Sheet(_) => frame.grown(-0.004 * long),
        Scale::Target(..) => frame.grown(1.2 * long),
        Scale::Across(_) => frame,
    }
}

/// Where the frame's marks are, so that they are not taken for dots or lines.
fn mark_areas(frame: &Frame, size: (f64, f64), ask: &Ask) -> Vec<Area> {
    if matches!(ask.scale, Scale::Target(..)) && ask.corners.is_none() {
        let page = Area {
            low: Point::new(0.0, 0.0),
            high: Point::new(size.0, size.1),
        };
        return vec![page.grown(PAGE)];
    }
    let reach = 0.03 * size.0.max(size.1) + 3.0;
    let at = |p: &Point| {
        let q = frame.view.plate(*p);
        Area { low: q, high: q }.grown(reach)
    };
    frame.corners.iter().map(at).collect()
}

/// How far the wanted line lies to the left of the middle, mm.
fn shift_of(line: &Measured, wanted: Wanted, found: &Lines) -> f64 {
    // A closed line that runs counter-clockwise has its inside to the left; a hole's inside is the other side's.
    let area: f64 = line
        .places
        .iter()
        .zip(line.places.iter().cycle().skip(1))
        .map(|(a, b)| a.at.to_vec().cross(b.at.to_vec()))
        .sum();
    let left = if area > 0.0 { 1.0 } else { -1.0 };
    let first = line.places.first().map(|p| p.at);
    let nested = |o: &&Measured| {
        !core::ptr::eq(*o, line) && first.is_some_and(|p| o.closed && lines::encloses(o, p))
    };
    let depth = found.taken.iter().filter(nested).count();
    let material = if depth % 2 == 1 { -left } else { left };
    match wanted {
        Wanted::Middle => 0.0,
        Wanted::Inside => 0.5 * line.width * material,
        Wanted::Outside => -0.5 * line.width * material,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 800 x 600 pixels that show 200 x 150 mm of a grained ground, dark where a rule (mm, y down) says so.
    fn read_of(dark: impl Fn(f64, f64) -> bool, part: bool) -> Photo {
        let (mut bytes, mut seed) = (Vec::new(), 5u32);
        for i in 0..800 * 600 {
            let (x, y) = (f64::from(i % 800) / 4.0, f64::from(i / 800) / 4.0);
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let tone = if dark(x, y) { 40 } else { 190 };
            bytes.extend([tone + (seed >> 28) as u8; 3]);
        }
        let picture = Picture::from_rgb(800, 600, bytes).unwrap();
        let ask = Ask {
            part,
            ..Ask::of(Scale::Across(200.0))
        };
        read(&picture, &ask, &mut |_| true).unwrap()
    }

    /// A line round a rectangle of 120 x 90 mm, and one round a hole in it.
    fn drawn(x: f64, y: f64) -> bool {
        let rim = ((x - 100.0).abs() - 60.0).max((y - 75.0).abs() - 45.0);
        rim.abs() < 1.5 || (libm::hypot(x - 80.0, y - 75.0) - 15.0).abs() < 1.5
    }

    fn extents(photo: &Photo) -> Vec<(f64, f64)> {
        let range = |v: Vec<f64>| {
            let low = v.iter().copied().fold(f64::INFINITY, f64::min);
            v.iter().copied().fold(f64::NEG_INFINITY, f64::max) - low
        };
        let extent = |s: &Stroke| {
            let across = range(s.points.iter().map(|p| p.x).collect());
            (across, range(s.points.iter().map(|p| p.y).collect()))
        };
        photo.trace.strokes.iter().map(extent).collect()
    }

    fn is_near(of: (f64, f64), to: (f64, f64)) -> bool {
        (of.0 - to.0).abs() < 0.6 && (of.1 - to.1).abs() < 0.6
    }

    #[test]
    fn an_outline_with_a_gap_at_a_corner_is_not_left_out_for_its_hole() {
        let gap = |x: f64, y: f64| (x - 160.0).abs() < 3.0 && y > 32.5 && y < 39.0;
        let photo = read_of(|x, y| drawn(x, y) && !gap(x, y), false);
        let found = extents(&photo);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(
            found.iter().any(|e| is_near(*e, (120.0, 90.0))),
            "{found:?}"
        );
    }

    #[test]
    fn a_longer_line_that_is_left_open_is_a_doubt() {
        let gap = |x: f64, y: f64| x > 150.0 && y > 50.0 && y < 90.0;
        let photo = read_of(|x, y| drawn(x, y) && !gap(x, y), false);
        assert_eq!(photo.trace.strokes.len(), 1);
        assert!(photo.doubts.iter().any(|d| d.text.contains("longer")));
    }

    #[test]
    fn small_round_holes_in_a_row_are_no_letters() {
        let hole = |x: f64, y: f64, at: f64| (libm::hypot(x - at, y - 75.0) - 6.0).abs() < 1.0;
        let rim = |x: f64, y: f64| ((x - 100.0).abs() - 60.0).max((y - 75.0).abs() - 45.0);
        let dark = |x: f64, y: f64| rim(x, y).abs() < 1.0 || hole(x, y, 80.0) || hole(x, y, 102.0);
        let photo = read_of(dark, false);
        assert_eq!(photo.trace.strokes.len(), 3);
    }

    #[test]
    fn a_drawn_line_taken_for_a_part_is_a_doubt() {
        let photo = read_of(drawn, true);
        assert!(photo.doubts.iter().any(|d| d.text.contains("--part")));
    }

    #[test]
    fn the_ground_round_a_large_part_is_no_part() {
        let inside = |x: f64, y: f64| (x - 100.0).abs() < 60.0 && (y - 75.0).abs() < 45.0;
        let found = extents(&read_of(inside, true));
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(is_near(*found.first().unwrap(), (120.0, 90.0)), "{found:?}");
    }
}
