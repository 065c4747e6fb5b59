//! Reads a listing of finds that trug exported and somebody edited in a spreadsheet: the cells of each
//! row under their headings. Layer: `ingest`.

use std::path::Path;

use super::columns::Columns;
use super::{no_table, table, text, too_large};
use crate::error::{Error, Result, read_regular};

/// A listing.
#[derive(Clone, Debug, PartialEq)]
pub struct Listing {
    /// The headings in the order of the file.
    pub headings: Vec<String>,
    /// Each row with its line, counted from one.
    pub rows: Vec<(u64, Vec<String>)>,
}

impl Listing {
    /// The cell of a row under a heading; `None` where the file lacks the column.
    #[must_use]
    pub fn cell<'a>(&self, row: &'a [String], heading: &str) -> Option<&'a str> {
        let column = self.headings.iter().position(|own| own.trim() == heading)?;
        Some(row.get(column).map_or("", String::as_str))
    }
}

/// Reads a listing.
///
/// # Errors
/// When the file cannot be read, is no text, or has no column `occurrenceID`.
pub fn read(path: &Path) -> Result<Listing> {
    let bytes = read_regular(path).map_err(|source| Error::file("read", path, &source))?;
    if bytes.starts_with(b"PK") {
        return Err(Error::input(format!("{} is not a CSV file", path.display()))
            .because("it is a compressed file, as spreadsheets save by default")
            .hint("save it as CSV (comma separated, UTF-8)")
            .in_file(path));
    }
    let text = text::decoded(&bytes).ok_or_else(|| no_table(path, "it is not text"))?;
    let table = table::read(&text, &Columns::default()).map_err(|limit| too_large(path, limit))?;
    let table =
        table.filter(|table| table.headings.iter().any(|heading| heading.trim() == "occurrenceID"));
    let Some(table) = table else {
        return Err(Error::input(format!("{} is not a listing of finds", path.display()))
            .because("it has no column occurrenceID, which identifies each find")
            .hint("write one with trug finds --format csv, edit it and keep that column")
            .in_file(path));
    };
    let rows = table.rows.into_iter().map(|row| (row.line, row.cells)).collect();
    Ok(Listing { headings: table.headings, rows })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(content: &[u8]) -> Result<Listing> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("edited.csv");
        std::fs::write(&path, content).unwrap();
        read(&path)
    }

    #[test]
    fn semicolons_and_missing_cells_are_read() {
        let listing =
            of(b"occurrenceID;recordNumber;locality\r\nurn:uuid:1;TH-1;Ridge\r\nurn:uuid:2\r\n")
                .unwrap();
        assert_eq!(listing.rows.len(), 2);
        let (line, row) = &listing.rows[0];
        assert_eq!((*line, listing.cell(row, "locality")), (2, Some("Ridge")));
        assert_eq!(listing.cell(&listing.rows[1].1, "locality"), Some(""));
        assert_eq!(listing.cell(row, "habitat"), None);
    }

    #[test]
    fn other_files_are_refused_with_the_reason() {
        assert!(
            of(b"recordNumber,locality\nTH-1,Ridge\n")
                .unwrap_err()
                .to_string()
                .contains("occurrenceID")
        );
        assert!(of(b"PK\x03\x04xlsx").unwrap_err().to_string().contains("CSV"));
    }
}
