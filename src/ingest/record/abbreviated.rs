//! Recognises abbreviated headings: `Substr.`, `Bemerk.`, `Uhrz.` begin known headings of one meaning. Layer: `ingest`.

use std::sync::LazyLock;

use super::column::Column;
use super::english::WORDS;
use super::headings::bare;
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

/// All known headings without accents and marks, in order.
static KNOWN: LazyLock<Vec<(String, Column, &'static str)>> = LazyLock::new(|| {
    let english =
        WORDS.iter().flat_map(|(column, words)| words.iter().map(|word| (*column, *word)));
    let all = english.chain(translated::all());
    let mut known: Vec<_> = all.map(|(column, word)| (bare(word), column, word)).collect();
    known.sort_unstable();
    known
});

/// The column of an abbreviated heading; `None` where it begins headings of several meanings.
pub(super) fn column(heading: &str) -> Option<Column> {
    let mut columns = beginning(heading)?.iter().map(|(_, column, _)| *column);
    let first = columns.next()?;
    (columns.all(|column| column == first) && COLUMNS.contains(&first)).then_some(first)
}

/// A heading that an abbreviated one begins, for a suggestion.
pub(super) fn nearest(heading: &str) -> Option<(&'static str, Column)> {
    let shortest = beginning(heading)?.iter().min_by_key(|(own, ..)| own.len())?;
    Some((shortest.2, shortest.1))
}

/// The known headings that begin like an abbreviated one.
fn beginning(heading: &str) -> Option<&'static [(String, Column, &'static str)]> {
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
    use super::super::headings;
    use super::*;

    #[test]
    fn the_beginning_of_a_heading_with_a_point_is_that_heading() {
        for (heading, expected) in [
            ("Substr.", Column::Substrate),
            ("Bemerk.", Column::Notes),
            ("Uhrz.", Column::Time),
            ("Lok.", Column::Place),
            ("Pod\u{142}.", Column::Substrate),
            ("Bem\u{e6}rkn.", Column::Notes),
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
}
