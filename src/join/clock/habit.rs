//! Filters the states of a stop, photographs to take and last one taken, over all fixes, for each mean
//! delay and each mode of arrival and departure. Layer: `join`.

use super::delay::{DELAYS, Delay, Lapse};
use super::passages::Passages;

/// How a collector comes to the stops in which photographs are taken: the share of them to which he
/// goes straight, not searching the last steps.
const STRAIGHT: [f64; 3] = [0.95, 0.5, 0.05];
/// How he leaves them: the share of them from which he goes on at once.
const GOES_ON: [f64; 3] = [0.95, 0.5, 0.25];
/// How many modes of arrival, and of departure.
pub(super) const MANNERS: usize = STRAIGHT.len();

/// Two densities for each delay: stationary since before a step, or until after it; and since, or
/// until, a moment within it.
pub(super) type Stationary = [(f64, f64); DELAYS];

/// Something for each mode of arrival, or of departure.
pub(super) type Each<T> = [T; MANNERS];

/// What each habit makes of each moment of the track.
pub(crate) struct Habits<'a> {
    pub(super) passages: &'a Passages,
    /// At each fix: arrived, no photograph taken yet.
    waiting: Vec<Each<Delay>>,
    /// At each fix: the last photograph taken, with everything later.
    packing: Vec<Each<Delay>>,
    /// At each fix: the sum of the logarithms of the steps' `stood` up to it.
    stopped: Vec<f64>,
    /// The mean probability of searching about.
    search: f64,
}

impl<'a> Habits<'a> {
    pub(super) fn of(passages: &'a Passages) -> Self {
        let steps = &passages.steps;
        let mut waiting = vec![[Delay::unknown(|_| 1.0); MANNERS]; steps.len() + 1];
        let mut packing = vec![[Delay::unknown(|delay| delay); MANNERS]; steps.len() + 1];
        let mut stopped = vec![0.0; steps.len() + 1];
        for (k, step) in steps.iter().enumerate() {
            stopped[k + 1] = stopped[k] + step.stopped.max(1e-30).ln();
            if !step.is_gap {
                let lapse = Lapse::of(step.dt);
                let mut next = waiting[k].map(|delay| delay.through(&lapse, step.stopped));
                let (came, part) = passages.came(k);
                for (j, &came) in came.iter().enumerate() {
                    let since = Lapse::of(step.dt - (j as f64 + 0.5) * part);
                    for (delay, weight) in next.iter_mut().zip(weigh(STRAIGHT, came)) {
                        delay.begin(weight, &since);
                    }
                }
                waiting[k + 1] = next;
            }
        }
        for (k, step) in steps.iter().enumerate().rev().filter(|(_, step)| !step.is_gap) {
            let lapse = Lapse::of(step.dt);
            let mut before = packing[k + 1].map(|delay| delay.through(&lapse, step.stopped));
            let (left, part) = passages.left(k);
            for (j, &left) in left.iter().enumerate() {
                let until = Lapse::of((j as f64 + 0.5) * part);
                for (delay, weight) in before.iter_mut().zip(weigh(GOES_ON, left)) {
                    delay.begin(weight * part, &until);
                }
            }
            packing[k] = before;
        }
        Self { passages, waiting, packing, stopped, search: passages.searching() }
    }

    /// The probability of searching at the beginning of a step, against that of the day.
    pub(super) fn searching(&self, k: usize) -> f64 {
        self.passages.steps[k].search / self.search
    }

    /// Standing from the end of step `last` to the beginning of step `k`.
    pub(super) fn stopped(&self, last: usize, k: usize) -> f64 {
        (self.stopped[k] - self.stopped[last + 1]).exp()
    }

    /// The density of a first photograph at an instant of step `k`.
    pub(super) fn opened(&self, k: usize, instant: f64) -> Each<Stationary> {
        let step = &self.passages.steps[k];
        let (came, part) = self.passages.came(k);
        let into = instant - step.start;
        let within = came.iter().enumerate().map(|(j, &came)| {
            let share = (into / part - j as f64).clamp(0.0, 1.0);
            (weigh(STRAIGHT, came), share, into - (j as f64 + 0.5 * share) * part)
        });
        both(&self.waiting[k], into, within)
    }

    /// The likelihood of everything after a last photograph at an instant of step `k`.
    pub(super) fn closed(&self, k: usize, instant: f64) -> Each<Stationary> {
        let step = &self.passages.steps[k];
        let (left, part) = self.passages.left(k);
        let rest = step.start + step.dt - instant;
        let within = left.iter().rev().enumerate().map(|(j, &left)| {
            let share = (rest / part - j as f64).clamp(0.0, 1.0);
            (weigh(GOES_ON, left), share * part, rest - (j as f64 + 0.5 * share) * part)
        });
        both(&self.packing[k + 1], rest, within)
    }
}

/// An arrival or a leaving by how often each mode has it so. Half of all are supposed to be either
/// way when nothing is known of the collector.
fn weigh(shares: Each<f64>, (going, searching): (f64, f64)) -> Each<f64> {
    shares.map(|share| 2.0 * (share * going + (1.0 - share) * searching))
}

/// The densities of delays that run since before a step, or until after it, to end so many seconds
/// into it, and of those that begin within it: weights, a common factor, the seconds that the delay
/// then lasts.
fn both(
    long: &Each<Delay>,
    seconds: f64,
    within: impl Iterator<Item = (Each<f64>, f64, f64)>,
) -> Each<Stationary> {
    let lapse = Lapse::of(seconds);
    let mut both = long.each_ref().map(|delay| delay.ends_after(&lapse).map(|ends| (ends, 0.0)));
    for (weights, factor, seconds) in within.filter(|part| part.1 > 0.0) {
        let ends = Lapse::of(seconds.max(0.0)).ends();
        for (stationary, weight) in both.iter_mut().zip(weights) {
            for (sum, density) in stationary.iter_mut().zip(ends) {
                sum.1 += weight * factor * density;
            }
        }
    }
    both
}
