//! Puts a qualifier from a column of its own (`cf.`, `aff. cervinus`, `?`) into the name that it makes
//! uncertain. Layer: `ingest`.

use crate::model::name_words::{is_aggregate, is_doubt, is_undetermined};
use crate::model::{TaxonName, identification};

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
    let stands_behind = is_undetermined(first) || is_aggregate(first);
    if !(stands_behind || is_doubt(first)) {
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
        _ if stands_behind => Some(format!("{name} {first}")),
        Some((place, _)) => {
            let (before, after) = name.split_at(place);
            Some(format!("{before} {first}{after}"))
        }
        None => Some(format!("{first} {name}")),
    }
}

/// Whether a name has an epithet behind its genus, qualifiers aside.
pub(super) fn has_epithet(name: &str) -> bool {
    let names = |word: &&str| {
        let bare = word.trim_end_matches(['.', '?']);
        !(bare.is_empty() || is_doubt(bare) || is_undetermined(bare) || is_aggregate(bare))
    };
    let certain: Vec<&str> = name.split_whitespace().filter(names).collect();
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
        assert_eq!(added("Pluteus cervinus", "seen once"), None);
        assert_eq!(added("Pluteus cervinus", ""), None);
    }
}
