//! Recognises files that trug wrote by their content, from a list of lengths and BLAKE3 hashes in the
//! user's cache folder. The list contains no names and no places. Layer: `commands`.

use std::collections::HashMap;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::{LazyLock, Mutex};

use blake3::{Hash, Hasher};

#[cfg(not(test))]
use crate::earth::cache;

/// Length and hash of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::commands) struct Receipt {
    pub(super) length: u64,
    pub(super) hash: Hash,
}

impl Receipt {
    fn line(self) -> String {
        format!("{} {}", self.length, self.hash.to_hex())
    }
}

#[cfg(not(test))]
pub(super) fn list() -> Option<PathBuf> {
    Some(cache::folder()?.join("trug").join("written"))
}

/// Tests use a list of their own.
#[cfg(test)]
#[allow(clippy::unnecessary_wraps, reason = "the signature of the function it stands for")]
pub(super) fn list() -> Option<PathBuf> {
    static FOLDER: std::sync::OnceLock<tempfile::TempDir> = std::sync::OnceLock::new();
    let folder = FOLDER.get_or_init(|| tempfile::tempdir().unwrap());
    Some(folder.path().join("trug").join("written"))
}

/// The hashes on a list, by the length of the file.
#[derive(Default)]
struct Known(HashMap<u64, Vec<Hash>>);

impl Known {
    /// Damaged lines are ignored.
    fn read(list: &Path) -> Self {
        let bytes = fs::read(list).unwrap_or_default();
        let mut known = Self::default();
        for line in bytes.split(|byte| *byte == b'\n') {
            let fields = std::str::from_utf8(line).ok().and_then(|line| line.split_once(' '));
            let receipt = fields.and_then(|(length, hash)| {
                Some(Receipt { length: length.parse().ok()?, hash: Hash::from_hex(hash).ok()? })
            });
            if let Some(receipt) = receipt {
                known.add(receipt);
            }
        }
        known
    }

    fn add(&mut self, receipt: Receipt) {
        self.0.entry(receipt.length).or_default().push(receipt.hash);
    }

    fn holds(&self, receipt: Receipt) -> bool {
        self.0.get(&receipt.length).is_some_and(|hashes| hashes.contains(&receipt.hash))
    }

    /// Whether the content of a file is on the list; it is read only if its length is.
    fn knows(&self, file: File, length: u64) -> bool {
        self.0.contains_key(&length)
            && hash(file).is_ok_and(|hash| self.holds(Receipt { length, hash }))
    }
}

/// The list as read by this process, with what it has written since.
static KNOWN: LazyLock<Mutex<Known>> =
    LazyLock::new(|| Mutex::new(list().map_or_else(Known::default, |list| Known::read(&list))));

/// Records a file before it is moved into place. If that fails, the file later counts as not written
/// by trug, which is the safe side.
pub(super) fn add(receipt: Receipt) {
    let Ok(mut known) = KNOWN.lock() else { return };
    if !known.holds(receipt) {
        known.add(receipt);
        let _ = list().map_or(Ok(()), |list| add_to(&list, receipt));
    }
}

fn add_to(list: &Path, receipt: Receipt) -> io::Result<()> {
    if let Some(folder) = list.parent() {
        fs::create_dir_all(folder)?;
    }
    // one short append: concurrent writers do not mix their lines
    let line = format!("{}\n", receipt.line());
    OpenOptions::new().append(true).create(true).open(list)?.write_all(line.as_bytes())
}

/// Whether trug wrote a file of exactly this content.
pub(super) fn knows(file: File, length: u64) -> bool {
    KNOWN.lock().is_ok_and(|known| known.knows(file, length))
}

/// The hash of a whole file, read in pieces.
pub(super) fn hash(mut file: impl Read) -> io::Result<Hash> {
    let mut hasher = Hasher::new();
    hasher.update_reader(&mut file)?;
    Ok(hasher.finalize())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_is_recognised_by_its_complete_content() {
        let folder = tempfile::tempdir().unwrap();
        let list = folder.path().join("cache/trug/written");
        let file = folder.path().join("map.svg");
        let known = |text: &str| {
            fs::write(&file, text).unwrap();
            Known::read(&list).knows(File::open(&file).unwrap(), text.len() as u64)
        };
        assert!(!known("<svg/>"), "no list yet");
        let receipt = Receipt { length: 6, hash: blake3::hash(b"<svg/>") };
        add_to(&list, receipt).unwrap();
        add_to(&list, Receipt { length: 60, ..receipt }).unwrap();
        assert!(known("<svg/>"));
        assert!(!known("<svg />"));
        assert!(!known("<SVG/>"));
        fs::write(&list, format!("6 \u{fffd}\nno number\n{}\n6 cut", receipt.line())).unwrap();
        assert!(known("<svg/>"), "damaged lines spoil no others");
    }
}
