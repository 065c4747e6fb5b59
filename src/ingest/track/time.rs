//! Parses the time of a point. The fixed form of XML times has its own parser, since every fix of a
//! track has one; other forms go to `jiff`. Refuses a date without a time. Layer: `ingest`.

use crate::units::{TimeZone, Timestamp, WallClock};

/// An instant as written in a file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ReadTime {
    /// The instant.
    pub(super) instant: Timestamp,
    /// Whether the text had no zone, so that UTC was assumed.
    pub(super) zone_assumed: bool,
}

/// Parses an instant; `None` where the text is not one.
///
/// Takes `2026-05-03T04:05:06Z` with any number of decimals after a point or a comma, an offset in
/// place of `Z`, small letters, a space for the `T`, 24:00:00, and second 60 of a leap second,
/// which becomes the first second after it.
///
/// # References
/// W3C, XML Schema Part 2: Datatypes, 3.2.7 `dateTime`.
pub(super) fn read(text: &str) -> Option<ReadTime> {
    by_hand(text.as_bytes()).or_else(|| by_library(text)).or_else(|| {
        // 2026/05/02 07:00:00+00, as some libraries write it into tables
        let slashes = text.as_bytes().get(..10)?;
        let dated = slashes[4] == b'/' && slashes[7] == b'/';
        dated.then(|| by_hand(text.replacen('/', "-", 2).as_bytes()))?
    })
}

fn by_hand(text: &[u8]) -> Option<ReadTime> {
    let (fixed, rest) = text.split_at_checked(19)?;
    let marks = [fixed[4], fixed[7], fixed[13], fixed[16]];
    if marks != *b"--::" || !matches!(fixed[10], b'T' | b't' | b' ') {
        return None;
    }
    let year = i64::from(two(fixed, 0)?) * 100 + i64::from(two(fixed, 2)?);
    let (month, day) = (two(fixed, 5)?, two(fixed, 8)?);
    let (hour, minute, second) = (two(fixed, 11)?, two(fixed, 14)?, two(fixed, 17)?);
    if !(1..=12).contains(&month) || day == 0 || day > days_in(year, month) {
        return None;
    }
    if minute > 59 || second > 60 || hour > 24 || (hour == 24 && (minute, second) != (0, 0)) {
        return None;
    }
    let (nanosecond, rest) = fraction(rest)?;
    if hour == 24 && nanosecond != 0 {
        return None;
    }
    let offset = offset(rest)?;
    let clock = i64::from(hour) * 3600 + i64::from(minute) * 60 + i64::from(second);
    let seconds = days_since_1970(year, month, day) * 86_400 + clock - offset.unwrap_or(0);
    let instant = Timestamp::new(seconds, nanosecond).ok()?;
    Some(ReadTime { instant, zone_assumed: offset.is_none() })
}

fn two(text: &[u8], at: usize) -> Option<u8> {
    let (tens, ones) = (text[at].wrapping_sub(b'0'), text[at + 1].wrapping_sub(b'0'));
    (tens < 10 && ones < 10).then(|| tens * 10 + ones)
}

/// Nanoseconds, and the rest of the text. Decimals beyond the ninth are cut off.
fn fraction(text: &[u8]) -> Option<(i32, &[u8])> {
    let Some((b'.' | b',', digits)) = text.split_first() else { return Some((0, text)) };
    let count = digits.iter().take_while(|byte| byte.is_ascii_digit()).count();
    if count == 0 {
        return None;
    }
    let kept = &digits[..count.min(9)];
    let value = kept.iter().fold(0, |sum, byte| sum * 10 + i32::from(byte - b'0'));
    let places = u32::try_from(9 - kept.len()).unwrap_or(0);
    Some((value * 10_i32.pow(places), &digits[count..]))
}

/// Seconds east of UTC; the inner `None` where not stated.
#[allow(clippy::option_option, reason = "unreadable and unsaid are two things")]
fn offset(text: &[u8]) -> Option<Option<i64>> {
    let sign = match text {
        [] => return Some(None),
        [b'Z' | b'z'] => return Some(Some(0)),
        [b'+', ..] => 1,
        [b'-', ..] => -1,
        _ => return None,
    };
    let (hours, minutes) = match text.len() {
        6 if text[3] == b':' => (two(text, 1)?, two(text, 4)?),
        5 => (two(text, 1)?, two(text, 3)?),
        3 => (two(text, 1)?, 0),
        _ => return None,
    };
    (hours <= 18 && minutes <= 59)
        .then(|| Some(sign * (i64::from(hours) * 3600 + i64::from(minutes) * 60)))
}

fn days_in(year: i64, month: u8) -> u8 {
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        _ => 31,
    }
}

/// Days from 1970-01-01 in the Gregorian calendar: whole days before the year, before the month
/// (counted from March, so that a leap day comes last), and of the month.
fn days_since_1970(year: i64, month: u8, day: u8) -> i64 {
    let (years, months) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let before_year =
        years * 365 + years.div_euclid(4) - years.div_euclid(100) + years.div_euclid(400);
    let before_month = (i64::from(months) * 153 + 2) / 5;
    before_year + before_month + i64::from(day) - 719_469
}

fn by_library(text: &str) -> Option<ReadTime> {
    if let Ok(instant) = text.parse::<Timestamp>() {
        return Some(ReadTime { instant, zone_assumed: false });
    }
    // a bare date parses too, as its midnight, which the file does not say
    if !text.contains(':') && !text.contains(['T', 't']) {
        return None;
    }
    let clock: WallClock = text.parse().ok()?;
    let instant = TimeZone::UTC.to_ambiguous_timestamp(clock).compatible().ok()?;
    Some(ReadTime { instant, zone_assumed: true })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        read(text).map_or("none".into(), |time| {
            format!("{}{}", time.instant, if time.zone_assumed { " assumed" } else { "" })
        })
    }

    #[test]
    fn the_usual_and_the_unusual_forms_are_read() {
        assert_eq!(shown("2026-05-03T04:05:06Z"), "2026-05-03T04:05:06Z");
        assert_eq!(shown("2026-05-03t04:05:06z"), "2026-05-03T04:05:06Z");
        assert_eq!(shown("2026-05-03 04:05:06.25Z"), "2026-05-03T04:05:06.25Z");
        assert_eq!(shown("2026-05-03T04:05:06,1234567899Z"), "2026-05-03T04:05:06.123456789Z");
        assert_eq!(shown("2026-05-03T04:05:06+10:00"), "2026-05-02T18:05:06Z");
        assert_eq!(shown("2026-05-03T04:05:06-0330"), "2026-05-03T07:35:06Z");
        assert_eq!(shown("2026-05-03T04:05:06+10"), "2026-05-02T18:05:06Z");
        assert_eq!(shown("2026-05-03T04:05:06"), "2026-05-03T04:05:06Z assumed");
        assert_eq!(shown("2026-05-03T24:00:00Z"), "2026-05-04T00:00:00Z");
        assert_eq!(shown("2016-12-31T23:59:60Z"), "2017-01-01T00:00:00Z");
        assert_eq!(shown("20260503T040506Z"), "2026-05-03T04:05:06Z");
        assert_eq!(shown("2026-05-03T04:05Z"), "2026-05-03T04:05:00Z");
        assert_eq!(shown("2026/05/03 04:05:06+00"), "2026-05-03T04:05:06Z");
        assert_eq!(shown("2024-02-29T00:00:00Z"), "2024-02-29T00:00:00Z");
        assert_eq!(shown("1969-12-31T23:59:59.5Z"), "1969-12-31T23:59:59.5Z");
    }

    #[test]
    fn times_that_do_not_exist_are_refused() {
        for text in [
            "",
            "2026-05-03",
            "2026-13-03T04:05:06Z",
            "2026-02-29T04:05:06Z",
            "2026-00-01T00:00:00Z",
            "2026-05-03T25:00:00Z",
            "2026-05-03T24:00:01Z",
            "2026-05-03T04:61:00Z",
            "2\u{7f}26-05-03T04:05:06Z",
            "yesterday",
            "2026-05-03T04:05:06.Z",
            "2026-05-03T04:05:06+99:00",
            "2026-05-03T04:05:06Zulu",
            "é026-05-03T04:05:06Z",
            "2026-05-03T04:05:0é",
        ] {
            assert_eq!(shown(text), "none", "{text}");
        }
    }

    #[test]
    fn the_hand_reader_agrees_with_the_library_on_every_day_of_eight_centuries() {
        let mut day = jiff::civil::date(1700, 1, 1);
        while day.year() < 2500 {
            let text = format!("{day}T12:34:56.5Z");
            let expected: Timestamp = text.parse().unwrap();
            assert_eq!(by_hand(text.as_bytes()).map(|time| time.instant), Some(expected), "{text}");
            day = day.tomorrow().unwrap();
        }
    }
}
