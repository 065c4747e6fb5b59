//! Formats notices about sensitivity rules and levels as sentences. Layer: `present`.

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
        SensitivityNotice::MatchesNothing { rule, in_advance: false } => {
            format!(
                "The rule for {rule} matches no find and has no effect. List the rules with trug places."
            )
        }
        SensitivityNotice::MatchesNothing { rule, in_advance: true } => {
            format!("The rule for {rule}, made in advance, does not match any find yet.")
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
        let notice = SensitivityNotice::MatchesNothing { rule: named(&subject), in_advance: false };
        assert!(sentence(&notice).contains("Hygrocybe graminicolor matches no find"));
        let one = SensitivityNotice::PublishedExactly { finds: 1 };
        assert!(sentence(&one).starts_with("Published exactly before: 1 find that"));
    }
}
