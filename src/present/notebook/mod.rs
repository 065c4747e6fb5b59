//! Draws up an empty or prepared notebook: a table with headings, their explanations and a picture for
//! each row, as XLSX, ODS or CSV. Returns bytes. Layer: `present`.
//!
//! A prepared notebook holds times and positions that come from the photographs and tracks; an import does not read
//! those back, since as evidence they would confirm themselves.

mod explanations;
mod groups;
mod ods;
mod xlsx;

pub use explanations::{explanation, sheet_name};
pub use groups::{Proposal, proposals};

use crate::error::{Error, Result};

/// A column of a notebook.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotebookColumn {
    /// Its heading.
    pub heading: String,
    /// What belongs there.
    pub note: String,
}

/// A row of a notebook.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct NotebookRow {
    /// One text for each column.
    pub cells: Vec<String>,
    /// A JPEG.
    pub picture: Option<Vec<u8>>,
}

/// A notebook to fill in. Pictures stand in its last column, where rows have any.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Notebook {
    /// The name of its sheet.
    pub name: String,
    /// In their order.
    pub columns: Vec<NotebookColumn>,
    /// In their order.
    pub rows: Vec<NotebookRow>,
}

impl Notebook {
    /// As XLSX: explanations are notes on the headings, every cell is text.
    ///
    /// # Errors
    /// When the workbook cannot be put together.
    pub fn xlsx(&self) -> Result<Vec<u8>> {
        xlsx::written(self).map_err(|error| failed(&error))
    }

    /// As ODS: explanations are notes on the headings, every cell is text.
    ///
    /// # Errors
    /// When the workbook cannot be put together.
    pub fn ods(&self) -> Result<Vec<u8>> {
        ods::written(self).map_err(|error| failed(&error))
    }

    /// As CSV in UTF-8 with a byte-order mark, without pictures; the explanations stand above the
    /// headings.
    ///
    /// # Errors
    /// When the table cannot be written.
    pub fn csv(&self) -> Result<Vec<u8>> {
        let written = || -> std::result::Result<Vec<u8>, csv::Error> {
            let mut writer = csv::WriterBuilder::new()
                .terminator(csv::Terminator::CRLF)
                .from_writer(b"\xef\xbb\xbf".to_vec());
            writer.write_record(self.columns.iter().map(|column| &column.note))?;
            writer.write_record(self.columns.iter().map(|column| &column.heading))?;
            for row in &self.rows {
                writer.write_record(&row.cells)?;
            }
            writer.into_inner().map_err(|error| error.into_error().into())
        };
        written().map_err(|error| failed(&error))
    }

    fn has_pictures(&self) -> bool {
        self.rows.iter().any(|row| row.picture.is_some())
    }
}

fn failed(error: &dyn std::error::Error) -> Error {
    Error::program("the notebook cannot be written").because(error.to_string())
}
