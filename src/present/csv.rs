//! How do finds look as a table of comma-separated values, with the names of Darwin Core? A cell that
//! a spreadsheet would run as a formula is made plain text. Layer: `present`.

use csv::{Terminator, WriterBuilder};

use super::darwin_core::{self, TERMS, Value};
use crate::model::KeptFind;

/// The finds, one line each under the headings of [`TERMS`]; UTF-8, commas, CR LF.
///
/// # References
/// RFC 4180 (2005), Common Format for Comma-Separated Values Files.
#[must_use]
pub fn finds(finds: &[KeptFind]) -> String {
    let rows = finds.iter().map(|find| {
        let terms = darwin_core::occurrence(find);
        let cell = |heading: &&str| {
            let value = terms.iter().find(|(term, _)| term == heading);
            value.map_or_else(String::new, |(_, value)| cell(value))
        };
        TERMS.iter().map(cell).collect()
    });
    table(&TERMS, rows)
}

/// A table with these headings.
pub(crate) fn table(headings: &[&str], rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    // Writing into memory cannot fail, and all rows have the length of the headings.
    let _ = writer.write_record(headings);
    for row in rows {
        let _ = writer.write_record(row);
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

fn cell(value: &Value) -> String {
    match value {
        Value::Text(text) => harmless(text),
        Value::Number(number) => number.to_string(),
    }
}

/// The text with an apostrophe in front where a spreadsheet would take it for a formula.
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
    fn formulas_are_made_plain_and_numbers_stay_numbers() {
        assert_eq!(harmless("=HYPERLINK(\"x\")"), "'=HYPERLINK(\"x\")");
        assert_eq!(harmless("@SUM(A1)"), "'@SUM(A1)");
        assert_eq!(harmless("\t=1"), "'\t=1");
        assert_eq!(harmless("+61 3 cm"), "'+61 3 cm");
        assert_eq!(harmless("-42.5"), "-42.5");
        assert_eq!(harmless("-inf"), "'-inf");
        assert_eq!(harmless("caps = brown"), "caps = brown");
    }
}
