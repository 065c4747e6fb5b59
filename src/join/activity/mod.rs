//! Estimates when the collector was walking, searching or stationary, with a hidden Markov model over the
//! frames: stationary, searching to and fro, or walking in one of twelve directions at one of three speeds.
//! It uses only the steps between frames, because a receiver's correlated error nearly cancels in a step,
//! and it keeps a heading, because a walker does. Layer: `join`.
//!
//! The result is the probability of being stationary at every second, not a verdict: a photograph falls on
//! an edge no more often than the edge is uncertain.

mod course;
mod emission;
mod states;

use super::frame::{Frame, Frames};
pub(crate) use course::Course;
use course::Parts;
pub(crate) use emission::COMPASS;
use emission::{Emission, StepNoise};
pub(crate) use states::DIRECTIONS;
use states::{FIRST_GOING, LastOdds, Odds, SEARCH, STAND, STATES};

/// The probabilities of the three activities over a day.
#[derive(Clone, Debug, Default)]
pub(crate) struct Activities {
    /// At each frame.
    pub(crate) stop: Vec<f32>,
    /// At each frame.
    pub(crate) search: Vec<f32>,
    /// Probability of being stationary, second by second.
    pub(crate) course: Course,
    /// The receiver's noise level relative to the ordinary one, as a ratio of variances.
    pub(crate) noise_level: f64,
}

impl Activities {
    /// The probability of being stationary at a time; `None` outside the track and in its gaps.
    pub(crate) fn stationary(&self, time: f64) -> Option<f64> {
        self.course.stationary(time)
    }
}

/// Estimates the activities together with the receiver's noise level.
pub(crate) fn estimate(frames: &Frames) -> Activities {
    reported(frames, learnt(frames), &[])
}

/// The receiver's noise level where the collector is known to have been stationary: at photographs, once the
/// camera's clock is known. More accurate than that of [`estimate`], which uses its own stops.
pub(crate) fn noise_level(frames: &Frames, intervals: &[(f64, f64)]) -> Option<f64> {
    emission::observed_by_photos(frames, intervals).map(|noise| noise.ratio)
}

/// Estimates the activities for a receiver of known noise level; the collector was probably stationary in
/// each of the intervals.
pub(crate) fn estimate_with(frames: &Frames, ratio: f64, intervals: &[(f64, f64)]) -> Activities {
    reported(frames, StepNoise { ratio }, intervals)
}

fn reported(frames: &Frames, noise: StepNoise, intervals: &[(f64, f64)]) -> Activities {
    if frames.all.is_empty() {
        return Activities::default();
    }
    let seen = Seen::of(frames, intervals);
    let mut activities = Activities { noise_level: noise.ratio, ..blank(frames) };
    let passes = Passes::forward(frames, noise, &seen);
    passes.backward(frames, noise, &seen, |k, posterior| activities.write(frames, k, posterior));
    activities.course.in_order();
    activities
}

/// Which frames lie in intervals in which the collector was probably stationary.
struct Seen(Vec<bool>);

impl Seen {
    fn of(frames: &Frames, intervals: &[(f64, f64)]) -> Self {
        Self(if intervals.is_empty() { Vec::new() } else { frames.within(intervals) })
    }

    /// Weighs the states of a frame.
    fn weigh(&self, k: usize, odds: &mut [f64; STATES]) {
        /// How much less likely a photograph is while not stationary.
        const NOT_STANDING: f64 = 0.2;
        if self.0.get(k) == Some(&true) {
            for (state, p) in odds.iter_mut().enumerate() {
                *p *= if state == STAND { 1.0 } else { NOT_STANDING };
            }
        }
    }
}

/// The noise level of maximum posterior probability for the day's steps, summed over activities, with
/// the prior of receivers.
fn learnt(frames: &Frames) -> StepNoise {
    /// Ratios a factor of 1.6 apart.
    const STEP: f64 = 0.47;
    /// One standard deviation of the logarithm among receivers.
    const SPREAD: f64 = 0.8;
    let parts = learning_parts(frames);
    let tried: Vec<(f64, f64)> = (-5..=4)
        .map(|k| {
            let log_ratio = STEP * f64::from(k);
            let noise = StepNoise { ratio: log_ratio.exp() };
            let likelihood: f64 = parts.iter().map(|part| log_likelihood(part, noise)).sum();
            (log_ratio, likelihood - 0.5 * (log_ratio / SPREAD).powi(2))
        })
        .collect();
    let best = (0..tried.len()).max_by(|&a, &b| tried[a].1.total_cmp(&tried[b].1)).unwrap_or(5);
    let mut peak = tried[best].0;
    if best > 0 && best + 1 < tried.len() {
        // the top of the parabola through three points
        let (left, top, right) = (tried[best - 1].1, tried[best].1, tried[best + 1].1);
        let bend = left - 2.0 * top + right;
        if bend < 0.0 {
            peak += STEP * (0.5 * (left - right) / bend).clamp(-0.5, 0.5);
        }
    }
    StepNoise { ratio: peak.exp() }
}

/// The log likelihood of all steps, every activity allowed for.
fn log_likelihood(frames: &Frames, noise: StepNoise) -> f64 {
    let (mut now, mut steps) = (Odds::start(), LastOdds::new());
    let mut sum = 0.0;
    for k in 0..frames.all.len().saturating_sub(1) {
        if frames.step(k) > frames.gap {
            now = Odds::start();
            continue;
        }
        let odds = steps.over(frames.step(k));
        let (next, likelihood) = odds.forward(&now, &Emission::of(frames, k, noise));
        now = next;
        sum += likelihood.max(f64::MIN_POSITIVE).ln();
    }
    sum
}

fn blank(frames: &Frames) -> Activities {
    Activities {
        stop: vec![0.5; frames.all.len()],
        search: vec![0.0; frames.all.len()],
        course: Course::blank(frames.all[0].time, frames.all[frames.all.len() - 1].time),
        noise_level: 1.0,
    }
}

/// Up to six intervals of 400 frames, evenly over the day: enough to estimate one number.
fn learning_parts(frames: &Frames) -> Vec<Frames> {
    const SPELL: usize = 400;
    let n = frames.all.len();
    let intervals = n.div_ceil(SPELL).min(6);
    (0..intervals)
        .map(|s| {
            let from =
                if intervals == 1 { 0 } else { s * n.saturating_sub(SPELL) / (intervals - 1) };
            let all: Vec<Frame> = frames.all[from..(from + SPELL).min(n)].to_vec();
            Frames { all, ..*frames }
        })
        .collect()
}

/// What is known of one step when the whole day has been used.
pub(crate) struct StepPosterior<'a> {
    /// Of the states at its end.
    states: &'a [f64; STATES],
    /// That the collector was stationary throughout.
    stopped: f64,
    /// For each part of the step, that the collector left a stop in it.
    left: &'a [f64],
    /// For each part of the step, that the collector arrived at a stop in it.
    came: &'a [f64],
    /// Whether the step is a gap.
    gap: bool,
}

impl Activities {
    #[allow(clippy::cast_possible_truncation, reason = "probabilities")]
    fn write(&mut self, frames: &Frames, k: usize, posterior: &StepPosterior) {
        self.stop[k + 1] = posterior.states[STAND] as f32;
        // slow walking counts as searching as well
        let slowly: f64 = posterior.states[FIRST_GOING..FIRST_GOING + DIRECTIONS].iter().sum();
        self.search[k + 1] = (posterior.states[SEARCH] + slowly) as f32;
        if k == 0 {
            let came: f64 = posterior.came.iter().sum();
            let left: f64 = posterior.left.iter().sum();
            self.stop[0] = (posterior.states[STAND] - came + left).clamp(0.0, 1.0) as f32;
        }
        if posterior.gap {
            return;
        }
        let ends = (frames.all[k].time, frames.all[k + 1].time);
        let parts = Parts { left: posterior.left, came: posterior.came };
        self.course.add_before(ends, posterior.stopped, parts);
    }
}

/// The forward pass, kept for the backward one.
struct Passes {
    forward: Vec<[f32; STATES]>,
}

impl Passes {
    fn forward(frames: &Frames, noise: StepNoise, seen: &Seen) -> Self {
        let mut forward = Vec::with_capacity(frames.all.len());
        let (mut now, mut steps) = (Odds::start(), LastOdds::new());
        forward.push(narrow(&now));
        for k in 0..frames.all.len().saturating_sub(1) {
            now = if frames.step(k) > frames.gap {
                Odds::start()
            } else {
                let odds = steps.over(frames.step(k));
                odds.forward(&now, &Emission::of(frames, k, noise)).0
            };
            seen.weigh(k + 1, &mut now);
            normalise(&mut now);
            forward.push(narrow(&now));
        }
        Self { forward }
    }

    /// Runs the backward pass and reports each step's posterior, last step first.
    fn backward(
        &self,
        frames: &Frames,
        noise: StepNoise,
        seen: &Seen,
        mut estimate: impl FnMut(usize, &StepPosterior),
    ) {
        let (mut later, mut steps) = ([1.0; STATES], LastOdds::new());
        for k in (0..frames.all.len().saturating_sub(1)).rev() {
            let gap = frames.step(k) > frames.gap;
            let mut states = [0.0; STATES];
            for (state, held) in states.iter_mut().enumerate() {
                *held = f64::from(self.forward[k + 1][state]) * later[state];
            }
            normalise(&mut states);
            if gap {
                estimate(
                    k,
                    &StepPosterior { states: &states, stopped: 0.0, left: &[], came: &[], gap },
                );
                later = [1.0; STATES];
                continue;
            }
            let (odds, emission) = (steps.over(frames.step(k)), Emission::of(frames, k, noise));
            // the observation at the frame after the step updates the states before it
            seen.weigh(k + 1, &mut later);
            let before = widen(&self.forward[k]);
            let back = odds.backward(&later, &emission);
            let change = odds.change(&before, &emission, &later, &back);
            estimate(
                k,
                &StepPosterior {
                    states: &states,
                    stopped: change.stopped,
                    left: &change.left,
                    came: &change.came,
                    gap,
                },
            );
            let top = back.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
            later = back.map(|p| p / top);
        }
    }
}

#[allow(clippy::cast_possible_truncation, reason = "stored small on purpose")]
fn narrow(odds: &[f64; STATES]) -> [f32; STATES] {
    odds.map(|p| p as f32)
}

fn widen(odds: &[f32; STATES]) -> [f64; STATES] {
    odds.map(f64::from)
}

/// Normalises the odds and returns their previous sum.
fn normalise(odds: &mut [f64; STATES]) -> f64 {
    let total: f64 = odds.iter().sum();
    let share = 1.0 / total;
    if total > 0.0 && total.is_finite() && share.is_finite() {
        for p in odds.iter_mut() {
            *p *= share;
        }
    } else {
        *odds = Odds::start();
    }
    total
}

#[cfg(test)]
mod tests;
