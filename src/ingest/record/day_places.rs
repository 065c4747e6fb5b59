//! Gives the rows of a day the place that stands behind its date, in a row of its own above them: `17 October 2026,
//! Wren Gully`. A text that may be anything else is reported. Layer: `ingest`.

use super::column::Column;
use super::days::Alone;
use super::headings::{bare, column};
use super::layout::Layout;
use super::table::Row;
use super::{date, filled, months, shortened};
use crate::error::Error;

/// Places that are named in the note.
const FEW: usize = 3;
/// Words before the names of people, without accents.
const WITH: &str =
    "with mit avec con com med met kanssa z ze s se together zusammen gemeinsam ensemble leg";
/// Words of the weather, without accents.
const WEATHER: &str = "weather sunny sun rain rainy cloudy overcast fog foggy snow dry warm cold hot wet windy \
    wetter sonnig sonne regen regnerisch wolkig bewolkt nebel schnee trocken warm kalt heiter \
    meteo pluie pluvieux soleil ensoleille nuageux brouillard neige sec froid soleado lluvia nublado niebla nieve \
    ensolarado chuva nevoeiro sole pioggia piovoso nuvoloso nebbia neve weer zon zonnig regenachtig bewolkt sneeuw \
    droog vejr regn solrigt skyet sne vaer sol skyet sno vader solig mulet dimma saa aurinkoinen sade pilvinen sumu \
    lumi pogoda slonecznie deszcz pochmurno mgla snieg pocasi slunecno dest zatazeno mlha snih";

/// What stands behind the date of a day.
#[derive(Debug, PartialEq)]
enum Behind<'t> {
    Nothing,
    Place(&'t str),
    Other,
}

/// Whether the text behind a date is a place.
pub(super) fn is_place(behind: &str) -> bool {
    matches!(Behind::of(behind), Behind::Place(_))
}

/// Whether a text begins with a word of the weather.
pub(super) fn is_weather(text: &str) -> bool {
    let first = text.split(|c: char| !c.is_alphanumeric()).find(|word| !word.is_empty()).map(bare);
    first.is_some_and(|first| WEATHER.split_whitespace().any(|word| word == first))
}

impl<'t> Behind<'t> {
    fn of(text: &'t str) -> Self {
        let is_mark = |c: char| !c.is_alphanumeric();
        let text = text.trim_start_matches(|c| is_mark(c) && c != '(').trim_end();
        let inner = text.strip_prefix('(').and_then(|text| text.strip_suffix(')'));
        let text = inner.unwrap_or(text).trim();
        let text = match text.split_once(':') {
            Some((word, behind)) if column(word) == Some(Column::Place) => behind.trim(),
            Some(_) => return Self::Other,
            None => text,
        };
        let mut words = text.split(is_mark).filter(|word| !word.is_empty()).peekable();
        let Some(first) = words.peek().map(|word| bare(word)) else { return Self::Nothing };
        if words.clone().all(months::stops_before) {
            return Self::Nothing;
        }
        let is_of = |list: &str| list.split_whitespace().any(|word| word == first);
        let is_name = |word: &str| word.starts_with(char::is_uppercase);
        // `Cold Spring` is a place
        let is_weather = is_of(WEATHER) && !text.split_whitespace().skip(1).any(is_name);
        let may_be = words.any(is_name)
            && !text.contains(|c: char| c.is_ascii_digit())
            && !is_of(WITH)
            && !is_weather;
        if may_be { Self::Place(text) } else { Self::Other }
    }
}

/// Writes the places behind the dates of `days`, which are rows with their dates, into the rows below them that have
/// none of their own. `dates`: the place of the column of dates.
pub(super) fn filled_in(
    rows: &mut [Row],
    days: &[(usize, Alone)],
    layout: &Layout,
    dates: usize,
) -> Vec<Error> {
    let (mut notes, mut given) = (Vec::new(), Given::default());
    for (index, (at, day)) in days.iter().enumerate() {
        let end = days.get(index + 1).map_or(rows.len(), |(next, _)| *next);
        let Some((own, below)) = rows.get_mut(*at..end).and_then(<[Row]>::split_first_mut) else {
            continue;
        };
        match Behind::of(&day.behind) {
            Behind::Nothing => {}
            Behind::Other => notes.push(unused(&day.behind, own.line, "")),
            Behind::Place(place) => {
                let below = of_day(below, &day.date, dates);
                if !given.write(place, below, layout) {
                    let why = "; each row of the day has a place of its own";
                    notes.push(unused(&day.behind, own.line, why));
                }
            }
        }
    }
    notes.extend(given.reported());
    notes
}

/// The rows up to the first with another date.
fn of_day<'r>(rows: &'r mut [Row], day: &str, dates: usize) -> &'r mut [Row] {
    let day = date::read(day).map(|cell| cell.date);
    let is_other = |row: &Row| {
        let own = row.cells.get(dates).and_then(|cell| date::read(filled(cell)?));
        own.is_some_and(|own| Some(own.date) != day)
    };
    let end = rows.iter().position(is_other).unwrap_or(rows.len());
    &mut rows[..end]
}

/// The places that were written.
#[derive(Default)]
struct Given {
    count: usize,
    first: Option<u64>,
    places: Vec<String>,
}

impl Given {
    /// Whether a row has no place of its own, and has this one now.
    fn write(&mut self, place: &str, rows: &mut [Row], layout: &Layout) -> bool {
        let Some(column) = layout.place(Column::Place) else { return false };
        let before = self.count;
        for row in rows {
            if layout.cells(row, Column::Place).next().is_some() {
                continue;
            }
            if row.cells.len() <= column {
                row.cells.resize(column + 1, compact_str::CompactString::default());
            }
            row.cells[column] = place.into();
            self.count += 1;
            self.first.get_or_insert(row.line);
        }
        if self.count > before && self.places.iter().all(|own| own != place) {
            self.places.push(place.to_owned());
        }
        self.count > before
    }

    fn reported(&self) -> Option<Error> {
        let first = self.first?;
        let places: Vec<String> =
            self.places.iter().take(FEW).map(|own| format!("\"{}\"", shortened(own))).collect();
        let more = if self.places.len() > FEW { ", \u{2026}" } else { "" };
        let rows = match self.count {
            1 => "1 row".to_owned(),
            count => format!("{count} rows"),
        };
        Some(
            Error::input(format!("the place of {rows} was taken from the row of their day"))
                .because(format!(
                    "it stands behind the date: {}{more}; they have none of their own",
                    places.join(", ")
                ))
                .at_line(first),
        )
    }
}

fn unused(text: &str, line: u64, why: &str) -> Error {
    Error::input("the text behind the date of a day was not used")
        .because(format!("it says \"{}\"{why}", shortened(text.trim())))
        .hint("write it into a column of its own, such as place or notes")
        .at_line(line)
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};
    use super::*;

    fn places(table: &str) -> (Vec<Option<String>>, String) {
        let read = file(table);
        let places = read.records.iter().map(|record| record.place.clone());
        (places.collect(), messages(&read.remarks).join("\n"))
    }

    #[test]
    fn the_place_behind_the_date_is_that_of_the_rows_below() {
        let some = |place: &str| Some(place.to_owned());
        for (head, find) in [
            ("number;time;name;place", "9:15;a;"),
            ("number;time;name", "9:15;a"),
            ("number;date;time;name", ";9:15;a"),
        ] {
            let (found, said) = places(&format!(
                "{head}\n17 October 2026, Wren Gully;;\n1;{find}\n2;{find}\n18.10.2026 - bois de la Roche;;\n3;{find}\n\
                 19 October 2026;;\n4;{find}\n"
            ));
            let gully = some("Wren Gully");
            assert_eq!(found, [gully.clone(), gully, some("bois de la Roche"), None], "{head}");
            assert!(
                said.contains(
                    "the place of 3 rows was taken from the row of their day (notes.csv, line 3)\n\
                     because: it stands behind the date: \"Wren Gully\", \"bois de la Roche\""
                ),
                "{said}"
            );
        }
    }

    #[test]
    fn a_place_of_its_own_and_another_day_take_precedence() {
        let (found, said) = places(
            "number;date;name;place\n17 October 2026, Wren Gully;;;\n1;;a;Brook\n2;17.10.2026;b;\n3;2026-10-19;c;\n4;;d;\n",
        );
        let expected = [Some("Brook"), Some("Wren Gully"), None, None];
        assert_eq!(found.iter().map(Option::as_deref).collect::<Vec<_>>(), expected);
        assert!(said.contains("the place of 1 row was taken"), "{said}");
        let (_, said) = places(
            "number;date;name;place\n17 October 2026, Wren Gully;;;\n1;;a;Brook\n2;;b;Ridge\n",
        );
        assert!(said.contains("was not used (notes.csv, line 2)"), "{said}");
    }

    #[test]
    fn the_place_above_the_headings_counts_too() {
        let (found, said) =
            places("Datum: 7.10.2025, Buchenhang;;\nNr.;Uhrzeit;Art\n1;9:15;a\n2;9:30;b\n");
        assert_eq!(found, vec![Some("Buchenhang".to_owned()); 2]);
        assert!(said.contains("\"Buchenhang\""), "{said}");
    }

    #[test]
    fn other_texts_behind_a_date_are_reported() {
        for (text, expected) in [
            (", Wren Gully", Behind::Place("Wren Gully")),
            ("(Wren Gully)", Behind::Place("Wren Gully")),
            ("Ort: Buchenhang", Behind::Place("Buchenhang")),
            ("- Cold Spring", Behind::Place("Cold Spring")),
            ("la Grande For\u{ea}t", Behind::Place("la Grande For\u{ea}t")),
            ("(Samstag)", Behind::Nothing),
            ("", Behind::Nothing),
            ("sonnig", Behind::Other),
            ("Rain in the morning", Behind::Other),
            ("mit T. Heron", Behind::Other),
            ("9-12 Uhr", Behind::Other),
            ("14 \u{b0}C", Behind::Other),
            ("Wetter: Regen", Behind::Other),
        ] {
            assert_eq!(Behind::of(text), expected, "{text}");
        }
        let (found, said) = places("number;date;name\n17 October 2026, sunny;;\n1;;a\n2;;b\n");
        assert_eq!(found, [None, None]);
        assert!(said.contains("it says \"sunny\""), "{said}");
    }
}
