//! The demo traces: a pottery co-op traces the parts of a kiln cart and of the hood over it.
//!
//! All of it is invented. Each demo is one or more known shapes traced by one of the test hands,
//! so the truth behind every demo is known too.

use crate::hand::{self, Form, Hand, Input, Level};
use crate::rng::Rng;
use crate::shapes::{Case, family};
use core::f64::consts::{FRAC_PI_4, PI};
use trued::{Path, Point, Trace, Vec2};

/// One demo: what it is and what was traced.
pub struct Demo {
    /// File name without extension.
    pub name: &'static str,
    /// The line that says what it is.
    pub title: &'static str,
    /// Written in inches rather than mm.
    pub inches: bool,
    /// Written without times.
    pub untimed: bool,
    /// The shapes truly meant, in the order traced.
    pub meant: Vec<Path>,
    /// The places truly marked.
    pub marks: Vec<Point>,
    /// What the hand left.
    pub trace: Trace,
}

/// How a demo is traced.
#[derive(Clone, Copy)]
struct Manner {
    level: Level,
    form: Form,
    pieces: usize,
    seed: u64,
}

const fn manner(level: Level, form: Form, pieces: usize, seed: u64) -> Manner {
    Manner {
        level,
        form,
        pieces,
        seed,
    }
}

fn shape(name: &str, numbers: &[f64]) -> Path {
    match family(name) {
        Some(f) => Case::new(f, numbers.to_vec()).path,
        None => unreachable!("demos name known families only: {name}"),
    }
}

fn demo(
    name: &'static str,
    title: &'static str,
    m: Manner,
    meant: Vec<Path>,
    marks: Vec<Point>,
) -> Demo {
    let hand = Hand {
        level: m.level,
        form: m.form,
        input: Input::Stroke,
    };
    let mut rng = Rng::named(m.seed, name);
    let mut trace = Trace::default();
    for path in &meant {
        let one = hand::sampled(path, hand, &mut rng, m.pieces);
        trace.strokes.extend(one.strokes);
    }
    for &at in &marks {
        trace.strokes.push(hand::mark(at, m.level, &mut rng));
    }
    Demo {
        name,
        title,
        inches: false,
        untimed: false,
        meant,
        marks,
        trace,
    }
}

/// Places evenly round a circle.
fn round(center: Point, radius: f64, n: usize, first: f64) -> Vec<Point> {
    (0..n)
        .map(|i| center + Vec2::from_angle(first + 2.0 * PI * i as f64 / n as f64) * radius)
        .collect()
}

/// All demo traces.
#[must_use]
pub fn all() -> Vec<Demo> {
    use Form::{Drift, Ou, Overrun, Tremor};
    use Level::{Ordinary, Shaky, Steady};
    let collar = Point::new(120.0, 110.0);
    let plate = [30.0, 25.0, 0.06];
    let in_plate = |x: f64, y: f64| {
        let (u, v) = (
            Vec2::from_angle(plate[2]),
            Vec2::from_angle(plate[2]).left(),
        );
        Point::new(plate[0], plate[1]) + u * x + v * y
    };
    let pad = |x: f64, y: f64| {
        let u = Vec2::from_angle(-0.2);
        Point::new(20.0, 40.0) + u * x + u.left() * y
    };
    let port = in_plate(110.0, 70.0);
    vec![
        demo(
            "hinge_blank",
            "hinge blank for the hood door: a rectangle, 76 by 50",
            manner(Ordinary, Ou, 1, 21),
            vec![shape("rectangle", &[76.0, 50.0, 20.0, 15.0, 0.12])],
            vec![],
        ),
        demo(
            "burner_plate",
            "burner plate: 220 by 140 with rounded corners, a round port in the middle",
            manner(Steady, Ou, 1, 2),
            vec![
                shape(
                    "rounded rectangle",
                    &[220.0, 140.0, 20.0, plate[0], plate[1], plate[2]],
                ),
                shape("circle", &[32.0, port.x, port.y, 0.0]),
            ],
            vec![],
        ),
        demo(
            "vent_collar",
            "vent collar: a ring of 180 outside and 110 inside, four marked holes on a circle of 145",
            manner(Ordinary, Ou, 1, 3),
            vec![
                shape("circle", &[90.0, collar.x, collar.y, 0.0]),
                shape("circle", &[55.0, collar.x, collar.y, 0.0]),
            ],
            round(collar, 72.5, 4, FRAC_PI_4),
        ),
        demo(
            "shelf_gusset",
            "shelf gusset: legs of 150 and 110, the square corner clipped to clear a weld",
            manner(Ordinary, Drift, 1, 4),
            vec![shape("gusset", &[150.0, 110.0, 22.0, 40.0, 20.0, 0.3])],
            vec![],
        ),
        demo(
            "peep_slot",
            "peep slot of the kiln door: 40 wide with round ends, 100 over all",
            manner(Steady, Tremor, 1, 5),
            vec![shape("slot", &[60.0, 20.0, 50.0, 50.0, 0.5])],
            vec![],
        ),
        demo(
            "cart_bracket",
            "corner bracket of the cart: arms of 120 and 90, 30 wide, a marked hole in each arm",
            manner(Ordinary, Ou, 1, 6),
            vec![shape(
                "bracket",
                &[120.0, 90.0, 30.0, 30.0, 20.0, 20.0, 0.0],
            )],
            vec![Point::new(120.0, 35.0), Point::new(35.0, 90.0)],
        ),
        demo(
            "hood_panel",
            "side panel of the hood: a trapezoid, 230 below, 120 above, 140 high",
            manner(Shaky, Ou, 1, 7),
            vec![shape(
                "trapezoid",
                &[230.0, 120.0, 140.0, 140.0, 20.0, -0.05],
            )],
            vec![],
        ),
        demo(
            "damper_disc",
            "damper disc of the flue, 150 across, with the spindle marked",
            manner(Ordinary, Drift, 1, 8),
            vec![shape("circle", &[75.0, 100.0, 100.0, 0.0])],
            vec![Point::new(100.0, 100.0)],
        ),
        demo(
            "handle_opening",
            "opening for the cart's handle: 130 by 45 with rounded corners, traced in three strokes",
            manner(Ordinary, Ou, 3, 9),
            vec![shape(
                "rounded rectangle",
                &[130.0, 45.0, 12.0, 30.0, 30.0, -0.15],
            )],
            vec![],
        ),
        Demo {
            inches: true,
            ..demo(
                "caster_pad",
                "caster pad: 4 inches square, a marked hole near each corner; in inches",
                manner(Steady, Ou, 1, 10),
                vec![shape("square", &[101.6, 20.0, 40.0, -0.2])],
                vec![
                    pad(12.7, 12.7),
                    pad(88.9, 12.7),
                    pad(88.9, 88.9),
                    pad(12.7, 88.9),
                ],
            )
        },
        demo(
            "tab_blank",
            "tab blank for the hood seam: 60 by 45, two corners rounded to 15",
            manner(Ordinary, Overrun, 1, 11),
            vec![shape("tab", &[60.0, 45.0, 15.0, 25.0, 20.0, 0.2])],
            vec![],
        ),
        demo(
            "kiln_door",
            "facing of the kiln door: 140 wide, straight to 120 and round above",
            manner(Ordinary, Tremor, 1, 22),
            vec![shape("arch", &[140.0, 120.0, 40.0, 20.0, 0.0])],
            vec![],
        ),
        Demo {
            untimed: true,
            ..demo(
                "spout_shield",
                "heat shield beside the burner: a ring sector, 60 inside, 110 outside, 80 degrees",
                manner(Steady, Drift, 2, 13),
                vec![shape(
                    "annular sector",
                    &[60.0, 50.0, 80.0 * PI / 180.0, 10.0, 90.0, 0.8],
                )],
                vec![],
            )
        },
        demo(
            "probe_notch",
            "cover with a notch for the thermocouple: 120 by 70, a notch of 24 by 25",
            manner(Steady, Overrun, 1, 14),
            vec![shape(
                "notch",
                &[120.0, 70.0, 40.0, 24.0, 25.0, 20.0, 30.0, 0.1],
            )],
            vec![],
        ),
        demo(
            "hook_plate",
            "hanging plate: a drop shape, round below and drawn to a point",
            manner(Ordinary, Ou, 1, 15),
            vec![shape("teardrop", &[35.0, 80.0, 70.0, 120.0, 3.0])],
            vec![],
        ),
        demo(
            "knob_washer",
            "plate under the damper's knob: a hexagon of side 40 with a round hole of 30",
            manner(Steady, Ou, 1, 16),
            vec![
                shape("hexagon", &[40.0, 70.0, 70.0, 0.25]),
                shape("circle", &[15.0, 70.0, 70.0, 0.0]),
            ],
            vec![],
        ),
    ]
}

/// The file of a demo.
#[must_use]
pub fn to_csv(demo: &Demo) -> String {
    use core::fmt::Write as _;
    let (unit, k, digits) = if demo.inches {
        ("in", 1.0 / 25.4, 4)
    } else {
        ("mm", 1.0, 2)
    };
    let columns = if demo.untimed {
        "x,y,stroke"
    } else {
        "x,y,t,stroke"
    };
    let mut text = format!("# {}\n# units: {unit}\n{columns}\n", demo.title);
    for (i, stroke) in demo.trace.strokes.iter().enumerate() {
        for (k2, p) in stroke.points.iter().enumerate() {
            let _ = write!(text, "{:.digits$},{:.digits$},", p.x * k, p.y * k);
            if !demo.untimed {
                let t = stroke.times.get(k2).copied().unwrap_or_default();
                let _ = write!(text, "{t:.3},");
            }
            let _ = writeln!(text, "{}", i + 1);
        }
    }
    text
}
