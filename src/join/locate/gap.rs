//! Estimates the collector's position where there are no fixes, in a gap or beyond the ends of the track:
//! around the straight line between the fixes on both sides, in proportion to time, or around the
//! extrapolated heading, with a spread estimated from the day's own track. Layer: `join`.

use super::super::kalman::Belief;
use super::circle::Circle;
use super::detour::{self, Scale};
use super::position_posterior::TrackModel;

/// Deviations of one scale have heavier tails than normal ones: one standard deviation of the
/// logarithm of the size from one gap to the next (published walks).
const UNEVEN_GAPS: f64 = 0.3;
/// Three-point Gauss-Hermite rule.
const NODES: [(f64, f64); 3] = [(-1.732, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732, 1.0 / 6.0)];

/// What the fixes on one side say of the frame nearest to the gap.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    /// Seconds from that frame to the asked time.
    pub(super) away: f64,
    pub(super) belief: Belief,
    /// Its index among the frames.
    pub(super) frame: usize,
}

/// A component, and the part of its variance that is due to movement without fixes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Unseen {
    pub(super) circle: Circle,
    pub(super) travelled: f64,
}

/// The estimate in a gap or beyond an end of the track, and its weight.
pub(super) fn answer(track_model: TrackModel, edges: [Option<Edge>; 2]) -> (f64, Vec<Unseen>) {
    match edges {
        // the interval extends into the fixes
        [_, Some(after)] if after.away <= 0.0 => (0.0, Vec::new()),
        [Some(before), Some(after)] => match share_between(before.away + after.away) {
            share if share > 0.0 => (share, between(track_model, &before, &after)),
            _ => (0.0, Vec::new()),
        },
        [Some(edge), None] | [None, Some(edge)] => match share_beyond(edge.away) {
            share if share > 0.0 => (share, beyond(track_model, &edge, edges[0].is_some())),
            _ => (0.0, Vec::new()),
        },
        [None, None] => (0.0, Vec::new()),
    }
}

/// The weight of the gap model for this many seconds without fixes. Over shorter gaps the stop model is
/// more accurate.
fn share_between(unseen: f64) -> f64 {
    rising(unseen, (60.0, 150.0))
}

/// How much of it so long before the first fix or after the last.
fn share_beyond(away: f64) -> f64 {
    rising(away, (10.0, 60.0))
}

fn rising(seconds: f64, (from, wholly): (f64, f64)) -> f64 {
    ((seconds - from) / (wholly - from)).clamp(0.0, 1.0)
}

/// Between two edges.
fn between(track_model: TrackModel, before: &Edge, after: &Edge) -> Vec<Unseen> {
    let lasts = before.away + after.away;
    let part = before.away / lasts;
    let (from, to) = (place(&before.belief), place(&after.belief));
    let chord = (to.0 - from.0).hypot(to.1 - from.1);
    let pace = track_model.pace;
    let scale =
        detour::scale_between(track_model.frames, &track_model.receiver.receiver, lasts, pace);
    let size = detour::between(lasts, part, chord, pace);
    let known = (1.0 - part) * before.belief.cov.xx + part * after.belief.cov.xx;
    let at = (from.0 + part * (to.0 - from.0), from.1 + part * (to.1 - from.1));
    spread(at, known, size, scale)
}

/// Beyond the first or the last fix.
fn beyond(track_model: TrackModel, edge: &Edge, is_end: bool) -> Vec<Unseen> {
    let pace = track_model.pace;
    let scale = detour::scale_beyond(track_model.frames, edge.away, pace);
    let on = detour::kept(edge.away) * edge.away;
    let (east, north) = detour::heading(track_model.frames, edge.frame, is_end).unwrap_or_default();
    let from = place(&edge.belief);
    let at = (from.0 + on * east, from.1 + on * north);
    spread(at, edge.belief.cov.xx, pace * edge.away, scale)
}

fn place(belief: &Belief) -> (f64, f64) {
    (belief.east[0], belief.north[0])
}

/// Circles about a place: the size of the deviation is uncertain and differs from gap to gap.
fn spread(at: (f64, f64), known: f64, size: f64, scale: Scale) -> Vec<Unseen> {
    let doubt = (scale.variance + UNEVEN_GAPS.powi(2)).sqrt();
    let circle = |(node, weight): (f64, f64)| {
        let travelled = (size * (scale.log + node * doubt).exp()).powi(2);
        let circle = Circle { weight, east: at.0, north: at.1, variance: known + travelled };
        Unseen { circle, travelled }
    };
    NODES.map(circle).to_vec()
}
