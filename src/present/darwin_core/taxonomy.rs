//! States what the checklist says of a name: author, rank, accepted name, higher taxa. Layer: `present`.

use super::Terms;
use crate::model::{KeptFind, Lineage, NameCheck};

/// Adds the terms of a name that the checklist has; `scientificName` stays as written.
///
/// # References
/// Darwin Core quick reference guide, class Taxon: `acceptedNameUsage` is the full name with author.
pub(super) fn add(terms: &mut Terms, find: &KeptFind) {
    let Some(check) = find.checked.as_deref() else { return };
    let Some(taxon) = check.taxon() else { return };
    let status = match check {
        NameCheck::Accepted { .. } => "accepted",
        _ => "synonym",
    };
    terms
        .some("scientificNameAuthorship", taxon.author.clone())
        .some("taxonRank", taxon.rank.clone())
        .text("taxonomicStatus", status);
    let Some(accepted) = check.accepted() else { return };
    terms.text("acceptedNameUsage", accepted.full_name());
    for (term, name) in Lineage::TERMS.into_iter().zip(accepted.lineage.ranks()) {
        terms.some(term, name.map(str::to_owned));
    }
}
