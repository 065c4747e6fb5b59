//! Provides the sites of all years: from the store if they were computed from the same finds, else
//! computed again with their numbers and names preserved. Layer: `commands`.

use std::collections::{BTreeMap, HashMap};

use jiff::Timestamp;
use uuid::Uuid;

use super::Years;
use crate::analyse::clustering::Rule;
use crate::analyse::identity::Earlier;
use crate::analyse::sites::{Known, SiteRule, Sites, find_sites};
use crate::error::{Error, Result};
use crate::model::{Site, SiteId};
use crate::store::{SiteMembers, Store};
use crate::units::Metres;

/// Settings of the store that belong to sites.
const NEXT_SITE: &str = "sites.next";
const TOGETHER: &str = "sites.together";
const EXTENT: &str = "sites.extent_m";
/// Version of the clustering method: stored sites of another version are computed again.
const METHOD: u32 = 1;

impl Years {
    /// The sites of all finds, kept in the store.
    pub(in crate::commands) fn sites(&mut self, rule: SiteRule, now: Timestamp) -> Result<Sites> {
        let rule = rule_of(&self.store, rule)?;
        let inputs = self.inputs(rule)?;
        let kept = self.store.site_members()?;
        if self.store.sites_made_for(&inputs)? {
            return self.as_kept(kept, rule);
        }
        let known = self.known(&kept)?;
        let sites = find_sites(&self.finds, rule, &known);
        let fresh: Vec<SiteMembers> = sites.sites.iter().map(|site| self.to_keep(site)).collect();
        let (changed, gone) = differences(&kept, fresh);
        let done = self.store.change_sites(&changed, &gone, &inputs, now);
        // a read-only store is still usable, as long as nothing is new
        if !changed.is_empty() || !gone.is_empty() {
            done?;
        }
        if self.store.setting(NEXT_SITE)?.as_deref() != Some(&sites.next.to_string()) {
            self.store.keep_setting(NEXT_SITE, &sites.next.to_string())?;
        }
        Ok(sites)
    }

    /// A fingerprint of all inputs of the clustering.
    fn inputs(&self, rule: SiteRule) -> Result<String> {
        let together = self.store.setting(TOGETHER)?.unwrap_or_default();
        let words = format!("{METHOD}; {rule:?}; {}; {together}", self.mark);
        Ok(blake3::hash(words.as_bytes()).to_hex().to_string())
    }

    fn as_kept(&self, kept: Vec<SiteMembers>, rule: SiteRule) -> Result<Sites> {
        let place = self.places();
        let mut of_find = vec![None; self.finds.len()];
        let sites: Vec<Site> = kept
            .into_iter()
            .enumerate()
            .map(|(number, site)| {
                let mut finds: Vec<usize> =
                    site.finds.iter().filter_map(|row| place.get(row).copied()).collect();
                finds.sort_unstable();
                for find in &finds {
                    of_find[*find] = Some(number);
                }
                Site { id: site.id, name: site.name, at: site.at, radius: site.radius, finds }
            })
            .collect();
        let coarse = |find: &usize| self.finds[*find].radius.metres().0 > rule.coarsest.0;
        let too_coarse = (0..self.finds.len()).filter(coarse).collect();
        let next = self.next_number()?.unwrap_or(1);
        Ok(Sites { sites, of_find, too_coarse, changes: Vec::new(), next })
    }

    /// The index of the find in each row.
    fn places(&self) -> HashMap<i64, usize> {
        self.rows.iter().enumerate().map(|(index, row)| (*row, index)).collect()
    }

    fn next_number(&self) -> Result<Option<i64>> {
        Ok(self.store.setting(NEXT_SITE)?.and_then(|text| text.parse().ok()))
    }

    fn known(&self, kept: &[SiteMembers]) -> Result<Known> {
        let place = self.places();
        let mut earlier = Earlier::default();
        let mut names = BTreeMap::new();
        for site in kept {
            for row in &site.finds {
                // a withdrawn find still identifies its former site
                let id = match place.get(row) {
                    Some(index) => Some(self.finds[*index].id),
                    None => self.store.find_in_row(*row)?,
                };
                earlier.site_of.extend(id.map(|id| (id, site.id)));
            }
            names.extend(site.name.clone().map(|name| (site.id, name)));
        }
        if let Some(next) = self.next_number()? {
            earlier.next = next;
        }
        Ok(Known { earlier, names, together: self.together()? })
    }

    /// Pairs of finds that the user declared to be of one site.
    pub(in crate::commands) fn together(&self) -> Result<Vec<(Uuid, Uuid)>> {
        let Some(text) = self.store.setting(TOGETHER)? else { return Ok(Vec::new()) };
        serde_json::from_str(&text).map_err(|error| {
            Error::program("the store's list of sites joined by hand cannot be read")
                .because(error.to_string())
        })
    }

    /// Stores the site radius for all commands.
    pub(in crate::commands) fn keep_extent(&mut self, extent: Metres) -> Result<()> {
        self.store.may_be_changed()?;
        self.store.keep_setting(EXTENT, &extent.0.to_string())
    }

    /// Keeps the pairs.
    pub(in crate::commands) fn keep_together(&mut self, pairs: &[(Uuid, Uuid)]) -> Result<()> {
        self.store.may_be_changed()?;
        let text = serde_json::to_string(pairs).map_err(|error| {
            Error::program("sites joined by hand cannot be kept").because(error.to_string())
        })?;
        self.store.keep_setting(TOGETHER, &text)
    }

    fn to_keep(&self, site: &Site) -> SiteMembers {
        let mut finds: Vec<i64> = site.finds.iter().map(|index| self.rows[*index]).collect();
        finds.sort_unstable();
        SiteMembers {
            id: site.id,
            name: site.name.clone(),
            at: site.at,
            radius: site.radius,
            finds,
        }
    }
}

/// The rule with the sites' own extent that the store keeps.
pub(in crate::commands) fn rule_of(store: &Store, rule: SiteRule) -> Result<SiteRule> {
    let kept = store.setting(EXTENT)?.and_then(|text| text.parse().ok());
    let place = kept.filter(|extent: &f64| extent.is_finite() && *extent > 0.0).map(Metres);
    let linkage = Rule { place: place.unwrap_or(rule.linkage.place), ..rule.linkage };
    Ok(SiteRule { linkage, ..rule })
}

/// New or changed sites, and removed ones.
fn differences(kept: &[SiteMembers], fresh: Vec<SiteMembers>) -> (Vec<SiteMembers>, Vec<SiteId>) {
    let before: HashMap<SiteId, &SiteMembers> = kept.iter().map(|site| (site.id, site)).collect();
    let now: std::collections::HashSet<SiteId> = fresh.iter().map(|site| site.id).collect();
    let gone = kept.iter().map(|site| site.id).filter(|id| !now.contains(id)).collect();
    let changed =
        fresh.into_iter().filter(|site| before.get(&site.id).is_none_or(|old| *old != site));
    (changed.collect(), gone)
}
