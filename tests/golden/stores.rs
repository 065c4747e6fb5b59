//! Tests that a read-only store supports all queries and that every command detects a damaged one.

use std::fs;

use crate::run::{Desk, samples};

fn desk() -> Desk {
    let desk = Desk::new();
    desk.run(&["import", &samples().join("2026-04-18-wren-gully").to_string_lossy()]);
    desk
}

const QUESTIONS: [&[&str]; 13] = [
    &["finds"],
    &["finds", "--format", "geojson"],
    &["sites"],
    &["visits"],
    &["effort", "--by", "day"],
    &["season", "--figure", "s.svg", "--overwrite"],
    &["density", "--cells", "16"],
    &["next", "--date", "2027-05-08"],
    &["labels", "--out", "l.pdf", "--overwrite"],
    &["sheet", "--day", "2026-04-18", "--without-photographs", "--out", "d.html", "--overwrite"],
    &["places"],
    &["trailhead", "list"],
    &["verify"],
];

/// For others: recorded in the store.
const EXPORT: [&str; 6] = ["export", "--format", "csv", "--out", "f.csv", "--overwrite"];

const CHANGES: [&[&str]; 4] = [
    &["sites", "name", "1", "old log"],
    &["sites", "--extent", "5"],
    &["trailhead", "add", "Gate", "-42.6 146.1"],
    &["trailhead", "remove", "Gate"],
];

#[cfg(unix)]
#[test]
fn read_only_store_supports_all_queries() {
    use std::os::unix::fs::PermissionsExt;
    let desk = desk();
    let plain: Vec<_> = QUESTIONS.iter().map(|question| desk.run(question)).collect();
    // the state after an import, before any analysis
    fs::remove_file(desk.path("trug.gpkg")).unwrap();
    desk.run(&["import", &samples().join("2026-04-18-wren-gully").to_string_lossy()]);
    fs::create_dir(desk.path("shelf")).unwrap();
    fs::copy(desk.path("trug.gpkg"), desk.path("shelf/a.gpkg")).unwrap();
    let mark = |path: &str, mode: u32| {
        fs::set_permissions(desk.path(path), fs::Permissions::from_mode(mode)).unwrap();
    };
    mark("shelf/a.gpkg", 0o444);
    mark("shelf", 0o555);
    let before = fs::read(desk.path("shelf/a.gpkg")).unwrap();
    for (question, plain) in QUESTIONS.iter().zip(&plain) {
        let output = desk.run(&[question, &["--store", "shelf/a.gpkg"][..]].concat());
        let reported = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), plain.status.code(), "{question:?}: {reported}");
        // the writable store saves its sites as geometries, too
        if question[0] != "verify" {
            assert_eq!(output.stdout, plain.stdout, "{question:?}");
        }
    }
    for change in CHANGES {
        let reported = desk.reported(&[change, &["--store", "shelf/a.gpkg"][..]].concat());
        assert!(reported.starts_with("exit status: 2\n"), "{change:?}: {reported}");
        assert!(reported.contains("cannot be written"), "{change:?}: {reported}");
    }
    let day = samples().join("2026-05-02-thimble-spur");
    let reported = desk.reported(&["import", &day.to_string_lossy(), "--store", "shelf/a.gpkg"]);
    assert!(
        reported.starts_with("exit status: 2\n") && reported.contains("cannot be written"),
        "{reported}"
    );
    assert_eq!(fs::read(desk.path("shelf/a.gpkg")).unwrap(), before);
    assert_eq!(fs::read_dir(desk.path("shelf")).unwrap().count(), 1, "nothing is left beside it");
    mark("shelf", 0o755);
}

#[cfg(unix)]
#[test]
fn an_output_for_others_from_a_store_that_must_not_be_written_tells_nothing_new() {
    use std::os::unix::fs::PermissionsExt;
    let desk = desk();
    let mark = |mode: u32| {
        fs::set_permissions(desk.path("trug.gpkg"), fs::Permissions::from_mode(mode)).unwrap();
    };
    mark(0o444);
    let refused = desk.reported(&EXPORT);
    assert!(refused.starts_with("exit status: 2\n"), "{refused}");
    assert!(refused.contains("records each output for others"), "{refused}");
    assert!(!desk.path("f.csv").exists());
    mark(0o644);
    assert_eq!(desk.run(&EXPORT).status.code(), Some(0));
    mark(0o444);
    assert_eq!(desk.run(&EXPORT).status.code(), Some(0), "the same again is nothing new");
    let released = desk.reported(&["places", "open", "--taxon", "Leotia"]);
    assert!(released.starts_with("exit status: 2\n"), "{released}");
}

#[test]
fn every_command_detects_a_damaged_store() {
    let desk = desk();
    let whole = fs::read(desk.path("trug.gpkg")).unwrap();
    let reported = desk.reported(&["verify"]);
    assert!(
        reported.starts_with("exit status: 0\n") && reported.contains("in order"),
        "{reported}"
    );
    let cut = whole[..whole.len() - 8_192].to_vec();
    let mut torn = whole.clone();
    torn[8_192..12_288].fill(0x5a);
    let mut none = whole.clone();
    none[100..4_096].fill(0);
    for (how, bytes) in [("cut short", cut), ("a page overwritten", torn), ("no tables", none)] {
        fs::write(desk.path("trug.gpkg"), &bytes).unwrap();
        for command in QUESTIONS.iter().chain(&CHANGES).chain(&[&EXPORT[..]]) {
            let reported = desk.reported(command);
            assert!(reported.starts_with("exit status: 2\n"), "{how}: {command:?}: {reported}");
            assert!(
                reported.contains("damaged") || reported.contains("that trug did not make"),
                "{how}: {reported}"
            );
        }
        let day = samples().join("2026-05-02-thimble-spur");
        assert!(desk.reported(&["import", &day.to_string_lossy()]).starts_with("exit status: 2\n"));
        assert_eq!(fs::read(desk.path("trug.gpkg")).unwrap(), bytes, "{how}: it is left as it is");
    }
}

#[test]
fn text_that_is_no_text_is_damage_and_not_a_fault_of_the_program() {
    let desk = desk();
    let mut bytes = fs::read(desk.path("trug.gpkg")).unwrap();
    let word = b"Hericium coralloides";
    let places: Vec<usize> =
        (0..bytes.len() - word.len()).filter(|&start| bytes[start..].starts_with(word)).collect();
    assert!(!places.is_empty());
    for place in places {
        bytes[place + 3] = 0xff;
    }
    fs::write(desk.path("trug.gpkg"), &bytes).unwrap();
    for command in [&["verify"][..], &["finds"], &["export", "--format", "csv", "--out", "f.csv"]] {
        let reported = desk.reported(command);
        assert!(reported.starts_with("exit status: 2\n"), "{command:?}: {reported}");
        assert!(reported.contains("damaged"), "{command:?}: {reported}");
    }
}

#[test]
fn a_table_without_one_of_its_columns_is_damage() {
    let desk = desk();
    let store = rusqlite::Connection::open(desk.path("trug.gpkg")).unwrap();
    store.execute_batch("ALTER TABLE finds RENAME COLUMN habitat TO surroundings").unwrap();
    drop(store);
    for command in [&["verify"][..], &["finds"], &["export", "--format", "csv", "--out", "f.csv"]] {
        let reported = desk.reported(command);
        assert!(reported.starts_with("exit status: 2\n"), "{command:?}: {reported}");
        assert!(reported.contains("damaged"), "{command:?}: {reported}");
    }
}

#[test]
fn a_header_of_an_unknown_form_is_damage() {
    let desk = desk();
    let mut bytes = fs::read(desk.path("trug.gpkg")).unwrap();
    bytes[47] = 9;
    fs::write(desk.path("trug.gpkg"), &bytes).unwrap();
    for command in [&["verify"][..], &["finds"]] {
        let reported = desk.reported(command);
        assert!(reported.starts_with("exit status: 2\n"), "{command:?}: {reported}");
        assert!(reported.contains("damaged"), "{command:?}: {reported}");
    }
}

#[test]
fn verify_names_the_file_that_was_asked_about() {
    let desk = Desk::new();
    desk.file("notes.txt", "not a store at all, and longer than a header would be");
    let reported = desk.reported(&["verify", "--store", "notes.txt"]);
    assert!(reported.contains("error: notes.txt is not a store"), "{reported}");
}
