//! Reads the time at which the camera took the photograph: local time, fraction of a second and
//! stated offset from UTC. Never assumes a zone. Layer: `ingest`.
//!
//! An offset that the camera states is kept beside its reading and not applied to it: whether it is right is
//! decided with all photographs of the day.

use exif::Tag;
use jiff::civil::{Date, DateTime};
use jiff::tz::Offset;

use super::tags::Tags;

/// The three times of an Exif header with their fractions and offsets, the best first.
const TIMES: [(Tag, Tag, Tag, &str); 3] = [
    (Tag::DateTimeOriginal, Tag::SubSecTimeOriginal, Tag::OffsetTimeOriginal, "taken"),
    (Tag::DateTimeDigitized, Tag::SubSecTimeDigitized, Tag::OffsetTimeDigitized, "digitised"),
    (Tag::DateTime, Tag::SubSecTime, Tag::OffsetTime, "last changed"),
];

/// The time of a photograph as its camera wrote it.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Moment {
    pub(super) taken: Option<DateTime>,
    pub(super) offset: Option<Offset>,
}

/// Reads the best of the times that the header holds.
pub(super) fn read(tags: &Tags<'_>, remarks: &mut Vec<String>) -> Moment {
    for (index, (time, fraction, offset, name)) in TIMES.into_iter().enumerate() {
        let Some(written) = tags.text(time) else { continue };
        let Some((clock, inline)) = clock(&written) else {
            remarks.push(unreadable(name, &written));
            continue;
        };
        if index > 0 {
            remarks.push(format!("its header has only the time at which it was {name}: {written}"));
        }
        let nanosecond = tags.text(fraction).and_then(|digits| nanoseconds(&digits, remarks));
        let taken = match nanosecond {
            Some(nanosecond) => clock.with().subsec_nanosecond(nanosecond).build().unwrap_or(clock),
            None => clock,
        };
        let offset = claimed_offset(tags, offset, remarks).or(inline);
        return Moment { taken: Some(taken), offset };
    }
    if remarks.is_empty() {
        remarks.push("its header has no time".into());
    }
    Moment::default()
}

fn unreadable(name: &str, written: &str) -> String {
    if is_unset(written) {
        format!("the camera's clock was not set (time {name}: {written})")
    } else {
        format!("the time {name} is not valid: {written}")
    }
}

fn is_unset(written: &str) -> bool {
    written.chars().all(|c| !c.is_ascii_digit() || c == '0')
}

/// `2026:05:03 09:12:30` and common deviations: other separators, no seconds, a fraction, an offset
/// at the end.
fn clock(written: &str) -> Option<(DateTime, Option<Offset>)> {
    let (year, rest) = number(written)?;
    let (month, rest) = number(after_mark(rest)?)?;
    let (day, rest) = number(after_mark(rest)?)?;
    let (hour, rest) = number(rest.trim_start_matches([' ', 'T', 't', ':']))?;
    let (minute, rest) = number(after_mark(rest)?)?;
    let (second, rest) = match after_mark(rest).and_then(number) {
        Some((second, rest)) => (second, rest),
        None => (0, rest),
    };
    let (nanosecond, rest) = match rest.strip_prefix(['.', ',']).and_then(digits) {
        Some((fraction, rest)) => (whole_nanoseconds(fraction), rest),
        None => (0, rest),
    };
    let small = |value: i32| i8::try_from(value).ok();
    let date = Date::new(i16::try_from(year).ok()?, small(month)?, small(day)?).ok()?;
    if !(1826..=2100).contains(&date.year()) {
        return None;
    }
    // a leap second is written as the last one that a wall clock has
    let second = small(second)?.min(if second == 60 { 59 } else { 99 });
    let time = jiff::civil::Time::new(small(hour)?, small(minute)?, second, nanosecond).ok()?;
    Some((date.to_datetime(time), offset(rest.trim())))
}

fn after_mark(text: &str) -> Option<&str> {
    text.strip_prefix([':', '-', '/', '.'])
}

fn digits(text: &str) -> Option<(&str, &str)> {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    (end > 0).then(|| text.split_at(end))
}

fn number(text: &str) -> Option<(i32, &str)> {
    let (digits, rest) = digits(text.trim_start_matches(' '))?;
    Some((digits.parse().ok()?, rest))
}

/// The digits of a fraction: `5` is half a second, `05` a twentieth.
fn nanoseconds(fraction: &str, remarks: &mut Vec<String>) -> Option<i32> {
    if let Some((figures, "")) = digits(fraction) {
        return Some(whole_nanoseconds(figures));
    }
    remarks.push(format!("its fraction of a second is not a number: {fraction}"));
    None
}

fn whole_nanoseconds(figures: &str) -> i32 {
    let nine: String = figures.chars().chain("000000000".chars()).take(9).collect();
    nine.parse().unwrap_or(0)
}

/// The offset of this time, otherwise one of the others.
fn claimed_offset(tags: &Tags<'_>, own: Tag, remarks: &mut Vec<String>) -> Option<Offset> {
    let others = TIMES.iter().map(|time| time.2).filter(|&tag| tag != own);
    for tag in std::iter::once(own).chain(others) {
        let Some(written) = tags.text(tag) else { continue };
        match offset(&written) {
            Some(offset) => return Some(offset),
            // a colon between blanks is how Exif writes "unknown"
            None if written.contains(|c: char| c.is_ascii_digit()) => {
                remarks.push(format!("its offset from UTC is not valid: {written}"));
            }
            None => {}
        }
    }
    None
}

/// `+10:00`, `-0330`, `+9`, `Z`, no farther from UTC than any place on Earth.
fn offset(written: &str) -> Option<Offset> {
    if matches!(written, "Z" | "z" | "UTC") {
        return Some(Offset::UTC);
    }
    let (sign, rest) = match written.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let (figures, rest) = digits(rest)?;
    let (hours, minutes) = match (figures.len(), rest) {
        (1 | 2, "") => (figures, "0"),
        (1 | 2, rest) => (figures, rest.strip_prefix(':')?.get(..2)?),
        (3 | 4, "") => figures.split_at(figures.len() - 2),
        _ => return None,
    };
    let (hours, minutes): (i32, i32) = (hours.parse().ok()?, minutes.parse().ok()?);
    let seconds = hours * 3600 + minutes * 60;
    (minutes < 60 && seconds <= 14 * 3600).then(|| Offset::from_seconds(sign * seconds).ok())?
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn the_form_of_the_standard_and_its_neighbours_are_read() {
        let expected = date(2026, 5, 3).at(9, 12, 30, 0);
        for written in ["2026:05:03 09:12:30", "2026-05-03T09:12:30", "2026/05/03 9:12:30"] {
            assert_eq!(clock(written), Some((expected, None)), "{written}");
        }
        let (fine, offset) = clock("2026:05:03 09:12:30.25+10:00").unwrap();
        assert_eq!(fine.subsec_nanosecond(), 250_000_000);
        assert_eq!(offset, Some(Offset::constant(10)));
        assert_eq!(clock("2026:05:03 09:12").unwrap().0.second(), 0);
        assert_eq!(clock("2026:12:31 23:59:60").unwrap().0.second(), 59);
    }

    #[test]
    fn times_that_cannot_be_are_not_read() {
        for written in [
            "0000:00:00 00:00:00",
            "    :  :     :  :  ",
            "2026:13:03 09:12:30",
            "2026:05:03",
            "x",
            "2026:05:03 25:00:00",
            "99999:05:03 09:12:30",
            "0001:01:01 00:00:00",
        ] {
            assert_eq!(clock(written), None, "{written}");
        }
    }

    #[test]
    fn offsets_are_read_in_every_common_form() {
        let minutes = |written| offset(written).map(|offset| offset.seconds() / 60);
        assert_eq!(minutes("+10:00"), Some(600));
        assert_eq!(minutes("-03:30"), Some(-210));
        assert_eq!(minutes("+0545"), Some(345));
        assert_eq!(minutes("+8"), Some(480));
        assert_eq!(minutes("Z"), Some(0));
        for written in ["   :  ", "+25:00", "+10:75", "ten", "", "+", "+\u{e9}\u{e9}", "+1:\u{e9}"]
        {
            assert_eq!(minutes(written), None, "{written}");
        }
    }

    #[test]
    fn a_fraction_is_counted_from_its_left() {
        let mut remarks = Vec::new();
        assert_eq!(nanoseconds("5", &mut remarks), Some(500_000_000));
        assert_eq!(nanoseconds("05", &mut remarks), Some(50_000_000));
        assert_eq!(nanoseconds("123456789123", &mut remarks), Some(123_456_789));
        assert!(remarks.is_empty());
        assert_eq!(nanoseconds("1x", &mut remarks), None);
        assert_eq!(remarks, ["its fraction of a second is not a number: 1x"]);
    }
}
