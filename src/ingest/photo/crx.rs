//! Reads the Exif of a raw file of the form CR3, a box file whose directories lie in boxes of their own,
//! and joins them to one block. Reads the metadata boxes only. An unusual layout is `None`.
//! Layer: `ingest`.
//!
//! # References
//! ISO/IEC 14496-12:2015, 4.2 (boxes); TIFF 6.0, section 2 (directories). The names of the boxes are from
//! memory: `CMT1` holds the first directory, `CMT2` that of Exif, `CMT4` that of GPS.

use std::io::{self, Read, Seek};

use super::boxes::box_head;
use super::header::Header;

/// The box that holds the directories, by its number.
const METADATA: [u8; 16] = [
    0x85, 0xc0, 0xb6, 0x87, 0x82, 0x0f, 0x11, 0xe0, 0x81, 0x11, 0xf4, 0xce, 0x46, 0x2b, 0x6a, 0x48,
];
/// The most boxes of one level.
const MOST_BOXES: usize = 64;
/// No directory of a photograph is longer, bytes.
const LONGEST: u64 = 256 * 1024;
/// The most entries of a directory.
const MOST_ENTRIES: usize = 512;
const EXIF_DIRECTORY: u16 = 0x8769;
const GPS_DIRECTORY: u16 = 0x8825;
const LONG: u16 = 4;
const ENTRY: usize = 12;

/// Whether a file that begins with these bytes has this form.
pub(super) fn is_crx(front: &[u8]) -> bool {
    front.get(4..12) == Some(b"ftypcrx ")
}

/// The Exif block, put together.
pub(super) fn exif<R: Read + Seek>(header: &mut Header<R>) -> io::Result<Option<Vec<u8>>> {
    let length = header.length();
    let Some(movie) = find(header, (0, length), *b"moov", None)? else { return Ok(None) };
    let Some(metadata) = find(header, movie, *b"uuid", Some(METADATA))? else { return Ok(None) };
    let mut directory = |kind: [u8; 4]| -> io::Result<Option<Vec<u8>>> {
        let Some((start, end)) = find(header, metadata, kind, None)? else { return Ok(None) };
        Ok(Some(header.bytes(start, (end - start).min(LONGEST))?.to_vec()))
    };
    let Some(first) = directory(*b"CMT1")? else { return Ok(None) };
    let (exif, gps) = (directory(*b"CMT2")?, directory(*b"CMT4")?);
    Ok(joined(&first, exif.as_deref(), gps.as_deref()))
}

/// The content of the first box of a kind within these bounds.
fn find<R: Read + Seek>(
    header: &mut Header<R>,
    (mut at, end): (u64, u64),
    wanted: [u8; 4],
    number: Option<[u8; 16]>,
) -> io::Result<Option<(u64, u64)>> {
    for _ in 0..MOST_BOXES {
        let head = header.bytes(at, 32)?;
        let Some((kind, before, length)) = box_head(head) else { return Ok(None) };
        let own = usize::try_from(before).ok().and_then(|before| head.get(before..before + 16));
        let numbered = number.is_none_or(|number| own == Some(&number[..]));
        let skipped = if number.is_some() { 16 } else { 0 };
        let next = if length == 0 { end } else { at.saturating_add(length).min(end) };
        if kind == wanted && numbered && at + before + skipped <= next {
            return Ok(Some((at + before + skipped, next)));
        }
        if next >= end {
            return Ok(None);
        }
        at = next;
    }
    Ok(None)
}

/// Directories of their own as one block: the later ones are appended, their offsets moved, and a new
/// first directory points to them.
fn joined(first: &[u8], exif: Option<&[u8]>, gps: Option<&[u8]>) -> Option<Vec<u8>> {
    let order = Order::of(first)?;
    let mut entries: Vec<[u8; ENTRY]> = entries_of(first, order)?
        .filter(|entry| ![EXIF_DIRECTORY, GPS_DIRECTORY].contains(&order.short(entry, 0)))
        .collect();
    let mut block = first.to_vec();
    for (tag, directory) in [(EXIF_DIRECTORY, exif), (GPS_DIRECTORY, gps)] {
        let Some(directory) = directory.filter(|own| Order::of(own) == Some(order)) else {
            continue;
        };
        block.resize(block.len().next_multiple_of(2), 0);
        let base = block.len();
        block.extend_from_slice(directory);
        let Some(at) = moved(&mut block[base..], order, base) else { continue };
        let mut entry = [0; ENTRY];
        order.put_short(&mut entry, 0, tag);
        order.put_short(&mut entry, 2, LONG);
        order.put_long(&mut entry, 4, 1);
        order.put_long(&mut entry, 8, u32::try_from(base + at).ok()?);
        entries.push(entry);
    }
    entries.sort_by_key(|entry| order.short(entry, 0));
    block.resize(block.len().next_multiple_of(2), 0);
    let start = u32::try_from(block.len()).ok()?;
    let mut count = [0; 2];
    order.put_short(&mut count, 0, u16::try_from(entries.len()).ok()?);
    block.extend(count);
    block.extend(entries.concat());
    block.extend([0; 4]);
    order.put_long(&mut block, 4, start);
    Some(block)
}

/// The entries of the first directory of a block.
fn entries_of(block: &[u8], order: Order) -> Option<impl Iterator<Item = [u8; ENTRY]> + '_> {
    let at = usize::try_from(order.long(block, 4)?).ok()?;
    let count = usize::from(order.short(block.get(at..at + 2)?, 0)).min(MOST_ENTRIES);
    let entries = block.get(at + 2..)?.chunks_exact(ENTRY).take(count);
    Some(entries.filter_map(|entry| entry.try_into().ok()))
}

/// Adds the base to every offset of the first directory of a block; returns where it begins.
fn moved(block: &mut [u8], order: Order, base: usize) -> Option<usize> {
    let at = usize::try_from(order.long(block, 4)?).ok()?;
    let count = usize::from(order.short(block.get(at..at + 2)?, 0)).min(MOST_ENTRIES);
    let base = u32::try_from(base).ok()?;
    for entry in block.get_mut(at + 2..)?.chunks_exact_mut(ENTRY).take(count) {
        let size = match order.short(entry, 2) {
            1 | 2 | 6 | 7 => 1,
            3 | 8 => 2,
            5 | 10 | 12 => 8,
            _ => 4,
        };
        let length = u64::from(order.long(entry, 4)?) * size;
        if length > 4 {
            let offset = order.long(entry, 8)?.checked_add(base)?;
            order.put_long(entry, 8, offset);
        }
    }
    Some(at)
}

/// The order of the bytes of a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Order {
    Little,
    Big,
}

impl Order {
    fn of(block: &[u8]) -> Option<Self> {
        match block.get(..4)? {
            b"II\x2a\0" => Some(Self::Little),
            b"MM\0\x2a" => Some(Self::Big),
            _ => None,
        }
    }

    /// A number of two bytes; zero where they are not there.
    fn short(self, bytes: &[u8], at: usize) -> u16 {
        let Some(&[a, b]) = bytes.get(at..at + 2) else { return 0 };
        if self == Self::Little { u16::from_le_bytes([a, b]) } else { u16::from_be_bytes([a, b]) }
    }

    fn long(self, bytes: &[u8], at: usize) -> Option<u32> {
        let &[a, b, c, d] = bytes.get(at..at + 4)? else { return None };
        let number = [a, b, c, d];
        Some(if self == Self::Little {
            u32::from_le_bytes(number)
        } else {
            u32::from_be_bytes(number)
        })
    }

    fn put_short(self, bytes: &mut [u8], at: usize, number: u16) {
        let own = if self == Self::Little { number.to_le_bytes() } else { number.to_be_bytes() };
        bytes[at..at + 2].copy_from_slice(&own);
    }

    fn put_long(self, bytes: &mut [u8], at: usize, number: u32) {
        let own = if self == Self::Little { number.to_le_bytes() } else { number.to_be_bytes() };
        bytes[at..at + 4].copy_from_slice(&own);
    }
}

#[cfg(test)]
mod tests {
    use super::super::specimen;
    use super::*;

    /// A directory as its own block, with one text each.
    fn directory(order: Order, texts: &[(u16, &str)]) -> Vec<u8> {
        let mark: &[u8] = if order == Order::Little { b"II\x2a\0" } else { b"MM\0\x2a" };
        let mut block = mark.to_vec();
        block.extend([0; 4]);
        order.put_long(&mut block, 4, 8);
        let mut count = [0; 2];
        order.put_short(&mut count, 0, u16::try_from(texts.len()).unwrap());
        block.extend(count);
        let mut value = 8 + 2 + texts.len() * ENTRY + 4;
        for (tag, text) in texts {
            let mut entry = [0; ENTRY];
            order.put_short(&mut entry, 0, *tag);
            order.put_short(&mut entry, 2, 2);
            order.put_long(&mut entry, 4, u32::try_from(text.len() + 1).unwrap());
            order.put_long(&mut entry, 8, u32::try_from(value).unwrap());
            block.extend(entry);
            value += text.len() + 1;
        }
        block.extend([0; 4]);
        for (_, text) in texts {
            block.extend([text.as_bytes(), b"\0"].concat());
        }
        block
    }

    fn boxed(kind: &[u8], body: &[u8]) -> Vec<u8> {
        let length = u32::try_from(body.len() + 8).unwrap();
        [&length.to_be_bytes(), kind, body].concat()
    }

    fn raw(order: Order) -> Vec<u8> {
        let first = directory(order, &[(0x010f, "Invented Works"), (0x0110, "Fieldeye 3")]);
        let exif = directory(
            order,
            &[(0x9003, "2026:05:02 10:11:12"), (0x9011, "+10:00"), (0xa431, "0A3377")],
        );
        let metadata = [
            METADATA.as_slice(),
            &boxed(b"CNCV", b"version"),
            &boxed(b"CMT1", &first),
            &boxed(b"CMT2", &exif),
        ]
        .concat();
        let movie = boxed(b"moov", &boxed(b"uuid", &metadata));
        [boxed(b"ftyp", b"crx \0\0\0\x01crx isom"), movie, boxed(b"mdat", &vec![0x55; 100_000])]
            .concat()
    }

    #[test]
    fn directories_in_boxes_of_their_own_are_one_header() {
        for order in [Order::Little, Order::Big] {
            let photo = specimen::read(&raw(order));
            assert_eq!(photo.camera.model.as_deref(), Some("Fieldeye 3"));
            assert_eq!(photo.camera.serial.as_deref(), Some("0A3377"));
            assert_eq!(photo.taken.unwrap().to_string(), "2026-05-02T10:11:12");
            assert!(photo.offset.is_some() && !photo.damaged, "{:?}", photo.remarks);
        }
    }

    #[test]
    fn damage_gives_a_photograph_without_a_time_and_no_panic() {
        let whole = raw(Order::Little);
        let metadata = whole.len() - 100_000;
        for place in 8..metadata {
            for byte in [0, 1, 0x7f, 0xff] {
                let mut damaged = whole.clone();
                damaged[place] = byte;
                let _ = super::super::read_from(
                    std::io::Cursor::new(damaged),
                    std::path::Path::new("a.cr3"),
                );
            }
        }
        let other = [boxed(b"ftyp", b"crx \0\0\0\x01"), boxed(b"moov", b"")].concat();
        assert_eq!(specimen::read(&other).taken, None);
    }
}
