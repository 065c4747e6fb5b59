//! Standing with pictures to take, standing with the last one taken: how likely is either at every
//! fix, for each mean delay from arriving to the first picture and from the last to leaving?
//! Layer: `join`.

use super::passages::{Passage, Passages};

/// How many delays are tried.
pub(super) const DELAYS: usize = 6;
/// Mean delays, seconds.
const MEAN: [f64; DELAYS] = [3.0, 7.0, 15.0, 31.0, 63.0, 127.0];
/// Nobody takes a picture in the moment of arriving or leaves in that of a picture: a first part of
/// each delay, on average, seconds (common practice).
const READY: f64 = 4.2;
/// The probability of being in a stand with pictures when nothing is known of the track.
const UNKNOWN: f64 = 0.15;

/// Two probabilities or densities for each delay: standing since before a step, or until after it;
/// and since, or until, a moment within it.
pub(super) type Standing = [(f64, f64); DELAYS];

/// Standing at a fix, by how far the delay has gone.
#[derive(Clone, Copy)]
struct Delay {
    /// Not yet ready.
    fresh: f64,
    /// Ready, for each delay.
    ready: [f64; DELAYS],
}

impl Delay {
    fn unknown(scale: impl Fn(f64) -> f64) -> Self {
        Self { fresh: 0.0, ready: MEAN.map(|delay| UNKNOWN * scale(delay)) }
    }

    /// So many seconds later, for one delay.
    fn after(&self, seconds: f64, habit: usize) -> f64 {
        let delay = MEAN[habit];
        self.ready[habit] * (-seconds / delay).exp() + self.fresh * readied(seconds, delay)
    }

    /// After a step through which the collector stood, or in which he came: weights with the seconds
    /// since.
    fn through(&self, step: &Passage, came: &[(f64, f64)]) -> Self {
        let sum = |of: &dyn Fn(f64) -> f64| came.iter().map(|(p, ago)| p * of(*ago)).sum::<f64>();
        Self {
            fresh: self.fresh * unready(step.dt) * step.stood + sum(&unready),
            ready: std::array::from_fn(|habit| {
                self.after(step.dt, habit) * step.stood + sum(&|ago| readied(ago, MEAN[habit]))
            }),
        }
    }
}

/// What each habit makes of each moment of the track.
pub(super) struct Habits<'a> {
    pub(super) passages: &'a Passages,
    /// At each fix: arrived, no picture taken yet.
    waiting: Vec<Delay>,
    /// At each fix: the last picture taken, with everything later.
    packing: Vec<Delay>,
    /// At each fix: the sum of the logarithms of the steps' `stood` up to it.
    stood: Vec<f64>,
    /// The mean probability of searching about.
    search: f64,
}

impl<'a> Habits<'a> {
    pub(super) fn of(passages: &'a Passages) -> Self {
        let steps = &passages.steps;
        let mut waiting = vec![Delay::unknown(|_| 1.0); steps.len() + 1];
        let mut packing = vec![Delay::unknown(|delay| delay); steps.len() + 1];
        let mut stood = vec![0.0; steps.len() + 1];
        let mut parts: Vec<(f64, f64)> = Vec::new();
        for (k, step) in steps.iter().enumerate() {
            stood[k + 1] = stood[k] + step.stood.max(1e-30).ln();
            if !step.silent {
                let (came, part) = passages.came(k);
                let ago = |j: usize| step.dt - (j as f64 + 0.5) * part;
                parts.clear();
                parts.extend(came.iter().enumerate().map(|(j, p)| (*p, ago(j))));
                waiting[k + 1] = waiting[k].through(step, &parts);
            }
        }
        for (k, step) in steps.iter().enumerate().rev().filter(|(_, step)| !step.silent) {
            let (left, part) = passages.left(k);
            let ahead = |j: usize| (j as f64 + 0.5) * part;
            parts.clear();
            parts.extend(left.iter().enumerate().map(|(j, p)| (*p * part, ahead(j))));
            packing[k] = packing[k + 1].through(step, &parts);
        }
        Self { passages, waiting, packing, stood, search: passages.searching() }
    }

    /// The probability of searching at the beginning of a step, against that of the day.
    pub(super) fn searching(&self, k: usize) -> f64 {
        self.passages.steps[k].search / self.search
    }

    /// Standing from the end of step `last` to the beginning of step `k`.
    pub(super) fn stood(&self, last: usize, k: usize) -> f64 {
        (self.stood[k] - self.stood[last + 1]).exp()
    }

    /// The density of a first picture at an instant of step `k`.
    pub(super) fn opened(&self, k: usize, instant: f64) -> Standing {
        let step = &self.passages.steps[k];
        let (came, part) = self.passages.came(k);
        let into = instant - step.start;
        std::array::from_fn(|habit| {
            let within = came.iter().enumerate().map(|(j, p)| {
                let share = (into / part - j as f64).clamp(0.0, 1.0);
                let ago = (into - (j as f64 + 0.5 * share) * part).max(0.0);
                p * share * readied(ago, MEAN[habit])
            });
            let since = self.waiting[k].after(into, habit);
            (since / MEAN[habit], within.sum::<f64>() / MEAN[habit])
        })
    }

    /// The likelihood of everything after a last picture at an instant of step `k`.
    pub(super) fn closed(&self, k: usize, instant: f64) -> Standing {
        let step = &self.passages.steps[k];
        let (left, part) = self.passages.left(k);
        let rest = step.start + step.dt - instant;
        std::array::from_fn(|habit| {
            let within = left.iter().rev().enumerate().map(|(j, p)| {
                let share = (rest / part - j as f64).clamp(0.0, 1.0);
                let ahead = (rest - (j as f64 + 0.5 * share) * part).max(0.0);
                p * part * share * readied(ahead, MEAN[habit])
            });
            let until = self.packing[k + 1].after(rest, habit);
            (until / MEAN[habit], within.sum::<f64>() / MEAN[habit])
        })
    }
}

/// The probability of not being ready after so many seconds.
fn unready(seconds: f64) -> f64 {
    (-seconds / READY).exp()
}

/// The probability of having been ready for a while after so many seconds, the delay not yet over.
fn readied(seconds: f64, delay: f64) -> f64 {
    delay / (delay - READY) * ((-seconds / delay).exp() - unready(seconds))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_delay_has_its_two_parts_and_ends_for_certain() {
        for delay in MEAN {
            let densities =
                (0..200_000).map(|n| (0.01 * f64::from(n), readied(0.01 * f64::from(n), delay)));
            let (mass, mean) = densities.fold((0.0, 0.0), |sum, (time, ready)| {
                let density = 0.01 * ready / delay;
                (sum.0 + density, sum.1 + density * time)
            });
            assert!((mass - 1.0).abs() < 1e-3, "{delay}: {mass}");
            // the mean of a sum of two exponential laws
            assert!((mean - READY - delay).abs() < 0.1, "{delay}: {mean}");
        }
    }
}
