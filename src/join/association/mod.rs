//! Estimates the probability that a track belongs to these records and photographs. Every track of the
//! import is compared with "the day's track was not imported" and "another person's track of that day",
//! using dates, GPS times, photographs in stops, positions, and people and places in file names. A find
//! takes its position from a track only where the probability is [`Association::THRESHOLD`] or more; the
//! method is in `docs/association.md`. Layer: `join`.

mod chance;
mod dates;
mod fit;
mod note_times;
mod places;
mod stationary;
#[cfg(test)]
mod tests;

use jiff::civil::Date;

use crate::model::{
    Association, AssociationEvidence, AssociationKind, EvidenceKind, Photo, Record, TrackCandidate,
};
use crate::units::{TimeZone, Timestamp};

use super::activity::Activities;
use super::estimated_track::EstimatedTrack;
use super::notebook_clock::{Habit, NoteCourse};
use dates::Source;

/// The log Bayes factor from which on written coordinates show that the notes were made on the track
/// (project choice: ten to one).
const ON_THE_TRACK: f64 = 2.3;
/// The prior probability that the records' own track is among those compared.
const HERE: f64 = 0.96;
/// The prior probability that it is of another day, and was not imported (common practice: a folder in
/// twenty-five holds the wrong track).
const ANOTHER_DAY: f64 = 0.04;
/// The prior probability that the right day's only track is another person's, and the same where several tracks
/// are compared, for one collector (assumption: a folder in five hundred holds a friend's track instead of
/// one's own); where several people share it, [`Material::apart`] is used.
const ANOTHER_PERSON: f64 = 0.002;
const ANOTHER_PERSON_OF_SEVERAL: f64 = 0.000_3;
/// The share of people who write on the way from stop to stop (assumption: few, so that strangers' notes that happen to
/// lie between the stops of a track are not theirs).
const ON_THE_WAY: f64 = 0.02;
/// The share of other days that a date, once seen, takes of [`ANOTHER_DAY`].
const OF_A_SEEN_DATE: f64 = 0.3;
/// The same for days of which no date is seen.
const OF_AN_UNSEEN_DATE: f64 = 0.1;
/// The share of dates soon after a first of January, of a year before the tracks, that are the day's and not of a
/// camera whose clock started again (assumption).
const OF_A_RESET_DATE: f64 = 0.02;

/// Evidence below this log Bayes factor does not show whose track it is (project choice: one written place on the
/// track does).
const SHOWN: f64 = 1.0;

/// The same for written times at stops, which match those of another track by chance.
const SHOWN_BY_TIMES: f64 = 2.3;

/// The same for positions alone, a hundred to one (project choice).
const SHOWN_BY_POSITIONS: f64 = 4.6;

/// The data of a track that are compared.
pub(crate) struct TrackView<'a> {
    pub(crate) files: Vec<String>,
    /// The local dates of the first and the last fix.
    pub(crate) dates: (Date, Date),
    pub(crate) span: (Timestamp, Timestamp),
    /// The zone of written times and cameras there.
    pub(crate) zone: TimeZone,
    pub(crate) estimated_track: &'a EstimatedTrack,
    /// Whether the name of its file or folder holds that of the collector.
    pub(crate) own_name: bool,
    /// The evidence of folders, names and companions.
    pub(crate) ties: Vec<AssociationEvidence>,
}

/// Records and photographs that belong together, on any track.
#[derive(Default)]
pub(crate) struct Material<'a> {
    pub(crate) records: Vec<&'a Record>,
    /// The photographs of one camera between two long rests, in order.
    pub(crate) sessions: Vec<&'a [Photo]>,
    /// Whether the user stated that the cameras' clocks are correct: then photographs outside stops give
    /// no information against a track.
    pub(crate) vouched: bool,
    /// The prior probability that the collector walked apart from the track, where more collectors than
    /// receivers are named that day.
    pub(crate) apart: Option<f64>,
}

/// The result of the comparison.
#[derive(Clone, Debug)]
pub(crate) struct Weighed {
    /// The probability of each track, in the order given.
    pub(crate) tracks: Vec<(f64, Vec<AssociationEvidence>)>,
    /// The probability that the day's track was not imported.
    pub(crate) another_day: f64,
    /// The probability of another person's track of that day.
    pub(crate) another_person: f64,
    /// For each track whether it stays in one place over the time of the finds.
    pub(crate) left_behind: Vec<bool>,
}

/// Whether a camera's date is that of a clock that started again at a first of January.
pub(crate) fn is_reset(given: Date, truth: Date) -> bool {
    dates::is_reset(given, truth)
}

/// Whether a date may be a writing error for another, as opposed to that of another day altogether.
pub(crate) fn may_be_slip(given: Date, truth: Date) -> bool {
    dates::is_slip(given, truth)
}

impl TrackView<'_> {
    fn covers(&self, date: Date) -> bool {
        self.dates.0 <= date && date <= self.dates.1
    }
}

impl Weighed {
    /// The track whose probability reaches the threshold, and which was carried.
    pub(crate) fn sure(&self) -> Option<usize> {
        self.theirs().filter(|best| !self.left_behind[*best])
    }

    fn theirs(&self) -> Option<usize> {
        let best = self.best()?;
        (self.tracks[best].0 >= Association::THRESHOLD).then_some(best)
    }

    pub(crate) fn best(&self) -> Option<usize> {
        (0..self.tracks.len()).max_by(|&a, &b| self.tracks[a].0.total_cmp(&self.tracks[b].0))
    }

    /// The comparison as it is reported.
    pub(crate) fn report(&self, material: &Material, tracks: &[TrackView]) -> Association {
        let mut candidates: Vec<TrackCandidate> = tracks
            .iter()
            .zip(&self.tracks)
            .map(|(track, (probability, evidence))| TrackCandidate {
                files: track.files.clone(),
                first_date: track.dates.0,
                last_date: track.dates.1,
                probability: *probability,
                evidence: evidence.clone(),
            })
            .collect();
        candidates.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        let zone = tracks.first().map_or(TimeZone::UTC, |track| track.zone.clone());
        Association {
            kind: self.kind(material, tracks),
            records: material.records.len(),
            photographs: material.sessions.iter().map(|session| session.len()).sum(),
            collector: material.records.iter().find_map(|record| record.collector.clone()),
            written_dates: material.written_dates().into_iter().map(|(date, _)| date).collect(),
            camera_dates: material.camera_dates(),
            gps_dates: material.gps_dates(&zone),
            tracks: candidates,
            none: self.another_day + self.another_person,
        }
    }

    /// What is to be said of an accepted track, if anything.
    pub(crate) fn reservation(
        &self,
        best: usize,
        material: &Material,
        tracks: &[TrackView],
    ) -> Option<AssociationKind> {
        let (track, evidence) = (&tracks[best], &self.tracks[best].1);
        if material.written_dates().iter().any(|(date, _)| !track.covers(*date)) {
            return Some(AssociationKind::DatesDiffer);
        }
        if evidence.iter().any(|one| one.kind == EvidenceKind::AnotherName) {
            return Some(AssociationKind::NamedAfterAnother);
        }
        // whether photographs can be joined is known with the camera's clock only
        // times at stops may be those of somebody with the same rhythm
        let shared = material.apart.is_some();
        let own = |one: &&AssociationEvidence| !shared || one.kind != EvidenceKind::TimesAtStops;
        let telling: Vec<AssociationEvidence> = evidence.iter().filter(own).copied().collect();
        let open = !material.sessions.is_empty() || !shows_whose(&telling);
        let of_date = !material.records.is_empty() && !track.own_name && open;
        let undated = material.written_dates().is_empty() && material.camera_dates().is_empty();
        let kind = if undated { AssociationKind::Undated } else { AssociationKind::ByDateOnly };
        of_date.then_some(kind)
    }

    fn kind(&self, material: &Material, tracks: &[TrackView]) -> AssociationKind {
        if let Some(best) = self.sure() {
            return self
                .reservation(best, material, tracks)
                .unwrap_or(AssociationKind::DatesDiffer);
        }
        if self.theirs().is_some() {
            return AssociationKind::ReceiverStationary;
        }
        let of_that_day = |track: &&TrackView| {
            let written = material.written_dates();
            let mut dates = written.iter().map(|(date, _)| *date).chain(material.camera_dates());
            dates.any(|date| track.covers(date))
        };
        match tracks.iter().filter(of_that_day).count() {
            1 if self.another_person > self.another_day && material.apart.is_some() => {
                AssociationKind::TrackShared
            }
            1 if self.another_person > self.another_day => AssociationKind::AnotherPerson,
            0 | 1 => AssociationKind::AnotherDay,
            _ => AssociationKind::OwnerUnknown,
        }
    }
}

impl Material<'_> {
    /// Each written date with how many records bear it.
    pub(crate) fn written_dates(&self) -> Vec<(Date, usize)> {
        let mut dates: Vec<Date> = self.records.iter().filter_map(|record| record.date).collect();
        dates.sort_unstable();
        dates.chunk_by(|a, b| a == b).map(|same| (same[0], same.len())).collect()
    }

    /// The sessions whose dates are of none of these tracks nor a day off, by camera and by GPS, where records with
    /// times say the day.
    pub(crate) fn misdated(&self, tracks: &[TrackView]) -> Vec<usize> {
        let timed = |record: &Record| record.time.is_some() && record.date.is_some();
        if !self.records.iter().any(|record| timed(record)) {
            return Vec::new();
        }
        let near = |date: Date| {
            let days =
                |track: &TrackView| nearest(date, track).until(date).map(|span| span.get_days());
            tracks.iter().any(|track| days(track).is_ok_and(|days| days.abs() <= 1))
        };
        let by_gps = |session: &[Photo]| session.iter().any(|photo| photo.gps.time.is_some());
        let misdated = |index: &usize| {
            let session = self.sessions[*index];
            camera_date(session).is_some_and(|date| !near(date)) && !by_gps(session)
        };
        (0..self.sessions.len()).filter(misdated).collect()
    }

    /// The same without these sessions.
    pub(crate) fn without(&self, sessions: &[usize]) -> Self {
        let kept = (0..self.sessions.len()).filter(|index| !sessions.contains(index));
        let sessions = kept.map(|index| self.sessions[index]).collect();
        Self { records: self.records.clone(), sessions, ..*self }
    }

    pub(crate) fn camera_dates(&self) -> Vec<Date> {
        sorted(self.sessions.iter().filter_map(|session| camera_date(session)).collect())
    }

    fn gps_dates(&self, zone: &TimeZone) -> Vec<Date> {
        sorted(self.sessions.iter().filter_map(|session| gps_date(session, zone)).collect())
    }
}

fn sorted(mut dates: Vec<Date>) -> Vec<Date> {
    dates.sort_unstable();
    dates.dedup();
    dates
}

/// The date of a session by its camera.
fn camera_date(session: &[Photo]) -> Option<Date> {
    let mut taken = session.iter().filter_map(|photo| Some(photo.taken?.date()));
    taken.nth(session.len() / 2).or_else(|| session.iter().find_map(|p| Some(p.taken?.date())))
}

/// The local date of the middle one of a session's GPS times.
fn gps_date(session: &[Photo], zone: &TimeZone) -> Option<Date> {
    let mut times: Vec<Timestamp> = session.iter().filter_map(|photo| photo.gps.time).collect();
    times.sort_unstable();
    Some(times.get(times.len() / 2)?.to_zoned_datetime(zone.clone()).date())
}

/// Whether anything but the date shows whose track it is: positions on it by themselves, however few of the stops
/// are at finds.
pub(crate) fn shows_whose(evidence: &[AssociationEvidence]) -> bool {
    use EvidenceKind::{CameraDate, GpsTime, TimesAtStops, WrittenDate, WrittenTimes};
    use EvidenceKind::{PhotoPositions, WrittenPositions};
    let on_it = |one: &AssociationEvidence| {
        matches!(one.kind, PhotoPositions | WrittenPositions)
            && one.log_factor >= SHOWN_BY_POSITIONS
    };
    if evidence.iter().any(on_it) {
        return true;
    }
    let shows = |one: &&AssociationEvidence| match one.kind {
        CameraDate | GpsTime | WrittenDate | WrittenTimes => false,
        TimesAtStops => !(0.0..SHOWN_BY_TIMES).contains(&one.log_factor),
        _ => true,
    };
    evidence.iter().filter(shows).map(|one| one.log_factor).sum::<f64>() >= SHOWN
}

/// Compares the tracks with each other and with "none of them".
pub(crate) fn weigh(material: &Material, tracks: &[TrackView]) -> Weighed {
    let share = (HERE / tracks.len().max(1) as f64).ln();
    let reported: Vec<Vec<AssociationEvidence>> =
        tracks.iter().map(|track| evidence(material, track, tracks.len() == 1)).collect();
    let sum = |evidence: &[AssociationEvidence]| evidence.iter().map(|e| e.log_factor).sum::<f64>();
    let here: Vec<f64> = reported.iter().map(|evidence| share + sum(evidence)).collect();
    let day = another_day(material, tracks);
    let person = another_person(&reported, material.apart);
    let top = here.iter().copied().chain([day, person]).fold(f64::NEG_INFINITY, f64::max);
    let weight = |log: f64| (log - top).exp();
    let total: f64 = here.iter().copied().chain([day, person]).map(weight).sum();
    Weighed {
        tracks: here
            .iter()
            .zip(reported)
            .map(|(log, reported)| (weight(*log) / total, reported))
            .collect(),
        another_day: weight(day) / total,
        another_person: weight(person) / total,
        left_behind: tracks
            .iter()
            .map(|track| stationary::is_left_behind(material, track))
            .collect(),
    }
}

/// Everything that bears on one track, which may be the only one.
fn evidence(material: &Material, track: &TrackView, alone: bool) -> Vec<AssociationEvidence> {
    let mut all: Vec<AssociationEvidence> = Vec::new();
    let mut add = |kind: EvidenceKind, (log_factor, count): (f64, usize)| {
        if count > 0 {
            all.push(AssociationEvidence { kind, log_factor, count });
        }
    };
    add(EvidenceKind::WrittenDate, written(material, track));
    let mut photographs_oppose = false;
    for session in &material.sessions {
        let reported = fit::session(session, &material.records, track);
        photographs_oppose |= reported.log < chance::DOUBTFUL;
        add(EvidenceKind::CameraDate, (reported.date, usize::from(reported.photos > 0)));
        let stops = if alone { chance::photographs(reported.log) } else { reported.stops };
        let stops = if material.vouched { stops.max(0.0) } else { stops };
        add(EvidenceKind::Stops, (stops, reported.groups));
        if let Some(date) = gps_date(session, &track.zone) {
            let near = nearest(date, track);
            let count = session.iter().filter(|photo| photo.gps.time.is_some()).count();
            add(EvidenceKind::GpsTime, (dates::log_share(Source::Gps, date, near, 1), count));
        }
        add(EvidenceKind::PhotoPositions, places::photographs(session, track));
    }
    add(EvidenceKind::WrittenTimes, fit::written_times(&material.records, track));
    let positions = places::records(&material.records, track);
    let lone = alone && material.apart.is_none();
    let others = note_times::of(&material.records, &material.sessions, track);
    let are_all = material.sessions.is_empty();
    let of_others = times_at_stops(track, &Times { notes: &others, lone, are_all });
    // photographs that match a lone track badly do not outweigh the times written beside them
    let every = note_times::of(&material.records, &[], track);
    let of_all = || times_at_stops(track, &Times { notes: &every, lone, are_all: true });
    let more = lone && photographs_oppose && every.len() > others.len();
    let opposed = more.then(of_all).filter(|of_all| of_all.0 < of_others.0.min(0.0));
    let (log, notes) = opposed.unwrap_or(of_others);
    // notes that were written where the track was at their time may be from anywhere between its stops
    let log = if alone && positions.0 >= ON_THE_TRACK { log.max(0.0) } else { log };
    add(EvidenceKind::TimesAtStops, (log, notes));
    add(EvidenceKind::WrittenPositions, positions);
    all.extend_from_slice(&track.ties);
    all
}

/// Written times as they are compared with a track.
struct Times<'a> {
    /// Seconds since the track's origin, and the step of the figures.
    notes: &'a [(f64, f64)],
    /// Whether the track is the only one, of one collector.
    lone: bool,
    /// Whether they are of all records, not only of those without photographs.
    are_all: bool,
}

/// The evidence of written times at stops, and how many there are.
fn times_at_stops(track: &TrackView, times: &Times) -> (f64, usize) {
    let notes = times.notes;
    let zone = f64::from(track.zone.to_offset(track.span.0).seconds());
    let by = |walk: &Activities, habit: Habit| {
        NoteCourse::of(walk).map_or(0.0, |course| note_times::log(notes, zone, &course, habit))
    };
    let on = |walk: &Activities| by(walk, Habit::AtStops);
    let log = on(&track.estimated_track.activities);
    // notes that clearly avoid the stops are of somebody who writes on the way
    let avoiding = by(&track.estimated_track.activities, Habit::OnTheWay);
    let on_the_way = ON_THE_WAY.ln() + avoiding;
    let clear = on_the_way > log.max(chance::DOUBTFUL);
    let log = if clear { on_the_way } else { log };
    let weighted = if !times.lone {
        fit::weighted(log)
    } else if notes.iter().any(|note| note.1 <= 1.0) {
        // a device's times are often of finds that were noted while walking
        fit::weighted(log.max(0.0))
    } else {
        let are_all = times.are_all;
        chance::notes(track, chance::Notes { log, avoiding, count: notes.len(), are_all }, &on)
    };
    (weighted, notes.len())
}

fn written(material: &Material, track: &TrackView) -> (f64, usize) {
    let dates = material.written_dates();
    let log = dates
        .iter()
        .map(|&(date, copies)| {
            let near = if by_instant(material, date, track) { date } else { nearest(date, track) };
            dates::log_share(Source::Notebook, date, near, copies)
        })
        .sum();
    (log, dates.len())
}

/// Whether records of this date state instants within the track: a date beside a time in UTC may be the
/// neighbour of the local one.
fn by_instant(material: &Material, date: Date, track: &TrackView) -> bool {
    let mut same = material.records.iter().filter(|record| record.date == Some(date));
    same.any(|record| fit::instant_within(record, track))
}

/// The track's local date that is nearest to another.
fn nearest(date: Date, track: &TrackView) -> Date {
    let days = |from: Date| from.until(date).map_or(i32::MAX, |span| span.get_days().abs());
    // the most probable writing error counts, not the nearest day
    if track.covers(date) {
        date
    } else if days(track.dates.0) <= days(track.dates.1) {
        track.dates.0
    } else {
        track.dates.1
    }
}

/// The hypothesis that the track of the day was not imported: the most probable of the days that any date
/// names and no track covers.
fn another_day(material: &Material, tracks: &[TrackView]) -> f64 {
    let zone = tracks.first().map_or(TimeZone::UTC, |track| track.zone.clone());
    let (written, camera, gps) =
        (material.written_dates(), material.camera_dates(), material.gps_dates(&zone));
    let on = |day: Date| {
        let written = written.iter().map(|&(d, n)| dates::log_share(Source::Notebook, d, day, n));
        let camera = camera.iter().map(|&d| dates::log_share(Source::Camera, d, day, 1));
        let gps = gps.iter().map(|&d| dates::log_share(Source::Gps, d, day, 1));
        written.chain(camera).chain(gps).sum::<f64>()
    };
    let named = written.iter().map(|(date, _)| *date).chain(camera.clone()).chain(gps.clone());
    let first = tracks.iter().map(|track| track.dates.0).min();
    let resets = |date: Date| {
        let only_of_cameras = !written.iter().any(|(own, _)| *own == date) && !gps.contains(&date);
        only_of_cameras && first.is_some_and(|first| dates::is_reset(date, first))
    };
    let seen = named
        .clone()
        .filter(|&date| {
            !tracks.iter().any(|track| track.covers(date) || by_instant(material, date, track))
        })
        .map(|day| {
            on(day) + OF_A_SEEN_DATE.ln() + if resets(day) { OF_A_RESET_DATE.ln() } else { 0.0 }
        })
        .fold(f64::NEG_INFINITY, f64::max);
    let unseen = if named.clone().next().is_none() {
        OF_AN_UNSEEN_DATE.ln()
    } else {
        // every date would be wrong
        let wrong = |source| dates::log_any(source);
        let of_camera = |&date: &Date| {
            if resets(date) { dates::log_reset(date) } else { wrong(Source::Camera) }
        };
        OF_AN_UNSEEN_DATE.ln()
            + wrong(Source::Notebook) * written.len() as f64
            + camera.iter().map(of_camera).sum::<f64>()
            + wrong(Source::Gps) * gps.len() as f64
    };
    ANOTHER_DAY.ln() + seen.max(unseen)
}

/// The hypothesis of another person's track of the right day: dates fit as they fit the best track,
/// stops, positions and ties give no information.
fn another_person(reported: &[Vec<AssociationEvidence>], apart: Option<f64>) -> f64 {
    let of_dates = |evidence: &&AssociationEvidence| {
        matches!(
            evidence.kind,
            EvidenceKind::WrittenDate | EvidenceKind::CameraDate | EvidenceKind::GpsTime
        )
    };
    let sum = |all: &Vec<AssociationEvidence>| {
        all.iter().filter(of_dates).map(|evidence| evidence.log_factor).sum::<f64>()
    };
    let one = if reported.len() == 1 { ANOTHER_PERSON } else { ANOTHER_PERSON_OF_SEVERAL };
    apart.unwrap_or(one).ln() + reported.iter().map(sum).fold(f64::NEG_INFINITY, f64::max)
}
