//! Tests of folders as collectors have them: mixed, with unrelated files, copies, loops and broken
//! files.

use std::fs;
use std::path::PathBuf;
use std::sync::Mutex;

use super::{Kind, Step, gather, identify};
use crate::model::{IgnoredCause, Intake, Photo, name_of};

const GPX: &str = r#"<gpx version="1.1"><trk><trkseg><trkpt lat="-42.5" lon="146.25"><time>2026-05-03T00:00:00Z</time></trkpt></trkseg></trk></gpx>"#;
const JPEG: &[u8] = b"\xff\xd8\xff\xda\0\x02picture\xff\xd9";
const CSV: &str = "number,date\n1,2026-05-03\n";

struct Folder(tempfile::TempDir);

impl Folder {
    fn with(files: &[(&str, &[u8])]) -> Self {
        let folder = Self(tempfile::tempdir().unwrap());
        for (name, content) in files {
            let path = folder.path(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, content).unwrap();
        }
        folder
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn gather(&self) -> Intake {
        gather(&[self.0.path().to_owned()], &|_| {})
    }
}

fn messages(intake: &Intake) -> Vec<String> {
    intake.set_aside.iter().map(|error| error.to_string().replace('\n', " / ")).collect()
}

fn names(intake: &Intake) -> Vec<String> {
    let tracks = intake.tracks.iter().map(|track| track.source.name());
    let photos = intake.photos.iter().map(Photo::name);
    let records = intake.records.iter().map(|file| file.source.name());
    tracks.chain(photos).chain(records).collect()
}

fn ignored(intake: &Intake) -> Vec<(String, IgnoredCause)> {
    intake.passed_over.iter().map(|file| (name_of(&file.path), file.cause)).collect()
}

#[test]
fn files_are_reported_by_content_whatever_their_name() {
    let folder = Folder::with(&[
        ("b/walk.dat", GPX.as_bytes()),
        ("a/P1004.txt", JPEG),
        ("c/labels.jpg", CSV.as_bytes()),
    ]);
    let intake = folder.gather();
    assert_eq!(names(&intake), ["walk.dat", "P1004.txt", "labels.jpg"]);
    assert_eq!(messages(&intake), [""; 0]);
    assert_eq!(identify(GPX.as_bytes()), Some(Kind::Track));
    assert_eq!(identify(b"SQLite format 3\0"), None);
}

#[test]
fn an_exported_gpx_is_no_observation() {
    let own = GPX.replace("<gpx ", "<gpx creator=\"trug 0.1.0\" ");
    let folder = Folder::with(&[("finds.gpx", own.as_bytes()), ("walk.gpx", GPX.as_bytes())]);
    let intake = folder.gather();
    assert_eq!(names(&intake), ["walk.gpx"]);
    assert_eq!(ignored(&intake), [("finds.gpx".to_owned(), IgnoredCause::WrittenByTrug)]);
    let alone = gather(&[folder.path("finds.gpx")], &|_| {});
    assert!(messages(&alone)[0].contains("written by trug"), "{:?}", messages(&alone));
}

#[test]
fn system_files_are_ignored_and_other_types_listed() {
    let folder = Folder::with(&[
        (".DS_Store", b"\0\0\0\x01Bud1"),
        ("._P1004.JPG", b"\0\x05\x16\x07"),
        ("Thumbs.db", b"\xd0\xcf\x11\xe0"),
        (".hidden/walk.gpx", GPX.as_bytes()),
        ("notes.csv~", CSV.as_bytes()),
        ("nothing.dat", b""),
        ("P1004.xmp", b"<x:xmpmeta/>"),
        ("trug.gpkg", b"SQLite format 3\0"),
        ("film.mov", b"\0\0\0\x14ftypqt  "),
        ("P1004.JPG", JPEG),
    ]);
    let intake = folder.gather();
    assert_eq!(names(&intake), ["P1004.JPG"]);
    assert_eq!(messages(&intake), [""; 0]);
    let unsupported = IgnoredCause::UnsupportedFormat;
    let expected = [
        (".hidden", IgnoredCause::Hidden),
        ("notes.csv~", IgnoredCause::Hidden),
        ("P1004.xmp", unsupported),
        ("film.mov", unsupported),
        ("nothing.dat", IgnoredCause::Empty),
        ("trug.gpkg", unsupported),
    ];
    assert_eq!(ignored(&intake), expected.map(|(name, cause)| (name.to_owned(), cause)));
}

#[test]
fn files_that_were_meant_are_reported() {
    let folder = Folder::with(&[
        ("a.csv", b"Dear friends"),
        ("b.jpg", b"no picture"),
        ("c.xlsx", b"PK\x03\x04"),
        ("d.fit", b"\x0e\x10\0\0"),
        ("e.raf", b"raw"),
        ("f.gpx.gz", b""),
        ("g.nmea", b""),
    ]);
    assert_eq!(
        messages(&folder.gather()),
        [
            "a.csv is not a table of field records / because: no line of it names two known \
             columns; it begins \"Dear friends\" / hint: its first line must name the columns, \
             such as \
             number, date, time, place, photos",
            "b.jpg is not a photograph / because: its first bytes are not those of JPEG, HEIF, \
             PNG, WebP \
             or TIFF / hint: rename it to match its content, or leave it out",
            "c.xlsx cannot be read as a workbook / because: it is neither XLSX, XLS nor ODS, or it \
             is damaged / hint: open it in a spreadsheet program and save it again as XLSX, ODS or \
             CSV",
            "d.fit is in a receiver's own format, which is not supported / because: trug reads tracks \
             as GPX, KML, GeoJSON and NMEA sentences / hint: export it as GPX from the receiver or its \
             program into the same folder",
            "e.raf is a raw photograph in a format that is not supported / because: its header is \
             not a TIFF header / hint: add the camera's JPEG to the folder, or convert it to DNG",
            "f.gpx.gz is empty / because: it holds no byte, so nothing can be read from it / hint: copy \
             it from the receiver or the camera again, or leave it out",
            "g.nmea is empty / because: it holds no byte, so nothing can be read from it / hint: copy \
             it from the receiver or the camera again, or leave it out",
        ]
    );
}

#[test]
fn a_file_that_is_named_is_read_or_reported() {
    let folder = Folder::with(&[(".note", CSV.as_bytes()), ("x.bin", b"\x01\0\x02"), ("y", b"")]);
    let paths = [".note", "x.bin", "y", "missing"].map(|name| folder.path(name));
    let intake = gather(&paths, &|_| {});
    assert_eq!(names(&intake), [".note"]);
    let messages = messages(&intake);
    assert!(
        messages[0].starts_with("cannot read") && messages[0].contains("missing"),
        "{messages:?}"
    );
    assert!(messages[1].contains("because: its first bytes are 01 00 02"), "{messages:?}");
    assert!(messages[2].contains("because: it is empty"), "{messages:?}");
}

#[test]
fn copies_are_read_once_and_reported() {
    let long = |end: u8| [JPEG, &vec![7; 40_000], &[end]].concat();
    let folder = Folder::with(&[
        ("P1004.JPG", &long(1)),
        ("copy of P1004.JPG", &long(1)),
        ("other with the same front.JPG", &long(2)),
        ("walk.gpx", GPX.as_bytes()),
        ("walk 2.gpx", GPX.as_bytes()),
    ]);
    let intake = folder.gather();
    assert_eq!(names(&intake), ["walk 2.gpx", "P1004.JPG", "other with the same front.JPG"]);
    let message = messages(&intake);
    assert_eq!(message.len(), 2);
    assert!(
        message[1].starts_with("copy of P1004.JPG is a copy and was not read again"),
        "{message:?}"
    );
    let copies: Vec<_> =
        intake.copies.iter().map(|(copy, kept)| (name_of(copy), name_of(kept))).collect();
    assert_eq!(copies, [("copy of P1004.JPG".to_owned(), "P1004.JPG".to_owned())]);
    let twice = gather(&[folder.path("walk.gpx"), folder.path("walk.gpx")], &|_| {});
    assert_eq!((names(&twice).len(), twice.set_aside.len()), (1, 0));
}

#[cfg(unix)]
#[test]
fn loops_of_links_end() {
    let folder = Folder::with(&[("day/P1004.JPG", JPEG)]);
    std::os::unix::fs::symlink(folder.0.path(), folder.path("day/round")).unwrap();
    std::os::unix::fs::symlink(folder.path("day/nowhere"), folder.path("day/broken.jpg")).unwrap();
    let intake = folder.gather();
    assert_eq!(names(&intake), ["P1004.JPG"]);
    assert_eq!(intake.set_aside.len(), 1, "{:?}", intake.set_aside);
}

#[test]
fn the_order_never_changes_and_progress_reaches_its_end() {
    let names_of: Vec<String> = (0..60).map(|number| format!("P{number:04}.JPG")).collect();
    let contents: Vec<Vec<u8>> = (0..60_u8).map(|number| [JPEG, &[number]].concat()).collect();
    let files: Vec<(&str, &[u8])> =
        names_of.iter().map(String::as_str).zip(contents.iter().map(Vec::as_slice)).collect();
    let folder = Folder::with(&files);
    let steps = Mutex::new(Vec::new());
    let intake = gather(&[folder.0.path().to_owned()], &|step| steps.lock().unwrap().push(step));
    assert_eq!(names(&intake), names_of);
    let mut steps = steps.into_inner().unwrap();
    steps.sort_unstable_by_key(|step| step.done);
    assert_eq!(steps.len(), 60);
    assert_eq!(steps.last(), Some(&Step { done: 60, of: 60 }));
}

#[test]
fn empty_input_gives_empty_output() {
    let intake = gather(&[], &|_| {});
    assert!(names(&intake).is_empty() && intake.set_aside.is_empty());
}

#[test]
fn geojson_with_times_before_its_line_is_a_track_in_a_folder_and_in_an_archive() {
    let times: Vec<String> =
        (0..600).map(|k| format!("\"2026-05-02T00:{:02}:{:02}Z\"", k / 60, k % 60)).collect();
    let line: Vec<String> = (0..600).map(|k| format!("[146.{k:03},-42.5]")).collect();
    let text = format!(
        "{{\"properties\":{{\"name\":\"walk\",\"number\":\"1\",\"date\":\"\",\"coordTimes\":[{}]}},\"geometry\":\
         {{\"type\":\"LineString\",\"coordinates\":[{}]}},\"type\":\"Feature\"}}",
        times.join(","),
        line.join(",")
    );
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    std::io::Write::write_all(&mut packed, text.as_bytes()).unwrap();
    let packed = packed.finish().unwrap();
    for (name, bytes) in [("walk.json", text.as_bytes()), ("walk.geojson.gz", &packed)] {
        let intake = Folder::with(&[(name, bytes)]).gather();
        assert_eq!(messages(&intake), [""; 0], "{name}");
        assert_eq!(intake.tracks[0].tracks[0].segments[0].fixes.len(), 600, "{name}");
    }
}

#[cfg(unix)]
#[test]
fn what_a_folder_holds_besides_regular_files_is_named() {
    use std::os::unix::fs::symlink;
    let folder = Folder::with(&[("walk.gpx", GPX.as_bytes())]);
    let made = std::process::Command::new("mkfifo").arg(folder.path("pipe.gpx")).status();
    assert!(made.unwrap().success());
    symlink("/dev/zero", folder.path("zero.jpg")).unwrap();
    let intake = folder.gather();
    assert_eq!(names(&intake), ["walk.gpx"]);
    let reported = messages(&intake);
    assert_eq!(reported.len(), 2, "{reported:?}");
    assert!(
        reported[0].contains("pipe.gpx was not read / because: it is a pipe, not a regular file")
    );
    assert!(reported[1].contains("zero.jpg was not read / because: it is a device, not a regular"));
}
