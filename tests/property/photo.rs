//! Photographs of arbitrary bytes: no panic, no endless loop, no note without a reason.

use std::io::Cursor;
use std::path::Path;

use proptest::prelude::*;
use trug::ingest::photo;

const SPECIMENS: [&[u8]; 6] = [
    include_bytes!("../reference/data/exif/pillow.jpg"),
    include_bytes!("../reference/data/exif/pillow.png"),
    include_bytes!("../reference/data/exif/pillow.webp"),
    include_bytes!("../reference/data/exif/pillow.tif"),
    include_bytes!("../reference/data/exif/libheif.heic"),
    include_bytes!("../reference/data/exif/exif_gps.jpg"),
];

fn read(bytes: &[u8]) {
    let Ok(photo) = photo::read_from(Cursor::new(bytes), Path::new("p.jpg")) else { return };
    assert!(photo.remarks.iter().all(|remark| !remark.is_empty()));
    assert!(photo.gps.error.is_none_or(|error| error.0.is_finite() && error.0 > 0.0));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..2000)) {
        read(&bytes);
    }

    #[test]
    fn any_bytes_after_a_true_beginning(
        which in 0..SPECIMENS.len(),
        keep in 4..64_usize,
        rest in proptest::collection::vec(any::<u8>(), 0..2000),
    ) {
        read(&[&SPECIMENS[which][..keep], &rest].concat());
    }

    #[test]
    fn a_specimen_with_some_bytes_changed(
        which in 0..SPECIMENS.len(),
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        cut in any::<prop::sample::Index>(),
    ) {
        let mut bytes = SPECIMENS[which].to_vec();
        for (place, byte) in changes {
            // most entries stand near the front
            let near = bytes.len().min(1200);
            bytes[place.index(near)] = byte;
        }
        read(&bytes);
        let end = cut.index(bytes.len());
        read(&bytes[..end]);
    }
}
