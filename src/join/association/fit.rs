//! Computes how well the photographs of a session match the stops of a track under the most probable clock
//! offset, against photographs taken at random times; and whether written times lie within the track.
//! Layer: `join`.

use crate::model::{Photo, Record};
use crate::units::{ClockOffset, Seconds, Timestamp};

use super::super::clock::{self, DirectEvidence, GpsTimes, Observation, ObservationSource};
use super::super::day::PhotoIndex;
use super::super::moment::Origin;
use super::super::written;
use super::dates::{self, Source};
use super::{TrackView, nearest};

/// A session that lies on the track by its camera may yet leave it, where the receiver was off: a group
/// beyond the track counts this against it.
const BEYOND: f64 = 0.5;
/// A session that lies nowhere on it: as when a clock is set.
const NOWHERE: f64 = 0.03;
/// A session within this distance of the track's ends lies on it, seconds.
const MARGIN: f64 = 3_600.0;
/// What a log Bayes factor of stops is worth: people are less regular than the law, and groups of
/// photographs share the errors of stops.
const WORTH: f64 = 0.7;
/// The limit of the log Bayes factor of a session.
const MOST: f64 = 14.0;
const LEAST: f64 = -9.0;
/// Notebook and camera are wrong by the same day so much more rarely than each alone.
const AGREED: f64 = 0.01;
/// The share of outings with written times that lie beyond the track or are of another zone.
const TIMES_BEYOND: f64 = 0.1;
/// The share of strangers whose written times lie within a track of that day.
const TIMES_OF_STRANGERS: f64 = 0.6;

/// A log Bayes factor below which a clock that was set between is considered.
const SUSPECT: f64 = -1.5;
/// The share of sessions in which somebody sets the camera's clock (common practice).
const SET_BETWEEN: f64 = 0.01;
/// The share of notebooks whose times say nothing of the photographs beside them: their watch is off (common
/// practice, as in [`super::super::notebook_clock`]).
const WATCH_OFF: f64 = 0.04;
/// Moments at which it may have been set, at the most.
const MOST_SPLITS: usize = 12;
/// Photographs on either side of such a moment.
const LEAST_PART: usize = 4;

/// The match of a session with a track.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Fit {
    /// The log share of cameras with a date so wrong.
    pub(super) date: f64,
    /// The log Bayes factor of stops.
    pub(super) stops: f64,
    /// The same before it is weighted and bounded.
    pub(super) log: f64,
    pub(super) groups: usize,
    pub(super) photos: usize,
}

/// The weighted and bounded log Bayes factor of stops.
pub(super) fn weighted(log: f64) -> f64 {
    (WORTH * log).clamp(LEAST, MOST)
}

/// A session that is compared with a track.
struct Compared<'a> {
    session: &'a [Photo],
    records: &'a [&'a Record],
    track: &'a TrackView<'a>,
    readings: Vec<f64>,
    /// The offset of the zone from UTC, seconds.
    zone: f64,
}

impl<'a> Compared<'a> {
    fn of(session: &'a [Photo], records: &'a [&'a Record], track: &'a TrackView<'a>) -> Self {
        let readings = sorted_readings(session, track.estimated_track.origin);
        let zone = f64::from(track.zone.to_offset(track.span.0).seconds());
        Self { session, records, track, readings, zone }
    }

    /// From the first to the last reading by a camera whose date is so many days off, UTC.
    fn span(&self, days: f64) -> Option<(f64, f64)> {
        let ahead = self.zone + days * 86_400.0;
        Some((self.readings.first()? - ahead, self.readings.last()? - ahead))
    }

    /// Whether it lies by that on the track.
    fn is_on_track(&self, days: f64) -> bool {
        let origin = self.track.estimated_track.origin;
        let (start, end) = (origin.seconds(self.track.span.0), origin.seconds(self.track.span.1));
        self.span(days).is_some_and(|(from, until)| until > start - MARGIN && from < end + MARGIN)
    }

    /// The log Bayes factor of stops of a part by one clock, and how many groups of photographs it has; by these
    /// records' times.
    fn of_part(
        &self,
        (part, records): (&[Photo], &[&Record]),
        readings: &[f64],
        days: f64,
    ) -> (f64, usize) {
        let beyond = if self.is_on_track(days) { BEYOND } else { NOWHERE };
        let said = direct_evidence(part, records, self.track, self.zone);
        let activities = &self.track.estimated_track.activities;
        clock::fit(readings, activities, &said, days * 86_400.0, beyond)
    }

    /// The log Bayes factor of stops, and how many groups of photographs there are.
    fn log(&self, days: f64) -> (f64, usize) {
        let whole = |records| self.of_part((self.session, records), &self.readings, days);
        let (one_clock, groups) = whole(self.records);
        if one_clock >= SUSPECT {
            return (one_clock, groups);
        }
        let origin = self.track.estimated_track.origin;
        let parts = |part: &[Photo]| {
            self.of_part((part, self.records), &sorted_readings(part, origin), days).0
        };
        let without_notes = WATCH_OFF.ln() + whole(&[]).0;
        let one_clock = (1.0 - SET_BETWEEN - WATCH_OFF).ln() + one_clock;
        let set = set_between(self.session, &parts);
        ([one_clock, without_notes, set].into_iter().fold(f64::NEG_INFINITY, sum_of_logs), groups)
    }

    /// The log share of cameras whose date is so many days off.
    fn date(&self, days: f64) -> f64 {
        let taken = self.session.iter().find_map(|photo| Some(photo.taken?.date()));
        let Some((given, (from, until))) = taken.zip(self.span(days)) else { return 0.0 };
        let span = self.track.span;
        let origin = self.track.estimated_track.origin;
        let (start, end) = (origin.seconds(span.0), origin.seconds(span.1));
        // a camera on the time of another zone may show the neighbouring date
        let by_zone = until > start - clock::REACH && from < end + clock::REACH;
        let truth = given.checked_sub(jiff::Span::new().days(days_of(days))).unwrap_or(given);
        let near =
            if self.is_on_track(days) || by_zone { truth } else { nearest(given, self.track) };
        let agreed = given != near && self.records.iter().any(|r| r.date == Some(given));
        dates::log_share(Source::Camera, given, near, 1) + if agreed { AGREED.ln() } else { 0.0 }
    }

    /// Whole days by which its date may be off.
    fn days(&self) -> Vec<f64> {
        let origin = self.track.estimated_track.origin;
        let (start, end) = (origin.seconds(self.track.span.0), origin.seconds(self.track.span.1));
        let Some((first, last)) = self.span(0.0) else { return Vec::new() };
        let apart = f64::midpoint(first, last) - f64::midpoint(start, end);
        let said = direct_evidence(self.session, self.records, self.track, self.zone);
        let mut days = vec![0.0, (apart / 86_400.0).round()];
        days.extend(said.gps.offset().map(|offset| ((offset - self.zone) / 86_400.0).round()));
        days.sort_by(f64::total_cmp);
        days.dedup();
        days
    }
}

/// Compares a session with a track, by the camera's date as it is and by the days that the track is
/// away; the more probable counts.
pub(super) fn session(session: &[Photo], records: &[&Record], track: &TrackView) -> Fit {
    let compared = Compared::of(session, records, track);
    let all = compared.days().into_iter().map(|days| {
        let (log, groups) = compared.log(days);
        let (date, photos) = (compared.date(days), compared.readings.len());
        Fit { date, stops: weighted(log), log, groups, photos }
    });
    all.max_by(|a, b| (a.date + a.stops).total_cmp(&(b.date + b.stops))).unwrap_or_default()
}

/// The readings of a session's photographs, in order; a whole second may be any moment of it.
fn sorted_readings(session: &[Photo], origin: Origin) -> Vec<f64> {
    let moment = |photo: &Photo| {
        let whole = photo.taken?.subsec_nanosecond() == 0;
        let reading = origin.seconds(ClockOffset::as_if_utc(photo.taken?));
        Some(reading + if whole { 0.5 } else { 0.0 })
    };
    let mut readings: Vec<f64> = session.iter().filter_map(moment).collect();
    readings.sort_by(f64::total_cmp);
    readings
}

/// The log Bayes factor where the clock was set once within the session, at any of the longest
/// pauses between photographs; `log` gives that of a part by itself.
fn set_between(session: &[Photo], log: &dyn Fn(&[Photo]) -> f64) -> f64 {
    let pause = |split: usize| {
        let taken = |photo: &Photo| photo.taken.map(ClockOffset::as_if_utc);
        let (before, after) = (taken(&session[split - 1]), taken(&session[split]));
        before.zip(after).map_or(0.0, |(before, after)| Seconds::between(before, after).0.abs())
    };
    let last = session.len().saturating_sub(LEAST_PART);
    let mut splits: Vec<usize> = (LEAST_PART..=last).collect();
    splits.sort_by(|&a, &b| pause(b).total_cmp(&pause(a)));
    splits.truncate(MOST_SPLITS);
    let each = (SET_BETWEEN / splits.len().max(1) as f64).ln();
    splits
        .into_iter()
        .map(|split| each + log(&session[..split]) + log(&session[split..]))
        .fold(f64::NEG_INFINITY, sum_of_logs)
}

/// The logarithm of the sum of two numbers given by their logarithms.
pub(super) fn sum_of_logs(a: f64, b: f64) -> f64 {
    let top = a.max(b);
    if top == f64::NEG_INFINITY { top } else { top + ((a - top).exp() + (b - top).exp()).ln() }
}

#[allow(clippy::cast_possible_truncation, reason = "whole days within centuries")]
fn days_of(days: f64) -> i64 {
    days.clamp(-1e6, 1e6) as i64
}

/// The direct evidence for the camera's clock: its own offset, GPS times, times written beside
/// its photographs, taken for times of the track's day.
fn direct_evidence(
    session: &[Photo],
    records: &[&Record],
    track: &TrackView,
    zone: f64,
) -> DirectEvidence {
    let origin = track.estimated_track.origin;
    let reading = |photo: &Photo| Some(origin.seconds(ClockOffset::as_if_utc(photo.taken?)));
    let pairs = session
        .iter()
        .filter_map(|photo| Some((reading(photo)? + 0.5, origin.seconds(photo.gps.time?))))
        .collect();
    DirectEvidence {
        zone,
        claimed: session.iter().find_map(|photo| Some(f64::from(photo.offset?.seconds()))),
        observations: notebook(session, records, track, &reading).into_iter().collect(),
        gps: GpsTimes::of(pairs),
        tracked: true,
    }
}

/// Times written beside photographs of the session. A date that may be wrong gives no information here.
fn notebook(
    session: &[Photo],
    records: &[&Record],
    track: &TrackView,
    reading: &dyn Fn(&Photo) -> Option<f64>,
) -> Option<Observation> {
    /// Mean delay from the photograph to the note, its standard deviation, and the scatter (common
    /// practice), seconds.
    const AFTER: f64 = 25.0;
    const HABIT: f64 = 70.0;
    const SCATTER: f64 = 40.0;
    let file_names: &[String] = &session.iter().map(Photo::name).collect::<Vec<_>>();
    let index = PhotoIndex::of(file_names);
    let offset = |record: &&Record| {
        let of_find = |named| {
            let claimed = move |photo: &usize| written::names(named, &file_names[*photo]);
            index.candidates(named).filter(claimed)
        };
        record.time?;
        let photo = &session[record.photos.iter().flat_map(of_find).min()?];
        Some(reading(photo)? - (instant(record, track)? - AFTER))
    };
    let offsets: Vec<f64> = records.iter().filter_map(offset).collect();
    Observation::gathered(ObservationSource::Notebook, &offsets, SCATTER, HABIT)
}

/// A written time on the track's day, seconds since the track's origin.
fn instant(record: &Record, track: &TrackView) -> Option<f64> {
    Some(track.estimated_track.origin.seconds(read(record, track)?.instant))
}

/// A written time as if it were of the track's day.
pub(super) fn read(record: &Record, track: &TrackView) -> Option<written::Read> {
    let undated = Record { date: None, photos: Vec::new(), ..record.clone() };
    written::instant(&undated, track.dates.0, &track.zone, Some(track.span))
}

/// Whether a record's own date and time, in the zone that it states, lie within the track.
pub(super) fn instant_within(record: &Record, track: &TrackView) -> bool {
    let read = || -> Option<Timestamp> {
        let zone = crate::units::TimeZone::fixed(record.time_offset()?);
        let local = record.date?.to_datetime(record.time?.clock);
        zone.to_timestamp(local).ok()
    };
    read().is_some_and(|instant| within(instant, track, MARGIN))
}

fn within(instant: Timestamp, track: &TrackView, margin: f64) -> bool {
    Seconds::between(instant, track.span.0).0 < margin
        && Seconds::between(track.span.1, instant).0 < margin
}

/// Whether most written times lie within the track, and how many there are.
pub(super) fn written_times(records: &[&Record], track: &TrackView) -> (f64, usize) {
    let (start, end) = (
        track.estimated_track.origin.seconds(track.span.0),
        track.estimated_track.origin.seconds(track.span.1),
    );
    let times: Vec<f64> = records.iter().filter_map(|record| instant(record, track)).collect();
    let inside = times.iter().filter(|t| (start - MARGIN..=end + MARGIN).contains(*t)).count();
    let log = if 2 * inside >= times.len() {
        ((1.0 - TIMES_BEYOND) / TIMES_OF_STRANGERS).ln()
    } else {
        (TIMES_BEYOND / (1.0 - TIMES_OF_STRANGERS)).ln()
    };
    (log, times.len())
}
