//! Tests that foreign files are never replaced, and that pipes and devices do not block the program.

use std::fs;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::run::{Desk, samples};

/// A folder with one sample day in its store.
fn desk() -> Desk {
    let desk = Desk::new();
    let day = samples().join("2026-04-18-wren-gully");
    desk.run(&["import", &day.to_string_lossy(), "--store", "trug.gpkg"]);
    desk
}

/// Every command that writes a file, with its option and the file extension.
const WRITERS: [(&[&str], &str, &str); 18] = [
    (&["check", "day"], "--figure", "svg"),
    (&["check", "day"], "--figure", "png"),
    (&["check", "day"], "--figure", "pdf"),
    (&["labels"], "--out", "pdf"),
    (&["labels", "--slips", "AQ-1", "--count", "3"], "--out", "pdf"),
    (&["sheet", "--day", "2026-04-18"], "--out", "html"),
    (&["sheet", "--season", "2026"], "--out", "html"),
    (&["export", "--format", "geojson"], "--out", "geojson"),
    (&["export", "--format", "gpx"], "--out", "gpx"),
    (&["export", "--format", "kml"], "--out", "kml"),
    (&["export", "--format", "csv"], "--out", "csv"),
    (&["export", "--format", "geoparquet"], "--out", "parquet"),
    (&["deposit", "--title", "T", "--licence", "cc0"], "--out", "zip"),
    (&["season"], "--figure", "svg"),
    (&["effort"], "--figure", "svg"),
    (&["density", "--cells", "16"], "--figure", "svg"),
    (&["density", "--cells", "16"], "--grid", "asc"),
    (&["density", "--cells", "16"], "--contours", "geojson"),
];

const STRANGE: [&[u8]; 7] = [
    b"{\"my\": \"notes\"}",
    b"[1, 2, 3]",
    b"columns: 2\nrows: 2\n1 2\n3 4\n",
    b"I carried my trug up the gully. trug",
    b"<svg class=\"trug\"></svg>",
    b"PK\x03\x04 trug 0.1.0",
    b"",
];

#[test]
fn no_command_replaces_foreign_files() {
    let desk = desk();
    let day = samples().join("2026-04-18-wren-gully");
    for (place, (command, option, end)) in WRITERS.iter().enumerate() {
        let name = format!("mine.{end}");
        let strange = STRANGE[place % STRANGE.len()];
        desk.file(&name, strange);
        let mut arguments = command.to_vec();
        let shown = day.to_string_lossy();
        arguments.iter_mut().filter(|word| **word == "day").for_each(|word| *word = &shown);
        arguments.extend([*option, &name]);
        let reported = desk.reported(&arguments);
        assert!(reported.starts_with("exit status: 2\n"), "{command:?}: {reported}");
        assert!(
            reported.contains("will not overwrite mine.") && reported.contains("--overwrite"),
            "{reported}"
        );
        assert_eq!(fs::read(desk.path(&name)).unwrap(), strange, "{command:?}");
        arguments.push("--overwrite");
        let reported = desk.reported(&arguments);
        assert!(reported.starts_with("exit status: 0\n"), "{command:?}: {reported}");
        assert!(fs::read(desk.path(&name)).unwrap() != strange, "{command:?}");
        arguments.pop();
        let again = desk.reported(&arguments);
        assert!(again.starts_with("exit status: 0\n"), "its own file: {command:?}: {again}");
        fs::remove_file(desk.path(&name)).unwrap();
    }
}

#[test]
fn changed_file_is_not_replaced() {
    let desk = desk();
    let export = ["export", "--format", "csv", "--out", "finds.csv"];
    assert_eq!(desk.run(&export).status.code(), Some(0));
    let mut text = fs::read_to_string(desk.path("finds.csv")).unwrap();
    text.push_str("my own last line\n");
    fs::write(desk.path("finds.csv"), &text).unwrap();
    insta::assert_snapshot!(desk.reported(&export));
    assert_eq!(fs::read_to_string(desk.path("finds.csv")).unwrap(), text);
}

#[test]
fn every_export_in_a_folder_is_named_as_written_by_trug() {
    let desk = desk();
    std::fs::create_dir(desk.path("own")).unwrap();
    let mut names = Vec::new();
    for format in ["csv", "geojson", "gpx", "kml"] {
        for (command, ways) in [("export", None), ("export", Some("--ways")), ("finds", None)] {
            let name = format!("own/{command}{}.{format}", ways.map_or("", |_| "-ways"));
            let mut arguments = vec![command, "--format", format, "--out", &name];
            arguments.extend(ways.filter(|_| format != "csv"));
            let reported = desk.reported(&arguments);
            assert!(reported.starts_with("exit status: 0\n"), "{arguments:?}: {reported}");
            names.push(name);
        }
    }
    let contours = ["density", "--cells", "16", "--contours", "own/contours.geojson"];
    let reported = desk.reported(&contours);
    assert!(reported.starts_with("exit status: 0\n"), "{reported}");
    names.push("own/contours.geojson".to_owned());
    let sites = desk.run(&["sites", "--format", "geojson"]);
    fs::write(desk.path("own/sites.geojson"), &sites.stdout).unwrap();
    names.push("own/sites.geojson".to_owned());
    desk.file("own/notes.md", b"nothing");
    let reported = desk.reported(&["import", "own", "--dry-run"]);
    assert!(reported.starts_with("exit status: 2\n"), "{reported}");
    for name in &names {
        assert!(reported.contains(name.trim_start_matches("own/")), "{name}: {reported}");
    }
    assert!(
        reported.contains(&format!("ignored {} files that trug wrote", names.len())),
        "{reported}"
    );
    assert!(reported.contains("ignored 1 file of unsupported formats (notes.md)"), "{reported}");
}

#[test]
fn an_export_as_geojson_that_was_changed_since_is_no_table_and_can_be_replaced_when_asked() {
    let desk = desk();
    let export = ["export", "--format", "geojson", "--out", "finds.geojson"];
    assert_eq!(desk.run(&export).status.code(), Some(0));
    let written = fs::read(desk.path("finds.geojson")).unwrap();
    fs::write(desk.path("finds.geojson"), [&written[..], b"\n \n"].concat()).unwrap();
    let reported = desk.reported(&export);
    assert!(reported.starts_with("exit status: 2\n"), "{reported}");
    assert!(reported.contains("--overwrite"), "{reported}");
    assert_eq!(desk.run(&[&export[..], &["--overwrite"]].concat()).status.code(), Some(0));
    assert_eq!(fs::read(desk.path("finds.geojson")).unwrap(), written);
}

#[test]
fn several_files_of_a_command_are_written_all_or_none() {
    let desk = desk();
    desk.file("lines.geojson", "{}");
    let map = ["density", "--cells", "16", "--figure", "map.svg", "--grid", "map.asc"];
    let reported = desk.reported(&[&map[..], &["--contours", "lines.geojson"]].concat());
    assert!(reported.starts_with("exit status: 2\n"), "{reported}");
    for name in ["map.svg", "map.asc", "map.prj"] {
        assert!(!desk.path(name).exists(), "{name}");
    }
    let way = ["wayout", "--from", "-42.62 146.09", "--to", "-42.611 146.101", "--at"];
    let way = [&way[..], &["2026-05-16T12:20+10:00", "--card", "card.svg"]].concat();
    let reported = desk.reported(&[&way[..], &["--gpx", "lines.geojson"]].concat());
    assert!(reported.starts_with("exit status: 2\n"), "{reported}");
    assert!(
        reported.contains("km") || reported.contains(" m"),
        "the way out is reported all the same: {reported}"
    );
    assert!(!desk.path("card.svg").exists());
    let reported =
        desk.reported(&["density", "--cells", "16", "--figure", "a.svg", "--contours", "a.svg"]);
    assert!(
        reported.starts_with("exit status: 2\n") && reported.contains("named twice"),
        "{reported}"
    );
    assert!(!desk.path("a.svg").exists());
}

#[test]
fn parts_by_year_are_written_all_or_none() {
    let desk = Desk::new();
    for day in ["earlier-years/2025", "2026-04-18-wren-gully"] {
        desk.run(&["import", &samples().join(day).to_string_lossy()]);
    }
    desk.file("parts/year=2026/part-0.parquet", "mine");
    let export = ["export", "--format", "geoparquet", "--by-year", "--out", "parts"];
    let reported = desk.reported(&export);
    assert!(reported.starts_with("exit status: 2\n"), "{reported}");
    assert!(!desk.path("parts/year=2025").exists(), "the folder of a part that was not written");
    assert_eq!(fs::read(desk.path("parts/year=2026/part-0.parquet")).unwrap(), b"mine");
}

#[test]
fn demonstration_uses_its_own_folder_only() {
    let desk = desk();
    let store = fs::read(desk.path("trug.gpkg")).unwrap();
    insta::assert_snapshot!(desk.reported(&["demo", "--into", "."]));
    assert_eq!(fs::read(desk.path("trug.gpkg")).unwrap(), store);
    assert!(!desk.path("days").exists());
    desk.file("film/mine.txt", "mine");
    insta::assert_snapshot!(desk.reported(&["demo", "--into", "film"]));
    insta::assert_snapshot!(desk.reported(&["demo", "--into", "trug.gpkg"]));
}

/// The exit status, or `None` if the program does not end by itself.
#[cfg(unix)]
fn ends(desk: &Desk, arguments: &[&str]) -> Option<i32> {
    let mut child = Command::new(env!("CARGO_BIN_EXE_trug"))
        .args(arguments)
        .current_dir(desk.path("."))
        .env_remove("TRUG_STORE")
        .env("XDG_CACHE_HOME", desk.path("cache"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(60) {
        if let Some(status) = child.try_wait().unwrap() {
            child.wait().unwrap();
            return status.code();
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    None
}

#[cfg(unix)]
#[test]
fn pipes_and_devices_are_refused() {
    let desk = desk();
    assert!(Command::new("mkfifo").arg(desk.path("pipe")).status().unwrap().success());
    let day = samples().join("2026-04-18-wren-gully");
    let day = day.to_string_lossy();
    for strange in ["pipe", "/dev/zero", "/dev/null", "."] {
        for arguments in [
            &["finds", "--store", strange][..],
            &["sites", "--store", strange],
            &["import", &day, "--store", strange],
            &["check", &day, "--figure", strange],
            &["wayout", "--track", strange, "--to", "-42.6 146.1"],
            &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--avoid", strange],
            &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--line", strange],
            &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--elevation", strange],
            &["density", "--cells", "16", "--figure", "d.svg", "--elevation", strange],
            &["labels", "--out", strange],
            &["export", "--format", "gpx", "--out", strange],
            &["deposit", "--title", "T", "--licence", "cc0", "--out", strange],
            &["sheet", "--day", "2026-04-18", "--out", strange],
        ] {
            assert_eq!(ends(&desk, arguments), Some(2), "{arguments:?}");
        }
    }
    assert_eq!(ends(&desk, &["check", "pipe"]), Some(1), "set aside with its reason");
}
