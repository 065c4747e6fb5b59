//! Tests of whole photographs made in memory: every entry, every container, every kind of damage,
//! and the number of bytes read.

use std::io::Cursor;
use std::path::Path;

use exif::{Field, Tag};
use jiff::civil::date;
use jiff::tz::Offset;

use super::specimen::{self, Counted, block, byte, fractions, jpeg, text};
use crate::model::{Direction, Photo};
use crate::units::{Degrees, GpsHeight, MagneticBearing, Metres, TrueBearing};

fn whole() -> Vec<Field> {
    vec![
        text(Tag::Make, "Lanternworks"),
        text(Tag::Model, "Fieldeye 3  "),
        text(Tag::BodySerialNumber, "0042"),
        text(Tag::DateTimeOriginal, "2026:05:03 09:12:30"),
        text(Tag::SubSecTimeOriginal, "25"),
        text(Tag::OffsetTimeOriginal, "+10:00"),
        text(Tag::GPSLatitudeRef, "S"),
        fractions(Tag::GPSLatitude, &[(42, 1), (30, 1), (3600, 100)]),
        text(Tag::GPSLongitudeRef, "E"),
        fractions(Tag::GPSLongitude, &[(146, 1), (15, 1), (0, 1)]),
        byte(Tag::GPSAltitudeRef, 0),
        fractions(Tag::GPSAltitude, &[(4123, 10)]),
        text(Tag::GPSImgDirectionRef, "M"),
        fractions(Tag::GPSImgDirection, &[(99, 1)]),
        fractions(Tag::GPSTimeStamp, &[(23, 1), (12, 1), (29, 1)]),
        text(Tag::GPSDateStamp, "2026:05:02"),
        fractions(Tag::GPSHPositioningError, &[(65, 10)]),
    ]
}

fn without(tag: Tag) -> Vec<Field> {
    whole().into_iter().filter(|field| field.tag != tag).collect()
}

fn with(field: Field) -> Vec<Field> {
    let mut fields = without(field.tag);
    fields.push(field);
    fields
}

fn read(fields: &[Field]) -> Photo {
    specimen::read(&jpeg(&block(fields), 100))
}

fn assert_whole(photo: &Photo) {
    assert_eq!(photo.remarks, Vec::<String>::new());
    assert_eq!(photo.camera.to_string(), "Lanternworks Fieldeye 3 no. 0042");
    assert_eq!(photo.taken, Some(date(2026, 5, 3).at(9, 12, 30, 250_000_000)));
    assert_eq!(photo.offset, Some(Offset::constant(10)));
    let at = photo.gps.at.unwrap();
    assert!((at.latitude() + 42.51).abs() < 1e-12 && (at.longitude() - 146.25).abs() < 1e-12);
    assert_eq!(photo.gps.height, Some(GpsHeight(Metres(412.3))));
    let magnetic = MagneticBearing::new(Degrees(99.0));
    assert_eq!(photo.gps.direction, Some(Direction::Magnetic(magnetic)));
    assert_eq!(photo.gps.time.unwrap().to_string(), "2026-05-02T23:12:29Z");
    assert_eq!(photo.gps.error, Some(Metres(6.5)));
}

#[test]
fn every_entry_is_read_from_every_container() {
    let block = block(&whole());
    for file in [
        jpeg(&block, 1000),
        specimen::png(&block, 20_000),
        specimen::webp(&block, 1001),
        specimen::heif(&block, 1000),
        block.clone(),
    ] {
        assert_whole(&specimen::read(&file));
    }
}

#[test]
fn a_png_with_its_exif_at_the_end_is_followed_part_by_part() {
    let mut source = Counted::new(specimen::png(&block(&whole()), 4_000_000));
    assert_whole(&super::read_from(&mut source, Path::new("P1004.PNG")).unwrap());
    assert!(source.read <= 160 * 1024, "{} bytes", source.read);
}

#[test]
fn four_megabytes_cost_at_most_32_kib() {
    const PICTURE: usize = 4_000_000;
    let block = block(&whole());
    // a maker note and a thumbnail push the wanted values far into the segment
    let padded = [&block[..], &vec![0; 60_000]].concat();
    let raw = [&block[..], &vec![0x55; PICTURE]].concat();
    for file in [
        jpeg(&block, PICTURE),
        jpeg(&padded, PICTURE),
        specimen::webp(&block, PICTURE),
        specimen::heif(&block, PICTURE),
        raw,
    ] {
        let mut source = Counted::new(file);
        let photo = super::read_from(&mut source, Path::new("P1004.JPG")).unwrap();
        assert_whole(&photo);
        assert!(source.read <= 32 * 1024, "{} bytes", source.read);
        assert!(source.reads <= 8, "{} reads", source.reads);
    }
}

#[test]
fn values_behind_a_long_maker_note_are_fetched_alone() {
    let fields = [
        text(Tag::DateTimeOriginal, "2026:05:03 09:12:30"),
        Field {
            tag: Tag::MakerNote,
            ifd_num: exif::In::PRIMARY,
            value: exif::Value::Undefined(vec![7; 50_000], 0),
        },
        text(Tag::BodySerialNumber, "behind the note"),
    ];
    let mut source = Counted::new(jpeg(&block(&fields), 4_000_000));
    let photo = super::read_from(&mut source, Path::new("P1004.JPG")).unwrap();
    assert_eq!(photo.camera.serial.as_deref(), Some("behind the note"));
    assert!(source.read <= 20 * 1024, "{} bytes", source.read);
}

#[test]
fn a_missing_next_directory_pointer_loses_nothing() {
    let block = block(&whole());
    // the main directory is moved to the end of the block and cut before its pointer
    let at = usize::try_from(u32::from_be_bytes(block[4..8].try_into().unwrap())).unwrap();
    let count = usize::from(u16::from_be_bytes(block[at..at + 2].try_into().unwrap()));
    let mut moved = block.clone();
    moved[4..8].copy_from_slice(&u32::try_from(block.len()).unwrap().to_be_bytes());
    moved.extend_from_slice(&block[at..at + 2 + count * 12]);
    assert_whole(&specimen::read(&jpeg(&moved, 100)));
}

/// Gives the pointers of the main directory this type.
fn with_pointers(block: &[u8], kind: u16) -> Vec<u8> {
    let mut block = block.to_vec();
    let at = usize::try_from(u32::from_be_bytes(block[4..8].try_into().unwrap())).unwrap();
    let count = usize::from(u16::from_be_bytes(block[at..at + 2].try_into().unwrap()));
    for entry in (0..count).map(|index| at + 2 + index * 12) {
        if [[0x87, 0x69], [0x88, 0x25]].iter().any(|tag| block[entry..entry + 2] == *tag) {
            block[entry + 2..entry + 4].copy_from_slice(&kind.to_be_bytes());
        }
    }
    block
}

#[test]
fn pointers_of_other_types_are_followed() {
    for kind in [4, 9, 13] {
        let block = with_pointers(&block(&whole()), kind);
        for file in [jpeg(&block, 100), specimen::heif(&block, 100), block] {
            assert_whole(&specimen::read(&file));
        }
    }
}

#[test]
fn a_large_item_of_a_heif_file_is_read() {
    let mut fields = whole();
    fields.push(Field {
        tag: Tag::MakerNote,
        ifd_num: exif::In::PRIMARY,
        value: exif::Value::Undefined(vec![7; 600_000], 0),
    });
    let block = with_pointers(&block(&fields), 13);
    let mut source = Counted::new(specimen::heif(&block, 4_000_000));
    let photo = super::read_from(&mut source, Path::new("P1004.HEIC")).unwrap();
    assert_whole(&photo);
    assert!(source.read <= 32 * 1024, "{} bytes", source.read);
}

#[test]
fn times_in_the_first_directory_are_read() {
    let mut fields = without(Tag::DateTimeOriginal);
    fields.retain(|field| field.tag != Tag::SubSecTimeOriginal);
    fields.push(text(Tag(exif::Context::Tiff, 0x9003), "2026:05:03 09:12:30"));
    let photo = read(&fields);
    assert_eq!(photo.taken, Some(date(2026, 5, 3).at(9, 12, 30, 0)));
    assert_eq!(photo.remarks, [""; 0]);
}

#[test]
fn seconds_of_nothing_are_read_where_the_minutes_carry_them() {
    let latitude = |parts: &[(u32, u32)]| read(&with(fractions(Tag::GPSLatitude, parts)));
    let photo = latitude(&[(42, 1), (306, 10), (0, 0)]);
    assert!((photo.gps.at.unwrap().latitude() + 42.51).abs() < 1e-12);
    assert_eq!(photo.remarks, [""; 0]);
    let photo = latitude(&[(42, 1), (30, 1), (0, 0)]);
    assert_eq!(photo.gps.at, None);
    assert_eq!(
        photo.remarks,
        ["its latitude is not precise enough to be used: 42 degrees, 30 minutes, seconds n/0"]
    );
}

#[test]
fn positions_written_as_text_are_read_or_reported() {
    for written in ["42.51", "42,30.6S", "42 deg 30' 36\"", "42.51 S"] {
        let photo = read(&with(text(Tag::GPSLatitude, written)));
        assert!((photo.gps.at.unwrap().latitude() + 42.51).abs() < 1e-9, "{written}");
    }
    // 146 degrees 15 minutes, rounded by the writer
    let rounded = read(&with(fractions(Tag::GPSLongitude, &[(146, 1), (14, 1), (6000, 100)])));
    assert!((rounded.gps.at.unwrap().longitude() - 146.25).abs() < 1e-9, "{:?}", rounded.gps.at);
    let photo = read(&with(text(Tag::GPSLatitude, "unknown")));
    assert_eq!(photo.gps.at, None);
    assert_eq!(photo.remarks, ["its latitude is a text that is not an angle: unknown"]);
}

#[test]
fn other_times_and_offsets_stand_in() {
    let mut fields = without(Tag::DateTimeOriginal);
    fields.push(text(Tag::DateTimeDigitized, "2026:05:03 09:12:31"));
    let photo = read(&fields);
    assert_eq!(photo.taken, Some(date(2026, 5, 3).at(9, 12, 31, 0)));
    assert_eq!(photo.offset, Some(Offset::constant(10)));
    assert_eq!(
        photo.remarks,
        ["its header has only the time at which it was digitised: \
     2026:05:03 09:12:31"]
    );
    let mut fields = without(Tag::OffsetTimeOriginal);
    fields.push(text(Tag::OffsetTime, "+11:00"));
    assert_eq!(read(&fields).offset, Some(Offset::constant(11)));
}

#[test]
fn a_clock_that_was_never_set_is_reported() {
    let photo = read(&with(text(Tag::DateTimeOriginal, "0000:00:00 00:00:00")));
    assert_eq!(photo.taken, None);
    assert_eq!(photo.remarks, ["the camera's clock was not set (time taken: 0000:00:00 00:00:00)"]);
    assert_eq!(read(&without(Tag::DateTimeOriginal)).remarks, ["its header has no time"]);
    let photo = read(&with(text(Tag::DateTimeOriginal, "2026:02:30 09:12:30")));
    assert_eq!(photo.remarks, ["the time taken is not valid: 2026:02:30 09:12:30"]);
}

#[test]
fn positions_that_cannot_be_are_reported_and_the_rest_is_kept() {
    for (field, remark) in [
        (
            fractions(Tag::GPSLatitude, &[(91, 1), (0, 1), (0, 1)]),
            "its position was ignored: latitude -91 and longitude 146.25 are out of range \
             (latitude is -90 to 90, longitude -180 to 180)",
        ),
        (
            fractions(Tag::GPSLatitude, &[(42, 0), (0, 1), (0, 1)]),
            "its latitude is not a number: degrees n/0, 0 minutes, 0 seconds",
        ),
        (
            fractions(Tag::GPSLongitude, &[(146, 1), (75, 1), (0, 1)]),
            "its longitude has 75 minutes and 0 seconds",
        ),
        (
            text(Tag::GPSLatitudeRef, "?"),
            "its latitude does not say N or S, so its position was not used",
        ),
        (text(Tag::GPSStatus, "V"), "its position is outdated: the receiver reports no fix"),
        (text(Tag::GPSMapDatum, "TOKYO"), "its position is on the datum TOKYO, not WGS 84"),
    ] {
        let photo = read(&with(field));
        assert_eq!(photo.gps.at, None);
        assert_eq!(photo.remarks, [remark]);
        assert_eq!(photo.gps.error, Some(Metres(6.5)));
    }
    assert_eq!(
        read(&without(Tag::GPSLongitude)).remarks,
        ["its position lacks latitude or \
     longitude"]
    );
}

#[test]
fn zero_zero_is_no_fix() {
    let mut fields = without(Tag::GPSLatitude);
    fields.retain(|field| field.tag != Tag::GPSLongitude);
    fields.push(fractions(Tag::GPSLatitude, &[(0, 1), (0, 1), (0, 1)]));
    fields.push(fractions(Tag::GPSLongitude, &[(0, 1), (0, 1), (0, 1)]));
    let photo = read(&fields);
    assert_eq!(photo.gps.at, None);
    assert_eq!(photo.remarks, ["its position is 0, 0: the receiver had no fix"]);
}

#[test]
fn directions_keep_their_north_or_are_not_used() {
    let photo = read(&with(text(Tag::GPSImgDirectionRef, "T")));
    let north = TrueBearing::new(Degrees(99.0));
    assert_eq!(photo.gps.direction, Some(Direction::True(north)));
    let photo = read(&without(Tag::GPSImgDirectionRef));
    assert_eq!(photo.remarks, ["its direction of 99 degrees does not say from which north"]);
    let photo = read(&with(fractions(Tag::GPSImgDirection, &[(361, 1)])));
    assert_eq!(photo.remarks, ["its direction of 361 degrees is not on the compass"]);
    assert_eq!(photo.gps.direction, None);
}

#[test]
fn heights_below_sea_level_and_out_of_range() {
    let photo = read(&with(byte(Tag::GPSAltitudeRef, 1)));
    assert_eq!(photo.gps.height, Some(GpsHeight(Metres(-412.3))));
    let photo = read(&with(fractions(Tag::GPSAltitude, &[(99_999, 1)])));
    assert_eq!(photo.remarks, ["its height of 99999 m is not a height on land"]);
}

#[test]
fn a_gps_time_without_a_date_takes_the_nearest_day() {
    // 09:12:30 at +10:00 is the evening before in UTC
    let photo = read(&without(Tag::GPSDateStamp));
    assert_eq!(photo.gps.time.unwrap().to_string(), "2026-05-02T23:12:29Z");
    let mut fields = without(Tag::GPSDateStamp);
    fields.retain(|field| field.tag != Tag::OffsetTimeOriginal);
    let photo = read(&fields);
    assert_eq!(photo.gps.time, None);
    assert_eq!(photo.remarks, ["its GPS time has no date"]);
}

#[test]
fn pictures_without_exif_are_photographs_with_a_remark() {
    for (file, name) in [
        (b"\xff\xd8\xff\xda\0\x02".to_vec(), "JPEG"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\0IEND".to_vec(), "PNG"),
    ] {
        let photo = specimen::read(&file);
        assert_eq!(photo.remarks, [format!("this {name} file has no Exif: no time, no camera")]);
    }
}

#[test]
fn a_file_cut_anywhere_never_panics_and_tells_what_it_lost() {
    let block = block(&whole());
    for file in [
        jpeg(&block, 10),
        specimen::png(&block, 8192),
        specimen::webp(&block, 11),
        specimen::heif(&block, 10),
        block,
    ] {
        let mut with_time = 0;
        for end in 16..file.len() {
            let photo = specimen::read(&file[..end]);
            with_time += usize::from(photo.taken.is_some());
            assert!(photo.taken.is_some() || !photo.remarks.is_empty(), "cut at {end}");
        }
        assert!(with_time > 0);
    }
}

#[test]
fn the_hash_follows_header_and_length() {
    let hash = |file: &[u8]| specimen::read(file).source.hash;
    let block = block(&whole());
    assert_eq!(hash(&jpeg(&block, 50_000)), hash(&jpeg(&block, 50_000)));
    assert_ne!(hash(&jpeg(&block, 50_000)), hash(&jpeg(&block, 50_001)));
    let other = specimen::block(&with(text(Tag::SubSecTimeOriginal, "26")));
    assert_ne!(hash(&jpeg(&block, 50_000)), hash(&jpeg(&other, 50_000)));
}

#[test]
fn other_files_are_refused_with_a_hint() {
    let error = super::read_from(Cursor::new(b"<gpx/>"), Path::new("day/walk.gpx")).unwrap_err();
    assert_eq!(
        error.to_string(),
        "walk.gpx is not a photograph\n\
         because: its first bytes are not those of JPEG, HEIF, PNG, WebP or TIFF\n\
         hint: rename it to match its content, or leave it out"
    );
}
