//! Detects a damaged store: a quick check in every command, and the full check of `trug verify`.
//! Layer: `store`.

mod inspect;

use std::fs::{self, File};
use std::io::Read;
use std::path::Path;

use rusqlite::Connection;

use super::Store;
use super::fault::Attempt;
use crate::error::{Defect, Error, Result, StoreFault};

pub use inspect::Inspected;

/// A store up to this size is checked completely whenever it is opened (3 to 18 ms for one of 3
/// MB); of a larger one both ends of every table are checked.
const LOOKED_THROUGH: u64 = 32 << 20;

/// Whether the file has its stated length, its pages are linked consistently, and every table can
/// be read at both ends.
pub(super) fn at_a_glance(connection: &Connection, path: &Path) -> Attempt<()> {
    let length = fs::metadata(path).map_or(0, |found| found.len());
    if let Some(stated) = stated_length(path).filter(|stated| *stated > length) {
        return Err(StoreFault::Truncated { length, stated }.at(path).into());
    }
    if length <= LOOKED_THROUGH {
        let found: String = connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
        return if found == "ok" { Ok(()) } else { Err(damaged(path, &found).into()) };
    }
    for table in tables(connection)? {
        for order in ["ASC", "DESC"] {
            let ends = format!(
                "SELECT count(*) FROM (SELECT * FROM \"{}\" ORDER BY rowid {order} LIMIT 1)",
                table.replace('"', "\"\"")
            );
            connection.query_row(&ends, [], |_| Ok(()))?;
        }
    }
    Ok(())
}

fn damaged(path: &Path, findings: &str) -> Error {
    StoreFault::Damaged { findings: findings.replace('\n', "; ") }.at(path)
}

fn tables(connection: &Connection) -> Attempt<Vec<String>> {
    Ok(connection
        .prepare(
            "SELECT name FROM sqlite_master WHERE type = 'table'
             AND sql NOT LIKE 'CREATE VIRTUAL%' AND sql NOT LIKE '%WITHOUT ROWID%'",
        )?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?)
}

/// The length that the header states, where it is up to date.
///
/// # References
/// SQLite, Database File Format, section 1.3: bytes 16, 24, 28 and 92 of the header.
fn stated_length(path: &Path) -> Option<u64> {
    let mut head = [0; 100];
    File::open(path).and_then(|mut file| file.read_exact(&mut head)).ok()?;
    let number = |at: usize| Some(u32::from_be_bytes(*head.get(at..)?.first_chunk::<4>()?));
    let page = match u16::from_be_bytes([head[16], head[17]]) {
        1 => 65_536,
        size => u64::from(size),
    };
    let (changes, pages, valid_for) = (number(24)?, number(28)?, number(92)?);
    // in the mode with a log beside it the last pages may still be in the log
    let with_log = head[18] == 2;
    (changes == valid_for && !with_log).then_some(page * u64::from(pages))
}

impl Store {
    /// Whether the file is in order by the database's own check, and no row refers to a missing
    /// one.
    ///
    /// SQLite's own check of every page and index, and of references between tables. [`Store::inspect`] reads the
    /// content as well.
    ///
    /// # Errors
    /// When it is not, with the first findings.
    pub fn verify(&self) -> Result<()> {
        let findings = inspect::of_database(&self.connection).map_err(|f| f.tell(&self.path))?;
        if findings.is_empty() {
            return Ok(());
        }
        let findings: Vec<String> = findings.iter().map(Defect::to_string).collect();
        Err(damaged(&self.path, &findings.join("; ")))
    }

    /// Checks the whole store, reading each kind of data as a command would.
    ///
    /// Finds what the database cannot: packed bytes whose checksum is wrong, geometries outside of their box in the
    /// spatial index, counts that do not agree. A changed letter within a name cannot be detected.
    ///
    /// In tests each page of a store is overwritten in turn; all are detected (`docs/store.md`, "Damage").
    #[must_use]
    pub fn inspect(&self) -> Inspected {
        inspect::all(self)
    }
}
