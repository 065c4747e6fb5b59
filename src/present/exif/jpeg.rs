//! Adds a position to a JPEG. Its Exif segment is rewritten, every other segment and the picture
//! itself are copied byte for byte. Layer: `present`.

use super::{Stamped, Unfit, block};
use crate::present::xmp::{self, Stamp};

const EXIF: &[u8] = b"Exif\0\0";
const XMP: &[u8] = b"http://ns.adobe.com/xap/1.0/\0";
const MANY: &[u8] = b"MPF\0";
/// The largest segment content, without its length field.
const LONGEST: usize = 0xffff - 2;

/// A segment before the image data: its marker and the range of its content.
struct Segment {
    marker: u8,
    start: usize,
    content: std::ops::Range<usize>,
}

pub(super) fn stamped(photograph: &[u8], stamp: &Stamp) -> Stamped {
    let (segments, picture) = segments(photograph)?;
    let content = |segment: &Segment| &photograph[segment.content.clone()];
    let is = |segment: &&Segment, marker, begins| {
        segment.marker == marker && content(segment).starts_with(begins)
    };
    let exif = segments.iter().find(|segment| is(segment, 0xe1, EXIF));
    let xmp = segments.iter().find(|segment| is(segment, 0xe1, XMP));
    let limit = LONGEST - EXIF.len();
    let block = match exif {
        Some(segment) => block::with_position(&content(segment)[EXIF.len()..], stamp, limit)?,
        None => block::of_position(stamp, limit)?,
    };
    let mut fresh = segment(&[EXIF, &block].concat())?;
    if xmp.is_none() && !stamp.numbers.is_empty() {
        fresh.extend(segment(&[XMP, xmp::packet(stamp).as_bytes()].concat())?);
    }
    // after the JFIF segment, where there is one
    let (from, to) = if let Some(segment) = exif {
        (segment.start, segment.content.end)
    } else {
        let after = segments.iter().take_while(|segment| segment.marker == 0xe0).last();
        let place = after.map_or(2, |segment| segment.content.end);
        (place, place)
    };
    let grown = fresh.len() - (to - from).min(fresh.len());
    let mut out = Vec::with_capacity(photograph.len() + fresh.len());
    out.extend(&photograph[..from]);
    out.extend(&fresh);
    out.extend(&photograph[to..]);
    if let Some(many) = segments.iter().find(|segment| is(segment, 0xe2, MANY)) {
        if many.start < from {
            return Err(Unfit::form("it contains several images in an unusual order"));
        }
        let moved = many.content.start - (to - from) + fresh.len() + MANY.len();
        let end = moved + many.content.len() - MANY.len();
        grow_first_picture(&mut out[moved..end], grown);
    }
    debug_assert!(out.ends_with(&photograph[picture..]));
    Ok(out)
}

/// All segments before the image data, and the offset of the image data.
fn segments(photograph: &[u8]) -> Result<(Vec<Segment>, usize), Unfit> {
    let broken = || Unfit::form("it ends before the image");
    let mut segments = Vec::new();
    let mut at = 2;
    loop {
        let start = at;
        if photograph.get(at) != Some(&0xff) {
            return Err(broken());
        }
        while photograph.get(at) == Some(&0xff) {
            at += 1;
        }
        let marker = *photograph.get(at).ok_or_else(broken)?;
        at += 1;
        match marker {
            // the image data, or the end of the file
            0xda => return Ok((segments, start)),
            0xd9 => return Err(broken()),
            // markers without content
            0x01 | 0xd0..=0xd7 => continue,
            _ => {}
        }
        let long = photograph.get(at..at + 2).ok_or_else(broken)?;
        let long = usize::from(u16::from_be_bytes([long[0], long[1]]));
        if long < 2 || at + long > photograph.len() {
            return Err(broken());
        }
        segments.push(Segment { marker, start, content: at + 2..at + long });
        at += long;
    }
}

fn segment(content: &[u8]) -> Stamped {
    let long = u16::try_from(content.len() + 2).map_err(|_| {
        Unfit::form(format!("a segment of {} bytes is too long for JPEG", content.len()))
    })?;
    Ok([&[0xff, 0xe1][..], &long.to_be_bytes(), content].concat())
}

/// Updates the length of the first image in a multi-picture file.
fn grow_first_picture(many: &mut [u8], grown: usize) {
    const PICTURES: u16 = 0xb002;
    let little = many.starts_with(b"II");
    let short = |bytes: &[u8], at: usize| {
        let two: [u8; 2] = bytes.get(at..at + 2)?.try_into().ok()?;
        Some(if little { u16::from_le_bytes(two) } else { u16::from_be_bytes(two) })
    };
    let long = |bytes: &[u8], at: usize| {
        let four: [u8; 4] = bytes.get(at..at + 4)?.try_into().ok()?;
        Some(if little { u32::from_le_bytes(four) } else { u32::from_be_bytes(four) })
    };
    let size_at = || {
        let directory = long(many, 4)? as usize;
        let count = usize::from(short(many, directory)?);
        let entry = (0..count)
            .map(|place| directory + 2 + 12 * place)
            .find(|entry| short(many, *entry) == Some(PICTURES))?;
        Some(long(many, entry + 8)? as usize + 4)
    };
    let Some(at) = size_at() else { return };
    let Some(size) = long(many, at) else { return };
    let size = size.saturating_add(u32::try_from(grown).unwrap_or(0));
    let bytes = if little { size.to_le_bytes() } else { size.to_be_bytes() };
    if let Some(place) = many.get_mut(at..at + 4) {
        place.copy_from_slice(&bytes);
    }
}
