//! Selects the bytes of an Exif block that must be read: its directories and the entries that trug
//! uses. Maker notes, thumbnails and pixels are not read; the rest of the block is zero. A raw file
//! of 60 MB costs some kilobytes. Layer: `ingest`.

use std::io::{self, Read, Seek};
use std::ops::Range;

use super::header::Header;

/// The largest offset of a directory that is followed.
const FARTHEST: u64 = 256 * 1024 * 1024;
/// The longest value that is read.
const LONGEST_VALUE: u64 = 4096;

const EXIF_DIRECTORY: u16 = 0x8769;
const GPS_DIRECTORY: u16 = 0x8825;

/// Make, model, time of change, the two directories, serial number of a digital negative.
const MAIN: [u16; 6] = [0x010f, 0x0110, 0x0132, EXIF_DIRECTORY, GPS_DIRECTORY, 0xc62f];
/// The types of a pointer: LONG, and what some programs write for it, SLONG and IFD (TIFF 6.0,
/// supplement 1).
const LONG: u8 = 4;
const POINTERS: [u64; 2] = [9, 13];
/// Times, their offsets and fractions, serial number of the body.
const EXIF: [u16; 9] = [0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9290, 0x9291, 0x9292, 0xa431];
/// All GPS entries except the two long texts on method and area.
const GPS: Range<u16> = 0..0x20;
const GPS_TEXTS: [u16; 2] = [0x1b, 0x1c];

#[derive(Clone, Copy, PartialEq)]
enum Directory {
    Main,
    Exif,
    Gps,
}

impl Directory {
    fn wants(self, tag: u16) -> bool {
        match self {
            // some programs write the entries of the Exif directory into the first one
            Self::Main => MAIN.contains(&tag) || EXIF.contains(&tag),
            Self::Exif => EXIF.contains(&tag),
            Self::Gps => GPS.contains(&tag) && !GPS_TEXTS.contains(&tag),
        }
    }
}

/// The Exif block at a place of the file, filled in where it matters.
pub(super) fn gather<R: Read + Seek>(
    header: &mut Header<R>,
    place: Range<u64>,
) -> io::Result<Vec<u8>> {
    let end = place.end.min(header.length()).min(place.start.saturating_add(FARTHEST));
    let length = end.saturating_sub(place.start);
    let mut block = Block {
        header,
        start: place.start,
        bytes: vec![0; usize::try_from(length).unwrap_or(0)],
        little_endian: false,
    };
    block.fill()?;
    Ok(block.bytes)
}

struct Block<'h, R> {
    header: &'h mut Header<R>,
    start: u64,
    bytes: Vec<u8>,
    little_endian: bool,
}

impl<R: Read + Seek> Block<'_, R> {
    fn fill(&mut self) -> io::Result<()> {
        self.fetch(0, 8)?;
        self.little_endian = self.bytes.starts_with(b"II");
        if let Some(main) = self.number(4, 4) {
            let children = self.directory(main, Directory::Main)?;
            for (kind, at) in children {
                self.directory(at, kind)?;
            }
        }
        Ok(())
    }

    /// Reads a directory with the relevant values; returns its subdirectories.
    fn directory(&mut self, at: u64, kind: Directory) -> io::Result<Vec<(Directory, u64)>> {
        self.fetch(at, 2)?;
        let count = self.number(at, 2).unwrap_or(0);
        self.fetch(at + 2, count * 12 + 4)?;
        let mut below = Vec::new();
        for entry in (0..count).map(|index| at + 2 + index * 12) {
            let Some(tag) = self.number(entry, 2).and_then(|tag| u16::try_from(tag).ok()) else {
                break;
            };
            if !kind.wants(tag) {
                continue;
            }
            match (kind, tag) {
                (Directory::Main, EXIF_DIRECTORY) => {
                    self.as_long(entry);
                    below.extend(self.number(entry + 8, 4).map(|at| (Directory::Exif, at)));
                }
                (Directory::Main, GPS_DIRECTORY) => {
                    self.as_long(entry);
                    below.extend(self.number(entry + 8, 4).map(|at| (Directory::Gps, at)));
                }
                _ => self.value(entry)?,
            }
        }
        Ok(below)
    }

    /// Sets the type of a pointer to that of the standard, in the copy.
    fn as_long(&mut self, entry: u64) {
        if !self.number(entry + 2, 2).is_some_and(|kind| POINTERS.contains(&kind)) {
            return;
        }
        let low = usize::try_from(entry).unwrap_or(usize::MAX).saturating_add(2);
        let kind = if self.little_endian { [LONG, 0] } else { [0, LONG] };
        if let Some(bytes) = self.bytes.get_mut(low..low.saturating_add(2)) {
            bytes.copy_from_slice(&kind);
        }
    }

    /// Reads the value of an entry where it does not fit into the entry itself.
    fn value(&mut self, entry: u64) -> io::Result<()> {
        let unit = match self.number(entry + 2, 2) {
            Some(3 | 8) => 2,
            Some(4 | 9 | 11) => 4,
            Some(5 | 10 | 12) => 8,
            _ => 1,
        };
        let length = self.number(entry + 4, 4).unwrap_or(0) * unit;
        match self.number(entry + 8, 4) {
            Some(at) if length > 4 && length <= LONGEST_VALUE => self.fetch(at, length),
            _ => Ok(()),
        }
    }

    /// Copies a run from the file, as far as the block goes.
    fn fetch(&mut self, at: u64, count: u64) -> io::Result<()> {
        let length = self.bytes.len() as u64;
        if at >= length {
            return Ok(());
        }
        let count = count.min(length - at);
        let found = self.header.bytes(self.start + at, count)?;
        let at = usize::try_from(at).unwrap_or(usize::MAX);
        self.bytes[at..at + found.len()].copy_from_slice(found);
        Ok(())
    }

    fn number(&self, at: u64, count: usize) -> Option<u64> {
        let at = usize::try_from(at).ok()?;
        let bytes = self.bytes.get(at..at.checked_add(count)?)?;
        let join = |value: u64, byte: &u8| value << 8 | u64::from(*byte);
        Some(if self.little_endian {
            bytes.iter().rev().fold(0, join)
        } else {
            bytes.iter().fold(0, join)
        })
    }
}
