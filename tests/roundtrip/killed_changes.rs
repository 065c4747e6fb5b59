//! Imports, amendments, merges, removals, undos and compactions killed at any moment: the store is then as it
//! was after the last change that was reported, or after the next one.

use std::env;
use std::io::{BufRead, BufReader, Write, stdout};
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use jiff::Timestamp;
use rusqlite::Connection;
use trug::model::{AmendedSubject, Authored, Day, Patch, TextProperty};
use trug::store::Store;

use crate::amended::state;
use crate::some_day::{day, place};

const PLACE: &str = "TRUG_TEST_KILLED_CHANGES";
const FINDS: usize = 30;
const KILLS: u32 = 20;
const STEPS: usize = 9;

fn now() -> Timestamp {
    "2026-06-01T12:00:00Z".parse().unwrap()
}

fn by() -> Authored {
    Authored { who: None, made: now(), reason: Some("a test".into()) }
}

fn days(collector: &str, month: u32) -> Vec<Day> {
    (1..=6).map(|day_of| day(collector, &format!("2026-{month:02}-{day_of:02}"), FINDS)).collect()
}

fn hosts(days: &[Day], value: &str) -> Vec<(AmendedSubject, Patch)> {
    let patch = || Patch::Text { property: TextProperty::Host, value: Some(value.into()) };
    days.iter()
        .flat_map(|day| day.finds.iter().step_by(3))
        .map(|find| (AmendedSubject::Find(find.id), patch()))
        .collect()
}

/// The store that is merged.
fn other(path: &Path) {
    let days = days("Orrin Pike", 6);
    let mut store = Store::create_or_open(path).unwrap();
    store.import(&days, now()).unwrap();
    store.amend(&hosts(&days, "Acacia"), &by()).unwrap();
}

fn take(step: usize, store: &mut Store, other: &Path) {
    let own = days("Tamsin Hale", 5);
    let at = place(300);
    let position =
        Patch::Position { latitude: at.latitude(), longitude: at.longitude(), within_m: 4.0 };
    match step {
        0 => drop(store.import(&own, now()).unwrap()),
        1 => drop(store.amend(&hosts(&own, "Nothofagus"), &by()).unwrap()),
        2 => {
            let find = AmendedSubject::Find(own[0].finds[1].id);
            store.amend(&[(find, position)], &by()).unwrap();
        }
        3 => drop(store.merge(other, &by()).unwrap()),
        4 => drop(store.undo(Some(2), &by()).unwrap()),
        5 => drop(store.remove_outings(&[own[1].outing.id, own[2].outing.id], &by()).unwrap()),
        6 => drop(store.undo(None, &by()).unwrap()),
        7 => drop(store.amend(&hosts(&own, "Eucalyptus"), &by()).unwrap()),
        _ => drop(store.compact().unwrap()),
    }
}

/// The child process that is killed: does nothing when run as an ordinary test.
#[test]
fn child_that_changes() {
    let Some(path) = env::var_os(PLACE) else { return };
    let path = Path::new(&path);
    writeln!(stdout(), "\nready").unwrap();
    let mut store = Store::create_or_open(path).unwrap();
    for step in 0..STEPS {
        take(step, &mut store, &path.with_file_name("other.gpkg"));
        writeln!(stdout(), "\ndone {step}").unwrap();
    }
}

/// Starts the child, kills it after a while and returns how many steps it reported.
fn kill_after(path: &Path, delay: Duration) -> usize {
    let mut child = Command::new(env::current_exe().unwrap())
        .args(["--exact", "killed_changes::child_that_changes", "--nocapture"])
        .env(PLACE, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(lines.any(|line| line.unwrap() == "ready"), "the child did not start");
    thread::sleep(delay);
    let _ = child.kill();
    child.wait().unwrap();
    lines.filter(|line| line.as_ref().is_ok_and(|line| line.starts_with("done"))).count()
}

/// All rows that changes can touch, and the journal without its random identifiers.
fn everything(path: &Path) -> Vec<String> {
    let mut all: Vec<String> = state(path).into_iter().map(|table| format!("{table:?}")).collect();
    let connection = Connection::open(path).unwrap();
    for select in [
        "SELECT id || kind || coalesce(reverses, '') || active || order_time FROM journal ORDER BY id",
        "SELECT change_id || find_uuid || property || coalesce(before, '') || after FROM amendments ORDER BY id",
        "SELECT change_id || outing_uuid || coalesce(length(packed) = 0, 'none') FROM archived_outings ORDER BY id",
    ] {
        let mut statement = connection.prepare(select).unwrap();
        let rows = statement.query_map([], |row| row.get::<_, String>(0)).unwrap();
        all.push(rows.map(Result::unwrap).collect::<Vec<_>>().join("\n"));
    }
    all
}

#[test]
fn killed_change_leaves_all_or_nothing_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let beside = folder.path().join("other.gpkg");
    other(&beside);
    let sound = folder.path().join("sound.gpkg");
    let mut store = Store::create_or_open(&sound).unwrap();
    let mut expected = vec![everything(&sound)];
    let mut taken = Duration::ZERO;
    for step in 0..STEPS {
        let started = Instant::now();
        take(step, &mut store, &beside);
        taken += started.elapsed();
        expected.push(everything(&sound));
    }
    let mut amid = 0;
    for number in 0..KILLS {
        let path = folder.path().join(format!("killed-{number}.gpkg"));
        let reported = kill_after(&path, taken.mul_f64(1.2) * number / KILLS);
        amid += usize::from(reported < STEPS);
        let store = Store::create_or_open(&path).unwrap();
        store.verify().unwrap();
        drop(store);
        let found = everything(&path);
        let is = (reported..=(reported + 1).min(STEPS)).any(|step| expected[step] == found);
        assert!(is, "after {reported} reported steps of kill {number} the store is neither");
    }
    assert!(amid > 5, "only {amid} of {KILLS} were killed at work");
}
