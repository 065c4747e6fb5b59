//! Recognises headings that say the number of something, however the word for number is written and wherever it
//! stands: `Fotonummer`, `Foto-Nr.`, `N.º foto`, `Nr zdjęcia` are one. Layer: `ingest`.

use std::collections::HashMap;
use std::sync::LazyLock;

use super::column::Column;
use super::english::WORDS;
use super::headings::bare;
use super::translated;

/// Words for "number" that stand alone.
const MARKS: [&str; 20] = [
    "number", "numbers", "no", "nos", "nr", "nrs", "num", "n", "numero", "numeros", "numeri",
    "nummer", "nummern", "nro", "numer", "numery", "cislo", "c", "nb", "nombre",
];
/// Those at the end of a word, the longest first.
const ENDS: [&str; 6] = ["nummern", "nummer", "numero", "number", "nro", "nr"];
/// Words between the number and what is numbered.
const JOINING: [&str; 18] = [
    "of", "the", "de", "du", "des", "d", "di", "della", "da", "do", "del", "der", "la", "le",
    "les", "l", "el", "il",
];
/// The fewest letters of what is numbered.
const FEWEST: usize = 2;

/// What is numbered, with the column: the headings that are known with a word for number, and photographs and
/// waypoints without one.
static NUMBERED: LazyLock<HashMap<String, Option<Column>>> = LazyLock::new(|| {
    let mut known: HashMap<String, Option<Column>> = HashMap::new();
    let mut add = |thing: String, column: Column| {
        let meaning = known.entry(thing).or_insert(Some(column));
        if *meaning != Some(column) {
            *meaning = None;
        }
    };
    let english =
        WORDS.iter().flat_map(|(column, words)| words.iter().map(|word| (*column, *word)));
    for (column, heading) in english.chain(translated::all()) {
        let counts = matches!(
            column,
            Column::Number
                | Column::Photos
                | Column::Waypoint
                | Column::CatalogNumber
                | Column::Quantity
        );
        match thing(heading) {
            Some(thing) if counts => add(thing, column),
            None if matches!(column, Column::Photos | Column::Waypoint) => {
                add(bare(heading), column);
            }
            _ => {}
        }
    }
    known
});

/// The column of a heading that says the number of something.
pub(super) fn column(heading: &str) -> Option<Column> {
    let thing = thing(heading)?;
    let column = NUMBERED.get(&thing).copied().flatten()?;
    let is_named = matches!(column, Column::Photos | Column::Waypoint);
    (!(is_named && is_count(heading, &thing))).then_some(column)
}

/// Whether a heading says how many: `Nombre de photos`, `number of photographs`.
fn is_count(heading: &str, thing: &str) -> bool {
    let words: Vec<String> = heading.split(|c: char| !c.is_alphanumeric()).map(bare).collect();
    let has = |some: &[&str]| words.iter().any(|word| some.contains(&word.as_str()));
    has(&["nb", "nombre", "of"]) || has(&JOINING) && thing.ends_with('s')
}

/// What a heading says the number of; `None` where it has no word for number.
fn thing(heading: &str) -> Option<String> {
    let heading = heading.split(['(', '[', '{']).next().unwrap_or(heading);
    let heading = without_letter(heading);
    let words = heading.split(|c: char| !c.is_alphanumeric()).map(bare);
    let words: Vec<String> =
        words.filter(|word| !word.is_empty() && !JOINING.contains(&word.as_str())).collect();
    let is_mark = |word: &&String| MARKS.contains(&word.as_str());
    let marks = words.iter().filter(is_mark).count();
    let thing: String = words.iter().filter(|word| !is_mark(word)).map(String::as_str).collect();
    let thing = match marks {
        0 => ENDS.iter().find_map(|end| thing.strip_suffix(end))?.to_owned(),
        _ => thing,
    };
    (thing.chars().count() >= FEWEST).then_some(thing)
}

/// A heading whose single letter at the end is a name, as in `Sample C` and `Waypoint N`, and no mark of a number as
/// in `Foto \u{10d}.` and `Foto n\u{ba}`, without that it looks like one.
fn without_letter(heading: &str) -> &str {
    let trimmed = heading.trim_end();
    let letter = |letter: char| {
        let front = trimmed.strip_suffix(letter)?;
        front.ends_with(|c: char| !c.is_alphanumeric()).then_some(front)
    };
    if ['c', 'C', 'n', 'N'].into_iter().any(|own| letter(own).is_some()) { "" } else { heading }
}

#[cfg(test)]
mod tests {
    use super::super::headings;
    use super::*;

    #[test]
    fn the_word_for_number_is_known_in_every_form_and_place() {
        for (heading, expected) in [
            ("Foto \u{10d}.", Column::Photos),
            ("Nr zdj\u{119}cia", Column::Photos),
            ("Bildenr", Column::Photos),
            ("Kuva nro", Column::Photos),
            ("Foto n\u{ba}", Column::Photos),
            ("N\u{b0} de la photo", Column::Photos),
            ("Photo number(s)", Column::Photos),
            ("N\u{ba} de exemplares", Column::Quantity),
            ("N. esemplari", Column::Quantity),
            ("Nb de carpophores", Column::Quantity),
            ("Funn nr", Column::Number),
            ("N\u{e4}yte nro", Column::Number),
            ("\u{10d}. sb\u{11b}ru", Column::Number),
            ("Wegpunktnummer", Column::Waypoint),
        ] {
            assert_eq!(headings::column(heading), Some(expected), "{heading}");
        }
        for count in ["Nombre de photos", "N\u{fa}mero de fotos", "No. of photographs"] {
            assert_eq!(headings::column(count), None, "{count}");
        }
        for named in ["Sample C", "Feld C", "Find C", "Waypoint N", "Photo c"] {
            assert_eq!(headings::column(named), None, "{named}");
        }
        for unknown in ["No. of trees", "Nr", "Telefonnummer", "Hausnr.", "n", "c", ""] {
            let found = column(unknown);
            assert_eq!(found, None, "{unknown}");
        }
    }
}
