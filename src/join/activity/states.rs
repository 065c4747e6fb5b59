//! Defines the states of the activity model and the probabilities of transitions between them. Layer:
//! `join`.

use super::emission::Emission;
use super::normalise;

/// Walking directions.
pub(crate) const DIRECTIONS: usize = 12;
/// Walking speeds, metres a second: on difficult ground, through a wood, on a path.
pub(super) const PACES: [f64; 3] = [0.4, 0.8, 1.3];
/// Walking states.
pub(super) const WALKING: usize = DIRECTIONS * PACES.len();
/// Standing.
pub(super) const STAND: usize = 0;
/// Searching to and fro.
pub(super) const SEARCH: usize = 1;
/// The first walking state; speed by speed, and within a speed round the compass.
pub(super) const FIRST_GOING: usize = 2;
/// All states.
pub(super) const STATES: usize = WALKING + FIRST_GOING;

// How long each activity lasts on average, seconds (common practice; the day's own steps outweigh them).
const STOP_LASTS: f64 = 120.0;
const SEARCH_LASTS: f64 = 90.0;
const GOING_LASTS: f64 = 120.0;
// How long a heading, a speed and a detour last while walking, seconds.
const HEADING_LASTS: f64 = 12.0;
const PACE_LASTS: f64 = 30.0;
const DETOUR_LASTS: f64 = 90.0;

/// The odds of each passage over one step.
#[derive(Clone, Copy, Debug)]
pub(super) struct Odds {
    stop_to_search: f64,
    stop_to_going: f64,
    search_to_stop: f64,
    search_to_going: f64,
    going_to_stop: f64,
    going_to_search: f64,
    turn: f64,
    pace: f64,
    detour: f64,
}

/// The odds of the step that was asked for last: most steps of a day are equally long.
pub(super) struct LastOdds {
    dt: f64,
    odds: Odds,
}

impl LastOdds {
    pub(super) fn new() -> Self {
        Self { dt: 0.0, odds: Odds::over(0.0) }
    }

    pub(super) fn over(&mut self, dt: f64) -> &Odds {
        if dt.to_bits() != self.dt.to_bits() {
            *self = Self { dt, odds: Odds::over(dt) };
        }
        &self.odds
    }
}

/// Transitions to and from a stop within a step, as probabilities that sum over the day's evidence.
pub(super) struct Change {
    /// Stationary through.
    pub(super) stopped: f64,
    /// Left a stop, by part of the step.
    pub(super) left: Vec<f64>,
    /// Arrived at a stop, by part of the step.
    pub(super) came: Vec<f64>,
}

impl Odds {
    /// The prior, before any step.
    pub(super) fn start() -> [f64; STATES] {
        let mut odds = [0.35 / WALKING as f64; STATES];
        odds[STAND] = 0.4;
        odds[SEARCH] = 0.25;
        odds
    }

    fn over(dt: f64) -> Self {
        let passed = |lasts: f64| 1.0 - (-dt / lasts).exp();
        let (stop, search, walking) =
            (passed(STOP_LASTS), passed(SEARCH_LASTS), passed(GOING_LASTS));
        Self {
            stop_to_search: 0.3 * stop,
            stop_to_going: 0.7 * stop,
            search_to_stop: 0.6 * search,
            search_to_going: 0.4 * search,
            going_to_stop: 0.65 * walking,
            going_to_search: 0.35 * walking,
            turn: passed(HEADING_LASTS) * 2.0 / 3.0,
            pace: passed(PACE_LASTS) * 0.5,
            detour: passed(DETOUR_LASTS),
        }
    }

    /// What headings and speeds become over the step, continuing. Symmetric, so it serves both passes.
    fn wander(&self, walking: &[f64]) -> [f64; WALKING] {
        let mut turned = [0.0; WALKING];
        let rings = turned.chunks_exact_mut(DIRECTIONS).zip(walking.chunks_exact(DIRECTIONS));
        for (turned, walking) in rings {
            for (d, turned) in turned.iter_mut().enumerate() {
                let left = walking[if d == 0 { DIRECTIONS - 1 } else { d - 1 }];
                let right = walking[if d + 1 == DIRECTIONS { 0 } else { d + 1 }];
                *turned = (1.0 - self.turn) * walking[d] + 0.5 * self.turn * (left + right);
            }
        }
        let share = walking.iter().sum::<f64>() / WALKING as f64;
        let mut paced = [0.0; WALKING];
        for d in 0..DIRECTIONS {
            let (slow, middle, fast) =
                (turned[d], turned[DIRECTIONS + d], turned[2 * DIRECTIONS + d]);
            let (slower, faster) =
                (0.5 * self.pace * (middle - slow), 0.5 * self.pace * (fast - middle));
            paced[d] = slow + slower;
            paced[DIRECTIONS + d] = middle - slower + faster;
            paced[2 * DIRECTIONS + d] = fast - faster;
        }
        paced.map(|p| (1.0 - self.detour) * p + self.detour * share)
    }

    fn stay_going(&self) -> f64 {
        1.0 - self.going_to_stop - self.going_to_search
    }

    /// The normalised odds after a step, and the likelihood of the step.
    pub(super) fn forward(&self, now: &[f64; STATES], observed: &Emission) -> ([f64; STATES], f64) {
        let mut next = [0.0; STATES];
        let walking = &now[FIRST_GOING..];
        let stopping: f64 = walking.iter().zip(&observed.partly).map(|(p, e)| p * e).sum();
        next[STAND] = now[STAND] * (1.0 - self.stop_to_search - self.stop_to_going) * observed.stop
            + now[SEARCH] * self.search_to_stop * observed.between
            + self.going_to_stop * stopping;
        next[SEARCH] = now[STAND] * self.stop_to_search * observed.between
            + now[SEARCH] * (1.0 - self.search_to_stop - self.search_to_going) * observed.search
            + self.going_to_search * stopping;
        let starting =
            (now[STAND] * self.stop_to_going + now[SEARCH] * self.search_to_going) / WALKING as f64;
        let wandered = self.wander(walking);
        for (m, next) in next[FIRST_GOING..].iter_mut().enumerate() {
            *next = starting * observed.partly[m]
                + self.stay_going() * wandered[m] * observed.walking[m];
        }
        let likelihood = normalise(&mut next);
        (next, likelihood)
    }

    /// The likelihood of all that is used from this step on.
    pub(super) fn backward(&self, later: &[f64; STATES], observed: &Emission) -> [f64; STATES] {
        let mut now = [0.0; STATES];
        let walking = &later[FIRST_GOING..];
        let starting: f64 =
            walking.iter().zip(&observed.partly).map(|(p, e)| p * e).sum::<f64>() / WALKING as f64;
        let (stop, search) = (later[STAND], later[SEARCH]);
        now[STAND] = (1.0 - self.stop_to_search - self.stop_to_going) * observed.stop * stop
            + self.stop_to_search * observed.between * search
            + self.stop_to_going * starting;
        now[SEARCH] = self.search_to_stop * observed.between * stop
            + (1.0 - self.search_to_stop - self.search_to_going) * observed.search * search
            + self.search_to_going * starting;
        let mut onward = [0.0; WALKING];
        for (m, onward) in onward.iter_mut().enumerate() {
            *onward = observed.walking[m] * walking[m];
        }
        let wandered = self.wander(&onward);
        let stop = self.going_to_stop * stop + self.going_to_search * search;
        for (m, now) in now[FIRST_GOING..].iter_mut().enumerate() {
            *now = stop * observed.partly[m] + self.stay_going() * wandered[m];
        }
        now
    }

    /// Transitions to and from a stop within the step; `back` is the result of [`Self::backward`].
    pub(super) fn change(
        &self,
        now: &[f64; STATES],
        observed: &Emission,
        later: &[f64; STATES],
        back: &[f64; STATES],
    ) -> Change {
        let stay = 1.0 - self.stop_to_search - self.stop_to_going;
        let stopped = now[STAND] * stay * observed.stop * later[STAND];
        let parts = observed.parts().len();
        let share = 1.0 / parts as f64;
        let (mut left, mut came) = (vec![0.0; parts], vec![0.0; parts]);
        // part j of the table is the step gone for the share (j + 1/2) / parts
        for (j, part) in observed.parts().iter().enumerate() {
            let (mut start, mut stop) = (0.0, 0.0);
            for m in 0..WALKING {
                start += part[m] * later[FIRST_GOING + m];
                stop += part[m] * now[FIRST_GOING + m];
            }
            left[parts - 1 - j] += share * now[STAND] * self.stop_to_going * start / WALKING as f64;
            came[j] += share * self.going_to_stop * stop * later[STAND];
        }
        let from_search = now[SEARCH] * self.search_to_stop * observed.between * later[STAND];
        let to_search = now[STAND] * self.stop_to_search * observed.between * later[SEARCH];
        for part in 0..parts {
            left[part] += to_search * share;
            came[part] += from_search * share;
        }
        let total = now.iter().zip(back).map(|(a, b)| a * b).sum::<f64>().max(f64::MIN_POSITIVE);
        for p in left.iter_mut().chain(came.iter_mut()) {
            *p /= total;
        }
        Change { stopped: stopped / total, left, came }
    }
}
