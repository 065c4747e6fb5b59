//! Finds the known heading that is nearest to an unknown one, and says what an unknown column holds.
//! Layer: `ingest`.

use super::column::Column;
use super::headings::bare;
use super::layout::Layout;
use super::table::Table;
use super::{abbreviated, date, filled, shortened, time, translated};
use crate::error::Error;
use crate::model::name_words::edit_distance;

/// More unknown columns than this are named together.
const MOST: usize = 12;

/// The nearest known heading and its column; `None` where none is near: a slip of writing away, or one of
/// several words.
pub(super) fn heading(unknown: &str) -> Option<(&'static str, Column)> {
    let wanted = bare(unknown);
    let length = wanted.chars().count();
    if !(3..=40).contains(&length) {
        return None;
    }
    let words: Vec<String> = unknown.split(|c: char| !c.is_alphanumeric()).map(bare).collect();
    let english = Column::all().flat_map(|column| column.words().iter().map(move |w| (column, *w)));
    let known = english.chain(translated::all());
    let scored = known.filter_map(|(column, word)| {
        let own = bare(word);
        // "Fotos Detail": in several words the longer heading is nearer
        let one_of = own.chars().count() >= 4 && is_one_of(&words, &own) && may_be_one_of(column);
        let score = if one_of {
            10 + length.saturating_sub(own.chars().count())
        } else {
            edit_distance(&wanted, &own)
        };
        (one_of || own.chars().next() == wanted.chars().next() && score <= slips(length))
            .then_some((score, word, column))
    });
    let nearest = scored.min_by_key(|(score, ..)| *score).map(|(_, word, column)| (word, column));
    nearest.or_else(|| abbreviated::nearest(unknown))
}

/// The slips of writing in a heading of this length.
fn slips(length: usize) -> usize {
    match length {
        0..=4 => 0,
        5..=6 => 1,
        7..=11 => 2,
        _ => 3,
    }
}

fn is_one_of(words: &[String], own: &str) -> bool {
    words.len() > 1
        && (words.first().is_some_and(|word| word == own)
            || words.last().is_some_and(|word| word == own))
}

/// Columns whose word within a longer heading shows what it holds; the length in "stem length" and the name in
/// "common name" do not.
fn may_be_one_of(column: Column) -> bool {
    matches!(
        column,
        Column::Photos
            | Column::Notes
            | Column::Place
            | Column::Habitat
            | Column::Substrate
            | Column::Host
            | Column::Collector
            | Column::Coordinates
            | Column::Waypoint
    )
}

/// Whether the first values can be those of a column.
fn fits(column: Column, values: &[String]) -> bool {
    let bare = |value: &String| value.trim_matches('"').to_owned();
    let any = |is: fn(&str) -> bool| values.iter().any(|value| is(&bare(value)));
    let has_digit = |text: &str| text.contains(|c: char| c.is_ascii_digit());
    match column {
        Column::Date | Column::DateIdentified => {
            any(|text| date::read(text).is_some() || date::with_year(text, "2000").is_some())
        }
        Column::Time => any(|text| time::read(text).is_some()),
        Column::Photos
        | Column::Number
        | Column::Year
        | Column::Day
        | Column::Coordinates
        | Column::Latitude
        | Column::Longitude
        | Column::Easting
        | Column::Northing
        | Column::Uncertainty
        | Column::Elevation
        | Column::Highest
        | Column::Quantity => any(has_digit),
        Column::Host
        | Column::Substrate
        | Column::Habitat
        | Column::Collector
        | Column::Place
        | Column::Name => any(|text| text.contains(char::is_alphabetic)),
        _ => true,
    }
}

/// A note for each filled column whose heading is not known.
pub(super) fn unknown_columns(table: &Table, layout: &Layout, in_sheet: bool) -> Vec<Error> {
    let filled: Vec<(usize, &str, Vec<String>)> = layout
        .unknown()
        .map(|(index, name)| (index, name, values(table, index)))
        .filter(|(.., values)| !values.is_empty())
        .collect();
    if filled.len() > MOST {
        let names: Vec<String> = filled
            .iter()
            .take(MOST)
            .map(|(_, name, _)| format!("\"{}\"", shortened(name)))
            .collect();
        return vec![
            Error::input(format!("{} columns are not known", filled.len()))
                .because(format!("{}, \u{2026}", names.join(", ")))
                .hint("they are kept under their headings; map them with --columns FILE"),
        ];
    }
    filled.into_iter().map(|(index, name, values)| note(index, name, &values, in_sheet)).collect()
}

fn note(index: usize, name: &str, values: &[String], in_sheet: bool) -> Error {
    let name = shortened(name);
    let listed = values.join(", ");
    let (near, column) = match heading(&name).filter(|(_, column)| fits(*column, values)) {
        Some((near, column)) => (format!("the nearest known heading is \"{near}\""), column.word()),
        None => ("no known heading is near it".to_owned(), "MEANING"),
    };
    let note = Error::input(format!("the column \"{name}\" is not known"))
        .because(format!("it holds {listed}; {near}"))
        .hint(format!(
            "it is kept under its heading; to map it: --column \"{name}={column}\", to end this note: \
             --column \"{name}=keep\""
        ));
    if in_sheet { note.at_column(index) } else { note }
}

/// The first three values of a column.
fn values(table: &Table, index: usize) -> Vec<String> {
    let mut values: Vec<String> = Vec::new();
    for cell in table.rows.iter().filter_map(|row| filled(row.cells.get(index)?)) {
        let value = format!("\"{}\"", cell.chars().take(24).collect::<String>());
        if !values.contains(&value) {
            values.push(value);
        }
        if values.len() == 3 {
            break;
        }
    }
    values
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_heading_is_found() {
        for (unknown, column) in [
            ("Fotoz", Column::Photos),
            ("Fotos Detail", Column::Photos),
            ("Fundrot", Column::Place),
            ("Lattitude", Column::Latitude),
            ("Habitta", Column::Habitat),
        ] {
            assert_eq!(heading(unknown).map(|(_, column)| column), Some(column), "{unknown}");
        }
        for far in [
            "Wetter",
            "x",
            "Mondphase",
            "",
            "Regenzeit",
            "Jahreszeit",
            "Hut L\u{e4}nge",
            "common name",
            "Stem",
            "Cap",
            "pH",
            "Hymenium",
            "Bodenart",
            "Stielh\u{f6}he",
            "Gills",
            "Myc\u{e9}lium",
        ] {
            assert_eq!(heading(far), None, "{far}");
        }
    }
}
