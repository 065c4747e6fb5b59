//! Shows the times of reports as local times, since a day page speaks of one zone: those of values by the zone,
//! those in UTC within texts of a store by rewriting them. Layer: `present`.

use std::borrow::Cow;

use jiff::civil::{Date, DateTime, Time};
use jiff::tz::TimeZone;

use crate::model::{AnchorBasis, Day};
use crate::present::note::anchor_words;

/// What an anchor rests on, in local time.
pub(super) fn of_basis(basis: &AnchorBasis, day: &Day) -> String {
    match basis {
        AnchorBasis::Words { words } => of(words, day).into_owned(),
        basis => anchor_words(basis, Some(&day.outing.zone.zone)),
    }
}

/// The text with each `01:13:08 UTC` as the local time of the outing's zone; a date before it is
/// changed where the local date differs.
pub(super) fn of<'a>(text: &'a str, day: &Day) -> Cow<'a, str> {
    if !text.contains(" UTC") {
        return text.into();
    }
    let dates: Vec<Date> = [day.outing.start, day.outing.end]
        .into_iter()
        .flatten()
        .map(|instant| instant.to_zoned_datetime(TimeZone::UTC).date())
        .collect();
    let zone = &day.outing.zone.zone;
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(end) = rest.find(" UTC") {
        let (before, after) = rest.split_at(end);
        // "01:13:08 and 01:20:00 UTC" has two times for one name of the zone
        out.push_str(&rewritten(before, &dates, zone));
        rest = &after[" UTC".len()..];
    }
    out.push_str(rest);
    out.into()
}

/// The words with the times at their end, one or two, as local times.
fn rewritten(words: &str, dates: &[Date], zone: &TimeZone) -> String {
    let Some((head, last)) = time_at_end(words) else { return format!("{words} UTC") };
    let mut start = head.len();
    let mut times = vec![(start, last)];
    for joint in [" and ", " to "] {
        let Some(first) = head.strip_suffix(joint) else { continue };
        if let Some((head, time)) = time_at_end(first) {
            start = head.len();
            times.insert(0, (start, time));
        }
        break;
    }
    let (dated, date) = date_at_end(&words[..start]);
    let mut text = dated.to_owned();
    for (place, (at, time)) in times.iter().enumerate() {
        let length = time.1;
        let guess = date.or_else(|| near(dates, time.0));
        let Some((local_date, local)) = guess.and_then(|guess| local(guess, time.0, zone)) else {
            return format!("{words} UTC");
        };
        if place == 0 && date.is_some() {
            text.push_str(&local_date.to_string());
            text.push(' ');
        }
        text.push_str(&local.strftime(if length == 8 { "%H:%M:%S" } else { "%H:%M" }).to_string());
        if let Some((next, _)) = times.get(place + 1) {
            text.push_str(&words[at + length..*next]);
        }
    }
    text
}

/// A time at the end of the words, `01:13:08` or `01:13`, with its length.
fn time_at_end(words: &str) -> Option<(&str, (Time, usize))> {
    for length in [8, 5] {
        let Some(at) = words.len().checked_sub(length) else { continue };
        let Some((head, digits)) = words.split_at_checked(at) else { continue };
        if head.ends_with(|letter: char| letter.is_ascii_digit() || letter == ':') {
            continue;
        }
        let form = if length == 8 { "%H:%M:%S" } else { "%H:%M" };
        if let Ok(time) = Time::strptime(form, digits) {
            return Some((head, (time, length)));
        }
    }
    None
}

/// A date with its space at the end of the words.
fn date_at_end(words: &str) -> (&str, Option<Date>) {
    let bare = words.strip_suffix([' ', 'T']).unwrap_or(words);
    let cut = bare.len().checked_sub(10).and_then(|at| bare.split_at_checked(at));
    match cut.and_then(|(head, date)| Some((head, date.parse::<Date>().ok()?))) {
        Some((head, date)) => (head, Some(date)),
        None => (words, None),
    }
}

/// The date in UTC that the day had at this time.
fn near(dates: &[Date], time: Time) -> Option<Date> {
    match dates {
        [] => None,
        // an outing across midnight in UTC: times after noon belong to its first date
        [first, last] if first != last => Some(if time.hour() >= 12 { *first } else { *last }),
        [first, ..] => Some(*first),
    }
}

fn local(date: Date, time: Time, zone: &TimeZone) -> Option<(Date, Time)> {
    let instant =
        DateTime::from_parts(date, time).to_zoned_datetime(TimeZone::UTC).ok()?.timestamp();
    let there = instant.to_zoned_datetime(zone.clone());
    Some((there.date(), there.time()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn a_basis_has_local_times_as_value_and_as_text() {
        let day = fixture::day();
        let at = "2026-05-02T01:13:08Z".parse().unwrap();
        let basis = AnchorBasis::WrittenTime { at, watch: None, positions_of: None };
        assert_eq!(of_basis(&basis, &day), "written time 11:13:08");
        let text = AnchorBasis::from(basis.to_string());
        assert_eq!(of_basis(&text, &day), "written time 11:13:08");
    }

    #[test]
    fn times_in_utc_become_local_times() {
        let day = fixture::day();
        let cases = [
            (
                "photographs P0527.jpg, 01:13:08 UTC, within 22 m",
                "photographs P0527.jpg, 11:13:08, within 22 m",
            ),
            ("no fix between 13:40:05 and 14:31:50 UTC", "no fix between 23:40:05 and 00:31:50"),
            ("at 2026-05-01 23:10:00 UTC", "at 2026-05-02 09:10:00"),
            ("from 01:13 to 02:20 UTC and 03:00 UTC", "from 11:13 to 12:20 and 13:00"),
            ("the camera is on UTC", "the camera is on UTC"),
            ("nothing of the zone", "nothing of the zone"),
            ("99:99:99 UTC", "99:99:99 UTC"),
            ("\u{1f344} UTC é8:00 UTC", "\u{1f344} UTC é8:00 UTC"),
        ];
        for (utc, local) in cases {
            assert_eq!(of(utc, &day), local);
        }
    }
}
