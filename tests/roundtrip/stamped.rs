//! A position written into a copy of a photograph is read from it again; everything else is
//! unchanged.

use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use trug::ingest::photo;
use trug::model::{Direction, Photo, Sensitivity};
use trug::present::exif::{self, Unfit};
use trug::present::xmp::Stamp;
use trug::units::{Degrees, LatLon, Metres, Radius95, TrueBearing};

fn file(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    let reference = folder.join("tests/reference/data/exif").join(name);
    let sample = folder.join("sample-tracks/2026-05-02-thimble-spur").join(name);
    fs::read(&reference).or_else(|_| fs::read(&sample)).unwrap()
}

fn read(bytes: &[u8]) -> Photo {
    photo::read_from(Cursor::new(bytes), &PathBuf::from("copy.jpg")).unwrap()
}

fn stamp() -> Stamp {
    Stamp {
        at: LatLon::new(-42.615_123_4, -179.999_999_9).unwrap(),
        radius: Radius95::new(Metres(9.44)).unwrap(),
        when: "2026-05-02T00:05:09.5Z".parse().ok(),
        direction: Some(Direction::True(TrueBearing::new(Degrees(359.994)))),
        numbers: vec!["AQ-1\u{1f344}".into()],
        generalised: None,
    }
}

/// All segments before the picture and the picture itself, but for Exif and XMP.
fn apart(jpeg: &[u8]) -> Vec<&[u8]> {
    let (mut parts, mut at) = (Vec::new(), 2);
    while jpeg[at + 1] != 0xda {
        let end = at + 2 + usize::from(u16::from_be_bytes([jpeg[at + 2], jpeg[at + 3]]));
        if jpeg[at + 1] != 0xe1 {
            parts.push(&jpeg[at..end]);
        }
        at = end;
    }
    parts.push(&jpeg[at..]);
    parts
}

#[test]
fn a_jpeg_keeps_its_picture_and_its_camera() {
    for name in ["P2040.jpg", "pillow.jpg"] {
        let before = file(name);
        let copy = exif::stamped(&before, &stamp(), false).unwrap();
        assert_eq!(apart(&before), apart(&copy), "{name}");
        let (was, is) = (read(&before), read(&copy));
        let at = is.gps.at.unwrap();
        assert!((at.latitude() + 42.615_123_4).abs() < 2e-8, "{name}: {at}");
        assert!((at.longitude() + 179.999_999_9).abs() < 2e-8, "{name}: {at}");
        assert_eq!(is.gps.error, Some(Metres(9.44)));
        assert_eq!(
            is.gps.direction,
            stamp().direction.map(|_| { Direction::True(TrueBearing::new(Degrees(359.99))) })
        );
        assert_eq!(is.gps.time, stamp().when, "{name}");
        assert_eq!((is.taken, is.offset, &is.camera), (was.taken, was.offset, &was.camera));
        assert_eq!(is.remarks, was.remarks);
        assert_eq!(is.gps.height, was.gps.height);
        assert!(exif::is_ours(&copy) && !exif::is_ours(&before));
    }
}

#[test]
fn png_and_tiff_are_stamped_too() {
    for name in ["pillow.png", "pillow.tif"] {
        let copy = exif::stamped(&file(name), &stamp(), true).unwrap();
        let (was, is) = (read(&file(name)), read(&copy));
        assert!((is.gps.at.unwrap().latitude() + 42.615_123_4).abs() < 2e-8, "{name}");
        assert_eq!((is.taken, &is.camera), (was.taken, &was.camera), "{name}");
        assert!(exif::is_ours(&copy));
    }
    assert!(matches!(exif::stamped(&file("pillow.tif"), &stamp(), false), Err(Unfit::Form(_))));
    assert!(matches!(exif::stamped(&file("libheif.heic"), &stamp(), true), Err(Unfit::Form(_))));
}

#[test]
fn a_copy_can_be_stamped_again() {
    let first = exif::stamped(&file("P2040.jpg"), &stamp(), false).unwrap();
    let moved = Stamp { at: LatLon::new(1.0, 2.0).unwrap(), when: None, ..stamp() };
    let second = exif::stamped(&first, &moved, false).unwrap();
    assert_eq!(read(&second).gps.at, Some(LatLon::new(1.0, 2.0).unwrap()));
}

#[test]
fn a_coarse_copy_is_refused_where_an_exact_place_may_be_inside() {
    let coarse = Stamp {
        at: LatLon::new(-42.615, 146.096).unwrap(),
        radius: Radius95::new(Metres(80.0)).unwrap(),
        when: None,
        direction: None,
        numbers: vec!["AQ-1".into()],
        generalised: Some(Sensitivity::Low),
    };
    let copy = exif::stamped(&file("P2040.jpg"), &coarse, false).unwrap();
    assert_eq!(read(&copy).gps.at, Some(coarse.at));
    assert_eq!(read(&copy).gps.time, None);
    for name in ["pillow.jpg", "pillow.png", "pillow.tif"] {
        assert_eq!(exif::stamped(&file(name), &coarse, true), Err(Unfit::HasPosition), "{name}");
    }
    // stamped exactly before: the old place is still in the file
    let exact = exif::stamped(&file("P2040.jpg"), &stamp(), false).unwrap();
    assert_eq!(exif::stamped(&exact, &coarse, false), Err(Unfit::HasPosition));
}

#[test]
fn multi_picture_file_states_new_length_of_first_image() {
    let plain = file("P2040.jpg");
    // one directory with one entry for two pictures: 16 bytes each, the size at the fifth
    let mut many = b"MPF\0II*\0\x08\0\0\0\x01\0\x02\xb0\x07\0\x20\0\0\0\x1a\0\0\0\0\0\0\0".to_vec();
    many.extend([&[0; 4][..], &7_000_u32.to_le_bytes(), &[0; 24]].concat());
    let after =
        |at: usize| at + 2 + usize::from(u16::from_be_bytes([plain[at + 2], plain[at + 3]]));
    let exif_ends = after(after(2));
    assert_eq!(plain[after(2) + 1], 0xe1, "the Exif part comes second in this file");
    let long = u16::try_from(many.len() + 2).unwrap().to_be_bytes();
    let segment = [&[0xff, 0xe2][..], &long, &many].concat();
    let before = [&plain[..exif_ends], &segment, &plain[exif_ends..]].concat();
    let copy = exif::stamped(&before, &stamp(), false).unwrap();
    let at = copy.windows(4).position(|four| four == b"MPF\0").unwrap() + 4 + 0x1a + 4;
    let size = u32::from_le_bytes(copy[at..at + 4].try_into().unwrap());
    assert_eq!(size as usize, 7_000 + copy.len() - before.len());
    let turned = [&plain[..2], &segment, &plain[2..]].concat();
    assert!(matches!(exif::stamped(&turned, &stamp(), false), Err(Unfit::Form(_))));
}

#[test]
fn truncated_and_damaged_files_are_refused_or_stamped_without_panic() {
    for name in
        ["P2040.jpg", "pillow.jpg", "pillow.png", "pillow.tif", "empty_gps_ifd.jpg", "exif_gps.jpg"]
    {
        let whole = file(name);
        let head = whole.len().min(1_500);
        for end in 0..head {
            let _ = exif::stamped(&whole[..end], &stamp(), true);
        }
        for place in 0..head {
            for value in [0, 0x7f, 0xff] {
                let mut damaged = whole[..whole.len().min(4_000)].to_vec();
                damaged[place] = value;
                let _ = exif::stamped(&damaged, &stamp(), true);
            }
        }
    }
}
