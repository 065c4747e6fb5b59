//! Headings in other languages than English, as `docs/headings.md` lists them, with and without
//! accents. Layer: `ingest`.

use std::cmp::Ordering;
use std::collections::{HashMap, HashSet};
use std::sync::LazyLock;

use super::column::Column;
use super::headings::bare;

const PAGE: &str = include_str!("../../../docs/headings.md");

/// The languages of the list, in its order.
pub(super) const LANGUAGES: [(&str, &str); 13] = [
    ("en", "English"),
    ("de", "German"),
    ("fr", "French"),
    ("es", "Spanish"),
    ("pt", "Portuguese"),
    ("it", "Italian"),
    ("nl", "Dutch"),
    ("da", "Danish"),
    ("no", "Norwegian"),
    ("sv", "Swedish"),
    ("fi", "Finnish"),
    ("pl", "Polish"),
    ("cs", "Czech"),
];

/// The section of words that are elevations only with a unit of length.
const HEIGHT: &str = "height";

#[derive(Default)]
struct Words {
    columns: HashMap<String, Column>,
    heights: HashSet<String>,
}

static WORDS: LazyLock<Words> = LazyLock::new(|| {
    let mut words = Words::default();
    for (section, language, headings) in lines().filter(|(_, language, _)| *language != "English") {
        let column = Column::all().find(|column| column.word() == section);
        for form in headings.flat_map(move |heading| forms(heading, language)) {
            if section == HEIGHT {
                words.heights.insert(form);
            } else if let Some(column) = column {
                words.columns.entry(form).or_insert(column);
            }
        }
    }
    words
});

/// The lines of the list: section, language, headings.
fn lines() -> impl Iterator<Item = (&'static str, &'static str, impl Iterator<Item = &'static str>)>
{
    let mut section = "";
    PAGE.lines().filter_map(move |line| {
        if let Some(next) = line.strip_prefix("### ") {
            section = next.trim();
        }
        let (language, words) = line.strip_prefix("- ")?.split_once(": ")?;
        Some((section, language, words.split(", ").map(str::trim)))
    })
}

/// A heading without accents, and as people write it where a keyboard lacks the letters: `Laenge`.
fn forms(heading: &str, language: &str) -> Vec<String> {
    let plain = bare(heading);
    let written: String = heading
        .chars()
        .flat_map(char::to_lowercase)
        .map(|c| match (c, language) {
            ('\u{e4}', "German" | "Swedish" | "Danish" | "Norwegian") => "ae".to_owned(),
            ('\u{f6}', "German" | "Swedish" | "Danish" | "Norwegian") | ('\u{f8}', _) => {
                "oe".to_owned()
            }
            ('\u{fc}', "German") => "ue".to_owned(),
            ('\u{e5}', _) => "aa".to_owned(),
            (c, _) => c.to_string(),
        })
        .collect();
    let written = bare(&written);
    if written == plain { vec![plain] } else { vec![plain, written] }
}

/// What a heading in another language than English means.
pub(super) fn column(bare: &str) -> Option<Column> {
    WORDS.columns.get(bare).copied()
}

/// Whether a heading is known in another language, and not in English.
pub(super) fn is_foreign(heading: &str) -> bool {
    let bare = bare(heading);
    WORDS.columns.contains_key(&bare)
        && !Column::all().any(|column| column.words().contains(&bare.as_str()))
}

/// Whether a heading has a meaning that depends on the language of the others.
pub(super) fn is_of_language(heading: &str) -> bool {
    bare(heading) == "kraj"
}

/// A heading that means the country in Polish and the region in Czech, by the language of the other headings.
pub(super) fn by_language(heading: &str, others: &[String]) -> Option<Column> {
    if !is_of_language(heading) {
        return None;
    }
    let others: HashSet<String> = others.iter().map(|other| bare(other)).collect();
    let known = |wanted: &str| {
        let of_language = lines().filter(|(_, language, _)| *language == wanted);
        let words = of_language.flat_map(|(_, _, words)| words.map(bare));
        words.filter(|word| others.contains(word)).collect::<HashSet<_>>().len()
    };
    match known("Polish").cmp(&known("Czech")) {
        Ordering::Greater => Some(Column::Country),
        Ordering::Less => Some(Column::State),
        Ordering::Equal => None,
    }
}

/// How many of these headings each language has. A heading that is also English counts for none.
pub(super) fn languages(headings: &[String]) -> Vec<(&'static str, usize)> {
    let foreign = headings.iter().filter(|heading| is_foreign(heading)).map(|own| bare(own));
    let foreign: HashSet<String> = foreign.collect();
    let of = |wanted: &'static str| {
        let own = lines().filter(|(_, language, _)| *language == wanted);
        let words = own.flat_map(|(_, language, words)| words.flat_map(|own| forms(own, language)));
        let known: HashSet<String> = words.filter(|word| foreign.contains(word)).collect();
        (wanted, known.len())
    };
    LANGUAGES.iter().skip(1).map(|(_, name)| of(name)).collect()
}

/// Whether a word is that of a height, which is an elevation only with a unit.
pub(super) fn is_height(bare: &str) -> bool {
    WORDS.heights.contains(bare)
}

/// All words with their columns, for suggestions.
pub(super) fn all() -> impl Iterator<Item = (Column, &'static str)> {
    lines().flat_map(|(section, _, headings)| {
        let column = Column::all().find(|column| column.word() == section);
        headings.filter_map(move |heading| Some((column?, heading)))
    })
}

/// The heading of a column in a language, by its code; English where the list has none.
pub(super) fn heading(column: Column, code: &str) -> &'static str {
    let (_, language) = LANGUAGES.iter().find(|(own, _)| *own == code).unwrap_or(&LANGUAGES[0]);
    let of = |wanted: &str| {
        lines()
            .find(|(section, language, _)| *section == column.word() && *language == wanted)
            .and_then(|(_, _, mut headings)| headings.next())
    };
    of(language).or_else(|| of("English")).unwrap_or(column.word())
}

#[cfg(test)]
mod tests {
    use super::super::headings;
    use super::*;

    #[test]
    fn headings_of_other_languages_are_known() {
        for (heading, expected) in [
            ("Uhrzeit", Column::Time),
            ("Fundort", Column::Place),
            ("Geographische L\u{e4}nge", Column::Longitude),
            ("Laenge", Column::Longitude),
            ("num\u{e9}ro", Column::Number),
            ("N\u{ba}", Column::Number),
            ("Lfd. Nr.", Column::Number),
            ("Esp\u{e8}ce", Column::Name),
            ("\u{e1}rbol", Column::Host),
            ("zdj\u{119}cia", Column::Photos),
            ("Koordinaten gemessen", Column::Measured),
            ("H\u{f6}he (m)", Column::Elevation),
            ("hoehe m", Column::Elevation),
            ("H\u{f6}he m \u{fc}. M.", Column::Elevation),
            ("Altitude (m)", Column::Elevation),
            ("P\u{e4}iv\u{e4}m\u{e4}\u{e4}r\u{e4}", Column::Date),
            ("M\u{ed}sto n\u{e1}lezu", Column::Place),
            ("cislo sberu", Column::Number),
            ("Klokkesl\u{e6}t", Column::Time),
            ("Klokkeslaet", Column::Time),
            ("Gemeinde", Column::Municipality),
            ("Pr\u{e9}cision (m)", Column::Uncertainty),
        ] {
            assert_eq!(headings::column(heading), Some(expected), "{heading}");
        }
        for heading in ["H\u{f6}he (m)", "H\u{f6}he \u{fc}. NN", "Seeh\u{f6}he", "Hoogte [m]"] {
            assert_eq!(headings::column(heading), Some(Column::Elevation), "{heading}");
        }
        for unknown in ["H\u{f6}he", "H\u{f6}he (cm)", "Kraj", "Wetter"] {
            assert_eq!(headings::column(unknown), None, "{unknown}");
        }
    }

    #[test]
    fn a_word_of_two_languages_has_the_meaning_of_that_of_the_others() {
        let others = |list: &str| list.split(' ').map(str::to_owned).collect::<Vec<_>>();
        let column = |list| by_language("Kraj", &others(list));
        assert_eq!(column("Numer Data Gatunek Kraj Uwagi"), Some(Column::Country));
        assert_eq!(column("\u{10c}\u{ed}slo Datum Druh Kraj Pozn\u{e1}mka"), Some(Column::State));
        assert_eq!(column("Number Date Kraj"), None);
    }

    #[test]
    fn the_list_is_whole_and_no_word_means_two_columns() {
        let mut known: HashMap<String, (&str, &str)> = HashMap::new();
        let mut count = 0;
        for (section, language, words) in lines() {
            let is_known = section == HEIGHT || Column::all().any(|c| c.word() == section);
            assert!(is_known, "{section}");
            assert!(LANGUAGES.iter().any(|(_, name)| *name == language), "{language}");
            for word in words {
                count += 1;
                for form in forms(word, language) {
                    assert!(!form.is_empty(), "{word}");
                    let (before, _) = *known.entry(form.clone()).or_insert((section, word));
                    assert_eq!(before, section, "{form}");
                    if section != HEIGHT {
                        let read = headings::column(word).map(Column::word);
                        assert_eq!(read, Some(section), "{word}");
                    }
                }
            }
        }
        assert!(count > 900, "{count}");
    }
}
