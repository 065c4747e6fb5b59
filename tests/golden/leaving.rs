//! Tests the commands that write outputs for others, on the sample days: output and error messages.
//! Positions are generalised by default.

use std::fs;
use std::path::Path;

use insta::assert_snapshot;
use serde_json::Value;

use crate::run::{Desk, samples};

/// A folder with one sample day in its store; the day is copied into it, so that stamps are written there.
fn desk() -> Desk {
    let desk = Desk::new();
    copy(&samples().join("2026-04-18-wren-gully"), &desk.path("day"));
    desk.run(&["import", "day", "--store", "a.gpkg"]);
    desk
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let file = entry.unwrap().path();
        fs::copy(&file, to.join(file.file_name().unwrap())).unwrap();
    }
}

/// The output of a command, without what depends on the date.
fn reported(desk: &Desk, arguments: &[&str]) -> String {
    let mut all = arguments.to_vec();
    all.extend(["--store", "a.gpkg"]);
    let reported = desk.reported(&all);
    let mut words = Vec::new();
    for line in reported.lines() {
        let spaced: Vec<String> = line
            .split(' ')
            .map(|word| {
                let date = word.len() == 10 && word.starts_with("20") && word[4..5] == *"-";
                if date && !word.starts_with("2026-04") {
                    "[date]".to_owned()
                } else {
                    word.to_owned()
                }
            })
            .collect();
        words.push(spaced.join(" "));
    }
    words.join("\n")
}

#[test]
fn labels_and_slips() {
    let desk = desk();
    assert_snapshot!(reported(&desk, &["labels", "--out", "labels.pdf"]));
    assert_snapshot!(reported(
        &desk,
        &["labels", "--size", "tag", "--paper", "letter", "--out", "tags.pdf"]
    ));
    assert_snapshot!(desk.reported(&[
        "labels",
        "--slips",
        "AQ-0098",
        "--count",
        "9",
        "--out",
        "slips.pdf"
    ]));
    assert_snapshot!(reported(&desk, &["labels", "--taxon", "Boletus", "--out", "none.pdf"]));
    assert_snapshot!(desk.reported(&[
        "labels",
        "--slips",
        "no digits",
        "--count",
        "2",
        "--out",
        "slips.pdf"
    ]));
    assert_snapshot!(reported(&desk, &["labels", "--out", "day/notebook.csv"]));
}

#[test]
fn sheets() {
    let desk = desk();
    assert_snapshot!(reported(&desk, &["sheet", "--day", "2026-04-19", "--out", "day.html"]));
    assert_snapshot!(reported(&desk, &["sheet", "--season", "2025", "--out", "year.html"]));
    assert_snapshot!(reported(&desk, &["sheet", "--season", "autumn", "--out", "year.html"]));
    assert_snapshot!(desk.reported(&["sheet", "--out", "year.html"]));
    let made = desk.run(&["sheet", "--season", "2026", "--out", "year.html", "--store", "a.gpkg"]);
    assert!(made.status.success());
    assert!(String::from_utf8_lossy(&made.stdout).starts_with("year.html: 1 outing, 16 finds,"));
    assert!(fs::read_to_string(desk.path("year.html")).unwrap().contains("Finds of 2026"));
}

#[test]
fn stamps_and_copies() {
    let desk = desk();
    assert_snapshot!(reported(&desk, &["stamp"]));
    assert_snapshot!(reported(&desk, &["stamp", "--copies", "copies"]));
    assert_snapshot!(reported(&desk, &["stamp", "--copies", "copies", "--into", "files"]));
    fs::write(desk.path("day/P1001.xmp"), "<x:xmpmeta x:xmptk=\"Another program 7\"/>").unwrap();
    fs::write(desk.path("copies/P1002.jpg"), "something else").unwrap();
    fs::remove_file(desk.path("day/P1003.jpg")).unwrap();
    assert_snapshot!(reported(&desk, &["stamp"]));
    assert_snapshot!(reported(&desk, &["stamp", "--copies", "copies"]));
}

#[test]
fn places() {
    let desk = desk();
    assert_snapshot!(reported(&desk, &["places"]));
    // a name without finds is refused with similar names
    assert_snapshot!(reported(
        &desk,
        &["places", "quiet", "--taxon", "Hericum coraloides", "--level", "high"]
    ));
    assert_snapshot!(reported(
        &desk,
        &[
            "places",
            "quiet",
            "--kind",
            "Hygrocybe",
            "--level",
            "high",
            "--reason",
            "county list",
            "--in-advance"
        ]
    ));
    assert_snapshot!(reported(&desk, &["places", "quiet", "--find", "AQ-9999", "--level", "low"]));
    assert_snapshot!(reported(&desk, &["places", "quiet", "--site", "77", "--level", "low"]));
    assert_snapshot!(reported(&desk, &["places"]));
    assert_snapshot!(reported(&desk, &["places", "open", "--taxon", "Mycena"]));
    // it is reported while it matches no find
    assert_snapshot!(reported(&desk, &["export", "--format", "csv", "--out", "finds.csv"]));
    let json: Value =
        serde_json::from_slice(&desk.run(&["places", "--json", "--store", "a.gpkg"]).stdout)
            .unwrap();
    assert_eq!(json[0]["subject"], "taxon");
    assert_eq!(json[0]["in_advance"], true);
    assert_eq!(json[0]["of"], "hygrocybe");
    assert_eq!(json[0]["level"], "high");
    assert_eq!(json[0]["step_degrees"], 0.1);
    assert_eq!(json[0]["reason"], "county list");
    assert!(json[0]["since"].as_str().unwrap().ends_with('Z'));
    assert_snapshot!(reported(&desk, &["places", "open", "--kind", "HYGROCYBE"]));
    let none = desk.run(&["places", "--json", "--store", "a.gpkg"]);
    assert_eq!(none.stdout, b"[]\n");
}

#[test]
fn exports() {
    let desk = desk();
    for form in ["geojson", "gpx", "kml", "csv", "geoparquet"] {
        let out = format!("finds.{form}");
        let first = reported(&desk, &["export", "--format", form, "--out", &out]);
        assert!(first.starts_with("exit status: 0"), "{form}: {first}");
        let bytes = fs::read(desk.path(&out)).unwrap();
        let again = reported(&desk, &["export", "--format", form, "--out", &out]);
        assert_eq!(first, again, "{form}: its own file is replaced");
        assert_eq!(
            fs::read(desk.path(&out)).unwrap(),
            bytes,
            "{form}: the same finds give the same bytes"
        );
    }
    assert_snapshot!(reported(
        &desk,
        &[
            "export",
            "--format",
            "geojson",
            "--ways",
            "--coordinates",
            "exact-where-open",
            "--out",
            "finds.geojson"
        ]
    ));
    assert_snapshot!(reported(&desk, &["export", "--format", "csv", "--out", "finds.csv"]));
    assert_snapshot!(reported(&desk, &["export", "--format", "csv", "--out", "day/notebook.csv"]));
    assert_snapshot!(reported(
        &desk,
        &["export", "--format", "csv", "--ways", "--out", "finds.csv"]
    ));
    assert_snapshot!(reported(&desk, &["export", "--format", "kml", "--out", "day"]));
    assert_snapshot!(reported(
        &desk,
        &["export", "--format", "kml", "--taxon", "Boletus", "--out", "none.kml"]
    ));
    assert_snapshot!(reported(
        &desk,
        &["export", "--format", "geoparquet", "--by-year", "--out", "finds.csv"]
    ));
    let parts = reported(&desk, &["export", "--format", "geoparquet", "--out", "years/"]);
    assert!(
        parts.starts_with("exit status: 0")
            && desk.path("years/year=2026/part-0.parquet").is_file()
    );
}

#[test]
fn deposits() {
    let desk = desk();
    let words = ["deposit", "--title", "Autumn", "--licence", "cc0", "--out", "a.zip"];
    assert_snapshot!(reported(&desk, &words));
    assert_snapshot!(reported(&desk, &words), @r#"
    exit status: 0
    --- results
    a.zip: 16 finds, 1 outing, 0 non-detections
    --- notes
    Positions: 16 generalised (low).
    "#);
    assert_snapshot!(desk.reported(&["deposit", "--out", "a.zip"]));
    assert_snapshot!(reported(
        &desk,
        &["deposit", "--title", "x", "--licence", "cc0", "--out", "day/P1001.jpg"]
    ));
}

#[test]
fn deposit_withholds_words_of_the_locality() {
    let desk = Desk::new();
    copy(&samples().join("2026-04-18-wren-gully"), &desk.path("day"));
    let notes = fs::read_to_string(desk.path("day/notebook.csv")).unwrap();
    let telling = notes.replacen("cool temperate rainforest", "just above Lantern Flat", 2);
    fs::write(desk.path("day/notebook.csv"), telling).unwrap();
    desk.run(&["import", "day", "--store", "a.gpkg"]);
    desk.run(&["places", "quiet", "--kind", "Mycena", "--level", "high", "--store", "a.gpkg"]);
    let words = ["deposit", "--title", "x", "--licence", "cc0", "--out", "a.zip"];
    assert_snapshot!(reported(&desk, &words));
    assert!(desk.path("a.zip").exists());
}

#[test]
fn day_without_finds_gives_non_detections() {
    let desk = desk();
    let again = desk.path("again");
    fs::create_dir(&again).unwrap();
    for entry in fs::read_dir(desk.path("day")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|end| end == "gpx") {
            let track = fs::read_to_string(&path).unwrap();
            let later =
                track.replace("2026-04-17", "2026-04-24").replace("2026-04-18", "2026-04-25");
            fs::write(again.join("later.gpx"), later).unwrap();
        }
    }
    let imported = desk.reported(&["import", "again", "--store", "a.gpkg"]);
    let made = reported(&desk, &["deposit", "--title", "x", "--licence", "cc0", "--out", "a.zip"]);
    assert!(made.contains("16 finds, 2 outings"), "{imported}\n{made}");
    let bytes = fs::read(desk.path("a.zip")).unwrap();
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    let table = |archive: &mut zip::ZipArchive<_>, name: &str| -> Vec<csv::StringRecord> {
        let reader = csv::Reader::from_reader(archive.by_name(name).unwrap());
        reader.into_records().map(Result::unwrap).collect()
    };
    let mut reader = csv::Reader::from_reader(archive.by_name("occurrence.csv").unwrap());
    let headings = reader.headers().unwrap().clone();
    let column = |name: &str| headings.iter().position(|heading| heading == name).unwrap();
    drop(reader);
    let rows = table(&mut archive, "occurrence.csv");
    let without_find: Vec<&csv::StringRecord> =
        rows.iter().filter(|row| &row[column("occurrenceStatus")] == "notDetected").collect();
    assert!(without_find.len() > 3, "{} of {}", without_find.len(), rows.len());
    for row in without_find {
        assert!(row[column("eventDate")].starts_with("2026-04-25"), "{row:?}");
        assert_eq!(&row[column("decimalLatitude")], "");
        let named = rows.iter().any(|other| {
            &other[column("occurrenceStatus")] == "detected"
                && other[column("scientificName")] == row[column("scientificName")]
        });
        assert!(named, "a kind that was never found: {row:?}");
    }
    assert_eq!(table(&mut archive, "event.csv").len(), 2);
    let asked = reported(
        &desk,
        &[
            "deposit",
            "--taxon",
            "Cortinarius",
            "--title",
            "x",
            "--licence",
            "cc0",
            "--out",
            "b.zip",
        ],
    );
    assert!(asked.contains("2 outings"), "{asked}");
}

/// `trug effort` and the events of a deposit state the same time of search for each outing.
#[test]
fn an_outing_has_one_effort() {
    let desk = Desk::new();
    for day in ["2026-04-18-wren-gully", "2026-05-02-thimble-spur"] {
        let folder = samples().join(day);
        desk.run(&["import", &folder.to_string_lossy(), "--store", "a.gpkg"]);
    }
    let stated =
        desk.run(&["effort", "--by", "day", "--store", "a.gpkg", "--format", "json"]).stdout;
    let stated: Value = serde_json::from_slice(&stated).unwrap();
    let of_day: std::collections::BTreeMap<String, f64> = stated["lines"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| (line["of"].as_str().unwrap().to_owned(), line["searched_s"].as_f64().unwrap()))
        .collect();
    desk.run(&[
        "deposit",
        "--title",
        "x",
        "--licence",
        "cc0",
        "--out",
        "a.zip",
        "--store",
        "a.gpkg",
    ]);
    let bytes = fs::read(desk.path("a.zip")).unwrap();
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    let mut reader = csv::Reader::from_reader(archive.by_name("event.csv").unwrap());
    let headings = reader.headers().unwrap().clone();
    let column = |name: &str| headings.iter().position(|heading| heading == name).unwrap();
    let mut events = 0;
    for row in reader.records().map(Result::unwrap) {
        let minutes: f64 = row[column("sampleSizeValue")].parse().unwrap();
        let searched = of_day[&row[column("eventDate")]];
        assert!((60.0 * minutes - searched).abs() <= 31.0, "{row:?} {searched}");
        events += 1;
    }
    assert_eq!(events, 2);
}
