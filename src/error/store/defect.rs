//! Represents what a full check of a store finds, each with its quantities and a code, and words it.
//! Layer: `error`.

use std::fmt;

use jiff::civil::Date;
use serde::Serialize;

use crate::error::Error;

/// A defect of a store.
///
/// Shown as one sentence. In JSON an object with `code` and the values.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum Defect {
    /// The check of the database reports this.
    Database {
        /// In the words of the database.
        message: String,
    },
    /// A row refers to one that is missing.
    MissingRow {
        /// The table of the row.
        table: String,
        /// Its key.
        row: i64,
        /// The table that lacks the other one.
        of: String,
    },
    /// The geometry of a row disagrees with the spatial index.
    Shape {
        /// The table of the row.
        table: String,
        /// Its key.
        row: i64,
        /// How.
        defect: ShapeDefect,
    },
    /// A spatial index has entries without a row.
    IndexEntries {
        /// The table.
        table: String,
        /// How many more; negative where some are missing.
        more: i64,
    },
    /// The table of contents names a table that is missing.
    MissingTable {
        /// Its name.
        table: String,
    },
    /// The count of finds of a site is wrong.
    SiteCount {
        /// The site.
        site: i64,
        /// The count that is stored.
        stated: i64,
        /// The finds that it has.
        counted: i64,
    },
    /// The count of finds of an outing is wrong.
    OutingCount {
        /// The date of the outing.
        date: Date,
        /// The count that is stored.
        stated: usize,
        /// The finds that it has.
        counted: usize,
    },
    /// Something cannot be read.
    Unreadable {
        /// What.
        what: String,
        /// Why.
        why: Option<String>,
    },
}

/// How a geometry disagrees with the spatial index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ShapeDefect {
    /// It cannot be read.
    Unreadable,
    /// There is none, but an entry in the index.
    Absent,
    /// The index has another position.
    ElsewhereInIndex,
    /// The index has no entry.
    NotInIndex,
}

impl From<Error> for Defect {
    fn from(error: Error) -> Self {
        Self::Unreadable { what: error.what().to_owned(), why: error.why().map(str::to_owned) }
    }
}

impl fmt::Display for Defect {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Database { message } => f.write_str(message),
            Self::MissingRow { table, row, of } => {
                write!(f, "table {table}, row {row} refers to a missing row of {of}")
            }
            Self::Shape { table, row, defect } => {
                write!(f, "table {table}, row {row}: {}", defect.words())
            }
            Self::IndexEntries { table, more } => {
                write!(f, "the spatial index of {table} has {more} entries without a row")
            }
            Self::MissingTable { table } => {
                write!(f, "the table of contents names {table}, which is missing")
            }
            Self::SiteCount { site, stated, counted } => {
                write!(f, "site {site} states {stated} finds and has {counted}")
            }
            Self::OutingCount { date, stated, counted } => write!(
                f,
                "the outing of {date} has {counted} finds, but its stored count is {stated}"
            ),
            Self::Unreadable { what, why: Some(why) } => write!(f, "{what}: {why}"),
            Self::Unreadable { what, why: None } => f.write_str(what),
        }
    }
}

impl ShapeDefect {
    fn words(self) -> &'static str {
        match self {
            Self::Unreadable => "its geometry cannot be read",
            Self::Absent => "it has no geometry, but an entry in the spatial index",
            Self::ElsewhereInIndex => "the spatial index has another position",
            Self::NotInIndex => "the spatial index has no entry for it",
        }
    }
}
