//! Decodes the next chunk of the file to characters, hashes it, and replaces invalid bytes.
//! Layer: `ingest`.

use std::io::{self, Read};

use encoding_rs::{CoderResult, WINDOWS_1252};
use memchr::memchr_iter;

use super::{CHUNK, Decoding, Source, read};

impl<R: Read> Source<R> {
    #[cold]
    pub(super) fn refill(&mut self) -> io::Result<()> {
        self.lines.count(&self.text, self.end);
        self.lines.counted = 0;
        self.text.copy_within(self.end..self.filled, 0);
        self.filled -= self.end;
        self.at = 0;
        self.end = 0;
        if self.text.len() > CHUNK {
            self.text.truncate(CHUNK);
        }
        match self.decoding {
            Decoding::Utf8 => self.refill_utf8(),
            Decoding::Other { .. } => self.refill_other(),
        }
    }

    fn refill_utf8(&mut self) -> io::Result<()> {
        while self.end == 0 {
            let count = read(&mut self.raw, &mut self.text[self.filled..])?;
            self.hasher.update(&self.text[self.filled..self.filled + count]);
            self.bytes += count as u64;
            self.filled += count;
            self.accept_utf8(count == 0);
            if count == 0 {
                break;
            }
        }
        Ok(())
    }

    /// Determines how much of `..filled` is text.
    pub(super) fn accept_utf8(&mut self, last: bool) {
        match std::str::from_utf8(&self.text[..self.filled]) {
            Ok(_) => self.end = self.filled,
            Err(fault) if fault.error_len().is_none() && !last => self.end = fault.valid_up_to(),
            Err(_) => self.mend(last),
        }
    }

    /// Decodes bytes that are not UTF-8 as windows-1252, the most common legacy encoding.
    fn mend(&mut self, last: bool) {
        let mut mended = Vec::with_capacity(self.filled + 1024);
        let mut cut: &[u8] = &[];
        let mut chunks = self.text[..self.filled].utf8_chunks().peekable();
        while let Some(chunk) = chunks.next() {
            mended.extend_from_slice(chunk.valid().as_bytes());
            let invalid = chunk.invalid();
            let unfinished =
                std::str::from_utf8(invalid).is_err_and(|fault| fault.error_len().is_none());
            if unfinished && !last && chunks.peek().is_none() {
                cut = invalid;
                continue;
            }
            if self.foreign.count == 0 && !invalid.is_empty() {
                let lines = memchr_iter(b'\n', &mended).count() as u64;
                self.foreign.line = self.lines.before + lines + 1;
            }
            self.foreign.count += invalid.len() as u64;
            let (text, _) = WINDOWS_1252.decode_without_bom_handling(invalid);
            mended.extend_from_slice(text.as_bytes());
        }
        self.end = mended.len();
        mended.extend_from_slice(cut);
        self.filled = mended.len();
        mended.resize(CHUNK.max(self.filled), 0);
        self.text = mended;
    }

    fn refill_other(&mut self) -> io::Result<()> {
        let Decoding::Other { decoder, waiting, from, last, done } = &mut self.decoding else {
            return Ok(());
        };
        while self.end == 0 && !*done {
            if *from == waiting.len() && !*last {
                waiting.resize(CHUNK, 0);
                let count = read(&mut self.raw, waiting)?;
                waiting.truncate(count);
                self.hasher.update(waiting);
                self.bytes += count as u64;
                *from = 0;
                *last = count == 0;
            }
            let (result, taken, written, faulty) =
                decoder.decode_to_utf8(&waiting[*from..], &mut self.text, *last);
            *from += taken;
            self.end = written;
            self.filled = written;
            *done = *last && result == CoderResult::InputEmpty;
            if faulty {
                if self.foreign.count == 0 {
                    let before =
                        self.text[..written].windows(3).take_while(|w| w != b"\xEF\xBF\xBD");
                    let lines = before.filter(|w| w[0] == b'\n').count() as u64;
                    self.foreign.line = self.lines.before + lines + 1;
                }
                self.foreign.count += 1;
            }
        }
        Ok(())
    }
}
