//! Measures amendments in large stores: how long one takes, and how the replay of all amendments at an import
//! grows with their number. Prints milliseconds and ratios. `--days N,M` sets sizes (default 20, 200, 2,000 days
//! of 500 finds, up to a million finds; one find of twenty is amended, so 50,000 in a million), `--keep FOLDER`
//! keeps the stores.

#![allow(clippy::unwrap_used, clippy::print_stdout)]
#![allow(dead_code, reason = "the generator of days is shared with another benchmark")]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]

#[path = "shared/many_days.rs"]
mod many_days;

use std::path::PathBuf;
use std::time::Instant;

use jiff::Timestamp;
use trug::model::{AmendedSubject, Authored, Day, Patch, TextProperty};
use trug::store::{NumberQuery, Store};

const BATCH: usize = 20;
/// One find of so many is amended.
const AMENDED: usize = 20;
/// The repetitions of a single amendment.
const SINGLE: usize = 15;

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
    println!(
        "{:>7} {:>10} {:>11} {:>10} {:>10} {:>12} {:>12} {:>12}",
        "days", "finds", "amendments", "look up", "position", "text", "undo", "replay/day"
    );
    for days in sizes {
        measure(&folder.join(format!("{days}-days.gpkg")), days);
    }
    growth(&temporary.path().join("one-day.gpkg"));
}

/// Amendments of the 500 finds of one day, whose corrected notebook is then imported.
const REPLAYED: [usize; 4] = [0, 500, 5_000, 50_000];

/// The replay of more and more amendments of one day, and what one of them takes.
fn growth(path: &std::path::Path) {
    let mut store = Store::create_or_open(path).unwrap();
    let now: Timestamp = "2027-01-01T00:00:00Z".parse().unwrap();
    let by = Authored { who: None, made: now, reason: Some("a benchmark".into()) };
    let first = day(0, 1);
    store.import(std::slice::from_ref(&first), now).unwrap();
    println!("\n{:>11} {:>12} {:>14}", "amendments", "import", "per amendment");
    let (mut made, mut without) = (0, 0.0);
    for wanted in REPLAYED {
        let finds = first.finds.iter().cycle().take(wanted - made);
        let amendments: Vec<(AmendedSubject, Patch)> = finds
            .zip(made..)
            .map(|(find, number)| (AmendedSubject::Find(find.id), host(&format!("tree {number}"))))
            .collect();
        if !amendments.is_empty() {
            store.amend(&amendments, &by).unwrap();
        }
        made = wanted;
        let took = replay(&mut store, &first, now);
        if made == 0 {
            without = took;
            println!("{made:>11} {took:>9.2} ms");
        } else {
            let each = (took - without) / made as f64 * 1e3;
            println!("{made:>11} {took:>9.2} ms {each:>11.1} us");
        }
    }
}

/// The days with short tracks: an amendment of a position or a text does not read them.
fn day(number: usize, days: usize) -> Day {
    let mut day = many_days::day(number, days);
    day.track.truncate(200);
    day
}

fn measure(path: &std::path::Path, days: usize) {
    let mut store = Store::create_or_open(path).unwrap();
    let now: Timestamp = "2027-01-01T00:00:00Z".parse().unwrap();
    let by = Authored { who: None, made: now, reason: Some("a benchmark".into()) };
    let mut finds = 0;
    let mut first = None;
    let mut amended = 0;
    for batch in (0..days).step_by(BATCH) {
        let made: Vec<Day> =
            (batch..(batch + BATCH).min(days)).map(|number| day(number, days)).collect();
        store.import(&made, now).unwrap();
        finds += made.iter().map(|day| day.finds.len()).sum::<usize>();
        let some: Vec<(AmendedSubject, Patch)> = made
            .iter()
            .flat_map(|day| day.finds.iter().step_by(AMENDED))
            .map(|find| (AmendedSubject::Find(find.id), host("Nothofagus")))
            .collect();
        amended += some.len();
        store.amend(&some, &by).unwrap();
        first = first.or(made.into_iter().next());
    }
    let first = first.unwrap();
    let find = &first.finds[7];
    let number = find.record.number.clone().unwrap().0;
    let look_up = median(|| {
        let query =
            NumberQuery { number: number.clone(), day: Some(first.outing.date), collector: None };
        assert!(!store.finds_of_number(&query).unwrap().is_empty());
    });
    let subject = AmendedSubject::Find(find.id);
    let position = Patch::Position { latitude: -42.0, longitude: 146.0, within_m: 5.0 };
    let one = median(|| {
        let _ = store.amend(&[(subject.clone(), position.clone())], &by).unwrap();
    });
    let text = median(|| {
        let _ = store.amend(&[(subject.clone(), host("Acacia"))], &by).unwrap();
    });
    let undo = median(|| drop(store.undo(None, &by).unwrap()));
    let replay = replay(&mut store, &first, now);
    println!(
        "{days:>7} {finds:>10} {amended:>11} {look_up:>7.2} ms {one:>7.2} ms {text:>9.2} ms {undo:>9.2} ms {replay:>9.2} ms"
    );
}

/// The import of one day's corrected notebook, with all amendments of the day applied again.
fn replay(store: &mut Store, day: &Day, now: Timestamp) -> f64 {
    let mut corrected = |number: usize| {
        let mut day = day.clone();
        day.finds[3].record.host = Some(format!("host {number}"));
        // another content, since an unchanged notebook is not imported again
        day.sources[1].hash = blake3::hash(&number.to_le_bytes()).to_hex().to_string();
        let started = Instant::now();
        let imported = store.import(&[day], now).unwrap();
        assert!(!imported.changed_nothing());
        started.elapsed().as_secs_f64() * 1e3
    };
    middle((0..5).map(&mut corrected).collect())
}

fn host(value: &str) -> Patch {
    Patch::Text { property: TextProperty::Host, value: Some(value.into()) }
}

fn median(mut work: impl FnMut()) -> f64 {
    let times = (0..SINGLE).map(|_| {
        let started = Instant::now();
        work();
        started.elapsed().as_secs_f64() * 1e3
    });
    middle(times.collect())
}

fn middle(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}
