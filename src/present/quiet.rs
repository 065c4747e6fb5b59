//! What may others see of a find? Decides how quiet each is kept, and takes back of it whatever would
//! give the place away. Careful unless told otherwise; never random, so that two outputs cannot be
//! averaged. Layer: `present`.
//!
//! What leaks together is treated together: all finds of a site, all finds of an outing that touched a
//! quiet place, their times, their ways, their words.

mod generalise;
mod leak;
mod levels;

use std::collections::HashSet;

use uuid::Uuid;

use crate::model::{KeptFind, Located, QuietRule, Sensitivity, SiteId};

pub use leak::leaks;

/// How much care an output needs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Care {
    /// Every find is generalised: to 0.001 degree, or coarser where something is to be kept quiet.
    #[default]
    Generalised,
    /// Exact, but for what is to be kept quiet.
    ExactWhereOpen,
    /// Exact throughout, quiet places too: for people whom you would take there.
    ExactThroughout,
}

/// A site as far as quiet goes: its numbers and the finds that cannot be told apart by position.
#[derive(Clone, Debug)]
pub struct Group {
    /// The numbers by which the store knows it or parts of it.
    pub ids: Vec<SiteId>,
    /// Indices of its finds.
    pub finds: Vec<usize>,
}

/// Finds as others may see them.
#[derive(Clone, Debug)]
pub struct ForOthers {
    /// In the order given.
    pub finds: Vec<KeptFind>,
    /// Outings of which something was taken back: neither their ways nor their start may be shown.
    pub guarded: HashSet<Uuid>,
    /// Indices of the groups that are kept quiet as a whole.
    pub quiet_groups: Vec<usize>,
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
    rules: &[QuietRule],
    care: Care,
) -> ForOthers {
    let levels::Levels { of_find: levels, quiet_groups } = levels::of(finds, groups, rules, care);
    let middles = generalise::middles(finds, groups);
    let shown: Vec<KeptFind> = finds
        .iter()
        .zip(levels.iter().zip(middles))
        .map(|(find, (level, middle))| match level {
            Some(level) => generalise::find(find, *level, middle),
            None => find.clone(),
        })
        .collect();
    let guarded =
        shown.iter().filter(|find| find.generalised.is_some()).map(|find| find.outing).collect();
    ForOthers { finds: shown, guarded, quiet_groups }
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
