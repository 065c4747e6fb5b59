//! Locates a large Exif item in a HEIF file. The general reader takes items of up to 128 KiB;
//! phones write several hundred, most of it a maker note. Reads the metadata boxes only. An unusual
//! layout is `None`. Layer: `ingest`.
//!
//! # References
//! ISO/IEC 14496-12:2015, 8.11.3 (item locations) and 8.11.6 (item information); ISO/IEC
//! 23008-12:2017, annex A (Exif items) (from memory).

use std::io::{self, Read, Seek};
use std::ops::Range;

use super::header::Header;

/// No metadata box of a photograph is longer, bytes.
const LONGEST_METADATA: u64 = 1024 * 1024;
/// The most boxes read of a file.
const MOST_BOXES: usize = 64;

/// The TIFF structure of the Exif item, where it is one run of the file.
pub(super) fn exif<R: Read + Seek>(header: &mut Header<R>) -> io::Result<Option<Range<u64>>> {
    let Some(metadata) = metadata(header)? else { return Ok(None) };
    let length = metadata.end - metadata.start;
    let body = header.bytes(metadata.start, length)?;
    let Some(item) = body.get(4..).and_then(item_location) else { return Ok(None) };
    // the item begins with the distance to its TIFF header
    let front = header.bytes(item.start, 4)?;
    let [a, b, c, d] = *front else { return Ok(None) };
    let start = item.start + 4 + u64::from(u32::from_be_bytes([a, b, c, d]));
    Ok((start < item.end).then_some(start..item.end))
}

/// The body of the metadata box.
fn metadata<R: Read + Seek>(header: &mut Header<R>) -> io::Result<Option<Range<u64>>> {
    let mut at = 0;
    for _ in 0..MOST_BOXES {
        let head = header.bytes(at, 16)?;
        let Some((kind, before, length)) = box_head(head) else { return Ok(None) };
        let (body, end) = (at + before, at.saturating_add(length));
        if kind == *b"meta" {
            let fits = (body..=body + LONGEST_METADATA).contains(&end) && end <= header.length();
            return Ok(fits.then_some(body..end));
        }
        if length == 0 || end >= header.length() {
            return Ok(None);
        }
        at = end;
    }
    Ok(None)
}

/// Where the metadata box ends, determined by the front of a file alone.
pub(super) fn metadata_end(front: &[u8]) -> Option<u64> {
    let mut at = 0;
    for _ in 0..MOST_BOXES {
        let (kind, _, length) = box_head(front.get(at..)?)?;
        let end = at.checked_add(usize::try_from(length).ok()?)?;
        if kind == *b"meta" {
            return u64::try_from(end).ok();
        }
        at = if length == 0 { return None } else { end };
    }
    None
}

/// Type, length of the head and of the whole box.
pub(super) fn box_head(head: &[u8]) -> Option<([u8; 4], u64, u64)> {
    let length = number(head, 0, 4)?;
    let kind = head.get(4..8)?.try_into().ok()?;
    match length {
        1 => Some((kind, 16, number(head, 8, 8)?)),
        0 | 8.. => Some((kind, 8, length)),
        _ => None,
    }
}

fn number(bytes: &[u8], at: usize, count: usize) -> Option<u64> {
    let bytes = bytes.get(at..at.checked_add(count)?)?;
    (count <= 8).then(|| bytes.iter().fold(0, |value, &byte| value << 8 | u64::from(byte)))
}

/// The child boxes of a body.
fn children(mut body: &[u8]) -> Vec<([u8; 4], &[u8])> {
    let mut children = Vec::new();
    while let Some((kind, before, length)) = box_head(body) {
        let Ok(length) = usize::try_from(length) else { break };
        let length = if length == 0 { body.len() } else { length };
        let before = usize::try_from(before).unwrap_or(usize::MAX);
        let Some(own) = body.get(before..length) else { break };
        children.push((kind, own));
        body = &body[length..];
    }
    children
}

/// Where the Exif item lies in the file.
fn item_location(metadata: &[u8]) -> Option<Range<u64>> {
    let children = children(metadata);
    let of = |kind: &[u8; 4]| children.iter().find(|child| child.0 == *kind).map(|child| child.1);
    let item = exif_item(of(b"iinf")?)?;
    location(of(b"iloc")?, item)
}

/// The number of the item of type `Exif`.
fn exif_item(information: &[u8]) -> Option<u64> {
    let entries = if number(information, 0, 1)? == 0 { 6 } else { 8 };
    children(information.get(entries..)?).into_iter().find_map(|(kind, entry)| {
        let width = match number(entry, 0, 1)? {
            2 => 2,
            3 => 4,
            _ => return None,
        };
        let is_exif = kind == *b"infe" && entry.get(4 + width + 2..4 + width + 6)? == b"Exif";
        is_exif.then(|| number(entry, 4, width))?
    })
}

/// A cursor over the fields of the table of locations.
struct Fields<'b> {
    bytes: &'b [u8],
    at: usize,
}

impl Fields<'_> {
    fn next(&mut self, count: usize) -> Option<u64> {
        let value = number(self.bytes, self.at, count)?;
        self.at += count;
        Some(value)
    }
}

/// The one run of an item that is stored in the file itself.
fn location(table: &[u8], item: u64) -> Option<Range<u64>> {
    let mut fields = Fields { bytes: table, at: 0 };
    let version = fields.next(1)?;
    fields.next(3)?;
    let sizes = fields.next(2)?;
    let size = |shift: u64| usize::try_from(sizes >> shift & 0xf).unwrap_or(0);
    let index_size = if version == 0 { 0 } else { size(0) };
    let wide = if version < 2 { 2 } else { 4 };
    let count = fields.next(wide)?;
    for _ in 0..count {
        let own = fields.next(wide)? == item;
        let method = if version == 0 { 0 } else { fields.next(2)? & 0xf };
        let outside = fields.next(2)? != 0;
        let base = fields.next(size(4))?;
        let extents = fields.next(2)?;
        for _ in 0..extents {
            fields.next(index_size)?;
            let (offset, length) = (fields.next(size(12))?, fields.next(size(8))?);
            if own {
                let start = base.checked_add(offset)?;
                let whole = extents == 1 && method == 0 && !outside && length > 4;
                return if whole { Some(start..start.checked_add(length)?) } else { None };
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::super::specimen::{self, block, text};
    use super::*;
    use std::io::Cursor;

    #[test]
    fn the_item_is_found_and_nothing_else_is_read() {
        let block = block(&[text(exif::Tag::Model, "Fieldeye 3")]);
        let file = specimen::heif(&block, 1000);
        let mut header = Header::open(Cursor::new(file.clone())).unwrap();
        let place = super::exif(&mut header).unwrap().unwrap();
        let place = usize::try_from(place.start).unwrap()..usize::try_from(place.end).unwrap();
        assert_eq!(file[place], block);
    }

    #[test]
    fn damaged_file_gives_no_item_and_no_panic() {
        let file = specimen::heif(&block(&[text(exif::Tag::Model, "Fieldeye 3")]), 100);
        for place in 0..file.len() {
            for byte in [0, 1, 0x7f, 0xff] {
                let mut damaged = file.clone();
                damaged[place] = byte;
                let mut header = Header::open(Cursor::new(damaged)).unwrap();
                let _ = super::exif(&mut header);
            }
            let mut header = Header::open(Cursor::new(file[..place].to_vec())).unwrap();
            let _ = super::exif(&mut header);
        }
    }
}
