//! Counts and hashes the bytes of a stream while they are read. Layer: `ingest`.

use std::io::{self, Read};

/// A stream and the hash of everything that was read of it.
pub(super) struct Counted<R> {
    raw: R,
    hasher: blake3::Hasher,
    bytes: u64,
}

impl<R: Read> Counted<R> {
    /// Nothing read yet.
    pub(super) fn new(raw: R) -> Self {
        Self { raw, hasher: blake3::Hasher::new(), bytes: 0 }
    }

    /// BLAKE3 in hexadecimal, and the number of bytes.
    pub(super) fn finish(self) -> (String, u64) {
        (self.hasher.finalize().to_hex().to_string(), self.bytes)
    }
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.raw.read(into)?;
        self.hasher.update(&into[..count]);
        self.bytes += count as u64;
        Ok(count)
    }
}
