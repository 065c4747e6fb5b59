//! Parses times of day and their precision: `14:05`, `2.05 pm`, `1405`, `14h05`, `ca 14`,
//! `14:05:33`, a range. Refuses impossible times. Layer: `ingest`.

use jiff::civil::Time;

use super::about;
use crate::model::{TimePrecision, WrittenTime};

/// The fewest times for detecting rounding: five in a row end in 0 or 5 by chance with probability
/// 1/3000.
const HABIT: usize = 5;

/// Reads a time. The offset behind it (`Z`, `+10:00`), if any, is the second value.
pub(super) fn read(cell: &str) -> Option<(WrittenTime, Option<String>)> {
    let text = cell.trim().to_lowercase();
    let (text, about) = about::without(&text);
    if let Some(noon) = named(text) {
        return Some((noon, None));
    }
    if let Some(middle) = range(text) {
        return Some((middle, None));
    }
    let (time, offset) = split_offset(text);
    let mut time = clock(time)?;
    if about {
        time.precision = match time.precision {
            TimePrecision::Hour => TimePrecision::Hour,
            _ => TimePrecision::Quarter,
        };
    }
    Some((time, offset))
}

fn named(text: &str) -> Option<WrittenTime> {
    let clock = match text {
        "noon" | "midday" | "12 noon" => Time::midnight().with().hour(12).build().ok()?,
        "midnight" => Time::midnight(),
        _ => return None,
    };
    Some(WrittenTime { clock, precision: TimePrecision::Quarter })
}

/// `14:05-14:20`: the midpoint, with the precision of the range.
fn range(text: &str) -> Option<WrittenTime> {
    let (from, to) = text
        .split_once('\u{2013}')
        .or_else(|| text.split_once(" to "))
        .or_else(|| text.split_once('-'))?;
    let (from, to) = (clock(from.trim())?.clock, clock(to.trim())?.clock);
    let seconds = |time: Time| {
        i32::from(time.hour()) * 3600 + i32::from(time.minute()) * 60 + i32::from(time.second())
    };
    let width = seconds(to) - seconds(from);
    if !(0..=4 * 3600).contains(&width) {
        return None;
    }
    let middle = from.wrapping_add(jiff::SignedDuration::from_secs(i64::from(width / 2)));
    let precision = match width {
        0..=60 => TimePrecision::Minute,
        61..=300 => TimePrecision::FiveMinutes,
        301..=900 => TimePrecision::Quarter,
        901..=3600 => TimePrecision::Hour,
        _ => return None,
    };
    Some(WrittenTime { clock: middle, precision })
}

/// Abbreviations of the time zones of Europe, standard and summer time, with their offsets.
const ZONES: [(&str, &str); 14] = [
    ("cest", "+02:00"),
    ("mesz", "+02:00"),
    ("eest", "+03:00"),
    ("west", "+01:00"),
    ("selc", "+02:00"),
    ("sel\u{10d}", "+02:00"),
    ("bst", "+01:00"),
    ("cet", "+01:00"),
    ("mez", "+01:00"),
    ("se\u{10d}", "+01:00"),
    ("eet", "+02:00"),
    ("wet", "+00:00"),
    ("oesz", "+03:00"),
    ("oez", "+02:00"),
];

/// The abbreviation of a zone behind a time, with or without brackets.
fn split_zone(text: &str) -> Option<(&str, String)> {
    let bare = text.trim_end_matches([')', ']']);
    ZONES.into_iter().find_map(|(zone, offset)| {
        let time = bare.strip_suffix(zone)?.trim_end_matches(['(', '[', ' ', '\u{a0}']);
        let apart =
            time.len() < bare.len() - zone.len() || time.ends_with(|c: char| c.is_ascii_digit());
        apart.then(|| (time, offset.to_owned()))
    })
}

/// `14:05z`, `14:05 UTC`, `14:05+10:00`, `14:05 CEST`: the offset apart.
fn split_offset(text: &str) -> (&str, Option<String>) {
    if let Some((time, offset)) = split_zone(text) {
        return (time, Some(offset));
    }
    if let Some(time) = ["z", "utc", "gmt"].into_iter().find_map(|end| text.strip_suffix(end)) {
        return (time.trim_end(), Some("Z".into()));
    }
    match text.rfind(['+', '-', '\u{2212}']) {
        Some(at) if at >= 4 && is_offset(&text[at..]) => {
            (text[..at].trim_end(), Some(text[at..].to_owned()))
        }
        _ => (text, None),
    }
}

fn is_offset(text: &str) -> bool {
    let figures = text.chars().filter(char::is_ascii_digit).count();
    (1..=4).contains(&figures) && text.chars().skip(1).all(|c| c.is_ascii_digit() || c == ':')
}

/// One time of day without qualifiers.
fn clock(text: &str) -> Option<WrittenTime> {
    let (text, half) = half_of_day(without_word_before(text));
    let text = ["o'clock", "uhr", "hours", "hrs", "hr", "h", "hod.", "hod", "uur", "u"]
        .into_iter()
        .find_map(|word| text.strip_suffix(word))
        .unwrap_or(text)
        .trim();
    // 9 Uhr 05, 9 h 05 min
    let between = text.replacen(" uhr ", ":", 1);
    let text = between.trim_end_matches("min").trim_end();
    // 9h 11m, 9h11m05s
    let (text, behind_minutes) = match text.split_once('h') {
        Some(_) => (text.trim_end_matches(['s', 'm']).trim_end(), 'm'),
        None => (text, ':'),
    };
    let marks = [':', '.', ',', 'h', 'u', '\u{b7}', behind_minutes];
    let parts: Vec<&str> = text.split(marks).map(str::trim).collect();
    if parts.len() > 4 || parts.iter().any(|part| !part.bytes().all(|b| b.is_ascii_digit())) {
        return None;
    }
    let (hour, minute, second, precision) = match parts.as_slice() {
        [all] if matches!(all.len(), 3 | 4) => {
            (&all[..all.len() - 2], &all[all.len() - 2..], "0", TimePrecision::Minute)
        }
        [all] if all.len() == 6 => (&all[..2], &all[2..4], &all[4..], TimePrecision::Second),
        [hour] => (*hour, "0", "0", TimePrecision::Hour),
        [hour, minute] if minute.len() == 2 => (*hour, *minute, "0", TimePrecision::Minute),
        [hour, minute, second, ..] if minute.len() == 2 && second.len() == 2 => {
            (*hour, *minute, *second, TimePrecision::Second)
        }
        _ => return None,
    };
    if hour.len() > 2 {
        return None;
    }
    let hour = whole_hour(hour.parse().ok()?, half)?;
    let clock = Time::new(hour, minute.parse().ok()?, second.parse().ok()?, 0).ok()?;
    Some(WrittenTime { clock, precision })
}

/// Without the word that several languages put before a time: `ore 9.30`, `kl. 14.05`, `um 9:15`.
fn without_word_before(text: &str) -> &str {
    const WORDS: [&str; 29] = [
        "alle ore", "ore", "alle", "h", "um", "gegen", "klokken", "klockan", "kl.", "kl",
        "godzina", "godzinie", "hodina", "klo", "kello", "o godz.", "godz.", "a las", "a la",
        "las", "la", "le", "as", "\u{e0}s", "\u{e0}", "om", "vid", "ve", "v",
    ];
    let digits = |rest: &&str| rest.starts_with(|c: char| c.is_ascii_digit());
    let rest = |word: &str| text.strip_prefix(word).map(str::trim_start).filter(digits);
    WORDS.into_iter().find_map(rest).unwrap_or(text)
}

/// `am` and `pm` with or without points.
fn half_of_day(text: &str) -> (&str, Option<bool>) {
    for (mark, after_noon) in [("a.m.", false), ("p.m.", true), ("am", false), ("pm", true)] {
        if let Some(rest) = text.strip_suffix(mark) {
            return (rest.trim_end(), Some(after_noon));
        }
    }
    (text, None)
}

fn whole_hour(hour: i8, after_noon: Option<bool>) -> Option<i8> {
    match (hour, after_noon) {
        (12, Some(false)) => Some(0),
        (1..=11, Some(true)) => Some(hour + 12),
        (0..=23, None) | (12..=23, Some(true)) | (1..=11, Some(false)) => Some(hour),
        _ => None,
    }
}

/// The rounding shown by the times of a whole file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Habit {
    Exact,
    FiveMinutes,
    Quarter,
}

/// Corrects the precision of all times of a file by what they have in common: seconds that are all
/// zero were added by a program, minutes that all end in 0 or 5 were rounded by a person. One time in sixty has
/// no seconds by chance: where more than one in ten has none, those were added as well.
pub(super) fn settle(times: &mut [&mut WrittenTime]) -> Habit {
    let exact = |time: &&&mut WrittenTime| time.precision == TimePrecision::Second;
    let whole = |time: &&&mut WrittenTime| time.clock.second() == 0;
    let count = times.iter().filter(exact).count();
    if 10 * times.iter().filter(exact).filter(whole).count() > count {
        for time in times.iter_mut() {
            if time.precision == TimePrecision::Second && time.clock.second() == 0 {
                time.precision = TimePrecision::Minute;
            }
        }
    }
    let minutes: Vec<i8> = times
        .iter()
        .filter(|time| time.precision == TimePrecision::Minute)
        .map(|time| time.clock.minute())
        .collect();
    let by = |step: i8| minutes.len() >= HABIT && minutes.iter().all(|minute| minute % step == 0);
    let (habit, precision) = if by(15) {
        (Habit::Quarter, TimePrecision::Quarter)
    } else if by(5) {
        (Habit::FiveMinutes, TimePrecision::FiveMinutes)
    } else {
        return Habit::Exact;
    };
    for time in times.iter_mut().filter(|time| time.precision == TimePrecision::Minute) {
        time.precision = precision;
    }
    habit
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::time;

    fn at(text: &str) -> Option<(Time, TimePrecision)> {
        read(text).map(|(time, _)| (time.clock, time.precision))
    }

    #[test]
    fn times_in_the_ways_they_are_written() {
        let five_past = Some((time(14, 5, 0, 0), TimePrecision::Minute));
        for text in [
            "14:05",
            "2.05 pm",
            "2:05PM",
            "2:05 p.m.",
            "1405",
            "14h05",
            "14.05",
            "14:05 hrs",
            "14 : 05",
            "ore 14.05",
            "kl. 14.05",
            "um 14:05 Uhr",
            "14u05",
            "godz. 14:05",
            "14 Uhr 05",
            "14 h 05 min",
            "klo 14.05",
            "o godz. 14.05",
            "\u{e0}s 14h05",
            "14h 05m",
            "14h05m",
            "klokken 14.05",
            "klockan 14.05",
            "14,05",
        ] {
            assert_eq!(at(text), five_past, "{text}");
        }
        assert_eq!(at("905"), Some((time(9, 5, 0, 0), TimePrecision::Minute)));
        assert_eq!(at("14:05:33"), Some((time(14, 5, 33, 0), TimePrecision::Second)));
        assert_eq!(at("ca 14"), Some((time(14, 0, 0, 0), TimePrecision::Hour)));
        assert_eq!(at("~14:10"), Some((time(14, 10, 0, 0), TimePrecision::Quarter)));
        assert_eq!(at("14:10?"), Some((time(14, 10, 0, 0), TimePrecision::Quarter)));
        for text in [
            "env. 14h10",
            "ca. kl. 14.10",
            "hacia las 14:10",
            "por volta das 14h10",
            "noin klo 14.10",
        ] {
            assert_eq!(at(text), Some((time(14, 10, 0, 0), TimePrecision::Quarter)), "{text}");
        }
        for text in
            ["gegen 14 Uhr", "ok. godz. 14", "omkring kl. 14", "verso le 14", "asi ve 14 hod."]
        {
            assert_eq!(at(text), Some((time(14, 0, 0, 0), TimePrecision::Hour)), "{text}");
        }
        assert_eq!(at("2 pm"), Some((time(14, 0, 0, 0), TimePrecision::Hour)));
        assert_eq!(at("12.30 am"), Some((time(0, 30, 0, 0), TimePrecision::Minute)));
        assert_eq!(at("noon"), Some((time(12, 0, 0, 0), TimePrecision::Quarter)));
        assert_eq!(at("14:00-14:10"), Some((time(14, 5, 0, 0), TimePrecision::Quarter)));
        for utc in ["04:05Z", "04:05 UTC", "4.05 am GMT"] {
            assert_eq!(read(utc).unwrap().1.as_deref(), Some("Z"), "{utc}");
        }
        assert_eq!(read("14:05+10:00").unwrap().1.as_deref(), Some("+10:00"));
        assert_eq!(at("9h11m05s"), Some((time(9, 11, 5, 0), TimePrecision::Second)));
        for (text, offset) in [
            ("9:11 CEST", "+02:00"),
            ("9:11 (MESZ)", "+02:00"),
            ("9.11 Uhr MEZ", "+01:00"),
            ("9:11 BST", "+01:00"),
            ("9:11 EEST", "+03:00"),
            ("9:11 SEL\u{10c}", "+02:00"),
            ("9:11 WET", "+00:00"),
        ] {
            let (time, own) = read(text).unwrap_or_else(|| panic!("{text}"));
            assert_eq!(
                (time.clock, own.as_deref()),
                (jiff::civil::time(9, 11, 0, 0), Some(offset))
            );
        }
    }

    #[test]
    fn impossible_times_are_not_read() {
        for text in [
            "",
            "after lunch",
            "25:00",
            "14:75",
            "13 am",
            "14:5",
            "1:2:3:4:5",
            "99999",
            "\u{e9}",
            "14:05-09:00x",
            "123:00",
            "9,5",
            "9:11 quest",
        ] {
            assert_eq!(at(text), None, "{text}");
        }
    }

    #[test]
    fn the_habit_of_a_writer_is_seen_in_the_whole_file() {
        let settled = |texts: &[&str]| {
            let mut times: Vec<WrittenTime> =
                texts.iter().map(|text| read(text).unwrap().0).collect();
            let habit = settle(&mut times.iter_mut().collect::<Vec<_>>());
            (habit, times[0].precision)
        };
        let fives = ["9:05", "9:20", "10:00", "10:35", "11:10"];
        assert_eq!(settled(&fives), (Habit::FiveMinutes, TimePrecision::FiveMinutes));
        assert_eq!(settled(&fives[..4]), (Habit::Exact, TimePrecision::Minute));
        let quarters = ["9:15", "9:30", "10:00", "10:45", "11:00"];
        assert_eq!(settled(&quarters), (Habit::Quarter, TimePrecision::Quarter));
        assert_eq!(settled(&["9:05:00", "9:07:00"]), (Habit::Exact, TimePrecision::Minute));
        // one exact time says nothing of the others
        assert_eq!(settled(&["9:05:00", "9:07:10"]), (Habit::Exact, TimePrecision::Minute));
        assert_eq!(
            settled(&["9:07:10", "9:05:00", "9:08:00"]),
            (Habit::Exact, TimePrecision::Second)
        );
        let mut exact = vec!["9:05:00"];
        exact.extend(["9:07:10"; 10]);
        assert_eq!(settled(&exact), (Habit::Exact, TimePrecision::Second));
    }
}
