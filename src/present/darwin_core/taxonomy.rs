//! States what the checklist says of a name: author, rank, accepted name, higher taxa. Layer: `present`.

use super::{Terms, Value};
use crate::model::{KeptFind, Lineage, NameCheck};

/// Adds the terms of a name that the checklist has; `scientificName` stays as written.
pub(super) fn add(terms: &mut Terms, find: &KeptFind) {
    if let Some(check) = find.checked.as_deref() {
        terms.0.extend(self::terms(check));
    }
}

/// The terms of a name that a checklist has.
///
/// # References
/// Darwin Core quick reference guide, class Taxon: `acceptedNameUsage` is the full name with author.
#[must_use]
pub fn terms(check: &NameCheck) -> Vec<(&'static str, Value)> {
    let mut terms = Terms::default();
    let Some(taxon) = check.taxon() else { return terms.0 };
    let status = match check {
        NameCheck::Accepted { .. } => "accepted",
        _ => "synonym",
    };
    terms
        .some("scientificNameAuthorship", taxon.author.clone())
        .some("taxonRank", taxon.rank.clone())
        .text("taxonomicStatus", status);
    let Some(accepted) = check.accepted() else { return terms.0 };
    terms.text("acceptedNameUsage", accepted.full_name());
    for (term, name) in Lineage::TERMS.into_iter().zip(accepted.lineage.ranks()) {
        terms.some(term, name.map(str::to_owned));
    }
    terms.0
}

/// The genus of a name that begins with it, where the checklist does not have the name itself.
#[must_use]
pub fn genus_alone(find: &KeptFind) -> Option<&str> {
    if find.checked.as_deref().is_some_and(|check| check.taxon().is_some()) {
        return None;
    }
    let genus = find.record.name.as_deref()?.split_whitespace().next()?;
    let letters = genus.chars().all(|c| c.is_alphabetic() || c == '-');
    (letters && genus.starts_with(char::is_uppercase)).then_some(genus)
}

/// The higher taxa of a genus that the checklist accepts.
#[must_use]
pub fn of_genus(check: &NameCheck) -> Vec<(&'static str, Value)> {
    let mut terms = Terms::default();
    if let NameCheck::Accepted { taxon } = check
        && !taxon.name.contains(' ')
    {
        for (term, name) in Lineage::TERMS.into_iter().zip(taxon.lineage.ranks()) {
            terms.some(term, name.map(str::to_owned));
        }
    }
    terms.0
}
