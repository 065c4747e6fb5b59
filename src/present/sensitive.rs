//! What may others see of a find? Sets the level of each, and withholds whatever would
//! give the place away. Careful unless told otherwise; never random, so that two outputs cannot be
//! averaged. Layer: `present`.
//!
//! What leaks together is treated together: all finds of a site, all finds of an outing that touched a
//! sensitive find, their times, their ways, their words.

mod generalise;
mod leak;
mod levels;

use std::collections::HashSet;

use uuid::Uuid;

use crate::model::{KeptFind, Located, SensitivityRule, Sensitivity, SiteId};
use crate::units::LatLon;

pub use leak::leaks;

/// How much care an output needs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Care {
    /// Every find is generalised: to 0.001 degree, or coarser where something is sensitive.
    #[default]
    Generalised,
    /// Exact, except what is sensitive.
    ExactUnlessSensitive,
    /// Exact throughout, sensitive places too: for people whom you would take there.
    ExactThroughout,
}

/// A site as the levels need it: its numbers and the finds that cannot be told apart by position.
#[derive(Clone, Debug)]
pub struct Group {
    /// The numbers by which the store knows it or parts of it.
    pub ids: Vec<SiteId>,
    /// Indices of its finds.
    pub finds: Vec<usize>,
}

/// What the decision needs to know of a find: little enough that those of millions are held at once.
#[derive(Clone, Debug)]
pub struct FindSummary {
    /// Its lasting identity.
    pub id: Uuid,
    /// The outing it belongs to.
    pub outing: Uuid,
    /// The determined name.
    pub name: Option<String>,
    /// Where it is, if that is known.
    pub at: Option<LatLon>,
}

impl From<&KeptFind> for FindSummary {
    fn from(find: &KeptFind) -> Self {
        Self {
            id: find.id,
            outing: find.outing,
            name: find.record.name.clone(),
            at: find.place.as_ref().map(|place| place.at),
        }
    }
}

/// The levels of many finds, set before any of them is shown.
#[derive(Clone, Debug)]
pub struct Decisions {
    levels: Vec<Option<levels::Level>>,
    middles: Vec<Option<LatLon>>,
    /// Outings of which something is taken back: neither their ways nor their start may be shown.
    pub guarded: HashSet<Uuid>,
    /// Indices of the groups that are sensitive as a whole.
    pub sensitive_groups: Vec<usize>,
}

/// Decides for all finds together, since what leaks together is treated together.
#[must_use]
pub fn decide(summaries: &[FindSummary], groups: &[Group], rules: &[SensitivityRule], care: Care) -> Decisions {
    let levels::Levels { of_find: levels, sensitive_groups } = levels::of(summaries, groups, rules, care);
    let guarded = summaries.iter().zip(&levels).filter(|(_, level)| level.is_some());
    Decisions {
        guarded: guarded.map(|(summary, _)| summary.outing).collect(),
        middles: generalise::middles(summaries, groups),
        levels,
        sensitive_groups,
    }
}

impl Decisions {
    /// The find as others may see it; `index` is its place among those that were decided on. One that was
    /// not decided on is shown without coordinates.
    ///
    /// # Accuracy
    /// As [`for_others`].
    #[must_use]
    pub fn shown(&self, index: usize, find: &KeptFind) -> KeptFind {
        let unknown = Some(levels::Level { step: Sensitivity::Extreme, decided: true });
        match self.levels.get(index).copied().unwrap_or(unknown) {
            Some(level) => {
                generalise::find(find, level, self.middles.get(index).copied().flatten())
            }
            None => find.clone(),
        }
    }
}

/// Finds as others may see them.
#[derive(Clone, Debug)]
pub struct ForOthers {
    /// In the order given.
    pub finds: Vec<KeptFind>,
    /// Outings of which something was taken back: neither their ways nor their start may be shown.
    pub guarded: HashSet<Uuid>,
    /// Indices of the groups that are sensitive as a whole.
    pub sensitive_groups: Vec<usize>,
}

/// The finds as others may see them.
///
/// # Accuracy
/// A generalised position is the middle of a cell of the decimal grid; its radius reaches the far corner
/// of the cell and on from there by all that the true position may lie beside it, rounded up to two
/// figures.
///
/// # References
/// Chapman 2020, Current Best Practices for Generalizing Sensitive Species Occurrence Data: to a grid,
/// never at random; state the grid, what was held and what is withheld; generalise what leaks together.
#[must_use]
pub fn for_others(
    finds: &[KeptFind],
    groups: &[Group],
    rules: &[SensitivityRule],
    care: Care,
) -> ForOthers {
    let summaries: Vec<FindSummary> = finds.iter().map(FindSummary::from).collect();
    let decisions = decide(&summaries, groups, rules, care);
    let shown = finds.iter().enumerate().map(|(index, find)| decisions.shown(index, find));
    ForOthers {
        finds: shown.collect(),
        guarded: decisions.guarded,
        sensitive_groups: decisions.sensitive_groups,
    }
}

/// A position that goes along with a find, such as that of the camera: as coarse as the find is shown, in
/// the same cell. `None` where no coordinates are given.
#[must_use]
pub fn along_with(shown: &KeptFind, place: &Located) -> Option<Located> {
    match &shown.generalised {
        None => Some(place.clone()),
        Some(generalised) => {
            let middle = shown.place.as_ref().map_or(place.at, |place| place.at);
            generalise::coarse(place, middle, generalised.level)
        }
    }
}

/// A position on the grid of a step, with a radius that holds the true one; `None` where the step gives no
/// coordinates.
#[must_use]
pub fn coarse(place: &Located, step: Sensitivity) -> Option<Located> {
    generalise::coarse(place, place.at, step)
}
