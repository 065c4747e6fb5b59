//! Puts a qualifier from a column of its own (`cf.`, `aff. cervinus`, `?`) into the name that it makes
//! uncertain. Layer: `ingest`.

use crate::model::{TaxonName, identification};

/// Words that begin a qualifier.
const WORDS: [&str; 6] = ["cf", "aff", "nr", "sp", "spp", "agg"];

/// The name with its qualifier; `None` where the text is none that is known, or the name has one already.
pub(super) fn added(name: &str, qualifier: &str) -> Option<String> {
    let qualifier = qualifier.trim();
    if identification(name).qualifier.is_some() {
        return None;
    }
    if qualifier == "?" {
        return Some(format!("{name}?"));
    }
    let (first, rest) = qualifier.split_once(char::is_whitespace).unwrap_or((qualifier, ""));
    let word = first.trim_end_matches('.').to_lowercase();
    if !WORDS.contains(&word.as_str()) {
        return None;
    }
    let rest = rest.trim();
    if !rest.is_empty() {
        // `Pluteus cervinus` with `cf. cervinus`, or the certain part alone
        let certain = name.strip_suffix(rest).map_or(name, str::trim_end);
        return Some(format!("{certain} {first} {rest}"));
    }
    let epithet = TaxonName::read(name).and_then(|read| {
        let (before, epithet) = read.canonical.rsplit_once(' ')?;
        (!before.is_empty()).then(|| epithet.to_owned())
    });
    match epithet.and_then(|epithet| Some((name.find(&format!(" {epithet}"))?, epithet))) {
        _ if matches!(word.as_str(), "sp" | "spp" | "agg") => Some(format!("{name} {first}")),
        Some((place, _)) => {
            let (before, after) = name.split_at(place);
            Some(format!("{before} {first}{after}"))
        }
        None => Some(format!("{first} {name}")),
    }
}

/// Whether a word says that the species is not known.
pub(super) fn is_undetermined(word: &str) -> bool {
    const WORDS: [&str; 5] = ["sp", "spp", "indet", "species", "undet"];
    WORDS.contains(&word.trim_end_matches('.').to_lowercase().as_str())
}

/// Whether a name has an epithet behind its genus, qualifiers aside.
pub(super) fn has_epithet(name: &str) -> bool {
    let marks = |word: &&str| {
        let bare = word.trim_end_matches(['.', '?']).to_lowercase();
        !bare.is_empty() && !WORDS.contains(&bare.as_str()) && !is_undetermined(word)
    };
    let certain: Vec<&str> = name.split_whitespace().filter(marks).collect();
    TaxonName::read(&certain.join(" ")).is_some_and(|read| read.canonical.contains(' '))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn qualifiers_stand_before_what_is_uncertain() {
        for (name, qualifier, expected) in [
            ("Pluteus cervinus", "cf.", "Pluteus cf. cervinus"),
            (
                "Pluteus cervinus (Schaeff.) P. Kumm.",
                "aff",
                "Pluteus aff cervinus (Schaeff.) P. Kumm.",
            ),
            ("Pluteus cervinus", "cf. cervinus", "Pluteus cf. cervinus"),
            ("Pluteus", "cf. cervinus", "Pluteus cf. cervinus"),
            ("Pluteus", "sp.", "Pluteus sp."),
            ("Pluteus", "cf.", "cf. Pluteus"),
            ("Pluteus cervinus", "?", "Pluteus cervinus?"),
            ("Laccaria laccata", "agg.", "Laccaria laccata agg."),
        ] {
            assert_eq!(added(name, qualifier).as_deref(), Some(expected), "{name} {qualifier}");
        }
        assert_eq!(added("Pluteus cf. cervinus", "cf."), None);
        assert_eq!(added("Pluteus cervinus", "probably"), None);
        assert_eq!(added("Pluteus cervinus", ""), None);
    }
}
