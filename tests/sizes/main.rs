//! Inputs of extreme size: memory stays within twice the input plus 200 MiB, or the input is
//! refused with the limit. Memory is the peak of the allocator, so nothing depends on time; for
//! inputs that once took minutes, termination is the test.

#![allow(clippy::format_collect, reason = "readable rows of large inputs")]
#![allow(clippy::unwrap_used)]

mod tracks;
mod workbooks;

use std::fmt::Write as _;
use std::fs;
use std::io::Cursor;
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use peak_alloc::PeakAlloc;
use trug::earth::elevation::{Bounds, Relief};
use trug::ingest::{gpx, photo, record};
use trug::join::{Options, join};
use trug::model::{Day, Intake};
use trug::units::{LatLon, Metres};

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;
static TURN: Mutex<()> = Mutex::new(());

const MIB: usize = 1 << 20;

/// One test at a time, since others would use memory.
fn turn() -> MutexGuard<'static, ()> {
    TURN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A result and its peak memory, bytes.
fn measured<T>(work: impl FnOnce() -> T) -> (T, usize) {
    let before = MEMORY.current_usage();
    MEMORY.reset_peak_usage();
    let result = work();
    (result, MEMORY.peak_usage().saturating_sub(before))
}

fn assert_bounded(input: usize, peak: usize, what: &str) {
    let most = 2 * input + 200 * MIB;
    assert!(peak <= most, "{what}: {} MiB for {} KiB of input", peak / MIB, input >> 10);
}

/// A GPX file of segments, each with the points at these seconds since the epoch.
fn track(segments: impl Iterator<Item = Vec<i64>>) -> String {
    let mut text = String::from("<gpx version=\"1.1\"><trk>");
    let mut place = 0;
    for seconds in segments {
        text.push_str("<trkseg>");
        for second in seconds {
            let time = jiff::Timestamp::from_second(second).unwrap();
            place = (place + 1) % 1_000;
            let _ = write!(
                text,
                "<trkpt lat=\"-42.50{place:03}\" lon=\"146.25\"><time>{time}</time></trkpt>"
            );
        }
        text.push_str("</trkseg>");
    }
    text + "</trk></gpx>"
}

fn joined(gpx: &str) -> Vec<Day> {
    let file = gpx::read_from(gpx.as_bytes(), Path::new("a.gpx")).unwrap();
    join(Intake { tracks: vec![file], ..Intake::default() }, &Options::default())
}

/// Joins a track: no fix is lost, and memory is bounded.
fn assert_joins(gpx: &str, fixes: usize, what: &str) -> usize {
    let (days, peak) = measured(|| joined(gpx));
    assert_eq!(days.iter().map(|day| day.fixes.len()).sum::<usize>(), fixes, "{what}");
    assert_bounded(gpx.len(), peak, what);
    peak
}

const YEAR: i64 = 365 * 86_400;

#[test]
fn fixes_years_apart_take_no_memory_for_the_years() {
    let _turn = turn();
    let every = |count: i64, apart: i64| {
        track(std::iter::once((0..count).map(|k| (k - count / 2) * apart).collect()))
    };
    // from the year 0 to the year 9999 at the most
    assert_joins(&every(3_900, YEAR), 3_900, "a year apart");
    assert_joins(&every(9_998, 20 * 86_400), 9_998, "twenty days apart");
    let hours = assert_joins(&every(20_000, 4 * 3_600), 20_000, "four hours apart");
    let seconds = assert_joins(&every(20_000, 4), 20_000, "four seconds apart");
    assert!(hours < 4 * seconds, "{hours} bytes for years, {seconds} for a day");
}

#[test]
fn tiny_segments_of_any_number_are_one_walk() {
    let _turn = turn();
    let one_by_one = track((0..60_000).map(|second| vec![second]));
    assert_eq!(joined(&one_by_one).len(), 1);
    assert_joins(&one_by_one, 60_000, "segments of one fix");
    let at_once = track((0..6_000).map(|k| vec![k % 7, 600 + k % 11]));
    assert_joins(&at_once, 12_000, "segments of one time");
}

#[test]
fn segments_without_times_are_shared_out_once() {
    let _turn = turn();
    let mut text = track((0..2_000).map(|second| vec![second * 30]));
    text.truncate(text.len() - "</trk></gpx>".len());
    text.push_str(&"<trkseg><trkpt lat=\"-42.5\" lon=\"146\"/></trkseg>".repeat(60_000));
    text.push_str("</trk></gpx>");
    assert_joins(&text, 62_000, "segments without times");
}

fn read(table: &str) -> trug::error::Result<trug::model::RecordFile> {
    record::read_from(table.as_bytes(), Path::new("a.csv"))
}

#[test]
fn repeated_headings_are_read_in_proportion() {
    let _turn = turn();
    let table = |count: usize| {
        let headings = ",Weather".repeat(count);
        format!("number,date{headings}\n1,2026-05-03{}\n", ",dry".repeat(count))
    };
    let peaks = [2_500, 5_000].map(|count| {
        let text = table(count);
        let (file, peak) = measured(|| read(&text).unwrap());
        assert_eq!(file.records[0].fields.len(), count);
        assert_bounded(text.len(), peak, "repeated headings");
        peak
    });
    assert!(peaks[1] < 3 * peaks[0], "{peaks:?}");
    let refused = read(&table(20_000)).unwrap_err();
    assert!(refused.why().unwrap().contains("the limit is 10000"), "{refused}");
}

#[test]
fn unclosed_quote_spans_at_most_one_row() {
    let _turn = turn();
    let text = format!("number,notes\n1,\"brown\n{}", "2,black\n".repeat(90_000));
    let (file, peak) = measured(|| read(&text).unwrap());
    assert_eq!(file.records.len(), 90_001);
    assert_bounded(text.len(), peak, "an open quote");
    // larger than the rows that a table may have
    let text = format!("number,notes\n1,\"brown\n{}", "2,black and soft\n".repeat(3_000_000));
    let (refused, peak) = measured(|| read(&text).unwrap_err());
    assert!(refused.why().unwrap().contains("100000 rows"), "{refused}");
    assert_bounded(text.len(), peak, "an open quote in 50 MB");
    let open = format!("number,notes\n{}", "1,\"brown\n".repeat(90_000));
    let (file, peak) = measured(|| read(&open).unwrap());
    assert_eq!((file.records.len(), file.remarks.len()), (90_000, 1));
    assert_bounded(open.len(), peak, "an open quote in each row");
}

#[test]
fn a_table_of_one_line_is_refused_with_the_limit() {
    let _turn = turn();
    let text = format!("number,notes\n1,{}", "x".repeat(60 * MIB));
    let (refused, peak) = measured(|| read(&text).unwrap_err());
    assert!(refused.why().unwrap().contains("1024 KiB"), "{refused}");
    assert_bounded(text.len(), peak, "one line");
}

#[test]
fn cells_that_cannot_be_read_are_reported_once_for_each_cause() {
    let _turn = turn();
    let text = format!("number,date,time,elevation\n{}", "1,x,y,z\n".repeat(90_000));
    let (file, peak) = measured(|| read(&text).unwrap());
    assert_eq!((file.records.len(), file.set_aside.len()), (90_000, 3));
    assert!(file.set_aside[0].what().contains("90000 rows"), "{}", file.set_aside[0]);
    assert_bounded(text.len(), peak, "cells that cannot be read");
}

#[test]
fn header_with_megabytes_of_padding_is_abandoned() {
    let _turn = turn();
    let padded = [&b"\xff\xd8"[..], &vec![0xff; 8 * MIB]].concat();
    let chunks = [&b"\x89PNG\r\n\x1a\n"[..], &b"\0\0\0\0abcdcrc.".repeat(800_000)].concat();
    let boxes = [&b"RIFF\0\0\0\0WEBP"[..], &b"abcd\0\0\0\0".repeat(900_000)].concat();
    for bytes in [padded, chunks, boxes] {
        let (read, peak) = measured(|| photo::read_from(Cursor::new(&bytes), Path::new("a.jpg")));
        assert!(read.map_or(true, |photo| photo.taken.is_none()));
        assert!(peak < 64 * MIB, "{} MiB", peak / MIB);
    }
}

/// The memory for reading the elevations around a place, and whether it is refused.
fn ground(name: &str, bytes: &[u8]) -> (bool, usize) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    fs::write(&path, bytes).unwrap();
    let middle = LatLon::new(-42.5, 146.5).unwrap();
    let bounds = Bounds::about(&[middle], Metres(60_000.0)).unwrap();
    measured(|| Relief::open(&[path]).and_then(|relief| relief.read(&bounds)).is_err())
}

#[test]
fn tiles_that_claim_more_than_they_hold_are_refused_before_memory_is_taken() {
    let _turn = turn();
    let grid = |columns: u64, cell: f64| {
        format!(
            "ncols {columns}\nnrows {columns}\nxllcorner 146\nyllcorner -43\ncellsize {cell}\n1 2\n"
        )
    };
    for (columns, cell) in [(1_000_000_000, 1e-9), (100_000, 1e-5), (30_000, 3.3e-5), (2_000, 5e-4)]
    {
        let (refused, peak) = ground("a.asc", grid(columns, cell).as_bytes());
        assert!(refused && peak < 64 * MIB, "{columns}: {} MiB", peak / MIB);
    }
}
