//! Estimates the error of the day's receiver from its fixes during stops, where the collector's own
//! movement is small, combined with published errors of receivers under canopy. Layer: `join`.
//!
//! # Model
//! The error of an axis is a fluctuating part, which steps within a stop show, and a lasting part
//! (half an hour and longer, or a constant bias), which no step shows and no averaging takes off. Only
//! fixes half a minute apart are compared: real receivers smooth their output, so that steps over
//! seconds say little of the size (the error's size over its step in 30 s is 1.3 to 1.9 on eight logs of
//! static receivers, over its step in 10 s 1.9 to 4.3; `tests/reference/data/receiver_steps.csv`).
//! Some devices hardly change their position at a stop, whatever their error. Whether the day's device is
//! one of these is a separate hypothesis; the result is a mixture over both.

use super::activity::Activities;
use super::frame::Frames;
use super::kalman::Receiver;

mod steps;

use steps::{Step, growth, quick, steps, unevenness};

/// Prior of the whole error per axis: metres, and the standard deviation of its logarithm. Open sky 1.3
/// to 1.9 m, obstructed 4.2 to 6.2 m (static logs); phones in a wooded town 3.2 m; under canopy 5 to 10
/// m in two dimensions (Wing et al. 2005), 5 to 11 m in leaf, 2 m in the open (Tomastik et al. 2017).
const SIZE: (f64, f64) = (4.2, 0.65);
/// Variance of the lasting part over that of the fluctuating one: a tenth for the bias that the long
/// mean of a log hides (phones on known points keep a correlation of 0.12 beyond 20 minutes), and a
/// quarter more (static logs about their long mean) for a receiver whose error has several time scales,
/// as real ones have.
const BIAS: f64 = 0.1;
const LASTING: f64 = 0.27;
/// The exponent with which squared steps grow from some seconds to half a minute, and one standard
/// deviation among receivers: of a single time scale of some two minutes, and of the smoothed output of
/// static logs.
const SINGLE: (f64, f64) = (0.92, 0.1);
const SEVERAL: (f64, f64) = (1.33, 0.12);
/// Frames are longer than this, in seconds, only where the device smooths its output; then the error very
/// probably has several time scales.
const PLAIN: f64 = 4.0;
const SMOOTHS: f64 = 0.95;
/// How far the whole error is known from steps of half a minute: one standard deviation of the
/// logarithm, by the same logs and the bias of phones.
const STRUCTURE: f64 = 0.15;
/// The prior probability that a device hides its error at a stop, and the apparent fluctuation of its
/// fixes then: metres, and the standard deviation of the logarithm.
const HIDES: f64 = 0.1;
const SEEMS: (f64, f64) = (0.15, 0.8);
/// The error of a device that hides it, metres per axis, and the standard deviation of the logarithm:
/// phones on surveyed points under trees are off by 1 to 13 m.
const HIDDEN: (f64, f64) = (4.5, 0.4);
/// How much the size differs from place to place and from minute to minute: one standard deviation of
/// the logarithm, and how many stops that is worth. On static logs the 95th percentile of the error is
/// 1.88 times its root mean square (1.73 for a normal law), which is such a mixture's; Wing et al. 2005
/// have 5, 7 and 10 m in the open, among young and under closed trees. The day's stops update it.
const UNEVEN: (f64, f64) = (0.33, 8.0);
const MOST_UNEVEN: f64 = 0.7;
/// The prior probability of an error that stays until it jumps, and its duration, seconds.
const LEAPS: f64 = 0.1;
const STAYS: f64 = 120.0;
/// How long the fluctuating part lasts, seconds: static logs; the bend of the spectrum lies near one to two
/// minutes (Sensors 2020, 20:6050).
const TAU: f64 = 100.0;
/// Rounded figures, and small movements while stationary, square metres.
const LEAST: f64 = 0.01;
/// What the likelihood of a step counts: neighbouring steps share their size.
const WORTH: f64 = 0.7;
/// So many steps at photographs while stationary are enough. Steps of stops that are known from the
/// fixes alone are the calm ones of them, so they say less: one standard deviation of the logarithm.
const ENOUGH: f64 = 9.0;
const CALM: f64 = 0.3;
/// The ratio of their steps to those at photographs: 0.6 to 0.8 for receivers of several time scales, 1 for one
/// (simulated days).
const CALMER: f64 = 0.74;

/// The receiver error estimated from the day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Estimate {
    /// The fluctuating part.
    pub(crate) receiver: Receiver,
    /// Variance per axis of the persistent part.
    pub(crate) lasting: f64,
    /// Variance per axis by which another receiver of the same walk disagrees.
    pub(crate) disagreement: f64,
    /// How well its size is known: one standard deviation of its logarithm.
    pub(crate) doubt: f64,
    /// How much it differs from place to place: one standard deviation of its logarithm.
    pub(crate) uneven: f64,
    /// The probability that the device hides its error at a stop.
    pub(crate) hides: f64,
}

/// A possible size of the error: its probability, the factor of the fluctuating part's variance, and the
/// variance that lasts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Size {
    pub(crate) weight: f64,
    pub(crate) scale: f64,
    pub(crate) lasting: f64,
}

impl Step {
    /// The likelihood of the step for a receiver that fluctuates so much and scatters by so much again at
    /// each fix; sizes differ from step to step as they do in the result.
    fn likelihood(&self, sigma: f64, white2: f64, uneven: f64) -> f64 {
        const NODES: [(f64, f64); 3] = [(-1.732, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732, 1.0 / 6.0)];
        let kept = (-self.lasts / TAU).exp();
        let fluctuating = 2.0 * sigma * sigma * (1.0 - kept);
        let fresh = 2.0 * white2 / self.fixes + LEAST;
        let of_size = |(node, weight): (f64, f64)| {
            let scale = (2.0 * node * uneven - 2.0 * uneven * uneven).exp();
            weight * self.density(scale * fluctuating + fresh)
        };
        NODES.into_iter().map(of_size).sum()
    }

    /// The likelihood where the error stays, but for so much, until it jumps.
    fn jumping(&self, sigma: f64, quiet: f64) -> f64 {
        let leapt = 1.0 - (-self.lasts / STAYS).exp();
        let still = 2.0 * quiet * quiet + LEAST;
        (1.0 - leapt) * self.density(still) + leapt * self.density(still + 2.0 * sigma * sigma)
    }
}

impl Estimate {
    /// Variance per axis of a single fix.
    pub(crate) fn one_fix(&self) -> f64 {
        self.receiver.sigma.powi(2) + self.receiver.white.powi(2) + self.lasting
    }

    /// The sizes that the error may have at one place and time: the posterior predictive law.
    pub(crate) fn sizes(&self) -> Vec<Size> {
        // three-point Gauss-Hermite rule
        const NODES: [(f64, f64); 3] = [(-1.732, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732, 1.0 / 6.0)];
        /// A hypothesis less likely than this changes no radius.
        const NEGLIGIBLE: f64 = 0.01;
        let shown = self.doubt.hypot(self.uneven);
        let hidden = HIDDEN.1;
        let mut sizes = Vec::with_capacity(6);
        for (node, weight) in NODES {
            if self.hides < 1.0 - NEGLIGIBLE {
                let scale = (2.0 * node * shown - 2.0 * self.uneven * self.uneven).exp();
                let weight = weight * (1.0 - self.hides);
                sizes.push(Size { weight, scale, lasting: self.lasting * scale });
            }
            if self.hides > NEGLIGIBLE {
                let lasting = HIDDEN.0.powi(2) * (2.0 * node * hidden).exp();
                sizes.push(Size { weight: weight * self.hides, scale: 0.0, lasting });
            }
        }
        let total: f64 = sizes.iter().map(|size| size.weight).sum();
        for size in &mut sizes {
            size.weight /= total;
            size.lasting += self.disagreement;
        }
        sizes
    }
}

/// Estimates the day's receiver; the collector was probably stationary in the intervals that were seen.
pub(crate) fn estimate(frames: &Frames, activities: &Activities, seen: &[(f64, f64)]) -> Estimate {
    let (observed_by_photos, calm) = steps(frames, activities, seen);
    let known = (observed_by_photos.iter().map(Step::stopped).sum::<f64>() / ENOUGH).min(1.0);
    let uneven = unevenness(frames, seen).map_or(UNEVEN.0, |(square, stops)| {
        ((stops * square + UNEVEN.1 * UNEVEN.0.powi(2)) / (stops + UNEVEN.1))
            .sqrt()
            .min(MOST_UNEVEN)
    });
    let quick = quick(frames, seen, TAU);
    let (mut shows, mut hides) = (Weights::default(), Weights::default());
    let several = if frames.span > PLAIN { SMOOTHS } else { several_scales(growth(frames, seen)) };
    let lasting = BIAS + LASTING * several;
    let whole = (1.0 + lasting).sqrt();
    for size in 0..62 {
        // 0.04 to 18 m
        let sigma = 0.04 * (0.1 * f64::from(size)).exp();
        let white2 = short_noise(activities, sigma).max(quick);
        let log = |likelihood: &dyn Fn(&Step, f64) -> f64| -> f64 {
            let of = |steps: &[Step], size: f64| -> f64 {
                steps.iter().map(|step| likelihood(step, size).max(1e-300).ln()).sum()
            };
            WORTH * (of(&observed_by_photos, sigma) + (1.0 - known) * of(&calm, CALMER * sigma))
        };
        let fluctuates = log(&|step, size| step.likelihood(size, white2, uneven));
        let usual = log_normal(whole * sigma, SIZE) + (1.0 - HIDES - LEAPS).ln();
        shows.add(fluctuates + usual, sigma.ln());
        for quiet in [0.3, 0.6, 1.2] {
            let leaps = log(&|step, size| step.jumping(size, quiet));
            shows.add(leaps + log_normal(sigma, SIZE) + (LEAPS / 3.0).ln(), sigma.ln());
        }
        hides.add(fluctuates + log_normal(sigma, SEEMS) + HIDES.ln(), sigma.ln());
    }
    let hides = 1.0 / (1.0 + (shows.log_total() - hides.log_total()).exp());
    let (mean, spread) = shows.mean_and_spread();
    let sigma = if hides > 0.5 { HIDDEN.0 / whole } else { mean.exp() };
    let white = short_noise(activities, sigma).max(quick).max(0.25).sqrt();
    Estimate {
        receiver: Receiver { sigma, tau: TAU, white },
        lasting: lasting * sigma * sigma,
        disagreement: 0.0,
        uneven,
        doubt: spread.hypot(STRUCTURE).hypot(CALM * (1.0 - known)),
        hides,
    }
}

/// The probability that the error has several time scales, by the growth of its steps and how well that is
/// known; probably where nothing is known, since real receivers do.
fn several_scales(growth: Option<(f64, f64)>) -> f64 {
    const UNSEEN: f64 = 0.8;
    growth.map_or(UNSEEN, |(exponent, scatter)| {
        let log = |(mean, spread): (f64, f64)| {
            let spread = spread.hypot(scatter);
            // a steeper growth than that of several scales is no sign against them
            let away =
                if mean > 1.0 { (exponent - mean).min(0.0) } else { (exponent - mean).max(0.0) };
            -spread.ln() - 0.5 * (away / spread).powi(2)
        };
        1.0 / (1.0 + (log(SINGLE) - log(SEVERAL)).exp())
    })
}

/// The log density of a size whose logarithm is normal.
fn log_normal(size: f64, (median, spread): (f64, f64)) -> f64 {
    -spread.ln() - 0.5 * ((size / median).ln() / spread).powi(2)
}

/// Variance that short steps show beyond what the fluctuating error explains.
fn short_noise(activities: &Activities, sigma: f64) -> f64 {
    const STEP: f64 = 3.0;
    let lasting = sigma * sigma * (1.0 - (-STEP / TAU).exp());
    let ordinary = 49.0 * (1.0 - (-STEP / 120.0_f64).exp());
    (activities.noise_level * ordinary - lasting).max(0.0)
}

/// The posterior of the logarithm of a size.
#[derive(Default)]
struct Weights(Vec<(f64, f64)>);

impl Weights {
    fn add(&mut self, log_weight: f64, value: f64) {
        self.0.push((log_weight, value));
    }

    fn top(&self) -> f64 {
        self.0.iter().map(|entry| entry.0).fold(f64::NEG_INFINITY, f64::max)
    }

    /// The logarithm of the sum of the weights.
    fn log_total(&self) -> f64 {
        let top = self.top();
        top + self.0.iter().map(|entry| (entry.0 - top).exp()).sum::<f64>().ln()
    }

    fn mean_and_spread(&self) -> (f64, f64) {
        let top = self.top();
        let (mut total, mut sum, mut square) = (0.0, 0.0, 0.0);
        for (log_weight, value) in &self.0 {
            let weight = (log_weight - top).exp();
            total += weight;
            sum += weight * value;
            square += weight * value * value;
        }
        let mean = sum / total;
        (mean, (square / total - mean * mean).max(0.0).sqrt())
    }
}

#[cfg(test)]
mod tests;
