//! What every outline promises, checked by a walker that shares no code with what made it.
//!
//! 1. Every number is finite.
//! 2. Edges meet bit for bit, and the last edge of a closed loop ends bit for bit where the first starts.
//! 3. An arc's ends lie on its circle.
//! 4. No closed loop crosses itself; where two closed loops cross, a note says so.
//! 5. A part runs counter-clockwise, a hole clockwise and inside a part; an open path is not closed.
//! 6. A relation that is reported holds: angles within 1e-9 rad, lengths within 1e-6 mm.
//! 7. A reported length or radius is that of its edge.

use core::f64::consts::{FRAC_PI_2, PI};
use trued::geom::turn_between;
use trued::{
    Edge, Loop, Note, Outline, Point, Relation, RelationKind, Role, SizeKind, Trued, Vec2,
};

/// The first broken promise, in a sentence.
///
/// # Errors
/// Says which promise is broken and where.
pub fn check(trued: &Trued) -> Result<(), String> {
    sound_outline(&trued.outline, &trued.report.notes)?;
    for relation in &trued.report.relations {
        holds(&trued.outline, relation).map_err(|e| format!("{relation:?}: {e}"))?;
    }
    for size in &trued.report.sizes {
        let edges = edges_of(&trued.outline, size.loop_index);
        let got = match (size.kind, size.edges.as_slice()) {
            (SizeKind::Length, [i]) => {
                over_all(&edges, *i, closed_loop(&trued.outline, size.loop_index))
            }
            (SizeKind::Diameter, [i]) => match edges.get(*i) {
                Some(Edge::Arc(a)) => Some(2.0 * a.radius),
                _ => return Err(format!("the diameter of edge {i}, which is no arc")),
            },
            (SizeKind::Radius, [i]) => match edges.get(*i) {
                Some(Edge::Arc(a)) => Some(a.radius),
                _ => return Err(format!("the radius of edge {i}, which is no arc")),
            },
            _ => None,
        };
        if let Some(got) = got
            && (got - size.value).abs() > 1e-6
        {
            return Err(format!("{size:?} while the edge measures {got}"));
        }
        if !(size.value.is_finite() && size.plus_minus.is_finite() && size.plus_minus >= 0.0) {
            return Err(format!("{size:?} is no size"));
        }
    }
    Ok(())
}

/// A loop that crosses itself is left open, and comes back to its first corner all the same.
fn closed_loop(outline: &Outline, index: usize) -> bool {
    outline.loops.get(index).is_some_and(|l| {
        let edges = l.path.edges();
        let ends = edges.first().zip(edges.last());
        l.path.is_closed() || ends.is_some_and(|(a, b)| bits(a.from()) == bits(b.to()))
    })
}

/// What a rule measures of a straight edge: to where its neighbours' lines would cross it behind a rounded or clipped
/// corner, over a round end, else from corner to corner.
#[must_use]
pub fn over_all(edges: &[Edge], i: usize, closed: bool) -> Option<f64> {
    let edge = edges.get(i)?;
    let d = edge.direction_at(0.5);
    let (n, middle) = (edges.len(), edge.point_at(0.5));
    let at = |k: isize| {
        let k = i as isize + k;
        let wrapped = k.rem_euclid(n as isize) as usize;
        (closed || (0..n as isize).contains(&k)).then(|| &edges[wrapped])
    };
    let turn = |a: &Edge, b: &Edge| turn_between(a.direction_at(1.0), b.direction_at(0.0));
    // The straight edge that follows edge `k` towards a side, round a fillet where there is one.
    let line_beside = |k: isize, side: isize| -> Option<isize> {
        let (next, beyond) = (at(k + side)?, at(k + 2 * side));
        match (next, beyond) {
            (Edge::Line(_), _) => Some(k + side),
            (Edge::Arc(a), Some(Edge::Line(_))) => {
                let fillet = (0.15..2.7).contains(&a.sweep.abs())
                    && smooth(at(k)?, Some(next), side)
                    && smooth(next, beyond, side);
                fillet.then_some(k + 2 * side)
            }
            _ => None,
        }
    };
    // How long a line would be were the corners at its ends not rounded.
    let sharp = |k: isize| -> f64 {
        let Some(own) = at(k) else { return 0.0 };
        let (from, along) = (own.from(), own.direction_at(0.5));
        let ends = [-1, 1].map(|side| {
            let plain = if side > 0 { own.length() } else { 0.0 };
            let beyond = line_beside(k, side)
                .filter(|g| *g != k + side)
                .and_then(&at);
            let Some(beyond) = beyond else { return plain };
            let other = beyond.direction_at(0.5);
            let sine = along.cross(other);
            match sine.abs() > 0.1 {
                true => (beyond.from() - from).cross(other) / sine,
                false => plain,
            }
        });
        ends[1] - ends[0]
    };
    let clipped = |k: isize| -> bool {
        let (Some(to_a), Some(to_b)) = (line_beside(k, -1), line_beside(k, 1)) else {
            return false;
        };
        let (Some(a), Some(c @ Edge::Line(_)), Some(b)) = (at(to_a), at(k), at(to_b)) else {
            return false;
        };
        let (s, t) = (turn(a, c), turn(c, b));
        let likely = |t: f64| (0.26..1.31).contains(&t.abs());
        a.from() != b.from()
            && s * t > 0.0
            && likely(s)
            && likely(t)
            && ((s + t).abs() - FRAC_PI_2).abs() < 0.5
            && sharp(k) < 0.75 * sharp(to_a).min(sharp(to_b))
    };
    let end = |side: isize| -> f64 {
        let corner = if side > 0 { edge.to() } else { edge.from() };
        let plain = (corner - middle).dot(d) * side as f64;
        if let Some(next @ Edge::Arc(a)) = at(side)
            && round(a)
            && smooth(edge, Some(next), side)
        {
            return (a.center - middle).dot(d) * side as f64 + a.radius;
        }
        let Some(mut other) = line_beside(0, side) else {
            return plain;
        };
        if !clipped(0) && clipped(other) {
            other = line_beside(other, side).unwrap_or(other);
        }
        let Some(beyond) = at(other).filter(|_| other != side) else {
            return plain;
        };
        let other = beyond.direction_at(0.5);
        let sine = d.cross(other);
        if sine.abs() <= 0.1 || beyond.from() == edge.from() {
            return plain;
        }
        (beyond.from() - middle).cross(other) / sine * side as f64
    };
    match edge {
        Edge::Line(_) => Some(end(1) + end(-1)),
        Edge::Arc(_) => Some(edge.length()),
    }
}

fn round(a: &trued::Arc) -> bool {
    (2.7..2.0 * PI - 2.7).contains(&a.sweep.abs())
}

fn smooth(edge: &Edge, next: Option<&Edge>, side: isize) -> bool {
    let Some(next) = next else { return false };
    let (a, b) = if side > 0 { (edge, next) } else { (next, edge) };
    turn_between(a.direction_at(1.0), b.direction_at(0.0)).abs() < 0.2
}

/// The promises about the outline alone (1 to 5).
///
/// # Errors
/// Says which promise is broken and where.
pub fn outline(outline: &Outline) -> Result<(), String> {
    sound_outline(outline, &[])
}

fn sound_outline(outline: &Outline, notes: &[Note]) -> Result<(), String> {
    whole(outline)?;
    crossings(outline, notes)?;
    holes_inside(outline)
}

/// The promises each loop keeps for itself (1, 2, 3, and the way it runs).
///
/// # Errors
/// Says which promise is broken and where.
pub fn whole(outline: &Outline) -> Result<(), String> {
    for (i, l) in outline.loops.iter().enumerate() {
        let edges = l.path.edges();
        let fail = |what: String| Err(format!("loop {i}: {what}"));
        if edges.is_empty() {
            return fail("it has no edges".into());
        }
        for (k, e) in edges.iter().enumerate() {
            if let Err(what) = sound(e) {
                return fail(format!("edge {k}: {what}"));
            }
        }
        let closed = l.path.is_closed();
        for k in 0..edges.len() {
            let last = k + 1 == edges.len();
            let next = &edges[(k + 1) % edges.len()];
            if (!last || closed) && bits(edges[k].to()) != bits(next.from()) {
                return fail(format!("edge {k} does not meet the next"));
            }
        }
        if closed == (l.role == Role::Open) {
            return fail(format!("its role is {:?}, closed: {closed}", l.role));
        }
        let area = l.path.area();
        match l.role {
            Role::Part if area <= 0.0 => return fail(format!("a part of area {area}")),
            Role::Hole if area >= 0.0 => return fail(format!("a hole of area {area}")),
            _ => {}
        }
    }
    for m in &outline.marks {
        if !m.at.is_finite() {
            return Err("a mark is nowhere".into());
        }
    }
    Ok(())
}

fn bits(p: Point) -> [u64; 2] {
    // A zero may lose its sign on the way; it is the same place.
    [(p.x + 0.0).to_bits(), (p.y + 0.0).to_bits()]
}

fn sound(e: &Edge) -> Result<(), String> {
    let finite = e.from().is_finite() && e.to().is_finite();
    if !finite || !e.length().is_finite() {
        return Err("it is not finite".into());
    }
    if e.length() <= 0.0 {
        return Err("it has no length".into());
    }
    if let Edge::Arc(a) = e {
        let scale = 1e-9 * (a.radius + a.center.to_vec().length() + 1.0);
        for end in [a.from, a.to] {
            if (end.distance(a.center) - a.radius).abs() > scale {
                return Err(format!("an end lies off its circle of radius {}", a.radius));
            }
        }
    }
    Ok(())
}

/// Chords of all loops against each other by sweep over x; neighbours in one loop may touch.
fn crossings(outline: &Outline, notes: &[Note]) -> Result<(), String> {
    let told = |a: usize, b: usize| {
        let said = [(a, b), (b, a)].map(|(a, b)| format!("loops {} and {} cross", a + 1, b + 1));
        notes
            .iter()
            .any(|n| said.iter().any(|s| n.text.contains(s.as_str())))
    };
    struct Chord {
        a: Point,
        b: Point,
        of: usize,
        place: usize,
        count: usize,
        closed: bool,
        edge: Edge,
    }
    let mut chords: Vec<Chord> = Vec::new();
    for (of, l) in outline.loops.iter().enumerate() {
        let first = chords.len();
        for edge in l.path.edges() {
            for w in edge.flatten(0.02).windows(2) {
                chords.push(Chord {
                    a: w[0],
                    b: w[1],
                    of,
                    place: chords.len() - first,
                    count: 0,
                    closed: l.path.is_closed(),
                    edge,
                });
            }
        }
        let count = chords.len() - first;
        for c in &mut chords[first..] {
            c.count = count;
        }
    }
    let left = |c: &Chord| c.a.x.min(c.b.x);
    chords.sort_by(|p, q| left(p).total_cmp(&left(q)));
    for (i, p) in chords.iter().enumerate() {
        let right = p.a.x.max(p.b.x);
        for q in chords[i + 1..].iter().take_while(|q| left(q) <= right) {
            let apart = p.place.abs_diff(q.place);
            let round = p.closed && apart + 1 == p.count;
            if p.of == q.of && (apart <= 1 || round) {
                continue;
            }
            // An open path may cross itself; loops that cross one another are told of.
            let allowed = if p.of == q.of {
                !p.closed
            } else {
                !p.closed || !q.closed || told(p.of, q.of)
            };
            if !allowed && cross(p.a, p.b, q.a, q.b) && edges_cross(&p.edge, &q.edge) {
                return Err(format!(
                    "loops {} and {} cross near ({:.3}, {:.3})",
                    p.of, q.of, p.a.x, p.a.y
                ));
            }
        }
    }
    Ok(())
}

/// Whether two edges cross, by chords so fine that two edges which touch in a corner and run on side by side
/// are not mistaken for it.
fn edges_cross(a: &Edge, b: &Edge) -> bool {
    let (a, b) = (a.flatten(1e-5), b.flatten(1e-5));
    a.windows(2)
        .any(|p| b.windows(2).any(|q| cross(p[0], p[1], q[0], q[1])))
}

/// Whether two chords cross properly: ends that merely touch do not count.
fn cross(a: Point, b: Point, c: Point, d: Point) -> bool {
    let side = |p: Point, q: Point, r: Point| {
        let v = q - p;
        let s = v.cross(r - p) / v.length().max(1e-300);
        if s.abs() < 1e-7 { 0.0 } else { s.signum() }
    };
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

/// Every hole lies in some part; where there are no parts there is nothing for a hole to be in.
fn holes_inside(outline: &Outline) -> Result<(), String> {
    let parts: Vec<&Loop> = (outline.loops.iter())
        .filter(|l| l.role == Role::Part)
        .collect();
    for (i, l) in outline.loops.iter().enumerate() {
        if l.role != Role::Hole {
            continue;
        }
        let first = l.path.edges()[0].point_at(0.5);
        // A hole may come nearer to the edge of its part than coarse chords do.
        let inside = |tolerance: f64| {
            let mut around = parts.iter().map(|p| p.path.flatten(tolerance));
            around.any(|p| winds(&p, first))
        };
        if !inside(0.02) && !inside(1e-6) {
            return Err(format!("loop {i} is a hole in nothing"));
        }
    }
    Ok(())
}

/// Whether a closed chain of points goes round a place (even–odd rule).
#[must_use]
pub fn winds(points: &[Point], at: Point) -> bool {
    let mut inside = false;
    for w in points.windows(2) {
        let (a, b) = (w[0], w[1]);
        if (a.y > at.y) != (b.y > at.y) && at.x < a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x) {
            inside = !inside;
        }
    }
    inside
}

fn edges_of(outline: &Outline, index: usize) -> Vec<Edge> {
    outline
        .loops
        .get(index)
        .map(|l| l.path.edges())
        .unwrap_or_default()
}

/// Angle between two directions as lines, in 0..=π/2.
fn between(a: Vec2, b: Vec2) -> f64 {
    let t = turn_between(a, b).abs();
    t.min(PI - t)
}

/// What a relation ties together, in the order told: edges, and of holes, marks and whole loops the places of their
/// middles.
#[derive(Default)]
struct Tied {
    edges: Vec<Edge>,
    places: Vec<Point>,
}

fn tied(outline: &Outline, relation: &Relation) -> Result<Tied, String> {
    let mut out = Tied::default();
    let own = relation
        .edges
        .iter()
        .map(|e| (relation.loop_index, Some(*e)));
    let others = relation.with.iter().map(|w| (w.loop_index, w.edge));
    for (loop_index, edge) in own.chain(others) {
        let edges = edges_of(outline, loop_index);
        let Some(edge) = edge else {
            let corners: Vec<Point> = edges.iter().map(Edge::from).collect();
            out.places.push(middle(&corners));
            continue;
        };
        let missing = || format!("there is no edge {edge} of loop {loop_index}");
        let edge = *edges.get(edge).ok_or_else(missing)?;
        out.edges.push(edge);
        if let Edge::Arc(a) = edge {
            out.places.push(a.center);
        }
    }
    for &m in &relation.marks {
        let missing = || format!("there is no mark {m}");
        out.places
            .push(outline.marks.get(m).ok_or_else(missing)?.at);
    }
    Ok(out)
}

fn near(off: f64, limit: f64) -> Result<(), String> {
    if off.abs() <= limit {
        Ok(())
    } else {
        Err(format!("off by {off}"))
    }
}

fn alike(values: &[f64], limit: f64) -> Result<(), String> {
    values.iter().try_for_each(|v| near(v - values[0], limit))
}

fn holds(outline: &Outline, relation: &Relation) -> Result<(), String> {
    let Tied { edges, places } = tied(outline, relation)?;
    let direction = |e: &Edge| e.direction_at(0.5);
    let steps: Vec<Vec2> = places.windows(2).map(|w| w[1] - w[0]).collect();
    let pair = || match edges.as_slice() {
        [a, b] => Ok((*a, *b)),
        _ => Err(format!("{} edges", edges.len())),
    };
    match relation.kind {
        RelationKind::Tangent => {
            let (a, b) = pair()?;
            let one = turn_between(a.direction_at(1.0), b.direction_at(0.0)).abs();
            let other = turn_between(b.direction_at(1.0), a.direction_at(0.0)).abs();
            // The place where a line meets a circle is root-like at a tangent.
            near(one.min(other), 1e-6)
        }
        // A line and an arc, or two arcs, are square where they meet.
        RelationKind::Square if !relation.is_across() && !places.is_empty() => {
            let (a, b) = pair()?;
            let one = between(a.direction_at(1.0), b.direction_at(0.0)) - FRAC_PI_2;
            let other = between(b.direction_at(1.0), a.direction_at(0.0)) - FRAC_PI_2;
            near(one.abs().min(other.abs()), 1e-9)
        }
        RelationKind::Square | RelationKind::Parallel => {
            let lines = edges.iter().filter(|e| matches!(e, Edge::Line(_)));
            let mut ways: Vec<Vec2> = lines.map(direction).collect();
            // A pattern lies the way from its first hole to the next.
            ways.extend(steps.first().and_then(|s| s.unit()));
            let square = relation.kind == RelationKind::Square;
            let want = if square { FRAC_PI_2 } else { 0.0 };
            let off = |w: &Vec2| near(between(ways[0], *w) - want, 1e-9);
            ways[1..].iter().try_for_each(off)
        }
        RelationKind::AngleStep => {
            let (a, b) = pair()?;
            let said = relation.value.ok_or("an angle without a value")?;
            near(
                between(direction(&a), direction(&b)) - said.min(PI - said),
                1e-9,
            )
        }
        RelationKind::EqualLength => {
            let lengths: Vec<f64> = edges.iter().map(Edge::length).collect();
            // A person's word is of sides over all.
            alike(&lengths, 1e-6).or_else(|e| match rules(outline, relation) {
                Some(sizes) => alike(&sizes, 1e-6),
                None => Err(e),
            })
        }
        RelationKind::EqualRadius => {
            let radii: Vec<f64> = edges.iter().map(radius).collect();
            alike(&radii, 1e-6)
        }
        RelationKind::OneCenter => {
            let together = |a: &[Point], b: &[Point]| middle(a).distance(middle(b)) < 1e-6;
            let split = |k: usize| together(&places[..k], &places[k..]);
            let one = (1..places.len()).any(split);
            one.then_some(())
                .ok_or(format!("centres apart: {places:?}"))
        }
        RelationKind::Regular => regular(&edges),
        RelationKind::Mirrored => mirrored(&edges_of(outline, relation.loop_index)),
        RelationKind::InLine => {
            let (a, b) = pair()?;
            near(between(direction(&a), direction(&b)), 1e-9)?;
            near(direction(&a).cross(b.point_at(0.5) - a.point_at(0.5)), 1e-6)
        }
        RelationKind::Size => given(outline, relation, &edges),
        RelationKind::HoleRow => steps
            .iter()
            .try_for_each(|s| near((*s - steps[0]).length(), 1e-6)),
        RelationKind::HoleCircle => {
            let center = middle(&places);
            let reach: Vec<f64> = places.iter().map(|p| p.distance(center)).collect();
            let pitch: Vec<f64> = steps.iter().map(|s| s.length()).collect();
            alike(&reach, 1e-6).and_then(|()| alike(&pitch, 1e-6))
        }
        RelationKind::HoleRectangle => {
            let [a, b, c, d] = places.as_slice() else {
                return Err("a rectangle of other than four holes".into());
            };
            near(a.midpoint(*c).distance(b.midpoint(*d)), 1e-6)?;
            near(a.distance(*c) - b.distance(*d), 1e-6)
        }
    }
}

/// Radius of an arc; none of a line.
fn radius(e: &Edge) -> f64 {
    match e {
        Edge::Arc(a) => a.radius,
        Edge::Line(_) => f64::NAN,
    }
}

/// A size that was given is that of its edge or edges.
/// The edges of a relation as a rule measures them.
fn rules(outline: &Outline, relation: &Relation) -> Option<Vec<f64>> {
    let own = relation.edges.iter().map(|e| (relation.loop_index, *e));
    let with = relation.with.iter().map(|w| Some((w.loop_index, w.edge?)));
    own.map(Some)
        .chain(with)
        .map(|of| {
            let (i, e) = of?;
            over_all(&edges_of(outline, i), e, closed_loop(outline, i))
        })
        .collect()
}

fn given(outline: &Outline, relation: &Relation, edges: &[Edge]) -> Result<(), String> {
    let value = relation.value.ok_or("a size without a value")?;
    match edges {
        [Edge::Line(_)] => {
            let size = rules(outline, relation).and_then(|s| s.first().copied());
            let size = size.ok_or("a size of no edge")?;
            near(size - value, 1e-6).or_else(|e| {
                // What was a chamfer when the size was asked may be too long for one now.
                let all = between_meetings(outline, relation).unwrap_or_default();
                let met = all.iter().any(|v| near(v - value, 1e-6).is_ok());
                if met { Ok(()) } else { Err(e) }
            })
        }
        // Told as its radius or as its diameter.
        [e] => near(radius(e) - value, 1e-6).or_else(|_| near(2.0 * radius(e) - value, 1e-6)),
        [Edge::Arc(a), Edge::Arc(b)] => near(a.center.distance(b.center) - value, 1e-6),
        [a, b] => {
            let across = a.direction_at(0.5).cross(b.point_at(0.5) - a.point_at(0.5));
            near(across.abs() - value, 1e-6)
        }
        _ => Err("a size of nothing".into()),
    }
}

/// A straight side from its corners, or from where it would meet the sides beyond its neighbours: all four lengths.
fn between_meetings(outline: &Outline, relation: &Relation) -> Option<Vec<f64>> {
    let edges = outline.loops.get(relation.loop_index)?.path.edges();
    let (n, e) = (edges.len(), *relation.edges.first()?);
    let side = edges.get(e)?;
    let meets = |k: usize| -> Option<Point> {
        let other = edges.get(k % n)?;
        let (u, v) = (side.direction_at(0.5), other.direction_at(0.5));
        let t = (other.from() - side.from()).cross(v) / u.cross(v);
        t.is_finite().then(|| side.from() + u * t)
    };
    let starts = [Some(side.from()), meets(e + n - 2)];
    let ends = [Some(side.to()), meets(e + 2)];
    let pairs = starts.into_iter().flatten();
    let pairs = pairs.flat_map(|a| ends.into_iter().flatten().map(move |b| a.distance(b)));
    Some(pairs.collect())
}

/// All sides and all corners of a closed loop are alike.
fn regular(edges: &[Edge]) -> Result<(), String> {
    let lengths: Vec<f64> = edges.iter().map(Edge::length).collect();
    alike(&lengths, 1e-6)?;
    let next = |i: usize| &edges[(i + 1) % edges.len()];
    let turn = |i: usize| turn_between(edges[i].direction_at(1.0), next(i).direction_at(0.0));
    let turns: Vec<f64> = (0..edges.len()).map(turn).collect();
    alike(&turns, 1e-8)
}

/// Some line lays the outline on itself: one through the mean of its corners and one of them, or a middle of an
/// edge; of a path with two ends the one half way between them.
fn mirrored(edges: &[Edge]) -> Result<(), String> {
    let mut corners: Vec<Point> = edges.iter().map(Edge::from).collect();
    let (first, last) = (edges[0].from(), edges[edges.len() - 1].to());
    if first.distance(last) > 1e-9 {
        corners.push(last);
    }
    let center = middle(&corners);
    let halves = edges.iter().map(|e| e.point_at(0.5));
    let mut ways: Vec<Vec2> = corners
        .iter()
        .copied()
        .chain(halves)
        .map(|p| p - center)
        .collect();
    ways.push((last - first).left());
    let off = |u: Vec2| -> f64 {
        let image = |p: Point| {
            let d = p - center;
            center + u * (2.0 * d.dot(u)) - d
        };
        let points = edges
            .iter()
            .flat_map(|e| [0.0, 0.25, 0.5].map(|t| e.point_at(t)));
        let from_edges = |p| {
            edges
                .iter()
                .map(|e| e.distance(p))
                .fold(f64::INFINITY, f64::min)
        };
        points.map(|p| from_edges(image(p))).fold(0.0, f64::max)
    };
    let best = ways
        .iter()
        .filter_map(|w| w.unit())
        .map(off)
        .fold(f64::INFINITY, f64::min);
    near(best, 1e-5)
}

fn middle(places: &[Point]) -> Point {
    let n = places.len().max(1) as f64;
    let sum = places
        .iter()
        .fold(Vec2::default(), |s, p| s + Vec2::new(p.x, p.y));
    Point::new(sum.x / n, sum.y / n)
}
