//! Interprets the local times and photograph names of a notebook. A time that a clock change skips or
//! repeats is read by a stated rule: the reading within the track, else the earlier offset. A time that
//! states its own offset is read with that offset. Layer: `join`.

use jiff::ToSpan;
use jiff::civil::Date;
use jiff::tz::AmbiguousOffset;

use crate::model::{Outing, PhotoRef, Record};
use crate::units::{Seconds, TimeZone, Timestamp};

/// An instant read from a notebook.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Read {
    /// The instant.
    pub(crate) instant: Timestamp,
    /// The step of the written figures.
    pub(crate) step: Seconds,
    /// Whether the clock change of that day makes it uncertain.
    pub(crate) doubtful: Option<Doubt>,
    /// The other instant that the time may be as well, an hour later.
    pub(crate) other: Option<Timestamp>,
}

/// Which occurrence of a time is meant that clocks showed twice.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Occurrence {
    /// The one within the track, else the first.
    #[default]
    Clear,
    First,
    Second,
    /// Either.
    Open,
}

/// The effect of a clock change on a local time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Doubt {
    /// Clocks skipped it.
    Skipped,
    /// Clocks showed it twice.
    Twice,
}

/// The instant of a record's written time on an outing of this date and span.
pub(crate) fn instant(
    record: &Record,
    date: Date,
    zone: &TimeZone,
    span: Option<(Timestamp, Timestamp)>,
) -> Option<Read> {
    instant_of((record, Occurrence::Clear), date, zone, span)
}

/// The same, of a time whose occurrence is known to be open or not. Where only one lies within the track, that one
/// counts.
pub(crate) fn instant_of(
    (record, occurrence): (&Record, Occurrence),
    date: Date,
    zone: &TimeZone,
    span: Option<(Timestamp, Timestamp)>,
) -> Option<Read> {
    let time = record.time?;
    // a time is of a day, and that day is not known
    if record.has_unread_date() || date == Outing::UNDATED && record.date.is_none() {
        return None;
    }
    let day = record.date.filter(|written| near(*written, date)).unwrap_or(date);
    let mut best: Option<(f64, Read)> = None;
    let stated = record.time_offset().map(TimeZone::fixed);
    let zone = stated.as_ref().unwrap_or(zone);
    // after midnight people go on writing the date they set out on; a date beside a time in UTC may be
    // the local one
    let before = stated.is_some().then(|| day.saturating_sub(1.day()));
    for day in [day, day.saturating_add(1.day())].into_iter().chain(before) {
        let ambiguous = zone.to_ambiguous_timestamp(day.to_datetime(time.clock));
        let doubtful = match ambiguous.offset() {
            AmbiguousOffset::Unambiguous { .. } => None,
            AmbiguousOffset::Gap { .. } => Some(Doubt::Skipped),
            AmbiguousOffset::Fold { .. } => Some(Doubt::Twice),
        };
        for instant in [ambiguous.compatible(), ambiguous.later()].into_iter().flatten() {
            let outside = span.map_or(0.0, |(start, end)| {
                Seconds::between(instant, start).0.max(Seconds::between(end, instant).0).max(0.0)
            });
            let read = Read { instant, step: time.precision.step(), doubtful, other: None };
            best = match best {
                Some((least, first)) if least.max(outside) <= 0.0 && first.is_twice(&read) => {
                    Some((least, first.or(instant, occurrence)))
                }
                Some((least, _)) if outside >= least => best,
                _ => Some((outside, read)),
            };
        }
    }
    best.map(|(_, read)| read)
}

impl Read {
    /// Whether another reading is the second occurrence of the same time.
    fn is_twice(&self, other: &Self) -> bool {
        let later = Seconds::between(self.instant, other.instant).0;
        self.doubtful == Some(Doubt::Twice)
            && other.doubtful == self.doubtful
            && 0.0 < later
            && later < 43_200.0
    }

    /// The first of two occurrences, or the second at an instant.
    fn or(self, second: Timestamp, occurrence: Occurrence) -> Self {
        match occurrence {
            Occurrence::Clear | Occurrence::First => self,
            Occurrence::Second => Self { instant: second, ..self },
            Occurrence::Open => Self { other: Some(second), ..self },
        }
    }
}

fn near(a: Date, b: Date) -> bool {
    a.until(b).is_ok_and(|span| span.get_days().abs() <= 1)
}

/// Whether a notebook's name of a photograph means the file of this name: the whole name, the name
/// without its ending, or the number in it.
pub(crate) fn names(named: &PhotoRef, file: &str) -> bool {
    let (written, file) = (named.0.trim().to_lowercase(), file.to_lowercase());
    let stem = file.rsplit_once('.').map_or(file.as_str(), |(stem, _)| stem);
    if written == file || written == stem {
        return true;
    }
    // with a written ending only the whole name counts, as above
    let written_stem = written.rsplit_once('.').map_or(written.as_str(), |(stem, _)| stem);
    if written_stem != written {
        return false;
    }
    let (letters, number) = parted(&written);
    let (of_file, of_file_number) = parted(stem);
    let same = matches!((number, of_file_number), (Some(a), Some(b)) if a == b);
    same && (letters.is_empty() || letters == of_file)
}

/// The letters and the number at the end of a name.
fn parted(name: &str) -> (String, Option<u64>) {
    let head = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = name[head.len()..].parse().ok();
    (head.chars().filter(|c| c.is_alphanumeric()).collect(), number)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Field, TimePrecision, WrittenTime};

    #[test]
    fn time_with_its_own_offset_uses_it() {
        let date = jiff::civil::date(2026, 5, 2);
        let zone = TimeZone::fixed(jiff::tz::offset(10));
        let read = |clock: (i8, i8), offset: Option<&str>| {
            let mut record = Record { date: Some(date), ..Record::default() };
            let clock = jiff::civil::time(clock.0, clock.1, 0, 0);
            record.time = Some(WrittenTime { clock, precision: TimePrecision::Minute });
            let field = |text: &str| (Field::Other(Record::TIME_OFFSET.into()), text.to_owned());
            record.fields.extend(offset.map(field));
            let at = |text: &str| text.parse::<Timestamp>().unwrap();
            let span = (at("2026-05-01T22:30:00Z"), at("2026-05-02T04:00:00Z"));
            instant(&record, date, &zone, Some(span)).unwrap().instant.to_string()
        };
        let noon = "2026-05-02T02:32:00Z";
        assert_eq!(read((12, 32), None), noon);
        assert_eq!(read((12, 32), Some("nonsense")), noon);
        for (clock, offset) in
            [((2, 32), "Z"), ((4, 32), "+02:00"), ((12, 2), "+0930"), ((12, 32), "+10")]
        {
            assert_eq!(read(clock, Some(offset)), noon, "{offset}");
        }
        // the local date beside a time in UTC, which is of the day before
        assert_eq!(read((23, 10), Some("Z")), "2026-05-01T23:10:00Z");
        // an evening west of Greenwich
        assert_eq!(read((21, 32), Some("\u{2212}5")), noon);
    }

    #[test]
    fn photograph_is_matched_by_name_or_number() {
        let named = |written: &str, file: &str| names(&PhotoRef(written.into()), file);
        assert!(named("P1004", "P1004.JPG"));
        assert!(named("1004", "P1004.JPG"));
        assert!(named("1004", "IMG_1004.jpg"));
        assert!(named("img 1004", "IMG_1004.jpg"));
        assert!(!named("P1004.PNG", "P1004.JPG"));
        assert!(!named("P100", "P1004.JPG"));
        assert!(!named("DSC1004", "IMG_1004.jpg"));
    }
}
