//! Tracks of hostile sizes in the other open forms and in archives.

use std::fmt::Write as _;
use std::fs;
use std::io::{Cursor, Write as _};
use std::path::Path;

use trug::ingest;
use trug::ingest::track::read_from;
use trug::join::{Options, join};
use trug::model::{FileKind, Intake, TrackFile};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::{MIB, assert_bounded, measured, turn};

fn read(text: &str, kind: FileKind) -> (TrackFile, usize) {
    measured(|| read_from(text.as_bytes(), Path::new("a.track"), kind, None).unwrap())
}

fn time(second: i64) -> jiff::Timestamp {
    jiff::Timestamp::from_second(1_777_683_600 + second).unwrap()
}

#[test]
fn a_long_line_of_geojson_is_bounded_and_a_longer_one_cut() {
    let _turn = turn();
    let line = |count: i64| {
        let mut text = String::from(
            "{\"type\":\"Feature\",\"geometry\":{\"type\":\"LineString\",\"coordinates\":[[146.1,-42.5]",
        );
        for point in 1..count {
            let _ = write!(text, ",[146.{:06},-42.{:06}]", point % 999_983, point % 999_979);
        }
        text.push_str("]},\"properties\":{\"coordTimes\":[\"2026-05-02T01:00:00Z\"");
        for point in 1..count {
            let _ = write!(text, ",\"{}\"", time(point));
        }
        text + "]}}"
    };
    let text = line(1_000_000);
    let (file, peak) = read(&text, FileKind::GeoJson);
    assert_eq!(file.fixes().filter(|fix| fix.time.is_some()).count(), 1_000_000);
    assert_bounded(text.len(), peak, "a line of a million points");
    let text = line(1_000_010);
    let (file, peak) = read(&text, FileKind::GeoJson);
    assert_eq!(file.fixes().count(), 1_000_000);
    let reports: Vec<&str> = file.set_aside.iter().map(trug::error::Error::what).collect();
    assert!(reports[0].contains("10 points were skipped, because"), "{reports:?}");
    assert_bounded(text.len(), peak, "a line with too many points");
}

#[test]
fn minimal_points_and_deep_brackets_are_bounded() {
    let _turn = turn();
    let multipoint = |count: usize| {
        let many = "[1,1],".repeat(count);
        format!("{{\"type\":\"MultiPoint\",\"coordinates\":[{}]}}", &many[..many.len() - 1])
    };
    let text = multipoint(499_000);
    let (_, peak) = read(&text, FileKind::GeoJson);
    assert_bounded(text.len(), peak, "half a million minimal points");
    let deep = format!("{{\"type\":\"LineString\",\"coordinates\":{}", "[".repeat(8 * MIB));
    for text in [multipoint(4_000_000), deep] {
        let (refused, peak) = measured(|| {
            read_from(text.as_bytes(), Path::new("a.json"), FileKind::GeoJson, None).unwrap_err()
        });
        assert!(refused.to_string().contains("0000 positions is read"), "{refused}");
        assert_bounded(text.len(), peak, "too many positions");
    }
}

#[test]
fn too_large_a_file_of_geojson_is_refused_with_the_limit() {
    let _turn = turn();
    let text = format!("{{\"type\":\"Point\",\"coordinates\":[1,2]{}}}", " ".repeat(64 * MIB));
    let refused =
        read_from(text.as_bytes(), Path::new("a.json"), FileKind::GeoJson, None).unwrap_err();
    assert!(refused.to_string().contains("64 MiB"), "{refused}");
}

#[test]
fn long_logs_and_maps_are_bounded() {
    let _turn = turn();
    let mut log = String::new();
    for second in 0..80_000 {
        let clock = time(second).strftime("%H%M%S").to_string();
        let body = format!("GPRMC,{clock},A,4216.500,S,14615.000,E,0.5,54.7,020526,,,A");
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        let _ = write!(log, "${body}*{sum:02X}\r\n");
    }
    let (file, peak) = read(&log, FileKind::Nmea);
    assert_eq!(file.fixes().count(), 80_000);
    assert_bounded(log.len(), peak, "a log of a day");
    let mut map = String::from("<kml><Placemark><Track>");
    for second in 0..200_000 {
        let _ = write!(map, "<when>{}</when><coord>146.1 -42.5 4</coord>", time(second));
    }
    map.push_str("</Track></Placemark></kml>");
    let (file, peak) = read(&map, FileKind::Kml);
    assert_eq!(file.fixes().count(), 200_000);
    assert_bounded(map.len(), peak, "a map of 200,000 points");
    let quadratic = format!("<kml>{}", "<Placemark><Style>".repeat(300_000));
    let (_, peak) = read(&quadratic, FileKind::Kml);
    assert_bounded(quadratic.len(), peak, "unclosed placemarks");
}

#[test]
fn an_archive_that_unpacks_to_gigabytes_is_refused() {
    let _turn = turn();
    let folder = tempfile::tempdir().unwrap();
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default();
    for (name, start) in [
        ("a.gpx", "<gpx><trk>"),
        ("b.kml", "<kml>"),
        ("c.json", "{\"type\":\"Point\",\"coordinates\":[1,2]"),
    ] {
        zip.start_file(name, options).unwrap();
        zip.write_all(start.as_bytes()).unwrap();
        let blanks = vec![b' '; MIB];
        (0..300).for_each(|_| zip.write_all(&blanks).unwrap());
    }
    let bytes = zip.finish().unwrap().into_inner();
    fs::write(folder.path().join("bomb.zip"), &bytes).unwrap();
    let (intake, peak) = measured(|| ingest::read(&[folder.path()]));
    assert!(intake.tracks.is_empty());
    assert_eq!(intake.set_aside.len(), 3, "{:?}", intake.set_aside);
    assert_bounded(bytes.len(), peak, "a bomb");
}

/// Reads and joins a file; gives the peak of memory and the words of what was set aside.
fn joined(text: &str, kind: FileKind) -> (String, usize) {
    let (reports, peak) = measured(|| {
        let file = read_from(text.as_bytes(), Path::new("a.track"), kind, None).unwrap();
        let reports: Vec<String> = file.set_aside.iter().map(ToString::to_string).collect();
        let intake = Intake { tracks: vec![file], ..Intake::default() };
        let _ = join(intake, &Options::default());
        reports.join("; ")
    });
    assert_bounded(text.len(), peak, &text[..40]);
    (reports, peak)
}

#[test]
fn minimal_points_are_kept_in_proportion_to_the_file() {
    let _turn = turn();
    let body = |begin: &str, piece: &str, count: usize, end: &str| {
        format!("{begin}{}{end}", piece.repeat(count))
    };
    let untimed = r#"<trkpt lat="1" lon="2"/>"#;
    let timed = r#"<trkpt lat="1" lon="2"><time>2026-05-03T00:00:01Z</time></trkpt>"#;
    let named = r#"<wpt lat="1" lon="2"><name>A</name></wpt>"#;
    let gpx = |piece: &str, count: usize| {
        body("<gpx version=\"1.1\"><trk><trkseg>", piece, count, "</trkseg></trk></gpx>")
    };
    let texts = [
        (gpx(untimed, 1_500_000), FileKind::Gpx),
        (gpx(timed, 1_000_000), FileKind::Gpx),
        (
            body("<gpx version=\"1.1\" creator=\"someone\">", named, 1_000_000, "</gpx>"),
            FileKind::Gpx,
        ),
        (
            body(
                "<kml><Placemark><LineString><coordinates>",
                "1,2 ",
                4_000_000,
                "</coordinates></LineString></Placemark></kml>",
            ),
            FileKind::Kml,
        ),
    ];
    for (text, kind) in texts {
        let (reports, _) = joined(&text, kind);
        assert!(reports.contains("370,000 points are read"), "{reports}");
    }
    // empty lines take no memory
    let lines =
        body("<gpx version=\"1.1\" creator=\"someone\">", "<trk/><rte/>", 4_000_000, "</gpx>");
    let (_, peak) = measured(|| {
        read_from(lines.as_bytes(), Path::new("a.gpx"), FileKind::Gpx, None)
            .map(|file| file.fixes().count())
    });
    assert!(peak < 64 * MIB, "{} MiB", peak / MIB);
}

#[test]
fn a_text_that_many_points_share_is_kept_once() {
    let _turn = turn();
    let text = format!(
        "<kml><Placemark><name>{0}</name><description>{0}</description><MultiGeometry>{1}</MultiGeometry></Placemark></kml>",
        "x".repeat(60_000),
        "<Point><coordinates>1,2</coordinates></Point>".repeat(60_000)
    );
    let (file, peak) = read(&text, FileKind::Kml);
    assert_eq!(file.waypoints.len(), 60_000);
    assert!(peak < 64 * MIB, "{} MiB", peak / MIB);
}
