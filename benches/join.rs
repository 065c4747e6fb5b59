//! Measures the run time of cleaning, smoothing and joining, and its growth with the number of fixes: days
//! of 3,000 to 1,000,000 fixes at one second, then a day of 30,000 fixes with 300 photographs and 100
//! records. `benches/join_in_python.py` times a general library's smoother on a similar track.

#![allow(clippy::print_stdout, missing_docs)]

#[path = "shared/processor.rs"]
mod processor;

use std::hint::black_box;
use std::time::Instant;

use trug::join::{Options, join};
use trug::model::{
    Camera, FileKind, Fix, Intake, Photo, PhotoGps, PhotoRef, Record, RecordFile, RecordNumber,
    Segment, SourceFile, Track, TrackFile,
};
use trug::units::{LatLon, Seconds, TimeZone, Timestamp};

fn main() {
    println!("Cleaned, distinguished, smoothed, into track and stands (no photographs)\n");
    println!("| fixes | ms | ms of processor | microseconds of it a fix |\n|---|---|---|---|");
    for count in [3_000, 30_000, 100_000, 300_000, 1_000_000] {
        let (clock, spent) = best(if count > 100_000 { 2 } else { 5 }, || day(count, 0, 0));
        let each = spent * 1e3 / f64::from(count);
        println!("| {count} | {clock:.1} | {spent:.1} | {each:.2} |");
    }
    println!("\nA day of 30,000 fixes with photographs and records, everything\n");
    println!("| photographs | records | ms | ms of processor |\n|---|---|---|---|");
    for (photos, records) in [(0, 0), (300, 0), (300, 100)] {
        let (clock, spent) = best(3, || day(30_000, photos, records));
        println!("| {photos} | {records} | {clock:.1} | {spent:.1} |");
    }
}

/// Milliseconds by the clock and of processor, the least of each.
fn best(runs: u32, make: impl Fn() -> Intake) -> (f64, f64) {
    let once = || {
        let intake = make();
        let (start, spent) = (Instant::now(), processor::seconds());
        black_box(join(intake, &Options::default()));
        (start.elapsed().as_secs_f64() * 1e3, (processor::seconds() - spent) * 1e3)
    };
    (0..runs)
        .map(|_| once())
        .fold((f64::INFINITY, f64::INFINITY), |least, run| (least.0.min(run.0), least.1.min(run.1)))
}

fn start() -> Timestamp {
    "2026-05-02T22:00:00Z".parse().unwrap_or(Timestamp::UNIX_EPOCH)
}

/// Goes five minutes and stands two, again and again; every stop may be photographed.
fn day(count: u32, photos: u32, records: u32) -> Intake {
    let mut intake = Intake { tracks: vec![track(count)], ..Intake::default() };
    intake.photos = (0..photos).map(|n| photo(n, count)).collect();
    if records > 0 {
        let records = (0..records).map(|n| record(n, photos / records)).collect();
        let (source, set_aside) = (source("day.csv", FileKind::Records), Vec::new());
        intake.records.push(RecordFile { source, records, set_aside, remarks: Vec::new() });
    }
    intake
}

fn track(count: u32) -> TrackFile {
    let (mut east, mut north) = (0.0, 0.0);
    let mut noise = Noise(1);
    let (mut error_east, mut error_north) = (0.0, 0.0);
    let fixes = (0..count)
        .map(|second| {
            let time = f64::from(second);
            if second % 420 < 300 {
                let heading = (time / 2_000.0).sin() * 3.0 + time / 5_000.0;
                east += 0.9 * heading.sin();
                north += 0.9 * heading.cos();
            }
            error_east = 0.992 * error_east + 0.89 * noise.normal();
            error_north = 0.992 * error_north + 0.89 * noise.normal();
            let spike = if second % 1_999 == 0 { 150.0 } else { 0.0 };
            let latitude = -42.0 + (north + error_north + spike) / 111_000.0;
            let longitude = 146.0 + (east + error_east) / 82_500.0;
            Fix::bare(LatLon::clamped(latitude, longitude), Some(Seconds(time).after(start())))
        })
        .collect();
    TrackFile {
        source: source("day.gpx", FileKind::Gpx),
        creator: None,
        zone_assumed: false,
        tracks: vec![Track { segments: vec![Segment { fixes }], ..Track::default() }],
        routes: Vec::new(),
        waypoints: Vec::new(),
        areas: 0,
        set_aside: Vec::new(),
        points_set_aside: 0,
        checksums_wrong: 0,
        remarks: Vec::new(),
    }
}

/// Photographs four to a stop, by a camera an hour and two minutes ahead.
fn photo(n: u32, count: u32) -> Photo {
    let stop = n / 4 % (count / 420).max(1);
    let time = f64::from(stop * 420 + 315 + n % 4 * 25) + 36_000.0 + 3_720.0;
    Photo {
        source: source(&format!("P{n:04}.JPG"), FileKind::Photo),
        camera: Camera::default(),
        taken: Some(TimeZone::UTC.to_datetime(Seconds(time).after(start()))),
        offset: None,
        gps: PhotoGps::default(),
        remarks: Vec::new(),
        damaged: false,
    }
}

fn record(n: u32, photos: u32) -> Record {
    Record {
        number: Some(RecordNumber(format!("B-{n:03}"))),
        photos: (0..photos).map(|k| PhotoRef(format!("P{:04}", n * photos + k))).collect(),
        line: u64::from(n) + 2,
        ..Record::default()
    }
}

fn source(name: &str, kind: FileKind) -> SourceFile {
    SourceFile { path: name.into(), kind, bytes: 1, hash: name.into() }
}

/// The sum of twelve uniform numbers less six is normal enough for a clock.
struct Noise(u64);

impl Noise {
    fn normal(&mut self) -> f64 {
        let mut sum = -6.0;
        for _ in 0..12 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            sum += (self.0 >> 11) as f64 / (1_u64 << 53) as f64;
        }
        sum
    }
}
