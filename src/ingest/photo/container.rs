//! Locates the Exif block in a file, identified by content: JPEG, TIFF and raw formats based on it,
//! HEIF, PNG, WebP. Refuses everything else; never reads pixels. Layer: `ingest`.
//!
//! Each form is a chain of parts with a length each; only their heads are read, so that a photograph of 60 MB costs
//! kilobytes.

use std::io::{self, Read, Seek};
use std::ops::Range;

use super::crx;
use super::header::Header;

/// The kinds of picture that carry Exif.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Container {
    Jpeg,
    Tiff,
    Heif,
    Png,
    WebP,
    /// A raw file that holds a JPEG preview with all of the Exif.
    Preview,
    /// A raw file of boxes with a directory each.
    Crx,
}

/// Where the Exif block of a file is.
#[derive(Debug)]
pub(super) enum Place {
    /// A run of bytes of the file that is a TIFF structure.
    At(Range<u64>),
    /// Nowhere.
    Nowhere,
    /// The file breaks off or is damaged before it.
    Broken(&'static str),
    /// To be found by the reader of box files.
    InBoxes,
    /// A TIFF structure that was put together.
    Made(Vec<u8>),
}

const PNG: &[u8] = b"\x89PNG\r\n\x1a\n";
const EXIF: &[u8] = b"Exif\0";
/// The first bytes of a raw file of the form RAF, without the maker's name.
const PREVIEW: &[u8] = b"FUJIFILMCCD-RAW ";
/// Brands that box files of pictures name; video files share the form but not the brands.
const BRANDS: [&[u8]; 4] = [b"mif1", b"msf1", b"heic", b"heix"];

impl Container {
    /// The container whose first bytes these are.
    pub(super) fn of(front: &[u8]) -> Option<Self> {
        if front.starts_with(b"\xff\xd8\xff") {
            Some(Self::Jpeg)
        } else if front.starts_with(PNG) {
            Some(Self::Png)
        } else if front.starts_with(b"RIFF") && front.get(8..12) == Some(b"WEBP") {
            Some(Self::WebP)
        } else if front.starts_with(b"II\x2a\0") || front.starts_with(b"MM\0\x2a") {
            Some(Self::Tiff)
        } else if front.starts_with(PREVIEW) {
            Some(Self::Preview)
        } else if crx::is_crx(front) {
            Some(Self::Crx)
        } else if is_heif(front) {
            Some(Self::Heif)
        } else {
            None
        }
    }

    /// Its name in notes.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Jpeg => "JPEG",
            Self::Tiff => "TIFF",
            Self::Heif => "HEIF",
            Self::Png => "PNG",
            Self::WebP => "WebP",
            Self::Preview => "raw with a JPEG preview",
            Self::Crx => "CR3",
        }
    }

    /// Finds the Exif block.
    pub(super) fn find_exif<R: Read + Seek>(self, header: &mut Header<R>) -> io::Result<Place> {
        match self {
            Self::Jpeg => in_jpeg(header, 0),
            Self::Preview => in_preview(header),
            Self::Crx => Ok(crx::exif(header)?.map_or(Place::Nowhere, Place::Made)),
            Self::Tiff => Ok(Place::At(0..header.length())),
            Self::Heif => Ok(Place::InBoxes),
            Self::Png => in_png(header),
            Self::WebP => in_webp(header),
        }
    }
}

fn is_heif(front: &[u8]) -> bool {
    let Some((head, rest)) = front.split_at_checked(8) else { return false };
    let length = big_endian(&head[..4]);
    head[4..] == *b"ftyp"
        && rest
            .chunks_exact(4)
            .take(usize::try_from(length / 4).unwrap_or(0).saturating_sub(2).min(64))
            .any(|brand| BRANDS.contains(&brand))
}

/// JPEG: segments of marker and length until the picture begins.
fn in_jpeg<R: Read + Seek>(header: &mut Header<R>, start: u64) -> io::Result<Place> {
    const START_OF_SCAN: u8 = 0xda;
    const END: u8 = 0xd9;
    const APPLICATION_1: u8 = 0xe1;
    let mut at = start + 2;
    loop {
        let segment = header.bytes(at, 10)?;
        let [0xff, marker, rest @ ..] = segment else {
            return Ok(Place::Broken("it is truncated or damaged before the image data"));
        };
        match *marker {
            // markers may be padded with any number of 0xff
            0xff => at += 1,
            0x01 | 0xd0..=0xd8 => at += 2,
            START_OF_SCAN | END => return Ok(Place::Nowhere),
            marker => {
                let Some((length, name)) = rest.split_at_checked(2) else {
                    return Ok(Place::Broken("it is truncated before the image data"));
                };
                let end = at + 2 + big_endian(length);
                if marker == APPLICATION_1 && name.starts_with(EXIF) {
                    return Ok(Place::At((at + 10).min(end)..end));
                }
                at = end;
            }
        }
    }
}

/// A raw file of the form RAF: the place of its preview stands at byte 84 (from memory).
fn in_preview<R: Read + Seek>(header: &mut Header<R>) -> io::Result<Place> {
    const POINTER: u64 = 84;
    let start = big_endian(header.bytes(POINTER, 4)?);
    if header.bytes(start, 3)? != b"\xff\xd8\xff" {
        return Ok(Place::Broken("the place of its preview is damaged"));
    }
    in_jpeg(header, start)
}

/// PNG: chunks of length and type; Exif may stand before or after the pixels.
fn in_png<R: Read + Seek>(header: &mut Header<R>) -> io::Result<Place> {
    let mut at = PNG.len() as u64;
    loop {
        let chunk = header.bytes(at, 8)?;
        let Some((length, kind)) = chunk.split_at_checked(4) else {
            return Ok(Place::Broken("it is truncated"));
        };
        let body = at + 8..at + 8 + big_endian(length);
        match kind {
            b"eXIf" => return Ok(Place::At(body)),
            b"IEND" => return Ok(Place::Nowhere),
            _ => at = body.end + 4,
        }
    }
}

/// WebP: chunks of type and length, padded to even lengths; Exif usually comes last.
fn in_webp<R: Read + Seek>(header: &mut Header<R>) -> io::Result<Place> {
    let mut at = 12;
    loop {
        let chunk = header.bytes(at, 8 + 6)?;
        let Some((kind, rest)) = chunk.split_at_checked(4) else {
            return Ok(Place::Nowhere);
        };
        let Some((length, body)) = rest.split_at_checked(4) else {
            return Ok(Place::Broken("it is truncated"));
        };
        let length = u64::from(u32::from_le_bytes([length[0], length[1], length[2], length[3]]));
        if kind == b"EXIF" {
            // some programs keep the name that only JPEG needs
            let name = if body.starts_with(EXIF) { 6.min(length) } else { 0 };
            return Ok(Place::At(at + 8 + name..at + 8 + length));
        }
        at += 8 + length + (length & 1);
    }
}

fn big_endian(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0, |value, &byte| value << 8 | u64::from(byte))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn place(bytes: &[u8]) -> Place {
        let mut header = Header::open(Cursor::new(bytes)).unwrap();
        let container = Container::of(header.front()).unwrap();
        container.find_exif(&mut header).unwrap()
    }

    #[test]
    fn containers_are_known_by_their_first_bytes() {
        assert_eq!(Container::of(b"\xff\xd8\xff\xe0"), Some(Container::Jpeg));
        assert_eq!(Container::of(b"II\x2a\0"), Some(Container::Tiff));
        assert_eq!(Container::of(b"\0\0\0\x14ftypheic\0\0\0\0mif1"), Some(Container::Heif));
        assert_eq!(Container::of(b"\0\0\0\x14ftypqt  \0\0\0\0qt  "), None);
        assert_eq!(Container::of(b"RIFF\0\0\0\0WAVE"), None);
        assert_eq!(Container::of(b"<gpx"), None);
        assert_eq!(Container::of(b""), None);
    }

    #[test]
    fn jpeg_segments_before_the_exif_one_are_passed_over() {
        let jpeg = b"\xff\xd8\xff\xe0\0\x04ab\xff\xff\xe1\0\x0aExif\0\0II\xff\xda";
        assert!(matches!(place(jpeg), Place::At(at) if at == (19..21)));
    }

    #[test]
    fn the_preview_of_a_raw_file_is_read() {
        let mut raw = b"FUJIFILMCCD-RAW ".to_vec();
        raw.resize(84, 0);
        raw.extend(100_u32.to_be_bytes());
        raw.resize(100, 0);
        raw.extend(b"\xff\xd8\xff\xe1\0\x0aExif\0\0II\xff\xda");
        assert!(matches!(place(&raw), Place::At(at) if at == (112..114)));
        raw[87] = 99;
        assert!(matches!(place(&raw), Place::Broken(_)));
        assert!(matches!(place(&raw[..50]), Place::Broken(_)));
    }

    #[test]
    fn broken_ends_are_reported_apart_from_a_missing_block() {
        assert!(matches!(place(b"\xff\xd8\xff\xda\0\x02"), Place::Nowhere));
        assert!(matches!(place(b"\xff\xd8\xff\xe0\0\x04a"), Place::Broken(_)));
        assert!(matches!(place(b"\xff\xd8\xff"), Place::Broken(_)));
        assert!(matches!(place(b"\x89PNG\r\n\x1a\n\0\0\0\0IEND"), Place::Nowhere));
        assert!(matches!(place(b"\x89PNG\r\n\x1a\n\0\0\0"), Place::Broken(_)));
        assert!(matches!(place(b"RIFF\0\0\0\0WEBPVP8 \x01\0\0\0aa"), Place::Nowhere));
    }

    #[test]
    fn exif_after_the_pixels_is_found() {
        let png = b"\x89PNG\r\n\x1a\n\0\0\0\x03IDATaaacccc\0\0\0\x02eXIfII";
        assert!(matches!(place(png), Place::At(at) if at == (31..33)));
        let webp = b"RIFF\0\0\0\0WEBPVP8 \x01\0\0\0aaEXIF\x08\0\0\0Exif\0\0II";
        assert!(matches!(place(webp), Place::At(at) if at == (36..38)));
    }
}
