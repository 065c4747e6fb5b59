//! Takes out rows that are no finds: legends, tables of the weather and remarks below the finds. Each is reported with
//! its text. A row that has something of a find stays one. Layer: `ingest`.

use std::collections::HashSet;

use super::column::Column;
use super::columns::Columns;
use super::layout::Layout;
use super::table::{Row, Table};
use super::{date, days, ditto, filled, heading_rows, headings, shortened, time, totals};
use crate::error::Error;

/// Words with which a block that is no table of finds begins, without accents.
const TITLES: &str = "legend key abbreviations weather remarks remark notes note comments explanation explanations \
    legende zeichenerklarung abkurzungen erlauterungen erlauterung wetter witterung bemerkungen bemerkung anmerkungen \
    anmerkung notizen hinweis hinweise temperatur niederschlag \
    abreviations meteo remarques remarque explications leyenda abreviaturas tiempo observaciones notas legenda \
    abreviaturas observacoes leggenda abbreviazioni osservazioni afkortingen weer opmerkingen opmerking \
    forklaring forklaringer forkortelser vejr bemaerkninger bemaerkning vaer merknader forklaring \
    teckenforklaring forkortningar vader anmarkningar selite selitteet lyhenteet saa huomautuksia huomautukset \
    objasnienia skroty pogoda uwagi vysvetlivky zkratky pocasi poznamky poznamka";
/// Words of a find without a number, without accents.
const UNNUMBERED: &str =
    "sn sine ohne on none without sans sin senza zonder uden uten utan ilman brak bez x";
/// The longest row that is quoted whole, characters.
const LONGEST: usize = 120;
/// So many finds show what finds of the table have.
const FEWEST: usize = 2;

/// Takes out what is no find below the finds; reports it.
pub(super) fn taken_out(table: &mut Table, columns: &Columns, in_sheet: bool) -> Vec<Error> {
    let layout = Layout::of(table, columns);
    if layout.slots().len() < 3 || !has_gap_or_single(table, in_sheet) {
        return Vec::new();
    }
    let mut finds = Finds::of(&layout, columns);
    let mut kept = vec![true; table.rows.len()];
    let mut begin = 0;
    while begin < table.rows.len() {
        let end = end_of_block(&table.rows, begin, in_sheet);
        finds.sort(&table.rows[begin..end], &mut kept[begin..end]);
        begin = end;
    }
    let mut notes = Vec::new();
    let mut own = kept.into_iter();
    table.rows.retain(|row| {
        let kept = own.next() != Some(false);
        if !kept {
            notes.push(skipped(row, in_sheet));
        }
        kept
    });
    notes
}

/// Most tables have neither blank rows nor rows of one text, and are not looked at any further.
fn has_gap_or_single(table: &Table, in_sheet: bool) -> bool {
    let single =
        |row: &Row| row.cells.iter().filter(|cell| filled(cell).is_some()).nth(1).is_none();
    table.rows.iter().any(single)
        || table
            .rows
            .windows(2)
            .any(|pair| matches!(pair, [one, next] if is_gap(one, next, in_sheet)))
}

/// Whether a blank row stands between two rows.
fn is_gap(row: &Row, next: &Row, in_sheet: bool) -> bool {
    let breaks = |cell: &compact_str::CompactString| cell.matches('\n').count() as u64;
    let lines = if in_sheet { 0 } else { row.cells.iter().map(breaks).sum() };
    next.line > row.line + lines + 1
}

fn end_of_block(rows: &[Row], begin: usize, in_sheet: bool) -> usize {
    let gap = rows[begin..].windows(2).position(|pair| is_gap(&pair[0], &pair[1], in_sheet));
    gap.map_or(rows.len(), |place| begin + place + 1)
}

/// What the rows between two blank rows are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Block {
    Finds,
    /// They begin with a title such as "legend".
    Titled,
    /// They begin with headings of another table.
    Headed,
}

/// What the finds of a table have.
struct Finds<'t> {
    layout: &'t Layout,
    columns: &'t Columns,
    number: Option<usize>,
    date: Option<usize>,
    count: usize,
    /// Whether each so far has a date, a time, a position or a number of the usual shape.
    all_evident: bool,
    shapes: HashSet<String>,
    numbers: HashSet<String>,
}

impl<'t> Finds<'t> {
    fn of(layout: &'t Layout, columns: &'t Columns) -> Self {
        Self {
            layout,
            columns,
            number: layout.place(Column::Number),
            date: layout.place(Column::Date),
            count: 0,
            all_evident: true,
            shapes: HashSet::new(),
            numbers: HashSet::new(),
        }
    }

    /// Says of the rows of a block, between blank rows, which are finds.
    fn sort(&mut self, rows: &[Row], kept: &mut [bool]) {
        let mut block = Block::Finds;
        for (place, (row, kept)) in rows.iter().zip(kept).enumerate() {
            if days::alone(row, self.date).is_some()
                || totals::is_total(self.layout, row)
                || totals::is_print_date(row)
            {
                continue;
            }
            if self.count >= FEWEST && (place == 0 || block == Block::Titled) {
                let is_last = place + 1 == rows.len();
                if self.is_headed(row, is_last) {
                    block = Block::Headed;
                } else if place == 0 && self.is_title(row) {
                    block = Block::Titled;
                }
            }
            *kept = self.is_find(row, block);
            if *kept {
                self.learn(row);
            }
        }
    }

    fn learn(&mut self, row: &Row) {
        self.all_evident &= self.is_evident(row) || self.has_usual_number(row);
        self.count += 1;
        if let Some(number) = cell(row, self.number) {
            self.shapes.insert(shape(number));
            self.numbers.insert(number.to_owned());
        }
    }

    /// Whether a row has what only finds have: a date, a time, a position.
    fn is_evident(&self, row: &Row) -> bool {
        let any = |column, is: fn(&str) -> bool| self.layout.cells(row, column).any(is);
        let both = |one, other| any(one, has_digit) && any(other, has_digit);
        any(Column::Date, |cell| date::read(cell).is_some() || ditto::is_of_date(cell))
            || any(Column::Time, |cell| has_digit(cell) && time::read(cell).is_some())
            || any(Column::Coordinates, has_digit)
            || any(Column::Photos, has_digit)
            || both(Column::Latitude, Column::Longitude)
            || both(Column::Easting, Column::Northing)
    }

    fn has_usual_number(&self, row: &Row) -> bool {
        cell(row, self.number).is_some_and(|number| {
            has_digit(number) && (self.shapes.is_empty() || self.shapes.contains(&shape(number)))
        })
    }

    /// Whether a row has nothing of a find, and stands in the columns of numbers, dates or times or is one text.
    fn may_be_title(&self, row: &Row) -> bool {
        let mut places = (0..row.cells.len()).filter(|place| filled(&row.cells[*place]).is_some());
        let Some(first) = places.next() else { return false };
        let text = &row.cells[first];
        let in_margin = self.is_of_margin(first) || text.contains([':', '=']);
        (in_margin || places.next().is_none())
            && !self.is_evident(row)
            && !self.has_usual_number(row)
    }

    /// Whether a row begins with a word such as "legend".
    fn is_title(&self, row: &Row) -> bool {
        let first = row.cells.iter().find_map(|cell| filled(cell)).unwrap_or_default();
        let word = first.split([' ', ':', '=']).next().map(headings::bare).unwrap_or_default();
        is_title_word(&word) && self.may_be_title(row)
    }

    /// Whether a row holds the headings of another table.
    fn is_headed(&self, row: &Row, is_last: bool) -> bool {
        let cells: Vec<&str> = row.cells.iter().filter_map(|cell| filled(cell)).collect();
        let is_heading = |cell: &&str| !has_digit(cell) && cell.chars().count() <= 30;
        let known =
            |cell: &&str| self.columns.stated(cell).or_else(|| headings::column(cell)).is_some();
        !is_last
            && cells.len() > 1
            && cells.iter().all(is_heading)
            && (cells.first().is_some_and(known) || heading_rows::are_headings(row, self.columns))
            && self.may_be_title(row)
    }

    /// Whether a column is one of numbers, dates or times.
    fn is_of_margin(&self, place: usize) -> bool {
        [self.number, self.date, self.layout.place(Column::Time)].contains(&Some(place))
    }

    fn is_find(&self, row: &Row, block: Block) -> bool {
        if self.count < FEWEST {
            return true;
        }
        let mut places = (0..row.cells.len()).filter(|place| filled(&row.cells[*place]).is_some());
        let (Some(first), second) = (places.next(), places.next()) else { return true };
        let text = row.cells[first].trim();
        let bad_date = cell(row, self.date).is_some_and(|cell| {
            date::read(cell).is_none()
                && date::with_year(cell, "2000").is_none()
                && !ditto::is_of_date(cell)
        });
        if second.is_none() {
            let in_margin = first == 0 && self.is_of_margin(first);
            return !(in_margin && is_words(text) && self.all_have_digits());
        }
        let is_new = || {
            let number = cell(row, self.number);
            number.is_some_and(|number| !self.numbers.contains(number))
                && self.has_usual_number(row)
        };
        match block {
            Block::Headed => return !bad_date && is_new(),
            Block::Titled => return !bad_date && (self.is_evident(row) || is_new()),
            Block::Finds => {}
        }
        if self.is_evident(row) || self.has_usual_number(row) {
            return true;
        }
        self.is_unlike(row, bad_date)
    }

    /// Whether a row that has nothing of the finds above may still be one.
    fn is_unlike(&self, row: &Row, bad_date: bool) -> bool {
        let name = self
            .layout
            .cells(row, Column::Name)
            .next()
            .or(self.layout.cells(row, Column::Genus).next());
        match cell(row, self.number) {
            Some(number) => {
                let bare = headings::bare(number);
                let is_unnumbered = UNNUMBERED
                    .split_whitespace()
                    .any(|word| bare.starts_with(word) && bare.len() <= word.len() + 2);
                has_digit(number) && !number.contains(['=', ':'])
                    || !self.all_evident
                    || !self.all_have_digits()
                    || is_unnumbered && !bad_date
                    || name.is_some()
                        && !bad_date
                        && !number.contains(['=', ':'])
                        && !is_words(number)
            }
            None => !bad_date || name.is_some(),
        }
    }

    /// Whether all numbers of finds have digits.
    fn all_have_digits(&self) -> bool {
        self.shapes.iter().all(|shape| shape.contains('9'))
    }
}

fn cell(row: &Row, place: Option<usize>) -> Option<&str> {
    filled(row.cells.get(place?)?)
}

fn has_digit(text: &str) -> bool {
    text.contains(|c: char| c.is_ascii_digit())
}

/// A text that no number of a find is: a word of four letters, or several words, without being a number of digits.
fn is_words(text: &str) -> bool {
    let words = || text.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty());
    let long = words().filter(|word| word.chars().count() >= 4).count();
    let digits_first = text.starts_with(|c: char| c.is_ascii_digit());
    (long >= 1 && !has_digit(text))
        || (words().count() >= 3 && long >= 1 && !digits_first)
        || text.contains('=')
}

/// Whether a word begins a block that is no table of finds.
pub(super) fn is_title_word(word: &str) -> bool {
    TITLES.split_whitespace().any(|title| title == word)
}

/// A number with its digits and letters made alike: `TH-0017` is `A-9`.
pub(super) fn shape(number: &str) -> String {
    let mut shape = String::new();
    for c in number.chars() {
        let c = match c {
            c if c.is_ascii_digit() => '9',
            c if c.is_alphabetic() => 'A',
            c => c,
        };
        if !(matches!(c, '9' | 'A') && shape.ends_with(c)) {
            shape.push(c);
        }
    }
    shape
}

fn skipped(row: &Row, in_sheet: bool) -> Error {
    let cells: Vec<&str> = row.cells.iter().filter_map(|cell| filled(cell)).collect();
    let whole = cells.join(" | ");
    let text = if whole.chars().count() > LONGEST { shortened(&whole) } else { whole };
    let what = if cells.len() == 1 {
        "a row with one text was skipped"
    } else {
        "a row below the finds was skipped: it is no find"
    };
    let why = if cells.len() == 1 {
        format!("it says \"{text}\" and nothing else")
    } else {
        format!("it says \"{text}\", and has no number, date, time or position of a find")
    };
    let error = Error::input(what).because(why).at_line(row.line);
    match row.cells.iter().position(|cell| filled(cell).is_some()) {
        Some(column) if in_sheet => error.at_column(column),
        _ => error,
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};

    /// The lines of the records, and the notes.
    fn kept(rows: &str) -> (Vec<u64>, Vec<String>) {
        let read = file(&format!(
            "Nr.;Datum;Uhrzeit;Art;Ort;Notizen\n1;3.5.2026;9:15;Mycena;Bach;\n2;3.5.2026;9:30;Russula;Bach;alt\n{rows}"
        ));
        assert_eq!(messages(&read.set_aside), [""; 0], "{rows}");
        (read.records.iter().skip(2).map(|record| record.line).collect(), messages(&read.remarks))
    }

    #[test]
    fn legends_weather_and_remarks_are_no_finds() {
        for (rows, count) in [
            ("\nLegende\nFK;Fruchtk\u{f6}rper\nst;steril\n", 3),
            ("\nLegende:;FK = Fruchtk\u{f6}rper\n", 1),
            (
                "\nWetter\nDatum;Temperatur;Regen\n3.5.2026;12 \u{b0}C;kein\n4.5.2026;9 \u{b0}C;5 mm\n",
                4,
            ),
            ("\nDatum;Temperatur;Regen\n3.5.2026;12 \u{b0}C;kein\n", 2),
            ("\nDatum;Uhrzeit;Wetter\n3.5.2026;9:00;sonnig\n", 2),
            ("\nWetter\nTag;Zeit;Himmel\n3.5.2026;9:00;sonnig\n", 3),
            ("\nLegende Wetter\n1;sonnig\n2;bedeckt\n", 3),
            ("\nBemerkungen: alles unter Fichten\n", 1),
            ("Alle Funde unter Fichten\n", 1),
            ("\nFK = Fruchtk\u{f6}rper;st = steril\n", 1),
            ("\n\nWeather;sunny;12 C\n", 1),
            ("\n* = det. B. Holm\n", 1),
        ] {
            let (lines, notes) = kept(rows);
            assert_eq!(lines, [0; 0], "{rows}");
            let skipped = notes.iter().filter(|note| note.contains("was skipped")).count();
            let others = notes.iter().any(|note| note.contains("other line"));
            assert!(skipped == count || others, "{rows}: {notes:?}");
        }
    }

    #[test]
    fn finds_below_blank_rows_stay_finds() {
        for rows in [
            "3;;;;;nur eine Notiz\n",
            "\n3;;;;;nur eine Notiz\n",
            "\n3;;;Mycena;;\n",
            "\n;;;Mycena;;\n",
            "\ns.n.;;;Mycena;;\n",
            "\no.Nr.;;;Mycena;Bach;\n",
            "\n;4.5.2026;;;Bach;\n",
            "\n;;10:05;;;\n",
            "\nTH-3;;;Mycena;;\n",
            "3\n",
            "\n3\n",
            "\nB3;;;;;Wetter gut\n",
        ] {
            let (lines, notes) = kept(rows);
            assert_eq!(lines.len(), 1, "{rows}: {notes:?}");
        }
        // a block with a title has finds, too
        let (lines, _) =
            kept("\nBemerkungen: zweiter Tag\n3;4.5.2026;9:10;Mycena;Bach;\n4;;;Russula;Bach;\n");
        assert_eq!(lines.len(), 2);
    }

    #[test]
    fn the_weather_below_a_table_without_numbers_is_no_find() {
        let read = file(
            "Datum;Uhrzeit;Art;Ort\n3.5.2026;9:15;Mycena;Bach\n3.5.2026;9:30;Russula;Bach\n\n\
             Datum;Zeit;Himmel\n3.5.2026;9:00;sonnig\n",
        );
        assert_eq!(read.records.len(), 2);
        assert_eq!(messages(&read.set_aside), [""; 0]);
    }

    #[test]
    fn places_that_are_words_of_titles_and_headings_are_places() {
        let read = file(
            "place;name;notes\nBrook;Mycena;\nBrook;Russula;\n\nWeather hut;Boletus;\n\nForest;Amanita;\nMoor;Laccaria;\n",
        );
        assert_eq!(read.records.len(), 5);
    }

    #[test]
    fn tables_without_numbers_keep_their_finds() {
        let read = file(
            "place;name;notes\nBrook;Mycena;\nBrook;Russula;old\n\nFen;Lactarius;\n\nMoor;;not identified\n;Boletus;\n",
        );
        assert_eq!(read.records.len(), 5);
        let read = file(
            "name;date;notes\nMycena;2026-05-03;\nRussula;2026-05-03;x\n\nLactarius;;\nLegend;;\n",
        );
        assert!(read.records.len() >= 3);
    }
}
