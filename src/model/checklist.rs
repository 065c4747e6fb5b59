//! Represents the names of a checklist of taxa as they are kept, and counts them. Layer: `model`.

use serde::Serialize;

use super::{Lineage, OpenSynonym};

/// What a checklist holds.
///
/// The last six lines are what the checklist itself leaves open; none of them stops an import of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct ChecklistCounts {
    /// Names.
    pub names: usize,
    /// Accepted names.
    pub accepted: usize,
    /// Synonyms with their accepted name.
    pub synonyms: usize,
    /// Synonyms that name no accepted name.
    pub not_named: usize,
    /// Synonyms whose accepted name is not there.
    pub missing: usize,
    /// Synonyms that refer to each other in a circle.
    pub circles: usize,
    /// Rows without a name.
    pub nameless: usize,
    /// Lines that are too long.
    pub too_long: usize,
    /// Rows with an identifier that an earlier row has.
    pub repeated_ids: usize,
}

/// A name of a checklist, ready to be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChecklistEntry {
    /// Its row, from one.
    pub row: u32,
    /// The name in the form in which it is compared.
    pub key: String,
    /// Without author.
    pub name: String,
    /// Its author.
    pub author: Option<String>,
    /// Its rank as written.
    pub rank: Option<String>,
    /// Its status as written.
    pub status: Option<String>,
    /// The row of its accepted name.
    pub accepted: Option<u32>,
    /// Why a synonym has none.
    pub open: Option<OpenSynonym>,
    /// Its higher taxa.
    pub lineage: Lineage,
}

impl ChecklistCounts {
    /// Counts a name.
    pub fn add(&mut self, entry: &ChecklistEntry) {
        self.names += 1;
        match (entry.accepted, entry.open) {
            (Some(_), _) => self.synonyms += 1,
            (None, Some(OpenSynonym::NotNamed)) => self.not_named += 1,
            (None, Some(OpenSynonym::Missing)) => self.missing += 1,
            (None, Some(OpenSynonym::Circle)) => self.circles += 1,
            (None, None) => self.accepted += 1,
        }
    }
}
