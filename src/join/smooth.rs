//! Estimates position and velocity at each frame from all fixes before and after, with the receiver's
//! persistent error as a separate state. While the collector is stationary the position is constant, so a
//! stop averages its fixes; the variance includes the persistent error, which no averaging removes. Layer:
//! `join`.
//!
//! # References
//! Rauch, Tung & Striebel 1965, Maximum likelihood estimates of linear dynamic systems, AIAA Journal
//! 3:1445-1450, in the form of Bierman 1977, Factorization Methods for Discrete Sequential
//! Estimation, chapter X (modified Bryson-Frazier: no matrix is inverted); both from memory, checked
//! against a general library in `tests/reference`.

use super::activity::Activities;
use super::frame::Frames;
use super::kalman::{Belief, Innovation, Motion, Receiver, Sym3, Transition};

/// Walking.
pub(crate) const GOING: Motion = Motion { speed: 0.65, persistence: 20.0, sway: 0.05 };
/// Searching to and fro.
pub(crate) const SEARCHING: Motion = Motion { speed: 0.3, persistence: 10.0, sway: 0.05 };
/// Standing or kneeling.
pub(crate) const STANDING: Motion = Motion { speed: 0.01, persistence: 2.0, sway: 0.15 };

/// The weight of a fix is limited beyond this chi-square (two degrees of freedom).
pub(crate) const GATE: f64 = 16.0;

/// The estimate at one frame.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Smoothed {
    /// Metres east of the plane's origin.
    pub(crate) east: f64,
    /// Metres north of it.
    pub(crate) north: f64,
    /// Metres a second.
    pub(crate) east_speed: f64,
    /// Metres a second.
    pub(crate) north_speed: f64,
    /// Variance of the position per axis.
    pub(crate) variance: f64,
}

/// What the forward pass leaves for the backward one.
struct Stage {
    belief: Belief,
    seen: Innovation,
    /// From the frame before.
    step: Transition,
}

/// The frames smoothed, one estimate each.
pub(crate) fn smooth(
    frames: &Frames,
    activities: &Activities,
    receiver: &Receiver,
) -> Vec<Smoothed> {
    let stages = forward(frames, receiver, |k| motion(activities, k));
    backward(&stages)
}

/// The motion over the step after frame `k`.
fn motion(activities: &Activities, k: usize) -> Motion {
    let mean = |odds: &[f32]| f64::midpoint(f64::from(odds[k]), f64::from(odds[k + 1]));
    mixed(mean(&activities.stop), mean(&activities.search))
}

/// The movement model of a mixture of activities: stationary and searching with these probabilities,
/// otherwise walking.
pub(crate) fn mixed(stop: f64, search: f64) -> Motion {
    let go = (1.0 - stop - search).max(0.0);
    let blend = |part: fn(&Motion) -> f64| {
        stop * part(&STANDING) + search * part(&SEARCHING) + go * part(&GOING)
    };
    Motion {
        speed: blend(|m| m.speed * m.speed).sqrt(),
        persistence: blend(|m| m.persistence),
        sway: blend(|m| m.sway * m.sway).sqrt(),
    }
}

fn forward(frames: &Frames, receiver: &Receiver, motion: impl Fn(usize) -> Motion) -> Vec<Stage> {
    let mut stages: Vec<Stage> = Vec::with_capacity(frames.all.len());
    let mut belief: Option<Belief> = None;
    for (k, frame) in frames.all.iter().enumerate() {
        let at = (frame.east, frame.north);
        let (before, step) = match belief {
            None => {
                (Belief::first(at, 1e3, &GOING, receiver), Transition::over(0.0, &GOING, receiver))
            }
            Some(belief) => {
                let step = Transition::over(frames.step(k - 1), &motion(k - 1), receiver);
                (belief.predicted(&step), step)
            }
        };
        let white2 = receiver.white * receiver.white / (frame.count * frame.trust);
        let seen = gated(before.innovation(at, white2));
        belief = Some(before.updated(&seen));
        stages.push(Stage { belief: before, seen, step });
    }
    stages
}

/// Limits the innovation of an outlier to the gate.
fn gated(mut seen: Innovation) -> Innovation {
    let surprise = seen.chi_square();
    if surprise > GATE {
        seen.variance *= surprise / GATE;
    }
    seen
}

fn backward(stages: &[Stage]) -> Vec<Smoothed> {
    let mut smoothed = vec![Smoothed::default(); stages.len()];
    let mut adjoint = Adjoint::default();
    for (k, stage) in stages.iter().enumerate().rev() {
        adjoint = adjoint.through_fix(stage);
        smoothed[k] = adjoint.applied(&stage.belief);
        adjoint = adjoint.through_step(&stage.step);
    }
    smoothed
}

/// The adjoint of the later fixes: a vector for each axis and a matrix for both.
#[derive(Clone, Copy, Default)]
struct Adjoint {
    east: [f64; 3],
    north: [f64; 3],
    weight: Sym3,
}

impl Adjoint {
    /// From after a fix to before it.
    fn through_fix(&self, stage: &Stage) -> Self {
        let variance = stage.seen.variance;
        let gain = stage.belief.shown().map(|part| part / variance);
        // (I - K H)' u, where H shows position and error
        let back = |u: [f64; 3]| {
            let pull = gain[0] * u[0] + gain[1] * u[1] + gain[2] * u[2];
            [u[0] - pull, u[1], u[2] - pull]
        };
        let axis = |u: [f64; 3], surprise: f64| {
            let u = back(u);
            [u[0] - surprise / variance, u[1], u[2] - surprise / variance]
        };
        let w = &self.weight;
        let rows = [[w.xx, w.xv, w.xe], [w.xv, w.vv, w.ve], [w.xe, w.ve, w.ee]].map(back);
        let column = |j: usize| back([rows[0][j], rows[1][j], rows[2][j]]);
        let (x, v, e) = (column(0), column(1), column(2));
        let seen = 1.0 / variance;
        Self {
            east: axis(self.east, stage.seen.east),
            north: axis(self.north, stage.seen.north),
            weight: Sym3 {
                xx: x[0] + seen,
                xv: v[0],
                xe: e[0] + seen,
                vv: v[1],
                ve: e[1],
                ee: e[2] + seen,
            },
        }
    }

    /// From after an interval to before it.
    fn through_step(&self, step: &Transition) -> Self {
        let (g, a, b) = (step.reach, step.keep_velocity, step.keep_error);
        let back = |u: [f64; 3]| [u[0], g * u[0] + a * u[1], b * u[2]];
        let w = &self.weight;
        let mixed = g * w.xx + a * w.xv;
        Self {
            east: back(self.east),
            north: back(self.north),
            weight: Sym3 {
                xx: w.xx,
                xv: mixed,
                xe: b * w.xe,
                vv: g * mixed + a * (g * w.xv + a * w.vv),
                ve: b * (g * w.xe + a * w.ve),
                ee: b * b * w.ee,
            },
        }
    }

    /// The estimate from the state before the fix and everything later.
    fn applied(&self, belief: &Belief) -> Smoothed {
        let p = &belief.cov;
        let (east, north) = (p.times(self.east), p.times(self.north));
        let row = [p.xx, p.xv, p.xe];
        let weighed = self.weight.times(row);
        let taught = row[0] * weighed[0] + row[1] * weighed[1] + row[2] * weighed[2];
        Smoothed {
            east: belief.east[0] - east[0],
            north: belief.north[0] - north[0],
            east_speed: belief.east[1] - east[1],
            north_speed: belief.north[1] - north[1],
            variance: (p.xx - taught).max(0.01),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::frame::Frame;
    use super::*;

    /// Times, fixes, and what filterpy's smoother makes of them: position, velocity, variance.
    fn published() -> Vec<[f64; 5]> {
        let table = include_str!("../../tests/reference/data/smoother.csv");
        let rows = table.lines().filter(|line| !line.starts_with('#')).skip(1);
        rows.map(|row| {
            let numbers: Vec<f64> = row.split(',').map(|part| part.parse().unwrap()).collect();
            numbers.try_into().unwrap()
        })
        .collect()
    }

    #[test]
    fn smoother_agrees_with_a_general_library() {
        let rows = published();
        let all = rows
            .iter()
            .map(|row| Frame { time: row[0], east: row[1], north: -row[1], count: 1.0, trust: 1.0 })
            .collect();
        let frames = Frames { all, gap: 1e9, span: 1.0 };
        let receiver = Receiver { sigma: 7.0, tau: 120.0, white: 0.8 };
        let smoothed = backward(&forward(&frames, &receiver, |_| GOING));
        assert_eq!(rows.len(), 16);
        for (row, state) in rows.iter().zip(&smoothed) {
            // both work in double precision from a spread of a kilometre
            assert!((state.east - row[2]).abs() < 1e-5, "{} against {}", state.east, row[2]);
            assert!((state.north + row[2]).abs() < 1e-5);
            assert!((state.east_speed - row[3]).abs() < 1e-6);
            assert!(
                (state.variance - row[4]).abs() < 1e-4,
                "{} against {}",
                state.variance,
                row[4]
            );
        }
    }
}
