//! Writes the value of a cell as a person would have typed it: 12 for 12.0, a date or a time for a
//! serial number of either date system. Layer: `ingest`.

use jiff::ToSpan;
use jiff::civil::{Date, date};

use super::formats::Shown;

const DAY: i64 = 86_400;
/// Days from the first to the second date system.
const BETWEEN: i64 = 1_462;
/// 31 December 9999.
const LAST: f64 = 2_958_466.0;

/// A number with 15 significant digits, as spreadsheets keep them.
pub(super) fn number(value: f64) -> String {
    let shortest = value.to_string();
    // at most 15 digits: rounding to 15 changes nothing
    if !value.is_finite() || shortest.bytes().filter(u8::is_ascii_digit).count() <= 15 {
        return shortest;
    }
    let rounded: f64 = format!("{value:.14e}").parse().unwrap_or(value);
    rounded.to_string()
}

/// A serial number of a date or time. `shown` says what the format of its cell displays.
pub(in super::super) fn serial(value: f64, from_1904: bool, shown: Shown) -> String {
    if !(0.0..LAST).contains(&value) {
        return number(value);
    }
    // common practice: 1904 counts from zero, 1900 from one
    let seconds = whole(value * DAY as f64);
    let (mut days, rest) = (seconds / DAY, seconds % DAY);
    if shown == Shown::Duration || (days == 0 && !from_1904) || shown == Shown::Time {
        let hours = if shown == Shown::Duration { seconds / 3600 } else { rest / 3600 };
        return format!("{hours:02}:{:02}:{:02}", rest / 60 % 60, rest % 60);
    }
    if from_1904 {
        if days == 0 && rest > 0 && shown != Shown::Date {
            return clock(rest);
        }
        days += BETWEEN;
    }
    let Some(date) = day(days) else { return number(value) };
    if rest == 0 || shown == Shown::Date {
        date.to_string()
    } else {
        format!("{date}T{}", clock(rest))
    }
}

/// Whole seconds, rounded.
#[allow(clippy::cast_possible_truncation, reason = "a cast from f64 saturates")]
fn whole(seconds: f64) -> i64 {
    seconds.round() as i64
}

fn clock(seconds: i64) -> String {
    format!("{:02}:{:02}:{:02}", seconds / 3600, seconds / 60 % 60, seconds % 60)
}

/// A time without its seconds, which are not shown.
pub(super) fn without_seconds(text: &str) -> String {
    match text.rsplit_once(':') {
        Some((minutes, seconds)) if seconds.len() == 2 && minutes.contains(':') => {
            minutes.to_owned()
        }
        _ => text.to_owned(),
    }
}

/// The day of the 1900 system, which counts a 29 February 1900 that never was.
fn day(days: i64) -> Option<Date> {
    match days {
        ..1 | 60 => None,
        1..60 => date(1899, 12, 31).checked_add(days.days()).ok(),
        _ => date(1899, 12, 30).checked_add(days.days()).ok(),
    }
}

/// A date with time in ISO 8601 as written into a cell; a time alone has the first day of the system.
pub(super) fn iso(text: &str) -> String {
    let text = text.trim().trim_end_matches('Z');
    let (date, time) = text.split_once('T').unwrap_or((text, ""));
    let time = time.split('.').next().unwrap_or(time);
    match (date, time.trim_matches(['0', ':']).is_empty()) {
        ("1899-12-30" | "1899-12-31" | "1904-01-01", false) => time.to_owned(),
        (_, true) => date.to_owned(),
        (_, false) => format!("{date}T{time}"),
    }
}

/// A length of time in ISO 8601, `PT14H05M00S`, as a time of day.
pub(super) fn duration(text: &str) -> String {
    let Some(parts) = text.trim().strip_prefix("PT") else { return text.trim().to_owned() };
    let mut values = [0.0_f64; 3];
    let mut digits = String::new();
    for c in parts.chars() {
        let place = match c {
            'H' => 0,
            'M' => 1,
            'S' => 2,
            c => {
                digits.push(if c == ',' { '.' } else { c });
                continue;
            }
        };
        values[place] = digits.parse().unwrap_or(0.0);
        digits.clear();
    }
    let seconds = whole(values[0] * 3600.0 + values[1] * 60.0 + values[2]);
    clock(seconds.max(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_as_typed() {
        for (value, text) in [
            (12.0, "12"),
            (0.1 + 0.2, "0.3"),
            (-42.512_34, "-42.51234"),
            (20_260_503.0, "20260503"),
            (1e-7, "0.0000001"),
        ] {
            assert_eq!(number(value), text);
        }
    }

    #[test]
    fn serial_numbers_of_both_systems() {
        let any = |value, from_1904| serial(value, from_1904, Shown::Unknown);
        assert_eq!(any(46_145.0, false), "2026-05-03");
        assert_eq!(any(44_683.0, true), "2026-05-03");
        assert_eq!(any(46_145.586_805_555_555, false), "2026-05-03T14:05:00");
        assert_eq!(any(44_683.586_805_555_555, true), "2026-05-03T14:05:00");
        assert_eq!(any(0.586_805_555_555, false), "14:05:00");
        assert_eq!(any(0.586_805_555_555, true), "14:05:00");
        assert_eq!(any(0.0, false), "00:00:00");
        assert_eq!(any(1.0, false), "1900-01-01");
        assert_eq!(any(61.0, false), "1900-03-01");
        assert_eq!(any(60.0, false), "60");
        assert_eq!(any(-3.0, false), "-3");
        assert_eq!(serial(1.586_805_6, false, Shown::Duration), "38:05:00");
        assert_eq!(serial(46_145.586_805_6, false, Shown::Time), "14:05:00");
        assert_eq!(serial(46_145.586_805_6, false, Shown::Date), "2026-05-03");
    }

    #[test]
    fn texts_of_dates_and_times() {
        assert_eq!(iso("2026-05-03T00:00:00"), "2026-05-03");
        assert_eq!(iso("2026-05-03T14:05:00.000Z"), "2026-05-03T14:05:00");
        assert_eq!(iso("1899-12-30T14:05:00"), "14:05:00");
        assert_eq!(duration("PT14H05M00S"), "14:05:00");
        assert_eq!(duration("PT14H05M00.0000001S"), "14:05:00");
        assert_eq!(duration("soon"), "soon");
    }
}
