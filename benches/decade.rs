//! Measures queries on stores of 20, 200 and 2,000 days (up to 40 million track points, a million
//! finds) in a temporary folder, each query as its own process, first and repeated. Prints seconds,
//! cost per day, the ratio to the smaller store (10 is linear), and peak memory. `--days N,M` sets
//! other sizes, `--keep FOLDER` keeps the stores.

#![allow(clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]

#[path = "shared/many_days.rs"]
mod many_days;

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use trug::analyse::statistics::Rng;
use trug::model::{StationValues, WeatherElement, WeatherStation, WeatherValue};
use trug::store::Store;
use trug::units::{LatLon, Metres};

/// Days that are imported together.
const BATCH: usize = 20;

const QUESTIONS: [(&str, &[&str]); 16] = [
    ("sites, first time", &["sites"]),
    ("sites", &["sites"]),
    ("sites as JSON", &["sites", "--format", "json"]),
    ("visits", &["visits"]),
    ("effort by day", &["effort"]),
    ("effort by week", &["effort", "--by", "week"]),
    ("effort by site", &["effort", "--by", "site"]),
    ("effort by elevation", &["effort", "--by", "elevation"]),
    ("season of a taxon", &["season", "--taxon", "Mycena interrupta"]),
    ("stations of weather", &["weather"]),
    ("weather of a taxon", &["season", "--taxon", "Mycena interrupta", "--weather"]),
    ("years of all taxa", &["years"]),
    ("years with weather", &["years", "--weather"]),
    ("detection of a taxon", &["detection", "--taxon", "Mycena interrupta"]),
    ("density of a taxon", &["density", "--taxon", "Mycena interrupta", "--figure", "map.png"]),
    ("next", &["next", "--date", "2026-05-09", "--hours", "4"]),
];

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let after = |flag: &str| {
        arguments.iter().position(|word| word == flag).and_then(|place| arguments.get(place + 1))
    };
    let sizes: Vec<usize> = after("--days").map_or_else(
        || vec![20, 200, 2_000],
        |list| list.split(',').map(|n| n.parse().unwrap()).collect(),
    );
    let temporary = tempfile::tempdir().unwrap();
    let folder = after("--keep").map_or_else(|| temporary.path().to_owned(), PathBuf::from);
    let mut before: HashMap<&str, f64> = HashMap::new();
    for days in sizes {
        let path = folder.join(format!("{days}-days.gpkg"));
        let (making, day_more) = if path.exists() { (0.0, 0.0) } else { make(&path, days) };
        let size = std::fs::metadata(&path).unwrap().len() as f64 / 1e6;
        println!(
            "\n{days} days, {} points, {} finds: {size:.0} MB, made in {making:.1} s, one day more {day_more:.2} s",
            days * many_days::POINTS,
            days * many_days::FINDS
        );
        println!(
            "{:<22} {:>9} {:>9} {:>11} {:>10} {:>9}",
            "question", "seconds", "CPU s", "CPU ms/day", "to before", "peak MB"
        );
        for (name, words) in QUESTIONS {
            let cost = ask(&folder, &path, words);
            let ratio = before
                .insert(name, cost.processor)
                .map_or(String::new(), |before| format!("{:.1}", cost.processor / before));
            println!(
                "{name:<22} {:>9.3} {:>9.2} {:>11.3} {ratio:>10} {:>9.0}",
                cost.seconds,
                cost.processor,
                cost.processor / days as f64 * 1e3,
                cost.peak
            );
        }
        if after("--keep").is_none() {
            std::fs::remove_file(&path).unwrap();
        }
    }
}

/// Makes the store; seconds for all but the last day, and for that one.
fn make(path: &Path, days: usize) -> (f64, f64) {
    let now: Timestamp = "2026-06-01T12:00:00Z".parse().unwrap();
    let mut store = Store::create_or_open(path).unwrap();
    let mut spent = 0.0;
    for first in (0..days - 1).step_by(BATCH) {
        let batch: Vec<_> = (first..(first + BATCH).min(days - 1))
            .map(|number| many_days::day(number, days))
            .collect();
        let started = Instant::now();
        store.import(&batch, now).unwrap();
        spent += started.elapsed().as_secs_f64();
        if first % 200 == 0 {
            eprintln!("{first} of {days} days, {spent:.1} s of import");
        }
    }
    weather(&mut store, now);
    let last = [many_days::day(days - 1, days)];
    let started = Instant::now();
    store.import(&last, now).unwrap();
    (spent, started.elapsed().as_secs_f64())
}

/// Three stations with forty years of rain and temperature.
fn weather(store: &mut Store, now: Timestamp) {
    let mut rng = Rng::new(41);
    let station = |number: usize| WeatherStation {
        code: format!("S{number}"),
        name: None,
        at: LatLon::new(-42.1 + 0.3 * number as f64, 146.2).ok(),
        elevation: Some(Metres(200.0 * number as f64)),
    };
    let first = jiff::civil::date(1990, 1, 1);
    let mut values = |number: usize| {
        let mut values = Vec::new();
        let mut warm = 0.0;
        for place in 0..365 * 40 {
            let date = first + jiff::Span::new().days(place);
            warm = 0.8 * warm + 2.0 * rng.normal();
            let rain = if rng.uniform() < 0.4 { 8.0 * rng.gamma(0.7) } else { 0.0 };
            let mut push = |element, value| {
                values.push(WeatherValue { date, element, value: Some(value) });
            };
            push(WeatherElement::Rain, rain);
            push(WeatherElement::Maximum, 15.0 + warm);
            push(WeatherElement::Minimum, 5.0 + warm);
        }
        StationValues { code: format!("S{number}"), values }
    };
    let stations: Vec<WeatherStation> = (0..3).map(station).collect();
    let series: Vec<StationValues> = (0..3).map(&mut values).collect();
    store.keep_weather(&stations, &series, false, now).unwrap();
}

/// The cost of a query. Processor time and memory are 0 where the system does not report them.
#[derive(Default)]
struct Cost {
    seconds: f64,
    /// Seconds of all processors together, which other load hardly changes.
    processor: f64,
    /// Peak memory, megabytes.
    peak: f64,
}

/// Runs the program once.
fn ask(folder: &Path, store: &Path, words: &[&str]) -> Cost {
    let started = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_trug"))
        .args(words)
        .args(["--store".as_ref(), store.as_os_str()])
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let own = format!("/proc/{}", child.id());
    let mut cost = Cost::default();
    let ended = loop {
        if let Some((processor, peak)) = reported(&own) {
            cost.processor = cost.processor.max(processor);
            cost.peak = cost.peak.max(peak);
        }
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    cost.seconds = started.elapsed().as_secs_f64();
    assert!(ended.success(), "trug {words:?}: {:?}", child.wait_with_output().unwrap());
    cost
}

/// Processor seconds and peak megabytes of a process, as reported by the system.
fn reported(process: &str) -> Option<(f64, f64)> {
    const TICKS_A_SECOND: f64 = 100.0;
    let stat = std::fs::read_to_string(format!("{process}/stat")).ok()?;
    let after = stat.rsplit_once(')')?.1;
    let field = |place: usize| after.split_whitespace().nth(place)?.parse::<f64>().ok();
    let status = std::fs::read_to_string(format!("{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(((field(11)? + field(12)?) / TICKS_A_SECOND, kilobytes / 1e3))
}
