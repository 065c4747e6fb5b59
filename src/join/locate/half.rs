//! Estimates the state at a time from the fixes on one side of it. Every plausible start of a stop is
//! evaluated with its likelihood, and so is walking through without a stop. Outside that stop, movement
//! follows the estimated activities: an adjacent stop is a separate stop. Layer: `join`.

use super::super::frame::Frame;
use super::super::kalman::{Belief, Motion, Receiver, Transition};
use super::super::smooth::{GATE, GOING, STANDING, mixed};
use super::gap::Edge;
use super::position_posterior::TrackModel;

/// Fixes before a stop that still bear on it, seconds.
const APPROACH: f64 = 150.0;
/// A stop lasts so long on average, seconds.
const STOP_LASTS: f64 = 110.0;
/// The longest stop that is looked for, seconds.
const LONGEST: f64 = 1_500.0;
/// So many seconds of certain walking end the search for a stop's end.
const SURELY_GOING: f64 = 45.0;
/// A step longer than this may hold a whole stop, so its activity is left open, seconds.
const OPEN_STEP: f64 = 25.0;

/// A state at the asked time from the fixes on one side, with its log weight.
pub(super) type Side = Vec<(f64, Belief)>;

/// The fixes on one side of a time, reported from far to near.
pub(super) struct Half {
    receiver: Receiver,
    /// Seconds before the asked time (negative) and the frame about the centre, in order.
    frames: Vec<(f64, Frame)>,
    /// For each frame how people move on the step to it, unless the stop that is tried holds it.
    motions: Vec<Motion>,
    /// A stop must reach at least this far from the asked time, seconds.
    least: f64,
}

impl Half {
    pub(super) fn new<'f>(
        track_model: TrackModel,
        near_first: impl Iterator<Item = &'f Frame>,
        centre: (f64, f64),
        asked: f64,
        through: f64,
    ) -> Self {
        let least = (through - asked).abs();
        let (mut frames, mut motions) = (Vec::new(), Vec::new());
        let mut going = 0.0;
        let mut last = 0.0;
        let mut left = f64::INFINITY;
        for frame in near_first {
            let away = (frame.time - asked).abs();
            if away > left && frames.len() > 1 {
                break;
            }
            let odds = track_model.activities.stationary(frame.time).unwrap_or(0.5);
            if away > least {
                going += (1.0 - odds) * (away - last);
            }
            if (going > SURELY_GOING || away > LONGEST) && left.is_infinite() {
                left = away + APPROACH;
            }
            last = away;
            let frame =
                Frame { east: frame.east - centre.0, north: frame.north - centre.1, ..*frame };
            frames.push((-away, frame));
            motions.push(mixed(odds, 0.0));
        }
        frames.reverse();
        motions.reverse();
        Self { receiver: track_model.receiver.receiver, frames, motions, least }
    }

    fn white2(&self, frame: &Frame) -> f64 {
        self.receiver.white.powi(2) / (frame.count * frame.trust)
    }

    /// How people move on the step to frame `k`, unless the stop that is tried holds it.
    fn motion(&self, k: usize, dt: f64) -> &Motion {
        if dt > OPEN_STEP { &GOING } else { &self.motions[k] }
    }

    /// The state at each frame while walking, with the log likelihood so far.
    fn gone(&self) -> Vec<(f64, Belief)> {
        let mut beliefs: Vec<(f64, Belief)> = Vec::with_capacity(self.frames.len());
        for (k, (time, frame)) in self.frames.iter().enumerate() {
            let (log, before) = match beliefs.last() {
                None => (0.0, start(frame, &self.receiver)),
                Some((log, belief)) => {
                    let dt = time - self.frames[k - 1].0;
                    (*log, belief.predicted(&self.transition(dt, self.motion(k, dt))))
                }
            };
            beliefs.push(self.update(log, &before, frame));
        }
        beliefs
    }

    fn transition(&self, dt: f64, motion: &Motion) -> Transition {
        Transition::over(dt, motion, &self.receiver)
    }

    fn update(&self, log: f64, before: &Belief, frame: &Frame) -> (f64, Belief) {
        let white2 = self.white2(frame);
        let mut before = *before;
        let mut seen = before.innovation((frame.east, frame.north), white2);
        let surprise = seen.chi_square() / GATE;
        if surprise > 1.0 {
            // the error has jumped, and stays; what no jump explains is a stray fix
            let unexplained = seen.variance * (surprise - 1.0);
            let leap = unexplained.min(self.receiver.sigma.powi(2));
            before.cov.ee += leap;
            seen = before.innovation((frame.east, frame.north), white2 + unexplained - leap);
        }
        (log + seen.log_density(), before.updated(&seen))
    }

    /// What is known at the frame nearest to the asked time; what was done lasted so long beyond it.
    pub(super) fn edge(&self, frame: Option<usize>, lasted: f64) -> Option<Edge> {
        let (frame, (_, belief)) = (frame?, *self.gone().last()?);
        let away = -self.frames[self.frames.len() - 1].0 - lasted;
        Some(Edge { away, belief, frame })
    }

    /// Walking up to the asked time.
    pub(super) fn went(&self) -> Side {
        let Some(&(log, belief)) = self.gone().last() else { return Vec::new() };
        let dt = -self.frames[self.frames.len() - 1].0;
        vec![(log, belief.predicted(&self.transition(dt, &GOING)))]
    }

    /// Arriving at a stop at each of many times, and stationary from then on.
    pub(super) fn stopped(&self) -> Side {
        let gone = self.gone();
        let Some(last) = self.frames.len().checked_sub(1) else { return Vec::new() };
        let mut side: Side = Vec::new();
        let mut total = 0.0;
        let mut away = self.least;
        let mut k = last;
        let oldest = -self.frames[0].0;
        loop {
            let width = (0.08 * away).clamp(2.5, 30.0);
            // the frame before this time; the oldest hypothesis is stationary since the first
            while k > 0 && -self.frames[k].0 < away {
                k -= 1;
            }
            let prior = width * (-away / STOP_LASTS).exp();
            total += prior;
            side.push(self.stop_from(&gone, k, away, prior.ln()));
            away += width;
            if away > oldest + width || away > LONGEST || self.ended(away) {
                break;
            }
        }
        for (log, _) in &mut side {
            *log -= total.ln();
        }
        side
    }

    /// Whether a stop of this length would contain much certain walking.
    fn ended(&self, away: f64) -> bool {
        let oldest = -self.frames[0].0;
        oldest > APPROACH && away > oldest - APPROACH + 30.0 && away > self.least + 60.0
    }

    /// Walking up to `away` seconds from the asked time, after frame `k`, and stationary then.
    fn stop_from(&self, gone: &[(f64, Belief)], k: usize, away: f64, prior: f64) -> (f64, Belief) {
        let (mut log, mut belief) = gone[k];
        let mut now = self.frames[k].0;
        if -away > now {
            let dt = -away - now;
            belief = belief.predicted(&self.transition(dt, &GOING));
            now = -away;
        }
        belief = at_rest(&belief);
        let since = now;
        for (time, frame) in self.frames[k + 1..].iter().filter(|(time, _)| *time > since) {
            let before = belief.predicted(&self.transition(time - now, &STANDING));
            (log, belief) = self.update(log, &before, frame);
            now = *time;
        }
        (log + prior, belief.predicted(&self.transition(-now, &STANDING)))
    }
}

fn start(frame: &Frame, receiver: &Receiver) -> Belief {
    Belief::first((frame.east, frame.north), 1e3, &GOING, receiver)
}

/// The velocity gone, all else kept.
fn at_rest(belief: &Belief) -> Belief {
    let mut rest = *belief;
    rest.east[1] = 0.0;
    rest.north[1] = 0.0;
    rest.cov.vv = STANDING.speed * STANDING.speed;
    rest.cov.xv = 0.0;
    rest.cov.ve = 0.0;
    rest
}
