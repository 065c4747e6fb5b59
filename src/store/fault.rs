//! Converts a database failure to an error with cause and hint. Layer: `store`.

use std::fs;
use std::io::{self, Seek, SeekFrom, Write};
use std::path::Path;

use rusqlite::ErrorCode;

use crate::error::Error;

/// A failure inside the store, before it is reported with the store's path.
#[derive(Debug)]
pub(super) enum Fault {
    /// The database reported an error.
    Database(rusqlite::Error),
    /// A row does not hold what trug wrote there.
    Damaged {
        /// The table.
        table: &'static str,
        /// The key of the row.
        row: i64,
        /// What was wrong with it.
        why: String,
    },
    /// An error with its own text.
    Ready(Error),
}

/// The result of everything inside the store.
pub(super) type Attempt<T> = std::result::Result<T, Fault>;

impl From<rusqlite::Error> for Fault {
    fn from(error: rusqlite::Error) -> Self {
        Self::Database(error)
    }
}

impl From<Error> for Fault {
    fn from(error: Error) -> Self {
        Self::Ready(error)
    }
}

impl Fault {
    pub(super) fn damaged(table: &'static str, row: i64, why: impl Into<String>) -> Self {
        Self::Damaged { table, row, why: why.into() }
    }

    /// The failure as an error with a hint.
    pub(super) fn tell(self, path: &Path) -> Error {
        match self {
            Self::Ready(error) => error,
            Self::Damaged { table, row, why } => {
                Error::input(format!("part of the store {} cannot be read", path.display()))
                    .because(format!("table {table}, row {row}: {why}"))
                    .hint(
                        "if another program edited it, undo that edit; otherwise restore a \
                     backup, or import the day again into a new store",
                    )
                    .in_file(path)
            }
            Self::Database(error) => of_database(&error, path),
        }
    }
}

/// How much more than the store is written to find out why the disk refused, bytes.
const MORE: u64 = 1 << 20;

/// The reason for which the disk refuses a file of the store's size: the database does not pass it on.
fn refused(path: &Path) -> Option<io::Error> {
    let length = fs::metadata(path).ok()?.len();
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let probe = || {
        let mut file = tempfile::tempfile_in(folder.unwrap_or(Path::new(".")))?;
        file.seek(SeekFrom::Start(length + MORE))?;
        file.write_all(&[0; 4096])?;
        file.sync_all()
    };
    probe().err()
}

fn refusal_of(refusal: &io::Error, path: &Path) -> Error {
    let why = match refusal.kind() {
        io::ErrorKind::FileTooLarge => "the system limits the size of a file",
        io::ErrorKind::QuotaExceeded => "your quota on that disk is used up",
        io::ErrorKind::StorageFull => "the disk is full",
        _ => "the disk refuses to write",
    };
    Error::input(format!("the store {} cannot grow", path.display()))
        .because(format!("{why} ({refusal}); this command changed nothing in it"))
        .hint("raise the limit, free space, or move the store to another disk")
}

/// Whether the database read a value that trug never writes there: text that is no UTF-8, a number out of
/// range, another type.
fn is_of_content(error: &rusqlite::Error) -> bool {
    matches!(
        error,
        rusqlite::Error::FromSqlConversionFailure(..)
            | rusqlite::Error::IntegralValueOutOfRange(..)
            | rusqlite::Error::InvalidColumnType(..)
            | rusqlite::Error::Utf8Error(..)
    )
}

fn of_database(error: &rusqlite::Error, path: &Path) -> Error {
    let store = path.display();
    if is_of_content(error) {
        return Error::input(format!("the store {store} is damaged"))
            .because(error.to_string())
            .hint("see what trug verify finds; go back to a copy of the store, or import the days again into a new one")
            .in_file(path);
    }
    let code = error.sqlite_error_code();
    let report = match code {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            Error::machine(format!("the store {store} is in use"))
                .hint("close the program that edits it (a GIS, another trug), then try again")
        }
        Some(ErrorCode::NotADatabase) => Error::input(format!("{store} is not a store"))
            .hint("name a GeoPackage that trug made, or a new file"),
        Some(ErrorCode::DatabaseCorrupt) => Error::input(format!("the store {store} is damaged"))
            .hint("restore a backup, or import the original files again; they are unchanged"),
        Some(ErrorCode::DiskFull) => Error::input(format!("no space left for the store {store}"))
            .hint("free space on that disk; this command changed nothing in it"),
        Some(ErrorCode::SystemIoFailure) => match refused(path) {
            Some(refusal) => return refusal_of(&refusal, path).in_file(path),
            None => Error::machine(format!("the store {store} could not be read or written"))
                .hint("check the disk; if it is sound, please report this message"),
        },
        Some(ErrorCode::ReadOnly) => Error::input(format!("the store {store} cannot be written"))
            .hint("check the write permissions of the file and its folder"),
        Some(ErrorCode::CannotOpen) => {
            Error::machine(format!("the store {store} cannot be opened"))
                .hint("check the spelling and the permissions of the file and its folder")
        }
        _ => Error::machine(format!("the store {store} could not be read or written"))
            .hint("check the disk; if it is sound, please report this message"),
    };
    report.because(error.to_string()).in_file(path)
}
