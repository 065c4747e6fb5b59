//! Groups finds that reveal each other by their site: the current sites and those that the store keeps.
//! Layer: `present`.

use std::collections::{BTreeSet, HashMap};

use uuid::Uuid;

use super::Group;
use crate::analyse::sites::{Known, SiteRule, Sites, find_sites};
use crate::analyse::spotted::SpottedFind;
use crate::model::{KeptFind, SiteId};
use crate::store::KeptSite;

/// The groups of these finds by site, with the site numbers that the store keeps.
#[must_use]
pub fn groups(finds: &[KeptFind], kept: &[KeptSite], rule: SiteRule) -> Vec<Group> {
    let spotted: Vec<SpottedFind> = finds.iter().filter_map(SpottedFind::of).collect();
    let sites = find_sites(&spotted, rule, &Known::default());
    let ids: Vec<Uuid> = finds.iter().map(|find| find.id).collect();
    site_groups(&ids, &spotted, &sites, kept)
}

/// The current sites, with the stored site numbers of their finds.
pub(crate) fn site_groups(
    finds: &[Uuid],
    spotted: &[SpottedFind],
    sites: &Sites,
    kept: &[KeptSite],
) -> Vec<Group> {
    let place: HashMap<Uuid, usize> =
        finds.iter().enumerate().map(|(place, find)| (*find, place)).collect();
    let mut number: HashMap<Uuid, SiteId> = HashMap::new();
    for site in kept {
        number.extend(site.finds.iter().map(|find| (*find, site.id)));
    }
    let now = sites
        .sites
        .iter()
        .map(|site| site.finds.iter().map(|find| spotted[*find].id).collect::<Vec<Uuid>>());
    now.chain(kept.iter().map(|site| site.finds.clone()))
        .map(|members| {
            let ids: BTreeSet<SiteId> =
                members.iter().filter_map(|find| number.get(find).copied()).collect();
            let finds = members.iter().filter_map(|find| place.get(find).copied()).collect();
            Group { ids: ids.into_iter().collect(), finds }
        })
        .collect()
}
