//! Decodes the characters of a file, counts lines and computes its hash as a stream. Buffers a few
//! dozen kilobytes and limits the length of tokens passed to the XML reader. Layer: `ingest`.

mod lines;
mod passing;
mod refill;

use std::io::{self, BufRead, Read};

use encoding_rs::{Decoder, UTF_8};
use memchr::memmem::Finder;

use self::lines::Lines;
use super::encoding::{self, HEAD};

/// Bytes read at once.
const CHUNK: usize = 64 * 1024;

/// The longest tag, comment or run of text that the XML reader is given in one piece.
pub(in crate::ingest::track) const LONGEST_TOKEN: usize = 64 * 1024;

/// A file as a stream of valid UTF-8.
pub(in crate::ingest::track) struct Source<R> {
    raw: R,
    hasher: blake3::Hasher,
    bytes: u64,
    head: Vec<u8>,
    decoding: Decoding,
    unknown_encoding: Option<String>,
    utf32: bool,
    foreign: Foreign,
    /// `at..end` is text to be read, `end..filled` the beginning of a character cut by the chunk.
    text: Vec<u8>,
    at: usize,
    end: usize,
    filled: usize,
    lines: Lines,
    allowance: usize,
    overlong: bool,
    end_of_extensions: Finder<'static>,
}

enum Decoding {
    Utf8,
    Other { decoder: Decoder, waiting: Vec<u8>, from: usize, last: bool, done: bool },
}

/// Bytes that are no characters of the file's encoding.
#[derive(Clone, Copy, Default)]
pub(in crate::ingest::track) struct Foreign {
    /// How many.
    pub(in crate::ingest::track) count: u64,
    /// The line of the first.
    pub(in crate::ingest::track) line: u64,
}

impl<R: Read> Source<R> {
    /// Opens the stream: reads the head and determines the encoding.
    pub(in crate::ingest::track) fn new(mut raw: R) -> io::Result<Self> {
        let mut head = vec![0; HEAD];
        let mut filled = 0;
        while filled < HEAD {
            match read(&mut raw, &mut head[filled..])? {
                0 => break,
                count => filled += count,
            }
        }
        head.truncate(filled);
        let mut hasher = blake3::Hasher::new();
        hasher.update(&head);
        let detected = encoding::detect(&head);
        let utf32 = detected.is_none();
        let (encoding, mark, unknown_encoding) =
            detected.map_or((UTF_8, 0, None), |found| (found.encoding, found.mark, found.unknown));
        let mut source = Self {
            raw,
            hasher,
            bytes: filled as u64,
            decoding: Decoding::Utf8,
            unknown_encoding,
            utf32,
            foreign: Foreign::default(),
            text: vec![0; CHUNK],
            at: 0,
            end: 0,
            filled: 0,
            lines: Lines::default(),
            allowance: LONGEST_TOKEN,
            overlong: false,
            end_of_extensions: Finder::new(b"</extensions>"),
            head,
        };
        let start = &source.head[mark.min(filled)..];
        if encoding == UTF_8 {
            source.text[..start.len()].copy_from_slice(start);
            source.filled = start.len();
            source.accept_utf8(filled < HEAD);
        } else {
            source.decoding = Decoding::Other {
                decoder: encoding.new_decoder_without_bom_handling(),
                waiting: start.to_vec(),
                from: 0,
                last: false,
                done: false,
            };
        }
        Ok(source)
    }

    /// The first bytes of the file, as they are.
    pub(in crate::ingest::track) fn head(&self) -> &[u8] {
        &self.head
    }

    /// Bytes read so far.
    pub(in crate::ingest::track) fn bytes_read(&self) -> u64 {
        self.bytes
    }

    /// An unknown encoding that the file declares.
    pub(in crate::ingest::track) fn unknown_encoding(&self) -> Option<&str> {
        self.unknown_encoding.as_deref()
    }

    /// Whether the file is in UTF-32, which is not supported.
    pub(in crate::ingest::track) fn is_utf32(&self) -> bool {
        self.utf32
    }

    /// Bytes that were no characters so far.
    pub(in crate::ingest::track) fn foreign(&self) -> Foreign {
        self.foreign
    }

    /// Reads to the end of the file; the hash and the length of the whole.
    pub(in crate::ingest::track) fn finish(mut self) -> io::Result<(String, u64)> {
        loop {
            match read(&mut self.raw, &mut self.text)? {
                0 => return Ok((self.hasher.finalize().to_hex().to_string(), self.bytes)),
                count => {
                    self.hasher.update(&self.text[..count]);
                    self.bytes += count as u64;
                }
            }
        }
    }

    /// The line on which the next character stands, counted from one.
    #[inline]
    pub(in crate::ingest::track) fn line(&mut self) -> u64 {
        self.lines.count(&self.text, self.at);
        self.lines.before + 1
    }

    /// Lets the XML reader have another token.
    #[inline]
    pub(in crate::ingest::track) fn begin_token(&mut self) {
        self.allowance = LONGEST_TOKEN;
        self.overlong = false;
    }

    /// Whether the token was cut because it is too long.
    #[inline]
    pub(in crate::ingest::track) fn is_overlong(&self) -> bool {
        self.overlong
    }

    /// Puts back what was read last.
    pub(in crate::ingest::track) fn put_back(&mut self, read: &[u8]) {
        self.lines.count(&self.text, self.at);
        self.lines.take_back(read);
        let mut text = Vec::with_capacity(CHUNK.max(read.len() + self.filled - self.at));
        text.extend_from_slice(read);
        text.extend_from_slice(&self.text[self.at..self.filled]);
        self.end = read.len() + self.end - self.at;
        self.filled = text.len();
        self.at = 0;
        text.resize(CHUNK.max(self.filled), 0);
        self.text = text;
    }
}

fn read(raw: &mut impl Read, into: &mut [u8]) -> io::Result<usize> {
    loop {
        match raw.read(into) {
            Err(fault) if fault.kind() == io::ErrorKind::Interrupted => {}
            other => return other,
        }
    }
}

impl<R: Read> Read for Source<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let available = self.fill_buf()?;
        let count = available.len().min(into.len());
        into[..count].copy_from_slice(&available[..count]);
        self.consume(count);
        Ok(count)
    }
}

impl<R: Read> BufRead for Source<R> {
    #[inline]
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.at == self.end {
            self.refill()?;
        }
        let mut stop = self.end;
        if stop - self.at > self.allowance {
            stop = self.at + self.allowance;
            while stop > self.at && self.text[stop] & 0xC0 == 0x80 {
                stop -= 1;
            }
            self.overlong |= stop == self.at;
        }
        Ok(&self.text[self.at..stop])
    }

    #[inline]
    fn consume(&mut self, count: usize) {
        self.at += count;
        self.allowance = self.allowance.saturating_sub(count);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gives one byte at a time, as a slow card reader may.
    struct Trickle<'a>(&'a [u8]);

    impl Read for Trickle<'_> {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            let Some((first, rest)) = self.0.split_first() else { return Ok(0) };
            into[0] = *first;
            self.0 = rest;
            Ok(1)
        }
    }

    fn decoded(bytes: &[u8]) -> (String, Foreign) {
        let mut source = Source::new(bytes).unwrap();
        let mut text = Vec::new();
        loop {
            source.begin_token();
            let part = source.fill_buf().unwrap().to_vec();
            if part.is_empty() {
                break;
            }
            source.consume(part.len());
            text.extend(part);
        }
        (String::from_utf8(text).unwrap(), source.foreign())
    }

    #[test]
    fn every_encoding_becomes_the_same_text() {
        let text = format!("<?xml version='1.0'?><a>{}é ü 茸 🍄\n</a>", "Ruß ".repeat(50_000));
        let sixteen = |to: fn(u16) -> [u8; 2], mark: &[u8]| {
            let units = text.encode_utf16().flat_map(to);
            mark.iter().copied().chain(units).collect::<Vec<u8>>()
        };
        assert_eq!(decoded(text.as_bytes()).0, text);
        assert_eq!(decoded(&[b"\xEF\xBB\xBF", text.as_bytes()].concat()).0, text);
        assert_eq!(decoded(&sixteen(u16::to_le_bytes, b"\xFF\xFE")).0, text);
        assert_eq!(decoded(&sixteen(u16::to_be_bytes, b"\xFE\xFF")).0, text);
        assert_eq!(decoded(&sixteen(u16::to_le_bytes, b"")).0, text);
        assert_eq!(decoded(&sixteen(u16::to_be_bytes, b"")).0, text);
    }

    #[test]
    fn bytes_that_are_not_utf8_are_taken_as_windows_1252_and_reported() {
        let mut bytes = b"<a>\n\n".to_vec();
        bytes.extend(b"x".repeat(CHUNK - 6));
        bytes.extend("é".as_bytes());
        bytes.extend(b"\nR\xFCcken \x80");
        let (text, foreign) = decoded(&bytes);
        assert!(text.ends_with("é\nRücken €"), "{}", &text[text.len() - 20..]);
        assert_eq!((foreign.count, foreign.line), (2, 4));
    }

    #[test]
    fn a_character_cut_by_the_end_of_the_file_does_not_hang() {
        assert_eq!(decoded(b"ab\xC3").0, "abÃ");
        assert_eq!(decoded(b"\xFF\xFEa\0\xD8").0, "a\u{FFFD}");
        assert_eq!(decoded(b"").0, "");
    }

    #[test]
    fn slow_reader_gives_the_same_result() {
        let text = "é\r\nü\r茸".repeat(300);
        let mut source = Source::new(Trickle(text.as_bytes())).unwrap();
        let mut read = String::new();
        while let Ok(part) = source.fill_buf() {
            if part.is_empty() {
                break;
            }
            read.push_str(std::str::from_utf8(part).unwrap());
            let count = part.len();
            source.consume(count);
            source.begin_token();
        }
        assert_eq!(read, text);
        assert_eq!(source.line(), 601);
        let (hash, bytes) = source.finish().unwrap();
        assert_eq!(hash, blake3::hash(text.as_bytes()).to_hex().to_string());
        assert_eq!(bytes, text.len() as u64);
    }

    #[test]
    fn a_token_is_cut_at_a_whole_character() {
        let text = "茸".repeat(LONGEST_TOKEN);
        let mut source = Source::new(text.as_bytes()).unwrap();
        let mut given = 0;
        loop {
            let part = source.fill_buf().unwrap();
            assert!(std::str::from_utf8(part).is_ok());
            let count = part.len();
            source.consume(count);
            given += count;
            if count == 0 {
                break;
            }
        }
        assert!(source.is_overlong());
        assert_eq!(given, LONGEST_TOKEN / 3 * 3);
    }

    #[test]
    fn what_is_put_back_comes_again_on_its_own_line() {
        let mut source = Source::new(&b"a\nb\nc\nd"[..]).unwrap();
        source.consume(6);
        assert_eq!(source.line(), 4);
        source.put_back(b"b\nc\n");
        assert_eq!(source.line(), 2);
        assert_eq!(source.fill_buf().unwrap(), b"b\nc\nd");
    }
}
