//! The fields of a find that the analyses use, and their conversion from the store's form.
//! Layer: `analyse`.

use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use crate::model::KeptFind;
use crate::model::name_words::edit_distance;
use crate::units::{LatLon, Radius95};

/// A find with a position, as the analyses see it.
///
/// Texts are shared, so that a million finds fit into memory.
#[derive(Clone, Debug, PartialEq)]
pub struct SpottedFind {
    /// Its permanent identifier.
    pub id: Uuid,
    /// The collector's number, or the identifier where there is none.
    pub label: Arc<str>,
    /// Where.
    pub at: LatLon,
    /// Its 95 % radius.
    pub radius: Radius95,
    /// The local date.
    pub date: Date,
    /// The instant, where it is known.
    pub when: Option<Timestamp>,
    /// The determined name.
    pub taxon: Option<Arc<str>>,
    /// On which outing.
    pub outing: Uuid,
    /// The receiver's height there, metres.
    pub height: Option<f64>,
}

impl SpottedFind {
    /// The find, where it has a position.
    #[must_use]
    pub fn of(find: &KeptFind) -> Option<Self> {
        let place = find.place.as_ref()?;
        let label =
            find.record.number.as_ref().map_or_else(|| find.id.to_string(), |n| n.0.clone());
        Some(Self {
            id: find.id,
            label: label.into(),
            at: place.at,
            radius: place.radius,
            date: find.date,
            when: find.when.map(|(middle, _)| middle),
            taxon: find
                .record
                .name
                .as_deref()
                .map(str::trim)
                .filter(|n| !n.is_empty())
                .map(Arc::from),
            outing: find.outing,
            height: place.height.map(|height| height.0.0),
        })
    }
}

/// Whether a find's name belongs to a requested taxon: the same leading words, ignoring case and
/// spacing, so that a genus includes its species.
#[must_use]
pub fn belongs(name: &str, taxon: &str) -> bool {
    let mut words = name.split_whitespace();
    taxon.split_whitespace().all(|asked| words.next().is_some_and(|word| same_word(word, asked)))
}

fn same_word(a: &str, b: &str) -> bool {
    a.eq_ignore_ascii_case(b)
        || (!(a.is_ascii() && b.is_ascii()) && a.to_lowercase() == b.to_lowercase())
}

/// The names that the requested one is the beginning of, cut at the end of the word in which it ends: `Inocyb` and
/// `Inocybe al` are continued to `Inocybe` and `Inocybe albida`.
#[must_use]
pub fn continued<'a>(names: impl Iterator<Item = &'a str>, asked: &str) -> Vec<String> {
    let asked: Vec<String> = asked.split_whitespace().map(str::to_lowercase).collect();
    let Some((last, whole)) = asked.split_last() else { return Vec::new() };
    let mut found: std::collections::BTreeMap<String, String> = std::collections::BTreeMap::new();
    for name in names {
        let words: Vec<&str> = name.split_whitespace().take(asked.len()).collect();
        let Some((own_last, own_whole)) = words.split_last() else { continue };
        let alike = words.len() == asked.len()
            && own_whole.iter().zip(whole).all(|(own, asked)| same_word(own, asked))
            && own_last.to_lowercase().starts_with(last);
        if alike {
            let name = words.join(" ");
            found.entry(name.to_lowercase()).or_insert(name);
        }
    }
    found.into_values().collect()
}

/// Names that differ from the requested one by more than this share of its letters do not resemble it (project
/// choice).
const UNLIKE: f64 = 0.4;

/// Up to three names similar to the requested one, ignoring authors.
#[must_use]
pub fn nearest_names<'a>(names: impl Iterator<Item = &'a str>, asked: &str) -> Vec<String> {
    let plain: std::collections::BTreeSet<String> =
        names.map(|name| name.split_whitespace().take(2).collect::<Vec<_>>().join(" ")).collect();
    let asked = asked.to_lowercase();
    let genus_only = !asked.trim().contains(' ');
    let mut ranked: Vec<(usize, String)> = plain
        .into_iter()
        .map(|name| {
            let whole = name.to_lowercase();
            let part = if genus_only { whole.split(' ').next().unwrap_or("") } else { &whole };
            (edit_distance(part, asked.trim()), name)
        })
        .filter(|(edits, _)| *edits as f64 <= UNLIKE * asked.trim().chars().count() as f64)
        .collect();
    ranked.sort();
    ranked.into_iter().take(3).map(|(_, name)| name).collect()
}

/// The three texts most similar to the requested one, ignoring case.
#[must_use]
pub fn nearest_words<'a>(texts: impl Iterator<Item = &'a str>, asked: &str) -> Vec<String> {
    let asked = asked.trim().to_lowercase();
    let mut ranked: Vec<(usize, &str)> =
        texts.map(|text| (edit_distance(&text.to_lowercase(), &asked), text)).collect();
    ranked.sort_unstable();
    ranked.into_iter().take(3).map(|(_, text)| text.to_owned()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spelling_error_suggests_similar_names() {
        let names = ["Mycena interrupta", "Russula lenkunya", "Mycena nargan (Grgur.)"];
        let nearest = nearest_names(names.into_iter(), "Mycenna");
        assert_eq!(nearest[..2], ["Mycena interrupta", "Mycena nargan"]);
        assert_eq!(nearest_names(names.into_iter(), "rusula lenkunia")[0], "Russula lenkunya");
        assert_eq!(edit_distance("kitten", "sitting"), 3);
        assert!(nearest_names(std::iter::empty(), "x").is_empty());
    }

    #[test]
    fn names_that_do_not_resemble_are_not_suggested() {
        let names = ["Mycena aurantica", "Inocybe albida"];
        assert!(nearest_names(names.into_iter(), "Xyz").is_empty());
        assert_eq!(nearest_names(names.into_iter(), "Mycna"), ["Mycena aurantica"]);
    }

    #[test]
    fn the_beginning_of_a_name_is_continued_to_the_end_of_its_word() {
        let names = ["Inocybe albida Author", "inocybe asterospora", "Inocybe albida", "Mycena"];
        let of = |asked| continued(names.into_iter(), asked);
        assert_eq!(of("Inocyb"), ["Inocybe"]);
        assert_eq!(of("inocybe  al"), ["Inocybe albida"]);
        assert_eq!(of("Inocybe a").len(), 2);
        assert!(of("nocybe").is_empty() && of(" ").is_empty());
    }

    #[test]
    fn a_genus_takes_its_species_but_not_another_genus_that_begins_alike() {
        assert!(belongs("Cortinarius archeri (Berk.) Sacc.", "cortinarius"));
        assert!(belongs("Cortinarius  archeri", "Cortinarius archeri"));
        assert!(!belongs("Cortinariopsis x", "Cortinarius"));
        assert!(!belongs("Cortinarius", "Cortinarius archeri"));
    }
}
