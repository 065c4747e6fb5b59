//! Photographs with values published or written by other programs. Sources: data/exif/README.md.

use std::path::{Path, PathBuf};

use jiff::civil::date;
use jiff::tz::Offset;
use trug::ingest::photo;
use trug::model::{Direction, Photo};
use trug::units::{Degrees, GpsHeight, MagneticBearing, Metres, TrueBearing};

fn read(name: &str) -> Photo {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/data/exif");
    photo::read(&folder.join(name)).unwrap()
}

/// Exact in the fractions of the file; in degrees only the last bits of the division differ.
const ANGLE: f64 = 1e-12;

#[test]
fn published_phone_photograph() {
    let photo = read("ultrahdr-header.jpg");
    assert_eq!(photo.taken, Some(date(2024, 5, 7).at(9, 33, 4, 46_000_000)));
    assert_eq!(photo.offset, Some(Offset::constant(8)));
    let at = photo.gps.at.unwrap();
    assert!((at.latitude() - (30.0 + 37.0 / 60.0 + 39.54 / 3600.0)).abs() < ANGLE);
    assert!((at.longitude() - (119.0 + 44.0 / 60.0 + 19.56 / 3600.0)).abs() < ANGLE);
    assert_eq!(photo.gps.height, Some(GpsHeight(Metres(98.9))));
    assert_eq!(photo.gps.time.unwrap().to_string(), "2024-05-07T01:32:09Z");
    let direction = MagneticBearing::new(Degrees(99.0));
    assert_eq!(photo.gps.direction, Some(Direction::Magnetic(direction)));
    assert_eq!(photo.remarks, Vec::<String>::new());
}

#[test]
fn an_empty_gps_directory_takes_nothing_from_the_time() {
    let photo = read("empty_gps_ifd.jpg");
    assert_eq!(photo.taken, Some(date(2020, 7, 27).at(14, 46, 48, 780_685_000)));
    assert_eq!(photo.gps.at, None);
    assert_eq!(photo.gps.time, None);
}

#[test]
fn impossible_values_become_remarks() {
    let photo = read("exif_gps.jpg");
    assert_eq!(photo.camera.model.as_deref(), Some("XXX-XXX"));
    assert_eq!(photo.taken, Some(date(2099, 9, 29).at(10, 10, 10, 0)));
    assert_eq!(photo.gps.at, None);
    assert!(!photo.remarks.is_empty());
}

#[test]
fn what_other_programs_wrote_into_each_container() {
    for name in ["pillow.jpg", "pillow.png", "pillow.webp", "pillow.tif", "libheif.heic"] {
        let photo = read(name);
        assert_eq!(photo.remarks, Vec::<String>::new(), "{name}");
        assert_eq!(photo.camera.to_string(), "Lanternworks Fieldeye 3 no. LW-00042", "{name}");
        assert_eq!(photo.taken, Some(date(2026, 5, 3).at(16, 45, 9, 375_000_000)), "{name}");
        assert_eq!(photo.offset.unwrap().seconds(), -12_600, "{name}");
        let at = photo.gps.at.unwrap();
        assert!((at.latitude() + (42.0 + 30.0 / 60.0 + 36.5 / 3600.0)).abs() < ANGLE, "{name}");
        assert!((at.longitude() + (73.0 + 15.0 / 60.0 + 0.25 / 3600.0)).abs() < ANGLE, "{name}");
        assert_eq!(photo.gps.height, Some(GpsHeight(Metres(-12.5))), "{name}");
        assert_eq!(photo.gps.time.unwrap().to_string(), "2026-05-03T20:15:08Z", "{name}");
        let direction = TrueBearing::new(Degrees(271.5));
        assert_eq!(photo.gps.direction, Some(Direction::True(direction)), "{name}");
        assert_eq!(photo.gps.error, Some(Metres(4.75)), "{name}");
    }
}

#[test]
fn the_file_is_left_as_it_was() {
    let folder: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/data/exif");
    let path = folder.join("pillow.jpg");
    let before = std::fs::read(&path).unwrap();
    let changed = std::fs::metadata(&path).unwrap().modified().unwrap();
    photo::read(&path).unwrap();
    assert_eq!(std::fs::read(&path).unwrap(), before);
    assert_eq!(std::fs::metadata(&path).unwrap().modified().unwrap(), changed);
}
