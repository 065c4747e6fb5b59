//! Tests of archives: ordinary, damaged, nested, and ones that unpack without end.

use std::fs;
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};

use flate2::Compression;
use flate2::write::GzEncoder;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::super::gather;
use crate::model::{IgnoredCause, IgnoredFile, Intake};

const GPX: &str = r#"<gpx version="1.1"><trk><trkseg><trkpt lat="-42.5" lon="146.25"><time>2026-05-03T00:00:00Z</time></trkpt></trkseg></trk></gpx>"#;
const KML: &str = "<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Placemark><Track><when>2026-05-02T01:00:00Z</when><coord>1 2</coord></Track></Placemark></kml>";

fn zipped(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in files {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(content).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn gzipped(content: &[u8]) -> Vec<u8> {
    let mut gzip = GzEncoder::new(Vec::new(), Compression::best());
    gzip.write_all(content).unwrap();
    gzip.finish().unwrap()
}

fn gathered(name: &str, content: &[u8]) -> (Intake, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    fs::write(&path, content).unwrap();
    let intake = gather(&[folder.path().to_owned()], &|_| {});
    assert_eq!(fs::read(&path).unwrap(), content, "the original was changed");
    (intake, path)
}

fn names(intake: &Intake) -> Vec<String> {
    intake.tracks.iter().map(|track| track.source.name()).collect()
}

fn messages(intake: &Intake) -> Vec<&str> {
    intake.set_aside.iter().map(crate::error::Error::what).collect()
}

#[test]
fn tracks_within_archives_are_read_in_place() {
    let zip = zipped(&[
        ("tracks/ridge.gpx", GPX.as_bytes()),
        ("__MACOSX/tracks/._ridge.gpx", b"\0\x05\x16\x07"),
        ("readme.md", b"nothing"),
        (".x.gpx", GPX.as_bytes()),
        ("tracks/log.dat", KML.as_bytes()),
    ]);
    let (intake, path) = gathered("walk.zip", &zip);
    assert_eq!(names(&intake), ["walk.zip/tracks/ridge.gpx", "walk.zip/tracks/log.dat"]);
    assert!(messages(&intake).is_empty(), "{:?}", messages(&intake));
    let ignored = |name: &str, cause| IgnoredFile { path: path.join(name), cause };
    assert_eq!(
        intake.passed_over,
        [
            ignored("readme.md", IgnoredCause::UnsupportedFormat),
            ignored(".x.gpx", IgnoredCause::Hidden)
        ]
    );
    let source = &intake.tracks[0].source;
    assert_eq!(source.hash, blake3::hash(GPX.as_bytes()).to_hex().to_string());
    assert_eq!((source.bytes, source.folder()), (GPX.len() as u64, path.parent()));

    let (intake, _) = gathered("ridge.gpx.gz", &gzipped(GPX.as_bytes()));
    assert_eq!(names(&intake), ["ridge.gpx.gz/ridge.gpx"]);
    let kmz = zipped(&[("doc.kml", KML.as_bytes()), ("files/icon.jpg", b"\xff\xd8\xff\xd9")]);
    let (intake, _) = gathered("walk.kmz", &kmz);
    assert_eq!((names(&intake), messages(&intake)), (vec!["walk.kmz/doc.kml".to_owned()], vec![]));
}

#[test]
fn what_is_not_read_within_an_archive_is_reported() {
    let zip = zipped(&[
        ("ridge.gpx", GPX.as_bytes()),
        ("P1.jpg", b"\xff\xd8\xff\xda\0\x02picture\xff\xd9"),
        ("finds.csv", b"number,date\n1,2026-05-03\n"),
        ("inner.zip", &zipped(&[("a.gpx", GPX.as_bytes())])),
    ]);
    let (intake, _) = gathered("day.zip", &zip);
    assert_eq!(names(&intake), ["day.zip/ridge.gpx"]);
    assert_eq!(
        messages(&intake),
        [
            "day.zip/inner.zip is an archive within an archive",
            "day.zip: 1 photograph and 1 table not read"
        ]
    );
    let why = intake.set_aside[1].why().unwrap();
    assert!(why.ends_with(": P1.jpg, finds.csv"), "{why}");
    let (intake, _) = gathered("empty.zip", &zipped(&[]));
    assert_eq!(messages(&intake), ["empty.zip is an archive without a track"]);
    let twice = gzipped(&gzipped(GPX.as_bytes()));
    let (intake, _) = gathered("a.gpx.gz", &twice);
    assert_eq!(messages(&intake), ["a.gpx.gz/a.gpx is an archive within an archive"]);
}

#[test]
fn what_is_named_a_track_within_an_archive_and_is_none_is_reported() {
    for (name, content, what) in [
        ("a.gpx.gz", gzipped(b""), "a.gpx.gz/a.gpx is empty"),
        ("a.gpx.gz", Vec::new(), "a.gpx.gz is empty"),
        ("a.zip", zipped(&[("a.kml", b""), ("b.gpx", GPX.as_bytes())]), "a.zip/a.kml is empty"),
        ("a.zip", zipped(&[("a.gpx", b"Dear friends")]), "a.gpx is not a GPX file"),
    ] {
        let (intake, _) = gathered(name, &content);
        assert_eq!(messages(&intake), [what]);
    }
}

#[test]
fn a_damaged_archive_keeps_what_precedes_the_damage() {
    let point = "<trkpt lat=\"-42.5\" lon=\"146.25\"><time>2026-05-03T00:00:00Z</time></trkpt>";
    let long: String = (0..20_000).map(|k| point.replace("42.5", &format!("42.{k:05}"))).collect();
    let text = format!("<gpx version=\"1.1\"><trk><trkseg>{long}</trkseg></trk></gpx>");
    let whole = gzipped(text.as_bytes());
    let (intake, _) = gathered("ridge.gpx.gz", &whole[..whole.len() / 2]);
    let read = intake.tracks[0].fixes().count();
    assert!((5_000..15_000).contains(&read), "{read}");
    let reports: Vec<&str> =
        intake.tracks[0].set_aside.iter().map(crate::error::Error::what).collect();
    assert!(reports.iter().any(|what| what.contains("the archive is damaged")), "{reports:?}");
    let zip = zipped(&[("ridge.gpx", GPX.as_bytes())]);
    let (intake, _) = gathered("cut.zip", &zip[..zip.len() - 30]);
    assert_eq!(messages(&intake), ["cut.zip cannot be unpacked"]);
}

#[test]
fn archives_that_unpack_without_end_are_refused() {
    // 300 MiB of blanks between two tags
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file("bomb.gpx", SimpleFileOptions::default()).unwrap();
    zip.write_all(GPX.split_at(20).0.as_bytes()).unwrap();
    let blanks = vec![b' '; 1 << 20];
    for _ in 0..300 {
        zip.write_all(&blanks).unwrap();
    }
    zip.start_file("small.gpx", SimpleFileOptions::default()).unwrap();
    zip.write_all(GPX.as_bytes()).unwrap();
    let bytes = zip.finish().unwrap().into_inner();
    assert!(bytes.len() < 1 << 20);
    let (intake, _) = gathered("bomb.zip", &bytes);
    assert_eq!(
        messages(&intake),
        ["bomb.zip/bomb.gpx was not read", "bomb.zip/small.gpx was not read"]
    );
    assert!(intake.set_aside[0].why().unwrap().contains("256 MiB"));
}

#[test]
fn names_cannot_leave_the_archive() {
    assert_eq!(
        super::within(Path::new("a.zip"), "../../etc\\x/./b.gpx"),
        Path::new("a.zip/etc/x/b.gpx")
    );
}

#[test]
fn office_documents_are_no_archives_of_tracks() {
    let book = zipped(&[("[Content_Types].xml", b"<Types/>"), ("xl/workbook.xml", b"<workbook/>")]);
    assert_eq!(super::identify(&book), None);
    assert_eq!(super::identify(&zipped(&[("mimetype", b"x")])), None);
    assert_eq!(super::identify(&zipped(&[("ridge.gpx", b"x")])), Some(super::Archive::Zip));
}
