//! Measures imports and queries with many years of days in the store. Prints a table with ratios to
//! a bare insert of the same rows by crate `rusqlite`. `cargo bench --bench store [-- FILE]` keeps
//! the store at FILE.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

#[path = "../tests/roundtrip/some_day.rs"]
mod some_day;

use std::path::{Path, PathBuf};
use std::time::Instant;

use jiff::Timestamp;
use jiff::civil::date;
use trug::model::{Day, Fix, JudgedFix, KeptFind, TrackPoint};
use trug::store::{FindQuery, Store};
use trug::units::{LatLon, Metres};
use uuid::Uuid;

const DAYS: usize = 2_000;
const FINDS: usize = 50;
const FIXES: usize = 1_000;
const BATCH: usize = 50;

fn main() {
    let keep = std::env::args().skip(1).find(|argument| !argument.starts_with("--"));
    let folder = tempfile::tempdir().unwrap();
    let path = keep.map_or_else(|| folder.path().join("trug.gpkg"), PathBuf::from);
    println!("{:<52} {:>10}", "what", "seconds");
    one_long_day(&folder.path().join("long.gpkg"));
    let imported = decade(&path);
    let bare = bare_inserts(&folder.path().join("bare.db"));
    println!("{:<52} {bare:>10.3}", "the floor: as many bare rows by rusqlite");
    println!("{:<52} {:>9.1}x", "import of the decade to that floor", imported / bare);
    questions(&path);
}

fn reported<T>(what: &str, work: impl FnOnce() -> T) -> (T, f64) {
    let started = Instant::now();
    let result = work();
    let seconds = started.elapsed().as_secs_f64();
    println!("{what:<52} {seconds:>10.3}");
    (result, seconds)
}

fn now() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

/// A day with as many fixes as asked for, elsewhere and at another time than the others.
fn day_number(number: usize, finds: usize, fixes: usize) -> Day {
    let spread = i32::try_from(number).unwrap();
    let on = date(2016, 1, 1).checked_add(jiff::Span::new().days(spread)).unwrap();
    let mut day = some_day::day("Tamsin Hale", &on.to_string(), finds);
    day.outing.id = Uuid::new_v5(&day.outing.id, b"bench");
    let shift = |at: LatLon| {
        LatLon::clamped(
            at.latitude() + f64::from(spread % 97) * 1e-3,
            at.longitude() + f64::from(spread % 89) * 1e-3,
        )
    };
    day.fixes = (0..fixes).map(|step| fix(step, &shift)).collect();
    day.track = (0..fixes).map(|step| track_point(step, &shift)).collect();
    for find in &mut day.finds {
        find.when = None;
        if let Ok(place) = &mut find.place {
            place.at = shift(place.at);
        }
    }
    day
}

fn fix(step: usize, shift: &dyn Fn(LatLon) -> LatLon) -> JudgedFix {
    let at = shift(some_day::place(i32::try_from(step).unwrap()));
    let written =
        LatLon::clamped((at.latitude() * 1e7).round() / 1e7, (at.longitude() * 1e7).round() / 1e7);
    let time = some_day::at_second(i64::try_from(step).unwrap());
    let fix = Fix { hdop: Some(0.9), ..Fix::bare(written, Some(time)) };
    JudgedFix { fix, source: 0, segment: 0, verdict: trug::model::Verdict::Kept }
}

fn track_point(step: usize, shift: &dyn Fn(LatLon) -> LatLon) -> TrackPoint {
    TrackPoint {
        time: some_day::at_second(i64::try_from(step).unwrap()),
        at: shift(some_day::place(i32::try_from(step).unwrap())),
        height: None,
        radius: some_day::radius(8.0),
        activity: trug::model::Activity::Searching,
        gap_after: false,
    }
}

fn one_long_day(path: &Path) {
    let day = [day_number(0, 100, 30_000)];
    let mut store = Store::create_or_open(path).unwrap();
    reported("import one day: 30,000 fixes, 100 finds", || store.import(&day, now()).unwrap());
    reported("the same again: nothing to do", || store.import(&day, now()).unwrap());
    let size = std::fs::metadata(path).unwrap().len();
    println!("{:<52} {:>7.2} MB", "its store (30,000 fixes and points)", size as f64 / 1e6);
}

fn decade(path: &Path) -> f64 {
    let mut store = Store::create_or_open(path).unwrap();
    let mut seconds = 0.0;
    for batch in 0..DAYS / BATCH {
        let days: Vec<Day> =
            (0..BATCH).map(|number| day_number(batch * BATCH + number, FINDS, FIXES)).collect();
        let started = Instant::now();
        store.import(&days, now()).unwrap();
        seconds += started.elapsed().as_secs_f64();
    }
    println!("{:<52} {seconds:>10.3}", "import 2,000 days: 100,000 finds, 2 million fixes");
    let size = std::fs::metadata(path).unwrap().len();
    println!("{:<52} {:>7.0} MB", "their store", size as f64 / 1e6);
    let more = [day_number(DAYS + 1, FINDS, FIXES)];
    reported("one more day on top of them", || store.import(&more, now()).unwrap());
    seconds
}

/// As many rows with as many columns of text as the finds, in one table without any index.
fn bare_inserts(path: &Path) -> f64 {
    let mut connection = rusqlite::Connection::open(path).unwrap();
    let columns: Vec<String> = (0..38).map(|number| format!("c{number} TEXT")).collect();
    connection.execute_batch(&format!("CREATE TABLE t ({})", columns.join(", "))).unwrap();
    let marks = vec!["?"; 38].join(", ");
    let values: Vec<String> =
        (0..38).map(|number| format!("some words in column {number}")).collect();
    let started = Instant::now();
    for _ in 0..DAYS / BATCH {
        let work = connection.transaction().unwrap();
        for _ in 0..BATCH * FINDS {
            work.prepare_cached(&format!("INSERT INTO t VALUES ({marks})"))
                .unwrap()
                .execute(rusqlite::params_from_iter(&values))
                .unwrap();
        }
        work.commit().unwrap();
    }
    started.elapsed().as_secs_f64()
}

fn questions(path: &Path) {
    let (store, _) = reported("open", || Store::open(path).unwrap());
    let ask = |what: &str, query: FindQuery| -> Vec<KeptFind> {
        let (found, _) = reported(what, || store.finds(&query).unwrap());
        println!("{:<52} {:>10}", "  finds", found.len());
        found
    };
    let base = FindQuery::default;
    let all = ask("all finds", base());
    ask("by name", FindQuery { taxon: Some("mycena int".into()), ..base() });
    let near = Some((some_day::place(0), Metres(200.0)));
    ask("within 200 m", FindQuery { near, ..base() });
    ask("by number", FindQuery { number: Some("TH-0017".into()), ..base() });
    let month = FindQuery { from: Some(date(2018, 5, 1)), to: Some(date(2018, 5, 31)), ..base() };
    ask("one month", month);
    reported("all outings", || store.outings().unwrap());
    let (points, _) = reported("all ways, one after another", || {
        store.tracks().unwrap().map(|way| way.unwrap().1.len()).sum::<usize>()
    });
    println!("{:<52} {points:>10}", "  points");
    reported("one whole day", || store.day(all[0].outing).unwrap());
    reported("all finds as GeoJSON", || trug::present::geojson::finds(&all).len());
    reported("all finds as CSV", || trug::present::csv::finds(&all).len());
    reported("all finds as KML", || trug::present::kml::finds(&all).len());
}
