//! Writes finds as comma-separated values with Darwin Core terms. Cells that a spreadsheet would run as
//! a formula are escaped. Layer: `present`.

use std::io::{self, Write};

use csv::{Terminator, WriterBuilder};

use super::darwin_core::{self, TERMS, Value};
use super::exchange::{self, Exchange};
use super::track_line::TrackLine;
use crate::model::KeptFind;

/// The finds, one line each under the headings of [`TERMS`]; UTF-8, commas, CR LF.
///
/// Text of users passes through [`harmless`]. Finds without a position keep their row, with empty cells.
///
/// # Examples
/// ```
/// use trug::present::csv;
///
/// let headings = csv::finds(&[]);
/// assert!(headings.contains("decimalLatitude,decimalLongitude"));
/// assert_eq!(headings.lines().count(), 1);
/// ```
///
/// # References
/// RFC 4180 (2005), Common Format for Comma-Separated Values Files.
#[must_use]
pub fn finds(finds: &[KeptFind]) -> String {
    exchange::into_text(|bytes| Box::new(Table::new(bytes)), finds, &[])
}

/// A table that is written row by row. Tracks are ignored.
///
/// Memory holds one row: half a million exact finds take at most 92 MB in all (`docs/exchange.md`).
#[derive(Debug)]
pub struct Table<W: Write> {
    writer: csv::Writer<W>,
    begun: bool,
}

impl<W: Write> Table<W> {
    /// Creates an empty document.
    pub fn new(out: W) -> Self {
        let writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(out);
        Self { writer, begun: false }
    }

    fn begin(&mut self) -> io::Result<()> {
        if self.begun {
            return Ok(());
        }
        self.begun = true;
        Ok(self.writer.write_record(TERMS)?)
    }
}

impl<W: Write> Exchange for Table<W> {
    fn find(&mut self, find: &KeptFind) -> io::Result<()> {
        self.begin()?;
        let terms = darwin_core::occurrence(find);
        let cells = TERMS.iter().map(|heading| {
            let value = terms.iter().find(|(term, _)| term == heading);
            value.map_or_else(String::new, |(_, value)| cell(value))
        });
        Ok(self.writer.write_record(cells)?)
    }

    fn track(&mut self, _: &TrackLine) -> io::Result<()> {
        Ok(())
    }

    fn end(mut self: Box<Self>) -> io::Result<()> {
        self.begin()?;
        self.writer.flush()
    }
}

fn cell(value: &Value) -> String {
    match value {
        Value::Text(text) => harmless(text),
        Value::Number(number) => number.to_string(),
    }
}

/// The text with a leading apostrophe where a spreadsheet would run it as a formula.
///
/// A number stays as it is, also a negative one.
///
/// # Examples
/// ```
/// use trug::present::csv::harmless;
///
/// assert_eq!(harmless("=SUM(A1:A9)"), "'=SUM(A1:A9)");
/// assert_eq!(harmless("-42.5"), "-42.5");
/// assert_eq!(harmless("smell of flour"), "smell of flour");
/// ```
///
/// # References
/// The characters are those that spreadsheets start a formula with: `=`, `+`, `-`, `@`, and a tab or
/// line end before one of them (common practice).
#[must_use]
pub fn harmless(text: &str) -> String {
    let formula = text.starts_with([
        '=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
    ]);
    let number = text.trim().parse::<f64>().is_ok_and(f64::is_finite);
    if formula && !number { format!("'{text}") } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_escaped_and_numbers_are_not() {
        assert_eq!(harmless("=HYPERLINK(\"x\")"), "'=HYPERLINK(\"x\")");
        assert_eq!(harmless("@SUM(A1)"), "'@SUM(A1)");
        assert_eq!(harmless("\t=1"), "'\t=1");
        assert_eq!(harmless("+61 3 cm"), "'+61 3 cm");
        assert_eq!(harmless("-42.5"), "-42.5");
        assert_eq!(harmless("-inf"), "'-inf");
        assert_eq!(harmless("caps = brown"), "caps = brown");
    }
}
