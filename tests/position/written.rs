//! Writes simulated days as files, for `benches/compare.py`: a GPX track, photographs of a header only,
//! and a table of records.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use jiff::civil::DateTime;
use jiff::tz::Offset;
use trug::model::{Photo, Record, TrackFile};

use super::exif;
use super::second;
use super::simulation::condition;
use super::simulation::day::{SimulatedDay, simulate};

/// Of each condition of both simulators one day, of a seed that no constant was tuned on.
#[test]
#[ignore = "writes files: set TRUG_DAYS to a folder"]
fn days_as_files() {
    let folder = std::env::var_os("TRUG_DAYS").expect("TRUG_DAYS names a folder");
    let folder = Path::new(&folder);
    for condition in condition::ALL {
        write(&folder.join(format!("first-{}", slug(condition.name))), &simulate(condition, 2_001));
    }
    for (name, day) in second::one_day_each(2_001) {
        write(&folder.join(format!("second-{}", slug(name))), &day);
    }
}

/// What is read from the files is what was simulated.
#[test]
fn files_hold_the_day() {
    let folder = tempfile::tempdir().unwrap();
    let day = simulate(&condition::ALL[0], 7);
    write(folder.path(), &day);
    let read = trug::ingest::read(&[folder.path()]);
    assert!(read.set_aside.is_empty(), "{:?}", read.set_aside);
    let fixes = |track: &TrackFile| -> Vec<_> { track.fixes().map(|fix| fix.at).collect() };
    assert_eq!(fixes(&read.tracks[0]), fixes(&day.intake.tracks[0]));
    let taken = |photos: &[Photo]| -> Vec<_> { photos.iter().map(|photo| photo.taken).collect() };
    assert_eq!(taken(&read.photos), taken(&day.intake.photos));
    let kept = |record: &Record| (record.number.clone(), record.time, record.photos.clone());
    let records = |records: &[Record]| -> Vec<_> { records.iter().map(kept).collect() };
    assert_eq!(records(&read.records[0].records), records(&day.intake.records[0].records));
}

fn slug(name: &str) -> String {
    name.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect()
}

fn write(folder: &Path, day: &SimulatedDay) {
    fs::create_dir_all(folder).unwrap();
    fs::write(folder.join("day.gpx"), gpx(&day.intake.tracks[0])).unwrap();
    fs::write(folder.join("day.csv"), csv(&day.intake.records[0].records)).unwrap();
    for photo in &day.intake.photos {
        fs::write(folder.join(&photo.source.path), jpeg(photo)).unwrap();
    }
}

fn gpx(track: &TrackFile) -> String {
    let mut text = "<gpx version=\"1.1\" creator=\"simulation\" \
                    xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>\n"
        .to_owned();
    for fix in track.fixes() {
        let (latitude, longitude) = (fix.at.latitude(), fix.at.longitude());
        let time = fix.time.map(|time| format!("<time>{time}</time>")).unwrap_or_default();
        let hdop = fix.hdop.map(|hdop| format!("<hdop>{hdop}</hdop>")).unwrap_or_default();
        writeln!(text, "<trkpt lat=\"{latitude:.7}\" lon=\"{longitude:.7}\">{time}{hdop}</trkpt>")
            .unwrap();
    }
    text + "</trkseg></trk></gpx>\n"
}

fn csv(records: &[Record]) -> String {
    let mut text = "number,date,time,photographs\n".to_owned();
    for record in records {
        let number = record.number.as_ref().map_or("", |number| &number.0);
        let date = record.date.map(|date| date.to_string()).unwrap_or_default();
        let time = record
            .time
            .map(|time| format!("{:02}:{:02}", time.clock.hour(), time.clock.minute()))
            .unwrap_or_default();
        let photos: Vec<&str> = record.photos.iter().map(|photo| photo.0.as_str()).collect();
        writeln!(text, "{number},{date},{time},{}", photos.join(" ")).unwrap();
    }
    text
}

/// A JPEG that ends after its header.
fn jpeg(photo: &Photo) -> Vec<u8> {
    let header = exif::Header {
        make: "Ferrule",
        model: "F2",
        serial: "",
        taken: photo.taken.unwrap_or(DateTime::ZERO),
        hundredths: 0,
        offset: photo.offset.map(zone_text).map(|text| &*text.leak()),
        size: (8, 8),
        gps: None,
    };
    let segment = exif::segment(&header);
    let length = u16::try_from(segment.len() + 2).unwrap().to_be_bytes();
    // two photographs of a second would else be copies of one file
    let comment = photo.name().into_bytes();
    let comment_length = u16::try_from(comment.len() + 2).unwrap().to_be_bytes();
    [
        &b"\xff\xd8\xff\xe1"[..],
        &length,
        &segment,
        &b"\xff\xfe"[..],
        &comment_length,
        &comment,
        &b"\xff\xd9"[..],
    ]
    .concat()
}

fn zone_text(offset: Offset) -> String {
    let minutes = offset.seconds() / 60;
    let sign = if minutes < 0 { '-' } else { '+' };
    format!("{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
}
