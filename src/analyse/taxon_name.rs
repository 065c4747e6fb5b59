//! Decides what a name counts as in a list: a species, a genus only, a doubtful name, or no name. Uses
//! the form of the words, and for words in small letters the genera that the same store writes with a
//! capital. Layer: `analyse`.
//!
//! # Rule
//! - Genus and epithet count as a species, whatever authors, subspecies, varieties and forms follow;
//!   `agg.`, `s.l.` and `s. lat.` count as the name before them.
//! - `cf.`, `aff.`, `nr.` or a question mark make a name doubtful.
//! - A genus alone, `sp.`, `sp. 2`, `spp.`, `indet.` count as that genus only.
//! - Blank names, and words that have not the form of a scientific name, count as undetermined.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::name_words::{self, is_undetermined, joins_authors};

/// What a name counts as.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Named {
    /// A species: genus and epithet.
    Species(String),
    /// A species is meant but in doubt; with its genus.
    Doubtful(String),
    /// Only the genus.
    Genus(String),
    /// Not a scientific name, or blank.
    Undetermined,
}

/// Reads names by the rule.
///
/// # Examples
/// ```
/// use trug::analyse::taxon_name::{NameRule, Named};
///
/// let rule = NameRule::of(["Mycena interrupta", "Mycena sp."]);
/// assert!(matches!(rule.read("Mycena interrupta (Berk.) Sacc."), Named::Species(_)));
/// assert!(!matches!(rule.read("Mycena sp."), Named::Species(_)));
/// ```
#[derive(Clone, Debug, Default)]
pub struct NameRule {
    genera: BTreeSet<String>,
    accepted: BTreeMap<String, String>,
}

impl NameRule {
    /// The rule with the genera of these names.
    #[must_use]
    pub fn of<'a>(names: impl IntoIterator<Item = &'a str>) -> Self {
        let genera = names.into_iter().filter_map(|name| {
            let mut words = name.split_whitespace().filter(|word| !is_doubt(word));
            let genus = words.next().filter(|word| is_genus(word))?;
            words.next().is_some_and(is_epithet).then(|| genus.to_owned())
        });
        Self { genera: genera.collect(), accepted: BTreeMap::new() }
    }

    /// The same with accepted names of some species: `Boletus badius` to `Imleria badia`.
    #[must_use]
    pub fn with_accepted(self, accepted: BTreeMap<String, String>) -> Self {
        Self { accepted, ..self }
    }

    /// What a name counts as.
    #[must_use]
    pub fn read(&self, name: &str) -> Named {
        let doubted = name.contains('?') || name.split_whitespace().any(is_doubt);
        let cleaned = name.replace('?', " ");
        let mut words = cleaned.split_whitespace().filter(|word| !is_doubt(word));
        let Some(genus) = words.next().and_then(|word| self.genus(word)) else {
            return Named::Undetermined;
        };
        let mut words = words.skip_while(|word| matches!(*word, "x" | "×"));
        let epithet =
            words.next().map(str::to_owned).filter(|word| is_epithet(word) || all_capitals(word));
        match epithet.map(|word| word.to_lowercase()).filter(|word| !stands_for_any(word)) {
            Some(_) if doubted => Named::Doubtful(genus),
            Some(epithet) => Named::Species(self.accept(format!("{genus} {epithet}"))),
            None => Named::Genus(genus),
        }
    }

    fn accept(&self, species: String) -> String {
        self.accepted.get(&species).cloned().unwrap_or(species)
    }

    fn genus(&self, word: &str) -> Option<String> {
        let word = word.trim_matches(['"', '(', ')', '[', ']', ',', ';', ':']);
        if is_genus(word) {
            return Some(word.to_owned());
        }
        let titled = titled(word);
        (is_genus(&titled) && (all_capitals(word) || self.genera.contains(&titled)))
            .then_some(titled)
    }
}

fn titled(word: &str) -> String {
    let mut letters = word.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    first + &letters.as_str().to_lowercase()
}

fn all_capitals(word: &str) -> bool {
    word.chars().count() > 2 && word.chars().all(|letter| letter.is_uppercase() || letter == '-')
}

/// A capital and at least two small letters.
fn is_genus(word: &str) -> bool {
    let mut letters = word.chars();
    letters.next().is_some_and(char::is_uppercase)
        && letters.clone().count() >= 2
        && letters.all(|letter| letter.is_lowercase() || letter == '-')
}

/// Small letters and hyphens, no word that joins authors.
fn is_epithet(word: &str) -> bool {
    !joins_authors(word)
        && word != "f"
        && word.chars().count() >= 2
        && word.chars().all(|letter| letter.is_lowercase() || letter == '-')
        || stands_for_any(word)
}

fn is_doubt(word: &str) -> bool {
    word == "?" || name_words::is_doubt(word)
}

/// `sp.` and what else stands for any species of a genus.
fn stands_for_any(word: &str) -> bool {
    let bare = word.trim_end_matches('.');
    is_undetermined(bare)
        || matches!(bare, "agg" | "ssp")
        || (bare.starts_with("sp") && bare[2..].chars().all(|letter| letter.is_ascii_digit()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn species(name: &str) -> Named {
        Named::Species(name.to_owned())
    }

    #[test]
    fn names_count_by_the_rule() {
        let rule = NameRule::of(["Mycena interrupta (Berk.) Sacc.", "cf. Laccaria amethystina"]);
        let genus = |genus: &str| Named::Genus(genus.to_owned());
        let doubtful = |genus: &str| Named::Doubtful(genus.to_owned());
        for (name, expected) in [
            ("Mycena interrupta (Berk.) Sacc.", species("Mycena interrupta")),
            ("mycena interrupta", species("Mycena interrupta")),
            ("MYCENA INTERRUPTA", species("Mycena interrupta")),
            ("  Mycena   interrupta ", species("Mycena interrupta")),
            ("Boletus edulis var. albus Pers.", species("Boletus edulis")),
            ("Armillaria mellea agg.", species("Armillaria mellea")),
            ("Armillaria mellea s.l.", species("Armillaria mellea")),
            ("Salix × sepulcralis Simonk.", species("Salix sepulcralis")),
            ("Agaricus campestris L. f.", species("Agaricus campestris")),
            ("Mycena cf. interrupta", doubtful("Mycena")),
            ("cf. Mycena interrupta", doubtful("Mycena")),
            ("Mycena interrupta ?", doubtful("Mycena")),
            ("?Mycena interrupta", doubtful("Mycena")),
            ("Cortinarius aff. archeri Berk.", doubtful("Cortinarius")),
            ("Mycena", genus("Mycena")),
            ("Mycena sp.", genus("Mycena")),
            ("Mycena sp. 2", genus("Mycena")),
            ("Mycena sp2", genus("Mycena")),
            ("Mycena (Pers.) Roussel", genus("Mycena")),
            ("mycena sp", genus("Mycena")),
            ("cf. Mycena", genus("Mycena")),
            ("little brown one", Named::Undetermined),
            ("laccaria amethystina", species("Laccaria amethystina")),
            ("M. interrupta", Named::Undetermined),
            ("?", Named::Undetermined),
            ("", Named::Undetermined),
            ("茸", Named::Undetermined),
        ] {
            assert_eq!(rule.read(name), expected, "{name}");
        }
    }

    #[test]
    fn accepted_names_replace_synonyms() {
        let accepted = [("Boletus badius".to_owned(), "Imleria badia".to_owned())];
        let rule = NameRule::of([]).with_accepted(accepted.into());
        assert_eq!(rule.read("Boletus badius (Fr.) Fr."), species("Imleria badia"));
    }
}
