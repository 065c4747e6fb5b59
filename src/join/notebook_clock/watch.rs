//! Estimates how far the watch of a notebook is ahead: the posterior over three quarters of an hour, from how
//! well the written minutes of a day fall in the stops of its track and on the photographs of their finds.
//! Layer: `join`.

use crate::model::{NotebookNote, WatchOffset};
use crate::units::Seconds;

use super::sum_of_logs;

/// The farthest that a watch is off, seconds; beyond it is of another zone or stopped.
pub(super) const REACH: f64 = 2_820.0;
/// Between two offsets that are compared, seconds.
pub(super) const STEP: f64 = 20.0;
/// How far watches are off: shares and standard deviations, seconds (common practice: mostly a telephone or a
/// watch set within the year; a few were set by guess).
const USUAL: [(f64, f64); 3] = [(0.5, 15.0), (0.37, 60.0), (0.09, 180.0)];
/// The share of those that may be off by anything within reach (common practice).
const ANYHOW: f64 = 0.04;
/// What lies within this is correct, and what is known no better is not determined; seconds.
const CORRECT: f64 = 150.0;
const OPEN: f64 = 300.0;
/// Into how many parts of equal probability the offset is divided for positions.
const PARTS: u32 = 24;

/// The posterior of the watch's offset: written times less true times.
#[derive(Clone, Debug)]
pub(crate) struct Watch {
    /// Offset, probability; in order.
    nodes: Vec<(f64, f64)>,
    notes: usize,
}

/// What is said about a watch.
#[derive(Clone, Copy, Debug, PartialEq)]
enum State {
    Correct,
    /// Off by so much, from, to.
    Off(f64, f64, f64),
    /// Anything of this range.
    Open(f64, f64),
}

/// The offsets that are compared, with the log of their prior probability.
pub(crate) fn prior() -> Vec<(f64, f64)> {
    #[allow(clippy::cast_possible_truncation, reason = "some hundred")]
    let steps = (REACH / STEP) as i32;
    let density = |ahead: f64| {
        let usual = USUAL.iter().map(|&(share, sigma)| {
            share * (-0.5 * (ahead / sigma).powi(2)).exp() / (sigma * std::f64::consts::TAU.sqrt())
        });
        usual.sum::<f64>() + ANYHOW / (2.0 * REACH)
    };
    let offset = |k: i32| STEP * f64::from(k);
    (-steps..=steps).map(|k| (offset(k), (STEP * density(offset(k))).ln())).collect()
}

impl Watch {
    /// A watch that is correct.
    pub(super) fn correct() -> Self {
        Self { nodes: vec![(0.0, 1.0)], notes: 0 }
    }

    /// The posterior, given the log likelihood at each offset.
    pub(super) fn of(notes: usize, likelihood: impl Fn(f64) -> f64) -> Self {
        let logs: Vec<(f64, f64)> =
            prior().into_iter().map(|(ahead, log)| (ahead, log + likelihood(ahead))).collect();
        let all = logs.iter().map(|node| node.1).fold(f64::NEG_INFINITY, sum_of_logs);
        let nodes = logs.into_iter().map(|(ahead, log)| (ahead, (log - all).exp()));
        Self { nodes: nodes.filter(|node| node.1 > 1e-6).collect(), notes }
    }

    /// The offset below which the watch is with this probability.
    fn quantile(&self, probability: f64) -> f64 {
        let mut sum = 0.0;
        let below = self.nodes.iter().find(|node| {
            sum += node.1;
            sum >= probability
        });
        below.or(self.nodes.last()).map_or(0.0, |node| node.0)
    }

    fn state(&self) -> State {
        let (from, to) = (self.quantile(0.025), self.quantile(0.975));
        let middle = self.quantile(0.5);
        if from > CORRECT || to < -CORRECT {
            State::Off(middle, from, to)
        } else if from < -OPEN || to > OPEN {
            State::Open(from, to)
        } else {
            State::Correct
        }
    }

    /// Written times less true times as far as they are known, and half of the 95 % interval.
    pub(crate) fn ahead(&self) -> (Seconds, Seconds) {
        match self.state() {
            State::Correct => (Seconds(0.0), Seconds(0.0)),
            State::Off(middle, from, to) => {
                (Seconds(middle), Seconds((middle - from).max(to - middle)))
            }
            State::Open(from, to) => (Seconds(0.0), Seconds(to.max(-from))),
        }
    }

    /// Offsets of equal probability, with it.
    pub(crate) fn parts(&self) -> Vec<(f64, f64)> {
        if self.nodes.len() == 1 {
            return self.nodes.clone();
        }
        let share = 1.0 / f64::from(PARTS);
        let mut parts: Vec<(f64, f64)> = Vec::new();
        let (mut sum, mut mass) = (0.0, 0.0);
        for &(ahead, probability) in &self.nodes {
            let mut left = probability;
            // a node of much probability fills several parts
            while left > 0.0 {
                let taken = left.min(share - mass);
                (sum, mass, left) = (sum + taken * ahead, mass + taken, left - taken);
                if mass >= share - 1e-12 {
                    parts.push((sum / mass, mass));
                    (sum, mass) = (0.0, 0.0);
                }
            }
        }
        if mass > 1e-9 {
            parts.push((sum / mass, mass));
        }
        parts.dedup_by(|next, kept| {
            let same = (next.0 - kept.0).abs() < 1e-6;
            if same {
                kept.1 += next.1;
            }
            same
        });
        parts
    }

    /// How far it is off, where it is not correct.
    pub(crate) fn offset(&self) -> Option<WatchOffset> {
        let (ahead, from, to) = match self.state() {
            State::Correct => return None,
            State::Off(middle, from, to) => (Some(Seconds(middle)), from, to),
            State::Open(from, to) => (None, from, to),
        };
        Some(WatchOffset { ahead, low: Seconds(from), high: Seconds(to) })
    }

    /// What is reported once for all written times.
    pub(super) fn report(&self) -> Option<NotebookNote> {
        let (watch, written_times) = (self.offset()?, self.notes);
        Some(match watch.ahead {
            Some(_) => NotebookNote::WatchOff { watch, written_times },
            None => NotebookNote::WatchOpen { watch, written_times },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prior_sums_to_one_and_is_mostly_correct() {
        let all: f64 = prior().iter().map(|node| node.1.exp()).sum();
        assert!((all - 1.0).abs() < 0.01, "{all}");
        let watch = Watch::of(5, |_| 0.0);
        assert_eq!(watch.state(), State::Correct);
        assert!(watch.report().is_none());
    }

    #[test]
    fn one_clear_offset_is_stated_with_its_interval() {
        let watch = Watch::of(9, |ahead| -0.5 * ((ahead + 720.0) / 60.0).powi(2) + 9.0);
        let offset = watch.offset().unwrap();
        let minutes = |seconds: Seconds| seconds.0 / 60.0;
        assert!(offset.ahead.is_some_and(|ahead| minutes(ahead).round() == -12.0), "{offset:?}");
        assert!((-15.0..-12.0).contains(&minutes(offset.low)), "{offset:?}");
        assert_eq!(minutes(offset.high).round(), -10.0, "{offset:?}");
        assert!((watch.ahead().0.0 + 720.0).abs() < 30.0);
    }

    #[test]
    fn two_offsets_that_fit_leave_it_open() {
        let watch = Watch::of(9, |ahead| {
            let near = |at: f64| (-0.5 * ((ahead - at) / 60.0).powi(2)).exp();
            (near(0.0) + 40.0 * near(1_200.0) + 1e-9).ln() + 4.0
        });
        let offset = watch.offset().unwrap();
        assert!(offset.ahead.is_none() && offset.high > Seconds(600.0), "{offset:?}");
        let note = watch.report().unwrap();
        assert_eq!(note, NotebookNote::WatchOpen { watch: offset, written_times: 9 });
    }

    #[test]
    fn parts_have_the_mean_and_the_mass_of_the_posterior() {
        let watch = Watch::of(9, |ahead| -0.5 * ((ahead - 300.0) / 200.0).powi(2));
        let parts = watch.parts();
        let mass: f64 = parts.iter().map(|part| part.1).sum();
        let mean = |nodes: &[(f64, f64)]| nodes.iter().map(|node| node.0 * node.1).sum::<f64>();
        assert!((mass - 1.0).abs() < 1e-4 && parts.len() <= 25, "{mass} {}", parts.len());
        assert!((mean(&parts) - mean(&watch.nodes)).abs() < 1.0);
    }
}
