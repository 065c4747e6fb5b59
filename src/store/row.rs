//! Writes rows from named values and reads cells by column. Layer: `store`.

use rusqlite::types::{FromSql, Value};
use rusqlite::{Connection, params_from_iter};

/// The values of one row by the names of their columns.
///
/// Columns are named where they are set, so that a statement and its values cannot get out of step.
pub(super) struct Row {
    columns: Vec<(&'static str, Value)>,
}

impl Row {
    pub(super) fn new() -> Self {
        Self { columns: Vec::with_capacity(40) }
    }

    /// Sets one column; `None` is an empty cell.
    pub(super) fn set(&mut self, column: &'static str, value: impl Into<Value>) -> &mut Self {
        self.columns.push((column, value.into()));
        self
    }

    /// Adds the row and gives its key.
    pub(super) fn insert(&self, connection: &Connection, table: &str) -> rusqlite::Result<i64> {
        let names: Vec<&str> = self.columns.iter().map(|(name, _)| *name).collect();
        let marks = vec!["?"; names.len()].join(", ");
        let statement = format!("INSERT INTO {table} ({}) VALUES ({marks})", names.join(", "));
        connection
            .prepare_cached(&statement)?
            .insert(params_from_iter(self.columns.iter().map(|(_, value)| value)))
    }

    /// Changes the row with this key.
    pub(super) fn update(
        &self,
        connection: &Connection,
        table: &str,
        key: i64,
    ) -> rusqlite::Result<()> {
        let names: Vec<String> =
            self.columns.iter().map(|(name, _)| format!("{name} = ?")).collect();
        let statement = format!("UPDATE {table} SET {} WHERE id = ?", names.join(", "));
        let key = Value::from(key);
        let values = self.columns.iter().map(|(_, value)| value).chain([&key]);
        connection.prepare_cached(&statement)?.execute(params_from_iter(values))?;
        Ok(())
    }
}

/// The cells of a row in the order of the question.
pub(super) struct Cells<'row> {
    row: &'row rusqlite::Row<'row>,
    place: usize,
}

impl<'row> Cells<'row> {
    pub(super) fn of(row: &'row rusqlite::Row<'row>) -> Self {
        Self { row, place: 0 }
    }

    pub(super) fn next<T: FromSql>(&mut self) -> rusqlite::Result<T> {
        self.place += 1;
        self.row.get(self.place - 1)
    }

    pub(super) fn text(&mut self) -> rusqlite::Result<Option<&'row str>> {
        self.place += 1;
        Ok(self.row.get_ref(self.place - 1)?.as_str_or_null()?)
    }

    pub(super) fn bytes(&mut self) -> rusqlite::Result<Option<&'row [u8]>> {
        self.place += 1;
        Ok(self.row.get_ref(self.place - 1)?.as_blob_or_null()?)
    }
}
