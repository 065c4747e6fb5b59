//! Compares determined names with sensitive taxa: same, possibly same, or similar in spelling. Layer:
//! `present`.

use crate::analyse::spotted::strokes_apart;

/// Qualifiers, and words for an undetermined species.
const DOUBTS: [&str; 6] = ["cf", "aff", "nr", "?", "ined", "indet"];
const UNDETERMINED: [&str; 2] = ["sp", "spp"];

/// The words of a name in lower case, without qualifiers.
fn words(text: &str) -> Vec<String> {
    text.split_whitespace()
        .map(|word| word.trim_matches(['.', '?', ',', '(', ')', '"', '\'']).to_lowercase())
        .filter(|word| !word.is_empty() && !DOUBTS.contains(&word.as_str()))
        .collect()
}

/// Whether a determined name is or may be of the taxon: qualifiers do not reduce protection.
#[must_use]
pub fn may_be(name: &str, taxon: &str) -> bool {
    let (name, taxon) = (words(name), words(taxon));
    !taxon.is_empty() && name.starts_with(&taxon)
}

/// Whether two names may refer to one taxon: the same genus, and the same species where both have one.
pub(super) fn same_taxon(one: &str, other: &str) -> bool {
    let plain = |text: &str| -> Vec<String> {
        let named = words(text).into_iter().filter(|word| !UNDETERMINED.contains(&word.as_str()));
        named.take(2).collect()
    };
    let (one, other) = (plain(one), plain(other));
    let shared = one.len().min(other.len());
    shared > 0 && one[..shared] == other[..shared]
}

/// Whether a name is similar to a taxon but not equal: an edit distance of one letter, or two
/// where the taxon has ten letters or more.
#[must_use]
pub(super) fn similar(name: &str, taxon: &str) -> bool {
    const LONG: usize = 10;
    let (name, taxon) = (words(name), words(taxon));
    if taxon.is_empty() || name.len() < taxon.len() || name.starts_with(&taxon) {
        return false;
    }
    let (name, taxon) = (name[..taxon.len()].join(" "), taxon.join(" "));
    let most = if taxon.chars().count() < LONG { 1 } else { 2 };
    strokes_apart(&name, &taxon) <= most
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uncertain_determination_of_a_sensitive_taxon_is_sensitive() {
        assert!(may_be("Hygrocybe graminicolor (E. Horak) T.W. May", "hygrocybe graminicolor"));
        assert!(may_be("Hygrocybe cf. graminicolor", "Hygrocybe graminicolor"));
        assert!(may_be("Hygrocybe graminicolor?", "Hygrocybe graminicolor"));
        assert!(may_be("Hygrocybe sp.", "Hygrocybe"));
        assert!(!may_be("Hygrocybella rubra", "Hygrocybe"));
        assert!(!may_be("Hygrocybe lanecovensis", "Hygrocybe graminicolor"));
        assert!(!may_be("Hygrocybe", ""));
    }

    #[test]
    fn spelling_error_is_similar_and_other_species_is_not() {
        assert!(similar("Hygrocybe gramincolor", "hygrocybe graminicolor"));
        assert!(similar("Hygrocibe graminicollor", "hygrocybe graminicolor"));
        assert!(similar("Mycenna interrupta", "mycena"));
        assert!(!similar("Hygrocybe graminicolor", "hygrocybe graminicolor"));
        assert!(!similar("Hygrocybe lanecovensis", "hygrocybe graminicolor"));
        assert!(!similar("Mycena", "hygrocybe graminicolor"));
        assert!(!similar("Mycena", ""));
    }

    #[test]
    fn genus_matches_its_species() {
        assert!(same_taxon("Hygrocybe sp.", "Hygrocybe graminicolor"));
        assert!(same_taxon("Hygrocybe graminicolor (E. Horak) T.W. May", "hygrocybe graminicolor"));
        assert!(!same_taxon("Hygrocybe lanecovensis", "Hygrocybe graminicolor"));
        assert!(!same_taxon("", "Hygrocybe"));
    }
}
