//! Tests that the temporary files of a killed command are removed by the next one in that folder.

use std::fs;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::run::{Desk, samples};

fn temporary(desk: &Desk) -> Vec<String> {
    let names = fs::read_dir(desk.path("out")).unwrap();
    let names = names.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    names.filter(|name| name.starts_with(".trug-")).collect()
}

/// Starts an export and kills it as soon as it has a temporary file, or after it has ended.
fn kill_at_work(desk: &Desk) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_trug"))
        .args(["export", "--format", "csv", "--out", "out/finds.csv"])
        .current_dir(desk.path("."))
        .env_remove("TRUG_STORE")
        .env("XDG_CACHE_HOME", desk.path("cache"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    while temporary(desk).is_empty() && begun.elapsed() < Duration::from_secs(60) {
        if child.try_wait().unwrap().is_some() {
            return;
        }
    }
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn next_command_removes_the_files_of_a_killed_one() {
    let desk = Desk::new();
    let day = samples().join("2026-04-18-wren-gully");
    let day = day.to_string_lossy();
    desk.run(&["import", &day]);
    let foreign = ".trug-1234-0.unfinished";
    desk.file(&format!("out/{foreign}"), "mine");
    fs::remove_file(desk.path("out").join(foreign)).unwrap();
    for next in [
        &["export", "--format", "gpx", "--out", "out/finds.gpx"][..],
        &["labels", "--out", "out/l.pdf"],
        &["import", &day, "--store", "out/new.gpkg"],
    ] {
        for _ in 0..50 {
            kill_at_work(&desk);
            if !temporary(&desk).is_empty() {
                break;
            }
        }
        assert!(!temporary(&desk).is_empty(), "no kill left a file");
        desk.file(&format!("out/{foreign}"), "mine");
        assert!(desk.run(next).status.code().is_some_and(|status| status < 2), "{next:?}");
        assert_eq!(temporary(&desk), [foreign], "{next:?}");
        fs::remove_file(desk.path("out").join(foreign)).unwrap();
    }
}
