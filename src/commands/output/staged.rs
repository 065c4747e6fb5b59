//! Moves finished files into place, one atomic step each, and reverses the steps if one of several
//! fails. Layer: `commands`.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use blake3::Hasher;

use super::journal::Journal;
use super::receipts::{self, Receipt};
use super::session::{self, Session};
use super::{Overwrite, Target};
use crate::error::{Error, Result};

/// A temporary file that is being written: it becomes [`Staged`] or is removed.
#[derive(Debug)]
pub(in crate::commands) struct Unfinished {
    file: BufWriter<File>,
    beside: Beside,
    target: Target,
    hasher: Hasher,
    length: u64,
}

/// A temporary file beside its target, removed on drop.
#[derive(Debug)]
struct Beside {
    path: Option<PathBuf>,
    session: Arc<Session>,
}

impl Beside {
    /// The name under which the previous file is kept.
    fn of_before(&self, path: &Path) -> Self {
        let path = Some(path.with_extension(session::BEFORE));
        Self { path, session: Arc::clone(&self.session) }
    }
}

impl Drop for Beside {
    fn drop(&mut self) {
        if let Some(path) = &self.path {
            // removal may fail for the same reason as the write
            let _ = fs::remove_file(path);
        }
    }
}

impl Unfinished {
    /// Begins a file for the path.
    ///
    /// # Errors
    /// As [`Target::of`], and when the disk refuses.
    pub(in crate::commands) fn at(path: &Path, overwrite: Overwrite) -> Result<Self> {
        Self::in_place_of(Target::of(path, overwrite)?)
    }

    /// Begins a file for a checked target.
    ///
    /// # Errors
    /// When the disk reports an error.
    pub(in crate::commands) fn in_place_of(target: Target) -> Result<Self> {
        let reported = |error: io::Error| Error::file("write", &target.shown, &error);
        let (beside, file) = create_beside(&target.place).map_err(reported)?;
        if let Some(permissions) = &target.replaces {
            file.set_permissions(permissions.clone()).map_err(reported)?;
        }
        let (file, hasher) = (BufWriter::new(file), Hasher::new());
        Ok(Self { file, beside, target, hasher, length: 0 })
    }

    /// Writes the whole content.
    ///
    /// # Errors
    /// When the disk reports an error.
    pub(in crate::commands) fn whole(mut self, bytes: &[u8]) -> Result<Staged> {
        match self.write_all(bytes) {
            Ok(()) => self.end(),
            Err(error) => Err(Error::file("write", &self.target.shown, &error)),
        }
    }

    /// Ends the file. It is on disk then, but not yet in place.
    ///
    /// # Errors
    /// When the disk reports an error.
    pub(in crate::commands) fn end(mut self) -> Result<Staged> {
        let ended = self.file.flush().and_then(|()| self.file.get_ref().sync_all());
        ended.map_err(|error| Error::file("write", &self.target.shown, &error))?;
        let receipt = Receipt { length: self.length, hash: self.hasher.finalize() };
        Ok(Staged { beside: self.beside, target: self.target, receipt })
    }
}

impl Write for Unfinished {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let count = self.file.write(bytes)?;
        self.hasher.update(&bytes[..count]);
        self.length += count as u64;
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// A new file in the same folder, with a name that imports ignore.
fn create_beside(place: &Path) -> io::Result<(Beside, File)> {
    if let Some(folder) = place.parent() {
        session::remove_stale(folder);
    }
    let session = Session::current();
    loop {
        let path = session.beside(place);
        match OpenOptions::new().write(true).create_new(true).open(&path) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            created => {
                let file = created?;
                return Ok((Beside { path: Some(path), session }, file));
            }
        }
    }
}

/// A complete file that is not yet in place.
#[derive(Debug)]
pub(in crate::commands) struct Staged {
    beside: Beside,
    target: Target,
    receipt: Receipt,
}

impl Staged {
    /// The target, links resolved.
    pub(in crate::commands) fn place(&self) -> &Path {
        &self.target.place
    }

    /// Length and hash of the content.
    pub(in crate::commands) fn receipt(&self) -> Receipt {
        self.receipt
    }

    /// Opens the file for reading before it is in place.
    ///
    /// # Errors
    /// When the disk reports an error.
    pub(in crate::commands) fn open(&self) -> io::Result<File> {
        let path = self.beside.path.as_ref();
        File::open(path.ok_or_else(|| io::Error::other("the file is already in place"))?)
    }

    /// Moves the file into place.
    fn put(mut self) -> Result<Put> {
        receipts::add(self.receipt);
        let reported = |error: io::Error| Error::file("write", &self.target.shown, &error);
        let place = self.target.place.clone();
        let Some(beside) = self.beside.path.clone() else { return Ok(Put { place, before: None }) };
        if self.target.replaces.is_none() {
            put_where_nothing_is(&beside, &place).map_err(reported)?;
            return Ok(Put { place, before: Some(Before::Nothing) });
        }
        let kept = self.beside.of_before(&beside);
        let linked = kept.path.as_ref().is_some_and(|kept| fs::hard_link(&place, kept).is_ok());
        let before = linked.then_some(kept);
        fs::rename(&beside, &place).map_err(reported)?;
        self.beside.path = None;
        Ok(Put { place, before: before.map(Before::File) })
    }
}

/// Does not overwrite a file created in the meantime, where the file system supports that.
fn put_where_nothing_is(beside: &Path, place: &Path) -> io::Result<()> {
    match fs::hard_link(beside, place) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(io::Error::new(
            io::ErrorKind::InvalidInput,
            "another program created it in the meantime",
        )),
        // a disk without hard links
        Err(_) => fs::rename(beside, place),
    }
}

/// A file in place, and the file it replaced.
struct Put {
    place: PathBuf,
    /// `None` where the disk could not keep it.
    before: Option<Before>,
}

enum Before {
    Nothing,
    File(Beside),
}

impl Put {
    /// Restores the previous file.
    fn take_back(self) {
        match self.before {
            Some(Before::Nothing) => drop(fs::remove_file(&self.place)),
            Some(Before::File(mut kept)) => {
                if let Some(path) = &kept.path
                    && fs::rename(path, &self.place).is_ok()
                {
                    kept.path = None;
                }
            }
            None => {}
        }
    }
}

/// Moves all into place, or none.
///
/// # Errors
/// When the disk reports an error for one of them.
pub(in crate::commands) fn place_all(files: Vec<Staged>) -> Result<()> {
    let planned = planned(&files);
    let mut done: Vec<Put> = Vec::with_capacity(files.len());
    for file in files {
        match file.put() {
            Ok(put) => done.push(put),
            Err(error) => {
                done.into_iter().rev().for_each(Put::take_back);
                planned.inspect(|session| session.settled());
                return Err(error);
            }
        }
    }
    planned.inspect(|session| session.settled());
    done.iter().filter_map(|put| put.place.parent()).for_each(settle);
    Ok(())
}

/// Writes the journal of several moves, so that the next command can complete them after a kill. One move needs none.
fn planned(files: &[Staged]) -> Option<Arc<Session>> {
    let session = &files.first().filter(|_| files.len() > 1)?.beside.session;
    let mut journal = Journal::default();
    for file in files {
        let from = file.beside.path.as_ref()?;
        if !journal.add(from, &file.target.place, file.receipt, file.target.replaces.is_some()) {
            return None;
        }
    }
    session.plan(&journal);
    Some(Arc::clone(session))
}

/// Syncs the folder, where the file system supports that.
fn settle(folder: &Path) {
    if cfg!(unix) {
        let _ = File::open(folder).and_then(|folder| folder.sync_all());
    }
}
