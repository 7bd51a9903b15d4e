//! How well a reading explains its path, for a hand whose slow error is unknown but not unheard of.
//!
//! **Problem.** The wander measured on short windows is the fast part of a hand's error. A hand also drifts:
//! whoever follows a line errs by a few thousandths of the drawing's diagonal in waves of some hundredths of it,
//! whoever draws from memory by several hundredths. Left out, every wave must become an edge; taken from a
//! reading's own residuals, a wrong reading excuses itself.
//!
//! **Idea.** The two are different *instruments*, each with a prior that was measured on people: how large its
//! whole error is against the diagonal, and how far along the line it stays alike ([`Prior`]). Along every edge the
//! residuals are taken apart into cosine modes, which nearly diagonalise a stationary process, and the evidence is
//!
//! ```text
//! ½ Σ [ c²/V + ln(V/F) − 1 ] − ½ f/A Σ' ln(V/W) + price of the error,      V = F' + T + G
//! ```
//!
//! `F` the fast spectrum as it was measured, `F'` the same a little larger or longer (it was measured on a few
//! windows), `T` the slow one (Matérn 3/2: people's errors fall with the third to fourth power of the
//! frequency), `G` a smooth one (long waves alone), `W` the spectrum that the solve was whitened by. The last sum,
//! over the longest waves of each edge (two of a line, three of an arc, `A` in all), is what the `f` free numbers
//! of the reading give back: the modes they take up are no residuals. What makes `V` is chosen where the evidence
//! is best, and paid for: [`SLOW_PRICE`] for each of `T` and `G`, and what an error so large against the diagonal
//! costs under the prior. Nobody's hand errs beyond [`Prior::sizes`], nor steeper off the line than
//! [`Prior::steepest`]: errors of a few mm that come and go within a few mm are teeth, and no hand's. Where the line
//! goes out further than people's do, each time is paid for by itself ([`Under::excursion`]).
//!
//! **Source.** Whittle (1953) for the spectral likelihood; the priors are those of people tracing and drawing
//! a spiral on a tablet (sample data of an open toolkit for such recordings, 30 recordings by two people).
//!
//! **Fails** where a slow error runs on across a joint: the edges' modes are taken as independent. The measured
//! people are few.

use crate::geom::Sorted as _;
use crate::relate::blocks::{EdgeResiduals, Noise, block_noise};
use crate::relate::normal::LogProduct;
use crate::relate::round::Round;
use crate::relate::solve::Solved;
use core::f64::consts::PI;

/// What the line was made with: a hand that follows something, or one that draws from memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Instrument {
    /// It followed a line, a template, an edge.
    #[default]
    Traced,
    /// It had nothing to follow.
    Drawn,
}

/// What is known of an instrument's error before a line is seen; lengths as parts of the diagonal.
struct Prior {
    /// The whole error most people make, rms, and how that scatters (of its logarithm).
    usual: f64,
    spread: f64,
    /// Sizes of a slow error tried.
    sizes: [f64; SIZES],
    /// How far along it is correlated.
    lengths: [f64; LENGTHS],
    /// Nobody's slow error runs steeper off the line, rms: its size against its length.
    steepest: f64,
    /// Further off than people's lines ever go they go as a normal deviation of so much, against the usual error.
    beyond: f64,
}

const SIZES: usize = 7;
const LENGTHS: usize = 3;

impl Instrument {
    const fn prior(self) -> &'static Prior {
        match self {
            Self::Traced => &Prior {
                usual: 0.005,
                spread: 0.4,
                sizes: [0.0008, 0.0013, 0.002, 0.0032, 0.005, 0.008, 0.012],
                lengths: [0.02, 0.035, 0.06],
                steepest: 0.25,
                beyond: 0.3,
            },
            Self::Drawn => &Prior {
                usual: 0.02,
                spread: 0.6,
                sizes: [0.002, 0.0035, 0.006, 0.011, 0.019, 0.034, 0.06],
                lengths: [0.03, 0.06, 0.12],
                steepest: 0.4,
                beyond: 0.6,
            },
        }
    }
}

/// The evidence of a reading and the errors it comes with.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Evidence {
    /// Nats, less the half nat a block that a true reading is expected to leave.
    pub misfit: f64,
    /// Slow error (both kinds together), mm.
    pub slow: f64,
    /// How far along it is correlated, mm.
    pub correlation: f64,
    /// Variances of what is read against those that the solve's own noise gives.
    pub factor: f64,
}

/// The fast part as measured may be off by so much: its correlation, and its size.
const LONGER: [f64; 3] = [0.6, 1.0, 1.6];
const LOUDER: [f64; 3] = [0.85, 1.0, 1.18];
/// What it costs to take the fast part other than as measured, nats a step.
const OFF_MEASURE: f64 = 0.5;
/// By how much the variance of lengths and directions exceeds what the wander measured on short
/// windows says, over hands of several forms (checked by the scoreboard's shares inside the ±).
const UNDERSTATED: f64 = 1.4;
/// Price of there being a slow error at all, nats: else chance alone would find a little of it in
/// most careful traces.
const SLOW_PRICE: f64 = 3.5;

/// Whose hand it was and how it errs: what evidence is asked under.
#[derive(Clone, Copy, Debug)]
pub struct Under<'a> {
    /// The fast error as measured, and what the solve was whitened by.
    pub noise: &'a Noise,
    /// The drawing's diagonal, mm.
    pub size: f64,
    /// What the line was made with.
    pub instrument: Instrument,
    /// The best error is looked for from several starts, not from the most promising alone: where readings are
    /// only compared stretch by stretch that is enough.
    pub thorough: bool,
}

impl Under<'_> {
    /// Evidence of a solved chain.
    #[must_use]
    pub fn of_chain(&self, s: &Solved) -> Evidence {
        let left = s.normal.freedoms().saturating_sub(1) as f64;
        self.evidence(&s.residuals, left)
    }

    /// Evidence of a whole circle.
    #[must_use]
    pub fn of_circle(&self, c: &Round) -> Evidence {
        self.evidence(core::slice::from_ref(&c.residuals), 3.0)
    }

    /// Evidence of a reading with `freedoms` free numbers.
    fn evidence(&self, edges: &[EdgeResiduals], freedoms: f64) -> Evidence {
        let mut modes = Modes::default();
        for edge in edges {
            modes.of_edge(edge, self);
        }
        let absorbed = modes.squares.iter().filter(|m| m.absorbed).count() as f64;
        let share = (freedoms / absorbed.max(1.0)).clamp(0.0, 1.0);
        let cost = |e: &Error| modes.cost(e, share, self);
        let mut starts = Error::STARTS.map(|e| (e, cost(&e)));
        starts.order_by(|a, b| a.1.total_cmp(&b.1));
        let few = if self.thorough { starts.len() } else { 1 };
        let ends = starts.into_iter().take(few).map(|s| downhill(s, &cost));
        let best = ends.reduce(|a, b| if b.1 < a.1 { b } else { a });
        let (error, mut misfit) = best.unwrap_or_default();
        // No slow error excuses what goes to and fro within a block, nor an excursion that is nobody's.
        misfit += edges.iter().map(|e| e.hidden).sum::<f64>();
        misfit += self.excursion(edges);
        let (slow, smooth) = error.sizes(self);
        let whole = (slow * slow + smooth * smooth).sqrt();
        let [of_slow, of_smooth] = error.lengths(self);
        let correlation = if whole > 0.0 {
            (slow * slow * of_slow + smooth * smooth * of_smooth) / (whole * whole)
        } else {
            0.0
        };
        Evidence {
            misfit,
            slow: whole,
            correlation,
            factor: UNDERSTATED * modes.factor(&error, self),
        }
    }
}

impl Under<'_> {
    /// What it costs that the path goes further from the reading than the instrument ever does, nats: each time it
    /// does so, by how far it gets.
    fn excursion(&self, edges: &[EdgeResiduals]) -> f64 {
        let prior = self.instrument.prior();
        let usual = prior.usual * self.size;
        let bound = EXCURSION * usual + 3.0 * self.noise.size;
        let price = |most: f64| {
            let over = (most - bound) / (prior.beyond * usual);
            0.5 * over * over
        };
        let mut sum = 0.0;
        for edge in edges {
            // To one side of the edge and out of bounds.
            let mut most = 0.0_f64;
            for &b in edge.blocks.iter().chain(&[0.0]) {
                let out = b.abs() > bound;
                if most != 0.0 && !(out && b.signum() == most.signum()) {
                    sum += price(most.abs());
                    most = 0.0;
                }
                if out && b.abs() > most.abs() {
                    most = b;
                }
            }
        }
        sum
    }
}

/// People's lines go this far off, against their usual error.
const EXCURSION: f64 = 3.5;

/// An error among those that are tried: steps on the ladders, 0 for none of a slow one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Error {
    longer: usize,
    louder: usize,
    slow: usize,
    slow_length: usize,
    smooth: usize,
    smooth_length: usize,
}

impl Error {
    /// Where the search for the best begins: as measured, and with either slow error.
    const STARTS: [Self; 3] = [Self::at(0, 0), Self::at(3, 0), Self::at(0, 3)];

    const fn at(slow: usize, smooth: usize) -> Self {
        Self {
            longer: 1,
            louder: 1,
            slow,
            slow_length: 1,
            smooth,
            smooth_length: 1,
        }
    }

    /// The errors one step off.
    fn neighbours(self) -> impl Iterator<Item = Self> {
        let lengths = [self.slow, self.smooth].map(|s| if s > 0 { LENGTHS } else { 1 });
        let step = |value: usize, most: usize| {
            let up = Some(value + 1).filter(|v| *v < most);
            [value.checked_sub(1), up].into_iter().flatten()
        };
        let longer = step(self.longer, LONGER.len()).map(move |longer| Self { longer, ..self });
        let louder = step(self.louder, LOUDER.len()).map(move |louder| Self { louder, ..self });
        let slow = step(self.slow, SIZES + 1).map(move |slow| Self { slow, ..self });
        let smooth = step(self.smooth, SIZES + 1).map(move |smooth| Self { smooth, ..self });
        let slow_length = step(self.slow_length, lengths[0]).map(move |slow_length| Self {
            slow_length,
            ..self
        });
        let smooth_length = step(self.smooth_length, lengths[1]).map(move |smooth_length| Self {
            smooth_length,
            ..self
        });
        slow.chain(smooth)
            .chain(slow_length)
            .chain(smooth_length)
            .chain(longer)
            .chain(louder)
    }

    /// Sizes of the slow and of the smooth error, mm.
    fn sizes(&self, under: &Under<'_>) -> (f64, f64) {
        let prior = under.instrument.prior();
        let of = |step: usize, length: f64| {
            let part = step.checked_sub(1).and_then(|i| prior.sizes.get(i));
            let size = part.copied().unwrap_or(0.0) * under.size;
            size.min(prior.steepest * length)
        };
        let [of_slow, of_smooth] = self.lengths(under);
        (of(self.slow, of_slow), of(self.smooth, of_smooth))
    }

    /// Their correlation lengths, mm.
    fn lengths(&self, under: &Under<'_>) -> [f64; 2] {
        let lengths = &under.instrument.prior().lengths;
        [self.slow_length, self.smooth_length]
            .map(|i| lengths.get(i).copied().unwrap_or_default() * under.size)
    }

    /// What such an error costs before anything is seen, nats.
    fn price(&self, under: &Under<'_>) -> f64 {
        let prior = under.instrument.prior();
        let (slow, smooth) = self.sizes(under);
        let fast = under.noise.size * LOUDER.get(self.louder).copied().unwrap_or(1.0);
        let whole = (fast * fast + slow * slow + smooth * smooth).sqrt();
        let over = libm::log(whole / (prior.usual * under.size).max(1e-9)).max(0.0) / prior.spread;
        let some = f64::from(u8::from(self.slow > 0)) + f64::from(u8::from(self.smooth > 0));
        let off = (self.longer.abs_diff(1) + self.louder.abs_diff(1)) as f64;
        SLOW_PRICE * some + 0.5 * over * over + OFF_MEASURE * off
    }
}

/// From an error with its cost to where no step on any ladder costs less, and what that costs.
fn downhill(mut here: (Error, f64), cost: &impl Fn(&Error) -> f64) -> (Error, f64) {
    loop {
        let mut next = here;
        for e in here.0.neighbours() {
            let value = cost(&e);
            if value < next.1 {
                next = (e, value);
                break;
            }
        }
        if next.0 == here.0 {
            return here;
        }
        here = next;
    }
}

/// Cosine modes of all edges, with the spectra that are tried at each.
#[derive(Default)]
struct Modes {
    squares: Vec<Mode>,
}

/// One cosine mode of one edge.
struct Mode {
    /// Squared coefficient, mm².
    square: f64,
    /// One over the spectrum of the fast error as measured, and the spectra tried, by length.
    per_fast: f64,
    fasts: [f64; LONGER.len()],
    /// Spectrum of a slow and of a smooth error of size 1 at each length.
    slow: [f64; LENGTHS],
    smooth: [f64; LENGTHS],
    /// One over the spectrum that the solve was whitened by.
    per_whitened: f64,
    /// One of the longest waves, which the edge's own free numbers take up.
    absorbed: bool,
}

/// An error ready to be asked for what it leaves at a mode.
struct Spectra {
    /// Which fast length, and by how much the variance is louder.
    longer: usize,
    louder: f64,
    /// Variances and lengths of the slow and the smooth one.
    slow: (f64, usize),
    smooth: (f64, usize),
}

impl Spectra {
    fn of(e: &Error, under: &Under<'_>) -> Self {
        let (slow, smooth) = e.sizes(under);
        let louder = LOUDER.get(e.louder).copied().unwrap_or(1.0);
        Self {
            longer: e.longer,
            louder: louder * louder,
            slow: (slow * slow, e.slow_length),
            smooth: (smooth * smooth, e.smooth_length),
        }
    }

    /// What is expected of the square of a mode.
    #[inline]
    fn expected(&self, m: &Mode) -> f64 {
        let of = |list: &[f64; 3], i: usize| list.get(i).copied().unwrap_or_default();
        self.louder * of(&m.fasts, self.longer)
            + self.slow.0 * of(&m.slow, self.slow.1)
            + self.smooth.0 * of(&m.smooth, self.smooth.1)
    }
}

impl Modes {
    /// What all modes and the error itself cost, nats.
    fn cost(&self, error: &Error, share: f64, under: &Under<'_>) -> f64 {
        let spectra = Spectra::of(error, under);
        let mut sum = 0.0;
        let (mut logs, mut absorbed) = (LogProduct::default(), LogProduct::default());
        for m in &self.squares {
            let expected = spectra.expected(m);
            sum += m.square / expected - 1.0;
            logs.times(expected * m.per_fast);
            if m.absorbed {
                absorbed.times(expected * m.per_whitened);
            }
        }
        0.5 * (sum + logs.total() - share * absorbed.total()) + error.price(under)
    }

    /// By how much more than the solve takes them for the longest waves vary.
    fn factor(&self, error: &Error, under: &Under<'_>) -> f64 {
        let spectra = Spectra::of(error, under);
        let mut product = LogProduct::default();
        let mut count = 0.0_f64;
        for m in self.squares.iter().filter(|m| m.absorbed) {
            product.times(spectra.expected(m) * m.per_whitened);
            count += 1.0;
        }
        libm::exp(product.total() / count.max(1.0))
    }

    /// Takes in the modes of an edge: of one run of blocks, or of two where the pen was set down within it.
    fn of_edge(&mut self, edge: &EdgeResiduals, under: &Under<'_>) {
        let at = edge.seam.unwrap_or(0).min(edge.blocks.len());
        let (before, after) = edge.blocks.split_at(at);
        let runs = [before, after].map(|r| (r, r.len()));
        let whole = edge.blocks.len().max(1);
        for (blocks, count) in runs.into_iter().filter(|r| r.1 > 0) {
            // Either piece takes its share of the edge's own numbers.
            let own = (edge.freedoms * count + whole / 2) / whole;
            self.of_run(blocks, edge.length, own, under);
        }
    }

    /// Squared cosine coefficients (DCT-II, orthonormal) of a run of blocks, with the spectra at each.
    fn of_run(&mut self, blocks: &[f64], length: f64, freedoms: usize, under: &Under<'_>) {
        let m = blocks.len();
        let fast = Spectrum::of(under.noise, length);
        let whitened = Spectrum::of(&under.noise.whole(), length);
        let fasts = LONGER.map(|longer| {
            let noise = Noise {
                correlation: longer * under.noise.correlation,
                ..*under.noise
            };
            Spectrum::of(&noise, length)
        });
        let scales = under
            .instrument
            .prior()
            .lengths
            .map(|l| l * under.size / length);
        // Waves are even or odd about the middle of the run: half the blocks say all.
        let half = m / 2;
        let ends = blocks.iter().zip(blocks.iter().rev()).take(half);
        let (even, odd): (Vec<f64>, Vec<f64>) = ends.map(|(a, b)| (a + b, a - b)).unzip();
        let middle = blocks.get(half).filter(|_| m % 2 == 1);
        for k in 0..m {
            let omega = PI * k as f64 / m as f64;
            // cos(ω(i + ½)) by its recurrence: exact enough over the blocks of an edge.
            let twice = 2.0 * libm::cos(omega);
            let mut now = libm::cos(0.5 * omega);
            let mut last = now;
            let mut sum = 0.0;
            for r in if k % 2 == 0 { &even } else { &odd } {
                sum += r * now;
                (last, now) = (now, twice * now - last);
            }
            if k % 2 == 0 {
                // The middle block, if there is one, stands where the wave is at its full height.
                let sign = if k % 4 == 0 { 1.0 } else { -1.0 };
                sum += middle.map_or(0.0, |r| sign * r);
            }
            let norm = if k == 0 { 1.0 } else { 2.0 } / m as f64;
            self.squares.push(Mode {
                square: sum * sum * norm,
                per_fast: 1.0 / fast.at(twice),
                fasts: fasts.each_ref().map(|f| f.at(twice)),
                slow: scales.map(|a| matern(a, omega)),
                smooth: scales.map(|a| gaussian(a, omega)),
                per_whitened: 1.0 / whitened.at(twice),
                absorbed: k < freedoms,
            });
        }
    }
}

/// The spectrum of block means of an Ornstein–Uhlenbeck process.
struct Spectrum {
    variance: f64,
    rho: f64,
}

impl Spectrum {
    fn of(noise: &Noise, length: f64) -> Self {
        let (first, _, rho) = block_noise(noise, length);
        Self {
            variance: 1.0 / (first * first),
            rho,
        }
    }

    /// At a frequency, given twice its cosine.
    fn at(&self, twice: f64) -> f64 {
        let rho = self.rho;
        self.variance * (1.0 - rho * rho) / (1.0 - rho * twice + rho * rho)
    }
}

/// Spectrum of a Matérn 3/2 error of size 1, `a` its length in blocks.
fn matern(a: f64, omega: f64) -> f64 {
    let q = 1.0 + a * a * omega * omega;
    4.0 * a / (q * q)
}

/// Spectrum of an error of long waves alone (its correlation a Gaussian), of size 1.
fn gaussian(a: f64, omega: f64) -> f64 {
    let exponent = 0.5 * a * a * omega * omega;
    if exponent > NOTHING_LEFT {
        return 0.0;
    }
    (2.0 * PI).sqrt() * a * libm::exp(-exponent)
}

/// Beyond this exponent a Gaussian is nothing beside any fast error.
const NOTHING_LEFT: f64 = 40.0;

#[cfg(test)]
mod tests {
    use super::*;

    fn noise() -> Noise {
        Noise {
            size: 0.2,
            correlation: 5.0,
            ..Noise::default()
        }
    }

    fn edge(wave: impl Fn(f64) -> f64, seam: Option<usize>) -> EdgeResiduals {
        EdgeResiduals {
            blocks: (0..40).map(|i| wave(f64::from(i))).collect(),
            length: 3.0,
            freedoms: 2,
            hidden: 0.0,
            seam,
        }
    }

    fn of(edge: &EdgeResiduals, instrument: Instrument) -> Evidence {
        let noise = noise();
        let under = Under {
            noise: &noise,
            size: 250.0,
            instrument,
            thorough: true,
        };
        under.evidence(core::slice::from_ref(edge), 2.0)
    }

    #[test]
    fn a_long_wave_is_a_slow_error_and_one_of_the_drawings_size_is_nobodys() {
        let wave = |height: f64| edge(move |i| height * libm::cos(0.3 * i), None);
        let small = of(&wave(0.1), Instrument::Traced);
        let slow = of(&wave(2.0), Instrument::Traced);
        let wild = of(&wave(20.0), Instrument::Traced);
        assert!(small.misfit < 5.0 && small.slow < 0.5, "{small:?}");
        assert!(
            (0.5..5.0).contains(&slow.slow) && slow.misfit < 60.0,
            "{slow:?}"
        );
        assert!(wild.misfit > 100.0, "{wild:?}");
        assert!(of(&wave(20.0), Instrument::Drawn).misfit < wild.misfit);
    }

    #[test]
    fn a_jump_where_the_pen_was_set_down_says_little() {
        let jump = |i: f64| if i < 20.0 { 1.5 } else { -1.5 };
        let (with, without) = (edge(jump, Some(20)), edge(jump, None));
        let (with, without) = (
            of(&with, Instrument::Traced),
            of(&without, Instrument::Traced),
        );
        assert!(with.misfit + 10.0 < without.misfit, "{with:?} {without:?}");
    }
}
