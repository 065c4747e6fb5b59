//! Compares the time used for the position of a find with the written date and time. Labels, lists and
//! deposits keep what was written; where they differ, both are shown. Layer: `present`.

use jiff::civil::{Date, DateTime};
use jiff::fmt::temporal::DateTimeParser;
use jiff::tz::TimeZone;

use crate::model::{KeptFind, Record};
use crate::units::{Seconds, Timestamp};

/// Tolerance in seconds: collectors write some minutes after the find, and clocks differ
/// (common practice).
const HABIT: f64 = 300.0;

/// The derived local date and time of a kept find where it differs: `3 May 2026, 09:31`.
pub(super) fn beside_written(find: &KeptFind) -> Option<String> {
    let zone = DateTimeParser::new().parse_time_zone(&find.zone).ok()?;
    differing(&find.record, find.when?, &zone).map(words)
}

/// The time of a find in a format with a place for one time only.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum OneTime {
    Instant(Timestamp),
    /// Only the date was written, and the derived time is of another.
    Date(Date),
}

/// The derived time, which is more precise; where it differs from the written one, the written one.
pub(super) fn one_time(find: &KeptFind) -> Option<OneTime> {
    let (when, _) = find.when?;
    let derived = Some(OneTime::Instant(when));
    let Ok(zone) = DateTimeParser::new().parse_time_zone(&find.zone) else { return derived };
    if differing(&find.record, find.when?, &zone).is_none() {
        return derived;
    }
    let zone = find.record.time_offset().map_or(zone, TimeZone::fixed);
    let date = find.record.date.unwrap_or(find.date);
    let Some(time) = find.record.time else { return Some(OneTime::Date(date)) };
    let written = zone.to_ambiguous_timestamp(date.to_datetime(time.clock)).compatible();
    written.map_or(derived, |written| Some(OneTime::Instant(written)))
}

pub(super) fn words(local: DateTime) -> String {
    local.strftime("%-d %B %Y, %H:%M").to_string()
}

/// The derived local date and time where the written date differs, or the written time is outside
/// what the derived one leaves open.
pub(super) fn differing(
    record: &Record,
    (when, half): (Timestamp, Seconds),
    zone: &TimeZone,
) -> Option<DateTime> {
    // a time with an explicit offset uses that offset
    let zone = record.time_offset().map_or_else(|| zone.clone(), TimeZone::fixed);
    let local = when.to_zoned_datetime(zone).datetime();
    let date = record.date.unwrap_or(local.date());
    let Some(time) = record.time else {
        return (date != local.date() && !near_midnight(local, half)).then_some(local);
    };
    let written = date.to_datetime(time.clock);
    let apart = written.duration_since(local).as_secs_f64().abs();
    (apart > half.0.abs() + time.precision.step().0 + HABIT).then_some(local)
}

/// Whether the derived time may be on the neighbouring date.
fn near_midnight(local: DateTime, half: Seconds) -> bool {
    let since = f64::from(local.hour()) * 3_600.0 + f64::from(local.minute()) * 60.0;
    since.min(86_400.0 - since) < half.0.abs() + HABIT
}

#[cfg(test)]
mod tests {
    use jiff::civil::{date, time};

    use super::*;
    use crate::model::{TimePrecision, WrittenTime};

    fn reported(date: Option<jiff::civil::Date>, clock: Option<(i8, i8)>) -> Option<String> {
        let clock = clock.map(|(hour, minute)| WrittenTime {
            clock: time(hour, minute, 0, 0),
            precision: TimePrecision::Minute,
        });
        let record = Record { date, time: clock, ..Record::default() };
        let when = "2026-05-02T23:31:20Z".parse().unwrap();
        let zone = TimeZone::get("Australia/Hobart").unwrap();
        differing(&record, (when, Seconds(20.0)), &zone).map(words)
    }

    #[test]
    fn a_format_with_one_time_gets_the_written_one_where_they_differ() {
        let mut find = crate::present::fixture::kept_find("T1");
        find.zone = "Australia/Hobart".to_owned();
        let derived: Timestamp = "2026-05-02T23:31:20Z".parse().unwrap();
        find.when = Some((derived, Seconds(20.0)));
        let clock = |hour| {
            Some(WrittenTime { clock: time(hour, 31, 0, 0), precision: TimePrecision::Minute })
        };
        find.record.date = Some(date(2026, 5, 3));
        find.record.time = clock(9);
        assert_eq!(one_time(&find), Some(OneTime::Instant(derived)));
        find.record.time = clock(11);
        let written = "2026-05-03T01:31:00Z".parse().unwrap();
        assert_eq!(one_time(&find), Some(OneTime::Instant(written)));
        (find.record.date, find.record.time) = (Some(date(2026, 5, 4)), None);
        assert_eq!(one_time(&find), Some(OneTime::Date(date(2026, 5, 4))));
        find.when = None;
        assert_eq!(one_time(&find), None);
    }

    #[test]
    fn written_and_derived_time_are_both_shown_where_they_differ() {
        let derived = Some("3 May 2026, 09:31".to_owned());
        let (right, wrong) = (Some(date(2026, 5, 3)), Some(date(2026, 5, 4)));
        assert_eq!(reported(right, Some((9, 33))), None);
        assert_eq!(reported(right, None), None);
        assert_eq!(reported(None, Some((9, 33))), None);
        assert_eq!(reported(wrong, None), derived);
        assert_eq!(reported(wrong, Some((9, 31))), derived);
        assert_eq!(reported(right, Some((10, 31))), derived);
    }
}
