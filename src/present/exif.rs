//! Writes the position of a photograph into a copy of it. Adds a GPS directory at the end of the Exif
//! block and leaves everything else unchanged, byte for byte: the image, the maker notes, the
//! thumbnail. Refuses file formats for which this is not guaranteed. Layer: `present`.
//!
//! # References
//! CIPA DC-008-2023 (Exif 3.0), 4.6.6 for the GPS tags and 4.7.2 for the segments of JPEG; TIFF 6.0
//! (1992), section 2; PNG (third edition, W3C 2025), 11.3.3.2 eXIf and 5.3 for chunks; CIPA DC-007-2009
//! (multi-picture format), 5.2. Numbers of tags from memory, and read back by another library in
//! `tests/outside/stamp.py`.

mod block;
mod jpeg;
mod png;
mod position;

use super::xmp::Stamp;

/// Text in the Exif block that identifies a copy written by trug.
const MARK: &[u8] = b"trug: ";

/// Why a position cannot be put into a copy of a photograph.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unfit {
    /// The format is not supported, or the file is damaged.
    Form(String),
    /// The file may already contain an exact position where only a generalised one may be published.
    HasPosition,
}

impl Unfit {
    fn form(why: impl Into<String>) -> Self {
        Self::Form(why.into())
    }
}

type Stamped = Result<Vec<u8>, Unfit>;

/// A copy of the photograph with its position in it.
///
/// JPEG and PNG, and TIFF where the file name shows that it is not a camera raw file.
///
/// Works on bytes: the original is not opened for writing by anybody. The image, the maker notes and the thumbnail
/// are the same bytes as before. With a generalised stamp a photograph that may hold an exact position is refused.
///
/// # Accuracy
/// Coordinates to a ten-thousandth of a second, 3 mm.
///
/// # Errors
/// When the file has another format, is damaged, or has no space left in its Exif block.
pub fn stamped(photograph: &[u8], stamp: &Stamp, is_plain_tiff: bool) -> Result<Vec<u8>, Unfit> {
    if stamp.generalised.is_some() && contains_position(photograph) {
        return Err(Unfit::HasPosition);
    }
    if photograph.starts_with(b"\xff\xd8") {
        jpeg::stamped(photograph, stamp)
    } else if photograph.starts_with(png::SIGNATURE) {
        png::stamped(photograph, stamp)
    } else if is_plain_tiff
        && (photograph.starts_with(b"II*\0") || photograph.starts_with(b"MM\0*"))
    {
        block::with_position(photograph, stamp, u32::MAX as usize)
    } else {
        Err(Unfit::form("a position can be written into JPEG, PNG and TIFF only"))
    }
}

/// Whether any part of a file contains a position as XMP and videos write one. The GPS directory is
/// checked where it is read.
fn contains_position(photograph: &[u8]) -> bool {
    [&b"GPSLatitude"[..], b"\xa9xyz"]
        .iter()
        .any(|word| memchr::memmem::find(photograph, word).is_some())
}

/// Whether a file is a copy written by trug. Checks its start and, for TIFF, its end.
#[must_use]
pub fn is_ours(file: &[u8]) -> bool {
    let far = file.len().saturating_sub(4_096);
    let parts = [&file[..file.len().min(1 << 17)], &file[far..]];
    parts.iter().any(|part| memchr::memmem::find(part, MARK).is_some())
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::units::{LatLon, Metres, Radius95};

    pub(crate) fn stamp() -> Stamp {
        Stamp {
            at: LatLon::new(-42.615, 146.096).unwrap(),
            radius: Radius95::new(Metres(9.44)).unwrap(),
            when: "2026-05-02T00:05:09.5Z".parse().ok(),
            direction: None,
            numbers: vec!["AQ-1".into()],
            generalised: None,
        }
    }

    #[test]
    fn unsupported_formats_are_refused_without_panic() {
        for bytes in [
            &b""[..],
            b"\xff\xd8",
            b"\xff\xd8\xff",
            b"II*\0",
            b"MM\0*\0\0\0\x08\xff\xff",
            b"\x89PNG\r\n\x1a\n",
            b"RIFF",
        ] {
            assert!(stamped(bytes, &stamp(), true).is_err(), "{bytes:?}");
        }
    }
}
