//! Where do finds go that are written one after another: into one file, or into one for each year? Layer:
//! `commands`.

use std::fs::{self, File};
use std::io::{self, BufWriter};
use std::path::{Path, PathBuf};

use crate::commands::output::Unfinished;
use crate::error::{Error, Result};
use crate::model::KeptFind;
use crate::present::exchange::{Exchange, Form};
use crate::present::sensitive::readback::{self, Statement};
use crate::present::way::Way;

/// The name of the one part of a year.
const PART: &str = "part-0.parquet";
/// What the folder of a year begins with, as engines for large tables want it (common practice).
const YEAR: &str = "year=";

/// A file, or a folder of parts. Finds come in order of their dates, so that one part is open at a time.
pub(super) struct Parts<'a> {
    form: Form,
    out: &'a Path,
    by_year: bool,
    open: Option<Part>,
    written: Vec<Draft>,
}

/// A part on its way.
struct Part {
    year: Option<i16>,
    draft: Draft,
    writer: Box<dyn Exchange>,
}

impl<'a> Parts<'a> {
    pub(super) fn new(form: Form, out: &'a Path, by_year: bool) -> Self {
        Self { form, out, by_year, open: None, written: Vec::new() }
    }

    pub(super) fn find(&mut self, find: &KeptFind) -> Result<()> {
        let year = self.by_year.then(|| find.date.year());
        if self.open.as_ref().is_some_and(|part| part.year != year) {
            self.close()?;
        }
        let part = self.part(year)?;
        let written = part.writer.find(find);
        written.map_err(|error| Error::file("write", &part.draft.path, &error))
    }

    pub(super) fn way(&mut self, way: &Way) -> Result<()> {
        let part = self.part(None)?;
        let written = part.writer.way(way);
        written.map_err(|error| Error::file("write", &part.draft.path, &error))
    }

    /// Ends the last part; nothing is in its place yet.
    pub(super) fn end(mut self) -> Result<Drafts> {
        self.close()?;
        let folder = self.by_year.then(|| self.out.to_owned());
        Ok(Drafts { form: self.form, folder, parts: self.written })
    }

    fn part(&mut self, year: Option<i16>) -> Result<&mut Part> {
        let part = match self.open.take() {
            Some(part) => part,
            None => self.begin(year)?,
        };
        Ok(self.open.insert(part))
    }

    fn begin(&self, year: Option<i16>) -> Result<Part> {
        let path = match year {
            None => self.out.to_owned(),
            Some(year) => {
                let folder = self.out.join(format!("{YEAR}{year:04}"));
                fs::create_dir_all(&folder).map_err(|e| Error::file("make", &folder, &e))?;
                folder.join(PART)
            }
        };
        let draft = Draft::of(path)?;
        let writer = draft.writer().and_then(|file| self.form.begin(file));
        let writer = writer.map_err(|error| Error::file("write", &draft.path, &error))?;
        Ok(Part { year, draft, writer })
    }

    fn close(&mut self) -> Result<()> {
        let Some(part) = self.open.take() else { return Ok(()) };
        part.writer.end().map_err(|error| Error::file("write", &part.draft.path, &error))?;
        self.written.push(part.draft);
        Ok(())
    }
}

/// Parts that are written whole, but not yet in their places.
pub(super) struct Drafts {
    form: Form,
    /// The folder of the parts, where there is one for each year.
    folder: Option<PathBuf>,
    parts: Vec<Draft>,
}

impl Drafts {
    /// Reads all parts back and hands on what they say.
    pub(super) fn read_back(&self, each: &mut dyn FnMut(Statement)) -> Result<()> {
        for draft in &self.parts {
            let file = File::open(&draft.beside);
            let read = file.and_then(|file| readback::exchange(self.form, file, each));
            read.map_err(|error| Error::file("read back", &draft.path, &error))?;
        }
        Ok(())
    }

    /// Puts all parts into place and tells which parts of an earlier export are still there.
    pub(super) fn into_place(self) -> Result<Vec<PathBuf>> {
        let mut written = Vec::new();
        for draft in self.parts {
            written.push(draft.into_place()?);
        }
        let Some(folder) = self.folder else { return Ok(Vec::new()) };
        let folders = fs::read_dir(&folder).map_err(|e| Error::file("read", &folder, &e))?;
        let mut stale: Vec<PathBuf> = folders
            .flatten()
            .filter(|entry| entry.file_name().to_string_lossy().starts_with(YEAR))
            .map(|entry| entry.path().join(PART))
            .filter(|part| part.is_file() && !written.contains(part))
            .collect();
        stale.sort();
        Ok(stale)
    }
}

/// One part beside its place, until it was read back; gone again where it was not put there.
struct Draft {
    path: PathBuf,
    beside: PathBuf,
    /// Takes the place, which it was allowed to before anything was written.
    place: Option<Unfinished>,
}

impl Draft {
    fn of(path: PathBuf) -> Result<Self> {
        let place = Some(Unfinished::at(&path)?);
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let beside = path.with_file_name(format!(".{name}.{}.draft", std::process::id()));
        Ok(Self { path, beside, place })
    }

    fn writer(&self) -> io::Result<BufWriter<File>> {
        File::create(&self.beside).map(BufWriter::new)
    }

    fn into_place(mut self) -> Result<PathBuf> {
        let Some(mut place) = self.place.take() else { return Ok(self.path.clone()) };
        let copied = File::open(&self.beside).and_then(|mut file| io::copy(&mut file, &mut place));
        copied.map_err(|error| Error::file("write", &self.path, &error))?;
        place.into_place()?;
        Ok(self.path.clone())
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        // its place holds a copy, or nothing is to be left
        let _ = fs::remove_file(&self.beside);
    }
}
