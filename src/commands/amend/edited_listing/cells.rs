//! Compares cells with what was listed: numbers by value, dates by the day, text without blanks at its ends.
//! Layer: `commands`.

use crate::ingest::record::listing;
use crate::present::csv::harmless;
use crate::present::darwin_core::Value;

/// Whether a cell says what is listed: numbers by their value, with a decimal comma too; text without
/// blanks at its ends and without the apostrophe that keeps a spreadsheet from computing.
pub(super) fn same(cell: &str, listed: Option<&Value>) -> bool {
    match listed {
        None => cell.trim().is_empty(),
        Some(Value::Number(number)) => {
            number_of(cell).is_some_and(|own| (own - number).abs() <= 1e-9 * number.abs().max(1.0))
        }
        Some(Value::Text(text)) => same_text(cell, text),
    }
}

/// The same for text, also where the spreadsheet took it for a number (`0212` becomes 212) or a date.
pub(super) fn same_text(cell: &str, listed: &str) -> bool {
    let unified = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let own = unified(cell);
    if own == unified(listed) || own == unified(&harmless(listed)) {
        return true;
    }
    same_number(&own, listed.trim()) || same_day(&own, listed.trim())
}

/// Significant digits that a spreadsheet keeps, as a relative difference (common practice: 15).
const KEPT_DIGITS: f64 = 1e-14;

fn same_number(cell: &str, listed: &str) -> bool {
    let plain = |text: &str| {
        let figures = text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-'));
        if figures { number_of(text) } else { None }
    };
    // a spreadsheet writes long numbers with an exponent
    let own = plain(cell).or_else(|| cell.contains(['e', 'E']).then(|| number_of(cell)).flatten());
    own.zip(plain(listed)).is_some_and(|(a, b)| (a - b).abs() <= KEPT_DIGITS * b.abs())
}

/// Whether the listed text is a date, and the cell the same day in any form.
fn same_day(cell: &str, listed: &str) -> bool {
    let is_iso = listed.len() == 10 && listed.as_bytes()[4] == b'-' && listed.as_bytes()[7] == b'-';
    let Some(day) = is_iso.then(|| listed.parse().ok()).flatten() else { return false };
    listing::dates(cell).contains(&day)
}

/// A number, with a decimal comma too.
pub(super) fn number_of(cell: &str) -> Option<f64> {
    let cell = cell.trim().replace('\u{2212}', "-");
    let number = cell.parse().ok().or_else(|| cell.replacen(',', ".", 1).parse().ok());
    number.filter(|number: &f64| number.is_finite())
}

/// The text of a cell without the apostrophe of [`harmless`].
pub(super) fn plain(cell: &str) -> String {
    let cell = cell.trim();
    match cell.strip_prefix('\'') {
        Some(rest) if harmless(rest) == cell => rest.trim().to_owned(),
        _ => cell.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_spreadsheet_makes_of_cells_is_no_change() {
        for (cell, listed) in [
            ("212", "0212"),
            ("1.5", "1.50"),
            ("1,5", "1.50"),
            ("2.02605030012346E+16", "20260503001234567"),
            ("03/05/2026", "2026-05-03"),
            ("3 May 2026", "2026-05-03"),
            ("'=A1", "=A1"),
            (" wet  soil ", "wet soil"),
        ] {
            assert!(same_text(cell, listed), "{cell} {listed}");
        }
        for (cell, listed) in [
            ("213", "212"),
            ("1000000001", "1000000002"),
            ("04/06/2026", "2026-05-03"),
            ("", "0"),
            ("TH-17", "TH-017"),
            ("1-2", "12"),
        ] {
            assert!(!same_text(cell, listed), "{cell} {listed}");
        }
    }

    #[test]
    fn strange_cells_do_not_panic() {
        for cell in [
            "",
            "e",
            "E+",
            "\u{2212}",
            "----------",
            "1e999",
            "\u{e4}\u{e4}\u{e4}\u{e4}\u{e4}",
            "'",
        ] {
            assert!(!same_text(cell, "2026-05-03"));
            assert!(!same(cell, Some(&Value::Number(1.0))));
            plain(cell);
        }
    }
}
