//! Adds a position to a PNG. Its Exif chunk is rewritten, or put before the picture; every other
//! chunk is copied byte for byte. Layer: `present`.

use super::{Stamped, Unfit, block};
use crate::present::xmp::Stamp;

pub(super) const SIGNATURE: &[u8] = b"\x89PNG\r\n\x1a\n";

pub(super) fn stamped(photograph: &[u8], stamp: &Stamp) -> Stamped {
    let limit = i32::MAX as usize;
    let mut out = SIGNATURE.to_vec();
    let (mut at, mut done) = (SIGNATURE.len(), false);
    while at < photograph.len() {
        let (kind, content, end) = chunk(photograph, at)?;
        if matches!(kind, b"iTXt" | b"tEXt" | b"zTXt") && stamp.generalised.is_some() {
            // texts may be compressed and cannot be checked
            return Err(Unfit::HasPosition);
        }
        if kind == b"eXIf" {
            if done {
                return Err(Unfit::form("its Exif chunk is after the image"));
            }
            put(&mut out, &block::with_position(content, stamp, limit)?);
            done = true;
        } else {
            if kind == b"IDAT" && !done {
                if has_exif(photograph, at) {
                    return Err(Unfit::form("its Exif chunk is after the image"));
                }
                put(&mut out, &block::of_position(stamp, limit)?);
                done = true;
            }
            out.extend(&photograph[at..end]);
        }
        at = end;
    }
    if done { Ok(out) } else { Err(Unfit::form("it has no image")) }
}

/// Kind and content of the chunk that begins here, and where it ends.
fn chunk(file: &[u8], at: usize) -> Result<(&[u8], &[u8], usize), Unfit> {
    let broken = || Unfit::form("it ends within a chunk");
    let long: [u8; 4] =
        file.get(at..at + 4).and_then(|four| four.try_into().ok()).ok_or_else(broken)?;
    let end = (at + 12).checked_add(u32::from_be_bytes(long) as usize).ok_or_else(broken)?;
    let kind = file.get(at + 4..at + 8).ok_or_else(broken)?;
    let content = file.get(at + 8..end - 4).ok_or_else(broken)?;
    if end > file.len() {
        return Err(broken());
    }
    Ok((kind, content, end))
}

fn has_exif(file: &[u8], mut at: usize) -> bool {
    while let Ok((kind, _, end)) = chunk(file, at) {
        if kind == b"eXIf" {
            return true;
        }
        at = end;
    }
    false
}

fn put(out: &mut Vec<u8>, content: &[u8]) {
    let checked = [b"eXIf", content].concat();
    let mut sum = flate2::Crc::new();
    sum.update(&checked);
    // within the limit
    out.extend(u32::try_from(content.len()).unwrap_or(0).to_be_bytes());
    out.extend(&checked);
    out.extend(sum.sum().to_be_bytes());
}
