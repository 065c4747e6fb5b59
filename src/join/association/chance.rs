//! Weighs how badly photographs and notes match the stops of the only track of a day: notes also against their
//! match with made-up walks that have the same stops in another order, as another person's would. Layer: `join`.

use super::super::activity::Activities;
use super::TrackView;
use super::fit;

/// Made-up walks to compare with.
const WALKS: usize = 12;
/// What matches better than this share of them is not another person's for its stops alone (project choice: three of
/// twelve may match as well by chance).
const BETTER: f64 = 0.7;
/// A log Bayes factor above this is no reason to compare.
pub(super) const DOUBTFUL: f64 = -1.0;
/// Fewer notes cannot tell; nor can a track without this share of time at stops (common practice).
const FEWEST: usize = 6;
const AT_STOPS: f64 = 0.06;
/// From so many notes on, a log Bayes factor below this counts as this factor at most, unless they avoid the stops by
/// this log Bayes factor, as those of people who write on the way do. Measured with 8 to 40 notes on simulated days of
/// six receivers: own notes at stops have 1.0 or more on 66 days (but less than -2 on a day of another seed), those of
/// another person's walk -2 or less on 73 of 84; own notes on the way avoid the stops by 0.56 or more on 12 days, those
/// of another person by less than 0.5 on 35 of 36.
const TELLING: usize = 8;
const CLEAR: f64 = -2.0;
const AGAINST: f64 = 0.05;
const AVOIDING: f64 = 0.5;
/// Log Bayes factors down to this speak for a receiver with large errors, which shows stops where there were none:
/// of photographs (on simulated days of `tests/position` one in twelve has one down to -12 for its own track), and
/// of notes that match better than by chance (assumption: their windows of minutes give smaller ones).
const OF_PHOTOGRAPHS: f64 = -14.0;
const OF_NOTES: f64 = -6.0;

/// The stops of a track in another order.
struct MadeUp(Vec<Activities>);

impl MadeUp {
    fn of(track: &TrackView) -> Self {
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

/// The weighted log Bayes factor of photographs at stops, where there is no other track.
pub(super) fn photographs(log: f64) -> f64 {
    spared(log, OF_PHOTOGRAPHS)
}

/// Notes as they match a track.
#[derive(Clone, Copy, Debug)]
pub(super) struct Notes {
    /// The log Bayes factor at its stops, and between them.
    pub(super) log: f64,
    pub(super) avoiding: f64,
    pub(super) count: usize,
    /// Whether they are of all records, not only of those without photographs, whose stops would tell more.
    pub(super) are_all: bool,
}

impl Notes {
    /// Whether they match the stops clearly worse than notes at any time do, without avoiding them.
    fn oppose(&self) -> bool {
        self.are_all && self.count >= TELLING && self.log < CLEAR && self.avoiding < AVOIDING
    }
}

/// The same of notes; `of` gives the log Bayes factor of them on a made-up walk.
pub(super) fn notes(track: &TrackView, notes: Notes, of: &dyn Fn(&Activities) -> f64) -> f64 {
    if notes.log > DOUBTFUL {
        return fit::weighted(notes.log);
    }
    if !tells(track, notes.count) {
        return fit::weighted(DOUBTFUL);
    }
    let share = MadeUp::of(track).share_below(notes.log, of);
    let log = if share > BETTER { spared(notes.log, OF_NOTES) } else { fit::weighted(notes.log) };
    // a receiver with large errors shows few of the true stops, yet these rather than others
    if notes.oppose() && share < 1.0 { log.min(AGAINST.ln()) } else { log }
}

/// Weighted, where factors down to that of a receiver with large errors are no reason to refuse.
fn spared(log: f64, receiver: f64) -> f64 {
    let least = fit::weighted(DOUBTFUL) + fit::weighted((log - receiver).min(0.0));
    fit::weighted(log).max(least)
}
