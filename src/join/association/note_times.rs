//! Computes how well written times match the stops of a track, against the times of somebody who was elsewhere:
//! notes are mostly written at stops. Layer: `join`.

use crate::model::{Photo, Record};

use super::super::activity::Activities;
use super::super::written;
use super::TrackView;
use super::fit;

/// The share of notes that are written at the stop or right after it (common practice).
const AT_STOPS: f64 = 0.85;
/// Notes nearer to each other than this are of one stop, seconds.
const ONE_STOP: f64 = 75.0;
/// From the note back to the find, and on, seconds.
const BACK: f64 = 30.0;
const ON: f64 = 15.0;
/// Between two places at which the activity is looked up, seconds.
const STEP: f64 = 5.0;
/// Beyond the track a note counts this much of one at any time of it.
const BEYOND: f64 = 0.5;
/// How far a watch is off and how often (common practice), whole hours included, seconds.
const WATCH: [(f64, f64); 11] = [
    (0.0, 0.42),
    (-30.0, 0.12),
    (30.0, 0.12),
    (-60.0, 0.09),
    (60.0, 0.09),
    (-120.0, 0.05),
    (120.0, 0.05),
    (-7_200.0, 0.015),
    (-3_600.0, 0.015),
    (3_600.0, 0.015),
    (7_200.0, 0.015),
];
/// More notes than this add no information.
const ENOUGH: usize = 60;

/// The log Bayes factor of the written times of records that name none of these photographs, whose times
/// count already, before it is weighted and bounded; and how many stops' worth of notes there are.
pub(super) fn in_stops(
    records: &[&Record],
    sessions: &[&[Photo]],
    track: &TrackView,
) -> (f64, usize) {
    let pictured = |record: &Record| {
        let mut photos = sessions.iter().flat_map(|session| session.iter());
        photos.any(|photo| record.photos.iter().any(|named| written::names(named, &photo.name())))
    };
    let mut notes: Vec<(f64, f64)> = records
        .iter()
        .filter(|record| record.time.is_some() && !pictured(record))
        .filter_map(|record| fit::read(record, track))
        .map(|read| (track.estimated_track.origin.seconds(read.instant), read.step.0))
        .collect();
    notes.sort_by(|a, b| a.0.total_cmp(&b.0));
    notes.dedup_by(|later, kept| later.0 - kept.0 < ONE_STOP);
    notes.truncate(ENOUGH);
    let Some(course) = Course::of(&track.estimated_track.activities) else { return (0.0, 0) };
    let of_watch = |ahead: f64| notes.iter().map(|note| course.log(note.0 - ahead, note.1)).sum();
    let all = WATCH.iter().map(|&(ahead, share): &(f64, f64)| {
        let log: f64 = of_watch(ahead);
        share.ln() + log
    });
    let log = all.fold(f64::NEG_INFINITY, fit::sum_of_logs);
    if notes.is_empty() { (0.0, 0) } else { (log, notes.len()) }
}

/// The probability of being stationary, second by second, and its mean.
struct Course {
    from: f64,
    seconds: Vec<f32>,
    usual: f64,
}

impl Course {
    fn of(activities: &Activities) -> Option<Self> {
        let seconds = activities.course.seconds();
        let known = seconds.iter().filter(|p| !p.is_nan());
        let (count, sum) =
            known.fold((0_usize, 0.0), |(count, sum), p| (count + 1, sum + f64::from(*p)));
        let usual = (sum / count.max(1) as f64).max(0.02);
        (count > 0).then_some(Self { from: activities.course.from, seconds, usual })
    }

    /// The log ratio of a note at this time by somebody on this track to one at any time.
    fn log(&self, time: f64, step: f64) -> f64 {
        // a written minute was cut off or rounded
        let (from, to) = if step <= 1.0 {
            (time - BACK, time + ON)
        } else {
            (time - step / 2.0 - BACK, time + step)
        };
        let (mut sum, mut count, mut at) = (0.0, 0.0, from);
        while at <= to {
            sum += self.at(at);
            count += 1.0;
            at += STEP.max((to - from) / 200.0);
        }
        (AT_STOPS * sum / count / self.usual + 1.0 - AT_STOPS).ln()
    }

    fn at(&self, time: f64) -> f64 {
        let second = (time - self.from).floor();
        if second < 0.0 || second >= self.seconds.len() as f64 {
            return BEYOND * self.usual;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "in range")]
        let p = self.seconds[second as usize];
        if p.is_nan() { self.usual } else { f64::from(p) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stops of two minutes each ten minutes.
    fn course() -> Course {
        let seconds: Vec<f32> =
            (0..7_200).map(|k| if k % 600 < 120 { 0.97 } else { 0.02 }).collect();
        let usual = seconds.iter().map(|p| f64::from(*p)).sum::<f64>() / 7_200.0;
        Course { from: 0.0, seconds, usual }
    }

    #[test]
    fn notes_at_stops_support_and_notes_between_them_oppose() {
        let course = course();
        assert!(course.log(680.0, 1.0) > 1.0);
        assert!(course.log(960.0, 1.0) < -1.4);
        // a minute is less precise than a second
        assert!(course.log(660.0, 60.0) < course.log(660.0, 1.0));
        // beyond the track a note says little
        assert!(course.log(90_000.0, 60.0).abs() < 0.7);
    }
}
