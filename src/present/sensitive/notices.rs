//! Formats notices about sensitivity rules and levels as sentences. Layer: `present`.

use super::{WithheldFor, WithheldText};
use crate::model::{Leak, LeakRemedy, RuleSubject, SensitivityNotice};
use crate::present::summary::words::counted;

/// A rule's subject in words.
#[must_use]
pub fn named(subject: &RuleSubject) -> String {
    match subject {
        RuleSubject::Taxon(taxon) => as_a_name(taxon),
        RuleSubject::Site(id) => format!("site {}", id.0),
        RuleSubject::Find(id) => format!("find {id}"),
    }
}

/// Taxa are stored in lower case; a genus is written with a capital.
fn as_a_name(taxon: &str) -> String {
    let mut letters = taxon.trim().chars();
    let first = letters.next().map(char::to_uppercase).into_iter().flatten();
    first.chain(letters.flat_map(char::to_lowercase)).collect()
}

/// The notice as a sentence.
#[must_use]
pub fn sentence(notice: &SensitivityNotice) -> String {
    let finds = |count: usize| counted(count, "find", "finds");
    match notice {
        SensitivityNotice::MatchesNothing { rule, in_advance, places, finds } => {
            matches_nothing(rule, *in_advance, (*places, *finds))
        }
        SensitivityNotice::SimilarName { name, taxon, finds: count } => format!(
            "Treated as {}: {} named {name}, a similar spelling. Correct the name, or add a rule.",
            as_a_name(taxon),
            finds(*count)
        ),
        SensitivityNotice::PossibleName { name, taxon, finds: count } => format!(
            "Treated as {}: {} named {name}, which may mean it. Write the name in full if it is another.",
            as_a_name(taxon),
            finds(*count)
        ),
        SensitivityNotice::NamedBefore { finds: count } => format!(
            "Sensitive by an earlier name: {} named otherwise since a rule for a taxon was applied to them. To release one: \
             trug places open --find NUMBER.",
            finds(*count)
        ),
        SensitivityNotice::AtBoundPlace { finds: count } => format!(
            "Sensitive by position: {} at the place of a rule for a find or site, or near a sensitive find as imported.",
            finds(*count)
        ),
        SensitivityNotice::WithinCircle { finds: count } => format!(
            "Sensitive by position: {} of the same taxon within the 95 % circle of a sensitive find.",
            finds(*count)
        ),
        SensitivityNotice::PublishedBefore { finds: count } => format!(
            "Level kept: {} published as sensitive before. To release one: trug places open --find NUMBER.",
            finds(*count)
        ),
        SensitivityNotice::CoarserCellKept { finds: count } => format!(
            "Coarser cell kept: {}; a finer one combined with the cell published before would locate them too precisely.",
            finds(*count)
        ),
        SensitivityNotice::PublishedExactly { finds: count } => format!(
            "Published exactly before: {} that are sensitive now. Published outputs cannot be withdrawn.",
            finds(*count)
        ),
    }
}

/// A withheld text by its field, and why.
#[must_use]
fn field_and_reason(withheld: &WithheldText) -> String {
    let why = match withheld.reason {
        WithheldFor::Position => "a position",
        WithheldFor::Coordinate => "a number that can be a coordinate",
        WithheldFor::Code => "a code of a position",
        WithheldFor::Time => "a time of day",
        WithheldFor::Locality => "words of the locality",
    };
    format!("{} ({why})", withheld.field)
}

/// A withheld field within such a note, with what exactly it holds where the note leaves that open.
#[must_use]
pub fn field_in_note(withheld: &WithheldText) -> String {
    match withheld.reason {
        WithheldFor::Time | WithheldFor::Locality => withheld.field.clone(),
        _ => field_and_reason(withheld),
    }
}

/// What withheld texts of a kind hold, as a note says it.
#[must_use]
pub fn withheld_words(reason: WithheldFor) -> &'static str {
    match reason {
        WithheldFor::Position | WithheldFor::Coordinate | WithheldFor::Code => {
            "words that can state a position"
        }
        WithheldFor::Time => "a time of day, which with a track is a position",
        WithheldFor::Locality => "words of the locality",
    }
}

/// What a rule without a match withholds: places of earlier finds, and finds that are near or similar.
fn matches_nothing(rule: &str, in_advance: bool, (places, finds): (usize, usize)) -> String {
    let near = (places > 0).then(|| {
        format!(
            "withholds the tracks and the texts that lead to {} of finds that are gone",
            counted(places, "place", "places")
        )
    });
    let treated = (finds > 0).then(|| {
        format!(
            "makes {} sensitive by similar spelling or position",
            counted(finds, "find", "finds")
        )
    });
    let effects: Vec<String> = near.into_iter().chain(treated).collect();
    match (effects.is_empty(), in_advance) {
        (true, true) => {
            format!("The rule for {rule}, made in advance, does not match any find yet.")
        }
        (true, false) => format!(
            "The rule for {rule} matches no find and has no effect. List the rules with trug places."
        ),
        (false, _) => format!(
            "The rule for {rule} matches no find, and {}. List the rules with trug places.",
            effects.join(" and ")
        ),
    }
}

/// What to do about these leaks of an output.
#[must_use]
pub fn remedy(leaks: &[Leak]) -> &'static str {
    match leaks.iter().map(Leak::remedy).min() {
        Some(LeakRemedy::Words) => {
            "remove those words from the habitat, substrate or other fields of these finds, or exclude the finds"
        }
        Some(LeakRemedy::Sites) => {
            "look at its site with trug sites: if it was joined of places that lie far apart, undo that (trug \
             history, trug undo); or exclude the finds"
        }
        Some(LeakRemedy::Exclude) | None => {
            "exclude the finds with --taxon, --from and --to, and please report this message"
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rule_without_a_match_is_reported() {
        let subject = RuleSubject::Taxon("hygrocybe graminicolor".into());
        let of = |places, finds| SensitivityNotice::MatchesNothing {
            rule: named(&subject),
            in_advance: false,
            places,
            finds,
        };
        let without = sentence(&of(0, 0));
        assert!(without.contains("Hygrocybe graminicolor matches no find and has no effect"));
        let gone = sentence(&of(2, 1));
        assert!(gone.contains("withholds the tracks") && gone.contains("2 places"), "{gone}");
        assert!(gone.contains("1 find sensitive") && !gone.contains("no effect"), "{gone}");
        let one = SensitivityNotice::PublishedExactly { finds: 1 };
        assert!(sentence(&one).starts_with("Published exactly before: 1 find that"));
    }
}
