//! Which order and which turns: the usual ones first, then shuffles, until a fixed amount of work
//! is done. Work is counted, not timed, so the same input gives the same layout on any machine.

use super::Placement;
use super::place::{Plate, Push, Set, Table};
use super::shape::{Room, Shape};
use crate::geom::Sorted as _;
use crate::geom::{Point, Vec2};
use crate::outline::Bounds;
use crate::outline::Outline;

/// Crossings tried before the search rests with what it has: about a second.
const WORK: u64 = 150_000_000;
/// Crossings tried in all for a layout with less left over, once all copies fit: a moment.
const WORK_WHEN_ALL_FIT: u64 = 20_000_000;
/// Most shuffles.
const MOST_SHUFFLES: usize = 400;

/// How one layout is to be made.
struct Recipe {
    /// Pieces in the order they are set down, one entry a copy.
    order: Vec<usize>,
    push: Push,
    turns: TurnRule,
}

enum TurnRule {
    /// Whichever stands best.
    Any,
    /// This one of the piece's shapes (counted round), any other only where it does not fit.
    Prefer(usize),
    /// These, copy by copy.
    Each(Vec<usize>),
}

/// The best layout found.
pub(super) fn best(
    shapes: &[Vec<Shape>],
    room: &Room,
    pieces: &[(Outline, usize)],
    effort: u32,
) -> Vec<Placement> {
    let work = WORK.saturating_mul(u64::from(effort.max(1)));
    let shuffles = MOST_SHUFFLES.saturating_mul(effort.max(1) as usize);
    let when_all_fit = if effort == 0 { 0 } else { WORK_WHEN_ALL_FIT };
    let flat: Vec<&Shape> = shapes.iter().flatten().collect();
    let mut of_piece: Vec<Vec<usize>> = vec![Vec::new(); shapes.len()];
    let mut table = Table::new(flat.clone(), room);
    for (i, shape) in flat.iter().enumerate() {
        if let Some(list) = of_piece.get_mut(shape.piece).filter(|_| table.can_stand(i)) {
            list.push(i);
        }
    }
    let copies: Vec<usize> = pieces.iter().map(|(_, copies)| *copies).collect();
    let mut keep = Keep::new(room);
    let enough =
        |keep: &Keep, done: u64| done > work || (done > when_all_fit && keep.is_all(&copies));
    for recipe in usual(shapes, &copies) {
        keep.offer(make(&mut table, &of_piece, &recipe), &flat);
        if enough(&keep, table.work) {
            break;
        }
    }
    let mut dice = Dice(0x9E37_79B9_7F4A_7C15);
    for _ in 0..shuffles {
        if enough(&keep, table.work) {
            break;
        }
        let recipe = shuffled(&copies, &mut dice);
        keep.offer(make(&mut table, &of_piece, &recipe), &flat);
    }
    keep.placements(&flat)
}

/// The orders a person would try.
fn usual(shapes: &[Vec<Shape>], copies: &[usize]) -> Vec<Recipe> {
    let first = |i: usize| shapes.get(i).and_then(|s| s.first());
    let area = |i: usize| first(i).map_or(0.0, |s| s.width * s.height);
    let long = |i: usize| first(i).map_or(0.0, |s| s.width.max(s.height));
    let tall = |i: usize| first(i).map_or(0.0, |s| s.height);
    let sorted = |size: &dyn Fn(usize) -> f64| {
        let mut order: Vec<usize> = (0..shapes.len()).collect();
        order.order_by(|&a, &b| size(b).total_cmp(&size(a)));
        repeat(&order, copies)
    };
    let small_first = |i: usize| -area(i);
    let orders = [
        sorted(&area),
        sorted(&long),
        sorted(&tall),
        sorted(&small_first),
    ];
    let turns = shapes.iter().map(Vec::len).max().unwrap_or(0);
    let mut all = Vec::new();
    for order in orders.iter().take(if shapes.len() > 1 { 4 } else { 1 }) {
        for push in [Push::Down, Push::TopDown, Push::Left] {
            all.push(Recipe {
                order: order.clone(),
                push,
                turns: TurnRule::Any,
            });
        }
        for turn in 0..turns {
            for push in [Push::Down, Push::Left] {
                all.push(Recipe {
                    order: order.clone(),
                    push,
                    turns: TurnRule::Prefer(turn),
                });
            }
        }
    }
    all
}

fn repeat(order: &[usize], copies: &[usize]) -> Vec<usize> {
    order
        .iter()
        .flat_map(|&i| core::iter::repeat_n(i, copies.get(i).copied().unwrap_or(0)))
        .collect()
}

fn shuffled(copies: &[usize], dice: &mut Dice) -> Recipe {
    let natural: Vec<usize> = (0..copies.len()).collect();
    let mut order = repeat(&natural, copies);
    for i in (1..order.len()).rev() {
        order.swap(i, dice.below(i + 1));
    }
    let push = [Push::Down, Push::Left]
        .get(dice.below(2))
        .copied()
        .unwrap_or(Push::Down);
    let turns = match dice.below(3) {
        0 => TurnRule::Any,
        _ => TurnRule::Each(order.iter().map(|_| dice.below(1 << 16)).collect()),
    };
    Recipe { order, push, turns }
}

fn make(table: &mut Table<'_>, of_piece: &[Vec<usize>], recipe: &Recipe) -> Vec<Set> {
    let count = of_piece.iter().flatten().max().map_or(0, |m| m + 1);
    let mut wanted = vec![false; count];
    let mut left = vec![0_usize; of_piece.len()];
    for &piece in &recipe.order {
        left.iter_mut().skip(piece).take(1).for_each(|n| *n += 1);
        for &shape in of_piece.get(piece).into_iter().flatten() {
            wanted
                .iter_mut()
                .skip(shape)
                .take(1)
                .for_each(|w| *w = true);
        }
    }
    let mut plate = Plate::new(table, &wanted);
    for (step, &piece) in recipe.order.iter().enumerate() {
        let (Some(shapes), Some(left)) = (of_piece.get(piece), left.get_mut(piece)) else {
            continue;
        };
        let prefer = match &recipe.turns {
            TurnRule::Any => None,
            TurnRule::Prefer(turn) => Some(*turn),
            TurnRule::Each(turns) => turns.get(step).copied(),
        };
        let one = prefer.and_then(|t| shapes.get(t % shapes.len().max(1)));
        let found = one
            .and_then(|&s| plate.find(&[s], recipe.push))
            .or_else(|| plate.find(shapes, recipe.push));
        *left = left.saturating_sub(1);
        let Some(found) = found else { continue };
        if *left == 0 {
            shapes.iter().for_each(|&s| plate.forget(s));
        }
        plate.put(found);
    }
    plate.set
}

/// The best so far: most copies, then most area, then the largest whole piece left of the plate,
/// above all of them or beside all of them.
struct Keep {
    sets: Vec<Set>,
    score: Option<(usize, f64, f64)>,
    plate: Bounds,
}

impl Keep {
    fn new(room: &Room) -> Self {
        Self {
            sets: Vec::new(),
            score: None,
            plate: room.extent,
        }
    }

    fn offer(&mut self, sets: Vec<Set>, shapes: &[&Shape]) {
        let shape = |s: &Set| shapes.get(s.shape).copied();
        let area: f64 = sets
            .iter()
            .filter_map(shape)
            .map(|s| s.width * s.height)
            .sum();
        let corners = sets.iter().filter_map(|s| {
            let size = shape(s)?;
            Some(s.at + Vec2::new(size.width, size.height))
        });
        let low = self.plate.min;
        let reached = corners.fold(low, |m, p| Point::new(m.x.max(p.x), m.y.max(p.y)));
        let above = (self.plate.max.y - reached.y) * self.plate.width();
        let beside = (self.plate.max.x - reached.x) * self.plate.height();
        let score = (sets.len(), area, above.max(beside));
        if self.score.is_none_or(|best| score > best) {
            self.sets = sets;
            self.score = Some(score);
        }
    }

    fn is_all(&self, copies: &[usize]) -> bool {
        self.sets.len() >= copies.iter().sum()
    }

    fn placements(self, shapes: &[&Shape]) -> Vec<Placement> {
        self.sets
            .iter()
            .filter_map(|s| {
                let shape = shapes.get(s.shape)?;
                Some(Placement {
                    piece: shape.piece,
                    copy: 0,
                    turn: shape.turn,
                    shift: s.at.to_vec() - shape.base,
                })
            })
            .collect()
    }
}

/// Numbers from a fixed seed (xorshift; Marsaglia 2003).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    /// A number below `n`.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 11) % (n.max(1) as u64)) as usize
    }
}
