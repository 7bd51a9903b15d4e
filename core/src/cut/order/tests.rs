use super::moves::places;
use super::*;
use crate::cut::layout::Dice;

fn row(places: &[(f64, f64)]) -> Vec<Stop> {
    places
        .iter()
        .map(|&(x, y)| Stop {
            start: Point::new(x, y),
            end: Point::new(x, y),
            before: Vec::new(),
            warm: Vec::new(),
        })
        .collect()
}

#[test]
fn every_stop_once_and_none_before_what_it_waits_for() {
    let mut dice = Dice(7);
    let mut stops = row(&(0..120)
        .map(|_| (dice.below(1000) as f64, dice.below(600) as f64))
        .collect::<Vec<_>>());
    for (i, stop) in stops.iter_mut().enumerate().take(90) {
        stop.before = vec![90 + i % 30];
    }
    let tour = order(&stops, Point::default(), 0.05);
    let mut sorted = tour.order.clone();
    sorted.sort_unstable();
    assert_eq!(sorted, (0..120).collect::<Vec<_>>());
    let place = places(&tour.order);
    for (i, s) in stops.iter().enumerate() {
        assert!(s.before.iter().all(|&l| place[i] < place[l]));
    }
    assert!(tour.travel >= bound(&stops, Point::default()));
}

#[test]
fn a_grid_is_travelled_near_its_shortest() {
    // 15 x 10 places 20 mm apart: the shortest way through all is 149 steps of 20 mm.
    let places: Vec<(f64, f64)> = (0..150)
        .map(|i| {
            (
                f64::from(i * 7 % 15) * 20.0,
                f64::from(i * 7 % 150 / 15) * 20.0,
            )
        })
        .collect();
    let stops = row(&places);
    let tour = order(&stops, Point::default(), 0.0);
    assert!(tour.travel <= 1.05 * 149.0 * 20.0, "{}", tour.travel);
    let least = bound(&stops, Point::default());
    assert!(
        least > 0.9 * 149.0 * 20.0 && least <= 149.0 * 20.0 + 1e-6,
        "{least}"
    );
}

/// Parts on a grid, each with holes in it that come first.
fn plate(dice: &mut Dice, across: usize, up: usize, holes: usize) -> Vec<Stop> {
    let mut stops = Vec::new();
    let mut place = |x: f64, y: f64| Point::new(x + dice.below(8) as f64, y + dice.below(8) as f64);
    for i in 0..across * up {
        let (x, y) = ((i % across) as f64 * 50.0, (i / across) as f64 * 35.0);
        let part = stops.len() + holes;
        for k in 0..=holes {
            let start = place(x + 14.0 * k as f64, y + if k == holes { -6.0 } else { 9.0 });
            stops.push(Stop {
                start,
                end: place(start.x - 4.0, start.y - 4.0),
                before: if k < holes { vec![part] } else { Vec::new() },
                warm: Vec::new(),
            });
        }
    }
    stops
}

#[test]
fn travel_is_near_what_a_long_search_finds() {
    let mut dice = Dice(11);
    for (across, up, holes) in [(10, 10, 1), (20, 10, 1), (12, 8, 2), (20, 10, 0)] {
        let stops = plate(&mut dice, across, up, holes);
        let soon = order(&stops, Point::default(), 0.05).travel;
        let long = order_with(&stops, Point::default(), 0.0, 20 * SHAKE_WORK).travel;
        assert!(soon <= 1.1 * long, "{across} x {up}: {soon} and {long}");
    }
}

#[test]
fn heat_is_spread_as_far_as_the_travel_may_grow() {
    // Two rows of ten, each piece warm to those beside it.
    let mut stops = row(&(0..20)
        .map(|i| (f64::from(i % 10) * 30.0, f64::from(i / 10) * 30.0))
        .collect::<Vec<_>>());
    for (i, stop) in stops.iter_mut().enumerate() {
        let beside = |j: &usize| {
            let (x, y) = ((i % 10).abs_diff(j % 10), (i / 10).abs_diff(j / 10));
            *j != i && x <= 1 && y <= 1
        };
        stop.warm = (0..20).filter(beside).collect();
    }
    let share = |s: f64| order(&stops, Point::default(), s);
    let (none, some, all) = (share(0.0), share(0.5), share(2.0));
    assert_eq!(none.warm_in_a_row, 19);
    assert!(some.warm_in_a_row < 19 && some.travel <= 1.5 * none.travel + 1e-9);
    assert_eq!(all.warm_in_a_row, 0);
}

#[test]
fn heat_is_spread_where_it_costs_little() {
    // Pairs 5 mm apart, pairs 6 mm from one another: skipping inside a pair is cheap.
    let mut stops = row(&[(0.0, 0.0), (5.0, 0.0), (0.0, 5.5), (5.0, 5.5)]);
    stops[0].warm = vec![1];
    stops[1].warm = vec![0];
    stops[2].warm = vec![3];
    stops[3].warm = vec![2];
    let tour = order(&stops, Point::new(-1.0, -1.0), 0.2);
    assert!(tour.warm_in_a_row <= 1, "{tour:?}");
}

/// Plates that are cut use a tenth of the work that one order may cost; hatches of thousands of lines that wait for
/// nothing, which took minutes, use it up.
#[test]
fn the_work_of_one_order_is_bounded() {
    let mut dice = Dice(5);
    let used = |stops: &[Stop]| {
        let mut problem = Problem::new(stops, Point::default());
        let mut best = problem.nearest_first();
        problem.better(&mut best);
        problem.shake(&mut best, SHAKE_WORK, f64::INFINITY);
        problem.cooler(&best, f64::INFINITY);
        let mut all = best.clone();
        all.sort_unstable();
        assert_eq!(all, (0..stops.len()).collect::<Vec<_>>());
        moves::MOST_WORK - problem.work_left.get()
    };
    let plates = used(&plate(&mut dice, 20, 10, 2));
    assert!(10 * plates < moves::MOST_WORK, "{plates}");
    let mut place = || Point::new(dice.below(1000) as f64, dice.below(1000) as f64);
    let lines: Vec<Stop> = (0..3000)
        .map(|_| Stop {
            start: place(),
            end: place(),
            before: Vec::new(),
            warm: Vec::new(),
        })
        .collect();
    assert_eq!(used(&lines), moves::MOST_WORK);
}

/// All orders of few stops looked at, one after the other.
#[test]
fn few_stops_are_ordered_as_well_as_can_be() {
    let mut dice = Dice(17);
    for n in 1..=7 {
        for share in [0.0, 0.1, 0.6] {
            let mut stops = plate(&mut dice, 7, 1, 0);
            stops.truncate(n);
            if n > 2 {
                stops[1].before = vec![0, n - 1];
            }
            for i in 1..n {
                stops[i].warm = vec![i - 1];
                stops[i - 1].warm.push(i);
            }
            let problem = Problem::new(&stops, Point::default());
            let mut every: Vec<Vec<usize>> = vec![Vec::new()];
            for _ in 0..n {
                let longer = |tour: &Vec<usize>| {
                    let may = |i: &usize| {
                        !tour.contains(i) && problem.after[*i].iter().all(|a| tour.contains(a))
                    };
                    let next = (0..n).filter(may);
                    next.map(|i| [tour.as_slice(), &[i]].concat())
                        .collect::<Vec<_>>()
                };
                every = every.iter().flat_map(longer).collect();
            }
            let shortest = every.iter().map(|t| problem.travel(t));
            let most = (1.0 + share) * shortest.fold(f64::INFINITY, f64::min);
            let best = every
                .iter()
                .map(|t| (problem.warm(t), problem.travel(t)))
                .filter(|(_, travel)| *travel <= most)
                .min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
            let tour = order(&stops, Point::default(), share);
            assert_eq!(Some((tour.warm_in_a_row, tour.travel)), best, "{n} {share}");
        }
    }
}
