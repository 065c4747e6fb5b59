//! Simulates a day as read from files, with its truth.

use std::f64::consts::TAU;

use jiff::civil::{DateTime, Time};
use jiff::tz::Offset;
use trug::earth::{local::Plane, zone};
use trug::model::{
    Camera, FileKind, Fix, Intake, Photo, PhotoGps, PhotoRef, Record, RecordFile, RecordNumber,
    Segment, SourceFile, TimePrecision, Track, TrackFile, WrittenTime,
};
use trug::units::{LatLon, Seconds, Timestamp};

use super::condition::Condition;
use super::random::Random;
use super::receiver::{self, Recorded};
use super::walker::{self, Way};

/// A day and its truth.
pub(crate) struct SimulatedDay {
    pub(crate) intake: Intake,
    pub(crate) plane: Plane,
    pub(crate) start: Timestamp,
    pub(crate) way: Way,
    pub(crate) fixes: Vec<Recorded>,
    /// Which fixes jumped away.
    pub(crate) spoilt: Vec<bool>,
    pub(crate) gaps: Vec<(f64, f64)>,
    pub(crate) finds: Vec<TrueFind>,
}

/// The truth of a find.
pub(crate) struct TrueFind {
    pub(crate) number: String,
    pub(crate) east: f64,
    pub(crate) north: f64,
    /// True times of its photographs, seconds from the start.
    pub(crate) shots: Vec<f64>,
    /// The true stand.
    pub(crate) stop: (f64, f64),
}

/// Simulates the day of this seed.
pub(crate) fn simulate(condition: &Condition, seed: u64) -> SimulatedDay {
    simulate_on(condition, seed, 0)
}

/// The same so many days later, with file names and numbers of its own.
pub(crate) fn simulate_on(condition: &Condition, seed: u64, later: u32) -> SimulatedDay {
    let mut random = Random::new(
        seed.wrapping_mul(7_919) ^ condition.name.len() as u64 ^ (condition.sigma * 100.0) as u64,
    );
    let way = walker::walk(condition, &mut random);
    let record = receiver::record(condition, &way, &mut random);
    assembled(condition, later, way, record, &mut random)
}

/// The files of a day that was walked and recorded so.
pub(crate) fn assembled(
    condition: &Condition,
    later: u32,
    way: Way,
    record: receiver::Record,
    random: &mut Random,
) -> SimulatedDay {
    let plane = Plane::about(LatLon::new(condition.latitude, condition.longitude).unwrap());
    let first: Timestamp = "2026-05-02T22:40:00Z".parse().unwrap();
    let start = Seconds(86_400.0 * f64::from(later)).after(first);
    let receiver::Record { fixes, spoilt, gaps } = record;
    let finds = finds(&way, later, random);
    let (photos, claims) = photos(condition, (start, later), &way, &finds, random);
    let records = records(condition, start, &finds, &claims, random);
    let track = Track {
        segments: vec![Segment {
            fixes: fixes
                .iter()
                .map(|&(time, east, north, hdop)| Fix {
                    hdop: Some(hdop),
                    ..Fix::bare(
                        rounded(plane.from_plane(east, north)),
                        Some(Seconds(time).after(start)),
                    )
                })
                .collect(),
        }],
        ..Track::default()
    };
    let tracks = vec![TrackFile {
        source: source(&format!("day-{later}.gpx"), FileKind::Gpx),
        creator: None,
        tracks: vec![track],
        routes: Vec::new(),
        waypoints: Vec::new(),
        areas: 0,
        set_aside: Vec::new(),
        points_set_aside: 0,
        checksums_wrong: 0,
        zone_assumed: false,
        remarks: Vec::new(),
    }];
    let records = vec![RecordFile {
        source: source(&format!("day-{later}.csv"), FileKind::Records),
        records,
        set_aside: Vec::new(),
        remarks: Vec::new(),
    }];
    let intake = Intake { tracks, photos, records, ..Intake::default() };
    SimulatedDay { intake, plane, start, way, fixes, spoilt, gaps, finds }
}

/// As files have it: seven decimals.
fn rounded(place: LatLon) -> LatLon {
    let round = |x: f64| (x * 1e7).round() / 1e7;
    LatLon::new(round(place.latitude()), round(place.longitude())).unwrap_or(place)
}

fn source(name: &str, kind: FileKind) -> SourceFile {
    SourceFile { path: name.into(), kind, bytes: 1, hash: name.into() }
}

fn finds(way: &Way, later: u32, random: &mut Random) -> Vec<TrueFind> {
    let stops = way.stops.iter().filter(|stop| stop.find);
    stops
        .enumerate()
        .map(|(k, stop)| {
            let count = random.whole(1, 4);
            let mut shots: Vec<f64> =
                (0..count).map(|_| random.between(stop.start + 3.0, stop.end - 3.0)).collect();
            shots.sort_by(f64::total_cmp);
            let (reach, angle) = (random.between(0.0, 1.2), random.between(0.0, TAU));
            TrueFind {
                number: format!("K-{:03}", 100 * later as usize + k + 1),
                east: stop.east + reach * angle.sin(),
                north: stop.north + reach * angle.cos(),
                shots,
                stop: (stop.start, stop.end),
            }
        })
        .collect()
}

/// Photographs in order of time, and for each find the names of its own.
fn photos(
    condition: &Condition,
    (start, later): (Timestamp, u32),
    way: &Way,
    finds: &[TrueFind],
    random: &mut Random,
) -> (Vec<Photo>, Vec<Vec<String>>) {
    // one photograph in fourteen is of the path, a tree, a companion
    let mut shots: Vec<(f64, Option<usize>)> = finds
        .iter()
        .enumerate()
        .flat_map(|(k, find)| find.shots.iter().map(move |&shot| (shot, Some(k))))
        .collect();
    for _ in 0..shots.len() / 14 {
        shots.push((random.between(0.0, way.seconds()), None));
    }
    shots.sort_by(|a, b| a.0.total_cmp(&b.0));
    let place = LatLon::new(condition.latitude, condition.longitude).unwrap();
    let zone = zone::at(place).map_or(jiff::tz::TimeZone::UTC, |(_, zone)| zone);
    let local = zone.to_offset(start);
    let mut claims = vec![Vec::new(); finds.len()];
    let photos = shots
        .iter()
        .enumerate()
        .map(|(n, &(shot, find))| {
            let name = format!("P{later}{:04}.JPG", 1_000 + n);
            if let Some(find) = find {
                claims[find].push(name.clone());
            }
            let reading = Seconds(shot + condition.ahead).after(start);
            let taken = whole_seconds(local.to_datetime(reading));
            photo(&name, taken, condition.tag.then_some(local))
        })
        .collect();
    (photos, claims)
}

fn whole_seconds(time: DateTime) -> DateTime {
    time.date().at(time.hour(), time.minute(), time.second(), 0)
}

fn photo(name: &str, taken: DateTime, offset: Option<Offset>) -> Photo {
    Photo {
        source: source(name, FileKind::Photo),
        camera: Camera { make: Some("Ferrule".into()), model: Some("F2".into()), serial: None },
        taken: Some(taken),
        offset,
        gps: PhotoGps::default(),
        remarks: Vec::new(),
        damaged: false,
    }
}

fn records(
    condition: &Condition,
    start: Timestamp,
    finds: &[TrueFind],
    claims: &[Vec<String>],
    random: &mut Random,
) -> Vec<Record> {
    let place = LatLon::new(condition.latitude, condition.longitude).unwrap();
    let zone = zone::at(place).map_or(jiff::tz::TimeZone::UTC, |(_, zone)| zone);
    finds
        .iter()
        .zip(claims)
        .enumerate()
        .map(|(line, (find, photos))| {
            // written while stationary or soon after; minutes cut off as often as rounded
            let written = random.between(find.stop.0, find.stop.1 + 40.0)
                + if random.chance(0.5) { 30.0 } else { 0.0 };
            let local = zone.to_datetime(Seconds(written).after(start));
            let time = Time::new(local.hour(), local.minute(), 0, 0).unwrap();
            Record {
                number: Some(RecordNumber(find.number.clone())),
                date: Some(local.date()),
                time: condition
                    .notes
                    .then_some(WrittenTime { clock: time, precision: TimePrecision::Minute }),
                photos: photos.iter().map(|name| PhotoRef(name.clone())).collect(),
                line: line as u64 + 2,
                ..Record::default()
            }
        })
        .collect()
}
