//! Corrects GPS week number rollover: dates that are 1,024 weeks early, possibly only in part of a file.
//! Fixes are moved only where none of them lies on a recorded date of the day's photographs or records, and
//! moving them either matches such a date or makes them continue the adjacent fixes of the file. Layer:
//! `join`.

use std::collections::BTreeSet;
use std::ops::RangeInclusive;

use jiff::civil::Date;

use crate::earth::local;
use crate::error::Error;
use crate::model::{Fix, MovedDates, RolloverBasis, SourceFile, TrackTimesNote};
use crate::units::{ClockOffset, LatLon, Seconds, TimeZone, Timestamp};

use super::outings::{PAUSE, Piece};

/// 1,024 weeks (IS-GPS-200: the week number has ten bits), days.
const ROLLOVER: i64 = 7_168;
/// Fixes of one file that lie so far apart need not share a fault, days.
const SEASON: i64 = 180;
/// Fixes moved by the right number of weeks go on where their neighbours are, seconds.
const SEAM: f64 = 3_600.0;
/// And within driving distance for that time, with this margin for errors, metres.
const SLACK: f64 = 1_000.0;
/// Metres a second.
const DRIVING_LIMIT: f64 = 45.0;

/// Days of UTC since 1970.
type Day = i64;

/// Days between which a file's fixes are early, by how many times the weeks, and what says so.
struct Early {
    days: RangeInclusive<Day>,
    times: i64,
    basis: RolloverBasis,
}

/// The pieces with corrected dates, and a note for each file that needed it.
pub(super) fn corrected(
    mut pieces: Vec<Piece>,
    files: &[SourceFile],
    dates: &[Date],
) -> (Vec<Piece>, Vec<Error>) {
    let dates: BTreeSet<Day> =
        dates.iter().map(|date| day(ClockOffset::as_if_utc(date.at(0, 0, 0, 0)))).collect();
    let mut notes = Vec::new();
    // the pieces of a file follow each other
    for own in pieces.chunk_by_mut(|a, b| a.file == b.file) {
        for early in early(own, &dates) {
            notes.extend(moved(own, &early, files));
        }
    }
    (pieces, notes)
}

/// The intervals of a file with early dates.
fn early(pieces: &[Piece], dates: &BTreeSet<Day>) -> Vec<Early> {
    let judge = |interval: Vec<Day>| -> Option<Early> {
        let days = *interval.first()?..=*interval.last()?;
        let lands = |times: i64| interval.iter().any(|day| lands_on(day + times * ROLLOVER, dates));
        if lands(0) {
            return None;
        }
        let by_inputs = (1..=2).find(|&times| lands(times)).map(|n| (n, RolloverBasis::Inputs));
        let by_neighbours = || {
            (1..=2)
                .find(|&times| joins(pieces, &days, times))
                .map(|n| (n, RolloverBasis::Neighbours))
        };
        let (times, basis) = by_inputs.or_else(by_neighbours)?;
        Some(Early { days, times, basis })
    };
    intervals(pieces).into_iter().filter_map(judge).collect()
}

/// The days of a file's fixes, divided at gaps of a season.
fn intervals(pieces: &[Piece]) -> Vec<Vec<Day>> {
    let mut days = BTreeSet::new();
    let mut last = None;
    for time in pieces.iter().flat_map(|piece| &piece.fixes).filter_map(|fix| fix.time) {
        let day = day(time);
        if last != Some(day) {
            days.insert(day);
            last = Some(day);
        }
    }
    let days: Vec<Day> = days.into_iter().collect();
    days.chunk_by(|a, b| b - a <= SEASON).map(<[Day]>::to_vec).collect()
}

/// Whether some of these days' fixes, once moved, continue or precede the adjacent fix; the receiver
/// may have been off for longer where a new segment begins.
fn joins(pieces: &[Piece], days: &RangeInclusive<Day>, times: i64) -> bool {
    let all = pieces.iter().enumerate().flat_map(|(number, piece)| {
        piece.fixes.iter().filter_map(move |fix| Some((number, fix.at, fix.time?)))
    });
    let mut before: Option<(usize, LatLon, Timestamp)> = None;
    for (number, at, time) in all {
        let Some((segment, from, earlier)) = before.replace((number, at, time)) else { continue };
        let between = match [earlier, time].map(|time| days.contains(&day(time))) {
            [true, false] => Seconds::between(later(earlier, times), time).0,
            [false, true] => Seconds::between(earlier, later(time, times)).0,
            _ => continue,
        };
        let longest = if segment == number { SEAM } else { PAUSE };
        if (0.0..=longest).contains(&between) && within_reach(from, at, between) {
            return true;
        }
    }
    false
}

fn within_reach(from: LatLon, to: LatLon, seconds: f64) -> bool {
    local::distance(from, to).0 <= SLACK + DRIVING_LIMIT * seconds
}

/// Corrects early dates and returns a note.
fn moved(pieces: &mut [Piece], early: &Early, files: &[SourceFile]) -> Option<Error> {
    let file = files.get(pieces.first()?.file)?;
    let timed = pieces.iter().flat_map(|piece| &piece.fixes).filter(|fix| fix.time.is_some());
    let all = timed.count();
    let (mut count, mut landed) = (0_usize, None);
    let is_early = |fix: &Fix| fix.time.is_some_and(|time| early.days.contains(&day(time)));
    for fix in pieces.iter_mut().flat_map(|piece| &mut piece.fixes).filter(|fix| is_early(fix)) {
        count += 1;
        landed = landed.or(fix.time);
        fix.time = fix.time.map(|time| later(time, early.times));
    }
    let date = |time: Timestamp| time.to_zoned_datetime(TimeZone::UTC).date();
    let (from, to) = (date(landed?), date(later(landed?, early.times)));
    let note = TrackTimesNote::DatesMoved(MovedDates {
        file_name: file.name(),
        moved: count,
        fixes: all,
        from,
        to,
        weeks: 1_024 * early.times,
        basis: early.basis,
    });
    Some(Error::from(note).in_file(&file.path))
}

#[allow(clippy::cast_precision_loss, reason = "once or twice 7,168")]
fn later(time: Timestamp, times: i64) -> Timestamp {
    Seconds((times * ROLLOVER * 86_400) as f64).after(time)
}

fn day(time: Timestamp) -> Day {
    time.as_second().div_euclid(86_400)
}

/// Whether a day is one of these, a day either way for the zone.
fn lands_on(day: Day, dates: &BTreeSet<Day>) -> bool {
    dates.range(day - 1..=day + 1).next().is_some()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::FileKind;

    const START: &str = "2026-05-11T23:05:00Z";

    /// A file's fixes, a fix every 5 s, those between two numbers 1,024 weeks early.
    fn piece(count: u32, early: std::ops::Range<u32>) -> Piece {
        let fix = |k: u32| {
            let start: Timestamp = START.parse().unwrap();
            let weeks = if early.contains(&k) { -1 } else { 0 };
            let time = later(Seconds(f64::from(k) * 5.0).after(start), weeks);
            Fix::bare(LatLon::clamped(-42.6, 146.1), Some(time))
        };
        Piece { file: 0, fixes: (0..count).map(fix).collect() }
    }

    fn reported(pieces: Vec<Piece>, dates: &[Date]) -> (Vec<Fix>, Vec<String>) {
        let path = std::path::PathBuf::from("d/walk.gpx");
        let file = SourceFile { path, kind: FileKind::Gpx, bytes: 1, hash: "walk".into() };
        let (pieces, notes) = corrected(pieces, &[file], dates);
        let fixes = pieces.into_iter().flat_map(|piece| piece.fixes).collect();
        (fixes, notes.iter().map(ToString::to_string).collect())
    }

    fn of_the_day() -> Vec<Date> {
        vec![jiff::civil::date(2026, 5, 12)]
    }

    #[test]
    fn only_early_fixes_are_moved() {
        let right = piece(500, 0..0).fixes;
        for early in [0..30, 200..230, 470..500, 0..500] {
            let (fixes, notes) = reported(vec![piece(500, early.clone())], &of_the_day());
            assert_eq!(fixes, right, "{early:?}");
            assert_eq!(notes.len(), 1);
            let whole = notes[0].contains("the dates of walk.gpx were moved from 2006-09-25");
            let part = notes[0].contains("30 of 500 fixes of walk.gpx were moved from 2006-09-25");
            assert!(if early.len() == 500 { whole } else { part }, "{notes:?}");
        }
    }

    #[test]
    fn correct_dates_are_kept_in_any_order() {
        let (fixes, notes) = reported(vec![piece(500, 0..0)], &of_the_day());
        assert_eq!((fixes, notes.len()), (piece(500, 0..0).fixes, 0));
    }

    #[test]
    fn adjacent_fixes_decide_without_records() {
        let (fixes, notes) = reported(vec![piece(500, 0..30)], &[]);
        assert_eq!(fixes, piece(500, 0..0).fixes);
        assert!(notes[0].contains("they continue the adjacent fixes"), "{notes:?}");
        // nothing beside them, nothing to land on
        let (fixes, notes) = reported(vec![piece(500, 0..500)], &[]);
        assert_eq!((fixes, notes.len()), (piece(500, 0..500).fixes, 0));
    }

    #[test]
    fn separate_segment_is_recognised_by_the_next_segment() {
        let right = piece(500, 0..0).fixes;
        for early in [0..200, 300..500] {
            let whole = piece(500, early.clone());
            let cut = if early.start == 0 { early.end } else { early.start } as usize;
            let (first, second) = whole.fixes.split_at(cut);
            let segments = [first, second].map(|fixes| Piece { file: 0, fixes: fixes.to_vec() });
            let (fixes, notes) = reported(segments.to_vec(), &[]);
            assert_eq!((fixes, notes.len()), (right.clone(), 1), "{early:?}");
        }
    }

    #[test]
    fn distant_segment_is_not_moved() {
        let mut first = piece(500, 0..500);
        first.fixes.truncate(200);
        let mut second = piece(500, 0..0);
        second.fixes.drain(..200);
        second.fixes.iter_mut().for_each(|fix| fix.at = LatLon::clamped(47.0, 11.0));
        let expected = [first.fixes.clone(), second.fixes.clone()].concat();
        let (fixes, notes) = reported(vec![first, second], &[]);
        assert_eq!((fixes, notes.len()), (expected, 0));
    }

    #[test]
    fn older_walk_in_the_same_file_is_not_moved() {
        let mut old = piece(100, 0..100);
        for fix in &mut old.fixes {
            fix.time = fix.time.map(|time| Seconds(40.0 * 86_400.0).after(time));
        }
        let expected = [old.fixes.clone(), piece(500, 0..0).fixes].concat();
        let (fixes, notes) = reported(vec![old, piece(500, 0..0)], &of_the_day());
        assert_eq!((fixes, notes.len()), (expected, 0));
    }
}
