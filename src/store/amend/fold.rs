//! Reduces the amendments of a find, in the order of the journal, to what is in force. Layer: `store`.

use std::collections::BTreeMap;

use jiff::civil::DateTime;
use uuid::Uuid;

use crate::model::{Determination, Patch, TextProperty};
use crate::units::Seconds;

/// A value with the number of its change.
pub(super) type By<T> = (i64, T);

/// The values in force; of each property the last one, while photographs and identifications
/// accumulate.
#[derive(Debug, Default)]
pub(super) struct Folded {
    /// `None` inside for no position.
    pub(super) position: Option<By<Option<(f64, f64, f64)>>>,
    pub(super) time: Option<By<(DateTime, Seconds)>>,
    /// Names in the order given, each with whether it shows the find.
    pub(super) photographs: Vec<By<(String, bool)>>,
    pub(super) texts: BTreeMap<TextProperty, By<Option<String>>>,
    pub(super) collector: Option<By<String>>,
    pub(super) outing: Option<By<Uuid>>,
    pub(super) withdrawn: Option<By<bool>>,
    pub(super) determinations: Vec<By<Determination>>,
}

impl Folded {
    pub(super) fn of(patches: Vec<By<Patch>>) -> Self {
        let mut folded = Self::default();
        for (change, patch) in patches {
            folded.take(change, patch);
        }
        folded
    }

    fn take(&mut self, change: i64, patch: Patch) {
        match patch {
            Patch::Position { latitude, longitude, within_m } => {
                self.position = Some((change, Some((latitude, longitude, within_m))));
            }
            Patch::Unlocated => self.position = Some((change, None)),
            Patch::Time { clock, within } => self.time = Some((change, (clock, within))),
            Patch::Photographs { add, remove } => {
                let removed = remove.into_iter().map(|name| (change, (name, false)));
                let added = add.into_iter().map(|name| (change, (name, true)));
                self.photographs.extend(removed.chain(added));
            }
            Patch::Text { property, value } => {
                self.texts.insert(property, (change, value));
            }
            Patch::Collector(name) => self.collector = Some((change, name)),
            Patch::Outing(outing) => self.outing = Some((change, outing)),
            Patch::Withdrawn(withdrawn) => self.withdrawn = Some((change, withdrawn)),
            Patch::Determination(named) => self.determinations.push((change, named)),
            // of a camera, not of a find; or without effect
            Patch::CameraClock(_) | Patch::Refused { .. } => {}
        }
    }

    /// The last identification that says it is the accepted one.
    pub(super) fn accepted(&self) -> Option<&By<Determination>> {
        self.determinations.iter().rev().find(|(_, named)| named.accepted)
    }
}
