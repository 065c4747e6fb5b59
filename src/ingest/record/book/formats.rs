//! What the number format of a cell shows: the date, the time, leading zeros, fixed decimals. Reads
//! the format codes that change what a person typed; others leave the number as it is.
//! Layer: `ingest`.

use super::cell;

/// What the format of a date shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in super::super) enum Shown {
    #[default]
    Unknown,
    Date,
    Time,
    Both,
    /// Hours beyond a day.
    Duration,
}

/// What a format code of a date shows.
pub(super) fn shown(code: &str) -> Shown {
    let code = bare(code);
    if ["[h", "[m", "[s"].iter().any(|mark| code.contains(mark)) {
        return Shown::Duration;
    }
    let date = code.contains(['y', 'd']) || code.contains("mmm");
    let time = code.contains(['h', 's']);
    match (date, time) {
        (true, true) => Shown::Both,
        (true, false) => Shown::Date,
        (false, true) => Shown::Time,
        (false, false) => Shown::Unknown,
    }
}

/// The first section in lower case without quoted texts and colours.
fn bare(code: &str) -> String {
    let mut bare = String::new();
    let mut chars = code.chars();
    while let Some(c) = chars.next() {
        match c {
            '"' => drop(chars.by_ref().find(|c| *c == '"')),
            '\\' | '_' | '*' => drop(chars.next()),
            ';' => break,
            '[' => {
                let inner: String = chars.by_ref().take_while(|c| *c != ']').collect();
                let inner = inner.to_lowercase();
                let unit = !inner.is_empty() && inner.chars().all(|c| matches!(c, 'h' | 'm' | 's'));
                if unit {
                    bare.push('[');
                    bare.push_str(&inner);
                }
            }
            c => bare.extend(c.to_lowercase()),
        }
    }
    bare
}

/// A number as its format shows it, where that is zeros and texts around it; otherwise as typed.
pub(super) fn number(value: f64, code: &str) -> String {
    fixed(value, code).unwrap_or_else(|| cell::number(value))
}

/// `0000`, `"TH-"0000`, `0.00000`: never fewer digits than the value has.
fn fixed(value: f64, code: &str) -> Option<String> {
    let mut shown = [String::new(), String::new()];
    let (mut whole, mut decimals, mut place, mut after) = (0_usize, 0_usize, 0, false);
    let mut chars = code.chars();
    while let Some(c) = chars.next() {
        let number_begun = whole > 0;
        if number_begun && !matches!(c, '0' | '.') {
            place = 1;
        }
        match c {
            '"' => shown[place].extend(chars.by_ref().take_while(|c| *c != '"')),
            '\\' => shown[place].push(chars.next()?),
            '0' if place == 1 && number_begun && !after => return None,
            '0' if after => decimals += 1,
            '0' => whole += 1,
            '.' if number_begun && !after => after = true,
            '-' | ' ' => shown[place].push(c),
            _ => return None,
        }
    }
    if whole == 0 || value < 0.0 && whole > 1 {
        return None;
    }
    let text = cell::number(value);
    let (integer, fraction) = text.split_once('.').unwrap_or((&text, ""));
    let [before, behind] = shown;
    let mut number = format!("{before}{integer:0>whole$}");
    if decimals.max(fraction.len()) > 0 {
        number = format!("{number}.{fraction:0<decimals$}");
    }
    Some(number + &behind)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn format_codes_of_dates_and_times() {
        for (code, expected) in [
            ("dd/mm/yyyy", Shown::Date),
            ("[$-407]d. mmmm yyyy;@", Shown::Date),
            ("h:mm", Shown::Time),
            ("[h]:mm:ss", Shown::Duration),
            ("m/d/yy h:mm", Shown::Both),
            ("General", Shown::Unknown),
            ("\"day\" 0", Shown::Unknown),
        ] {
            assert_eq!(shown(code), expected, "{code}");
        }
    }

    #[test]
    fn zeros_and_texts_of_a_format_are_kept() {
        for (value, code, expected) in [
            (7.0, "0000", "0007"),
            (7.0, "\"TH-\"0000", "TH-0007"),
            (412.0, "0\" m\"", "412 m"),
            (-42.5, "0.00000", "-42.50000"),
            (42.512_345_6, "0.000", "42.5123456"),
            (12.0, "General", "12"),
            (1234.0, "#,##0", "1234"),
            (0.5, "0%", "0.5"),
            (12.0, "0", "12"),
        ] {
            assert_eq!(number(value, code), expected, "{code}");
        }
    }
}
