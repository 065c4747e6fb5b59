//! Tracks in every open form and in archives: the same walk gives the same finds, and what cannot be read
//! is refused with its reason.

use std::fs;
use std::io::{Cursor, Write as _};

use flate2::Compression;
use flate2::write::GzEncoder;
use insta::assert_snapshot;
use serde_json::{Value, json};
use trug::ingest;
use trug::model::Fix;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use crate::run::{Desk, samples};

/// The fixes of a sample day.
fn walk() -> Vec<Fix> {
    let track = samples().join("2026-04-18-wren-gully/wren-gully.gpx");
    let intake = ingest::read(&[track]);
    intake.tracks[0].fixes().filter(|fix| fix.time.is_some()).copied().collect()
}

fn place(fix: &Fix) -> (f64, f64) {
    (fix.at.latitude(), fix.at.longitude())
}

fn height(fix: &Fix) -> f64 {
    fix.height.map_or(0.0, |height| height.0.0)
}

fn kml(fixes: &[Fix]) -> String {
    let whens: String =
        fixes.iter().map(|fix| format!("<when>{}</when>\n", fix.time.unwrap())).collect();
    let coords: String = fixes
        .iter()
        .map(|fix| {
            format!("<gx:coord>{} {} {}</gx:coord>\n", place(fix).1, place(fix).0, height(fix))
        })
        .collect();
    format!(
        "<?xml version=\"1.0\"?>\n<kml xmlns=\"http://www.opengis.net/kml/2.2\" \
         xmlns:gx=\"http://www.google.com/kml/ext/2.2\"><Document><Placemark><gx:Track>\n\
         <altitudeMode>absolute</altitudeMode>{whens}{coords}</gx:Track></Placemark></Document></kml>"
    )
}

fn geojson(fixes: &[Fix]) -> String {
    let line: Vec<Value> =
        fixes.iter().map(|fix| json!([place(fix).1, place(fix).0, height(fix)])).collect();
    let times: Vec<String> = fixes.iter().map(|fix| fix.time.unwrap().to_string()).collect();
    json!({"type": "FeatureCollection", "features": [{"type": "Feature",
        "properties": {"coordTimes": times},
        "geometry": {"type": "LineString", "coordinates": line}}]})
    .to_string()
}

fn angle(degrees: f64, width: usize, marks: [char; 2]) -> String {
    let (whole, mark) = (degrees.abs().trunc(), marks[usize::from(degrees < 0.0)]);
    format!("{whole:0width$}{:09.6},{mark}", (degrees.abs() - whole) * 60.0)
}

fn nmea(fixes: &[Fix]) -> String {
    let sentence = |body: String| {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}\r\n")
    };
    fixes
        .iter()
        .map(|fix| {
            let time = fix.time.unwrap();
            let at = format!(
                "{},{}",
                angle(place(fix).0, 2, ['N', 'S']),
                angle(place(fix).1, 3, ['E', 'W'])
            );
            let clock = time.strftime("%H%M%S.00");
            let date = time.strftime("%d%m%y");
            sentence(format!("GNRMC,{clock},A,{at},0.5,54.7,{date},,,A"))
                + &sentence(format!("GNGGA,{clock},{at},1,09,1.1,{:.1},M,-3.2,M,,", height(fix)))
        })
        .collect()
}

fn zipped(name: &str, content: &str) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file(name, SimpleFileOptions::default()).unwrap();
    zip.write_all(content.as_bytes()).unwrap();
    zip.finish().unwrap().into_inner()
}

fn gzipped(content: &str) -> Vec<u8> {
    let mut gzip = GzEncoder::new(Vec::new(), Compression::default());
    gzip.write_all(content.as_bytes()).unwrap();
    gzip.finish().unwrap()
}

/// Numbers and positions of the finds of a notebook with written times only.
fn finds(name: &str, track: &[u8]) -> Vec<(String, f64, f64)> {
    let desk = Desk::new();
    let notebook =
        fs::read_to_string(samples().join("2026-04-18-wren-gully/notebook.csv")).unwrap();
    desk.file(&format!("day/{name}"), track).file("day/notebook.csv", notebook);
    let output = desk.run(&["check", "day", "--json"]);
    let object: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(object["set_aside"], json!([]), "{name}");
    let finds = object["finds"].as_array().unwrap().iter();
    let number = |find: &Value, name: &str| find[name].as_f64().unwrap_or(f64::NAN);
    finds
        .map(|find| {
            let record = find["recordNumber"].as_str().unwrap_or_default().to_owned();
            (record, number(find, "decimalLatitude"), number(find, "decimalLongitude"))
        })
        .collect()
}

#[test]
fn one_walk_in_every_form_gives_the_same_finds() {
    let walk = walk();
    let gpx = fs::read(samples().join("2026-04-18-wren-gully/wren-gully.gpx")).unwrap();
    let reference = finds("walk.gpx", &gpx);
    assert!(reference.iter().filter(|find| find.1.is_finite()).count() > 8, "{reference:?}");
    let text = String::from_utf8(gpx).unwrap();
    let forms = [
        ("walk.kml", kml(&walk).into_bytes()),
        ("walk.kmz", zipped("doc.kml", &kml(&walk))),
        ("walk.geojson", geojson(&walk).into_bytes()),
        ("walk.log", nmea(&walk).into_bytes()),
        ("walk.zip", zipped("receiver/walk.gpx", &text)),
        ("walk.gpx.gz", gzipped(&text)),
        // the name decides nothing
        ("walk.dat", geojson(&walk).into_bytes()),
    ];
    for (name, content) in forms {
        let found = finds(name, &content);
        assert_eq!(found.len(), reference.len(), "{name}");
        for (own, other) in found.iter().zip(&reference) {
            assert_eq!(own.0, other.0);
            assert_eq!(own.1.is_finite(), other.1.is_finite(), "{name} {own:?} {other:?}");
            // dilution and satellites, which not every form has, weigh little
            let apart = (own.1 - other.1).abs().max((own.2 - other.2).abs());
            assert!(own.1.is_nan() || apart < 5e-5, "{name} {own:?} {other:?}");
        }
    }
}

#[test]
fn a_track_in_an_archive_is_kept_with_its_own_name_and_hash() {
    let desk = Desk::new();
    let text = kml(&walk());
    desk.file("day/walk.zip", zipped("ridge/walk.kml", &text));
    desk.run(&["import", "day", "--store", "a.gpkg"]);
    let store = rusqlite::Connection::open(desk.path("a.gpkg")).unwrap();
    let source: (String, String, String) = store
        .query_row("SELECT path, kind, hash FROM sources", [], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })
        .unwrap();
    assert!(source.0.ends_with("walk.zip/ridge/walk.kml"), "{source:?}");
    assert_eq!(source.1, "kml");
    assert_eq!(source.2, blake3::hash(text.as_bytes()).to_hex().to_string());
    assert!(desk.reported(&["import", "day", "--store", "a.gpkg"]).contains("Unchanged"));
}

#[test]
fn what_is_no_recorded_track_is_refused_with_its_reason() {
    let desk = Desk::new();
    let line = "<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Placemark><LineString><coordinates>\
                146.1,-42.6 146.2,-42.6</coordinates></LineString></Placemark></kml>";
    let system =
        r#"{"type":"FeatureCollection","crs":{"properties":{"name":"EPSG:28355"}},"features":[]}"#;
    let areas = r#"{"type":"Polygon","coordinates":[[[1,1],[2,2],[3,3],[1,1]]]}"#;
    let walk = walk();
    let damaged = nmea(&walk[..60]).replacen("GNRMC,", "GNRMC,9", 40);
    let cut = geojson(&walk[..60]);
    desk.file("day/line.kml", line)
        .file("day/metres.geojson", system)
        .file("day/areas.geojson", areas)
        .file("day/damaged.nmea", damaged)
        .file("day/cut.json", &cut[..cut.len() - 300])
        .file("day/receiver.fit", [14_u8, 16, 0, 0])
        .file("day/none.zip", zipped("readme.md", "nothing"))
        .file("day/photos.zip", zipped("a.csv", "number,date\n1,2026-05-02\n"))
        .file("day/deep.zip", {
            let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
            zip.start_file("a.zip", SimpleFileOptions::default()).unwrap();
            zip.write_all(&zipped("a.kml", line)).unwrap();
            zip.finish().unwrap().into_inner()
        });
    let reported = desk.reported(&["check", "day"]);
    let notes = reported.split_once("Set aside").map_or(reported.as_str(), |(_, rest)| rest);
    let status = reported.lines().next().unwrap_or_default();
    assert_snapshot!(format!("{status}\n{notes}"));
}

#[test]
fn finds_are_written_back_as_the_records_that_they_came_from() {
    for day in ["2026-04-18-wren-gully", "2026-05-02-thimble-spur", "2026-05-16-old-tramway"] {
        let desk = Desk::new();
        let folder = desk.path("again");
        fs::create_dir(&folder).unwrap();
        for entry in fs::read_dir(samples().join(day)).unwrap() {
            let from = entry.unwrap().path();
            if from.extension().is_none_or(|end| end != "csv" && end != "tsv" && end != "txt") {
                fs::copy(&from, folder.join(from.file_name().unwrap())).unwrap();
            }
        }
        let day = samples().join(day);
        desk.run(&["import", day.to_str().unwrap(), "--store", "a.gpkg"]);
        let table = desk.run(&["finds", "--store", "a.gpkg", "--format", "records"]).stdout;
        fs::write(folder.join("records.csv"), &table).unwrap();
        desk.run(&["import", "again", "--store", "b.gpkg"]);
        let again = desk.run(&["finds", "--store", "b.gpkg", "--format", "records"]).stdout;
        let (first, second) = (String::from_utf8_lossy(&table), String::from_utf8_lossy(&again));
        assert_eq!(first, second);
        assert!(first.lines().count() > 10);
    }
}

#[test]
fn one_selection_serves_every_listing_and_output() {
    let desk = Desk::new();
    let day = samples().join("2026-05-02-thimble-spur");
    desk.run(&["import", day.to_str().unwrap()]);
    let count = |options: &[&str]| {
        let words = [&["finds", "--format", "geojson"], options].concat();
        let object: Value = serde_json::from_slice(&desk.run(&words).stdout).unwrap();
        object["features"].as_array().unwrap().len()
    };
    let all = count(&[]);
    assert_eq!(count(&["--number", "NBP 0212..0216"]), 5);
    assert_eq!(count(&["--number", "nbp 213", "--number", "NBP 0215"]), 2);
    assert_eq!(count(&["--outing", "2026-05-02"]), all);
    assert_eq!(count(&["--near", "-42.61714 146.09382", "--within", "30"]), 1);
    let hosted = count(&["--host", "nothofagus"]);
    assert!(hosted > 0 && hosted < all, "{hosted} of {all}");
    assert_eq!(count(&["--host", "NOTHOFAGUS", "--taxon", "Mycena"]).min(1), 1);
    desk.run(&["export", "--format", "csv", "--out", "a.csv", "--number", "NBP 0212..0213"]);
    assert_eq!(fs::read_to_string(desk.path("a.csv")).unwrap().lines().count(), 3);
    let labels = desk.reported(&["labels", "--out", "l.pdf", "--number", "NBP 0212..0213"]);
    assert!(labels.contains("2 finds"), "{labels}");
    desk.run(&["finds", "--format", "xlsx", "--out", "a.xlsx", "--taxon", "Mycena"]);
    assert!(fs::read(desk.path("a.xlsx")).unwrap().starts_with(b"PK"));
    let reports = [
        &["finds", "--place", "thimbel"][..],
        &["finds", "--host", "Nothofagos"],
        &["finds", "--from", "2027-01-01"],
        &["finds", "--near", "-42.7 146.1", "--within", "100"],
        &["finds", "--notes", "xyzzy"],
        &["finds", "--outing", "2026-05-03"],
        &["finds", "--site", "99"],
        &["finds", "--collector", "Noel"],
        &["finds", "--taxon", "Mycena", "--number", "NBP 0212"],
        &["labels", "--out", "n.pdf", "--number", "NBP 0912"],
        &["export", "--format", "csv", "--out", "n.csv", "--substrate", "moos"],
        &["finds", "--format", "xlsx"],
    ];
    for words in reports {
        assert_snapshot!(desk.reported(words));
    }
}

#[test]
fn photographs_without_records_are_listed_in_groups_with_positions() {
    let desk = Desk::new();
    fs::create_dir(desk.path("day")).unwrap();
    for entry in fs::read_dir(samples().join("2026-04-18-wren-gully")).unwrap() {
        let from = entry.unwrap().path();
        if from.extension().is_some_and(|end| end != "csv") {
            fs::copy(&from, desk.path("day").join(from.file_name().unwrap())).unwrap();
        }
    }
    let reported = desk.reported(&["check", "day"]);
    let groups = reported.split_once("Finds:").map_or("", |(_, rest)| rest);
    let status = reported.lines().next().unwrap_or_default();
    assert_snapshot!(format!("{status}\n{}", groups.split("Notes\n").next().unwrap()));
}

#[test]
fn files_that_the_program_wrote_are_no_observations() {
    let desk = Desk::new();
    let day = samples().join("2026-05-02-thimble-spur");
    desk.run(&["import", day.to_str().unwrap()]);
    for format in ["gpx", "kml", "geojson"] {
        let written = desk.run(&["finds", "--format", format]).stdout;
        desk.file(&format!("written.{format}"), &written);
        let reported = desk.reported(&["check", &format!("written.{format}")]);
        assert!(reported.contains("was written by trug"), "{format}: {reported}");
    }
}
