//! Small things that may be marks: dots, pits, crosses, dark on bright or bright on dark.
//!
//! No threshold serves a whole picture in light and shadow, and no size is known beforehand. So all thresholds are
//! looked at at once (the tree of components; Matas et al. 2002 call its quiet branches maximally stable):
//!
//! 1. Pixels come in from the darkest to the brightest and join the neighbours that are there already (union and
//!    find). What hangs together grows from its darkest place on; where two meet, the one with the less dark core
//!    ends, and the other goes on with both.
//! 2. A growing thing with a rim hardly grows while the level runs through the rim's slope. Where it grows least
//!    for its size it is taken as a spot. One that has no quiet stretch is texture.
//! 3. Its area beside that of the ellipse of its second moments tells a filled disc from a cross.
//!
//! Nothing is decided here: hundreds of spots cost little to look at closely. The same with light and dark
//! exchanged finds bright marks. Fails where a mark touches a line darker than itself.

use super::grid::Grid;
use crate::geom::{Point, Sorted as _};

/// A thing that may be a mark, in pixels of the reduced picture.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spot {
    pub at: Point,
    /// Half its extent, pixels: the radius of a disc of the same second moments.
    pub radius: f64,
    /// Share of that disc that is filled.
    pub solid: f64,
    /// Darker than its ground.
    pub dark: bool,
    /// How far its level is from its core's (logarithm of brightness): about half of what it differs from its ground by.
    pub depth: f64,
}

/// Step of the levels, as logarithm of brightness.
const LEVEL: f32 = 0.02;
/// Fewest pixels of a spot, and the most as a share of the picture.
const LEAST: u32 = 5;
const MOST: f64 = 0.008;
/// Least levels between core and the level that it is taken at.
const SHALLOW: u8 = 3;
/// It may grow by this share over the levels about the one that it is taken at.
const GROWS: f64 = 1.0;
/// A spot is not longer than so many times its width.
const LONG: f64 = 2.6;
/// One thing is taken at so many sizes at the most.
const TWICE: usize = 3;

/// Brightness to its logarithm; black is not endlessly dark.
pub(super) fn tone(v: f32) -> f32 {
    // A polynomial in place of a logarithm would be as good; this runs over a million pixels at most.
    libm::logf(v.max(0.0) + 6.0)
}

/// All spots of a reduced grey picture, deepest first.
pub(super) fn spots(grey: &Grid) -> Vec<Spot> {
    let tones = grey.map(tone).soft(0.6);
    let mut found = Vec::new();
    for dark in [true, false] {
        let level = |v: f32| {
            let up = (v - tone(0.0)) / LEVEL;
            let up = if dark { up } else { 200.0 - up };
            up.clamp(0.0, 254.0) as u8
        };
        let levels: Vec<u8> = tones.values.iter().map(|v| level(*v)).collect();
        Tree::grow(&levels, tones.width, dark, &mut found);
    }
    found.order_by(|a: &Spot, b| b.depth.total_cmp(&a.depth));
    found
}

/// Sums over the pixels of a thing at one level.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    n: u32,
    x: f64,
    y: f64,
    xx: f64,
    yy: f64,
    xy: f64,
}

impl Sums {
    fn add(&mut self, o: &Self) {
        self.n += o.n;
        self.x += o.x;
        self.y += o.y;
        self.xx += o.xx;
        self.yy += o.yy;
        self.xy += o.xy;
    }

    /// Middle, radius of the disc of the same second moments, share of that disc that is filled, and how many times
    /// as long as wide.
    fn form(&self) -> (Point, f64, f64, f64) {
        let n = f64::from(self.n.max(1));
        let (x, y) = (self.x / n, self.y / n);
        // A pixel is a square: a twelfth of a pixel's variance of its own.
        let own = 1.0 / 12.0;
        let (xx, yy) = (self.xx / n - x * x + own, self.yy / n - y * y + own);
        let xy = self.xy / n - x * y;
        let det = (xx * yy - xy * xy).max(1e-9);
        let root = libm::sqrt(det);
        let half = 0.5 * (xx + yy);
        let more = libm::sqrt((half * half - det).max(0.0));
        let long = libm::sqrt((half + more) / (half - more).max(1e-9));
        let solid = n / (4.0 * core::f64::consts::PI * root);
        (Point::new(x, y), 2.0 * libm::sqrt(root), solid, long)
    }
}

/// A thing that grows.
#[derive(Clone, Debug, Default)]
struct Thing {
    sums: Sums,
    core: u8,
    /// What it was up to a level, for each level before one at which it grew.
    story: Vec<(u8, Sums)>,
    /// Too large to be a spot.
    over: bool,
}

const NONE: u32 = u32::MAX;

/// The tree, as far as it has grown.
struct Tree<'a> {
    /// Each pixel's parent in the forest of union and find; not there yet: `NONE`.
    parent: Vec<u32>,
    /// The thing of each root.
    thing: Vec<u32>,
    things: Vec<Thing>,
    free: Vec<u32>,
    wide: usize,
    dark: bool,
    most: u32,
    out: &'a mut Vec<Spot>,
}

impl<'a> Tree<'a> {
    fn grow(levels: &[u8], wide: usize, dark: bool, out: &'a mut Vec<Spot>) {
        let n = levels.len();
        let mut tree = Self {
            parent: vec![NONE; n],
            thing: vec![NONE; n],
            things: Vec::new(),
            free: Vec::new(),
            wide: wide.max(1),
            dark,
            most: (n as f64 * MOST) as u32,
            out,
        };
        for p in by_level(levels) {
            let level = levels.get(p as usize).copied().unwrap_or(0);
            tree.take(p as usize, level);
        }
        let left: Vec<Thing> = core::mem::take(&mut tree.things);
        for thing in left {
            tree.end(thing, u8::MAX);
        }
    }

    fn root(&mut self, p: u32) -> u32 {
        let up = |s: &Self, p: u32| s.parent.get(p as usize).copied().unwrap_or(p);
        let mut at = p;
        loop {
            let next = up(self, at);
            if next == at {
                return at;
            }
            // Halving the path as it is walked.
            let skip = up(self, next);
            if let Some(slot) = self.parent.get_mut(at as usize) {
                *slot = skip;
            }
            at = skip;
        }
    }

    /// A pixel comes in.
    fn take(&mut self, p: usize, level: u8) {
        let (x, y) = (p % self.wide, p / self.wide);
        let mut home = NONE;
        let beside = [
            (x > 0).then(|| p.wrapping_sub(1)),
            (x + 1 < self.wide).then_some(p + 1),
            p.checked_sub(self.wide),
            Some(p + self.wide),
        ];
        for q in beside.into_iter().flatten() {
            if self.parent.get(q).is_none_or(|v| *v == NONE) {
                continue;
            }
            let r = self.root(q as u32);
            home = match home {
                NONE => r,
                h if h == r => h,
                h => self.meet(h, r, level),
            };
        }
        let id = match home {
            NONE => {
                let id = self.begin(level);
                self.set(p, p as u32, id);
                id
            }
            h => {
                self.set(p, h, NONE);
                self.thing.get(h as usize).copied().unwrap_or(NONE)
            }
        };
        let (x, y) = (x as f64, y as f64);
        let most = self.most;
        let Some(t) = self.things.get_mut(id as usize) else {
            return;
        };
        let one = Sums {
            n: 1,
            x,
            y,
            xx: x * x,
            yy: y * y,
            xy: x * y,
        };
        t.tell(level);
        t.sums.add(&one);
        if t.sums.n > most && !t.over {
            self.outgrown(id, level);
        }
    }

    fn set(&mut self, p: usize, parent: u32, thing: u32) {
        if let (Some(a), Some(b)) = (self.parent.get_mut(p), self.thing.get_mut(p)) {
            (*a, *b) = (parent, thing);
        }
    }

    fn begin(&mut self, core: u8) -> u32 {
        let new = Thing {
            core,
            ..Thing::default()
        };
        if let Some(id) = self.free.pop() {
            if let Some(slot) = self.things.get_mut(id as usize) {
                *slot = new;
            }
            return id;
        }
        self.things.push(new);
        self.things.len() as u32 - 1
    }

    /// Two roots meet: the thing with the deeper core goes on.
    fn meet(&mut self, a: u32, b: u32, level: u8) -> u32 {
        let id = |s: &Self, r: u32| s.thing.get(r as usize).copied().unwrap_or(NONE);
        let (ta, tb) = (id(self, a), id(self, b));
        let rank = |s: &Self, t: u32| {
            let t = s.things.get(t as usize);
            t.map_or((u8::MAX, 0), |t| (t.core, u32::MAX - t.sums.n))
        };
        let (stays, goes) = match rank(self, ta) <= rank(self, tb) {
            true => (ta, tb),
            false => (tb, ta),
        };
        let Some(gone) = self.things.get_mut(goes as usize).map(core::mem::take) else {
            return a;
        };
        let (over, sums) = (gone.over, gone.sums);
        self.end(gone, level);
        self.free.push(goes);
        let size = |s: &Self, t: u32| s.things.get(t as usize).map_or(0, |t| t.sums.n);
        // The larger tree's root stays the root, whichever thing goes on.
        let large = size(self, stays) >= sums.n;
        let (root, leaf) = match (stays == ta) == large {
            true => (a, b),
            false => (b, a),
        };
        self.set(leaf as usize, root, NONE);
        self.set(root as usize, root, stays);
        let most = self.most;
        if let Some(t) = self.things.get_mut(stays as usize) {
            t.tell(level);
            t.sums.add(&sums);
            if (over || t.sums.n > most) && !t.over {
                self.outgrown(stays, level);
            }
        }
        root
    }

    /// A thing is too large from now on: what it was is told.
    fn outgrown(&mut self, id: u32, level: u8) {
        let Some(t) = self.things.get_mut(id as usize) else {
            return;
        };
        t.over = true;
        let was = Thing {
            story: core::mem::take(&mut t.story),
            over: false,
            ..*t
        };
        self.end(was, level);
    }

    /// The quietest stretch of a thing's story becomes a spot. `level` is where it ends.
    fn end(&mut self, mut thing: Thing, level: u8) {
        if thing.over || thing.sums.n < LEAST {
            return;
        }
        thing.story.push((level, thing.sums));
        let (story, core) = (&thing.story, thing.core);
        let at = |level: u8| {
            let k = story.partition_point(|s| s.0 < level);
            story.get(k).or(story.last()).map_or(0, |s| s.1.n)
        };
        let window = (level.saturating_sub(core) / 8).max(1);
        let mut quiet: Vec<(f64, u8, Sums)> = Vec::new();
        let mut before = core;
        for &(upto, sums) in story {
            let middle = before + upto.saturating_sub(before).div_ceil(2);
            before = upto;
            let deep = middle.saturating_sub(core);
            if sums.n < LEAST || deep < SHALLOW || middle.saturating_add(window) > level {
                continue;
            }
            let more = at(middle + window) - at(middle.saturating_sub(window));
            let grows = f64::from(more) / f64::from(sums.n);
            if grows < GROWS {
                quiet.push((grows, middle, sums));
            }
        }
        quiet.order_by(|a, b| a.0.total_cmp(&b.0));
        let mut taken: Vec<u32> = Vec::new();
        for (_, middle, sums) in quiet {
            // A dot in a small shadow, or with something fainter touching it, is quiet twice, at two sizes.
            let other = |n: &u32| 4 * sums.n.min(*n) < 3 * sums.n.max(*n);
            if taken.len() < TWICE && taken.iter().all(other) {
                taken.push(sums.n);
                self.tell(sums, f64::from(middle - core) * f64::from(LEVEL));
            }
        }
    }

    fn tell(&mut self, sums: Sums, depth: f64) {
        let (at, radius, solid, long) = sums.form();
        if long < LONG && radius > 1.0 {
            self.out.push(Spot {
                at,
                radius,
                solid,
                dark: self.dark,
                depth,
            });
        }
    }
}

impl Thing {
    /// Before it grows at a level, what it was at the last one is kept.
    fn tell(&mut self, level: u8) {
        if self.over || self.sums.n < LEAST || level == 0 {
            return;
        }
        match self.story.last_mut() {
            // It has grown at this level already.
            Some((l, _)) if *l + 1 >= level => {}
            _ => self.story.push((level - 1, self.sums)),
        }
    }
}

/// Numbers of the pixels, the lowest level first.
fn by_level(levels: &[u8]) -> Vec<u32> {
    let mut starts = [0usize; 257];
    for l in levels {
        if let Some(s) = starts.get_mut(usize::from(*l) + 1) {
            *s += 1;
        }
    }
    let mut sum = 0;
    for s in &mut starts {
        sum += *s;
        *s = sum;
    }
    let mut out = vec![0u32; levels.len()];
    for (p, l) in levels.iter().enumerate() {
        if let Some(s) = starts.get_mut(usize::from(*l)) {
            if let Some(o) = out.get_mut(*s) {
                *o = p as u32;
            }
            *s += 1;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ground that is half in shadow, with a dot and a cross in either half, and grain on all of it.
    fn plate() -> Grid {
        let mut g = Grid::new(240, 160);
        let mut seed = 3u32;
        for (i, v) in g.values.iter_mut().enumerate() {
            let (x, y) = ((i % 240) as f64, (i / 240) as f64);
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let grain = f64::from(seed >> 24) / 40.0;
            let light = if x < 120.0 { 1.0 } else { 0.45 };
            let dot = |a: f64, b: f64| libm::hypot(x - a, y - b) < 7.0;
            let cross = |a: f64, b: f64| {
                let (u, v) = ((x - a).abs(), (y - b).abs());
                u.min(v) < 1.6 && u.max(v) < 14.0
            };
            let ink =
                dot(50.0, 40.0) || dot(190.0, 40.0) || cross(50.0, 110.0) || cross(190.0, 110.0);
            *v = (light * (if ink { 60.0 } else { 200.0 }) + grain) as f32;
        }
        g
    }

    #[test]
    fn dots_and_crosses_are_spots_in_light_and_in_shadow() {
        let found = spots(&plate());
        let at = |x: f64, y: f64| {
            let p = Point::new(x, y);
            let near = found.iter().filter(|s| s.dark && s.at.distance(p) < 1.0);
            near.map(|s| (s.radius, s.solid)).next()
        };
        for x in [50.0, 190.0] {
            let (radius, solid) = at(x, 40.0).unwrap();
            assert!(
                (radius - 7.0).abs() < 0.6 && solid > 0.95,
                "{radius} {solid}"
            );
            let (radius, solid) = at(x, 110.0).unwrap();
            assert!(
                (radius - 11.0).abs() < 2.0 && solid < 0.7,
                "{radius} {solid}"
            );
        }
    }

    #[test]
    fn light_and_dark_exchanged_give_the_same_spots() {
        let g = plate();
        let dark = spots(&g)
            .iter()
            .filter(|s| s.dark && s.radius > 4.0)
            .count();
        // 1 / (v + 6) up to a factor, so that logarithms are mirrored.
        let other = g.map(|v| 12_000.0 / (v + 6.0) - 6.0);
        let bright = spots(&other)
            .iter()
            .filter(|s| !s.dark && s.radius > 4.0)
            .count();
        assert!(dark >= 4 && dark.abs_diff(bright) <= 1, "{dark} {bright}");
    }
}
