//! Sums over vectors of numbers: the innermost loops of the joint solve.
//!
//! A sum taken one term after the other waits for each addition before the next. Four sums side by side,
//! each of every fourth term, wait for none, and a compiler may take several in one instruction. Their order
//! is fixed, so every bit is the same on every machine; it is another than that of a plain sum, and as good
//! (the error grows with a fourth of the length; Higham 2002, ch. 4).

/// Sums side by side.
const LANES: usize = 4;

/// `a · b`, as long as the shorter.
#[must_use]
#[inline]
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().min(b.len());
    let (a, b) = (a.split_at(n).0, b.split_at(n).0);
    let mut sums = [0.0; LANES];
    let (pairs_a, pairs_b) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let (rest_a, rest_b) = (pairs_a.remainder(), pairs_b.remainder());
    for (p, q) in pairs_a.zip(pairs_b) {
        for ((s, x), y) in sums.iter_mut().zip(p).zip(q) {
            *s += x * y;
        }
    }
    for ((s, x), y) in sums.iter_mut().zip(rest_a).zip(rest_b) {
        *s += x * y;
    }
    let [a, b, c, d] = sums;
    (a + c) + (b + d)
}

/// `a · a`.
#[must_use]
pub(crate) fn square(a: &[f64]) -> f64 {
    dot(a, a)
}

/// `a += k · b`, as long as the shorter.
pub(crate) fn add(a: &mut [f64], k: f64, b: &[f64]) {
    for (x, y) in a.iter_mut().zip(b) {
        *x += k * y;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_of_every_length_are_those_of_whole_numbers() {
        for n in 0..40_u32 {
            let a: Vec<f64> = (0..n).map(f64::from).collect();
            let exact = (0..n).map(|i| i * i).sum::<u32>();
            assert_eq!(square(&a), f64::from(exact), "{n}");
        }
    }
}
