//! Standing with pictures to take, standing with the last one taken: how likely is either at every
//! fix, for each mean delay from arriving to the first picture and from the last to leaving?
//! Layer: `join`.

use super::passages::{Passage, Passages};

/// Delays that end at any moment alike, once one is ready: their mean lengths, seconds.
const LOOSE: [f64; 6] = [3.0, 7.0, 15.0, 31.0, 63.0, 127.0];
/// Delays of a usual length, which neither end at once nor last for ever: their means, seconds.
const SETTLED: [f64; 4] = [15.0, 31.0, 63.0, 127.0];
/// How many delays are tried.
pub(super) const DELAYS: usize = LOOSE.len() + SETTLED.len();
/// Where the settled ones begin.
pub(super) const FIRST_SETTLED: usize = LOOSE.len();
/// A settled delay is a sum of so many loose ones.
const PARTS: f64 = 3.0;
/// Nobody takes a picture in the moment of arriving or leaves in that of a picture: a first part of
/// each loose delay, on average, seconds (common practice).
const READY: f64 = 4.2;
/// The probability of being in a stand with pictures when nothing is known of the track.
const UNKNOWN: f64 = 0.15;

/// Two densities for each delay: standing since before a step, or until after it; and since, or
/// until, a moment within it.
pub(super) type Standing = [(f64, f64); DELAYS];

/// Standing at a fix, by how far the delay has gone.
#[derive(Clone, Copy)]
struct Delay {
    /// Not yet ready.
    fresh: f64,
    /// Ready, for each loose delay.
    ready: [f64; LOOSE.len()],
    /// In each part of each settled delay.
    parts: [[f64; 3]; SETTLED.len()],
}

impl Delay {
    fn unknown(scale: impl Fn(f64) -> f64) -> Self {
        Self {
            fresh: 0.0,
            ready: LOOSE.map(|mean| UNKNOWN * scale(mean)),
            parts: SETTLED.map(|mean| [UNKNOWN * scale(mean) / PARTS; 3]),
        }
    }

    /// The density of each delay ending so many seconds later.
    fn ends_after(&self, seconds: f64) -> [f64; DELAYS] {
        let unready = unready(seconds);
        std::array::from_fn(|habit| {
            if let Some(&mean) = LOOSE.get(habit) {
                let left = (-seconds / mean).exp();
                (self.ready[habit] * left + self.fresh * readied(left, unready, mean)) / mean
            } else {
                let settled = habit - LOOSE.len();
                let mean = SETTLED[settled];
                PARTS / mean * gone_on(&self.parts[settled], seconds, mean)[2]
            }
        })
    }

    /// After a step through which the collector stood, or in which he came: weights with the seconds
    /// since.
    fn through(&self, step: &Passage, came: &[(f64, f64)]) -> Self {
        let unready_now = unready(step.dt);
        let mut after = Self {
            fresh: self.fresh * unready_now * step.stood,
            ready: std::array::from_fn(|habit| {
                let left = (-step.dt / LOOSE[habit]).exp();
                let readied = self.fresh * readied(left, unready_now, LOOSE[habit]);
                (self.ready[habit] * left + readied) * step.stood
            }),
            parts: std::array::from_fn(|habit| {
                gone_on(&self.parts[habit], step.dt, SETTLED[habit]).map(|part| part * step.stood)
            }),
        };
        for &(weight, ago) in came {
            let since = unready(ago);
            after.fresh += weight * since;
            for (ready, mean) in after.ready.iter_mut().zip(LOOSE) {
                *ready += weight * readied((-ago / mean).exp(), since, mean);
            }
            for (parts, mean) in after.parts.iter_mut().zip(SETTLED) {
                for (part, new) in parts.iter_mut().zip(gone_on(&[1.0, 0.0, 0.0], ago, mean)) {
                    *part += weight * new;
                }
            }
        }
        after
    }
}

/// The parts of a settled delay so many seconds later.
fn gone_on(&[first, second, third]: &[f64; 3], seconds: f64, mean: f64) -> [f64; 3] {
    let passed = PARTS * seconds / mean;
    let left = (-passed).exp();
    [
        left * first,
        left * (second + passed * first),
        left * (third + passed * (second + 0.5 * passed * first)),
    ]
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
    /// Of arrivals, the share straight from going.
    straight: f64,
}

impl<'a> Habits<'a> {
    pub(super) fn of(passages: &'a Passages, straight: f64) -> Self {
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
                parts.extend(
                    came.iter()
                        .enumerate()
                        .map(|(j, came)| (weigh(straight, came.0, came.1), ago(j))),
                );
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
        Self { passages, waiting, packing, stood, search: passages.searching(), straight }
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
        let within = came.iter().enumerate().map(|(j, came)| {
            let share = (into / part - j as f64).clamp(0.0, 1.0);
            (self.weigh(came) * share, (into - (j as f64 + 0.5 * share) * part).max(0.0))
        });
        both(self.waiting[k].ends_after(into), within)
    }

    /// The likelihood of everything after a last picture at an instant of step `k`.
    pub(super) fn closed(&self, k: usize, instant: f64) -> Standing {
        let step = &self.passages.steps[k];
        let (left, part) = self.passages.left(k);
        let rest = step.start + step.dt - instant;
        let within = left.iter().rev().enumerate().map(|(j, left)| {
            let share = (rest / part - j as f64).clamp(0.0, 1.0);
            (left * part * share, (rest - (j as f64 + 0.5 * share) * part).max(0.0))
        });
        both(self.packing[k + 1].ends_after(rest), within)
    }

    /// An arrival by how such a collector arrives.
    fn weigh(&self, &(gone, searched): &(f64, f64)) -> f64 {
        weigh(self.straight, gone, searched)
    }
}

/// Half of all arrivals are supposed to be straight, when nothing is known of the collector.
fn weigh(straight: f64, gone: f64, searched: f64) -> f64 {
    2.0 * (straight * gone + (1.0 - straight) * searched)
}

/// Adds what changes within the step: weights with the seconds that the delay then lasts.
fn both(long: [f64; DELAYS], within: impl Iterator<Item = (f64, f64)>) -> Standing {
    let mut both = long.map(|density| (density, 0.0));
    for (weight, seconds) in within.filter(|(weight, _)| *weight > 0.0) {
        for (sum, density) in both.iter_mut().zip(BEGINNING.ends_after(seconds)) {
            sum.1 += weight * density;
        }
    }
    both
}

/// Having arrived this moment.
const BEGINNING: Delay =
    Delay { fresh: 1.0, ready: [0.0; LOOSE.len()], parts: [[1.0, 0.0, 0.0]; SETTLED.len()] };

/// The probability of not being ready after so many seconds.
fn unready(seconds: f64) -> f64 {
    (-seconds / READY).exp()
}

/// The probability of being ready, the delay not yet over, when of its two parts so much is left.
fn readied(left: f64, unready: f64, mean: f64) -> f64 {
    mean / (mean - READY) * (left - unready)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_delay_has_its_parts_and_ends_for_certain() {
        for (habit, mean) in LOOSE.iter().map(|mean| mean + READY).chain(SETTLED).enumerate() {
            let densities = (0..200_000).map(|n| {
                let time = 0.01 * f64::from(n);
                (time, BEGINNING.ends_after(time)[habit])
            });
            let (mass, first) = densities.fold((0.0, 0.0), |sum, (time, density)| {
                (sum.0 + 0.01 * density, sum.1 + 0.01 * density * time)
            });
            assert!((mass - 1.0).abs() < 1e-3, "{habit}: {mass}");
            // the mean of a sum of exponential laws
            assert!((first - mean).abs() < 0.1, "{habit}: {first} for {mean}");
        }
    }
}
