//! Columns of Darwin Core that keep a text as it was written. They are kept as typed, and serve for what they
//! mean only where no other column does. Layer: `ingest`.

use std::collections::HashMap;

use super::column::Column;
use super::headings::bare;

/// The rank from which on a column is one of these.
const LAST: usize = 1_000;

/// The terms, and whether a record keeps their text itself where they serve.
const TERMS: [(&str, bool); 9] = [
    ("verbatimEventDate", false),
    ("verbatimLocality", false),
    ("verbatimElevation", false),
    ("verbatimIdentification", false),
    ("verbatimLatitude", false),
    ("verbatimLongitude", false),
    ("verbatimCoordinates", true),
    ("verbatimCoordinateSystem", true),
    ("verbatimSRS", true),
];

/// The term that a heading is.
pub(super) fn term(heading: &str) -> Option<&'static str> {
    let own = bare(heading);
    // the terms have letters only
    TERMS.iter().find(|(term, _)| term.eq_ignore_ascii_case(&own)).map(|(term, _)| *term)
}

/// The term under which a column that serves is kept besides.
pub(super) fn kept(heading: &str) -> Option<&'static str> {
    let own = term(heading)?;
    TERMS.iter().find(|(term, held)| *term == own && !held).map(|(term, _)| *term)
}

/// The rank of a heading, behind all others where it is one of these terms.
pub(super) fn ranked(heading: &str, (column, rank): (Column, usize)) -> (Column, usize) {
    if term(heading).is_some() { (column, LAST + rank) } else { (column, rank) }
}

pub(super) fn is_last(rank: usize) -> bool {
    rank >= LAST
}

/// Whether a column of these terms is kept without serving: coordinates and their system where other columns
/// give the position.
pub(super) fn demoted(
    best: &HashMap<Column, (usize, usize)>,
    headings: &[String],
) -> impl Fn(Column) -> bool + use<> {
    let other = |column: Column| best.get(&column).is_some_and(|(rank, _)| !is_last(*rank));
    let placed = [Column::Latitude, Column::Easting, Column::Coordinates].into_iter().any(other);
    let in_two = best.contains_key(&Column::Latitude);
    let of_place = ["verbatimLatitude", "verbatimCoordinates"];
    let has_place = headings.iter().filter_map(|own| term(own)).any(|own| of_place.contains(&own));
    move |column| match column {
        Column::Coordinates => placed || in_two,
        Column::Latitude | Column::Longitude => placed,
        Column::Datum => placed && has_place,
        _ => false,
    }
}
