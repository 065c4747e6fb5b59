//! Which files, and which parts of them, belong to one outing? Tracks part where nothing is recorded
//! for five hours, so a night outing stays whole; photographs go to the outing they lie nearest to,
//! a session at a time; records to that of their date. What fits no track makes outings by local
//! date. Layer: `join`.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::error::Error;
use crate::model::{Fix, Intake, Photo, Record, SourceFile, Waypoint, ZoneChoice};
use crate::units::{ClockOffset, LatLon, Seconds, Timestamp};

use super::clean::Run;
use super::{Options, rollover, zone};

/// So long without a fix ends an outing, seconds.
const PAUSE: f64 = 5.0 * 3_600.0;
/// A camera's clock is wrong by no more than this on the right date, seconds.
const CLOCK_REACH: f64 = 14.0 * 3_600.0;
/// Fewer fixes far off in time are a step of the clock, not another outing.
const LEAST_PIECE: usize = 10;

/// A record with the index of its file among the sources of its outing.
#[derive(Clone, Debug)]
pub(crate) struct Filed {
    pub(crate) source: usize,
    pub(crate) record: Record,
}

/// Everything of one outing.
#[derive(Debug)]
pub(crate) struct Gathered {
    pub(crate) sources: Vec<SourceFile>,
    pub(crate) runs: Vec<Run>,
    pub(crate) waypoints: Vec<Waypoint>,
    pub(crate) photos: Vec<Photo>,
    pub(crate) records: Vec<Filed>,
    pub(crate) zone: ZoneChoice,
    pub(crate) set_aside: Vec<Error>,
    pub(crate) remarks: Vec<Error>,
}

/// A run of fixes before it is known to which outing it belongs.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    pub(super) file: usize,
    pub(super) fixes: Vec<Fix>,
}

/// The span of an outing's track.
#[derive(Clone, Copy, Debug)]
struct Span {
    start: Timestamp,
    end: Timestamp,
}

impl Piece {
    /// The span of its times but for a few strays.
    fn span(&self) -> Option<Span> {
        let mut times: Vec<Timestamp> = self.fixes.iter().filter_map(|fix| fix.time).collect();
        times.sort_unstable();
        let stray = if times.len() >= LEAST_PIECE { times.len() / 20 } else { 0 };
        Some(Span { start: *times.get(stray)?, end: *times.get(times.len() - 1 - stray)? })
    }

    /// Parted where the file falls silent for hours, if both sides amount to something.
    fn parted(self) -> Vec<Self> {
        let mut pieces: Vec<Self> = Vec::new();
        let mut now: Vec<Fix> = Vec::new();
        let mut last: Option<Timestamp> = None;
        for fix in self.fixes {
            let pause = match (last, fix.time) {
                (Some(last), Some(time)) => Seconds::between(last, time).0.abs() > PAUSE,
                _ => false,
            };
            if pause && now.len() >= LEAST_PIECE {
                pieces.push(Self { file: self.file, fixes: std::mem::take(&mut now) });
            }
            last = fix.time.or(last);
            now.push(fix);
        }
        match pieces.last_mut() {
            Some(before) if now.len() < LEAST_PIECE => before.fixes.append(&mut now),
            _ => pieces.push(Self { file: self.file, fixes: now }),
        }
        pieces
    }
}

/// Parts an intake into its outings, in order of time.
pub(super) fn part(intake: Intake, options: &Options) -> Vec<Gathered> {
    let mut pool = Pool::of(intake);
    let pieces = std::mem::take(&mut pool.pieces);
    let (pieces, notes) = rollover::corrected(pieces, &pool.files, &pool.dates());
    let mut outings = outings_of(pieces);
    pool.share_photos(&mut outings);
    pool.share_records(&mut outings);
    pool.share_waypoints(&mut outings);
    outings.sort_by_key(Draft::when);
    let mut gathered: Vec<Gathered> =
        outings.into_iter().map(|outing| outing.finished(&pool, options)).collect();
    if let Some(first) = gathered.first_mut() {
        first.set_aside.append(&mut pool.set_aside);
        first.remarks.splice(0..0, pool.remarks.drain(..).chain(notes));
    }
    gathered
}

/// An outing while it is being put together.
#[derive(Debug, Default)]
struct Draft {
    span: Option<Span>,
    date: Option<Date>,
    place: Option<LatLon>,
    pieces: Vec<Piece>,
    waypoints: Vec<(usize, Waypoint)>,
    photos: Vec<Photo>,
    records: Vec<(usize, Record)>,
}

/// Everything read, file by file.
struct Pool {
    files: Vec<SourceFile>,
    pieces: Vec<Piece>,
    waypoints: Vec<(usize, Waypoint)>,
    photos: Vec<Photo>,
    records: Vec<(usize, Record)>,
    set_aside: Vec<Error>,
    remarks: Vec<Error>,
}

impl Pool {
    fn of(intake: Intake) -> Self {
        let mut pool = Self {
            files: Vec::new(),
            pieces: Vec::new(),
            waypoints: Vec::new(),
            photos: intake.photos,
            records: Vec::new(),
            set_aside: intake.set_aside,
            remarks: Vec::new(),
        };
        for track in intake.tracks {
            let file = pool.files.len();
            let segments = track.tracks.into_iter().flat_map(|track| track.segments);
            pool.pieces.extend(
                segments
                    .filter(|segment| !segment.fixes.is_empty())
                    .map(|segment| Piece { file, fixes: segment.fixes }),
            );
            pool.waypoints.extend(track.waypoints.into_iter().map(|point| (file, point)));
            pool.set_aside.extend(track.set_aside);
            pool.remarks.extend(track.remarks);
            pool.files.push(track.source);
        }
        for records in intake.records {
            let file = pool.files.len();
            pool.records.extend(records.records.into_iter().map(|record| (file, record)));
            pool.set_aside.extend(records.set_aside);
            pool.remarks.extend(records.remarks);
            pool.files.push(records.source);
        }
        pool
    }

    /// The dates of photographs and records, for a receiver whose own date is wrong.
    fn dates(&self) -> Vec<Date> {
        let photos = self.photos.iter().filter_map(|photo| Some(photo.taken?.date()));
        photos.chain(self.records.iter().filter_map(|(_, record)| record.date)).collect()
    }

    fn share_photos(&mut self, outings: &mut Vec<Draft>) {
        let mut untimed = Vec::new();
        for session in sessions(std::mem::take(&mut self.photos), &mut untimed) {
            match nearest_outing(&session, outings) {
                Some(outing) => outings[outing].photos.extend(session),
                None => {
                    for photo in session {
                        let date = photo.taken.map(crate::units::WallClock::date);
                        on_date(outings, date).photos.push(photo);
                    }
                }
            }
        }
        for photo in untimed {
            let date =
                photo.gps.time.map(|time| time.to_zoned_datetime(jiff::tz::TimeZone::UTC).date());
            on_date(outings, date).photos.push(photo);
        }
    }

    fn share_records(&mut self, outings: &mut Vec<Draft>) {
        let (dated, undated): (Vec<_>, Vec<_>) = std::mem::take(&mut self.records)
            .into_iter()
            .partition(|(_, record)| record.date.is_some());
        let mut files: BTreeMap<usize, BTreeMap<usize, usize>> = BTreeMap::new();
        let mut odd = Vec::new();
        for (file, record) in dated {
            match outing_on(outings, record.date) {
                Some(outing) => {
                    *files.entry(file).or_default().entry(outing).or_default() += 1;
                    outings[outing].records.push((file, record));
                }
                None => odd.push((file, record)),
            }
        }
        for (file, record) in odd.into_iter().chain(undated) {
            let of_file = files.get(&file).and_then(|seen| seen.iter().max_by_key(|(_, n)| **n));
            let claimed = claimed_in(outings, &record);
            let companion = of_file.map(|(outing, _)| *outing);
            let lone = (record.date.is_none() && outings.len() == 1).then_some(0);
            // a date of its own is believed unless something ties the record to a track
            let slip = record.date.is_some_and(|date| {
                companion.is_some_and(|outing| is_slip(date, outings[outing].date_of()))
            });
            let home =
                claimed.or(if record.date.is_none() || slip { companion } else { None }).or(lone);
            match home {
                Some(outing) => outings[outing].records.push((file, record)),
                None => on_date(outings, record.date).records.push((file, record)),
            }
        }
        for outing in outings {
            outing.records.sort_by_key(|(file, record)| (*file, record.line));
        }
    }

    fn share_waypoints(&mut self, outings: &mut Vec<Draft>) {
        for (file, point) in std::mem::take(&mut self.waypoints) {
            let by_time = point.fix.time.and_then(|time| {
                outings.iter().position(|outing| outing.span.is_some_and(|span| span.near(time)))
            });
            let by_file =
                || outings.iter().position(|outing| outing.pieces.iter().any(|p| p.file == file));
            let by_name = || {
                let named = |record: &Record| {
                    point.name.as_deref().is_some_and(|name| {
                        record.number.as_ref().is_some_and(|number| number.means(name))
                    })
                };
                outings.iter().position(|outing| outing.records.iter().any(|(_, r)| named(r)))
            };
            if let Some(outing) = by_time.or_else(by_name).or_else(by_file) {
                outings[outing].waypoints.push((file, point));
            } else {
                let date =
                    point.fix.time.map(|t| t.to_zoned_datetime(jiff::tz::TimeZone::UTC).date());
                on_date(outings, date).waypoints.push((file, point));
            }
        }
    }
}

impl Span {
    fn near(&self, time: Timestamp) -> bool {
        Seconds::between(time, self.start).0 < PAUSE && Seconds::between(self.end, time).0 < PAUSE
    }

    /// Seconds between the middles.
    fn apart(&self, other: &Self) -> f64 {
        let middle = |s: &Self| Seconds(Seconds::between(s.start, s.end).0 / 2.0).after(s.start);
        Seconds::between(middle(self), middle(other)).0.abs()
    }
}

impl Draft {
    fn when(&self) -> (Option<Timestamp>, Option<Date>) {
        let start = self.span.map(|span| span.start);
        let dated = || {
            let noon = self.date?.at(12, 0, 0, 0);
            Some(ClockOffset::as_if_utc(noon))
        };
        (start.or_else(dated), self.date)
    }

    fn local_zone(&self) -> Option<jiff::tz::TimeZone> {
        self.place.and_then(crate::earth::zone::at).map(|(_, zone)| zone)
    }

    /// The local date on which it began.
    fn date_of(&self) -> Option<Date> {
        let zone = self.local_zone().unwrap_or(jiff::tz::TimeZone::UTC);
        self.span.map(|span| span.start.to_zoned_datetime(zone).date()).or(self.date)
    }

    /// Whether a local date is one of the outing's.
    fn covers(&self, date: Date) -> bool {
        let Some(span) = self.span else { return self.date == Some(date) };
        let zone = self.local_zone().unwrap_or(jiff::tz::TimeZone::UTC);
        let first = span.start.to_zoned_datetime(zone.clone()).date();
        let last = span.end.to_zoned_datetime(zone).date();
        first <= date && date <= last
    }

    fn finished(self, pool: &Pool, options: &Options) -> Gathered {
        let mut places = BTreeMap::new();
        let mut sources: Vec<SourceFile> = Vec::new();
        let mut place_of = |file: usize| {
            *places.entry(file).or_insert_with(|| {
                sources.push(pool.files[file].clone());
                sources.len() - 1
            })
        };
        let runs: Vec<Run> = self
            .pieces
            .iter()
            .map(|piece| Run {
                source: u16::try_from(place_of(piece.file)).unwrap_or(u16::MAX),
                fixes: piece.fixes.clone(),
            })
            .collect();
        for (file, _) in &self.waypoints {
            place_of(*file);
        }
        let records: Vec<Filed> = self
            .records
            .iter()
            .map(|(file, record)| Filed { source: place_of(*file), record: record.clone() })
            .collect();
        sources.extend(self.photos.iter().map(|photo| photo.source.clone()));
        let mut remarks = Vec::new();
        let span = self.span.map(|span| (span.start, span.end));
        let zone =
            zone::choose(options, &self.photos, &records, self.place_known(), span, &mut remarks);
        Gathered {
            sources,
            runs,
            waypoints: self.waypoints.into_iter().map(|(_, point)| point).collect(),
            photos: self.photos,
            records,
            zone,
            set_aside: Vec::new(),
            remarks,
        }
    }

    /// Where it was, from whatever says so.
    fn place_known(&self) -> Option<LatLon> {
        let waypoint = || self.waypoints.first().map(|(_, point)| point.fix.at);
        let photo = || self.photos.iter().find_map(|photo| photo.gps.at);
        let record = || {
            self.records.iter().find_map(|(_, record)| {
                let readings = &record.coordinates.as_ref()?.readings;
                (readings.len() == 1).then(|| readings[0].at)
            })
        };
        self.place.or_else(waypoint).or_else(photo).or_else(record)
    }
}

/// The pieces of tracks as outings.
fn outings_of(pieces: Vec<Piece>) -> Vec<Draft> {
    let mut timed: Vec<(Span, Piece)> = Vec::new();
    let mut untimed = Vec::new();
    for piece in pieces.into_iter().flat_map(Piece::parted) {
        match piece.span() {
            Some(span) => timed.push((span, piece)),
            None => untimed.push(piece),
        }
    }
    timed.sort_by_key(|(span, _)| span.start);
    let mut outings: Vec<Draft> = Vec::new();
    for (span, piece) in timed {
        let place = piece.fixes.get(piece.fixes.len() / 2).map(|fix| fix.at);
        match outings.last_mut() {
            Some(Draft { span: Some(before), pieces, .. })
                if Seconds::between(before.end, span.start).0 <= PAUSE =>
            {
                before.end = before.end.max(span.end);
                pieces.push(piece);
            }
            _ => outings.push(Draft {
                span: Some(span),
                place,
                pieces: vec![piece],
                ..Draft::default()
            }),
        }
    }
    for piece in untimed {
        let same_file = outings.iter().position(|o| o.pieces.iter().any(|p| p.file == piece.file));
        let place = piece.fixes.first().map(|fix| fix.at);
        match same_file.or((!outings.is_empty()).then_some(0)) {
            Some(outing) => outings[outing].pieces.push(piece),
            None => outings.push(Draft { place, pieces: vec![piece], ..Draft::default() }),
        }
    }
    outings
}

/// The photographs of each camera, parted where it rests for hours; those without a time apart.
fn sessions(photos: Vec<Photo>, untimed: &mut Vec<Photo>) -> Vec<Vec<Photo>> {
    let mut cameras: BTreeMap<_, Vec<Photo>> = BTreeMap::new();
    for photo in photos {
        if photo.taken.is_some() {
            cameras.entry(photo.camera.clone()).or_default().push(photo);
        } else {
            untimed.push(photo);
        }
    }
    let mut sessions: Vec<Vec<Photo>> = Vec::new();
    for (_, mut photos) in cameras {
        photos.sort_by_key(|photo| (photo.taken, photo.name()));
        let mut last: Option<Timestamp> = None;
        for photo in photos {
            let time = photo.taken.map(ClockOffset::as_if_utc);
            let rest = match (last, time) {
                (Some(last), Some(time)) => Seconds::between(last, time).0 > PAUSE,
                _ => true,
            };
            last = time;
            match sessions.last_mut() {
                Some(session) if !rest => session.push(photo),
                _ => sessions.push(vec![photo]),
            }
        }
    }
    sessions
}

/// The outing with a track that a session of photographs lies nearest to. Where there is one only,
/// a camera on the wrong date belongs to it as well.
fn nearest_outing(session: &[Photo], outings: &[Draft]) -> Option<usize> {
    let instant = |photo: &Photo, zone: Option<&jiff::tz::TimeZone>| -> Option<Timestamp> {
        let reading = ClockOffset::as_if_utc(photo.taken?);
        let ahead = match (photo.offset, zone) {
            (Some(offset), _) => f64::from(offset.seconds()),
            (None, Some(zone)) => f64::from(zone.to_offset(reading).seconds()),
            (None, None) => 0.0,
        };
        Some(Seconds(-ahead).after(reading))
    };
    let tracked: Vec<usize> = (0..outings.len()).filter(|&o| outings[o].span.is_some()).collect();
    let mut best: Option<(f64, usize)> = None;
    for &outing in &tracked {
        let Some(span) = outings[outing].span else { continue };
        let zone = outings[outing].local_zone();
        let ends = (session.first()?, session.last()?);
        let taken =
            Span { start: instant(ends.0, zone.as_ref())?, end: instant(ends.1, zone.as_ref())? };
        let outside = Seconds::between(taken.end, span.start)
            .0
            .max(Seconds::between(span.end, taken.start).0);
        let apart = taken.apart(&span);
        if outside < CLOCK_REACH && best.is_none_or(|(least, _)| apart < least) {
            best = Some((apart, outing));
        }
    }
    let lone = || (tracked.len() == 1 && session.len() >= 3).then(|| tracked[0]);
    best.map(|(_, outing)| outing).or_else(lone)
}

fn outing_on(outings: &[Draft], date: Option<Date>) -> Option<usize> {
    let date = date?;
    outings.iter().position(|outing| outing.covers(date))
}

/// The outing of a date, made where there is none. No date: the first one.
fn on_date(outings: &mut Vec<Draft>, date: Option<Date>) -> &mut Draft {
    let found = match date {
        Some(_) => outing_on(outings, date),
        None => (!outings.is_empty()).then_some(0),
    };
    let index = found.unwrap_or_else(|| {
        outings.push(Draft { date, ..Draft::default() });
        outings.len() - 1
    });
    &mut outings[index]
}

/// The outing that holds a photograph or waypoint that a record names.
fn claimed_in(outings: &[Draft], record: &Record) -> Option<usize> {
    outings.iter().position(|outing| {
        outing.photos.iter().any(|photo| {
            record.photos.iter().any(|named| super::written::names(named, &photo.name()))
        })
    })
}

/// Whether a date is a likely slip of the pen for another: another year, day and month changed over,
/// or a day or two off.
fn is_slip(written: Date, meant: Option<Date>) -> bool {
    let Some(meant) = meant else { return false };
    let same_day = written.month() == meant.month() && written.day() == meant.day();
    let swapped = written.month() == meant.day()
        && written.day() == meant.month()
        && written.year() == meant.year();
    let days = written.until(meant).map_or(i32::MAX, |span| span.get_days().abs());
    same_day || swapped || days <= 2
}
