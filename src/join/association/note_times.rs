//! Computes how well written times match the stops of a track, against the times of somebody who was elsewhere:
//! notes are mostly written at stops. Layer: `join`.

use crate::model::{Photo, Record};

use super::super::notebook_clock::{Habit, NoteCourse, watch_prior};
use super::super::written;
use super::TrackView;
use super::fit::{self, sum_of_logs};

/// Notes nearer to each other than this are of one stop, seconds.
pub(super) const ONE_STOP: f64 = 75.0;
/// How far a notebook is off for its zone, and how often (common practice), seconds; and how often it is kept
/// in UTC.
const ZONES: [(f64, f64); 5] =
    [(0.0, 0.92), (-7_200.0, 0.015), (-3_600.0, 0.015), (3_600.0, 0.015), (7_200.0, 0.015)];
const IN_UTC: f64 = 0.02;
/// Notes after so long a pause, farther from the ends of the track than this, are of another outing of the day,
/// whose track is missing, where these are left; seconds.
const PAUSE: f64 = 3_600.0;
const FAR: f64 = 2_700.0;
const LEFT: usize = 4;
/// More notes than this add no information.
const ENOUGH: usize = 60;

/// The written times of records that name none of these photographs, whose times count already: seconds since
/// the track's origin, and the step of the written figures.
pub(super) fn of(records: &[&Record], sessions: &[&[Photo]], track: &TrackView) -> Vec<(f64, f64)> {
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
    let end = track.estimated_track.origin.seconds(track.span.1);
    let start = track.estimated_track.origin.seconds(track.span.0);
    let mut notes = of_this_outing(notes, (start, end));
    notes.truncate(ENOUGH);
    notes
}

/// The notes without those of another outing of the day.
fn of_this_outing(notes: Vec<(f64, f64)>, (start, end): (f64, f64)) -> Vec<(f64, f64)> {
    let is_far = |note: &(f64, f64)| note.0 < start - FAR || note.0 > end + FAR;
    let outings = notes.chunk_by(|a, b| b.0 - a.0 <= PAUSE);
    let own: Vec<(f64, f64)> =
        outings.filter(|outing| !outing.iter().all(is_far)).flatten().copied().collect();
    if own.len() >= LEFT { own } else { notes }
}

/// The log Bayes factor of these notes on a course in a zone so far from UTC, against notes at any time of it,
/// before it is weighted and bounded.
pub(super) fn log(notes: &[(f64, f64)], zone: f64, course: &NoteCourse, habit: Habit) -> f64 {
    let at = |ahead: f64| course.log_of(habit, notes, ahead);
    let watch = watch_prior();
    let of_zone = |&(zone, share): &(f64, f64)| {
        let further = watch.iter().map(|&(further, log)| log + at(zone + further));
        share.ln() + further.fold(f64::NEG_INFINITY, sum_of_logs)
    };
    let utc = (-zone, IN_UTC);
    let zones = ZONES.iter().chain(std::iter::once(&utc));
    zones.map(of_zone).fold(f64::NEG_INFINITY, sum_of_logs)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_of_another_outing_of_the_day_are_left_out() {
        let at = |from: f64, count: u32| -> Vec<(f64, f64)> {
            (0..count).map(|k| (from + 400.0 * f64::from(k), 60.0)).collect()
        };
        let span = (14_400.0, 19_000.0);
        let both = [at(600.0, 10), at(15_000.0, 9)].concat();
        assert_eq!(of_this_outing(both, span), at(15_000.0, 9));
        // a track that begins late, and one that all notes but a few are beyond
        let late = at(9_000.0, 25);
        assert_eq!(of_this_outing(late.clone(), span), late);
        let few = [at(600.0, 10), at(15_000.0, 3)].concat();
        assert_eq!(of_this_outing(few.clone(), span), few);
    }

    #[test]
    fn notes_at_stops_support_and_notes_between_them_oppose() {
        // stops of two minutes, at unequal distances
        let starts: Vec<f64> =
            (0..14).map(|k| 400.0 + 900.0 * f64::from(k) + f64::from(k * k * 37 % 410)).collect();
        let stopped = |second: f64| starts.iter().any(|at| (0.0..120.0).contains(&(second - at)));
        let seconds: Vec<f32> =
            (0..14_400).map(|k| if stopped(f64::from(k)) { 0.97 } else { 0.02 }).collect();
        let course = NoteCourse::of_seconds(0.0, &seconds);
        let notes = |after: f64| -> Vec<(f64, f64)> {
            starts.iter().map(|start| (start + after, 60.0)).collect()
        };
        let in_stops = |notes: &[(f64, f64)]| log(notes, 0.0, &course, Habit::AtStops);
        assert!(in_stops(&notes(80.0)) > 8.0);
        let reversed: Vec<(f64, f64)> =
            notes(80.0).iter().map(|note| (14_400.0 - note.0, note.1)).collect();
        assert!(in_stops(&reversed) < 0.0);
        assert!(in_stops(&[(90_000.0, 60.0)]) < 0.0);
        // by a right watch; one that is off brings them all to stops
        let between: Vec<(f64, f64)> = starts.iter().map(|start| (start + 450.0, 60.0)).collect();
        let by = |habit| course.log_of(habit, &between, 0.0);
        assert!(by(Habit::OnTheWay) > by(Habit::AtStops));
    }
}
