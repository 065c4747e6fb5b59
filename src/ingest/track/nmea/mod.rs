//! Reads logs of NMEA 0183 sentences line by line: positions with their date, time, height and
//! dilution, whatever constellations the receiver reports. Damaged sentences are counted. Memory is
//! bounded by the fixes. Layer: `ingest`.

mod dates;
mod epoch;
mod sentence;

#[cfg(test)]
mod tests;

use std::io::{BufRead, BufReader, Read};
use std::path::Path;

use self::epoch::Log;
use self::sentence::{Candidate, candidates};
use super::counted::Counted;
use crate::error::{Error, Result};
use crate::model::TrackFile;

/// The longest line that is read; the rest of a longer one is skipped.
const LONGEST_LINE: usize = 4096;

/// Lines at the beginning of a file that are looked at to identify it.
const LOOKED_AT: usize = 80;

/// Whether a file that begins with these bytes is a log of NMEA sentences: one with a valid checksum, or
/// two without or with a wrong one.
#[must_use]
pub fn looks_like_nmea(front: &[u8]) -> bool {
    let mut unsure = 0;
    for line in front.split(|&byte| matches!(byte, b'\n' | b'\r')).take(LOOKED_AT) {
        for candidate in candidates(line) {
            match candidate {
                Candidate::Sound { known: true, checked: true, .. } => return true,
                Candidate::Sound { known: true, .. } | Candidate::Damaged { known: true, .. } => {
                    unsure += 1;
                }
                _ => {}
            }
        }
    }
    unsure > 1
}

/// Reads a log from any stream; `path` names it in messages.
///
/// # Errors
/// When the stream cannot be read.
///
/// # References
/// The sentences are parsed by crate `nmea`. Checksum: the exclusive or of the bytes between `$` and `*`.
pub fn read_from(stream: impl Read, path: &Path) -> Result<TrackFile> {
    let mut lines = BufReader::with_capacity(64 * 1024, Counted::new(stream));
    let mut log = Log::new();
    let mut text = Vec::with_capacity(128);
    let mut line = 0_u64;
    while next_line(&mut lines, &mut text).map_err(|fault| Error::file("read", path, &fault))? {
        line += 1;
        for candidate in candidates(&text) {
            log.take(&candidate, line);
        }
    }
    Ok(log.finish(path, lines.into_inner().finish()))
}

/// Reads one line without its end; false at the end of the stream.
fn next_line(stream: &mut impl BufRead, text: &mut Vec<u8>) -> std::io::Result<bool> {
    text.clear();
    let mut any = false;
    loop {
        let ahead = match stream.fill_buf() {
            Err(fault) if fault.kind() == std::io::ErrorKind::Interrupted => continue,
            other => other?,
        };
        if ahead.is_empty() {
            return Ok(any);
        }
        any = true;
        let end = memchr::memchr2(b'\n', b'\r', ahead);
        let room = LONGEST_LINE - text.len();
        let part = &ahead[..end.unwrap_or(ahead.len())];
        text.extend_from_slice(&part[..part.len().min(room)]);
        let used = end.map_or(ahead.len(), |end| end + 1);
        // \r\n is one end
        let paired =
            end.is_some_and(|end| ahead[end] == b'\r' && ahead.get(end + 1) == Some(&b'\n'));
        stream.consume(used + usize::from(paired));
        if end.is_some() {
            return Ok(true);
        }
    }
}
