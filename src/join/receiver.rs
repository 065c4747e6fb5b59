//! How large is this day's receiver error, and how long does it last? Maximum likelihood from the
//! stands, where the collector's own movement does not hide it, weighed against what is published
//! for receivers under canopy. Layer: `join`.
//!
//! Only fixes some seconds apart are compared: a device that smooths its own output makes
//! neighbouring fixes agree without being right.

use std::collections::BTreeMap;

use super::frame::{Frame, Frames};
use super::gait::Gaits;
use super::kalman::{Belief, Motion, Receiver, Sym3, Transition};

/// Prior of the error per axis: metres, and the standard deviation of its logarithm. Receivers under
/// canopy: 5 to 10 m (Wing et al. 2005), 5 to 11 m in leaf (Tomastik et al. 2017), 2 m in the open.
const SIGMA: (f64, f64) = (7.0, 0.35);
/// What the likelihood of the stands counts: which fixes are of a stand is told from the same fixes, not
/// known; learnt from simulated days.
const CHOSEN: f64 = 0.6;
/// Where no picture witnesses a stand, steps at this pace are taken for going, metres a second, so of a
/// restless receiver's steps only the shorter ones are seen; learnt from simulated days, a little above
/// the slowest pace of going.
const TAKEN_FOR_GOING: f64 = 0.75;
/// Prior of the correlation time, seconds; the bend of the spectrum lies near one to two minutes
/// (Sensors 2020, 20:6050).
const TAU: (f64, f64) = (117.0, 0.2);
/// Compared fixes are so far apart at least, seconds.
const APART: f64 = 12.0;
/// Frames that are enough to learn from.
const ENOUGH: usize = 1_200;
/// Someone who stands still moves a little, metres per root second.
const SWAY: f64 = 0.03;

/// Less restless than this against the ordinary one, no receiver under trees is by itself: it holds.
const HOLDS: f64 = 0.08;

/// The receiver as this day shows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Estimate {
    pub(crate) receiver: Receiver,
    /// How well its size is known: one standard deviation of its logarithm.
    pub(crate) doubt: f64,
}

/// A spell of standing: frames far enough apart, and whether pictures witness each.
type Spell = Vec<(Frame, bool)>;

/// Estimates the day's receiver; the collector probably stood in the spells that were seen.
pub(crate) fn estimate(frames: &Frames, gaits: &Gaits, seen: &[(f64, f64)]) -> Estimate {
    let spells = spells(frames, gaits, seen);
    let mut weights = Weights::default();
    let worth = CHOSEN * Fit::of(&spells, frames.span, TAU.0, 0.04).worth;
    for step in 0..11 {
        let tau = TAU.0 * (0.15 * f64::from(step - 5)).exp();
        for white2 in [0.0, 0.01, 0.04, 0.12, 0.35] {
            let fit = Fit::of(&spells, frames.span, tau, white2);
            for size in 0..30 {
                let sigma = SIGMA.0 * (0.1 * f64::from(size - 15)).exp();
                let prior = -0.5 * ((sigma / SIGMA.0).ln() / SIGMA.1).powi(2)
                    - 0.5 * ((tau / TAU.0).ln() / TAU.1).powi(2)
                    - 3.0 * white2;
                weights.add(
                    worth * fit.log_likelihood(sigma) + prior,
                    [sigma.ln(), tau.ln(), white2 * sigma * sigma],
                );
            }
        }
    }
    let (mut mean, mut spread) = weights.mean_and_spread();
    if gaits.restlessness < HOLDS {
        // a device that holds its position while its owner stands shows nothing of its error there
        mean = [mean[0].max(SIGMA.0.ln()), TAU.0.ln(), mean[2]];
        spread = 0.35;
    }
    let (sigma, tau) = (mean[0].exp(), mean[1].exp());
    let white = mean[2].max(short_noise(gaits, sigma, tau)).max(0.25).sqrt();
    Estimate { receiver: Receiver { sigma, tau, white }, doubt: spread }
}

/// Variance that the steps of the stands show beyond what the lasting error explains.
fn short_noise(gaits: &Gaits, sigma: f64, tau: f64) -> f64 {
    const STEP: f64 = 3.0;
    let lasting = sigma * sigma * (1.0 - (-STEP / tau).exp());
    let ordinary = 49.0 * (1.0 - (-STEP / 120.0_f64).exp());
    (gaits.restlessness * ordinary - lasting).max(0.0)
}

/// Weighted means of the logarithms.
#[derive(Default)]
struct Weights(Vec<(f64, [f64; 3])>);

impl Weights {
    fn add(&mut self, log_weight: f64, values: [f64; 3]) {
        self.0.push((log_weight, values));
    }

    fn mean_and_spread(&self) -> ([f64; 3], f64) {
        let top = self.0.iter().map(|entry| entry.0).fold(f64::NEG_INFINITY, f64::max);
        let (mut total, mut sums, mut square) = (0.0, [0.0; 3], 0.0);
        for (log_weight, values) in &self.0 {
            let weight = (log_weight - top).exp();
            total += weight;
            square += weight * values[0] * values[0];
            for (sum, value) in sums.iter_mut().zip(values) {
                *sum += weight * value;
            }
        }
        let mean = sums.map(|sum| sum / total);
        (mean, (square / total - mean[0] * mean[0]).max(0.0).sqrt())
    }
}

/// Spells of standing: as the gaits tell, and as the pictures witness. A receiver whose error leaps
/// looks like a walker for a moment; leaving that moment out would make it look better than it is.
fn spells(frames: &Frames, gaits: &Gaits, seen: &[(f64, f64)]) -> Vec<Spell> {
    const PROBABLY: f32 = 0.75;
    let witnessed = frames.within(seen);
    let least = APART.max(3.0 * frames.span);
    let mut spells: Vec<Spell> = Vec::new();
    let mut spell: Spell = Vec::new();
    for (k, frame) in frames.all.iter().enumerate() {
        let standing = witnessed[k] || gaits.stand[k] >= PROBABLY;
        let last = k.checked_sub(1).map(|before| frames.all[before].time);
        let broken = last.is_some_and(|time| frame.time - time > frames.gap);
        if !standing || broken {
            spells.push(std::mem::take(&mut spell));
        }
        let apart = spell.last().is_none_or(|(last, _)| frame.time - last.time >= least);
        if standing && apart {
            spell.push((*frame, witnessed[k]));
        }
    }
    spells.push(spell);
    spells.retain(|spell| spell.len() >= 3);
    thin(spells)
}

/// Evenly over the day, until there is enough.
fn thin(spells: Vec<Spell>) -> Vec<Spell> {
    let total: usize = spells.iter().map(Vec::len).sum();
    let every = total.div_ceil(ENOUGH).max(1);
    spells.into_iter().step_by(every).map(|spell| spell.into_iter().take(60).collect()).collect()
}

/// How the spells fit one shape of error, its size left open.
struct Fit {
    log_scale: f64,
    squares: f64,
    count: f64,
    /// Of the steps that would have been taken for going had they been longer: the squares of the longest,
    /// as the logarithm in twentieths, and how many there are.
    cut: BTreeMap<i32, f64>,
    /// What a fix is worth beside one of a normal law.
    worth: f64,
}

/// Means over `span` seconds differ less than fixes that are as far apart: by which factor the mean
/// square of a step is smaller. Of a random walk: 1 - span / 3 dt for many fixes a mean.
fn likeness_of_means(span: f64, fixes: f64, dt: f64) -> f64 {
    1.0 - span * (1.0 - 1.0 / (fixes * fixes)) / (3.0 * dt)
}

/// A variance is known from heavy-tailed errors less well than from normal ones: the likelihood of a
/// normal law counts for so much less.
///
/// # References
/// The variance of a mean square; White 1982, Maximum likelihood estimation of misspecified models,
/// Econometrica 50:1-25 (from memory).
fn worth(squares: &[f64]) -> f64 {
    let count = squares.len().max(1) as f64;
    let mean = squares.iter().sum::<f64>() / count;
    let spread = squares.iter().map(|square| (square - mean).powi(2)).sum::<f64>() / count;
    // squares of a normal law in two dimensions scatter by as much as their mean
    if spread > mean * mean { mean * mean / spread } else { 1.0 }
}

impl Fit {
    fn of(spells: &[Spell], span: f64, tau: f64, white2: f64) -> Self {
        let receiver = Receiver { sigma: 1.0, tau, white: white2.sqrt() };
        let still = Motion { speed: 0.0, persistence: 1.0, sway: SWAY / SIGMA.0 };
        let mut squares: Vec<f64> = Vec::new();
        let mut log_scale = 0.0;
        let mut cut = BTreeMap::new();
        for spell in spells {
            let first = &spell[0].0;
            let mut belief = Belief {
                east: [first.east, 0.0, 0.0],
                north: [first.north, 0.0, 0.0],
                cov: Sym3 { xx: 1e4, ee: 1.0, ..Sym3::default() },
            };
            let mut before: Option<(f64, bool)> = None;
            for (frame, witnessed) in spell {
                let since = before.map(|(time, _)| frame.time - time);
                if let Some(dt) = since {
                    belief = belief.predicted(&Transition::over(dt, &still, &receiver));
                }
                let seen = belief.innovation((frame.east, frame.north), white2);
                if let Some(dt) = since {
                    let likeness = likeness_of_means(span, frame.count, dt);
                    log_scale -= seen.variance.ln();
                    squares.push(seen.chi_square() / likeness);
                    if !(*witnessed && before.is_some_and(|(_, witnessed)| witnessed)) {
                        let longest = TAKEN_FOR_GOING * dt;
                        let square = longest * longest / (seen.variance * likeness);
                        *cut.entry(twentieths(square)).or_default() += 1.0;
                    }
                }
                belief = belief.updated(&seen);
                before = Some((frame.time, *witnessed));
            }
        }
        let count = squares.len() as f64;
        Self { log_scale, squares: squares.iter().sum(), count, cut, worth: worth(&squares) }
    }

    /// A step that would not have been seen had it been longer has the law of those that are seen.
    ///
    /// # References
    /// Cohen 1991, Truncated and Censored Samples (from memory).
    fn log_likelihood(&self, sigma: f64) -> f64 {
        let variance = sigma * sigma;
        let seen = |(square, count): (&i32, &f64)| {
            count * (-(-0.5 * from_twentieths(*square) / variance).exp()).ln_1p()
        };
        self.log_scale
            - self.count * variance.ln()
            - 0.5 * self.squares / variance
            - self.cut.iter().map(seen).sum::<f64>()
    }
}

/// The logarithm, rounded; so like steps are reckoned once.
#[allow(clippy::cast_possible_truncation, reason = "a logarithm")]
fn twentieths(value: f64) -> i32 {
    (20.0 * value.ln()).round() as i32
}

fn from_twentieths(logarithm: i32) -> f64 {
    (f64::from(logarithm) / 20.0).exp()
}

#[cfg(test)]
mod tests {
    use super::super::scatter::Scatter;
    use super::*;

    /// Hours of standing with an error of ten metres that lasts 117 s, a frame every twelve seconds, broken
    /// wherever a step is so long that it would have been taken for going.
    fn calm_parts(witnessed: bool) -> Vec<Spell> {
        let mut scatter = Scatter(99);
        let mut kick = || scatter.normal();
        let kept = (-APART / TAU.0).exp();
        let fresh = 10.0 * (1.0 - kept * kept).sqrt();
        let (mut east, mut north, mut spells) = (0.0, 0.0, vec![Spell::new()]);
        for n in 0..6_000 {
            let next = (kept * east + fresh * kick(), kept * north + fresh * kick());
            if f64::hypot(next.0 - east, next.1 - north) > TAKEN_FOR_GOING * APART {
                spells.push(Spell::new());
            }
            (east, north) = next;
            let time = APART * f64::from(n);
            let frame = Frame { time, east, north, count: 1.0, trust: 1.0 };
            spells.last_mut().unwrap().push((frame, witnessed));
        }
        spells.retain(|spell| spell.len() >= 3);
        spells
    }

    fn likeliest(spells: &[Spell]) -> f64 {
        let fit = Fit::of(spells, 0.0, TAU.0, 0.0);
        let sizes = (50..200).map(|size| 0.1 * f64::from(size));
        sizes.max_by(|a, b| fit.log_likelihood(*a).total_cmp(&fit.log_likelihood(*b))).unwrap()
    }

    #[test]
    fn a_receiver_is_not_made_calmer_by_hearing_only_its_calm_parts() {
        let as_if_all = likeliest(&calm_parts(true));
        assert!(as_if_all < 8.6, "{as_if_all}");
        let told = likeliest(&calm_parts(false));
        assert!((told - 10.0).abs() < 0.7, "{told}");
    }
}
