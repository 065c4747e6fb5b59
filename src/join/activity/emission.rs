//! Computes the likelihood of a step between two frames under each state: Student's t with eighteen degrees
//! of freedom, so that one outlier does not end a stop. Layer: `join`.

use super::super::frame::Frames;
use super::states::{DIRECTIONS, PACES, WALKING};

/// The ordinary receiver under canopy, from which the day's own is a ratio: one standard deviation,
/// metres, and correlation time, seconds.
const ORDINARY_SIGMA: f64 = 7.0;
const ORDINARY_TAU: f64 = 120.0;
/// Error that is new at each fix: digits left off and a little noise, metres.
const FLOOR: f64 = 0.4;
/// Wandering while searching, metres per root second and axis.
const SEARCH_SWAY: f64 = 0.7;
/// A step longer than this may have a change within it, seconds.
const WHOLE_STEP: f64 = 6.0;
/// Parts of the longest step.
const MOST_PARTS: f64 = 16.0;
const FREEDOM: f64 = 18.0;
/// An error that jumps and then stays (a satellite lost or gained): its size per axis, metres, the mean
/// interval between jumps, seconds, and the largest share of steps that have one.
const KICK: f64 = 8.0;
const KICKS_APART: f64 = 300.0;
const MOST_KICKS: f64 = 0.03;
/// Steps longer than this are not used for the noise level, seconds.
const LEARNING_STEP: f64 = 30.0;

/// The noise level of the day's receiver.
#[derive(Clone, Copy, Debug)]
pub(super) struct StepNoise {
    /// Variance of its steps over that of the ordinary receiver.
    pub(super) ratio: f64,
}

impl StepNoise {
    /// The variance per axis of a step of the receiver's error.
    fn variance(self, dt: f64, fixes: f64) -> f64 {
        self.ratio * ordinary_variance(dt, fixes) + new_variance(fixes)
    }
}

/// Of the ordinary receiver, between means of so many fixes. Means of neighbouring intervals differ
/// less than single fixes as far apart: by a third for many fixes.
fn ordinary_variance(dt: f64, fixes: f64) -> f64 {
    let square = fixes * fixes;
    2.0 * ORDINARY_SIGMA
        * ORDINARY_SIGMA
        * (1.0 - (-dt / ORDINARY_TAU).exp())
        * (2.0 * square + 1.0)
        / (3.0 * square)
}

fn new_variance(fixes: f64) -> f64 {
    2.0 * FLOOR * FLOOR / fixes
}

/// The likelihoods of one step.
pub(super) struct Emission {
    pub(super) stop: f64,
    pub(super) search: f64,
    /// Half stationary, half searching.
    pub(super) between: f64,
    pub(super) walking: [f64; WALKING],
    /// Walking for a part of the step and stationary for the rest, the mean over the parts.
    pub(super) partly: [f64; WALKING],
    /// The same by part, where the step has several.
    several: Vec<[f64; WALKING]>,
}

impl Emission {
    pub(super) fn of(frames: &Frames, k: usize, noise: StepNoise) -> Self {
        let (a, b) = (&frames.all[k], &frames.all[k + 1]);
        let dt = b.time - a.time;
        let step = (b.east - a.east, b.north - a.north);
        let fixes = a.count.min(b.count);
        let still = noise.variance(dt, fixes);
        let search = SEARCH_SWAY * SEARCH_SWAY * dt;
        let length2 = step.0 * step.0 + step.1 * step.1;
        let jumped = jumped(length2, dt, still);
        let (partly, several) = if dt <= WHOLE_STEP {
            (walking(step, 0.5 * dt, still, jumped), Vec::new())
        } else {
            in_parts(step, dt, still, jumped)
        };
        Self {
            stop: student(length2, still) + jumped,
            search: student(length2, still + search) + jumped,
            between: student(length2, still + 0.5 * search) + jumped,
            walking: walking(step, dt, still, jumped),
            partly,
            several,
        }
    }

    /// By part: part j is gone for the share (j + 1/2) / parts.
    pub(super) fn parts(&self) -> &[[f64; WALKING]] {
        if self.several.is_empty() { std::slice::from_ref(&self.partly) } else { &self.several }
    }
}

/// The mean over the parts of a long step, and each of them.
fn in_parts(
    step: (f64, f64),
    dt: f64,
    still: f64,
    jumped: f64,
) -> ([f64; WALKING], Vec<[f64; WALKING]>) {
    let count = (dt / 4.0).round().min(MOST_PARTS);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "2 to 16")]
    let parts: Vec<[f64; WALKING]> = (0..count as usize)
        .map(|j| walking(step, dt * (j as f64 + 0.5) / count, still, jumped))
        .collect();
    let mut mean = [0.0; WALKING];
    for part in &parts {
        for (sum, likelihood) in mean.iter_mut().zip(part) {
            *sum += likelihood / count;
        }
    }
    (mean, parts)
}

/// The likelihood of a step in which the receiver's error jumped, in any activity.
fn jumped(length2: f64, dt: f64, still: f64) -> f64 {
    let share = (dt / KICKS_APART).min(MOST_KICKS);
    share * student(length2, still + KICK * KICK + (0.6 * dt).powi(2))
}

/// The likelihoods of a step of which this long was gone, or in which the error jumped.
fn walking(step: (f64, f64), gone: f64, still: f64, jumped: f64) -> [f64; WALKING] {
    let mut likelihoods = [0.0; WALKING];
    for (ring, &pace) in PACES.iter().enumerate() {
        // the width of a state's share of speeds and headings, and bends that shorten a long step
        let bend = 0.3 * pace * gone * (gone / 30.0).min(1.0);
        let variance = still + (0.17 * gone).powi(2) + bend * bend;
        for (direction, (sine, cosine)) in COMPASS.iter().enumerate() {
            let east = step.0 - pace * gone * sine;
            let north = step.1 - pace * gone * cosine;
            likelihoods[ring * DIRECTIONS + direction] =
                student(east * east + north * north, variance) + jumped;
        }
    }
    likelihoods
}

const HALF_ROOT3: f64 = 0.866_025_403_784_438_6;
/// Sine and cosine of every thirtieth degree.
pub(crate) const COMPASS: [(f64, f64); DIRECTIONS] = [
    (0.0, 1.0),
    (0.5, HALF_ROOT3),
    (HALF_ROOT3, 0.5),
    (1.0, 0.0),
    (HALF_ROOT3, -0.5),
    (0.5, -HALF_ROOT3),
    (0.0, -1.0),
    (-0.5, -HALF_ROOT3),
    (-HALF_ROOT3, -0.5),
    (-1.0, 0.0),
    (-HALF_ROOT3, 0.5),
    (-0.5, HALF_ROOT3),
];

/// Two-dimensional Student density of a squared length, without 1 / 2 pi: 1 / (1 + length2 / (f s2))
/// to the power 10 over s2. Written with one division of the length, since it is asked for each state
/// of each step.
#[inline]
fn student(length2: f64, variance: f64) -> f64 {
    let (scale, inverse) = (variance * FREEDOM, 1.0 / variance);
    let core = scale / (scale + length2);
    let square = core * core;
    inverse * (square * square * core).powi(2) + 1e-12 * inverse
}

/// The noise level from steps between fixes while the collector is known to be stationary: the mean
/// of their squares without the largest tenth. `None` where there are too few.
pub(super) fn observed_by_photos(frames: &Frames, intervals: &[(f64, f64)]) -> Option<StepNoise> {
    const FEWEST: usize = 15;
    /// The mean of an exponential law without its largest tenth: 1 - ln 10 / 9.
    const OF_THE_REST: f64 = 0.744_16;
    let mut squares = Vec::new();
    for &(from, to) in intervals {
        let start = frames.all.partition_point(|frame| frame.time < from);
        for pair in frames.all[start..].windows(2).take_while(|pair| pair[1].time <= to) {
            let (fixes, dt) = (pair[0].count.min(pair[1].count), pair[1].time - pair[0].time);
            if dt <= LEARNING_STEP {
                let length2 =
                    (pair[1].east - pair[0].east).powi(2) + (pair[1].north - pair[0].north).powi(2);
                let lasting = 0.5 * length2 - new_variance(fixes);
                squares.push(lasting / ordinary_variance(dt, fixes));
            }
        }
    }
    if squares.len() < FEWEST {
        return None;
    }
    squares.sort_by(f64::total_cmp);
    let rest = &squares[..squares.len() - squares.len() / 10];
    let ratio = rest.iter().sum::<f64>() / rest.len() as f64 / OF_THE_REST;
    Some(StepNoise { ratio: ratio.clamp(0.02, 6.0) })
}
