//! Provides the table of reference systems to PROJ: it is embedded in the program and unpacked once
//! into the user's cache folder, since the build folder may be gone. Layer: `earth`.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::{env, process};

use flate2::read::GzDecoder;

use crate::earth::cache;
use crate::error::{Error, Result};

/// The name under which PROJ looks for it.
pub(super) const NAME: &str = "proj.db";

static PACKED: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/proj.db.gz"));

/// A folder that holds the table, unpacked now if it is not there yet.
pub(super) fn folder() -> Result<PathBuf> {
    let name = format!("proj-{}", &blake3::hash(PACKED).to_hex()[..16]);
    let mut refusal = None;
    for base in bases() {
        let folder = base.join("trug").join(&name);
        // PROJ takes its paths as UTF-8 text
        if folder.to_str().is_none() {
            continue;
        }
        match unpack_into(&folder) {
            Ok(()) => return Ok(folder),
            Err(reason) => refusal = refusal.or(Some((folder, reason))),
        }
    }
    let (folder, reason) = refusal
        .unwrap_or_else(|| (env::temp_dir(), io::Error::other("its name is not plain text")));
    Err(Error::file("unpack the table of reference systems into", &folder, &reason)
        .hint("set XDG_CACHE_HOME to a writable folder"))
}

/// The user's cache folder first, then the folder for temporary files.
fn bases() -> Vec<PathBuf> {
    cache::folder().into_iter().chain([env::temp_dir()]).collect()
}

/// Written to a temporary name and then renamed, so that concurrent processes never read a partial
/// file.
fn unpack_into(folder: &Path) -> io::Result<()> {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let finished = folder.join(NAME);
    if fs::metadata(&finished).is_ok_and(|data| data.len() == unpacked_length()) {
        return Ok(());
    }
    fs::create_dir_all(folder)?;
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    let unfinished = folder.join(format!("{NAME}.{}-{count}", process::id()));
    let written = File::create_new(&unfinished)
        .and_then(|mut file| {
            io::copy(&mut GzDecoder::new(PACKED), &mut file)?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&unfinished, &finished));
    if written.is_err() {
        let _ = fs::remove_file(&unfinished);
    }
    written
}

/// The last four bytes of a gzip file (RFC 1952): the length before packing.
fn unpacked_length() -> u64 {
    PACKED.last_chunk::<4>().map_or(0, |length| u64::from(u32::from_le_bytes(*length)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_unpacked_whole_by_several_at_once_and_repaired_when_cut() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("a/b");
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| unpack_into(&folder).unwrap());
            }
        });
        let files = || fs::read_dir(&folder).unwrap().count();
        assert_eq!(files(), 1);
        let whole = fs::read(folder.join(NAME)).unwrap();
        assert_eq!(whole.len() as u64, unpacked_length());
        fs::write(folder.join(NAME), b"cut").unwrap();
        unpack_into(&folder).unwrap();
        assert!(fs::read(folder.join(NAME)).unwrap() == whole);
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_an_error_not_a_panic() {
        let file = tempfile::NamedTempFile::new().unwrap();
        assert!(unpack_into(&file.path().join("x")).is_err());
    }
}
