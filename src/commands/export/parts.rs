//! Streams finds into one file, or into one file for each year. Layer: `commands`.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::commands::output::{self, Overwrite, Staged, Unfinished};
use crate::error::{Error, Result};
use crate::model::KeptFind;
use crate::present::exchange::{Exchange, Form};
use crate::present::sensitive::readback::{self, Statement};
use crate::present::track_line::TrackLine;

/// The name of the one part of a year.
const PART: &str = "part-0.parquet";
/// The prefix of a year's folder, as table engines expect it (common practice).
const YEAR: &str = "year=";

/// A file, or a folder of parts. Finds come in order of their dates, so that one part is open at a time.
pub(super) struct Parts<'a> {
    form: Form,
    out: &'a Path,
    replacing: Overwrite,
    by_year: bool,
    open: Option<Part>,
    written: Vec<PathBuf>,
    staged: Vec<Staged>,
    made: Folders,
}

/// Folders that were made for parts; those that stay empty are removed again.
#[derive(Default)]
struct Folders(Vec<PathBuf>);

impl Folders {
    fn make(&mut self, folder: &Path) -> Result<()> {
        let missing = folder.ancestors().take_while(|folder| !folder.as_os_str().is_empty());
        let missing: Vec<PathBuf> =
            missing.take_while(|folder| !folder.exists()).map(Path::to_owned).collect();
        fs::create_dir_all(folder).map_err(|error| Error::file("make", folder, &error))?;
        self.0.extend(missing.into_iter().rev());
        Ok(())
    }
}

impl Drop for Folders {
    fn drop(&mut self) {
        for folder in self.0.iter().rev() {
            // fails for a folder that is not empty, as intended
            let _ = fs::remove_dir(folder);
        }
    }
}

/// A part that is being written.
struct Part {
    year: Option<i16>,
    path: PathBuf,
    file: Shared,
    writer: Box<dyn Exchange>,
}

impl<'a> Parts<'a> {
    pub(super) fn new(form: Form, out: (&'a Path, Overwrite), by_year: bool) -> Self {
        let (out, replacing) = out;
        Self {
            form,
            out,
            replacing,
            by_year,
            open: None,
            written: Vec::new(),
            staged: Vec::new(),
            made: Folders::default(),
        }
    }

    pub(super) fn find(&mut self, find: &KeptFind) -> Result<()> {
        let year = self.by_year.then(|| find.date.year());
        if self.open.as_ref().is_some_and(|part| part.year != year) {
            self.close()?;
        }
        let part = self.part(year)?;
        let written = part.writer.find(find);
        written.map_err(|error| Error::file("write", &part.path, &error))
    }

    pub(super) fn track(&mut self, track: &TrackLine) -> Result<()> {
        let part = self.part(None)?;
        let written = part.writer.track(track);
        written.map_err(|error| Error::file("write", &part.path, &error))
    }

    /// Ends the last part; nothing is in place yet.
    pub(super) fn end(mut self) -> Result<Drafts> {
        self.close()?;
        let folder = self.by_year.then(|| self.out.to_owned());
        Ok(Drafts {
            form: self.form,
            folder,
            written: self.written,
            staged: self.staged,
            _made: self.made,
        })
    }

    fn part(&mut self, year: Option<i16>) -> Result<&mut Part> {
        let part = match self.open.take() {
            Some(part) => part,
            None => self.begin(year)?,
        };
        Ok(self.open.insert(part))
    }

    fn begin(&mut self, year: Option<i16>) -> Result<Part> {
        let path = match year {
            None => self.out.to_owned(),
            Some(year) => {
                let folder = self.out.join(format!("{YEAR}{year:04}"));
                self.made.make(&folder)?;
                folder.join(PART)
            }
        };
        let file = Shared::new(Unfinished::at(&path, self.replacing)?);
        let writer = self.form.begin(file.clone());
        let writer = writer.map_err(|error| Error::file("write", &path, &error))?;
        Ok(Part { year, path, file, writer })
    }

    fn close(&mut self) -> Result<()> {
        let Some(part) = self.open.take() else { return Ok(()) };
        part.writer.end().map_err(|error| Error::file("write", &part.path, &error))?;
        if let Some(file) = part.file.take() {
            self.staged.push(file.end()?);
        }
        self.written.push(part.path);
        Ok(())
    }
}

/// Parts that are complete but not yet in place.
pub(super) struct Drafts {
    form: Form,
    /// The folder of the parts, where there is one for each year.
    folder: Option<PathBuf>,
    written: Vec<PathBuf>,
    staged: Vec<Staged>,
    /// Removed last, when the parts are in place or removed.
    _made: Folders,
}

impl Drafts {
    /// Reads all parts back and passes each statement on.
    pub(super) fn read_back(&self, each: &mut dyn FnMut(Statement)) -> Result<()> {
        for (staged, path) in self.staged.iter().zip(&self.written) {
            let read = staged.open().and_then(|file| readback::exchange(self.form, file, each));
            read.map_err(|error| Error::file("read back", path, &error))?;
        }
        Ok(())
    }

    /// Puts all parts into place, or none, and lists the parts of an earlier export that are still there.
    pub(super) fn into_place(self) -> Result<Vec<PathBuf>> {
        output::place_all(self.staged)?;
        let Some(folder) = self.folder else { return Ok(Vec::new()) };
        let folders = fs::read_dir(&folder).map_err(|e| Error::file("read", &folder, &e))?;
        let mut stale: Vec<PathBuf> = folders
            .flatten()
            .filter(|entry| entry.file_name().to_string_lossy().starts_with(YEAR))
            .map(|entry| entry.path().join(PART))
            .filter(|part| part.is_file() && !self.written.contains(part))
            .collect();
        stale.sort();
        Ok(stale)
    }
}

/// The file of a writer, to be recovered when the writer has ended.
#[derive(Clone)]
struct Shared(std::sync::Arc<std::sync::Mutex<Option<Unfinished>>>);

impl Shared {
    fn new(file: Unfinished) -> Self {
        Self(std::sync::Arc::new(std::sync::Mutex::new(Some(file))))
    }

    fn take(&self) -> Option<Unfinished> {
        self.0.lock().ok()?.take()
    }

    fn with<T>(&self, act: impl FnOnce(&mut Unfinished) -> io::Result<T>) -> io::Result<T> {
        let gone = || io::Error::other("the file was closed before it was complete");
        let mut file = self.0.lock().map_err(|_| gone())?;
        act(file.as_mut().ok_or_else(gone)?)
    }
}

impl io::Write for Shared {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.with(|file| file.write(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.with(io::Write::flush)
    }
}
