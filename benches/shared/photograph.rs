//! Generates sparse photographs of 4 MB with an ordinary header.

use std::fs::File;
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};

use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};

/// The length of each.
pub(crate) const BYTES: u64 = 4_000_000;

/// A photograph with the entries, the maker note and the thumbnail of an ordinary camera, taken
/// this many seconds after nine.
pub(crate) fn photograph(folder: &Path, number: usize, second: usize) -> PathBuf {
    let text = |tag, text: &str| Field {
        tag,
        ifd_num: In::PRIMARY,
        value: Value::Ascii(vec![text.as_bytes().to_vec()]),
    };
    let fractions = |tag, parts: &[u32]| Field {
        tag,
        ifd_num: In::PRIMARY,
        value: Value::Rational(parts.iter().map(|&num| Rational { num, denom: 1 }).collect()),
    };
    let note = Value::Undefined(vec![0x2a; 6_000], 0);
    let (hour, minute, second) = (9 + second / 3600, second / 60 % 60, second % 60);
    let fields = [
        text(Tag::Make, "Lanternworks"),
        text(Tag::Model, "Fieldeye 3"),
        text(Tag::DateTimeOriginal, &format!("2026:05:03 {hour:02}:{minute:02}:{second:02}")),
        text(Tag::OffsetTimeOriginal, "+10:00"),
        Field { tag: Tag::MakerNote, ifd_num: In::PRIMARY, value: note },
        text(Tag::GPSLatitudeRef, "S"),
        fractions(Tag::GPSLatitude, &[42, 30, 36]),
        text(Tag::GPSLongitudeRef, "E"),
        fractions(Tag::GPSLongitude, &[146, 15, 0]),
    ];
    let thumbnail = vec![0x55; 8_000];
    let mut writer = Writer::new();
    for field in &fields {
        writer.push_field(field);
    }
    writer.set_jpeg(&thumbnail, In::THUMBNAIL);
    let mut block = Cursor::new(Vec::new());
    writer.write(&mut block, false).unwrap();
    let block = block.into_inner();
    let path = folder.join(format!("P{number:04}.JPG"));
    let mut file = File::create(&path).unwrap();
    file.write_all(b"\xff\xd8\xff\xe1").unwrap();
    file.write_all(&u16::try_from(block.len() + 8).unwrap().to_be_bytes()).unwrap();
    file.write_all(b"Exif\0\0").unwrap();
    file.write_all(&block).unwrap();
    file.write_all(b"\xff\xda\0\x02").unwrap();
    file.set_len(BYTES).unwrap();
    path
}
