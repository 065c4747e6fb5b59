//! Measures time and memory of reading a GPX file, against crate `gpx`, a `quick-xml` pull loop
//! that only counts tags, and a scan that only counts bytes, on one file in one run.
//!
//! `cargo bench --bench gpx [-- --points 1000000]`

#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs)]

use std::fs::File;
use std::hint::black_box;
use std::io::{BufReader, BufWriter, Read, Write};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use quick_xml::events::Event;
use quick_xml::reader::Reader;

type Contestant = (&'static str, fn(&Path) -> usize);

const CONTESTANTS: [Contestant; 4] = [
    ("byte scan (floor)", scan),
    ("bare quick-xml pull loop", pull),
    ("trug", trug),
    ("crate gpx 0.10", library),
];

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(place) = arguments.iter().position(|each| each == "--peak") {
        let (_, read) = CONTESTANTS.iter().find(|(name, _)| *name == arguments[place + 1]).unwrap();
        read(Path::new(&arguments[place + 2]));
        println!("{}", peak_memory_kib().unwrap_or(0));
        return;
    }
    let wanted = arguments.iter().position(|each| each == "--points");
    let points: usize = wanted.map_or(200_000, |place| arguments[place + 1].parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("day.gpx");
    write_track(&path, points);
    let size = std::fs::metadata(&path).unwrap().len() as f64 / 1e6;
    println!("{points} points, {size:.1} MB, best of three\n");
    println!(
        "{:<26} {:>9} {:>9} {:>12} {:>10} {:>9}",
        "reader", "time", "MB/s", "x pull loop", "x trug", "peak MiB"
    );
    let times = CONTESTANTS.map(|(_, read)| best(read, &path));
    for ((name, _), time) in CONTESTANTS.iter().zip(times) {
        let seconds = time.as_secs_f64();
        println!(
            "{name:<26} {:>7.3} s {:>9.0} {:>12.2} {:>10.2} {:>9.0}",
            seconds,
            size / seconds,
            seconds / times[1].as_secs_f64(),
            seconds / times[2].as_secs_f64(),
            peak_of(name, &path),
        );
    }
}

fn best(read: fn(&Path) -> usize, path: &Path) -> Duration {
    let runs = (0..3).map(|_| {
        let start = Instant::now();
        black_box(read(path));
        start.elapsed()
    });
    runs.min().unwrap()
}

fn scan(path: &Path) -> usize {
    let mut file = File::open(path).unwrap();
    let mut chunk = vec![0; 65_536];
    let mut tags = 0;
    loop {
        match file.read(&mut chunk).unwrap() {
            0 => return tags,
            count => tags += memchr::memchr_iter(b'<', &chunk[..count]).count(),
        }
    }
}

fn pull(path: &Path) -> usize {
    let file = BufReader::with_capacity(65_536, File::open(path).unwrap());
    let mut xml = Reader::from_reader(file);
    let mut token = Vec::new();
    let mut points = 0;
    loop {
        token.clear();
        match xml.read_event_into(&mut token).unwrap() {
            Event::Start(tag) if tag.name().as_ref() == "trkpt" => points += 1,
            Event::Eof => return points,
            _ => {}
        }
    }
}

fn trug(path: &Path) -> usize {
    trug::ingest::gpx::read(path).unwrap().fixes().count()
}

fn library(path: &Path) -> usize {
    let file = BufReader::with_capacity(65_536, File::open(path).unwrap());
    let read = gpx::read(file).unwrap();
    read.tracks.iter().flat_map(|track| &track.segments).map(|each| each.points.len()).sum()
}

/// A walk with every element that receivers write.
fn write_track(path: &Path, points: usize) {
    let mut file = BufWriter::new(File::create(path).unwrap());
    writeln!(
        file,
        r#"<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="bench" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="http://example.org/x">
 <trk><name>walk</name><trkseg>"#
    )
    .unwrap();
    let start: jiff::Timestamp = "2026-05-03T00:00:00Z".parse().unwrap();
    for point in 0..points {
        let angle = point as f64 * 1e-4;
        let time = start + jiff::SignedDuration::from_secs(i64::try_from(point).unwrap());
        writeln!(
            file,
            r#"  <trkpt lat="{:.7}" lon="{:.7}">
   <ele>{:.2}</ele>
   <time>{time}</time>
   <fix>3d</fix><sat>{}</sat><hdop>{:.1}</hdop><vdop>1.4</vdop><pdop>1.9</pdop>
   <extensions><x:Point><x:speed>0.71</x:speed><x:course>143.2</x:course></x:Point></extensions>
  </trkpt>"#,
            -42.1 + 0.01 * angle.sin(),
            146.2 + 0.01 * angle.cos(),
            400.0 + 20.0 * (3.0 * angle).sin(),
            5 + point % 9,
            0.8 + (point % 13) as f64 / 10.0,
        )
        .unwrap();
    }
    writeln!(file, " </trkseg></trk>\n</gpx>").unwrap();
}

/// Peak memory of reading the file, MiB, measured in a separate process.
fn peak_of(name: &str, path: &Path) -> f64 {
    let own = std::env::current_exe().unwrap();
    let output = Command::new(own).arg("--peak").arg(name).arg(path).output().unwrap();
    String::from_utf8_lossy(&output.stdout).trim().parse::<f64>().unwrap_or(f64::NAN) / 1024.0
}

fn peak_memory_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}
