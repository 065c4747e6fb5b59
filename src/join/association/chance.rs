//! Weighs how badly photographs and notes match the stops of the only track of a day: against their match with
//! made-up walks that have the same stops in another order, as another person's would. Layer: `join`.

use super::super::activity::Activities;
use super::fit::{self, Fit};
use super::{Material, TrackView};

/// Made-up walks to compare with.
const WALKS: usize = 12;
/// What matches better than this share of them is not another person's for its stops alone.
const BETTER: f64 = 0.5;
/// A log Bayes factor above this is no reason to compare.
const DOUBTFUL: f64 = -2.0;
/// Fewer groups or notes cannot tell; nor can a track without this share of time at stops (common practice).
const FEWEST: usize = 4;
const AT_STOPS: f64 = 0.06;
/// Where the match is better than by chance, log Bayes factors down to this speak for a receiver with large errors,
/// which shows stops where there were none: of photographs (on simulated days of `tests/position` one in twelve
/// has one down to -12 for its own track), and of notes (assumption: their windows of minutes give smaller ones).
pub(super) const OF_PHOTOGRAPHS: f64 = -14.0;
pub(super) const OF_NOTES: f64 = -6.0;

/// The stops of a track in another order.
pub(super) struct MadeUp(Vec<Activities>);

impl MadeUp {
    pub(super) fn of(track: &TrackView) -> Self {
        let activities = &track.estimated_track.activities;
        let length = activities.course.len();
        let walk = |k: usize| {
            let course = activities.course.made_up(length * (2 * k + 1) / (2 * WALKS), true);
            Activities { course, ..activities.clone() }
        };
        Self((0..WALKS).map(walk).collect())
    }

    /// The share of them with a smaller log Bayes factor than the track.
    fn share_below(&self, log: f64, of: &dyn Fn(&Activities) -> f64) -> f64 {
        let below = self.0.iter().filter(|walk| of(walk) < log).count();
        below as f64 / self.0.len().max(1) as f64
    }
}

/// Whether the stops of a track can tell its walk from another.
fn tells(track: &TrackView, count: usize) -> bool {
    let course = &track.estimated_track.activities.course;
    let stopped: f64 = course.seconds().iter().filter(|p| !p.is_nan()).map(|p| f64::from(*p)).sum();
    count >= FEWEST && stopped >= AT_STOPS * course.len() as f64
}

/// The weighted log Bayes factor of a log Bayes factor of stops, where there is no other track.
pub(super) fn weighted_alone(
    track: &TrackView,
    (log, count, receiver): (f64, usize, f64),
    of: &dyn Fn(&Activities) -> f64,
) -> f64 {
    if log > DOUBTFUL {
        return fit::weighted(log);
    }
    let least = fit::weighted(DOUBTFUL);
    if !tells(track, count) {
        return least;
    }
    let better = MadeUp::of(track).share_below(log, of) > BETTER;
    let spared = least + fit::weighted((log - receiver).min(0.0));
    if better { fit::weighted(log).max(spared) } else { fit::weighted(log) }
}

/// The same of a session of photographs.
pub(super) fn photographs(
    session: &[crate::model::Photo],
    material: &Material,
    track: &TrackView,
    found: &Fit,
) -> f64 {
    let of =
        |walk: &Activities| fit::on_walk(session, &material.records, track, (walk, found.days));
    weighted_alone(track, (found.log, found.groups, OF_PHOTOGRAPHS), &of)
}
