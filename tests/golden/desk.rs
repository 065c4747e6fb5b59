//! Tests import and check on the sample days: output, and that a second import changes nothing.

use std::fs;

use serde_json::Value;

use crate::run::{Desk, samples};

fn sample(day: &str) -> String {
    samples().join(day).to_string_lossy().into_owned()
}

fn json(desk: &Desk, arguments: &[&str]) -> Value {
    serde_json::from_slice(&desk.run(arguments).stdout).unwrap()
}

#[test]
fn repeated_import_changes_nothing() {
    let desk = Desk::new();
    let day = sample("2026-04-18-wren-gully");
    let first = desk.reported(&["import", &day, "--store", "a.gpkg"]);
    let kept = json(&desk, &["finds", "--store", "a.gpkg", "--format", "geojson"]);
    let second = desk.reported(&["import", &day, "--store", "a.gpkg"]);
    assert!(first.contains("New"), "{first}");
    assert!(second.contains("Unchanged"), "{second}");
    assert_eq!(kept, json(&desk, &["finds", "--store", "a.gpkg", "--format", "geojson"]));
}

#[test]
fn dry_run_and_check_write_nothing() {
    let desk = Desk::new();
    let day = sample("2026-05-16-old-tramway");
    desk.run(&["import", &day, "--dry-run"]);
    desk.run(&["check", &day]);
    assert!(!desk.path("trug.gpkg").exists());
}

#[test]
fn a_corrected_record_updates_its_find_and_keeps_what_it_replaced() {
    let desk = Desk::new();
    let day = desk.path("day");
    fs::create_dir(&day).unwrap();
    for entry in fs::read_dir(sample("2026-04-18-wren-gully")).unwrap() {
        let from = entry.unwrap().path();
        fs::copy(&from, day.join(from.file_name().unwrap())).unwrap();
    }
    desk.run(&["import", "day", "--store", "a.gpkg"]);
    let notes = fs::read_to_string(day.join("notebook.csv")).unwrap();
    fs::write(
        day.join("notebook.csv"),
        notes.replacen("Galerina hypnorum", "Galerina patagonica", 1),
    )
    .unwrap();
    let reported = desk.reported(&["import", "day", "--store", "a.gpkg"]);
    assert!(reported.contains("1 corrected"), "{reported}");
    let finds = json(&desk, &["finds", "--store", "a.gpkg", "--format", "geojson"]);
    let names: Vec<&str> = finds["features"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|find| find["properties"]["scientificName"].as_str())
        .filter(|name| name.starts_with("Galerina"))
        .collect();
    assert_eq!(names.iter().filter(|name| name.contains("patagonica")).count(), 1, "{names:?}");
}

#[test]
fn originals_are_not_modified() {
    let desk = Desk::new();
    let day = desk.path("day");
    fs::create_dir(&day).unwrap();
    let mut before = Vec::new();
    for entry in fs::read_dir(sample("2026-05-02-thimble-spur")).unwrap() {
        let from = entry.unwrap().path();
        let to = day.join(from.file_name().unwrap());
        fs::copy(&from, &to).unwrap();
        before.push((
            to.clone(),
            fs::read(&to).unwrap(),
            to.metadata().unwrap().modified().unwrap(),
        ));
    }
    desk.run(&["import", "day", "--store", "a.gpkg"]);
    desk.run(&["check", "day", "--figure", "day.svg"]);
    for (path, bytes, modified) in before {
        assert_eq!(fs::read(&path).unwrap(), bytes, "{}", path.display());
        assert_eq!(path.metadata().unwrap().modified().unwrap(), modified);
    }
    assert_eq!(
        fs::read_dir(&day).unwrap().count(),
        fs::read_dir(sample("2026-05-02-thimble-spur")).unwrap().count()
    );
}
