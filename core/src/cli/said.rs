//! Corrections in one short flag: `--size 3=200`, `--radius c2=20`, `--sharp 4`, `--hole h1=8`.
//!
//! What is meant is named by the number that the table and the look picture give it, or by a place (`--size
//! 60,0=200`), which stays true when the trace is read again. Numbers are looked up in the outline as it comes out
//! without these flags.

use super::{Stop, lengths};
use clap::Args;
use trued::geom::{Edge, Point};
use trued::hint::{CornerKind, EdgeKind, Hint, LoopKind, Says};
use trued::outline::Path;
use trued::outline::numbers::{Numbered, numbers};
use trued::{Outline, Units};

/// Flags that correct what is read.
#[derive(Args, Clone, Debug, Default)]
#[command(
    next_help_heading = "Corrections; WHERE is an edge's number (3), a corner's (c3), a hole's or \
                               mark's (h2), or a place (60,0)"
)]
pub struct SaidFlags {
    /// An edge is so long over all, a circle or round end so wide, a fillet of that radius
    #[arg(long, value_name = "WHERE=SIZE", allow_hyphen_values = true)]
    pub size: Vec<String>,
    /// One known size scales the whole drawing
    #[arg(long, value_name = "WHERE=SIZE", allow_hyphen_values = true)]
    pub scale: Vec<String>,
    /// A hole, circle or arc has this diameter; a mark is a hole of it
    #[arg(long, value_name = "WHERE=SIZE", allow_hyphen_values = true)]
    pub diameter: Vec<String>,
    /// A corner is rounded by this radius
    #[arg(long, value_name = "WHERE=SIZE", allow_hyphen_values = true)]
    pub radius: Vec<String>,
    /// A hole lies so far from an edge or from another hole, or two parallel edges apart
    #[arg(long, value_name = "WHERE:WHERE=SIZE", allow_hyphen_values = true)]
    pub distance: Vec<String>,
    /// A corner is sharp
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    pub sharp: Vec<String>,
    /// A corner is square
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    pub square: Vec<String>,
    /// An edge is straight
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    pub straight: Vec<String>,
    /// An edge is an arc
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    pub arc: Vec<String>,
    /// The loop of this edge is open
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    pub open: Vec<String>,
    /// An edge is level: everything is turned so that it lies at 0°
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    pub level: Option<String>,
    /// A corner or hole is zero: everything is moved so that it lies at (0, 0)
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    pub zero: Option<String>,
}

/// Corrections whose names say something else to `cut`.
#[derive(Args, Clone, Debug, Default)]
pub struct RoleFlags {
    /// A mark is a hole of this diameter; without one, the loop here is a hole
    #[arg(long, value_name = "WHERE[=SIZE]", allow_hyphen_values = true)]
    pub hole: Vec<String>,
    /// The loop of this edge is the outside of a part
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    pub outside: Vec<String>,
}

/// Where a correction is.
#[derive(Clone, Copy, Debug)]
enum Where {
    Number(Numbered, usize),
    Place(lengths::Length, bool, lengths::Length, bool),
}

/// One correction, its places not looked up yet.
#[derive(Clone, Debug)]
pub struct Said {
    flag: &'static str,
    at: Where,
    to: Option<Where>,
    size: Option<lengths::Length>,
}

impl SaidFlags {
    /// All that is said, in the order of the help: sizes last, what moves the whole at the end.
    pub fn ready(&self, roles: &RoleFlags) -> Result<Vec<Said>, Stop> {
        let level: Vec<String> = self.level.iter().cloned().collect();
        let zero: Vec<String> = self.zero.iter().cloned().collect();
        let all: [(&'static str, &[String]); 14] = [
            ("straight", &self.straight),
            ("arc", &self.arc),
            ("hole", &roles.hole),
            ("outside", &roles.outside),
            ("open", &self.open),
            ("sharp", &self.sharp),
            ("square", &self.square),
            ("radius", &self.radius),
            ("diameter", &self.diameter),
            ("size", &self.size),
            ("distance", &self.distance),
            ("scale", &self.scale),
            ("level", &level),
            ("zero", &zero),
        ];
        let mut out = Vec::new();
        for (flag, texts) in all {
            for text in texts {
                out.push(
                    said(flag, text).map_err(|e| Stop::Usage(format!("--{flag} {text}: {e}")))?,
                );
            }
        }
        Ok(out)
    }
}

fn said(flag: &'static str, text: &str) -> Result<Said, String> {
    let (place, size) = match text.split_once('=') {
        Some((place, size)) => (place, Some(lengths::parse(size)?)),
        None => (text, None),
    };
    let wants = ["size", "scale", "diameter", "radius", "distance"].contains(&flag);
    match (wants, size) {
        (true, None) => return Err("say the size too, as in 3=200".into()),
        (false, Some(_)) if flag != "hole" => return Err("it takes no size".into()),
        _ => {}
    }
    let (place, to) = match (flag, place.split_once(':')) {
        ("distance", Some((a, b))) => (a, Some(b)),
        ("distance", None) => return Err("say from where to where, as in h1:3=15".into()),
        _ => (place, None),
    };
    let own = match flag {
        "sharp" | "square" | "radius" | "zero" => Numbered::Corner,
        "diameter" => Numbered::Hole,
        "hole" if size.is_some() => Numbered::Hole,
        _ => Numbered::Edge,
    };
    Ok(Said {
        flag,
        at: place_of(place, own)?,
        to: to.map(|t| place_of(t, Numbered::Edge)).transpose()?,
        size,
    })
}

fn place_of(text: &str, own: Numbered) -> Result<Where, String> {
    if let Some((x, y)) = text.split_once(',') {
        let figure = |t: &str| -> Result<(lengths::Length, bool), String> {
            let t = t.trim();
            let (less, t) = match t.strip_prefix('-') {
                Some(rest) => (true, rest),
                None => (false, t),
            };
            Ok((lengths::parse_or_zero(t)?, less))
        };
        let ((x, left), (y, down)) = (figure(x)?, figure(y)?);
        return Ok(Where::Place(x, left, y, down));
    }
    let text = text.trim();
    let (what, figure) = match text.split_at_checked(1) {
        Some(("e", rest)) => (Numbered::Edge, rest),
        Some(("c", rest)) => (Numbered::Corner, rest),
        Some(("h", rest)) => (Numbered::Hole, rest),
        _ => (own, text),
    };
    let number = figure
        .parse::<usize>()
        .map_err(|_| format!("\"{text}\" is neither a number (3, c3, h2) nor a place (60,0)"))?;
    Ok(Where::Number(what, number))
}

impl Said {
    /// Whether it must be known what the numbers name.
    pub fn is_numbered(&self) -> bool {
        let numbered = |w: &Where| matches!(w, Where::Number(..));
        numbered(&self.at) || self.to.as_ref().is_some_and(numbered)
    }

    /// What it names by number, if that is one of these: its loop, and which of its edges.
    fn named<'a>(&self, what: Numbered, outline: &'a Outline) -> Option<(&'a Path, usize)> {
        let Where::Number(own, number) = self.at else {
            return None;
        };
        let all = numbers(outline);
        let mut found = all.iter().filter(|n| n.what == what && n.what == own);
        let found = found.find(|n| n.number == number)?;
        Some((&outline.loops.get(found.loop_index?)?.path, found.index))
    }

    /// Whether it names an edge by number that is straight.
    fn is_straight(&self, outline: &Outline) -> bool {
        let edge = self.named(Numbered::Edge, outline);
        let edge = edge.and_then(|(path, index)| path.edges().get(index).copied());
        matches!(edge, Some(Edge::Line(_)))
    }

    /// Whether it names a hole by number that is a circle.
    fn is_circle(&self, outline: &Outline) -> bool {
        let hole = self.named(Numbered::Hole, outline);
        matches!(hole, Some((Path::Circle(_), _)))
    }

    /// Whether it scales, turns or moves the whole drawing.
    pub fn moves_all(&self) -> bool {
        matches!(self.flag, "scale" | "level" | "zero")
    }

    /// The hint it stands for; bare figures are in `units`.
    pub fn hint(&self, outline: &Outline, units: Units) -> Result<Hint, String> {
        let at = self.at.place(outline, units)?;
        let to = self.to.map(|t| t.place(outline, units)).transpose()?;
        let v = self.size.map_or(0.0, |s| s.in_mm(units));
        let says = match (self.flag, self.size, to) {
            ("size", ..) => Says::Size(v),
            ("scale", ..) => Says::Scale(v),
            ("diameter" | "radius", ..) if self.is_straight(outline) => {
                return Err(format!("--{}: this edge is straight", self.flag));
            }
            ("straight", ..) if self.is_circle(outline) => {
                return Err(
                    "--straight: this hole is round; trace it again if it has a flat".into(),
                );
            }
            ("diameter", ..) => Says::Diameter(v),
            ("radius", ..)
                if matches!(self.at, Where::Number(Numbered::Edge | Numbered::Hole, _)) =>
            {
                Says::Radius(v)
            }
            ("radius", ..) => Says::Corner(CornerKind::Radius(v)),
            ("distance", _, Some(to)) => Says::Distance(v, to),
            ("sharp", ..) => Says::Corner(CornerKind::Sharp),
            ("square", ..) => Says::Corner(CornerKind::Square),
            ("straight", ..) => Says::Edge(EdgeKind::Straight),
            ("arc", ..) => Says::Edge(EdgeKind::Arc),
            ("hole", Some(_), _) => Says::Hole(v, Vec::new()),
            ("hole", None, _) => Says::Loop(LoopKind::Hole),
            ("outside", ..) => Says::Loop(LoopKind::Part),
            ("open", ..) => Says::Loop(LoopKind::Open),
            ("level", ..) => Says::Level(0.0),
            _ => Says::Zero,
        };
        Ok(Hint { at, says })
    }
}

impl Where {
    fn place(self, outline: &Outline, units: Units) -> Result<Point, String> {
        match self {
            Self::Place(x, left, y, down) => {
                let signed = |l: lengths::Length, less: bool| {
                    let mm = l.in_mm(units);
                    if less { -mm } else { mm }
                };
                Ok(Point::new(signed(x, left), signed(y, down)))
            }
            Self::Number(what, number) => {
                let all = numbers(outline);
                let own = || all.iter().filter(|n| n.what == what);
                let found = own().find(|n| n.number == number);
                found.map(|n| n.at).ok_or_else(|| {
                    let (one, letter) = match what {
                        Numbered::Edge => ("edge", ""),
                        Numbered::Corner => ("corner", "c"),
                        Numbered::Hole => ("hole or mark", "h"),
                    };
                    match own().count() {
                        0 => format!("there is no {one} with a number"),
                        n => format!("there is no {one} {letter}{number}; there are {n}"),
                    }
                })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flags_name_numbers_and_places() {
        let outline = Outline::default();
        let one = said("size", "60,-2.5=200").unwrap();
        let hint = one.hint(&outline, Units::Mm).unwrap();
        assert_eq!(hint.at, Point::new(60.0, -2.5));
        assert_eq!(hint.says, Says::Size(200.0));
        let hint = said("size", "1,0=2in").unwrap().hint(&outline, Units::Inch);
        assert_eq!(hint.unwrap().says, Says::Size(50.8));
        assert!(said("size", "3=200").unwrap().is_numbered());
        let missing = said("sharp", "c9").unwrap().hint(&outline, Units::Mm);
        assert!(missing.unwrap_err().contains("no corner"));
        for bad in ["3", "x=5", "3=", "3=-4"] {
            assert!(said("size", bad).is_err(), "{bad}");
        }
        assert!(said("sharp", "3=5").is_err());
        assert!(said("distance", "h1=15").is_err());
    }
}
