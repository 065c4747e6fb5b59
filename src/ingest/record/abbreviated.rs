//! Recognises abbreviated headings: `Substr.`, `Bemerk.`, `Uhrz.` begin known headings of one meaning. Layer: `ingest`.

use std::cell::OnceCell;
use std::collections::HashSet;
use std::sync::LazyLock;

use super::column::Column;
use super::english::WORDS;
use super::headings::{self, bare};
use super::translated;

/// The fewest letters that stand for a heading.
const FEWEST: usize = 3;

/// Columns of texts and times, of which a part of the word is enough. `Pos.` may be an item, `Nr. Kat.` anything.
const COLUMNS: [Column; 19] = [
    Column::Date,
    Column::Time,
    Column::Place,
    Column::Country,
    Column::State,
    Column::County,
    Column::Municipality,
    Column::Substrate,
    Column::Host,
    Column::Habitat,
    Column::Name,
    Column::Collector,
    Column::Smell,
    Column::Taste,
    Column::Colour,
    Column::SporePrint,
    Column::Quantity,
    Column::IdentifiedBy,
    Column::Notes,
];

/// Abbreviations that begin headings of several meanings and have one by convention (common practice): the observer
/// is `leg.` or written in full.
const USUAL: [(&str, Column); 2] = [("observ", Column::Notes), ("obser", Column::Notes)];

/// A heading without accents and marks, its column, and the heading as it is listed.
type Known = (String, Column, &'static str);

/// All known headings, in order.
static KNOWN: LazyLock<Vec<Known>> = LazyLock::new(|| {
    let english =
        WORDS.iter().flat_map(|(column, words)| words.iter().map(|word| (*column, *word)));
    let all = english.chain(translated::all());
    let mut known: Vec<_> = all.map(|(column, word)| (bare(word), column, word)).collect();
    known.sort_unstable();
    known
});

/// The column of an abbreviated heading; `None` where it begins headings of several meanings.
pub(super) fn column(heading: &str) -> Option<Column> {
    only(&meanings(beginning(heading)?, false))
}

/// The headings of a table, looked at once for all that they decide.
pub(super) struct Others<'a> {
    headings: &'a [String],
    english: OnceCell<bool>,
    columns: OnceCell<HashSet<Column>>,
}

impl<'a> Others<'a> {
    pub(super) fn of(headings: &'a [String]) -> Self {
        Self { headings, english: OnceCell::new(), columns: OnceCell::new() }
    }

    fn are_english(&self) -> bool {
        *self.english.get_or_init(|| !self.headings.iter().any(|own| translated::is_foreign(own)))
    }

    fn columns(&self) -> &HashSet<Column> {
        let columns = || self.headings.iter().filter_map(|own| headings::column(own)).collect();
        self.columns.get_or_init(columns)
    }
}

/// The column of an abbreviated heading of several meanings, of which the other headings of the table leave one: by
/// their language, and since they name the other columns.
pub(super) fn by_others(heading: &str, others: &Others<'_>) -> Option<Column> {
    let known = beginning(heading)?;
    let mut left = meanings(known, others.are_english());
    left.retain(|column| !others.columns().contains(column));
    let usual = || {
        let front = bare(heading);
        let (_, column) = USUAL.into_iter().find(|(own, _)| *own == front)?;
        left.contains(&column).then_some(column)
    };
    only(&left).or_else(usual)
}

fn only(columns: &[Column]) -> Option<Column> {
    match columns {
        [column] if COLUMNS.contains(column) => Some(*column),
        _ => None,
    }
}

/// The columns of headings, but for those that another one begins: `Fecha de colecta` adds nothing to `Fecha`.
fn meanings(known: &[Known], english: bool) -> Vec<Column> {
    let mut columns = Vec::new();
    let mut shortest: Option<&str> = None;
    for (own, column, _) in known {
        if english && !column.words().contains(&own.as_str()) {
            continue;
        }
        // they are in order: what begins like one stands behind it
        if shortest.is_some_and(|front| own.len() > front.len() && own.starts_with(front)) {
            continue;
        }
        shortest = Some(own);
        if !columns.contains(column) {
            columns.push(*column);
        }
    }
    columns
}

/// A heading that an abbreviated one begins, for a suggestion.
pub(super) fn nearest(heading: &str) -> Option<(&'static str, Column)> {
    let shortest = beginning(heading)?.iter().min_by_key(|(own, ..)| own.len())?;
    Some((shortest.2, shortest.1))
}

/// The known headings that begin like an abbreviated one.
fn beginning(heading: &str) -> Option<&'static [Known]> {
    let front = heading.trim().strip_suffix('.')?;
    // `Find C.` has a word that is no abbreviation
    if !front.chars().all(char::is_alphabetic) {
        return None;
    }
    let front = bare(front);
    if front.chars().count() < FEWEST {
        return None;
    }
    let from = KNOWN.partition_point(|(own, ..)| *own < front);
    let count = KNOWN[from..].iter().take_while(|(own, ..)| own.starts_with(&front)).count();
    (count > 0).then(|| &KNOWN[from..from + count])
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};
    use super::*;
    use crate::model::Field;

    #[test]
    fn the_beginning_of_a_heading_with_a_point_is_that_heading() {
        for (heading, expected) in [
            ("Substr.", Column::Substrate),
            ("Bemerk.", Column::Notes),
            ("Uhrz.", Column::Time),
            ("Lok.", Column::Place),
            ("Pod\u{142}.", Column::Substrate),
            ("Bem\u{e6}rkn.", Column::Notes),
            ("Coul.", Column::Colour),
            ("Gatun.", Column::Name),
        ] {
            assert_eq!(headings::column(heading), Some(expected), "{heading}");
        }
        for heading in ["Substr", "Pos.", "Wett.", "Su.", "Temp.", "Ref.", "Zus."] {
            assert_eq!(headings::column(heading), None, "{heading}");
        }
        // notes or the observer
        assert_eq!(headings::column("Observ."), None);
        assert!(nearest("Observ.").is_some() && nearest("Wett.").is_none());
    }

    #[test]
    fn other_headings_leave_one_meaning_of_an_abbreviation() {
        for (heading, others, expected) in [
            ("Observ.", "N\u{b0};Date;Esp\u{e8}ce", Some(Column::Notes)),
            ("Observ.", "N\u{ba};Fecha;Especie;Recolector", Some(Column::Notes)),
            ("Observ.", "Number;Date;Species", Some(Column::Notes)),
            ("Observ.", "N\u{b0};Date;Esp\u{e8}ce;Remarques", Some(Column::Collector)),
            ("Comm.", "Number;Date;Species", Some(Column::Notes)),
            ("Comm.", "N\u{b0};Date;Esp\u{e8}ce", None),
            ("Comm.", "N\u{b0};Date;Esp\u{e8}ce;Commune", Some(Column::Notes)),
            ("Komm.", "Nr.;Datum;Art;Gemeinde", Some(Column::Notes)),
            ("Komm.", "Nr.;Datum;Art", None),
            ("Fund.", "Nr.;Datum;Art", None),
            ("Wett.", "Nr.;Datum;Art", None),
        ] {
            let mut others: Vec<String> = others.split(';').map(str::to_owned).collect();
            others.push(heading.to_owned());
            assert_eq!(
                by_others(heading, &Others::of(&others)),
                expected,
                "{heading} beside {others:?}"
            );
        }
        let read =
            file("N\u{b0};Date;Esp\u{e8}ce;Observ.\n1;2026-05-03;Mycena;sous un h\u{ea}tre\n");
        assert_eq!(read.records[0].fields[&Field::Notes], "sous un h\u{ea}tre");
        assert_eq!(messages(&read.remarks), [""; 0]);
    }
}
