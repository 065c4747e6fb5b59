//! Computes the likelihood of a step between two fixes for each state, and the transitions between states.
//! This resolves more detail than the day's activities, because the seconds of arrival and departure matter
//! here. It uses only steps, in which a receiver's persistent error nearly cancels. Layer: `join`.

use super::super::activity::{COMPASS, DIRECTIONS};

/// Searching speeds, metres a second.
const SLOW: [f64; 2] = [0.25, 0.42];
/// Walking speeds, metres a second, from difficult ground to a path.
const PACES: [f64; 3] = [0.65, 0.95, 1.3];
/// States of searching and of walking.
pub(super) const SEARCHING: usize = DIRECTIONS * SLOW.len();
const WALKING: usize = DIRECTIONS * PACES.len();
const MOVING: usize = SEARCHING + WALKING;

// How long each activity, a heading, a speed and a detour last on average, seconds (common practice; the
// steps of the day outweigh them).
const STOP_LASTS: f64 = 120.0;
const SEARCH_LASTS: f64 = 50.0;
const GOING_LASTS: f64 = 150.0;
const HEADING_LASTS: f64 = 12.0;
const PACE_LASTS: f64 = 30.0;
const DETOUR_LASTS: f64 = 90.0;
/// While searching the heading is lost after so long, seconds.
const TURNS_AFTER: f64 = 40.0;
/// Of those who leave a stop, the share that goes on rather than searches about; of those who stop
/// walking, the share that stops; of those who end a search, the share that stops.
const GOES_ON: f64 = 0.5;
const STOPS: f64 = 0.5;
const FINDS: f64 = 0.5;
/// A longer step may have a change within it that matters, seconds.
const WHOLE_STEP: f64 = 2.6;
/// The longest part of such a step, seconds, and the most parts.
const PART: f64 = 2.0;
const MOST_PARTS: f64 = 24.0;
/// Half the freedom of the Student law of a step, plus one.
const TAIL: i32 = 8;

/// Likelihoods or probabilities of the moving states: first searching, then walking, speed by speed.
type Moving = [f64; MOVING];

/// The probabilities of all activities at a fix.
#[derive(Clone, Copy, Debug)]
pub(super) struct Odds {
    pub(super) stationary: f64,
    pub(super) moving: Moving,
}

impl Odds {
    /// The prior, before any step.
    pub(super) const START: Self =
        Self { stationary: 0.35, moving: [0.65 / MOVING as f64; MOVING] };
    /// Anything may follow.
    pub(super) const OPEN: Self = Self { stationary: 1.0, moving: [1.0; MOVING] };

    pub(super) fn times(&self, factor: f64) -> Self {
        Self { stationary: self.stationary * factor, moving: self.moving.map(|p| p * factor) }
    }

    /// Those of searching, small enough to keep for a whole day.
    #[allow(clippy::cast_possible_truncation, reason = "stored small on purpose")]
    pub(super) fn searching(&self) -> [f32; SEARCHING] {
        std::array::from_fn(|m| self.moving[m] as f32)
    }

    /// Odds that add up to one, and what they added up to.
    pub(super) fn normalised(&self) -> (Self, f64) {
        let sum = self.stationary + self.moving.iter().sum::<f64>();
        if sum > 0.0 && sum.is_finite() {
            (self.times(1.0 / sum), sum)
        } else {
            (Self::START, f64::MIN_POSITIVE)
        }
    }
}

/// One step between fixes: the likelihoods of what is seen, and the chances of a change in it.
pub(super) struct Step {
    /// Stationary through.
    pub(super) stationary: f64,
    moving: Moving,
    /// Moving for the share (j + 1/2) / parts of it.
    parts: Vec<Moving>,
    /// The mean over the parts.
    partly: Moving,
    leave: f64,
    settle: f64,
    stop: f64,
    turn: f64,
    lose: f64,
    pace: f64,
    detour: f64,
}

/// Sums over searching and over walking.
fn sums(moving: &Moving) -> (f64, f64) {
    (moving[..SEARCHING].iter().sum(), moving[SEARCHING..].iter().sum())
}

fn dot(a: &Moving, b: &Moving) -> Moving {
    std::array::from_fn(|m| a[m] * b[m])
}

impl Step {
    /// A step of so many seconds and metres seen by a receiver whose error spreads by `noise_level`
    /// square metres a second and axis, with `fresh` square metres that are new at each fix.
    pub(super) fn of(dt: f64, step: (f64, f64), noise_level: f64, fresh: f64) -> Self {
        let still = noise_level * effective(dt) + 2.0 * fresh;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 24")]
        let count = if dt <= WHOLE_STEP { 1 } else { (dt / PART).round().min(MOST_PARTS) as usize };
        let parts: Vec<Moving> =
            (0..count).map(|j| moving(step, dt * (j as f64 + 0.5) / count as f64, still)).collect();
        let mut partly = [0.0; MOVING];
        for part in &parts {
            for (mean, likelihood) in partly.iter_mut().zip(part) {
                *mean += likelihood / count as f64;
            }
        }
        let passed = |lasts: f64| 1.0 - (-dt / lasts).exp();
        Self {
            stationary: student(step.0 * step.0 + step.1 * step.1, still),
            moving: moving(step, dt, still),
            parts,
            partly,
            leave: passed(STOP_LASTS),
            settle: passed(SEARCH_LASTS),
            stop: passed(GOING_LASTS),
            turn: passed(HEADING_LASTS) * 2.0 / 3.0,
            lose: passed(TURNS_AFTER),
            pace: 0.5 * passed(PACE_LASTS),
            detour: passed(DETOUR_LASTS),
        }
    }

    /// The number of parts in which a change is looked for.
    pub(super) fn parts(&self) -> usize {
        self.parts.len()
    }

    /// What headings and speeds become, continuing. Symmetric, so it serves both directions of time.
    fn wander(&self, now: &Moving) -> Moving {
        let (searching, walking) = sums(now);
        let mut next = *now;
        for ring in 0..SLOW.len() {
            let at = ring * DIRECTIONS;
            for d in 0..DIRECTIONS {
                let sides =
                    now[at + (d + DIRECTIONS - 1) % DIRECTIONS] + now[at + (d + 1) % DIRECTIONS];
                let kept = (1.0 - self.turn) * now[at + d] + 0.5 * self.turn * sides;
                next[at + d] = (1.0 - self.lose) * kept + self.lose * searching / SEARCHING as f64;
            }
        }
        for ring in 0..PACES.len() {
            let at = SEARCHING + ring * DIRECTIONS;
            for d in 0..DIRECTIONS {
                let sides =
                    now[at + (d + DIRECTIONS - 1) % DIRECTIONS] + now[at + (d + 1) % DIRECTIONS];
                next[at + d] = (1.0 - self.turn) * now[at + d] + 0.5 * self.turn * sides;
            }
        }
        let turned = next;
        for m in SEARCHING..MOVING - DIRECTIONS {
            let flow = 0.5 * self.pace * (turned[m + DIRECTIONS] - turned[m]);
            next[m] += flow;
            next[m + DIRECTIONS] -= flow;
        }
        for p in &mut next[SEARCHING..] {
            *p = (1.0 - self.detour) * *p + self.detour * walking / WALKING as f64;
        }
        next
    }

    /// The odds after the step.
    pub(super) fn forward(&self, now: &Odds) -> Odds {
        let (searched, gone) = sums(&dot(&now.moving, &self.partly));
        let (searching, walking) = sums(&now.moving);
        let to_search =
            now.stationary * self.leave * (1.0 - GOES_ON) + walking * self.stop * (1.0 - STOPS);
        let to_going =
            now.stationary * self.leave * GOES_ON + searching * self.settle * (1.0 - FINDS);
        let wandered = self.wander(&now.moving);
        let moving = std::array::from_fn(|m| {
            let (stay, from, states) = if m < SEARCHING {
                (1.0 - self.settle, to_search, SEARCHING)
            } else {
                (1.0 - self.stop, to_going, WALKING)
            };
            stay * wandered[m] * self.moving[m] + from / states as f64 * self.partly[m]
        });
        Odds {
            stationary: now.stationary * (1.0 - self.leave) * self.stationary
                + FINDS * self.settle * searched
                + STOPS * self.stop * gone,
            moving,
        }
    }

    /// The likelihood of everything from before the step on, given that of everything after it.
    pub(super) fn backward(&self, later: &Odds) -> Odds {
        let (search, go) = sums(&dot(&later.moving, &self.partly));
        let (search, go) = (search / SEARCHING as f64, go / WALKING as f64);
        let wandered = self.wander(&dot(&later.moving, &self.moving));
        let moving = std::array::from_fn(|m| {
            if m < SEARCHING {
                (1.0 - self.settle) * wandered[m]
                    + self.settle * (FINDS * later.stationary * self.partly[m] + (1.0 - FINDS) * go)
            } else {
                (1.0 - self.stop) * wandered[m]
                    + self.stop
                        * (STOPS * later.stationary * self.partly[m] + (1.0 - STOPS) * search)
            }
        });
        Odds {
            stationary: (1.0 - self.leave) * self.stationary * later.stationary
                + self.leave * ((1.0 - GOES_ON) * search + GOES_ON * go),
            moving,
        }
    }

    /// The probability of what is seen together with arriving at a stop in part `j`, from walking and
    /// from searching.
    pub(super) fn came(&self, now: &Odds, j: usize) -> (f64, f64) {
        let (searched, gone) = sums(&dot(&now.moving, &self.parts[j]));
        let parts = self.parts.len() as f64;
        (STOPS * self.stop * gone / parts, FINDS * self.settle * searched / parts)
    }

    /// The likelihood of what is seen in the step and later together with leaving a stop in part
    /// `j`, to go on and to search.
    pub(super) fn left(&self, later: &Odds, j: usize) -> (f64, f64) {
        let part = &self.parts[self.parts.len() - 1 - j];
        let (search, go) = sums(&dot(&later.moving, part));
        (GOES_ON * go / WALKING as f64, (1.0 - GOES_ON) * search / SEARCHING as f64)
    }
}

/// Seconds over which the receiver's lasting error spreads like a free walk.
pub(super) fn effective(dt: f64) -> f64 {
    const LASTS: f64 = 120.0;
    LASTS * (1.0 - (-dt / LASTS).exp())
}

/// The likelihoods of a step of which this many seconds were moved.
fn moving((east, north): (f64, f64), gone: f64, still: f64) -> Moving {
    let mut likelihoods = [0.0; MOVING];
    for (ring, &pace) in SLOW.iter().chain(&PACES).enumerate() {
        // the width of a state's share of speeds and headings, and bends that shorten a long step
        let lasts = if ring < SLOW.len() { TURNS_AFTER } else { 30.0 };
        let bend = 0.3 * pace * gone * (gone / lasts).min(1.0);
        let variance = still + (0.1 * gone).powi(2) + bend * bend;
        for (direction, (sine, cosine)) in COMPASS.iter().enumerate() {
            let (x, y) = (east - pace * gone * sine, north - pace * gone * cosine);
            likelihoods[ring * DIRECTIONS + direction] = student(x * x + y * y, variance);
        }
    }
    likelihoods
}

/// Two-dimensional Student density of a squared length, without 1 / 2 pi; an odd fix costs little.
fn student(length2: f64, variance: f64) -> f64 {
    let freedom = f64::from(2 * (TAIL - 1));
    let inverse = 1.0 / variance;
    inverse / (1.0 + length2 * inverse / freedom).powi(TAIL) + 1e-9 * inverse
}
