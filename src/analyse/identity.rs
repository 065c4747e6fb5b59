//! Assigns stable numbers to sites when the clustering changes. Each site takes the number of the
//! earlier site that most of its finds came from; merges and splits are reported. A number is never
//! reused for another place. Layer: `analyse`.
//!
//! A site is a result of clustering, and a new find can join two of them or split one. Numbers that jump would make
//! every note of the user wrong.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use serde::Serialize;
use uuid::Uuid;

use crate::model::SiteId;

/// The earlier assignment of finds to sites, and the first unused number.
#[derive(Clone, Debug)]
pub struct Earlier {
    /// The site of each find.
    pub site_of: HashMap<Uuid, SiteId>,
    /// The first number that no site ever had.
    pub next: i64,
}

impl Default for Earlier {
    fn default() -> Self {
        Self { site_of: HashMap::new(), next: 1 }
    }
}

/// Changes of sites since the last clustering.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "change", rename_all = "lowercase")]
pub enum Change {
    /// A site that has no finds of an earlier one.
    New {
        /// Its number.
        site: SiteId,
    },
    /// Sites that were merged.
    Merged {
        /// The one that keeps its number.
        site: SiteId,
        /// Those merged into it.
        taken_in: Vec<SiteId>,
    },
    /// A site that was split.
    Parted {
        /// The one that keeps the number.
        site: SiteId,
        /// The new ones.
        others: Vec<SiteId>,
    },
    /// A site whose finds were all withdrawn or moved elsewhere.
    Gone {
        /// Its number, which is not used again.
        site: SiteId,
    },
}

/// The numbers of the groups, and what changed.
#[derive(Clone, Debug)]
pub struct Numbering {
    /// For each group its site.
    pub site_of_group: Vec<SiteId>,
    /// The changes, in order of number.
    pub changes: Vec<Change>,
    /// The first number now free.
    pub next: i64,
}

/// Assigns a number to each group of finds, an earlier one where possible.
///
/// An earlier number goes to the group that shares most finds with it; ties go to the older number.
/// Other groups get new numbers in their own order.
#[must_use]
pub fn number(groups: &[Vec<Uuid>], earlier: &Earlier) -> Numbering {
    let shared = shares(groups, earlier);
    let mut ranked: Vec<(usize, SiteId, usize)> =
        shared.iter().map(|((group, site), count)| (*count, *site, *group)).collect();
    ranked.sort_by_key(|(count, site, group)| (std::cmp::Reverse(*count), *site, *group));
    let mut site_of: Vec<Option<SiteId>> = vec![None; groups.len()];
    let mut taken = BTreeSet::new();
    for (_, site, group) in ranked {
        if site_of[group].is_none() && taken.insert(site) {
            site_of[group] = Some(site);
        }
    }
    let highest = earlier.site_of.values().map(|site| site.0 + 1).max().unwrap_or(1);
    let mut next = earlier.next.max(highest);
    let site_of_group: Vec<SiteId> = site_of
        .into_iter()
        .map(|site| {
            site.unwrap_or_else(|| {
                next += 1;
                SiteId(next - 1)
            })
        })
        .collect();
    let changes = changes(&site_of_group, &shared, earlier, &taken);
    Numbering { site_of_group, changes, next }
}

/// How many finds each group shares with each earlier site.
fn shares(groups: &[Vec<Uuid>], earlier: &Earlier) -> BTreeMap<(usize, SiteId), usize> {
    let mut shared = BTreeMap::new();
    for (group, finds) in groups.iter().enumerate() {
        for site in finds.iter().filter_map(|find| earlier.site_of.get(find)) {
            *shared.entry((group, *site)).or_insert(0) += 1;
        }
    }
    shared
}

/// What became of the earlier sites. A number that another group of its finds still bears was split, one that no
/// group bears any more was merged into those that took its finds.
fn changes(
    site_of_group: &[SiteId],
    shared: &BTreeMap<(usize, SiteId), usize>,
    earlier: &Earlier,
    taken: &BTreeSet<SiteId>,
) -> Vec<Change> {
    let mut merged: BTreeMap<SiteId, BTreeSet<SiteId>> = BTreeMap::new();
    let mut parted: BTreeMap<SiteId, BTreeSet<SiteId>> = BTreeMap::new();
    let mut old_kin: BTreeSet<usize> = BTreeSet::new();
    for (group, site) in shared.keys() {
        old_kin.insert(*group);
        let now = site_of_group[*group];
        if now != *site {
            // if the number persists elsewhere this is a split, otherwise a merge
            let list = if taken.contains(site) {
                parted.entry(*site).or_default()
            } else {
                merged.entry(now).or_default()
            };
            list.insert(if taken.contains(site) { now } else { *site });
        }
    }
    let known: BTreeSet<SiteId> = earlier.site_of.values().copied().collect();
    let alive: BTreeSet<SiteId> = shared.keys().map(|(_, site)| *site).collect();
    let mut result: Vec<(SiteId, Change)> = Vec::new();
    for (group, site) in site_of_group.iter().enumerate() {
        if !old_kin.contains(&group) {
            result.push((*site, Change::New { site: *site }));
        }
    }
    for (site, from) in merged {
        result.push((site, Change::Merged { site, taken_in: from.into_iter().collect() }));
    }
    for (site, into) in parted {
        result.push((site, Change::Parted { site, others: into.into_iter().collect() }));
    }
    for site in known.difference(&alive) {
        result.push((*site, Change::Gone { site: *site }));
    }
    result.sort_by_key(|(site, _)| *site);
    result.into_iter().map(|(_, change)| change).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn find(number: u128) -> Uuid {
        Uuid::from_u128(number)
    }

    fn earlier(pairs: &[(u128, i64)]) -> Earlier {
        let site_of = pairs.iter().map(|(f, s)| (find(*f), SiteId(*s))).collect();
        Earlier { site_of, next: 10 }
    }

    #[test]
    fn a_site_keeps_its_number_when_a_find_is_added() {
        let now = number(&[vec![find(1), find(2), find(3)]], &earlier(&[(1, 4), (2, 4)]));
        assert_eq!(now.site_of_group, [SiteId(4)]);
        assert!(now.changes.is_empty());
    }

    #[test]
    fn larger_of_two_merged_sites_keeps_its_number() {
        let before = earlier(&[(1, 4), (2, 7), (3, 7)]);
        let now = number(&[vec![find(1), find(2), find(3), find(4)]], &before);
        assert_eq!(now.site_of_group, [SiteId(7)]);
        assert_eq!(now.changes, [Change::Merged { site: SiteId(7), taken_in: vec![SiteId(4)] }]);
    }

    #[test]
    fn larger_part_of_a_split_keeps_the_number() {
        let before = earlier(&[(1, 4), (2, 4), (3, 4)]);
        let now = number(&[vec![find(1)], vec![find(2), find(3)]], &before);
        assert_eq!(now.site_of_group, [SiteId(10), SiteId(4)]);
        assert_eq!(now.changes, [Change::Parted { site: SiteId(4), others: vec![SiteId(10)] }]);
    }

    #[test]
    fn a_number_is_not_used_again() {
        let now = number(&[vec![find(9)]], &earlier(&[(1, 12)]));
        assert_eq!(now.site_of_group, [SiteId(13)]);
        assert_eq!(
            now.changes,
            [Change::Gone { site: SiteId(12) }, Change::New { site: SiteId(13) }]
        );
        assert_eq!(now.next, 14);
    }
}
