//! Formats tables for a terminal: columns align in any script and are readable without colour and when
//! piped. Layer: `present`.
//!
//! Widths are counted in columns of a terminal, not in characters: letters of East Asia take two, combining marks
//! none.

use std::fmt;

use unicode_width::UnicodeWidthStr;

use crate::error::visible_line;

/// A table of text under headings.
#[derive(Clone, Debug)]
pub struct Table {
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
    indent: usize,
}

/// A column: its heading and alignment.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    heading: &'static str,
    side: Side,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Left,
    Right,
}

impl Column {
    /// Left-aligned, for text.
    #[must_use]
    pub fn left(heading: &'static str) -> Self {
        Self { heading, side: Side::Left }
    }

    /// Right-aligned, for numbers.
    #[must_use]
    pub fn right(heading: &'static str) -> Self {
        Self { heading, side: Side::Right }
    }
}

impl Table {
    /// An empty table.
    #[must_use]
    pub fn new(columns: impl Into<Vec<Column>>) -> Self {
        Self { columns: columns.into(), rows: Vec::new(), indent: 0 }
    }

    /// The same table indented by this many spaces.
    #[must_use]
    pub fn indented(mut self, spaces: usize) -> Self {
        self.indent = spaces;
        self
    }

    /// Adds a row; missing cells are empty, surplus cells are ignored.
    pub fn row<T: Into<String>>(&mut self, cells: impl IntoIterator<Item = T>) {
        let mut cells: Vec<String> =
            cells.into_iter().map(|cell| one_line(&cell.into())).take(self.columns.len()).collect();
        cells.resize(self.columns.len(), String::new());
        self.rows.push(cells);
    }

    fn widths(&self) -> Vec<usize> {
        (0..self.columns.len())
            .map(|index| {
                let cells = self.rows.iter().map(|row| row[index].width()).max().unwrap_or(0);
                cells.max(self.columns[index].heading.width())
            })
            .collect()
    }

    fn line<'a>(&self, cells: impl Iterator<Item = &'a str>, widths: &[usize]) -> String {
        let mut line = " ".repeat(self.indent);
        for ((cell, column), width) in cells.zip(&self.columns).zip(widths) {
            let space = " ".repeat(width.saturating_sub(cell.width()));
            match column.side {
                Side::Left => line.extend([cell, &space]),
                Side::Right => line.extend([&space, cell]),
            }
            line.push_str("  ");
        }
        line.truncate(line.trim_end().len());
        line
    }
}

/// Line breaks become spaces, other control characters are made visible.
fn one_line(text: &str) -> String {
    visible_line(&text.replace(['\n', '\r', '\t'], " ")).into_owned()
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let widths = self.widths();
        writeln!(f, "{}", self.line(self.columns.iter().map(|column| column.heading), &widths))?;
        let rule: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
        writeln!(f, "{}", self.line(rule.iter().map(String::as_str), &widths))?;
        for row in &self.rows {
            writeln!(f, "{}", self.line(row.iter().map(String::as_str), &widths))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_align_in_any_script() {
        let mut table = Table::new([Column::left("name"), Column::right("radius")]);
        table.row(["Mycena", "7 m"]);
        table.row(["茸", "12 m"]);
        assert_eq!(
            table.to_string(),
            "name    radius\n------  ------\nMycena     7 m\n茸        12 m\n"
        );
    }

    #[test]
    fn a_line_break_in_a_cell_does_not_break_the_table() {
        let mut table = Table::new([Column::left("notes")]);
        table.row(["two\nlines\u{1b}[31m"]);
        assert_eq!(table.to_string().lines().count(), 3);
        assert!(table.to_string().contains("two lines\\u001b[31m"));
    }
}
