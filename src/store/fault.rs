//! Converts a database failure to an error with cause and hint. Layer: `store`.

use std::fs;
use std::io::{self, Seek, SeekFrom, Write};
use std::path::Path;

use rusqlite::ErrorCode;

use crate::error::{Error, Refusal, RowDamage, StoreFault};

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
        damage: RowDamage,
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
    pub(super) fn damaged(table: &'static str, row: i64, damage: RowDamage) -> Self {
        Self::Damaged { table, row, damage }
    }

    /// The failure as an error about the store at this path.
    pub(super) fn tell(self, path: &Path) -> Error {
        match self {
            Self::Ready(error) => error,
            Self::Damaged { table, row, damage } => {
                StoreFault::RowDamaged { table, row, damage }.at(path)
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

/// The table or column that a statement needs and the store lacks; statements themselves are tested.
fn missing_part(error: &rusqlite::Error) -> Option<String> {
    let message = match error {
        rusqlite::Error::SqlInputError { msg, .. } => msg,
        rusqlite::Error::SqliteFailure(_, Some(message)) => message,
        _ => return None,
    };
    StoreFault::says_what_is_missing(message).then(|| message.clone())
}

fn of_database(error: &rusqlite::Error, path: &Path) -> Error {
    let cause = error.to_string();
    if is_of_content(error) {
        return StoreFault::ValueDamaged { cause }.at(path);
    }
    if let Some(missing) = missing_part(error) {
        return StoreFault::TablesChanged { cause: missing }.at(path);
    }
    if StoreFault::says_unsupported(&cause) {
        return StoreFault::Corrupt { cause }.at(path);
    }
    let fault = match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => StoreFault::InUse { cause },
        Some(ErrorCode::NotADatabase) => StoreFault::NotADatabase { cause },
        Some(ErrorCode::DatabaseCorrupt) => StoreFault::Corrupt { cause },
        Some(ErrorCode::DiskFull) => StoreFault::NoSpace { cause },
        Some(ErrorCode::SystemIoFailure) => match refused(path) {
            Some(error) => {
                StoreFault::CannotGrow { refusal: Refusal::of(&error), cause: error.to_string() }
            }
            None => StoreFault::DiskFailed { cause },
        },
        Some(ErrorCode::ReadOnly) => StoreFault::NotWritable { cause },
        Some(ErrorCode::CannotOpen) => StoreFault::CannotOpen { cause },
        _ => StoreFault::DiskFailed { cause },
    };
    fault.at(path)
}
