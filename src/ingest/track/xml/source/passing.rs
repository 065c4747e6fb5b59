//! Handles input that does not need the XML reader: white space, plain values, plain blocks of
//! extensions, and tokens of unbounded length. Layer: `ingest`.

use std::io::{self, Read};

use memchr::{memchr, memchr_iter, memchr2};

use super::Source;

/// The longest value, with its end tag, that is consumed at once.
const LONGEST_VALUE: usize = 256;

/// The longest block of extensions that is skipped at once.
const LONGEST_BLOCK: usize = 1024;

impl<R: Read> Source<R> {
    /// Skips buffered white space.
    #[inline]
    pub(in crate::ingest::track) fn skip_space(&mut self) {
        let blank = |byte: &u8| matches!(byte, b' ' | b'\n' | b'\r' | b'\t');
        while self.text[..self.end].get(self.at).is_some_and(blank) {
            self.at += 1;
        }
    }

    /// After the start tag of `name`: where plain text and the end tag follow, consumes both and
    /// returns the text.
    #[inline]
    pub(in crate::ingest::track) fn take_plain_value(&mut self, name: &str) -> Option<&str> {
        let ahead = &self.text[self.at..self.end.min(self.at + LONGEST_VALUE)];
        let length = memchr2(b'<', b'&', ahead)?;
        let end_tag = ahead[length..].strip_prefix(b"</")?.strip_prefix(name.as_bytes())?;
        let (b'>', _) = end_tag.split_first()? else { return None };
        let value = std::str::from_utf8(&ahead[..length]).ok()?;
        self.at += length + name.len() + 3;
        Some(value)
    }

    /// After `<extensions>`: skips a short block of plain tags up to its `</extensions>`, which is
    /// left to be read. Consumes nothing when the block contains anything that could end or hide it
    /// in another way: a comment, another such block, a point.
    pub(in crate::ingest::track) fn skip_plain_extensions(&mut self) {
        let ahead = &self.text[self.at..self.end.min(self.at + LONGEST_BLOCK)];
        let Some(length) = self.end_of_extensions.find(ahead) else { return };
        let block = &ahead[..length];
        let plain = |place: usize| {
            let name = &block[place + 1..];
            let name = name.strip_prefix(b"/").unwrap_or(name);
            name.first().is_some_and(u8::is_ascii_alphabetic)
                && ![&b"extensions"[..], b"trk", b"gpx"].iter().any(|own| name.starts_with(own))
        };
        if memchr_iter(b'<', block).all(plain) {
            self.at += length;
        }
    }

    /// Skips everything up to and including the first byte at which `ends` is true; false at the
    /// end of the file.
    pub(in crate::ingest::track) fn skip_past(
        &mut self,
        mut ends: impl FnMut(u8) -> bool,
    ) -> io::Result<bool> {
        loop {
            if self.at == self.end {
                self.refill()?;
            }
            if self.at == self.end {
                return Ok(false);
            }
            if let Some(found) = self.text[self.at..self.end].iter().position(|&byte| ends(byte)) {
                self.at += found + 1;
                return Ok(true);
            }
            self.at = self.end;
        }
    }

    /// Skips everything up to the next `<`; false at the end of the file.
    pub(in crate::ingest::track) fn skip_to_markup(&mut self) -> io::Result<bool> {
        loop {
            if self.at == self.end {
                self.refill()?;
            }
            if self.at == self.end {
                return Ok(false);
            }
            if let Some(found) = memchr(b'<', &self.text[self.at..self.end]) {
                self.at += found;
                return Ok(true);
            }
            self.at = self.end;
        }
    }
}
