//! Reads a window on the first 16 KiB of a photograph and the few places further in that its
//! directories refer to. Counts and hashes what it reads; refuses to read more than a header can
//! need. Layer: `ingest`.

use std::io::{self, BufRead, Read, Seek, SeekFrom};

/// What is read at once from the front: enough for the whole header of most photographs.
const FRONT: u64 = 16 * 1024;
/// The smallest read at any other place.
const LEAST: u64 = 256;
/// The largest total that is read.
const MOST: u64 = 4 * 1024 * 1024;

/// The header of one file, read piece by piece.
pub(super) struct Header<R> {
    source: R,
    length: u64,
    windows: Vec<Window>,
    read: u64,
}

struct Window {
    start: u64,
    bytes: Vec<u8>,
}

impl Window {
    fn holds(&self, start: u64, end: u64) -> bool {
        self.start <= start && end <= self.start + self.bytes.len() as u64
    }
}

impl<R: Read + Seek> Header<R> {
    /// Reads the front of a file.
    pub(super) fn open(mut source: R) -> io::Result<Self> {
        let length = source.seek(SeekFrom::End(0))?;
        let mut header = Self { source, length, windows: Vec::new(), read: 0 };
        header.load(0, FRONT.min(length))?;
        Ok(header)
    }

    /// The length of the whole file in bytes.
    pub(super) fn length(&self) -> u64 {
        self.length
    }

    /// How much was read so far, bytes.
    #[cfg(test)]
    pub(super) fn bytes_read(&self) -> u64 {
        self.read
    }

    /// The front that is always read.
    pub(super) fn front(&self) -> &[u8] {
        self.windows.first().map_or(&[], |window| &window.bytes)
    }

    /// Whether the front seems to contain all boxes before the image data of a HEIF file, so that
    /// searching them reads nothing more and the hash of the photograph is unchanged.
    pub(super) fn holds_metadata(&self) -> bool {
        let boxes = super::boxes::metadata_end(self.front());
        boxes.is_some_and(|end| end <= self.front().len() as u64)
    }

    /// The bytes at a place, fewer where the file ends earlier.
    pub(super) fn bytes(&mut self, start: u64, count: u64) -> io::Result<&[u8]> {
        let start = start.min(self.length);
        let end = start.saturating_add(count).min(self.length);
        // files are read forward, so the latest window is the most likely
        let found = self.windows.iter().rposition(|window| window.holds(start, end));
        let index = match found {
            Some(index) => index,
            None => self.load(start, (end - start).max(LEAST).min(self.length - start))?,
        };
        let window = &self.windows[index];
        Ok(&window.bytes[place(start - window.start)..place(end - window.start)])
    }

    fn load(&mut self, start: u64, count: u64) -> io::Result<usize> {
        if self.read + count > MOST {
            return Err(io::Error::new(
                io::ErrorKind::InvalidData,
                format!("its metadata is spread over more than {} MiB", MOST >> 20),
            ));
        }
        self.source.seek(SeekFrom::Start(start))?;
        let mut bytes = vec![0; place(count)];
        self.source.read_exact(&mut bytes)?;
        self.read += count;
        self.windows.push(Window { start, bytes });
        Ok(self.windows.len() - 1)
    }

    /// BLAKE3 of the file's length and of everything that was read, in the order of reading.
    pub(super) fn hash(&self) -> String {
        let mut hasher = blake3::Hasher::new();
        hasher.update(&self.length.to_le_bytes());
        for window in &self.windows {
            hasher.update(&window.bytes);
        }
        hasher.finalize().to_hex().to_string()
    }

    /// The header as a stream, for a reader that wants one.
    pub(super) fn stream(&mut self) -> Stream<'_, R> {
        Stream { header: self, at: 0 }
    }
}

/// Windows are at most [`MOST`] long.
fn place(offset: u64) -> usize {
    usize::try_from(offset).unwrap_or(usize::MAX)
}

/// A [`Header`] as a seekable stream.
pub(super) struct Stream<'h, R> {
    header: &'h mut Header<R>,
    at: u64,
}

impl<R: Read + Seek> BufRead for Stream<'_, R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        let front = self.header.front().len() as u64;
        let ahead = if self.at < front { front - self.at } else { LEAST };
        self.header.bytes(self.at, ahead)
    }

    fn consume(&mut self, count: usize) {
        self.at += count as u64;
    }
}

impl<R: Read + Seek> Read for Stream<'_, R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let ahead = self.fill_buf()?;
        let count = ahead.len().min(into.len());
        into[..count].copy_from_slice(&ahead[..count]);
        self.consume(count);
        Ok(count)
    }
}

impl<R> Seek for Stream<'_, R> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let target = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
            SeekFrom::End(by) => self.header.length.checked_add_signed(by),
        };
        self.at = target.ok_or(io::ErrorKind::InvalidInput)?;
        Ok(self.at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    #[test]
    fn only_the_front_and_what_is_asked_for_is_read() {
        let mut header = Header::open(Cursor::new(vec![7; 4_000_000])).unwrap();
        assert_eq!(header.bytes_read(), 16 * 1024);
        assert_eq!(header.bytes(16_000, 100).unwrap().len(), 100);
        assert_eq!(header.bytes_read(), 16 * 1024);
        assert_eq!(header.bytes(2_000_000, 12).unwrap(), [7; 12]);
        assert_eq!(header.bytes_read(), 16 * 1024 + 256);
    }

    #[test]
    fn reads_past_the_end_are_empty() {
        let mut header = Header::open(Cursor::new(vec![1, 2, 3])).unwrap();
        assert_eq!(header.bytes(2, 10).unwrap(), [3]);
        assert!(header.bytes(u64::MAX, 10).unwrap().is_empty());
        assert!(Header::open(Cursor::new(Vec::new())).unwrap().front().is_empty());
    }

    #[test]
    fn scattered_header_is_abandoned() {
        let mut header = Header::open(Cursor::new(vec![0; 9_000_000])).unwrap();
        let error = header.bytes(20_000, 8_000_000).unwrap_err();
        assert_eq!(error.to_string(), "its metadata is spread over more than 4 MiB");
    }
}
