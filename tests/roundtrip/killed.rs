//! An import killed at any moment leaves an intact store with whole days only.

use std::env;
use std::io::{BufRead, BufReader, Write, stdout};
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use trug::model::Day;
use trug::store::{FindQuery, Store};

use crate::some_day::day;

const PLACE: &str = "TRUG_TEST_KILLED_STORE";
const DAYS: usize = 24;
const FINDS: usize = 30;
const KILLS: u32 = 30;

fn days() -> Vec<Day> {
    (0..DAYS)
        .map(|number| day("Tamsin Hale", &format!("2026-{:02}-11", number % 12 + 1), FINDS))
        .enumerate()
        .map(|(number, mut day)| {
            let id = uuid::Uuid::new_v5(&day.outing.id, &[u8::try_from(number).unwrap()]);
            day.outing.id = id;
            for find in &mut day.finds {
                find.id = uuid::Uuid::new_v5(&find.id, id.as_bytes());
            }
            for source in &mut day.sources {
                source.hash.push_str(&number.to_string());
            }
            day
        })
        .collect()
}

/// The child process that is killed: does nothing when run as an ordinary test.
#[test]
fn child_that_imports() {
    let Some(path) = env::var_os(PLACE) else { return };
    let days = days();
    writeln!(stdout(), "\nready").unwrap();
    let mut store = Store::create_or_open(Path::new(&path)).unwrap();
    let (first, rest) = days.split_at(DAYS / 3);
    store.import(first, "2026-06-01T12:00:00Z".parse().unwrap()).unwrap();
    store.import(rest, "2026-06-01T12:00:00Z".parse().unwrap()).unwrap();
    writeln!(stdout(), "\ndone").unwrap();
}

/// Starts the child, kills it after a while and returns whether it was still running.
fn kill_after(path: &Path, delay: Duration) -> bool {
    let mut child = Command::new(env::current_exe().unwrap())
        .args(["--exact", "killed::child_that_imports", "--nocapture"])
        .env(PLACE, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut said = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(said.any(|line| line.unwrap() == "ready"), "the child did not start");
    thread::sleep(delay);
    let _ = child.kill();
    child.wait().unwrap();
    !said.any(|line| line.is_ok_and(|line| line == "done"))
}

/// The time that the child takes without being killed.
fn undisturbed(folder: &Path) -> Duration {
    let started = Instant::now();
    let days = days();
    let mut store = Store::create_or_open(&folder.join("undisturbed.gpkg")).unwrap();
    store.import(&days, "2026-06-01T12:00:00Z".parse().unwrap()).unwrap();
    started.elapsed()
}

#[test]
fn killed_import_leaves_no_partial_day() {
    let folder = tempfile::tempdir().unwrap();
    let whole = undisturbed(folder.path()).mul_f64(1.5);
    let (mut at_work, mut with_journal) = (0, 0);
    for number in 0..KILLS {
        let path = folder.path().join(format!("killed-{number}.gpkg"));
        at_work += u32::from(kill_after(&path, whole * number / KILLS));
        with_journal += u32::from(path.with_extension("gpkg-journal").exists());
        let store = Store::create_or_open(&path).unwrap();
        store.verify().unwrap();
        let outings = store.outings().unwrap();
        assert!(
            [0, DAYS / 3, DAYS].contains(&outings.len()),
            "{} outings after kill {number}",
            outings.len()
        );
        for outing in &outings {
            assert_eq!(outing.finds, FINDS, "half a day after kill {number}");
            assert_eq!(store.track(outing.id).unwrap().len(), 400);
        }
        assert_eq!(store.finds(&FindQuery::default()).unwrap().len(), outings.len() * FINDS);
    }
    assert!(at_work > KILLS / 4, "only {at_work} of {KILLS} were killed at work");
    assert!(with_journal > 0, "no kill came in the middle of a write");
}
