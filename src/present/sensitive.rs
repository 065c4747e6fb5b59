//! Generalises finds for others: sets the level of each and withholds whatever would reveal its place.
//! Generalised by default; never random, so that outputs cannot be averaged; never finer than
//! earlier outputs allow. Layer: `present`.
//!
//! Finds that reveal each other get one level: all finds of a site, all finds of an outing with a
//! sensitive find, their times, tracks and texts.

mod audit;
mod cells;
mod concealed;
mod footprints;
mod generalise;
mod grid;
mod groups;
mod leak;
mod levels;
mod notices;
#[doc(hidden)]
pub mod readback;
mod texts;
mod times;

use std::collections::{BTreeMap, HashMap, HashSet};

use uuid::Uuid;

use crate::model::{
    Generalised, GridCell, KeptFind, Located, Published, ReadPositions, Sensitivity,
    SensitivityNotice, SensitivityRule, SiteId,
};
use crate::units::{LatLon, Metres, Radius95};

pub use audit::Audit;
pub use concealed::Concealed;
pub use grid::sides;
pub use groups::groups;
pub(crate) use groups::site_groups;
pub use leak::leaks;
pub use notices::{field_in_note, named, remedy, sentence, withheld_words};
pub use texts::{
    CODE_WITHHELD, COORDINATE_WITHHELD, LOCALITY_WITHHELD, TEXT_WITHHELD, TIME_WITHHELD,
    WithheldFor, WithheldText, withheld_texts,
};
pub use times::metadata_state_a_time;

/// The level of care of an output.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Care {
    /// Every find is generalised: to 0.001 degree, or coarser where something is sensitive.
    #[default]
    Generalised,
    /// Exact, except sensitive ones.
    ExactUnlessSensitive,
    /// Exact, sensitive positions included: only for people you would take there.
    ExactThroughout,
}

/// The inputs that determine levels and cells.
#[derive(Clone, Copy, Debug)]
pub struct Policy<'a> {
    /// The rules.
    pub rules: &'a [SensitivityRule],
    /// Earlier published states of each find.
    pub published: Option<&'a HashMap<Uuid, Vec<Published>>>,
    /// The level of care of the output.
    pub care: Care,
    /// Finds the positions in texts.
    pub positions: ReadPositions,
}

impl<'a> Policy<'a> {
    /// Creates a policy without earlier outputs.
    #[must_use]
    pub fn new(rules: &'a [SensitivityRule], care: Care, positions: ReadPositions) -> Self {
        Self { rules, published: None, care, positions }
    }

    fn published(&self, find: Uuid) -> &'a [Published] {
        self.published.and_then(|all| all.get(&find)).map_or(&[], Vec::as_slice)
    }
}

/// A site: its numbers and the finds that cannot be distinguished by position.
#[derive(Clone, Debug, Default)]
pub struct Group {
    /// The stored site numbers of the site or parts of it.
    pub ids: Vec<SiteId>,
    /// Indices of its finds.
    pub finds: Vec<usize>,
}

/// The data of a find that the decision needs, small enough to hold millions in memory.
#[derive(Clone, Debug)]
pub struct FindSummary {
    /// Its permanent identifier.
    pub id: Uuid,
    /// The outing it belongs to.
    pub outing: Uuid,
    /// The determined name.
    pub name: Option<String>,
    /// Its position and uncertainty, if known.
    pub place: Option<(LatLon, Radius95)>,
    /// Other names that it has or had: a correction does not reduce protection.
    pub other_names: Vec<String>,
    /// Its position before the user corrected it.
    pub place_before: Option<(LatLon, Radius95)>,
}

impl From<&KeptFind> for FindSummary {
    fn from(find: &KeptFind) -> Self {
        Self {
            id: find.id,
            outing: find.outing,
            name: find.record.name.clone(),
            place: find.place.as_ref().map(|place| (place.at, place.radius)),
            other_names: other_names(find),
            place_before: find.as_imported.as_ref().and_then(|imported| imported.place),
        }
    }
}

/// The name as imported, those of identifications that are not accepted, and the one that a checklist accepts.
fn other_names(find: &KeptFind) -> Vec<String> {
    let imported = find.as_imported.as_ref().and_then(|imported| imported.name.clone());
    let named = find.determinations.iter().map(crate::model::Determination::full_name);
    let accepted = find.other_accepted().map(|taxon| taxon.name.clone());
    let mut names: Vec<String> = imported.into_iter().chain(named).chain(accepted).collect();
    names.retain(|name| Some(name) != find.record.name.as_ref());
    names
}

/// The levels and cells of many finds, set before any of them is shown.
#[derive(Clone, Debug)]
pub struct Decisions {
    levels: Vec<Option<levels::Level>>,
    placed: Vec<Option<cells::Placed>>,
    /// The true positions, for the leak check.
    true_places: Vec<Option<LatLon>>,
    footprints: footprints::Footprints,
    /// Finds the positions in texts.
    positions: ReadPositions,
    /// The fingerprints of the rules.
    rules: Vec<String>,
    /// Outings with withheld data: neither their tracks nor their start may be shown.
    pub guarded: HashSet<Uuid>,
    /// Sites that are sensitive as a whole.
    pub sensitive_groups: Vec<Group>,
    /// Notices for the user.
    pub notices: Vec<SensitivityNotice>,
}

/// Decides for all finds together, since finds that reveal each other get one level.
#[must_use]
pub fn decide(summaries: &[FindSummary], groups: &[Group], policy: &Policy<'_>) -> Decisions {
    let groups = &joined(groups, summaries.len());
    let mut decided = if policy.care == Care::ExactThroughout {
        levels::Levels::exact(summaries.len())
    } else {
        levels::of(summaries, groups, policy)
    };
    let (placed, raised) = cells::choose(summaries, groups, &mut decided.of_find, policy);
    let mut notices = decided.notices;
    if raised > 0 {
        notices.push(SensitivityNotice::CoarserCellKept { finds: raised });
    }
    notices.extend(published_exactly(summaries, &decided.of_find, policy));
    let guarded = summaries.iter().zip(&decided.of_find).filter(|(_, level)| level.is_some());
    Decisions {
        guarded: guarded.map(|(summary, _)| summary.outing).collect(),
        placed,
        true_places: summaries.iter().map(|find| find.place.map(|(at, _)| at)).collect(),
        levels: decided.of_find,
        footprints: decided.footprints,
        positions: policy.positions,
        rules: policy.rules.iter().map(|rule| rule.subject.mark()).collect(),
        sensitive_groups: decided
            .sensitive_groups
            .iter()
            .filter_map(|group| groups.get(*group).cloned())
            .collect(),
        notices,
    }
}

/// Merges groups that share a find: current and stored sites overlap.
fn joined(groups: &[Group], finds: usize) -> Vec<Group> {
    let mut into: Vec<usize> = (0..groups.len()).collect();
    let mut of_find: Vec<Option<usize>> = vec![None; finds];
    for (index, group) in groups.iter().enumerate() {
        for find in group.finds.iter().filter(|find| **find < finds) {
            match of_find[*find] {
                None => of_find[*find] = Some(index),
                Some(other) => {
                    let (a, b) = (root(&into, index), root(&into, other));
                    into[a.max(b)] = a.min(b);
                }
            }
        }
    }
    let mut joined: BTreeMap<usize, Group> = BTreeMap::new();
    for (index, group) in groups.iter().enumerate() {
        let whole = joined.entry(root(&into, index)).or_default();
        whole.ids.extend(&group.ids);
        whole.finds.extend(&group.finds);
    }
    for group in joined.values_mut() {
        group.ids.sort_unstable();
        group.ids.dedup();
        group.finds.sort_unstable();
        group.finds.dedup();
    }
    joined.into_values().collect()
}

fn root(into: &[usize], mut group: usize) -> usize {
    while into[group] != group {
        group = into[group];
    }
    group
}

fn published_exactly(
    summaries: &[FindSummary],
    levels: &[Option<levels::Level>],
    policy: &Policy<'_>,
) -> Option<SensitivityNotice> {
    let sensitive = summaries
        .iter()
        .zip(levels)
        .filter(|(_, level)| level.is_some_and(|level| level.rule.is_some()));
    let exact = |find: Uuid| policy.published(find).iter().any(|one| one.level.is_none());
    let finds = sensitive.filter(|(summary, _)| exact(summary.id)).count();
    (finds > 0).then_some(SensitivityNotice::PublishedExactly { finds })
}

impl Decisions {
    /// The generalised find; `index` is its index among the decided ones. A find that was
    /// not decided on is shown without coordinates.
    ///
    /// # Accuracy
    /// As [`for_others`].
    #[must_use]
    pub fn shown(&self, index: usize, find: &KeptFind) -> KeptFind {
        let unknown = Some(levels::Level { step: Sensitivity::Extreme, rule: None });
        let level = self.levels.get(index).copied().unwrap_or(unknown);
        let mut shown = match level {
            Some(level) => generalise::find(find, level, self.placed.get(index).copied().flatten()),
            None => find.clone(),
        };
        self.withhold_texts(find, level, &mut shown);
        shown
    }

    /// Whether a rule makes the find sensitive.
    #[must_use]
    pub fn is_sensitive(&self, index: usize) -> bool {
        self.levels.get(index).copied().flatten().is_some_and(|level| level.rule.is_some())
    }

    /// The state to be published of a decided find.
    #[must_use]
    pub fn published(&self, index: usize, shown: &KeptFind) -> Published {
        let rule = self.levels.get(index).copied().flatten().and_then(|level| level.rule);
        Published {
            find: shown.id,
            level: shown.generalised.as_ref().map(|generalised| generalised.level),
            cell: shown.generalised.as_ref().and_then(|generalised| generalised.cell),
            rule: rule.and_then(|rule| self.rules.get(rule).cloned()),
        }
    }

    /// Whether an earlier output decided in which cell the find is published.
    fn by_earlier(&self, index: usize) -> bool {
        self.placed.get(index).copied().flatten().is_some_and(|placed| placed.by_earlier)
    }

    /// Whether a position on a track reveals a sensitive find: within a protected circle, or within
    /// this distance of it.
    #[must_use]
    pub fn leads_to_sensitive(&self, at: LatLon, within: Metres) -> bool {
        self.footprints.reach(at, within)
    }
}

/// Generalised finds.
#[derive(Clone, Debug)]
pub struct ForOthers {
    /// In the order given.
    pub finds: Vec<KeptFind>,
    /// The state to be published of each.
    pub published: Vec<Published>,
    /// Whether an earlier output decided the cell of each.
    pub by_earlier: Vec<bool>,
    /// Outings with withheld data: neither their tracks nor their start may be shown.
    pub guarded: HashSet<Uuid>,
    /// Sites that are sensitive as a whole.
    pub sensitive_groups: Vec<Group>,
    /// Notices for the user.
    pub notices: Vec<SensitivityNotice>,
    decisions: Decisions,
}

impl ForOthers {
    /// What was decided of all finds.
    #[must_use]
    pub fn decisions(&self) -> &Decisions {
        &self.decisions
    }

    /// As [`Decisions::leads_to_sensitive`].
    #[must_use]
    pub fn leads_to_sensitive(&self, at: LatLon, within: Metres) -> bool {
        self.decisions.leads_to_sensitive(at, within)
    }
}

/// The generalised finds.
///
/// # Accuracy
/// A generalised position is the centre of a cell of the decimal grid; its radius reaches the far corner
/// of the cell in which the find would be published alone, plus the radius of its position, rounded up to two
/// figures. No side of a cell is shorter than [`Sensitivity::least_side`].
///
/// # References
/// Chapman 2020, Current Best Practices for Generalizing Sensitive Species Occurrence Data: to a grid,
/// never at random; state the grid, what was held and what is withheld; generalise what leaks together.
#[must_use]
pub fn for_others(finds: &[KeptFind], groups: &[Group], policy: &Policy<'_>) -> ForOthers {
    for_others_with(finds, &[], groups, policy)
}

/// As [`for_others`], where withdrawn finds, which are not shown, decide as well.
pub(crate) fn for_others_with(
    finds: &[KeptFind],
    withdrawn: &[KeptFind],
    groups: &[Group],
    policy: &Policy<'_>,
) -> ForOthers {
    let summaries: Vec<FindSummary> =
        finds.iter().chain(withdrawn).map(FindSummary::from).collect();
    let decisions = decide(&summaries, groups, policy);
    let shown: Vec<KeptFind> =
        finds.iter().enumerate().map(|(index, find)| decisions.shown(index, find)).collect();
    ForOthers {
        published: (0..finds.len()).map(|i| decisions.published(i, &shown[i])).collect(),
        by_earlier: (0..finds.len()).map(|index| decisions.by_earlier(index)).collect(),
        finds: shown,
        guarded: decisions.guarded.clone(),
        sensitive_groups: decisions.sensitive_groups.clone(),
        notices: decisions.notices.clone(),
        decisions,
    }
}

/// A position associated with a find, such as that of the camera, in the cell in which the find is
/// shown. `None` where coordinates are withheld.
#[must_use]
pub fn along_with(shown: &KeptFind, place: &Located) -> Option<Located> {
    match &shown.generalised {
        None => Some(place.clone()),
        Some(Generalised { cell, .. }) => {
            let cell: &GridCell = cell.as_ref()?;
            generalise::in_cell(place, cell)
        }
    }
}

/// A position on the grid of a level, with a radius that holds the true one; `None` where the level gives
/// no coordinates.
#[must_use]
pub fn coarse(place: &Located, level: Sensitivity) -> Option<Located> {
    generalise::in_cell(place, &grid::cell(place.at, level)?)
}
