//! Tests that files without data are reported with the reason, and that unknown names are errors.

use std::fs;

use serde_json::Value;

use crate::run::{Desk, samples};

const GPX: &str = "<?xml version=\"1.0\"?><gpx version=\"1.1\" creator=\"hand\" xmlns=\"http://www.topografix.com/GPX/1/1\">";

const EMPTY_GEOJSON: &str = r#"{"type":"FeatureCollection","features":[]}"#;
const AREAS_GEOJSON: &str = r#"{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[10,50],[10.1,50],[10.1,50.1],[10,50]]]}}]}"#;
const AREA_KML: &str = "<Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>1,1 2,2 3,3 1,1</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>";

fn kml(inside: &str) -> Vec<u8> {
    format!("<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document>{inside}</Document></kml>")
        .into_bytes()
}

/// Files without data, and the expected reason for each.
fn barren() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let gpx = |inside: &str| format!("{GPX}{inside}</gpx>").into_bytes();
    let bad = "<trk><trkseg><trkpt lat=\"91\" lon=\"146\"><time>2026-05-02T00:00:00Z</time></trkpt></trkseg></trk>";
    let route =
        "<rte><rtept lat=\"-42.6\" lon=\"146.1\"/><rtept lat=\"-42.7\" lon=\"146.1\"/></rte>";
    let foreign = "<g:gpx xmlns:g=\"urn:other\" version=\"1.1\"><g:tour><g:place lat=\"1\" lon=\"2\"/></g:tour></g:gpx>";
    vec![
        ("bad.gpx", gpx(bad), "bad.gpx"),
        ("route.gpx", gpx(route), "only a route or a line without times"),
        ("none.gpx", gpx(""), "no track, route or waypoint"),
        ("empty-track.gpx", gpx("<trk><trkseg></trkseg></trk>"), "no track, route or waypoint"),
        ("foreign.gpx", foreign.as_bytes().to_vec(), "foreign.gpx"),
        ("headings.csv", b"number,date,time,place\n".to_vec(), "no row below"),
        ("day.zip", b"PK\x03\x04rest of an archive".to_vec(), "cannot be unpacked"),
        ("page.gpx", b"<html><body>not found</body></html>".to_vec(), "a web page"),
        ("empty.gpx", Vec::new(), "it is empty"),
        ("empty.geojson", EMPTY_GEOJSON.into(), "no track, route or waypoint"),
        ("areas.geojson", AREAS_GEOJSON.into(), "it contains areas only (1)"),
        ("empty.kml", kml(""), "no track, route or waypoint"),
        ("areas.kml", kml(AREA_KML), "it contains areas only (1)"),
    ]
}

fn set_aside(desk: &Desk, path: &str) -> (Option<i32>, String) {
    let output = desk.run(&["check", "--json", path]);
    let object: Value = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|_| panic!("{path}: {}", String::from_utf8_lossy(&output.stderr)));
    (output.status.code(), object["set_aside"].to_string())
}

#[test]
fn file_without_data_is_reported_with_the_reason() {
    let track = fs::read(samples().join("2026-04-18-wren-gully/wren-gully.gpx"));
    let good = track.unwrap_or_else(|_| {
        let points: Vec<String> = (0..30)
            .map(|n| {
                format!(
                    "<trkpt lat=\"-42.61{n:03}\" lon=\"146.09\"><time>2026-05-02T00:{n:02}:00Z</time></trkpt>"
                )
            })
            .collect();
        let points = points.concat();
        format!("{GPX}<trk><trkseg>{points}</trkseg></trk></gpx>").into_bytes()
    });
    for (name, bytes, said) in barren() {
        let desk = Desk::new();
        desk.file(&format!("day/{name}"), &bytes);
        let (status, aside) = set_aside(&desk, "day");
        assert_eq!(status, Some(1), "{name}: {aside}");
        assert!(aside.contains(name) && aside.contains(said), "{name}: {aside}");
        let words = desk.reported(&["import", "day"]);
        assert!(words.starts_with("exit status: 1\n") && words.contains(said), "{name}: {words}");
        assert!(!desk.path("trug.gpkg").exists(), "nothing to keep makes no store");
        desk.file("day/a.gpx", &good);
        let (status, aside) = set_aside(&desk, "day");
        assert_eq!(status, Some(1), "{name}: {aside}");
        assert!(aside.contains(name) && aside.contains(said), "{name} beside a track: {aside}");
    }
}

fn desk() -> Desk {
    let desk = Desk::new();
    desk.run(&["import", &samples().join("2026-04-18-wren-gully").to_string_lossy()]);
    desk
}

#[test]
fn unknown_numbers_and_names_are_reported() {
    let desk = desk();
    insta::assert_snapshot!(desk.reported(&["labels", "--number", "NOPE", "--out", "l.pdf"]));
    for arguments in [
        &["labels", "--taxon", "Mycenna", "--out", "l.pdf"][..],
        &["next", "--date", "2027-05-08", "--taxon", "Mycenna"],
        &["season", "--taxon", "Mycenna"],
        &["detection", "--taxon", "Mycenna"],
        &["density", "--taxon", "Mycenna"],
        &["export", "--format", "csv", "--out", "x.csv", "--taxon", "Mycenna"],
        &["deposit", "--title", "T", "--licence", "cc0", "--out", "x.zip", "--taxon", "Mycenna"],
    ] {
        let reported = desk.reported(arguments);
        assert!(reported.starts_with("exit status: 2\n"), "{arguments:?}: {reported}");
        assert!(reported.contains("named Mycenna") && reported.contains("Mycena "), "{reported}");
    }
    let reported = desk.reported(&["finds", "--taxon", "Mycenna"]);
    assert!(reported.contains("names most like it: Mycena "), "{reported}");
    let reported = desk.reported(&["labels", "--collector", "Nobody", "--out", "l.pdf"]);
    assert!(
        reported.starts_with("exit status: 2\n") && reported.contains("by Nobody"),
        "{reported}"
    );
    let number = ["labels", "--out", "l.pdf", "--number", "AQ-0041", "--number", "AQ-99999"];
    assert!(desk.reported(&number).starts_with("exit status: 2\n"), "one of two is missing");
    assert!(!desk.path("l.pdf").exists());
    for arguments in [
        &["visits", "--site", "9999"][..],
        &["detection", "--site", "nowhere"],
        &["sheet", "--day", "1999-01-01", "--out", "x.html"],
        &["wayout", "--from", "-42.6 146.1", "--to", "Nowhere Gate"],
        &["finds", "--format", "shapefile"],
        &["effort", "--by", "moon"],
    ] {
        assert_eq!(desk.run(arguments).status.code(), Some(2), "{arguments:?}");
    }
    let day = samples().join("2026-04-18-wren-gully");
    let clock = ["--camera-clock", "IMG_NONE.jpg=2026-04-18T09:00:00+10:00"];
    let reported = desk.reported(&[&["check", &day.to_string_lossy()][..], &clock].concat());
    assert!(
        reported.starts_with("exit status: 2\n") && reported.contains("no photograph IMG_NONE"),
        "{reported}"
    );
}

#[test]
fn photographs_with_equal_headers_are_distinct() {
    let photo = fs::read_dir(samples().join("2026-04-18-wren-gully"))
        .unwrap()
        .filter_map(|entry| fs::read(entry.unwrap().path()).ok())
        .find(|bytes| bytes.starts_with(b"\xff\xd8\xff"))
        .unwrap();
    let with_end = |end: u8| [&photo[..], &vec![0; 100_000], &[end]].concat();
    let desk = Desk::new();
    desk.file("day/P1.jpg", with_end(1))
        .file("day/P2.jpg", with_end(2))
        .file("day/P3.jpg", with_end(1));
    let (_, aside) = set_aside(&desk, "day");
    assert!(aside.contains("P3.jpg is a copy") && !aside.contains("P2.jpg is a copy"), "{aside}");
    desk.run(&["import", "day"]);
    let again = desk.reported(&["import", "day"]);
    assert!(again.contains("Unchanged"), "{again}");
    // different content after an equal header: another photograph
    let (_, before) = set_aside(&desk, "day");
    desk.file("day/P3.jpg", with_end(3));
    let (_, after) = set_aside(&desk, "day");
    assert!(before.contains("P3.jpg is a copy") && !after.contains("P3.jpg is a copy"), "{after}");
}

#[test]
fn what_is_not_used_of_a_file_beside_a_track_is_listed() {
    let track: String = (0..30)
        .map(|n| {
            format!(
                "<trkpt lat=\"-42.61{n:03}\" lon=\"146.09\"><time>2026-05-02T00:{n:02}:00Z</time></trkpt>"
            )
        })
        .collect();
    let track = format!("{GPX}<trk><trkseg>{track}</trkseg></trk></gpx>");
    let route =
        "<rte><rtept lat=\"-42.61\" lon=\"146.09\"/><rtept lat=\"-42.62\" lon=\"146.09\"/></rte>";
    let far = "<wpt lat=\"10.5\" lon=\"-60.2\"><name>Car</name></wpt>";
    let near = "<wpt lat=\"-42.62\" lon=\"146.09\"><name>Car</name></wpt>";
    let desk = Desk::new();
    desk.file("day/walk.gpx", &track);
    desk.file("day/other.gpx", format!("{GPX}{far}{route}</gpx>"));
    let (status, aside) = set_aside(&desk, "day");
    assert_eq!(status, Some(1), "{aside}");
    assert!(aside.contains("waypoints-far") && aside.contains("other.gpx"), "{aside}");
    let reported = desk.reported(&["check", "day"]);
    assert!(reported.contains("it has no time and is at least"), "{reported}");
    assert!(reported.contains("the route in other.gpx is not used"), "{reported}");
    // one waypoint of the day keeps the file in use; what is not used of it is a note
    desk.file("day/other.gpx", format!("{GPX}{far}{near}{route}</gpx>"));
    let reported = desk.reported(&["check", "day"]);
    assert!(reported.starts_with("exit status: 0\n"), "{reported}");
    assert!(reported.contains("other.gpx: 1 waypoint is not used"), "{reported}");
    assert!(reported.contains("the route in other.gpx is not used"), "{reported}");
}

#[test]
fn nothing_with_a_date_creates_no_store() {
    let desk = Desk::new();
    let points: String = (0..30)
        .map(|step| format!("<trkpt lat=\"{:.5}\" lon=\"146.1\"/>", -42.6 + f64::from(step) * 1e-4))
        .collect();
    let file = format!("{GPX}<trk><trkseg>{points}</trkseg></trk></gpx>");
    desk.file("d/undated.gpx", file);
    let text = desk.reported(&["import", "d", "--store", "a.gpkg"]);
    assert!(text.contains("exit status: 1"), "{text}");
    assert!(!desk.path("a.gpkg").exists(), "{text}");
    desk.file("b.gpkg-journal", vec![0xd9_u8; 10_752]);
    let text = desk.reported(&["finds", "--store", "b.gpkg"]);
    assert!(text.contains("exit status: 2"), "{text}");
}
