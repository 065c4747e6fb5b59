//! Says what a checklist has of the names of finds: in a sentence for one, in counts and a list for
//! all. Layer: `present`.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde::Serialize;

use super::summary::words::counted;
use crate::model::{Meaning, NameCheck};

/// The most names that are listed for each reason.
const LISTED: usize = 20;

/// A written name with what the checklist says of it.
#[derive(Clone, Debug, Serialize)]
pub struct CheckedName<'a> {
    /// As written.
    pub written: &'a str,
    /// The number of finds.
    pub finds: usize,
    /// What the checklist says; `None` where nothing certain is written.
    pub check: Option<&'a NameCheck>,
}

/// `accepted: Mycena pura (Pers.) P. Kumm.`
#[must_use]
pub fn sentence(check: &NameCheck) -> String {
    match check {
        NameCheck::Accepted { taxon } => format!("accepted: {}", taxon.full_name()),
        NameCheck::Synonym { taxon, accepted } => {
            format!("{} is a synonym of {}", taxon.full_name(), accepted.full_name())
        }
        NameCheck::Open { taxon, why } => {
            format!("{} is a synonym, but {}", taxon.full_name(), why.words())
        }
        NameCheck::Ambiguous { .. } => format!("ambiguous: {}", detail(check)),
        NameCheck::Unknown { nearest } if nearest.is_empty() => "not in the checklist".to_owned(),
        NameCheck::Unknown { .. } => format!("not in the checklist; {}", detail(check)),
    }
}

/// What the heading of a list of such names does not say.
fn detail(check: &NameCheck) -> String {
    match check {
        NameCheck::Accepted { taxon } => taxon.full_name(),
        NameCheck::Synonym { accepted, .. } => accepted.full_name(),
        NameCheck::Open { why, .. } => why.words().to_owned(),
        NameCheck::Ambiguous { meanings } => {
            let words = |meaning: &Meaning| match &meaning.accepted {
                Some(accepted) => format!("{} (synonym of {accepted})", meaning.name),
                None => meaning.name.clone(),
            };
            let meanings: Vec<String> = meanings.iter().map(words).collect();
            format!("{}; write the author", meanings.join(" or "))
        }
        NameCheck::Unknown { nearest } if nearest.is_empty() => "no name is near".to_owned(),
        NameCheck::Unknown { nearest } => format!("nearest: {}", nearest.join(", ")),
    }
}

/// `Fungi, Basidiomycota, …`: the higher taxa of the accepted name.
#[must_use]
pub fn lineage(check: &NameCheck) -> String {
    let ranks = check.accepted().map(|taxon| taxon.lineage.ranks());
    ranks.into_iter().flatten().flatten().collect::<Vec<_>>().join(", ")
}

/// Counts of all names, then those that are not accepted names.
#[must_use]
pub fn report(names: &[CheckedName<'_>]) -> String {
    let mut text = format!("Names: {}.\n", counts(names));
    for (heading, chosen) in reasons(names) {
        let _ = writeln!(text, "{heading}:");
        for name in chosen.iter().take(LISTED) {
            let finds = counted(name.finds, "find", "finds");
            let said = name.check.map(detail).unwrap_or_default();
            let _ = writeln!(text, "  {} ({finds}): {said}", name.written);
        }
        if chosen.len() > LISTED {
            let _ = writeln!(text, "  and {} more; --json lists all", chosen.len() - LISTED);
        }
    }
    text
}

/// `14 accepted, 2 synonyms, 1 not in the checklist`.
#[must_use]
pub fn counts(names: &[CheckedName<'_>]) -> String {
    let mut kinds: BTreeMap<usize, usize> = BTreeMap::new();
    for name in names {
        *kinds.entry(kind(name.check)).or_default() += 1;
    }
    let said = kinds.into_iter().map(|(kind, number)| match kind {
        0 => format!("{number} accepted"),
        1 => counted(number, "synonym", "synonyms"),
        2 => format!("{} without an accepted name", counted(number, "synonym", "synonyms")),
        3 => format!("{number} ambiguous"),
        4 => format!("{number} not in the checklist"),
        _ => format!("{number} without a certain part"),
    });
    let said: Vec<String> = said.collect();
    if said.is_empty() { "no find is named".to_owned() } else { said.join(", ") }
}

fn kind(check: Option<&NameCheck>) -> usize {
    match check {
        Some(NameCheck::Accepted { .. }) => 0,
        Some(NameCheck::Synonym { .. }) => 1,
        Some(NameCheck::Open { .. }) => 2,
        Some(NameCheck::Ambiguous { .. }) => 3,
        Some(NameCheck::Unknown { .. }) => 4,
        None => 5,
    }
}

fn reasons<'n, 'a>(
    names: &'n [CheckedName<'a>],
) -> impl Iterator<Item = (&'static str, Vec<&'n CheckedName<'a>>)> {
    let headings = [
        (4, "Not in the checklist"),
        (3, "Ambiguous"),
        (2, "Synonyms without an accepted name"),
        (1, "Synonyms"),
    ];
    headings.into_iter().filter_map(|(wanted, heading)| {
        let chosen: Vec<_> = names.iter().filter(|name| kind(name.check) == wanted).collect();
        (!chosen.is_empty()).then_some((heading, chosen))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Lineage, Taxon};

    #[test]
    fn names_are_counted_and_listed_by_reason() {
        let taxon = |name: &str| Taxon {
            name: name.into(),
            author: Some("Fr.".into()),
            rank: None,
            lineage: Lineage::default(),
        };
        let accepted = NameCheck::Accepted { taxon: taxon("Mycena") };
        let synonym = NameCheck::Synonym { taxon: taxon("A b"), accepted: Box::new(taxon("C d")) };
        let unknown = NameCheck::Unknown { nearest: vec!["Mycena".into()] };
        let name = |written, check| CheckedName { written, finds: 2, check };
        let names = [
            name("Mycena sp.", Some(&accepted)),
            name("A b", Some(&synonym)),
            name("Mycenna", Some(&unknown)),
            name("brown thing", None),
        ];
        let text = report(&names);
        assert!(
            text.starts_with(
                "Names: 1 accepted, 1 synonym, 1 not in the checklist, 1 without a certain part.\n\
             Not in the checklist:\n  Mycenna (2 finds): nearest: Mycena\n"
            ),
            "{text}"
        );
        assert!(text.ends_with("A b (2 finds): C d Fr.\n"), "{text}");
        assert_eq!(counts(&[]), "no find is named");
    }
}
