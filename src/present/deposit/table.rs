//! Writes and describes one table of an archive. Layer: `present`.

use std::collections::HashMap;

use crate::model::{KeptFind, term};
use crate::present::csv::harmless;
use crate::present::darwin_core::{Value, urn};

const DARWIN_CORE: &str = "http://rs.tdwg.org/dwc/terms/";
const DUBLIN_CORE: &str = "http://purl.org/dc/terms/";

/// One table: its first column is the identifier of the event of each row.
pub(super) struct Table {
    file: &'static str,
    row_type: &'static str,
    columns: Vec<&'static str>,
    rows: Vec<Vec<String>>,
}

impl Table {
    pub(super) fn new(
        file: &'static str,
        row_type: &'static str,
        columns: impl Into<Vec<&'static str>>,
    ) -> Self {
        Self { file, row_type, columns: columns.into(), rows: Vec::new() }
    }

    pub(super) fn file(&self) -> &'static str {
        self.file
    }

    pub(super) fn row_type(&self) -> &'static str {
        self.row_type
    }

    /// Adds a row from values by term; terms without a column are ignored.
    pub(super) fn push(&mut self, values: &[(&'static str, Value)]) {
        let by_term: HashMap<&str, &Value> =
            values.iter().map(|(term, value)| (*term, value)).collect();
        let cell =
            |column: &&str| by_term.get(*column).map_or_else(String::new, |value| cell(value));
        self.rows.push(self.columns.iter().map(cell).collect());
    }

    /// The terms of its columns with their full addresses.
    pub(super) fn terms(&self) -> impl Iterator<Item = String> + '_ {
        self.columns.iter().map(|column| {
            let vocabulary =
                if term::DUBLIN_CORE.contains(column) { DUBLIN_CORE } else { DARWIN_CORE };
            format!("{vocabulary}{column}")
        })
    }

    pub(super) fn text(&self) -> String {
        let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
        // Writing into memory cannot fail, and all rows have the length of the headings.
        let _ = writer.write_record(&self.columns);
        for row in &self.rows {
            let _ = writer.write_record(row);
        }
        String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
    }

    /// All text of the table about a find and its outing.
    pub(super) fn text_about(&self, find: &KeptFind) -> String {
        let (id, outing) = (urn(find.id), urn(find.outing));
        let own = self.columns.iter().position(|column| *column == "occurrenceID");
        let rows = self.rows.iter().filter(|row| {
            let of_find = own.is_some_and(|own| row[own] == id);
            let of_outing =
                row.first() == Some(&outing) && own.is_none_or(|own| row[own].is_empty());
            of_find || of_outing
        });
        rows.map(|row| row.join("\n") + "\n").collect()
    }
}

/// Line ends are removed: many readers of archives end a row at them, even inside quotes.
fn cell(value: &Value) -> String {
    match value {
        Value::Text(text) => {
            harmless(&text.split(['\r', '\n']).map(str::trim).collect::<Vec<_>>().join(" "))
        }
        Value::Number(number) => number.to_string(),
    }
}
