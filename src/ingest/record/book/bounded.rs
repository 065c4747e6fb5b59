//! Limits what is read from a compressed part: its length, and the length of a piece of XML without
//! markup, so that a small file cannot expand in memory. Layer: `ingest`.

use std::io::{self, Read};

use memchr::memrchr2;

/// A text or a tag is not longer, bytes: a cell holds at most 32,767 characters.
const LONGEST_PIECE: u64 = 1024 * 1024;

/// A reader that fails beyond its limits.
pub(super) struct Bounded<R> {
    inner: R,
    left: u64,
    limit: u64,
    piece: u64,
}

impl<R> Bounded<R> {
    /// `left` of a limit may be read.
    pub(super) fn new(inner: R, left: u64, limit: u64) -> Self {
        Self { inner, left, limit, piece: 0 }
    }
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(buffer)?;
        let length = read as u64;
        if length > self.left {
            let limit = self.limit >> 20;
            return Err(io::Error::other(format!(
                "its content is longer than {limit} MiB when unpacked, which is the limit"
            )));
        }
        self.left -= length;
        match memrchr2(b'<', b'>', &buffer[..read]) {
            Some(at) => self.piece = (read - at) as u64,
            None => self.piece += length,
        }
        if self.piece > LONGEST_PIECE {
            let limit = LONGEST_PIECE >> 10;
            return Err(io::Error::other(format!(
                "a text in it is longer than {limit} KiB, which is the limit"
            )));
        }
        Ok(read)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_parts_and_long_texts_are_refused() {
        let long = "<a>b</a>".repeat(1000);
        let read = |text: &str, limit| {
            io::copy(&mut Bounded::new(text.as_bytes(), limit, limit), &mut io::sink())
        };
        assert_eq!(read(&long, 8000).unwrap(), 8000);
        assert!(read(&long, 7999).is_err());
        let text = format!("<a>{}</a>", "x".repeat(2 << 20));
        assert!(read(&text, u64::MAX).unwrap_err().to_string().contains("1024 KiB"));
    }
}
