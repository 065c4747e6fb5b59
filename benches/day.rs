//! Measures the time of an import by step: a day of 30,000 fixes, 300 photographs of 4 MB and 100
//! records, from the folder to the store, with a baseline in the same run: a bare `quick-xml` loop
//! over the track and 16 KiB read of each photograph.
//!
//! `cargo bench --bench day`

#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs)]

use std::fmt::Write as _;
use std::fs::{self, File};
use std::hint::black_box;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Instant;

use jiff::Timestamp;
use trug::ingest::folder;
use trug::join::{self, Options};
use trug::present::summary;
use trug::store::Store;

#[path = "shared/photograph.rs"]
mod photograph;

const FIXES: usize = 30_000;
const FINDS: usize = 100;
const PHOTOS_OF_A_FIND: usize = 3;
const ROUNDS: usize = 7;

const STAGES: [&str; 4] = ["read the folder", "join", "store", "summary"];

fn main() {
    let desk = tempfile::tempdir().unwrap();
    let day = desk.path().join("day");
    fs::create_dir(&day).unwrap();
    fs::write(day.join("track.gpx"), track()).unwrap();
    fs::write(day.join("notes.csv"), notes()).unwrap();
    let photos: Vec<PathBuf> = (0..FINDS * PHOTOS_OF_A_FIND)
        .map(|number| {
            let second = stop(number / PHOTOS_OF_A_FIND) + 30 + 15 * (number % PHOTOS_OF_A_FIND);
            photograph::photograph(&day, number, second)
        })
        .collect();
    println!(
        "{FIXES} fixes, {} photographs, {FINDS} records; median of {ROUNDS} rounds",
        photos.len()
    );
    let floor = median((0..ROUNDS).map(|_| floor(&day.join("track.gpx"), &photos)).collect());
    let rounds: Vec<[f64; 4]> =
        (0..ROUNDS).map(|round| import(&day, &desk.path().join(format!("{round}.gpkg")))).collect();
    let stages: Vec<f64> =
        (0..4).map(|stage| median(rounds.iter().map(|round| round[stage]).collect())).collect();
    let whole: f64 = stages.iter().sum();
    println!("{:<18} {:>9} {:>7} {:>12}", "", "ms", "share", "of the floor");
    println!("{:<18} {:>9.1} {:>7} {:>12.2}", "floor", floor * 1e3, "", 1.0);
    for (name, seconds) in STAGES.iter().zip(&stages) {
        let share = 100.0 * seconds / whole;
        println!("{name:<18} {:>9.1} {share:>6.1}% {:>12.2}", seconds * 1e3, seconds / floor);
    }
    println!("{:<18} {:>9.1} {:>6.1}% {:>12.2}", "whole", whole * 1e3, 100.0, whole / floor);
}

fn import(day: &Path, store: &Path) -> [f64; 4] {
    let start = Instant::now();
    let intake = folder::gather(&[day.to_owned()], &|_| {});
    let read = start.elapsed().as_secs_f64();
    let days = join::join(intake, &Options::default());
    let joined = start.elapsed().as_secs_f64();
    let located = days.iter().flat_map(|day| &day.finds).filter(|find| find.place.is_ok()).count();
    assert_eq!(located, FINDS);
    Store::create_or_open(store).unwrap().import(&days, Timestamp::UNIX_EPOCH).unwrap();
    let stored = start.elapsed().as_secs_f64();
    black_box(days.iter().map(summary::day).collect::<String>());
    let reported = start.elapsed().as_secs_f64();
    [read, joined - read, stored - joined, reported - stored]
}

fn floor(track: &Path, photos: &[PathBuf]) -> f64 {
    let start = Instant::now();
    let text = fs::read_to_string(track).unwrap();
    let mut reader = quick_xml::Reader::from_str(&text);
    loop {
        match reader.read_event().unwrap() {
            quick_xml::events::Event::Eof => break,
            event => drop(black_box(event)),
        }
    }
    for photo in photos {
        let mut front = vec![0; 16 * 1024];
        File::open(photo).unwrap().read_exact(&mut front).unwrap();
        black_box(front);
    }
    start.elapsed().as_secs_f64()
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// The second after nine o'clock at which the stop of a find begins.
fn stop(find: usize) -> usize {
    find * (FIXES / FINDS) + 150
}

/// A fix per second: half of each part walking, half stationary, with receiver noise.
fn track() -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"bench\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>\n",
    );
    let start: Timestamp = "2026-05-02T23:00:00Z".parse().unwrap();
    let stretch = FIXES / FINDS;
    let mut walked = 0.0_f64;
    for second in 0..FIXES {
        if second % stretch < 150 {
            walked += 0.9;
        }
        let wander = |period: f64| 6.0 * (second as f64 / period).sin();
        let east = 900.0 * (walked / 900.0).sin() + wander(37.0);
        let north = 900.0 * (walked / 700.0).cos() + wander(53.0);
        let (latitude, longitude) = (-42.51 + north / 111_100.0, 146.25 + east / 82_000.0);
        let time = start + jiff::SignedDuration::from_secs(i64::try_from(second).unwrap());
        writeln!(
            text,
            "<trkpt lat=\"{latitude:.7}\" lon=\"{longitude:.7}\"><ele>{:.1}</ele><time>{time}</time></trkpt>",
            430.0 + wander(400.0)
        )
        .unwrap();
    }
    text + "</trkseg></trk></gpx>\n"
}

fn notes() -> String {
    let mut text = String::from("number,date,time,name,host,substrate,photos\n");
    for find in 0..FINDS {
        let minute = (stop(find) + 60) / 60;
        let first = find * PHOTOS_OF_A_FIND;
        writeln!(
            text,
            "BN-{find:03},2026-05-03,{:02}:{:02},Mycena interrupta,beech,wood,P{first:04}-P{:04}",
            9 + minute / 60,
            minute % 60,
            first + PHOTOS_OF_A_FIND - 1
        )
        .unwrap();
    }
    text
}
