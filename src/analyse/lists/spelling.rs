//! Finds species of a list whose names may be one, misspelt: from the letters alone. Layer: `analyse`.

use super::SpeciesLine;
use crate::model::name_words::edit_distance;

/// Letters of an epithet or a genus from which one letter may be wrong, and from which two.
const LONG: [usize; 2] = [6, 11];

/// Two names that may be one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alike {
    /// The one with fewer finds.
    pub rarer: String,
    /// The other.
    pub other: String,
}

/// Pairs of species of one list whose names differ by one letter, or by two where they are long: in the
/// genus or in the epithet, not in both.
#[must_use]
pub fn alike(species: &[SpeciesLine]) -> Vec<Alike> {
    let mut pairs = Vec::new();
    for (place, a) in species.iter().enumerate() {
        for b in &species[place + 1..] {
            if near(&a.name, &b.name) {
                let (rarer, other) = if a.finds <= b.finds { (a, b) } else { (b, a) };
                pairs.push(Alike { rarer: rarer.name.clone(), other: other.name.clone() });
            }
        }
    }
    pairs
}

fn near(a: &str, b: &str) -> bool {
    let (Some((genus, epithet)), Some((other_genus, other_epithet))) =
        (a.split_once(' '), b.split_once(' '))
    else {
        return false;
    };
    match (genus == other_genus, epithet == other_epithet) {
        (true, false) => misspelt(epithet, other_epithet),
        (false, true) => misspelt(genus, other_genus),
        _ => false,
    }
}

fn misspelt(a: &str, b: &str) -> bool {
    let (long, other) = (a.chars().count(), b.chars().count());
    let wrong = LONG.iter().filter(|least| long.min(other) >= **least).count();
    long.abs_diff(other) <= wrong && wrong > 0 && edit_distance(a, b) <= wrong
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_letter_wrong_is_noticed_and_other_species_are_not() {
        for (a, b, expected) in [
            ("Mycena interrupta", "Mycena interupta", true),
            ("Mycena interrupta", "Mycenna interrupta", true),
            ("Mycena interrupta", "Mycenna interupta", false),
            ("Galerina patagonica", "Galerina patagonnica", true),
            ("Galerina hypnorum", "Galerina patagonica", false),
            ("Mycena pura", "Mycena rosa", false),
            ("Mycena pura", "Mycena pura", false),
            ("Leucoagaricus leucothites", "Leucoagarics leucotites", false),
            ("Cortinarius alboviolaceus", "Cortinarius alboviolaceous", true),
        ] {
            assert_eq!(near(a, b), expected, "{a}, {b}");
        }
    }
}
