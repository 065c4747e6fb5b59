//! Formats local times, offsets and counts for the summary. Layer: `present`.

use std::collections::BTreeMap;

use jiff::tz::TimeZone;
use jiff::{Timestamp, civil::Date};

use crate::model::{AnchorKind, CameraClock, ClockMethod, Day, Outing, Verdict, ZoneSource};
use crate::units::Seconds;

/// `Saturday 2 May 2026`.
pub(in crate::present) fn long_date(date: Date) -> String {
    date.strftime("%A %-d %B %Y").to_string()
}

/// The day of an outing as a heading.
pub(in crate::present) fn day_of(outing: &Outing) -> String {
    outing.dated().map_or_else(|| "Undated".to_owned(), long_date)
}

/// `09:14`, local.
pub(in crate::present) fn clock(instant: Timestamp, zone: &TimeZone) -> String {
    instant.to_zoned_datetime(zone.clone()).strftime("%H:%M").to_string()
}

/// `5 412`: thousands separated by a space.
pub(in crate::present) fn count(number: usize) -> String {
    let digits = number.to_string();
    let first = digits.len() % 3;
    let mut parts: Vec<&str> = Vec::new();
    if first > 0 {
        parts.push(&digits[..first]);
    }
    parts.extend((first..digits.len()).step_by(3).map(|start| &digits[start..start + 3]));
    parts.join(" ")
}

/// `1 find`, `3 finds`.
pub(crate) fn counted(number: usize, one: &str, many: &str) -> String {
    format!("{} {}", count(number), if number == 1 { one } else { many })
}

/// `+1 h 02 min 05 s`: an offset with its sign.
pub(in crate::present) fn offset(seconds: Seconds) -> String {
    let sign = if seconds.0 < -0.5 { '-' } else { '+' };
    let whole = seconds.0.abs().round();
    let (days, rest) = ((whole / 86_400.0).floor(), whole % 86_400.0);
    let (hours, minutes, left) =
        ((rest / 3600.0).floor(), (rest / 60.0).floor() % 60.0, rest % 60.0);
    let day = if days > 0.0 { format!("{days:.0} d ") } else { String::new() };
    if whole >= 3600.0 {
        format!("{sign}{day}{hours:.0} h {minutes:02.0} min {left:02.0} s")
    } else if whole >= 60.0 {
        format!("{sign}{minutes:.0} min {left:02.0} s")
    } else {
        format!("{sign}{left:.0} s")
    }
}

/// The number of rejected fixes by reason.
pub(in crate::present) fn fates(day: &Day) -> BTreeMap<&'static str, usize> {
    let mut fates = BTreeMap::new();
    for fix in day.fixes.iter().filter(|fix| fix.verdict != Verdict::Kept) {
        *fates.entry(fate(fix.verdict)).or_insert(0) += 1;
    }
    fates
}

/// The reason why a fix was set aside.
pub(in crate::present) fn fate(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Kept => "kept",
        Verdict::Jump => "jump",
        Verdict::Spike => "spike",
        Verdict::Frozen => "frozen",
        Verdict::Duplicate => "duplicate time",
        Verdict::Backward => "backward time",
        Verdict::SecondReceiver => "second receiver",
        Verdict::StartUp => "start-up scatter",
        Verdict::ClockStep => "clock step",
        Verdict::NoFix => "no fix",
        Verdict::Untimed => "no time",
        Verdict::StrayTime => "stray time",
    }
}

/// The source of the time zone.
pub(in crate::present) fn zone_source(source: ZoneSource) -> &'static str {
    match source {
        ZoneSource::Stated => "as stated",
        ZoneSource::Photograph => "from the photographs",
        ZoneSource::Place => "from the position of the track",
        ZoneSource::Assumed => "assumed: no zone in the data",
    }
}

/// The method of a camera's clock correction.
pub(in crate::present) fn method(clock: &CameraClock) -> String {
    if clock.method == ClockMethod::Day && clock.other_days > 0 {
        let others = counted(clock.other_days, "other day", "other days");
        return format!("from the day and {others}");
    }
    let words = match clock.method {
        ClockMethod::Stated => "as stated",
        ClockMethod::Trusted => "assumed correct",
        ClockMethod::ClockPhotograph => "photograph of a clock",
        ClockMethod::GpsTime => "GPS time in the photographs",
        ClockMethod::Day => "from this day",
        ClockMethod::Declined => "not determined",
    };
    words.to_owned()
}

/// The text with no-break spaces between numbers and units.
pub(in crate::present) fn bound(text: &str) -> String {
    const UNITS: [&str; 8] = ["%", "s", "min", "h", "d", "m", "day", "days"];
    let mut bound = String::with_capacity(text.len() + 16);
    for (index, word) in text.split(' ').enumerate() {
        if index > 0 {
            let bare = word.trim_end_matches(|letter: char| ".,;:)".contains(letter));
            let counts = bound.ends_with(|letter: char| letter.is_ascii_digit());
            bound.push(if counts && UNITS.contains(&bare) { '\u{a0}' } else { ' ' });
        }
        bound.push_str(word);
    }
    bound
}

/// The evidence of a position.
pub(in crate::present) fn anchor(kind: AnchorKind) -> &'static str {
    match kind {
        AnchorKind::Correction => "correction",
        AnchorKind::Coordinates => "coordinates",
        AnchorKind::Waypoint => "waypoint",
        AnchorKind::PhotoPosition => "photo position",
        AnchorKind::PhotoTime => "photo time",
        AnchorKind::WrittenTime => "written time",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_break_space_binds_numbers_to_units_only() {
        let text = bound("1 h 2 min 11 s (95 %: 2 min), 20 groups in 3 days; the 4 h.");
        assert_eq!(
            text.replace('\u{a0}', "~"),
            "1~h 2~min 11~s (95~%: 2~min), 20 groups in 3~days; the 4~h."
        );
    }

    #[test]
    fn other_days_that_were_observed_are_named() {
        let mut clock = crate::present::fixture::day().cameras.remove(0);
        assert_eq!(method(&clock), "from this day");
        clock.other_days = 3;
        assert_eq!(method(&clock), "from the day and 3 other days");
        clock.method = ClockMethod::Stated;
        assert_eq!(method(&clock), "as stated");
    }

    #[test]
    fn counts_have_thousands_separators() {
        assert_eq!(count(7), "7");
        assert_eq!(count(5_412), "5 412");
        assert_eq!(count(1_000_000), "1 000 000");
    }

    #[test]
    fn an_offset_keeps_its_sign_and_its_seconds() {
        assert_eq!(offset(Seconds(3_725.0)), "+1 h 02 min 05 s");
        assert_eq!(offset(Seconds(-19.0)), "-19 s");
        assert_eq!(offset(Seconds(-90_061.0)), "-1 d 1 h 01 min 01 s");
        assert_eq!(offset(Seconds(0.0)), "+0 s");
    }
}
