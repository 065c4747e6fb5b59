//! Represents a name as a checklist of taxa has it, and the result of looking up a written name.
//! Layer: `model`.

use serde::{Deserialize, Serialize};

use super::taxon_name::with_author;

/// The higher taxa of a name, as far as a checklist states them.
///
/// In the ranks that Darwin Core has terms for; a checklist may leave any of them out.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash, Serialize)]
pub struct Lineage {
    /// Kingdom.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kingdom: Option<String>,
    /// Phylum or division.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub phylum: Option<String>,
    /// Class.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<String>,
    /// Order.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub order: Option<String>,
    /// Family.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub family: Option<String>,
    /// Genus.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub genus: Option<String>,
}

impl Lineage {
    /// The Darwin Core terms of [`Self::ranks`].
    pub const TERMS: [&'static str; 6] = ["kingdom", "phylum", "class", "order", "family", "genus"];

    /// From kingdom down to genus.
    #[must_use]
    pub fn ranks(&self) -> [Option<&str>; 6] {
        [&self.kingdom, &self.phylum, &self.class, &self.order, &self.family, &self.genus]
            .map(Option::as_deref)
    }

    /// The same by [`Self::TERMS`].
    #[must_use]
    pub fn of_ranks(ranks: [Option<String>; 6]) -> Self {
        let [kingdom, phylum, class, order, family, genus] = ranks;
        Self { kingdom, phylum, class, order, family, genus }
    }
}

/// A name of a checklist.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Taxon {
    /// Without author.
    pub name: String,
    /// Its author.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub author: Option<String>,
    /// Its rank, as the checklist writes it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rank: Option<String>,
    /// Its higher taxa.
    pub lineage: Lineage,
}

impl Taxon {
    /// Name and author.
    #[must_use]
    pub fn full_name(&self) -> String {
        match &self.author {
            Some(author) => with_author(&self.name, author),
            None => self.name.clone(),
        }
    }
}

/// Why a checklist gives no accepted name for a synonym.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OpenSynonym {
    /// It names none.
    NotNamed,
    /// It refers to a name that it does not have.
    Missing,
    /// Synonyms refer to each other in a circle.
    Circle,
}

impl OpenSynonym {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NotNamed => "the checklist names no accepted name for it",
            Self::Missing => "its accepted name is not in the checklist",
            Self::Circle => "its synonyms refer to each other in a circle",
        }
    }
}

/// One of several taxa that a name can stand for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Meaning {
    /// The name with its author.
    pub name: String,
    /// The accepted name, where it is another.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub accepted: Option<String>,
}

/// What a checklist says of a written name. A qualifier (`cf.`, `sp.`) and what follows it are not
/// looked up, so that `Mycena cf. interrupta` is the genus Mycena.
///
/// A checklist states a view of names; it never replaces what was written. Both are shown and both are exported.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "status", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum NameCheck {
    /// An accepted name.
    Accepted {
        /// The name.
        taxon: Taxon,
    },
    /// A synonym with its accepted name.
    Synonym {
        /// The synonym.
        taxon: Taxon,
        /// The accepted name.
        accepted: Box<Taxon>,
    },
    /// A synonym whose accepted name cannot be determined.
    Open {
        /// The synonym.
        taxon: Taxon,
        /// Why.
        why: OpenSynonym,
    },
    /// A name that stands for several taxa (homonyms), which the written author does not separate.
    Ambiguous {
        /// What it can stand for.
        meanings: Vec<Meaning>,
    },
    /// Not in the checklist.
    Unknown {
        /// The names that are spelt most like it.
        nearest: Vec<String>,
    },
}

impl NameCheck {
    /// The name in the checklist that was written.
    #[must_use]
    pub fn taxon(&self) -> Option<&Taxon> {
        match self {
            Self::Accepted { taxon } | Self::Synonym { taxon, .. } | Self::Open { taxon, .. } => {
                Some(taxon)
            }
            Self::Ambiguous { .. } | Self::Unknown { .. } => None,
        }
    }

    /// The accepted name, where it can be determined.
    #[must_use]
    pub fn accepted(&self) -> Option<&Taxon> {
        match self {
            Self::Accepted { taxon } => Some(taxon),
            Self::Synonym { accepted, .. } => Some(accepted.as_ref()),
            _ => None,
        }
    }

    /// The accepted name, where another one was written.
    #[must_use]
    pub fn other_accepted(&self) -> Option<&Taxon> {
        match self {
            Self::Synonym { accepted, .. } => Some(accepted.as_ref()),
            _ => None,
        }
    }
}
