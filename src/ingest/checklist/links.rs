//! Resolves the references between the rows of a checklist: each synonym to its accepted name through
//! any chain of synonyms, each name to its higher taxa. Keeps numbers only, so that memory is some
//! tens of bytes for each name. Layer: `ingest`.
//!
//! References may point forward, to themselves or to nothing; each case has its own count and stops nothing.

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};

use crate::model::{Lineage, OpenSynonym};

/// A longer chain of synonyms or of higher taxa is taken for a circle (chosen; ranks are some thirty).
const LONGEST_CHAIN: usize = 100;

/// What a row is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Usage {
    Accepted,
    /// A synonym of the name in this row, counted from one.
    SynonymOf(u32),
    /// A synonym of a name that is written in the row and has no row of its own.
    SynonymOfWritten,
    Open(OpenSynonym),
}

/// How a row refers to its accepted name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reference {
    None,
    Id(u64),
    /// By the name with its author, and without.
    Name(u64, u64),
}

/// What the first reading of a row gives.
pub(super) struct Link<'a> {
    pub(super) id: &'a str,
    /// Hashes of the name with its author, and without.
    pub(super) name: (u64, u64),
    pub(super) accepted: Reference,
    pub(super) parent: &'a str,
    /// Whether its status says that it is a synonym.
    pub(super) called_synonym: bool,
    /// A higher taxon: its place among [`Lineage::TERMS`], and its name.
    pub(super) higher: Option<(usize, &'a str)>,
}

/// The references of all rows while they are read.
#[derive(Default)]
pub(super) struct Linking {
    by_id: HashMap<u64, u32>,
    by_name: HashMap<u64, u32>,
    /// References by names are rare: most checklists refer by identifiers.
    of_names: HashMap<u32, (u64, u64)>,
    accepted: Vec<u64>,
    parents: Vec<u64>,
    called_synonym: Vec<bool>,
    higher: HashMap<u32, (usize, Box<str>)>,
    /// Identifiers that several rows have.
    pub(super) repeated_ids: usize,
}

/// Two accepted rows have the name.
const SEVERAL: u32 = u32::MAX;

impl Linking {
    /// Adds the next row; `with_names` where rows may refer to each other by names.
    pub(super) fn add(&mut self, link: &Link<'_>, with_names: bool) {
        let row = u32::try_from(self.accepted.len() + 1).unwrap_or(SEVERAL - 1);
        let id = if link.id.is_empty() { 0 } else { hash(link.id) };
        if id != 0 && *self.by_id.entry(id).or_insert(row) != row {
            self.repeated_ids += 1;
        }
        let accepted = match link.accepted {
            Reference::Id(other) if other != id => other,
            Reference::Name(full, bare) if (full, bare) != link.name => {
                self.of_names.insert(row, (full, bare));
                0
            }
            _ => 0,
        };
        let is_accepted =
            accepted == 0 && !self.of_names.contains_key(&row) && !link.called_synonym;
        if with_names && is_accepted {
            let (full, bare) = link.name;
            self.by_name.entry(full).or_insert(row);
            if full != bare {
                self.by_name.entry(bare).and_modify(|own| *own = SEVERAL).or_insert(row);
            }
        }
        self.accepted.push(accepted);
        self.parents.push(if link.parent.is_empty() { 0 } else { hash(link.parent) });
        self.called_synonym.push(link.called_synonym);
        if let Some((place, name)) = link.higher {
            self.higher.insert(row, (place, name.into()));
        }
    }

    pub(super) fn len(&self) -> usize {
        self.accepted.len()
    }

    /// Resolves all references.
    pub(super) fn resolved(self) -> Links {
        let rows = u32::try_from(self.accepted.len()).unwrap_or(0);
        let steps: Vec<Step> = (1..=rows).map(|row| self.step(row)).collect();
        let usages = steps.iter().map(|step| followed(*step, &steps)).collect();
        let parents = self.parents.iter().map(|id| self.by_id.get(id).copied().unwrap_or(0));
        Links { usages, parents: parents.collect(), higher: self.higher }
    }

    fn step(&self, row: u32) -> Step {
        let place = row as usize - 1;
        if let Some((full, bare)) = self.of_names.get(&row) {
            let found = self.by_name.get(full).or_else(|| self.by_name.get(bare));
            return match found {
                Some(&other) if other != SEVERAL && other != row => Step::To(other),
                _ => Step::End(Usage::SynonymOfWritten),
            };
        }
        match self.accepted[place] {
            0 if self.called_synonym[place] => Step::End(Usage::Open(OpenSynonym::NotNamed)),
            0 => Step::End(Usage::Accepted),
            id => match self.by_id.get(&id) {
                Some(other) if *other != row => Step::To(*other),
                Some(_) => Step::End(Usage::Accepted),
                None => Step::End(Usage::Open(OpenSynonym::Missing)),
            },
        }
    }
}

#[derive(Clone, Copy)]
enum Step {
    To(u32),
    End(Usage),
}

/// The end of a chain of synonyms.
fn followed(first: Step, steps: &[Step]) -> Usage {
    let mut step = first;
    let mut last = None;
    for _ in 0..LONGEST_CHAIN {
        match step {
            Step::To(row) => {
                last = Some(row);
                step = steps[row as usize - 1];
            }
            Step::End(Usage::Accepted) => return last.map_or(Usage::Accepted, Usage::SynonymOf),
            // the name that the last synonym states has a row only where it is the first itself
            Step::End(Usage::SynonymOfWritten) if last.is_some() => {
                return Usage::Open(OpenSynonym::Missing);
            }
            Step::End(open) => return open,
        }
    }
    Usage::Open(OpenSynonym::Circle)
}

/// The resolved references.
#[derive(Debug)]
pub(super) struct Links {
    usages: Vec<Usage>,
    parents: Vec<u32>,
    higher: HashMap<u32, (usize, Box<str>)>,
}

impl Links {
    pub(super) fn len(&self) -> usize {
        self.usages.len()
    }

    /// What a row is, counted from one.
    pub(super) fn usage(&self, row: u32) -> Usage {
        self.usages.get(row as usize - 1).copied().unwrap_or(Usage::Accepted)
    }

    /// Completes the higher taxa of a row by those above it.
    pub(super) fn complete(&self, row: u32, lineage: &mut [Option<String>; 6]) {
        let mut at = row;
        for _ in 0..LONGEST_CHAIN {
            if let Some((place, name)) = self.higher.get(&at) {
                lineage[*place].get_or_insert_with(|| name.to_string());
            }
            // a synonym among the parents stands for its accepted name
            at = match self.usage(at) {
                Usage::SynonymOf(accepted) => accepted,
                _ => self.parents.get(at as usize - 1).copied().unwrap_or(0),
            };
            if at == 0 || lineage.iter().all(Option::is_some) {
                break;
            }
        }
    }
}

/// A hash of 64 bits, the same in both readings: among a million names two meet once in 37 million files.
pub(super) fn hash(text: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    text.hash(&mut hasher);
    hasher.finish().max(1)
}

/// The place of a rank among [`Lineage::TERMS`].
pub(super) fn higher_rank(rank: &str) -> Option<usize> {
    let rank = rank.trim().to_lowercase();
    let rank = match rank.as_str() {
        "division" | "divisio" => "phylum",
        "regnum" => "kingdom",
        "classis" => "class",
        "ordo" => "order",
        "familia" => "family",
        other => other,
    };
    Lineage::TERMS.iter().position(|term| *term == rank)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row<'a>(id: &'a str, accepted: &str, parent: &'a str) -> Link<'a> {
        let accepted =
            if accepted.is_empty() { Reference::None } else { Reference::Id(hash(accepted)) };
        Link { id, name: (1, 1), accepted, parent, called_synonym: false, higher: None }
    }

    #[test]
    fn chains_are_followed_and_circles_are_found() {
        use OpenSynonym::{Circle, Missing, NotNamed};
        use Usage::{Accepted, Open, SynonymOf};
        let mut linking = Linking::default();
        for (id, accepted) in [
            ("a", "b"),
            ("b", "c"),
            ("c", "c"),
            ("d", "e"),
            ("e", "d"),
            ("f", "nowhere"),
            ("g", "d"),
        ] {
            linking.add(&row(id, accepted, ""), false);
        }
        linking.add(&Link { called_synonym: true, ..row("h", "", "") }, false);
        let links = linking.resolved();
        let usages: Vec<Usage> = (1..=8).map(|row| links.usage(row)).collect();
        let (circle, missing) = (Open(Circle), Open(Missing));
        let to_c = SynonymOf(3);
        assert_eq!(usages, [to_c, to_c, Accepted, circle, circle, missing, circle, Open(NotNamed)]);
    }

    #[test]
    fn higher_taxa_come_from_the_rows_above() {
        let mut linking = Linking::default();
        linking.add(&Link { higher: Some((0, "Fungi")), ..row("k", "", "f") }, false);
        linking.add(&Link { higher: Some((4, "Mycenaceae")), ..row("f", "", "k") }, false);
        linking.add(&row("s", "", "f"), false);
        linking.add(&row("t", "", "unknown"), false);
        let links = linking.resolved();
        let mut lineage = [const { None }; 6];
        links.complete(3, &mut lineage);
        assert_eq!(
            (lineage[0].as_deref(), lineage[4].as_deref()),
            (Some("Fungi"), Some("Mycenaceae"))
        );
        links.complete(4, &mut [const { None }; 6]);
    }
}
