//! Counts lines with any line ending, lazily and each byte once. Layer: `ingest`.

use memchr::memchr_iter;

/// Counts lines lazily, each byte once.
#[derive(Default)]
pub(super) struct Lines {
    /// Line ends before `counted`.
    pub(super) before: u64,
    pub(super) counted: usize,
    after_return: bool,
}

impl Lines {
    pub(super) fn count(&mut self, text: &[u8], to: usize) {
        let part = &text[self.counted..to];
        self.before += self.ends_in(part);
        if let Some(&byte) = part.last() {
            self.after_return = byte == b'\r';
        }
        self.counted = to;
    }

    pub(super) fn take_back(&mut self, part: &[u8]) {
        self.after_return = false;
        self.before = self.before.saturating_sub(self.ends_in(part));
        self.counted = 0;
    }

    /// A line ends at `\n`, at `\r\n`, or at a lone `\r`.
    fn ends_in(&self, part: &[u8]) -> u64 {
        let feeds = memchr_iter(b'\n', part).count() as u64;
        let paired = u64::from(self.after_return && part.first() == Some(&b'\n'));
        let returns = memchr_iter(b'\r', part).filter(|&at| part.get(at + 1) != Some(&b'\n'));
        feeds - paired + returns.count() as u64
    }
}
