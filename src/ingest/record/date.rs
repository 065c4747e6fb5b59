//! Parses dates: ISO, day-month-year, month names and Roman months. The order of day and month is
//! decided by the whole column, never by one cell, and so is the place of a year of two digits. Refuses ambiguous
//! dates, with all readings. Layer: `ingest`.

use jiff::civil::Date;

use super::ditto;
use super::months;
use super::years::{Short, Years};
use crate::model::{DateOrder, DateReading};

/// A date as it was written.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Written {
    /// One day.
    Day(Date),
    /// Two numbers that are both valid months: as day first, as month first.
    Open { day_first: Date, month_first: Date },
}

/// The evidence of a whole column for the order of day and month.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Order {
    /// The line whose first number is above twelve.
    pub(super) day_first: Option<u64>,
    /// The line whose second number is above twelve.
    pub(super) month_first: Option<u64>,
    /// Whether the language of the headings puts the day first.
    pub(super) by_headings: bool,
    /// The evidence for the place of years of two digits.
    pub(super) years: Years,
    /// The lines whose first or second number is above twelve unless the year stands first, which is likelier there.
    withheld: [Option<u64>; 2],
}

/// A date with the rest of the cell: a time, or the end of a range.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Cell {
    pub(super) date: Written,
    /// Whether the numbers fixed their order, and which.
    pub(super) shows_day_first: Option<bool>,
    pub(super) rest: String,
    /// What it says of the place of the year, and its date with the year first where that is of two digits.
    pub(super) short: Short,
}

/// What the column makes of a date.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Settled {
    pub(super) date: Option<Date>,
    /// The readings of which the day of the track may choose another one.
    pub(super) readings: Vec<DateReading>,
}

impl Cell {
    /// Whether the year may stand first and is later then: the later year is the likelier one.
    fn is_likelier_with_year_first(&self) -> bool {
        let (Written::Day(date) | Written::Open { day_first: date, .. }) = self.date;
        self.short.year_first().is_some_and(|year_first| year_first.year() > date.year())
    }
}

impl Order {
    /// Takes one more cell into account.
    pub(super) fn learn(&mut self, cell: &Cell, line: u64) {
        let [day, month] = if cell.is_likelier_with_year_first() {
            self.withheld.each_mut()
        } else {
            [&mut self.day_first, &mut self.month_first]
        };
        match cell.shows_day_first {
            Some(true) => *day = day.or(Some(line)),
            Some(false) => *month = month.or(Some(line)),
            None => {}
        }
        self.years.learn(cell.short, line);
    }

    /// With what is withheld, where the column shows that the year does not stand first.
    pub(super) fn learned(mut self) -> Self {
        if self.years.first() == Some(false) {
            let [day, month] = self.withheld;
            self.day_first = self.day_first.or(day);
            self.month_first = self.month_first.or(month);
        }
        self
    }

    /// The day, where the column decides it, and the readings that remain.
    pub(super) fn settle(self, cell: &Cell) -> Settled {
        let plain = |order: Self| {
            let by_language = order.by_language(&cell.date);
            match order.decide(&cell.date) {
                Ok(date) => Settled { date: Some(date), readings: by_language.unwrap_or_default() },
                Err(_) if order.contradicts_itself() => {
                    Settled { date: None, readings: Vec::new() }
                }
                Err((day_first, month_first)) => {
                    Settled { date: None, readings: of_two(day_first, month_first) }
                }
            }
        };
        let Some(year_first) = cell.short.year_first() else { return plain(self) };
        match self.years.first() {
            Some(true) => Settled { date: Some(year_first), readings: Vec::new() },
            Some(false) => plain(self),
            None => {
                let mut settled = plain(self);
                if settled.date.is_none() && settled.readings.is_empty() {
                    return settled;
                }
                if let (Some(date), true) = (settled.date, settled.readings.is_empty()) {
                    let order = match cell.shows_day_first {
                        Some(false) => DateOrder::MonthFirst,
                        _ => DateOrder::DayFirst,
                    };
                    settled.readings.push(DateReading { order, date });
                }
                // where the usual order gives the earlier year, it does not decide
                if cell.is_likelier_with_year_first() && !cell.short.has_points() {
                    settled.date = None;
                }
                let order = DateOrder::YearFirst;
                settled.readings.push(DateReading { order, date: year_first });
                settled
            }
        }
    }

    /// Whether some dates show one order and some the other.
    pub(super) fn contradicts_itself(self) -> bool {
        self.day_first.is_some() && self.month_first.is_some()
    }

    /// Both readings of a date that only the language of the headings decides.
    fn by_language(self, date: &Written) -> Option<Vec<DateReading>> {
        match date {
            Written::Open { day_first, month_first }
                if self.by_headings && self.day_first.is_none() && self.month_first.is_none() =>
            {
                Some(of_two(*day_first, *month_first))
            }
            _ => None,
        }
    }

    /// The day, where the column decides it; otherwise both.
    pub(super) fn decide(self, date: &Written) -> Result<Date, (Date, Date)> {
        match (date, self.day_first, self.month_first) {
            (Written::Day(date), ..) => Ok(*date),
            (Written::Open { day_first, .. }, Some(_), None) => Ok(*day_first),
            (Written::Open { month_first, .. }, None, Some(_)) => Ok(*month_first),
            (Written::Open { day_first, .. }, None, None) if self.by_headings => Ok(*day_first),
            (Written::Open { day_first, month_first }, ..) => Err((*day_first, *month_first)),
        }
    }
}

fn of_two(day_first: Date, month_first: Date) -> Vec<DateReading> {
    vec![
        DateReading { order: DateOrder::DayFirst, date: day_first },
        DateReading { order: DateOrder::MonthFirst, date: month_first },
    ]
}

const ROMAN: [&str; 12] =
    ["i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii"];
/// Reads a date at the beginning of a cell.
pub(super) fn read(cell: &str) -> Option<Cell> {
    let text = without_weekday(cell.trim());
    iso(text).or_else(|| named_month(text)).or_else(|| numbers(text)).or_else(|| of_tuesday(text))
}

/// `mar. 7 oct. 2025`: in French, Spanish and Italian a Tuesday, though in several languages March.
fn of_tuesday(text: &str) -> Option<Cell> {
    let rest = text.get(..3).filter(|word| word.eq_ignore_ascii_case("mar")).map(|_| &text[3..])?;
    let rest = rest.trim_start_matches(['.', ',', ' ', '\u{a0}']);
    let begins = rest.starts_with(|c: char| c.is_ascii_digit());
    begins.then(|| named_month(rest).or_else(|| numbers(rest))).flatten()
}

/// A date that lacks only its year, with the year behind it: `3.5.`, `17 Oct`.
pub(super) fn with_year(cell: &str, year: &str) -> Option<String> {
    if cell.chars().count() > 20 || read(cell).is_some() {
        return None;
    }
    let text = cell.trim().trim_end_matches(['.', '/', '-', ' ']);
    let mark = match text {
        text if text.contains('/') => "/",
        text if without_weekday(text).contains(char::is_alphabetic) => " ",
        _ => ".",
    };
    let whole = format!("{text}{mark}{year}");
    read(&whole).is_some_and(|read| read.rest.is_empty()).then_some(whole)
}

/// The day of a text that is a date, where the order of its numbers is no question or does not change the year.
pub(super) fn day(text: &str) -> Option<Date> {
    match read(text)?.date {
        Written::Day(date) | Written::Open { day_first: date, .. } => Some(date),
    }
}

/// Where a day and a month without a year end at the beginning of a text: `4. Oktober`, `October 4`, `4.10.`.
pub(super) fn end_of_day_and_month(text: &str) -> Option<usize> {
    let own = without_weekday(text);
    let skipped = text.len() - own.len();
    let is_day = |text: &str| {
        let digits = text.trim_end_matches(|c: char| !c.is_ascii_digit());
        digits.len() <= 2 && digits.parse().is_ok_and(|day| (1..=31).contains(&day))
    };
    // only points: 4/10 and 4-10 may be numbers
    let points = || {
        let (day, rest) = figures(own)?;
        let (month, rest) = figures(rest.strip_prefix('.')?.trim_start())?;
        let rest = rest.strip_prefix('.')?;
        let is_month =
            month.len() <= 2 && month.parse().is_ok_and(|month| (1..=12).contains(&month));
        let ends = !rest.starts_with(|c: char| c.is_alphanumeric());
        (is_day(day) && is_month && ends).then(|| text.len() - rest.len())
    };
    let named = || {
        let (first, rest) = part(own)?;
        let (second, rest) = part(without_joining(rest))?;
        let is_month = |word: &str| word.chars().count() > 2 && months::number(word).is_some();
        let is_both = is_day(first) && is_month(second) || is_month(first) && is_day(second);
        let rest = rest.strip_prefix('.').unwrap_or(rest);
        is_both.then(|| text.len() - rest.len())
    };
    (own.len() + skipped == text.len()).then(|| points().or_else(named)).flatten()
}

/// Why no date can be read in a cell.
pub(super) fn why_unread(cell: &str) -> String {
    if ditto::is_of_date(cell) {
        return "it is a ditto mark, and there is no date above it".to_owned();
    }
    let known = |word: &str| {
        month_name(word).is_some() || months::stops_before(word) || months::joins(word)
    };
    let mut words =
        cell.split(|c: char| !c.is_alphabetic()).filter(|word| word.chars().count() > 2);
    let groups = cell.split(|c: char| !c.is_alphanumeric()).filter(|part| !part.is_empty()).count();
    match words.find(|word| !known(word)) {
        Some(word) => format!(
            "\"{}\" is no month or day of the week that is known",
            word.chars().take(24).collect::<String>()
        ),
        None if groups < 3 && cell.chars().count() < 8 => {
            "a date needs a day, a month and a year".to_owned()
        }
        None => "it is not a date of the calendar".to_owned(),
    }
}

/// Without a day of the week or an article before it.
fn without_weekday(text: &str) -> &str {
    let mut text = text;
    for _ in 0..3 {
        let end = text.find(|c: char| !c.is_alphabetic()).unwrap_or(text.len());
        if end == text.len() || !months::stops_before(&text[..end]) {
            break;
        }
        text = text[end..].trim_start_matches(['.', ',', ' ', '-', '\u{a0}']);
    }
    text
}

/// `2026-05-03`, `2026/5/3`, `2026.05.03`, `20260503`.
fn iso(text: &str) -> Option<Cell> {
    let (year, rest) = figures(text)?;
    if year.len() == 8 {
        let date = date(&year[..4], &year[4..6], &year[6..])?;
        return Some(certain(date, rest));
    }
    if year.len() != 4 {
        return None;
    }
    let mark = rest.chars().next().filter(|c| matches!(c, '-' | '/' | '.' | ' '))?;
    let (month, rest) = figures(&rest[mark.len_utf8()..])?;
    let (day, rest) = figures(rest.strip_prefix(mark)?)?;
    Some(certain(date(year, month, day)?, rest))
}

/// `3 May 2026`, `3.v.2026`, `3-May-26`, `May 3rd, 2026`, `3 de mayo de 2026`.
fn named_month(text: &str) -> Option<Cell> {
    let (first, rest) = part(text)?;
    let (second, rest) = part(without_joining(rest))?;
    let (year, rest) = part(without_joining(rest))?;
    // Latvian puts the year first and the month last: 2026. gada 17. oktobris
    let (second, year) = match (month_name(first), month_name(second), month_name(year)) {
        (None, None, Some(_)) => (year, second),
        _ => (second, year),
    };
    let (day, month) = match (month_name(first), month_name(second)) {
        (None, Some(month)) => (first, month),
        // x.10.2025: a day that is not known, or a Roman month in the wrong place
        (Some(month), None) if months::number(first).is_some() || !may_be_month(second) => {
            (second, month)
        }
        _ => return None,
    };
    let day = day.trim_end_matches(|c: char| !c.is_ascii_digit());
    // Hungarian puts the year first: 2026. oktober 17.
    let year_first = day.len() == 4 && day.bytes().all(|byte| byte.is_ascii_digit());
    let (day, year) = if year_first { (year, day) } else { (day, year) };
    let date = date(&full_year(year)?, &month.to_string(), day)?;
    Some(certain(date, rest))
}

fn may_be_month(text: &str) -> bool {
    text.parse().is_ok_and(|number: u8| (1..=12).contains(&number))
}

/// `03/05/2026`, `3.5.26`, `3-5-2026`, and `27/9-25` as in Denmark and Sweden, with the day first; `26-11-01` may have
/// the year first.
fn numbers(text: &str) -> Option<Cell> {
    let (first, rest) = figures(text)?;
    let mark = rest.chars().next().filter(|c| matches!(c, '-' | '/' | '.' | ' '))?;
    let (second, rest) = figures(rest[mark.len_utf8()..].trim_start())?;
    let nordic = mark == '/' && rest.starts_with([' ', '-']);
    let behind_month =
        if nordic { rest.trim_start().trim_start_matches('-') } else { rest.strip_prefix(mark)? };
    let (last, rest) = figures(behind_month.trim_start())?;
    let year_first = if nordic || mark == ' ' { None } else { year_first(first, second, last) };
    let year = full_year(last);
    let of_year = |month, day| date(year.as_deref()?, month, day);
    let (day_first, month_first) = (of_year(second, first), of_year(first, second));
    let (date, shows_day_first) = match (day_first, month_first) {
        (Some(day_first), Some(month_first)) if day_first == month_first => {
            (Written::Day(day_first), None)
        }
        // common practice: points between the numbers are used in countries that put the day first
        (Some(day_first), _) if mark == '.' || nordic => (Written::Day(day_first), None),
        (Some(day_first), Some(month_first)) => (Written::Open { day_first, month_first }, None),
        (Some(date), None) => (Written::Day(date), Some(true)),
        (None, Some(date)) => (Written::Day(date), Some(false)),
        (None, None) => (Written::Day(year_first?), None),
    };
    let year_last = day_first.or(month_first);
    let short = Short::of([first, last], mark, year_last, year_first);
    Some(Cell { date, shows_day_first, rest: behind(rest), short })
}

/// `26-11-01` with the year first.
fn year_first(year: &str, month: &str, day: &str) -> Option<Date> {
    let short = year.len() == 2 && month.len() <= 2 && day.len() <= 2;
    date(&full_year(year).filter(|_| short)?, month, day)
}

fn certain(date: Date, rest: &str) -> Cell {
    let short = Short::whole(date);
    Cell { date: Written::Day(date), shows_day_first: None, rest: behind(rest), short }
}

/// The rest after a date: a time, or nothing relevant.
fn behind(rest: &str) -> String {
    let rest = rest.trim_start_matches(['T', 't', ',', ' ', '\u{a0}']).trim();
    // a full stop, and what Polish and Italian put behind a year
    let year = ["r.", "r", "roku", "d.", "g.", ".", "г.", "г", "року", "р."].contains(&rest);
    if year { String::new() } else { rest.to_owned() }
}

fn figures(text: &str) -> Option<(&str, &str)> {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    (end > 0 && end <= 8).then(|| text.split_at(end))
}

/// Without a word such as "of" before the next part, nor the sign of an ordinal.
fn without_joining(text: &str) -> &str {
    let text = text.trim_start_matches(['\u{b0}', '\u{ba}']);
    match part(text) {
        Some((word, rest)) if months::joins(word) => rest,
        _ => text,
    }
}

/// A run of letters and digits, after skipping marks.
fn part(text: &str) -> Option<(&str, &str)> {
    let text =
        text.trim_start_matches([' ', '.', '-', '/', ',', '\'', '\u{a0}', '\u{2013}', '\u{2019}']);
    let end = text.find(|c: char| !c.is_alphanumeric()).unwrap_or(text.len());
    (end > 0).then(|| text.split_at(end))
}

fn month_name(word: &str) -> Option<usize> {
    let roman = || ROMAN.iter().position(|roman| roman.eq_ignore_ascii_case(word));
    months::number(word).or_else(|| roman().map(|index| index + 1))
}

/// Four digits; two digits mean the nearest century.
fn full_year(year: &str) -> Option<String> {
    match year.len() {
        4 => Some(year.to_owned()),
        2 if year.bytes().all(|byte| byte.is_ascii_digit()) => {
            Some(format!("{}{year}", if year < "70" { "20" } else { "19" }))
        }
        _ => None,
    }
}

fn date(year: &str, month: &str, day: &str) -> Option<Date> {
    let date = Date::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?).ok()?;
    (1750..=2200).contains(&date.year()).then_some(date)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date as day;

    #[test]
    fn dates_in_the_ways_they_are_written() {
        for text in [
            "2026-05-03",
            "2026/5/3",
            "2026.05.03",
            "20260503",
            "3 May 2026",
            "3.v.2026",
            "3. V. 2026",
            "03-May-26",
            "May 3rd, 2026",
            "Sunday, 3 May 2026",
            "Sun 3 may 2026",
            "3.5.2026",
            "3. 5. 2026",
            "3/5-26",
            "3/5 2026",
            "2026-05-03T14:05",
            "2026-05-03 14:05:33",
        ] {
            let cell = read(text).unwrap_or_else(|| panic!("{text}"));
            assert_eq!(cell.date, Written::Day(day(2026, 5, 3)), "{text}");
        }
        for text in [
            "17. Oktober 2026",
            "Samstag, 17. Okt. 2026",
            "Sa. 17. Oktober 2026",
            "17 octobre 2026",
            "le 17 oct. 2026",
            "17 de octubre de 2026",
            "s\u{e1}bado, 17 de outubro de 2026",
            "17 ottobre 2026",
            "17 oktober 2026",
            "17. okt. 2026",
            "l\u{f8}rdag den 17. oktober 2026",
            "lauantaina 17. lokakuuta 2026",
            "17 pa\u{17a}dziernika 2026 r.",
            "17 pa\u{17a} 2026",
            "17. \u{159}\u{ed}jna 2026",
            "October 17, 2026",
            "17th of October 2026",
            "17\u{ba} de outubro de 2026",
            "2026. okt\u{f3}ber 17.",
            "17 octombrie 2026",
            "17 Ekim 2026",
            "17 октября 2026 г.",
            "17 жовтня 2026 р.",
            "17 Οκτωβρίου 2026",
            "17 d\u{2019}octubre de 2026",
            "2026 m. spalio 17 d.",
            "17 spalio 2026",
            "17. oktobris 2026",
            "2026. gada 17. oktobris",
            "za 17 okt. 2026",
            "sam. 17 oct. 2026",
            "s\u{e1}b 17 oct 2026",
            "l\u{f8}r. 17. okt. 2026",
            "la 17. lokakuuta 2026",
            "so 17. \u{159}\u{ed}jna 2026",
            "mar. 17 oct. 2026",
        ] {
            let cell = read(text).unwrap_or_else(|| panic!("{text}"));
            assert_eq!(cell.date, Written::Day(day(2026, 10, 17)), "{text}");
            assert_eq!(cell.rest, "", "{text}");
        }
        for (text, month) in [
            ("1er ao\u{fb}t 2026", 8),
            ("1. M\u{e4}rz 2026", 3),
            ("1. marraskuuta 2026", 11),
            ("1. \u{10d}ervence 2026", 7),
            ("1. \u{10d}ervna 2026", 6),
            ("1 wrze\u{15b}nia 2026", 9),
            ("1 sierpnia 2026", 8),
            ("1 de agosto de 2026", 8),
            ("1 d\u{e9}cembre 2026", 12),
            ("1. desember 2026", 12),
            ("1 giugno 2026", 6),
            ("1 rugs\u{117}jo 2026", 9),
            ("1 bir\u{17e}elio 2026", 6),
            ("1. j\u{16b}lijs 2026", 7),
            ("1. j\u{16b}nij\u{101} 2026", 6),
        ] {
            let read = read(text).map(|cell| cell.date);
            assert_eq!(read, Some(Written::Day(day(2026, month, 1))), "{text}");
        }
        assert_eq!(read("2026-05-03T14:05").unwrap().rest, "14:05");
        assert_eq!(read("2026-05-03/2026-05-04").unwrap().rest, "/2026-05-04");
    }

    #[test]
    fn the_column_decides_the_order_of_day_and_month() {
        let open = read("03/05/2026").unwrap();
        assert_eq!(Order::default().decide(&open.date), Err((day(2026, 5, 3), day(2026, 3, 5))));
        let mut order = Order::default();
        order.learn(&read("23/05/2026").unwrap(), 7);
        assert_eq!((order.day_first, order.month_first), (Some(7), None));
        assert_eq!(order.decide(&open.date), Ok(day(2026, 5, 3)));
        order.learn(&read("05/23/2026").unwrap(), 8);
        assert!(order.decide(&open.date).is_err());
        assert_eq!(read("05/05/26").unwrap().date, Written::Day(day(2026, 5, 5)));
    }

    #[test]
    fn the_column_decides_the_place_of_a_year_of_two_digits() {
        let settled = |all: &[&str]| -> Vec<Option<Date>> {
            let cells: Vec<Cell> = all.iter().map(|text| read(text).unwrap()).collect();
            let mut order = Order { by_headings: true, ..Order::default() };
            for cell in &cells {
                order.learn(cell, 2);
            }
            let order = order.learned();
            cells.iter().map(|cell| order.settle(cell).date).collect()
        };
        for all in [
            vec!["26-11-01", "26-11-08"],
            vec!["26-11-01", "2026-11-03"],
            vec!["26/11/01", "26/11/08"],
            vec!["26-11-01", "95-11-08"],
            vec!["26-11-01", "26-11-1"],
            vec!["26.11.01", "26.11.08", "26.10.30"],
        ] {
            assert_eq!(settled(&all)[0], Some(day(2026, 11, 1)), "{all:?}");
        }
        for all in [
            vec!["01-11-26", "08-11-26"],
            vec!["01-11-26", "3.11.2026"],
            vec!["01-11-26", "1-11-26"],
            vec!["01-11-26"],
            vec!["01.11.26"],
            vec!["01/11/26", "30/11/26"],
            vec!["01-11-26", "01-12-27"],
        ] {
            assert_eq!(settled(&all)[0], Some(day(2026, 11, 1)), "{all:?}");
        }
        // nothing decides, and the usual order gives the earlier year
        for all in [vec!["26-11-01"], vec!["26/11/01", "26/11/01"], vec!["26-11-01", "25-11-02"]] {
            assert_eq!(settled(&all)[0], None, "{all:?}");
        }
        let readings = Order::default().settle(&read("26-11-01").unwrap()).readings;
        let dates: Vec<Date> = readings.iter().map(|reading| reading.date).collect();
        assert_eq!(dates, [day(2001, 11, 26), day(2026, 11, 1)]);
        // with points the day is first; the track may show another reading
        let points = Order::default().settle(&read("26.11.01").unwrap());
        assert_eq!((points.date, points.readings.len()), (Some(day(2001, 11, 26)), 2));
    }

    #[test]
    fn a_roman_month_does_not_stand_first() {
        for text in ["x.10.2025", "v.10.2025", "I. 10. 2025", "X.10.25", "x 10 2025"] {
            assert_eq!(read(text), None, "{text}");
        }
        for text in ["10.x.2025", "10. X. 2025", "Mai 10, 2025"] {
            assert!(read(text).is_some(), "{text}");
        }
        assert_eq!(super::day("x.13.2025"), Some(day(2025, 10, 13)));
    }

    #[test]
    fn a_day_and_a_month_without_a_year() {
        for (text, end) in [
            ("4. Oktober, Bergheim", 10),
            ("4.10. Bergheim", 5),
            ("Samstag, 4. Oktober", 19),
            ("October 4", 9),
            ("4 de octubre", 12),
        ] {
            assert_eq!(end_of_day_and_month(text), Some(end), "{text}");
        }
        for text in ["4.10", "4/10", "4.10.5", "40.10.", "4", "4 x 3", "2 Boletus"] {
            assert_eq!(end_of_day_and_month(text), None, "{text}");
        }
        assert_eq!(with_year("Sa 4.10.", "2025").as_deref(), Some("Sa 4.10.2025"));
    }

    #[test]
    fn the_reason_names_what_is_not_known() {
        assert!(why_unread("17 Kuulan 2026").contains("\"Kuulan\" is no month"));
        assert!(why_unread("1 Nov").contains("a day, a month and a year"));
        assert!(why_unread("3/5").contains("a day, a month and a year"));
        assert_eq!(why_unread("2026-02-30"), "it is not a date of the calendar");
    }

    #[test]
    fn invalid_dates_are_not_read() {
        for text in
            ["", "yesterday", "3 May", "31/31/2026", "2026-02-30", "1", "May", "3/5", "\u{e9}"]
        {
            assert_eq!(read(text), None, "{text}");
        }
    }
}
