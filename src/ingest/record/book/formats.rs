//! What the number format of a cell shows: the date, the time, leading zeros, fixed decimals. Reads
//! the format codes that change what a person typed; others leave the number as it is.
//! Layer: `ingest`.

use jiff::civil::Date;

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

/// Whether a format code of times shows no seconds.
pub(super) fn hides_seconds(code: &str) -> bool {
    let code = bare(code);
    code.contains('h') && !code.contains('s')
}

/// What a format code that shows a part of a date only shows of this one; `None` where it shows all.
pub(super) fn part_of_date(date: Date, code: &str) -> Option<String> {
    let plain = bare(code);
    let (day, year) = (plain.contains('d'), plain.contains('y'));
    if day && year && plain.contains('m')
        || plain.contains(['h', 's'])
        || !(day || year || plain.contains('m'))
    {
        return None;
    }
    let mut shown = String::new();
    let mut chars = plain.chars().peekable();
    while let Some(c) = chars.next() {
        let mut count = 1;
        while matches!(c, 'd' | 'm' | 'y') && chars.next_if_eq(&c).is_some() {
            count += 1;
        }
        let code = match (c, count) {
            ('d', 1) => "%-d",
            ('d', 2) => "%d",
            ('d', 3) => "%a",
            ('d', _) => "%A",
            ('m', 1) => "%-m",
            ('m', 2) => "%m",
            ('m', 4) => "%B",
            ('m', _) => "%b",
            ('y', 1 | 2) => "%y",
            ('y', _) => "%Y",
            ('@', _) => "",
            (c, _) => {
                shown.push(c);
                ""
            }
        };
        shown.push_str(&date.strftime(code).to_string());
    }
    Some(shown.trim().to_owned())
}

/// A date whose format shows no day: only month and year, or the year, where it is the first day of them.
pub(super) fn without_day(date: Date, code: &str) -> Option<String> {
    let plain = bare(code);
    if plain.contains('d') || !plain.contains('y') || date.day() != 1 {
        return None;
    }
    if plain.contains('m') {
        Some(date.strftime("%Y-%m").to_string())
    } else {
        (date.month() == 1).then(|| date.strftime("%Y").to_string())
    }
}

/// The first section in lower case without quoted texts and colours.
fn bare(code: &str) -> String {
    let mut bare = String::new();
    let mut chars = code.chars();
    while let Some(c) = chars.next() {
        match c {
            '"' => drop(chars.by_ref().find(|c| *c == '"')),
            '_' | '*' => drop(chars.next()),
            '\\' => bare.extend(chars.next().filter(|c| !c.is_alphabetic())),
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

/// `0000`, `"TH-"0000`, `00-0000`, `0.00000`: never fewer digits than the value has.
fn fixed(value: f64, code: &str) -> Option<String> {
    let code = Code::of(code)?;
    let text = cell::number(value);
    let (integer, fraction) = text.split_once('.').unwrap_or((&text, ""));
    let is_divided = code.is_divided();
    if value < 0.0 && (code.sections > 1 || code.zeros() > 1 || is_divided)
        || value == 0.0 && code.sections > 2
        || is_divided && (code.decimals.is_some() || !fraction.is_empty())
        || text.contains(['e', 'E'])
    {
        return None;
    }
    let mut number = code.integer(integer);
    let decimals = code.decimals.unwrap_or(0);
    if decimals.max(fraction.len()) > 0 {
        number = format!("{number}.{fraction:0<decimals$}");
    }
    Some(format!("{}{number}{}", code.before, code.behind))
}

/// A part of the whole number in a format code.
enum Part {
    /// A digit, which is shown as zero where the number has none, or not.
    Digit(bool),
    Text(String),
}

/// A format code of zeros and texts around and between them.
#[derive(Default)]
struct Code {
    before: String,
    parts: Vec<Part>,
    decimals: Option<usize>,
    behind: String,
    /// How many sections the code has: for positive and negative numbers, zero and texts.
    sections: usize,
}

impl Code {
    /// `None` where the code says anything else: thousands, per cent, fractions, conditions.
    fn of(code: &str) -> Option<Self> {
        let mut own = Self { sections: 1, ..Self::default() };
        let mut chars = code.chars();
        let mut is_behind = false;
        while let Some(c) = chars.next() {
            let begun = !own.parts.is_empty();
            match c {
                '"' => own
                    .text(&chars.by_ref().take_while(|c| *c != '"').collect::<String>(), is_behind),
                '\\' => own.text(chars.next()?.encode_utf8(&mut [0; 4]), is_behind),
                // the width of a letter, and a letter that fills the cell
                '_' | '*' => drop(chars.next()),
                '[' => {
                    let inner: String = chars.by_ref().take_while(|c| *c != ']').collect();
                    let is_colour = inner.chars().all(char::is_alphabetic);
                    // the language of a format
                    if !(is_colour || inner.starts_with("$-")) {
                        return None;
                    }
                }
                '0' | '#' => match own.decimals.as_mut() {
                    Some(_) if is_behind => return None,
                    Some(decimals) => *decimals += usize::from(c == '0'),
                    None => own.parts.push(Part::Digit(c == '0')),
                },
                '.' if begun && own.decimals.is_none() => own.decimals = Some(0),
                '-' | ' ' => own.text(c.encode_utf8(&mut [0; 4]), is_behind),
                ';' => {
                    own.sections += 1 + chars.by_ref().filter(|c| *c == ';').count();
                    break;
                }
                _ => return None,
            }
            is_behind |= own.decimals.is_some() && !matches!(c, '0' | '#' | '.');
        }
        own.end();
        let digits = own.parts.iter().any(|part| matches!(part, Part::Digit(_)));
        let shows = own.zeros() > 0 || !own.before.is_empty() || !own.behind.is_empty();
        (digits && shows).then_some(own)
    }

    fn text(&mut self, text: &str, is_behind: bool) {
        if self.parts.is_empty() {
            self.before.push_str(text);
        } else if is_behind || self.decimals.is_some() {
            self.behind.push_str(text);
        } else {
            self.parts.push(Part::Text(text.to_owned()));
        }
    }

    /// Takes texts behind the last digit out of the number.
    fn end(&mut self) {
        let last = self.parts.iter().rposition(|part| matches!(part, Part::Digit(_)));
        let behind = self.parts.split_off(last.map_or(0, |last| last + 1));
        for part in behind.into_iter().rev() {
            if let Part::Text(text) = part {
                self.behind.insert_str(0, &text);
            }
        }
    }

    fn zeros(&self) -> usize {
        self.parts.iter().filter(|part| matches!(part, Part::Digit(true))).count()
    }

    /// Whether texts stand between the digits.
    fn is_divided(&self) -> bool {
        self.parts.iter().any(|part| matches!(part, Part::Text(_)))
    }

    /// The digits of a whole number in their places, from the last one on; the first place takes what is left.
    fn integer(&self, integer: &str) -> String {
        let mut left = integer;
        let first = self.parts.iter().position(|part| matches!(part, Part::Digit(_)));
        let mut shown: Vec<&str> = Vec::new();
        for (place, part) in self.parts.iter().enumerate().rev() {
            match part {
                Part::Text(text) => shown.push(text),
                Part::Digit(_) if Some(place) == first && !left.is_empty() => {
                    shown.push(left);
                    left = "";
                }
                Part::Digit(required) => match left.len().checked_sub(1) {
                    Some(end) => {
                        shown.push(&left[end..]);
                        left = &left[..end];
                    }
                    None if *required => shown.push("0"),
                    None => {}
                },
            }
        }
        shown.reverse();
        shown.concat()
    }
}

/// Whether a format code shows numbers in another way than as typed.
pub(super) fn is_fixed(code: &str) -> bool {
    code != "0" && Code::of(code).is_some()
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
            (17.0, "0000;-0000", "0017"),
            (17.0, "0000;[Red]-0000;0000;@", "0017"),
            (17.0, "[$-407]0000", "0017"),
            (17.0, "0000_)", "0017"),
            (17.0, "#0000", "0017"),
            (260_017.0, "00-0000", "26-0017"),
            (17.0, "00\\-0000", "00-0017"),
            (1_234_567.0, "00-0000", "123-4567"),
            (17.0, "\"TH \"#", "TH 17"),
            (17.5, "00-0000", "17.5"),
            (-17.0, "0000", "-17"),
            (1234.5, "#,##0.00", "1234.5"),
            (5.0, "#", "5"),
            (0.000_01, "0.000E+00", "0.00001"),
        ] {
            assert_eq!(number(value, code), expected, "{code}");
        }
    }

    #[test]
    fn dates_of_which_a_part_is_shown() {
        let (first, third) = (jiff::civil::date(2025, 10, 1), jiff::civil::date(2025, 3, 3));
        for (date, code, part, no_day) in [
            (first, "mmm yy", Some("Oct 25"), Some("2025-10")),
            (first, "mmmm\\ yyyy", Some("October 2025"), Some("2025-10")),
            (third, "mmm-yy", Some("Mar-25"), None),
            (third, "d. mmm", Some("3. Mar"), None),
            (third, "dd.mm.", Some("03.03."), None),
            (third, "dd.mm.yyyy", None, None),
            (first, "dd.mm.yyyy", None, None),
        ] {
            assert_eq!(part_of_date(date, code).as_deref(), part, "{code}");
            assert_eq!(without_day(date, code).as_deref(), no_day, "{code}");
        }
        assert!(
            hides_seconds("hh:mm") && hides_seconds("d.m.yyyy h:mm") && !hides_seconds("hh:mm:ss")
        );
    }
}
