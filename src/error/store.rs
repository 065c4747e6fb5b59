//! Represents the reasons why a store cannot be opened, read or written, each with its quantities and a code,
//! and words them. Layer: `error`.

mod change;
mod defect;
mod row;

use std::fmt::Display;
use std::io;
use std::path::{Path, PathBuf};

use serde::Serialize;

pub(crate) use change::ChangeFault;
pub use defect::{Defect, ShapeDefect};
pub(crate) use row::{RowDamage, RowForm, Unpacked};

use super::Error;

/// Why a store cannot be opened, read or written.
#[derive(Debug, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
pub(crate) enum StoreFault {
    /// A row cannot be read: another program changed it, or the disk.
    RowDamaged { table: &'static str, row: i64, damage: RowDamage },
    /// A value has a type that trug never writes.
    ValueDamaged { cause: String },
    /// A table or a column that trug made is missing, or a trigger refers to one.
    TablesChanged { cause: String },
    /// The check of the database found damage.
    Damaged { findings: String },
    /// The file is shorter than its header states.
    Truncated { length: u64, stated: u64 },
    /// The store to be merged is damaged.
    OtherDamaged { findings: String },
    /// Another program holds the store.
    InUse { cause: String },
    /// The file is no database.
    NotADatabase { cause: String },
    /// The database is malformed.
    Corrupt { cause: String },
    /// The disk is full.
    NoSpace { cause: String },
    /// The disk refuses a file of this size.
    CannotGrow { refusal: Refusal, cause: String },
    /// The disk failed.
    DiskFailed { cause: String },
    /// The file may not be written.
    NotWritable { cause: String },
    /// The file cannot be opened.
    CannotOpen { cause: String },
    /// The store is read-only, and a temporary copy cannot be made.
    NoCopy { cause: String },
    /// The store is read-only, so that changes cannot be kept.
    ReadOnly,
    /// The store is read-only, so that an output for others cannot be recorded.
    OutputNotRecorded,
    /// A GeoPackage of another program.
    Foreign,
    /// A newer trug made the store.
    TooNew { version: usize, newest: usize },
    /// There is no store at the path.
    Missing,
    /// The file is empty.
    Empty,
    /// The folder of a new store does not exist.
    NoFolder { folder: PathBuf },
    /// The file does not begin as an SQLite database.
    NotSqlite,
    /// The file is an SQLite database, but no GeoPackage.
    NotAGeoPackage,
    /// The path is a link to nothing.
    BrokenLink,
    /// An empty file that may be somebody's.
    EmptyFile,
    /// The store describes its checklist in a way that cannot be read.
    ChecklistDescription { cause: String },
    /// A store was to be merged with itself.
    MergedWithItself { other: PathBuf },
}

/// Why a disk refuses to let a file grow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Refusal {
    /// The system limits the size of a file.
    FileTooLarge,
    /// The quota is used up.
    Quota,
    /// The disk is full.
    DiskFull,
    /// Another reason.
    Other,
}

impl Refusal {
    pub(crate) fn of(error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::FileTooLarge => Self::FileTooLarge,
            io::ErrorKind::QuotaExceeded => Self::Quota,
            io::ErrorKind::StorageFull => Self::DiskFull,
            _ => Self::Other,
        }
    }
}

/// The file of a store cannot be opened.
pub(crate) fn unopened_store(path: &Path, error: &io::Error) -> Error {
    Error::file("open the store", path, error)
}

impl StoreFault {
    /// Whether the database says in a message that a table or a column is missing: its code for that is the one
    /// for any error.
    pub(crate) fn says_what_is_missing(message: &str) -> bool {
        ["no such table", "no such column", "has no column named"]
            .iter()
            .any(|words| message.contains(words))
    }

    /// Whether the database says that its header states a form that it does not know, for which it has no code either.
    pub(crate) fn says_unsupported(message: &str) -> bool {
        message.contains("unsupported file format")
    }

    /// The fault as an error about the store at this path.
    pub(crate) fn at(self, path: &Path) -> Error {
        let store = path.display();
        let what = self.what(&store);
        let error = match self {
            Self::InUse { .. }
            | Self::DiskFailed { .. }
            | Self::NoCopy { .. }
            | Self::ChecklistDescription { .. } => Error::machine(what),
            _ => Error::input(what),
        };
        let error = error.because(self.why(&store));
        let error = match self.advice() {
            Some(hint) => error.hint(hint),
            None => error,
        };
        match self {
            Self::MergedWithItself { .. } => error.of(&self),
            _ => error.in_file(path).of(&self),
        }
    }

    fn what(&self, store: &dyn Display) -> String {
        match self {
            Self::RowDamaged { .. } => format!("part of the store {store} cannot be read"),
            Self::ValueDamaged { .. }
            | Self::TablesChanged { .. }
            | Self::Damaged { .. }
            | Self::Truncated { .. }
            | Self::OtherDamaged { .. }
            | Self::Corrupt { .. } => format!("the store {store} is damaged"),
            Self::InUse { .. } => format!("the store {store} is in use"),
            Self::NotADatabase { .. }
            | Self::NotSqlite
            | Self::NotAGeoPackage
            | Self::EmptyFile => format!("{store} is not a store"),
            Self::NoSpace { .. } => format!("no space left for the store {store}"),
            Self::CannotGrow { .. } => format!("the store {store} cannot grow"),
            Self::DiskFailed { .. } => format!("the store {store} could not be read or written"),
            Self::NotWritable { .. } | Self::ReadOnly | Self::OutputNotRecorded => {
                format!("the store {store} cannot be written")
            }
            Self::CannotOpen { .. } => format!("the store {store} cannot be opened"),
            Self::NoCopy { .. } => format!("the store {store} cannot be read"),
            Self::Foreign => format!("{store} is a GeoPackage that trug did not make"),
            Self::TooNew { .. } => format!("the store {store} was made by a newer trug"),
            Self::Missing | Self::Empty => format!("there is no store at {store}"),
            Self::NoFolder { .. } => format!("cannot make the store {store}"),
            Self::BrokenLink => format!("{store} is a broken link"),
            Self::ChecklistDescription { .. } => {
                "the store describes its checklist wrongly".to_owned()
            }
            Self::MergedWithItself { .. } => "a store cannot be merged with itself".to_owned(),
        }
    }

    fn why(&self, store: &dyn Display) -> String {
        match self {
            Self::RowDamaged { table, row, damage } => {
                format!("table {table}, row {row}: {damage}")
            }
            Self::Damaged { findings } | Self::OtherDamaged { findings } => findings.clone(),
            Self::Truncated { length, stated } => {
                format!("the file has {length} bytes, its header states {stated}")
            }
            Self::ValueDamaged { cause }
            | Self::InUse { cause }
            | Self::NotADatabase { cause }
            | Self::Corrupt { cause }
            | Self::NoSpace { cause }
            | Self::DiskFailed { cause }
            | Self::NotWritable { cause }
            | Self::CannotOpen { cause }
            | Self::ChecklistDescription { cause } => cause.clone(),
            Self::TablesChanged { cause } => {
                format!("another program changed its tables: {cause}")
            }
            Self::CannotGrow { refusal, cause } => {
                format!("{} ({cause}); this command changed nothing in it", refused(*refusal))
            }
            Self::NoCopy { cause } => {
                format!("it is read-only, and a temporary copy cannot be made: {cause}")
            }
            Self::TooNew { version, newest } => {
                format!("its tables are version {version}; this trug knows up to {newest}")
            }
            Self::NoFolder { folder } => format!("there is no folder {}", folder.display()),
            Self::MergedWithItself { other } => {
                format!("{store} and {} are one file", other.display())
            }
            plain => plain.plain_why().to_owned(),
        }
    }

    /// The reasons without values.
    fn plain_why(&self) -> &'static str {
        match self {
            Self::ReadOnly => "the file or its folder is read-only",
            Self::OutputNotRecorded => {
                "the store records each output for others, so that a later one cannot reveal more together \
                 with it; this output is new, and the store or its folder is read-only"
            }
            Self::Foreign => "it has no table settings with a schema_version",
            Self::Missing => "the file does not exist or is empty",
            Self::Empty => "the file is empty",
            Self::NotSqlite => "it is not a GeoPackage: it does not begin with an SQLite header",
            Self::NotAGeoPackage => {
                "it is an SQLite database without the GeoPackage application ID"
            }
            Self::BrokenLink => "the file to which it points does not exist",
            _ => "it is an empty file, which trug may not have made",
        }
    }

    fn advice(&self) -> Option<&'static str> {
        Some(match self {
            Self::RowDamaged { .. } => {
                "if another program edited it, undo that edit; otherwise restore a backup, or import the \
                 day again into a new store"
            }
            Self::ValueDamaged { .. } => {
                "see what trug verify finds; go back to a copy of the store, or import the days again into \
                 a new one"
            }
            Self::TablesChanged { .. } => {
                "undo that change in the other program; otherwise restore a backup, or import the days again \
                 into a new store"
            }
            Self::Damaged { .. } | Self::Truncated { .. } => {
                "list the damage with `trug verify`; restore a backup, or import the days again into a new \
                 store"
            }
            Self::OtherDamaged { .. } => {
                "list the damage with trug verify; restore a backup of it, then merge again"
            }
            Self::InUse { .. } => {
                "close the program that edits it (a GIS, another trug), then try again"
            }
            Self::NotADatabase { .. } => "name a GeoPackage that trug made, or a new file",
            Self::Corrupt { .. } => {
                "restore a backup, or import the original files again; they are unchanged"
            }
            Self::NoSpace { .. } => "free space on that disk; this command changed nothing in it",
            Self::CannotGrow { .. } => {
                "raise the limit, free space, or move the store to another disk"
            }
            Self::DiskFailed { .. } => "check the disk; if it is sound, please report this message",
            Self::NotWritable { .. } => "check the write permissions of the file and its folder",
            Self::CannotOpen { .. } => {
                "check the spelling, the permissions of the file and its folder, and whether a file of the same name \
                 with -journal at the end is left of a store that is gone"
            }
            other => return other.advice_on_files(),
        })
    }

    /// What to do about a file that is missing, not a store, or not to be changed.
    fn advice_on_files(&self) -> Option<&'static str> {
        Some(match self {
            Self::NoCopy { .. } => {
                "free space in the temporary folder, or name another one in TMPDIR"
            }
            Self::ReadOnly => "change their permissions, or work on a copy of the store",
            Self::OutputNotRecorded => {
                "make the store and its folder writable, then repeat the command"
            }
            Self::Foreign => {
                "name another file for the store; trug never writes to files of other programs"
            }
            Self::TooNew { .. } => "use the newer trug; nothing was changed",
            Self::Missing => "import a day first: trug import FOLDER --store FILE",
            Self::NoFolder { .. } => "create the folder first, or name another one with --store",
            Self::NotSqlite | Self::NotAGeoPackage => {
                "name a GeoPackage that trug made, or a new file; nothing was changed"
            }
            Self::BrokenLink => "name the file itself, or remove the link",
            Self::EmptyFile => "remove it if nobody needs it, or name another file with --store",
            Self::ChecklistDescription { .. } => {
                "give the checklist again with trug checklist FILE"
            }
            Self::MergedWithItself { .. } => "name another store",
            _ => return None,
        })
    }
}

fn refused(refusal: Refusal) -> &'static str {
    match refusal {
        Refusal::FileTooLarge => "the system limits the size of a file",
        Refusal::Quota => "your quota on that disk is used up",
        Refusal::DiskFull => "the disk is full",
        Refusal::Other => "the disk refuses to write",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_has_code_values_and_words() {
        let error = StoreFault::TooNew { version: 99, newest: 10 }.at(Path::new("my.gpkg"));
        let json = serde_json::to_value(&error).unwrap();
        assert_eq!((&json["code"], &json["version"]), (&"too-new".into(), &99.into()));
        assert_eq!(json["what"], "the store my.gpkg was made by a newer trug");
        assert_eq!(error.why(), Some("its tables are version 99; this trug knows up to 10"));
    }
}
