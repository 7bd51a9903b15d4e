//! Stable sorting that is compiled once.
//!
//! The standard library's sort is compiled anew for every type and every comparison, several
//! kilobytes each time; over the whole library that was a ninth of the module the page loads. Here
//! only numbers are sorted, by one copy of that code that calls back to compare, and the items are
//! then brought into that order. The result is the standard stable sort's. A comparison costs one
//! indirect call more: fine for lists of candidates, not for the points of a trace.

use core::cmp::Ordering;

/// Stable sorting of a slice; see above for when.
pub trait Sorted<T> {
    /// Sorts by a comparison; equal items keep their order.
    fn order_by(&mut self, compare: impl FnMut(&T, &T) -> Ordering);

    /// Sorts by a key; equal items keep their order.
    fn order_by_key<K: Ord>(&mut self, mut key: impl FnMut(&T) -> K) {
        self.order_by(|a, b| key(a).cmp(&key(b)));
    }
}

impl<T> Sorted<T> for [T] {
    fn order_by(&mut self, mut compare: impl FnMut(&T, &T) -> Ordering) {
        let order = order(self.len(), &mut |a, b| match (self.get(a), self.get(b)) {
            (Some(a), Some(b)) => compare(a, b),
            _ => Ordering::Equal,
        });
        // `goes[i]` is where item i belongs; each swap puts one item there for good.
        let mut goes = vec![0; order.len()];
        for (place, &item) in order.iter().enumerate() {
            if let Some(g) = goes.get_mut(item) {
                *g = place;
            }
        }
        for i in 0..goes.len() {
            while let Some(&place) = goes.get(i).filter(|&&place| place != i) {
                self.swap(i, place);
                goes.swap(i, place);
            }
        }
    }
}

fn order(count: usize, compare: &mut dyn FnMut(usize, usize) -> Ordering) -> Vec<usize> {
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|&a, &b| compare(a, b));
    order
}

#[cfg(test)]
mod tests {
    use super::Sorted;

    #[test]
    fn the_same_as_the_standard_stable_sort() {
        let mut seed = 1_u64;
        for count in [0, 1, 2, 3, 20, 21, 64, 500] {
            let items: Vec<(u64, usize)> = (0..count)
                .map(|i| {
                    seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                    (seed >> 61, i)
                })
                .collect();
            let (mut a, mut b) = (items.clone(), items);
            a.order_by(|x, y| x.0.cmp(&y.0));
            b.sort_by_key(|x| x.0);
            assert_eq!(a, b);
            a.order_by_key(|x| core::cmp::Reverse(x.0));
            b.sort_by_key(|x| core::cmp::Reverse(x.0));
            assert_eq!(a, b);
        }
    }
}
