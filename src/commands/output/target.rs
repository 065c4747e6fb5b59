//! Decides whether a file may be written at a path: nothing exists there, trug wrote the file and it is
//! unchanged, or its replacement was requested. Layer: `commands`.

use std::ffi::OsStr;
use std::fs::{self, Metadata, Permissions};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::{Overwrite, inputs, receipts};
use crate::error::{Error, Result, open_regular, other_than_a_file};
use crate::ingest::folder::{self, Kind};
use crate::ingest::{record, track};
use crate::model::FileKind;

/// A path that may be written.
#[derive(Debug)]
pub(in crate::commands) struct Target {
    /// As the user wrote it.
    pub(super) shown: PathBuf,
    /// The real path, links resolved.
    pub(super) place: PathBuf,
    /// The permissions of the file to be replaced; `None` where none exists.
    pub(super) replaces: Option<Permissions>,
}

impl Target {
    /// # Errors
    /// When the path does not name a writable file, or names one that must not be replaced.
    pub(in crate::commands) fn of(path: &Path, overwrite: Overwrite) -> Result<Self> {
        let (place, found) = look(path)?;
        let Some(found) = found else {
            return Ok(Self { shown: path.to_owned(), place, replaces: None });
        };
        if let Some(what) = other_than_a_file(&found) {
            return Err(no_regular_file(path, what));
        }
        if found.permissions().readonly() {
            return Err(refused(path, "it is write-protected")
                .hint("name another file, or make this one writable"));
        }
        may_replace(path, &place, &found, overwrite)?;
        Ok(Self { shown: path.to_owned(), place, replaces: Some(found.permissions()) })
    }
}

impl Target {
    /// A target whose file may be replaced whatever its content.
    ///
    /// # Errors
    /// When the path does not name a regular file that can be written.
    pub(in crate::commands) fn known(path: &Path) -> Result<Self> {
        let (place, found) = look(path)?;
        match found.as_ref().and_then(other_than_a_file) {
            Some(what) => Err(no_regular_file(path, what)),
            None => Ok(Self {
                shown: path.to_owned(),
                place,
                replaces: found.map(|found| found.permissions()),
            }),
        }
    }
}

fn refused(path: &Path, why: &str) -> Error {
    Error::input(format!("will not overwrite {}", path.display())).because(why).in_file(path)
}

/// Outputs are moved into place whole, which only a regular file allows.
fn no_regular_file(path: &Path, what: &str) -> Error {
    Error::input(format!("cannot write to {}", path.display()))
        .because(format!("it is {what}, not a regular file"))
        .hint(
            "name a file; to print finds to standard output use trug finds --format csv or geojson",
        )
        .in_file(path)
}

/// Resolves a path and reads the metadata of the file there.
fn look(path: &Path) -> Result<(PathBuf, Option<Metadata>)> {
    let failed = |error: &io::Error| Error::file("write", path, error);
    let Some(name) = path.file_name().filter(|_| !ends_as_a_folder(path.as_os_str())) else {
        return Err(Error::input(format!("{} does not name a file", path.display()))
            .hint("name the file to write, not a folder"));
    };
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = fs::canonicalize(folder.unwrap_or(Path::new("."))).map_err(|e| failed(&e))?;
    let place = folder.join(name);
    match fs::symlink_metadata(&place) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok((place, None)),
        Err(error) => Err(failed(&error)),
        Ok(found) if found.is_symlink() => match fs::canonicalize(&place) {
            Ok(place) => {
                let found = fs::metadata(&place).map_err(|error| failed(&error))?;
                Ok((place, Some(found)))
            }
            // a link to a pipe, as of standard output, names no path that could be resolved
            Err(error) => match fs::metadata(&place) {
                Ok(found) if other_than_a_file(&found).is_some() => Ok((place, Some(found))),
                _ => Err(Error::input(format!("{} is a broken link", path.display()))
                    .because(error.to_string())
                    .hint("name the file itself, or remove the link")),
            },
        },
        Ok(found) => Ok((place, Some(found))),
    }
}

fn ends_as_a_folder(path: &OsStr) -> bool {
    path.as_encoded_bytes().last().is_some_and(|end| std::path::is_separator(char::from(*end)))
}

fn may_replace(path: &Path, place: &Path, found: &Metadata, overwrite: Overwrite) -> Result<()> {
    let failed = |error: io::Error| Error::file("write", path, &error);
    if receipts::knows(open_regular(place).map_err(failed)?, found.len()) {
        return Ok(());
    }
    let mut head = Vec::new();
    open_regular(place).map_err(failed)?.take(HEAD).read_to_end(&mut head).map_err(|error| {
        refused(path, &format!("it cannot be read: {error}")).hint("name another file")
    })?;
    match (original(place, &head), overwrite.overwrite) {
        (Some(why), _) => {
            Err(refused(path, why).hint("name another file; trug never changes originals"))
        }
        (None, true) => Ok(()),
        (None, false) => Err(refused(path, "trug did not write it, or it was changed since")
            .hint("name another file, or use --overwrite to replace this one")),
    }
}

/// The number of bytes that identify a file type.
const HEAD: u64 = 8 * 1024;

/// Why a file is an original; originals are never replaced, not even with --overwrite.
fn original(place: &Path, head: &[u8]) -> Option<&'static str> {
    if head.starts_with(b"SQLite format 3") {
        return Some("it is a store or another database, which trug did not make");
    }
    if is_picture(head) {
        return Some(PHOTOGRAPH);
    }
    let Some(kind) = folder::held(place) else { return inputs::other_input(place, head) };
    match kind {
        Kind::Photo => Some(PHOTOGRAPH),
        Kind::Track if track::format(head) == Some(FileKind::Gpx) => {
            Some("it is a GPX file, which trug did not make")
        }
        Kind::Track => Some("it is a track, which trug did not make"),
        Kind::Archive => {
            Some("it is an archive with tracks, photographs or field records, or is damaged")
        }
        Kind::Records if record::may_be_workbook(head) => Some("it is a workbook with entries"),
        Kind::Records if is_json(head) => None,
        Kind::Records => Some("it is a table of field records, which trug did not make"),
    }
}

const PHOTOGRAPH: &str = "it is a photograph, which trug did not make";

/// Whether a file begins as a JSON object does: its keys may look like the headings of a table.
fn is_json(head: &[u8]) -> bool {
    let mut written = head.iter().filter(|byte| !byte.is_ascii_whitespace());
    written.next() == Some(&b'{') && matches!(written.next(), Some(b'"' | b'}'))
}

/// First bytes of raw photographs and of other pictures that an import does not read.
///
/// # References
/// Of raw formats: common practice. JPEG XL: ISO/IEC 18181-2; JPEG 2000: ISO/IEC 15444-1, annex I.
const PICTURES: [&[u8]; 11] = [
    b"IIRO",
    b"IIRS",
    b"MMOR",
    b"IIU\0",
    b"FOVb",
    b"\0MRM",
    b"II\x1a\0\0\0HEAPCCDR",
    b"\xff\x0a",
    b"\0\0\0\x0cJXL ",
    b"\0\0\0\x0cjP  ",
    b"GIF8",
];

fn is_picture(head: &[u8]) -> bool {
    head.starts_with(b"\xff\xd8\xff")
        || head.get(4..8) == Some(b"ftyp")
        || PICTURES.iter().any(|front| head.starts_with(front))
}
