//! Reads rows of one text that name a day between the finds: `Samstag, 4. Oktober`, `Exkursion 4.10.2025`, `2. Tag`. A
//! date of them is completed, so that it is the date of the rows below. Where none can be read, the rows below
//! have no date, rather than that of the rows above. Layer: `ingest`.

use std::collections::BTreeSet;

use jiff::civil::Date;

use super::column::Column;
use super::columns::Columns;
use super::headings::bare;
use super::layout::Layout;
use super::table::{Row, Table};
use super::{date, day_places, days, filled, months, shortened, totals, weekdays};
use crate::error::Error;

/// The longest text that names a day, characters.
const LONGEST: usize = 80;
/// The most words before its date.
const MOST_WORDS: usize = 4;
/// Days between the dates of a table and one whose year they complete (common practice).
const NEAR: i32 = 150;
/// Words for a day or an outing in the languages of the headings, without accents.
const DAYS: &str = "day days outing trip excursion foray survey walk visit tag tage fundtag sammeltag exkursion \
    exkursionstag begehung wanderung tour ausflug termin jour journee sortie visite dia jornada excursion salida excursao \
    saida giorno giornata escursione uscita dag excursie tocht tur ekskursion utflykt exkursionen paiva retki dzien \
    wycieczka den vylet exkurze vychazka";
/// Words for which day it is, without accents.
const WHICH: &str = "first second third fourth next last same erster zweiter dritter vierter nachster letzter premier \
    premiere deuxieme second seconde troisieme dernier prochain primer primero segundo tercer primo secondo terzo eerste \
    tweede derde forste anden andre tredje forsta andra ensimmainen toinen kolmas pierwszy drugi trzeci prvni druhy treti";

/// A row that names a day whose date cannot be read.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Unread {
    pub(super) line: u64,
    pub(super) text: String,
}

/// What a text that names a day says.
#[derive(Debug, PartialEq)]
enum Day {
    /// A date with what stands behind it, as a row of a date alone has them.
    Date(String),
    Unread,
}

/// Completes the dates of rows that name a day, and takes those out whose date cannot be read; reports both.
pub(super) fn completed(table: &mut Table, columns: &Columns, sheet: &str) -> Vec<Error> {
    let may_be =
        |row: &Row| row.cells.iter().filter(|cell| filled(cell).is_some()).nth(2).is_none();
    if !table.rows.iter().chain(&table.above).any(may_be) {
        return Vec::new();
    }
    let layout = Layout::of(table, columns);
    let rows = Rows::of(table, &layout, sheet);
    let mut notes = Vec::new();
    let mut unread = Vec::new();
    let last = table.rows.iter().rposition(|row| !may_be(row)).unwrap_or(0);
    let mut place = 0;
    table.rows.retain_mut(|row| {
        place += 1;
        if place > last || !may_be(row) {
            return true;
        }
        let Some((at, text)) = rows.text(row) else { return true };
        match rows.day(&text) {
            None => true,
            Some(Day::Date(date)) => {
                notes.push(completed_note(&text, &date, row.line));
                row.cells.clear();
                row.cells.resize(at, compact_str::CompactString::default());
                row.cells.push(date.into());
                true
            }
            Some(Day::Unread) => {
                notes.push(unread_note(&text, row.line));
                unread.push(Unread { line: row.line, text });
                false
            }
        }
    });
    for row in table.above.iter_mut().filter(|row| may_be(row)) {
        let Some((at, text)) = rows.text(row) else { continue };
        if is_of_outing(&text)
            && let Some(Day::Date(date)) = rows.day(&text)
        {
            row.cells.clear();
            row.cells.resize(at, compact_str::CompactString::default());
            row.cells.push(date.into());
        }
    }
    table.unread_days = unread;
    notes
}

/// A date with its year and what stands behind it; `None` where the year is open.
type Found = Option<(String, String)>;

/// What the rows of a table have in common.
struct Rows {
    /// Columns in which a row that names a day may have its text.
    margin: BTreeSet<usize>,
    number: Option<usize>,
    date: Option<usize>,
    /// The shapes of the numbers of finds.
    shapes: BTreeSet<String>,
    /// The dates of the table.
    dates: Vec<Date>,
    /// The years that titles and the name of the sheet have.
    years: BTreeSet<i16>,
}

impl Rows {
    fn of(table: &Table, layout: &Layout, sheet: &str) -> Self {
        let places =
            [Column::Number, Column::Date, Column::Time].map(|column| layout.place(column));
        let (number, date) = (places[0], places[1]);
        let more =
            |row: &&Row| row.cells.iter().filter(|cell| filled(cell).is_some()).nth(2).is_some();
        let numbers =
            table.rows.iter().filter(more).filter_map(|row| filled(row.cells.get(number?)?));
        let shapes = numbers.map(super::below::shape).collect();
        let of_column = table.rows.iter().filter_map(|row| filled(row.cells.get(date?)?));
        let in_rows: Vec<String> =
            table.rows.iter().filter_map(|row| Some(days::alone(row, date)?.date)).collect();
        let dates =
            of_column.chain(in_rows.iter().map(String::as_str)).filter_map(date::day).collect();
        let titles = table.above.iter().flat_map(|row| row.cells.iter().map(|cell| &**cell));
        let years = titles.chain([sheet]).flat_map(years_of).collect();
        let margin = places.into_iter().flatten().chain([0]).collect();
        Self { margin, number, date, shapes, dates, years }
    }

    /// The text of a row that has no other, and its place; two where the first names a day and the second a date.
    fn text(&self, row: &Row) -> Option<(usize, String)> {
        let mut cells =
            row.cells.iter().enumerate().filter_map(|(at, cell)| Some((at, filled(cell)?)));
        let (at, first) = cells.next()?;
        let second = cells.next();
        let is_unusual =
            Some(at) != self.number || !self.shapes.contains(&super::below::shape(first));
        if !self.margin.contains(&at) || !is_unusual || first.chars().count() > LONGEST {
            return None;
        }
        match second {
            None => Some((at, first.to_owned())),
            Some((_, second)) => {
                let names = is_of_outing(first) && second.contains(|c: char| c.is_ascii_digit());
                let is_date =
                    date::read(second).is_some() || date::with_year(second, "2000").is_some();
                (names && is_date).then(|| (at, format!("{first}, {second}")))
            }
        }
        .filter(|_| days::alone(row, self.date).is_none_or(|own| has_date(&own.behind)))
        .filter(|_| !totals::is_print_date(row))
    }

    /// What a text says, if it names a day.
    fn day(&self, text: &str) -> Option<Day> {
        let words = words(text);
        if words.first().is_some_and(|word| super::below::is_title_word(word)) {
            return None;
        }
        let Some((begin, whole)) = self.date_in(text) else {
            return is_unread_day(&words).then_some(Day::Unread);
        };
        let before = &text[..begin];
        let count = self::words(before).len();
        if count > MOST_WORDS {
            return None;
        }
        let Some((date, behind)) = whole else { return Some(Day::Unread) };
        let of_week = date::day(&date).is_some_and(|day| {
            let mut words = before.split(|c: char| !c.is_alphabetic()).chain([&*date]);
            words.any(|word| weekdays::contradict(word, day))
        });
        if has_date(&behind) || of_week {
            return Some(Day::Unread);
        }
        let behind = without_weather(&behind);
        if count == 0 || is_of_outing(before) {
            return Some(Day::Date(joined(&date, behind)));
        }
        // the place before the date
        let place = before.trim_end_matches(|c: char| !c.is_alphanumeric() && c != ')').trim();
        let is_place = behind.is_empty() && day_places::is_place(place);
        Some(if is_place { Day::Date(joined(&date, place)) } else { Day::Unread })
    }

    /// Where the date in a text begins, with its year and what stands behind it; no date where the year is open.
    fn date_in(&self, text: &str) -> Option<(usize, Found)> {
        let starts = text.char_indices().filter(|(at, c)| {
            let before = text[..*at].chars().next_back();
            c.is_alphanumeric() && before.is_none_or(|c| c.is_whitespace() || ":,;(".contains(c))
        });
        for (begin, _) in starts {
            let rest = &text[begin..];
            let plain = rest.bytes().take_while(u8::is_ascii_digit).count();
            if plain >= 5 {
                continue;
            }
            if let Some(read) = date::read(rest) {
                let date = rest[..rest.len() - read.rest.len()]
                    .trim_end_matches([' ', ',', ':', '-', '(']);
                return Some((begin, Some((date.to_owned(), read.rest))));
            }
            if let Some(found) = self.without_year(rest) {
                return Some((begin, found));
            }
        }
        None
    }

    /// A day and a month without a year at the beginning of a text.
    fn without_year(&self, text: &str) -> Option<Found> {
        let end = date::end_of_day_and_month(text)?;
        let (short, behind) = text.split_at(end);
        let short = short.trim_end_matches([',', ' ']);
        let year = self.year(short);
        let behind = behind.trim_start_matches([',', ':', ' ', '.']);
        Some(
            year.and_then(|year| {
                Some((date::with_year(short, &year.to_string())?, behind.to_owned()))
            }),
        )
    }

    /// The only year that a day and a month can have.
    fn year(&self, short: &str) -> Option<i16> {
        let of_dates: BTreeSet<i16> = self.dates.iter().map(|date| date.year()).collect();
        let years = if of_dates.is_empty() { &self.years } else { &of_dates };
        let [year] = years.iter().copied().collect::<Vec<_>>()[..] else { return None };
        is_near(short, year, &self.dates).then_some(year)
    }
}

/// Whether a day and a month are nearer to the dates of a table in this year than in another one.
pub(super) fn is_near(short: &str, year: i16, dates: &[Date]) -> bool {
    let (Some(first), Some(last)) = (dates.iter().min(), dates.iter().max()) else { return true };
    let away = |year: i16| {
        let day = date::with_year(short, &year.to_string()).and_then(|whole| date::day(&whole))?;
        let days = |from: Date, to: Date| from.until(to).map_or(0, |span| span.get_days());
        Some(days(day, *first).max(days(*last, day)).max(0))
    };
    let Some(own) = away(year) else { return false };
    own <= NEAR && [year - 1, year + 1].into_iter().filter_map(away).all(|other| own < other)
}

/// The years in a title.
fn years_of(text: &str) -> Vec<i16> {
    let parts = text.split(|c: char| !c.is_ascii_digit()).filter(|part| part.len() == 4);
    parts.filter_map(|part| part.parse().ok()).filter(|year| (1900..=2100).contains(year)).collect()
}

fn words(text: &str) -> Vec<String> {
    let words = text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
    words.map(bare).collect()
}

/// Whether a text has a word for a day, an outing or a day of the week.
fn is_of_outing(text: &str) -> bool {
    let is_day = |word: &String| is_of(DAYS, word) || months::stops_before(word);
    words(text).iter().any(is_day)
}

/// `2. Tag`, `second day`, `Sonntag`, `Oktober 2025`.
fn is_unread_day(words: &[String]) -> bool {
    let is_number =
        |word: &String| word.starts_with(|c: char| c.is_ascii_digit()) && word.len() <= 4;
    let first = || words.iter().take(3);
    let which = first().any(|word| is_number(word) || is_of(WHICH, word));
    let day = first().any(|word| is_of(DAYS, word));
    let of_week =
        words.len() <= 2 && words.iter().all(|word| word.len() > 4 && months::stops_before(word));
    let month = words.first().is_some_and(|word| word.len() > 2 && months::number(word).is_some())
        && words[1..].iter().all(is_number)
        && words.len() <= 2;
    day && which || !words.is_empty() && of_week || month
}

fn is_of(list: &str, word: &str) -> bool {
    list.split_whitespace().any(|own| own == word)
}

/// Whether another date stands behind a date.
fn has_date(behind: &str) -> bool {
    let starts = behind.char_indices().filter(|(_, c)| c.is_ascii_digit());
    let mut before = None;
    starts.into_iter().any(|(at, _)| {
        let begins = before != Some(at);
        before = Some(at + 1);
        begins
            && (date::read(&behind[at..]).is_some()
                || date::end_of_day_and_month(&behind[at..]).is_some())
    })
}

/// What stands behind a date without words of the weather behind a comma.
fn without_weather(behind: &str) -> &str {
    let end = behind
        .match_indices(',')
        .map(|(at, _)| at)
        .find(|at| day_places::is_weather(&behind[at + 1..]));
    behind[..end.unwrap_or(behind.len())].trim()
}

fn joined(date: &str, behind: &str) -> String {
    if behind.is_empty() { date.to_owned() } else { format!("{date}, {behind}") }
}

fn completed_note(text: &str, date: &str, line: u64) -> Error {
    let date = date::day(date).map_or_else(|| date.to_owned(), |date| date.to_string());
    Error::input(format!("the row \"{}\" is read as a day: {date}", shortened(text)))
        .because("it has nothing but this text; the rows below it without a date are of that day")
        .hint("write the whole date in the row of each find if this is wrong")
        .at_line(line)
}

fn unread_note(text: &str, line: u64) -> Error {
    Error::input(format!("the row \"{}\" names a day that cannot be read", shortened(text)))
        .because("the dates above do not hold below it; rows below it without a date of their own have none")
        .hint("write the date of that day into this row, such as 2026-05-03")
        .at_line(line)
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};

    /// The dates of finds above and below a row, their numbers, places and the notes.
    fn read(row: &str) -> (Vec<String>, Vec<String>, String) {
        let read = file(&format!(
            "Nr.;Datum;Uhrzeit;Ort;Art\n1;3.10.2025;10:00;Tal;Mycena\n2;;10:10;Tal;Mycena\n{row}\n3;;10:00;;Mycena\n4;;10:20;;Mycena\n"
        ));
        let date = |record: &crate::model::Record| {
            record.date.map_or_else(
                || record.other("date as written").unwrap_or("").to_owned(),
                |d| d.to_string(),
            )
        };
        let places = read.records.iter().map(|own| own.place.clone().unwrap_or_default()).collect();
        let notes = messages(&read.remarks).into_iter().chain(messages(&read.set_aside));
        (read.records.iter().map(date).collect(), places, notes.collect::<Vec<_>>().join("\n"))
    }

    #[test]
    fn a_row_that_names_a_day_is_the_date_of_the_rows_below() {
        for row in [
            "Samstag, 4. Oktober",
            "4. Oktober",
            "4.10.",
            "Sa 4.10.",
            "Samedi 4 octobre",
            "4 de octubre",
            "October 4",
            "la 4. lokakuuta",
            "Exkursion 4.10.2025",
            "Fundtag 4.10.2025",
            "Tag 2: 4.10.2025",
            "2. Tag: 4. Oktober",
            "Jour 2 : 4 octobre 2025",
            "Tag 2;4.10.2025",
            "Samstag;4.10.",
        ] {
            let (dates, places, notes) = read(row);
            assert_eq!(
                dates,
                ["2025-10-03", "2025-10-03", "2025-10-04", "2025-10-04"],
                "{row}: {notes}"
            );
            assert_eq!(places[2], "", "{row}");
            assert!(notes.contains("is read as a day: 2025-10-04"), "{row}: {notes}");
        }
        for row in
            ["Tag 2: 4.10.2025, Bergheim, sonnig", "Bergheim, 4.10.2025", "4. Oktober, Bergheim"]
        {
            let (dates, places, notes) = read(row);
            assert_eq!(
                (dates[3].as_str(), places[3].as_str()),
                ("2025-10-04", "Bergheim"),
                "{row}: {notes}"
            );
        }
    }

    #[test]
    fn the_date_above_does_not_hold_below_a_day_that_cannot_be_read() {
        for row in [
            "2. Tag",
            "Tag 2",
            "Day 2",
            "2e jour",
            "Sonntag",
            "zweiter Tag",
            "Oktober 2025",
            "3. Januar",
            "Montag, 4. Oktober",
            "alle ab hier 4.10.2025",
            "4.10.2025 und 5.10.2025",
        ] {
            let (dates, _, notes) = read(row);
            assert_eq!(dates, ["2025-10-03", "2025-10-03", row, row], "{notes}");
            assert!(
                notes.contains("names a day that cannot be read (notes.csv, line 4)"),
                "{row}: {notes}"
            );
        }
    }

    #[test]
    fn numbers_remarks_and_places_name_no_day() {
        for row in [
            "17",
            "Buchenwald",
            "Alle Funde unter Fichten",
            ";;;;Mycena 18.10.2026",
            "Wetter 4.10.: 12 Grad",
            "Stand 4.10.2025",
        ] {
            let (dates, _, notes) = read(row);
            assert!(!notes.contains("day"), "{row}: {notes}");
            assert_eq!(dates.last().map(String::as_str), Some("2025-10-03"), "{row}: {notes}");
        }
        // numbers of that shape
        let read = file("Nr.;Datum;Art\n4.8.;3.10.2025;a\n4.9.;;b\n4.10.;;\n4.11.;;c\n");
        assert_eq!(read.records.len(), 4);
        assert_eq!(messages(&read.remarks).len(), 1, "{:?}", messages(&read.remarks));
    }

    #[test]
    fn a_title_gives_the_year() {
        let read = file(
            "Funde 2025;;\nNr.;Uhrzeit;Art\nFreitag, 3. Oktober;;\n1;10:00;a\nSa., 4. Oktober;;\n2;10:00;b\n",
        );
        let dates: Vec<String> =
            read.records.iter().filter_map(|own| Some(own.date?.to_string())).collect();
        assert_eq!(dates, ["2025-10-03", "2025-10-04"], "{:?}", messages(&read.remarks));
    }
}
