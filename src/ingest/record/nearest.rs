//! Finds the known heading that is nearest to an unknown one, and says what an unknown column holds.
//! Layer: `ingest`.

use super::column::Column;
use super::headings::bare;
use super::layout::Layout;
use super::table::Table;
use super::{filled, shortened, translated};
use crate::error::Error;

/// More unknown columns than this are named together.
const MOST: usize = 12;

/// The nearest known heading and its column; `None` where none is near.
pub(super) fn heading(unknown: &str) -> Option<(&'static str, Column)> {
    let wanted = bare(unknown);
    let length = wanted.chars().count();
    if !(3..=40).contains(&length) {
        return None;
    }
    let english = Column::all().flat_map(|column| column.words().iter().map(move |w| (column, *w)));
    let known = english.chain(translated::all());
    let scored = known.filter_map(|(column, word)| {
        let own = bare(word);
        let size = own.chars().count();
        // one within the other: "Fotos Detail"
        let within = size >= 4 && (wanted.starts_with(&own) || wanted.ends_with(&own));
        let score = if within { 1 + (length - size) / 4 } else { distance(&wanted, &own) };
        (score <= (length / 3).max(1)).then_some((score, word, column))
    });
    scored.min_by_key(|(score, ..)| *score).map(|(_, word, column)| (word, column))
}

/// The number of letters to insert, remove or replace (Levenshtein 1966).
fn distance(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (place, c) in one.chars().enumerate() {
        let mut corner = row[0];
        row[0] = place + 1;
        for (column, d) in other.iter().enumerate() {
            let replaced = corner + usize::from(c != *d);
            corner = row[column + 1];
            row[column + 1] = replaced.min(corner + 1).min(row[column] + 1);
        }
    }
    row[other.len()]
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
    let values = values.join(", ");
    let (near, column) = match heading(&name) {
        Some((near, column)) => (format!("the nearest known heading is \"{near}\""), column.word()),
        None => ("no known heading is near it".to_owned(), "MEANING"),
    };
    let note = Error::input(format!("the column \"{name}\" is not known"))
        .because(format!("it holds {values}; {near}"))
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
        for far in ["Wetter", "x", "Mondphase", ""] {
            assert_eq!(heading(far), None, "{far}");
        }
        assert_eq!(distance("kitten", "sitting"), 3);
    }
}
