//! What the analyses need to know of a find, and how it is had from the store's own form.
//! Layer: `analyse`.

use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use crate::model::KeptFind;
use crate::units::{LatLon, Radius95};

/// A find with a position, as the analyses see it.
#[derive(Clone, Debug, PartialEq)]
pub struct SpottedFind {
    /// Its lasting identity.
    pub id: Uuid,
    /// The collector's number, or the identity where there is none: what a person looks it up by.
    pub label: Arc<str>,
    /// Where.
    pub at: LatLon,
    /// How sure.
    pub radius: Radius95,
    /// The local date.
    pub date: Date,
    /// The instant, where it is known.
    pub when: Option<Timestamp>,
    /// The determined name.
    pub kind: Option<Arc<str>>,
    /// On which outing.
    pub outing: Uuid,
    /// The receiver's height there, metres.
    pub height: Option<f64>,
}

impl SpottedFind {
    /// The find, where it has a position.
    #[must_use]
    pub fn of(find: &KeptFind) -> Option<Self> {
        let place = find.place.as_ref()?;
        let label =
            find.record.number.as_ref().map_or_else(|| find.id.to_string(), |n| n.0.clone());
        Some(Self {
            id: find.id,
            label: label.into(),
            at: place.at,
            radius: place.radius,
            date: find.date,
            when: find.when.map(|(middle, _)| middle),
            kind: find
                .record
                .name
                .as_deref()
                .map(str::trim)
                .filter(|n| !n.is_empty())
                .map(Arc::from),
            outing: find.outing,
            height: place.height.map(|height| height.0.0),
        })
    }
}

/// Whether a find's name belongs to a taxon that a user asked for: the same words at its start, case
/// and spacing aside, so that a genus takes all its species.
#[must_use]
pub fn belongs(name: &str, taxon: &str) -> bool {
    let mut words = name.split_whitespace();
    taxon.split_whitespace().all(|asked| words.next().is_some_and(|word| same_word(word, asked)))
}

fn same_word(a: &str, b: &str) -> bool {
    a.eq_ignore_ascii_case(b)
        || (!(a.is_ascii() && b.is_ascii()) && a.to_lowercase() == b.to_lowercase())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_genus_takes_its_species_but_not_another_genus_that_begins_alike() {
        assert!(belongs("Cortinarius archeri (Berk.) Sacc.", "cortinarius"));
        assert!(belongs("Cortinarius  archeri", "Cortinarius archeri"));
        assert!(!belongs("Cortinariopsis x", "Cortinarius"));
        assert!(!belongs("Cortinarius", "Cortinarius archeri"));
    }
}
