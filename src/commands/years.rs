//! What the commands that look over all years have in common: finds, sites and walks out of the
//! store, with the numbers of sites kept there. Layer: `commands`.

use std::collections::{BTreeMap, HashMap};
use std::path::Path;

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::console::Console;
use crate::analyse::identity::Earlier;
use crate::analyse::season::Stint;
use crate::analyse::sites::{Known, SiteRule, Sites, find_sites};
use crate::analyse::spotted::SpottedFind;
use crate::analyse::visits::{VisitRule, Watch};
use crate::analyse::walk::Walk;
use crate::error::{Error, Result};
use crate::model::{KeptFind, Site, SiteId, Visit};
use crate::store::{FindQuery, KeptOuting, KeptSite, Store};

/// Settings of the store that belong to sites.
const NEXT_SITE: &str = "sites.next";
const TOGETHER: &str = "sites.together";

/// Everything that the years hold, walks aside.
pub(super) struct Years {
    pub(super) store: Store,
    pub(super) outings: Vec<KeptOuting>,
    pub(super) finds: Vec<SpottedFind>,
    /// Finds that have no position at all.
    pub(super) unlocated: usize,
    /// Every find with a name, located or not.
    pub(super) seen: Vec<Seen>,
    /// Indices of the finds of each outing.
    of_outing: HashMap<Uuid, Vec<usize>>,
    dates: HashMap<Uuid, Date>,
}

/// A named find as the season needs it.
pub(super) struct Seen {
    pub(super) outing: Uuid,
    pub(super) date: Date,
    pub(super) kind: String,
    height: Option<f64>,
}

impl Seen {
    fn of(find: &KeptFind) -> Option<Self> {
        let kind = find.record.name.as_deref().map(str::trim).filter(|name| !name.is_empty())?;
        let height = find.place.as_ref().and_then(|place| place.height).map(|height| height.0.0);
        Some(Self { outing: find.outing, date: find.date, kind: kind.to_owned(), height })
    }
}

/// Hours searched on each outing, by band of 100 m of elevation.
pub(super) struct Hours {
    of: BTreeMap<(usize, Option<i64>), f64>,
    dates: Vec<Date>,
    number: HashMap<Uuid, usize>,
    /// Outings whose track shows no searching at all: the whole of it counts.
    pub(super) unjudged: usize,
}

fn band(height: Option<f64>) -> Option<i64> {
    #[allow(clippy::cast_possible_truncation, reason = "heights of the Earth")]
    height.filter(|height| height.is_finite()).map(|height| (height / 100.0).floor() as i64)
}

impl Hours {
    /// All outings as stints, with the finds that answer a description.
    pub(super) fn stints(&self, seen: &[Seen], wanted: impl Fn(&Seen) -> bool) -> Vec<Stint> {
        let mut finds: BTreeMap<(usize, Option<i64>), u32> = BTreeMap::new();
        for find in seen.iter().filter(|find| wanted(find)) {
            if let Some(outing) = self.number.get(&find.outing) {
                *finds.entry((*outing, band(find.height))).or_insert(0) += 1;
            }
        }
        let keys: std::collections::BTreeSet<_> = self.of.keys().chain(finds.keys()).collect();
        keys.into_iter()
            .map(|key| Stint {
                outing: key.0,
                date: self.dates[key.0],
                elevation: key.1.map(|band| band as f64 * 100.0 + 50.0),
                hours: self.of.get(key).copied().unwrap_or(0.0),
                finds: finds.get(key).copied().unwrap_or(0),
            })
            .collect()
    }
}

impl Years {
    /// Reads the hours searched off all tracks.
    pub(super) fn hours(&self, console: &Console) -> Result<Hours> {
        let mut hours = Hours {
            of: BTreeMap::new(),
            dates: self.outings.iter().map(|outing| outing.date).collect(),
            number: self.outings.iter().enumerate().map(|(n, outing)| (outing.id, n)).collect(),
            unjudged: 0,
        };
        self.each_walk(console, "Adding up hours", |walk| {
            let Some(number) = hours.number.get(&walk.outing).copied() else { return };
            let any = walk.pieces().any(|piece| piece.is_search());
            hours.unjudged += usize::from(!any && walk.points.len() > 1);
            for piece in walk.pieces().filter(|piece| !any || piece.is_search()) {
                let key = (number, band(piece.from.height.map(|height| height.0.0)));
                *hours.of.entry(key).or_insert(0.0) += piece.time().0 / 3600.0;
            }
        })?;
        Ok(hours)
    }

    /// Opens the store and reads its outings and finds.
    pub(super) fn open(path: &Path) -> Result<Self> {
        let store = Store::open(path)?;
        let outings = store.outings()?;
        let kept = store.finds(&FindQuery::default())?;
        let finds: Vec<SpottedFind> = kept.iter().filter_map(SpottedFind::of).collect();
        let unlocated = kept.len() - finds.len();
        let seen = kept.iter().filter_map(Seen::of).collect();
        let mut of_outing: HashMap<Uuid, Vec<usize>> = HashMap::new();
        for (index, find) in finds.iter().enumerate() {
            of_outing.entry(find.outing).or_default().push(index);
        }
        let dates = outings.iter().map(|outing| (outing.id, outing.date)).collect();
        Ok(Self { store, outings, finds, unlocated, seen, of_outing, dates })
    }

    /// The finds of an outing.
    pub(super) fn finds_of(&self, outing: Uuid) -> &[usize] {
        self.of_outing.get(&outing).map_or(&[], Vec::as_slice)
    }

    /// The local date of an outing.
    pub(super) fn date_of(&self, outing: Uuid) -> Option<Date> {
        self.dates.get(&outing).copied()
    }

    /// Finds the sites afresh, with the numbers and names they had, and keeps them in the store.
    pub(super) fn sites(&mut self, rule: SiteRule, now: Timestamp) -> Result<Sites> {
        let kept = self.store.sites()?;
        let known = self.known(&kept)?;
        let sites = find_sites(&self.finds, rule, &known);
        let fresh: Vec<KeptSite> = sites.sites.iter().map(|site| self.to_keep(site)).collect();
        if !same(&kept, &fresh) {
            self.store.keep_sites(&fresh, now)?;
        }
        if self.store.setting(NEXT_SITE)?.as_deref() != Some(&sites.next.to_string()) {
            self.store.keep_setting(NEXT_SITE, &sites.next.to_string())?;
        }
        Ok(sites)
    }

    fn known(&self, kept: &[KeptSite]) -> Result<Known> {
        let mut earlier = Earlier::default();
        let mut names = BTreeMap::new();
        for site in kept {
            earlier.site_of.extend(site.finds.iter().map(|find| (*find, site.id)));
            names.extend(site.name.clone().map(|name| (site.id, name)));
        }
        if let Some(next) = self.store.setting(NEXT_SITE)?.and_then(|text| text.parse().ok()) {
            earlier.next = next;
        }
        Ok(Known { earlier, names, together: self.together()? })
    }

    /// Pairs of finds that the user declared to be of one site.
    pub(super) fn together(&self) -> Result<Vec<(Uuid, Uuid)>> {
        let Some(text) = self.store.setting(TOGETHER)? else { return Ok(Vec::new()) };
        serde_json::from_str(&text).map_err(|error| {
            Error::program("the store's list of sites joined by hand cannot be read")
                .because(error.to_string())
        })
    }

    /// Keeps the pairs.
    pub(super) fn keep_together(&mut self, pairs: &[(Uuid, Uuid)]) -> Result<()> {
        let text = serde_json::to_string(pairs).map_err(|error| {
            Error::program("sites joined by hand cannot be kept").because(error.to_string())
        })?;
        self.store.keep_setting(TOGETHER, &text)
    }

    fn to_keep(&self, site: &Site) -> KeptSite {
        KeptSite {
            id: site.id,
            name: site.name.clone(),
            at: site.at,
            radius: site.radius,
            finds: site.finds.iter().map(|index| self.finds[*index].id).collect(),
        }
    }

    /// Every walk of every outing, in order of time, one after another.
    pub(super) fn each_walk(
        &self,
        console: &Console,
        doing: &str,
        mut look: impl FnMut(&Walk),
    ) -> Result<()> {
        let bar = console.progress(doing, self.outings.len() as u64);
        let mut walked: std::collections::HashSet<Uuid> = std::collections::HashSet::new();
        for track in self.store.tracks()? {
            let (outing, points) = track?;
            let date = self.dates.get(&outing).copied().unwrap_or_default();
            look(&Walk { outing, date, points });
            walked.insert(outing);
            bar.inc(1);
        }
        // outings without a track still have finds, and so visits
        for outing in self.outings.iter().filter(|outing| !walked.contains(&outing.id)) {
            look(&Walk { outing: outing.id, date: outing.date, points: Vec::new() });
            bar.inc(1);
        }
        bar.finish_and_clear();
        Ok(())
    }

    /// All visits to all sites, in order of time.
    pub(super) fn visits(
        &self,
        sites: &Sites,
        rule: VisitRule,
        console: &Console,
    ) -> Result<Vec<Visit>> {
        let watch = Watch::new(&sites.sites, rule);
        let mut visits = Vec::new();
        self.each_walk(console, "Looking for visits", |walk| {
            let here = self.finds_of(walk.outing);
            visits.extend(watch.visits(walk, &self.finds, &sites.of_find, here));
        })?;
        visits.sort_by_key(|visit| (visit.start, visit.site));
        Ok(visits)
    }

    /// The site that a user names by its number or its name.
    pub(super) fn site<'a>(sites: &'a Sites, asked: &str) -> Result<&'a Site> {
        let number = asked.trim().parse::<i64>().ok().map(SiteId);
        let wanted = asked.trim().to_lowercase();
        sites
            .sites
            .iter()
            .find(|site| {
                Some(site.id) == number
                    || site.name.as_ref().is_some_and(|name| name.to_lowercase() == wanted)
            })
            .ok_or_else(|| {
                Error::input(format!("there is no site {asked}"))
                    .because(format!("the store has {} sites", sites.sites.len()))
                    .hint("`trug sites` lists them with their numbers and names")
            })
    }
}

fn same(kept: &[KeptSite], fresh: &[KeptSite]) -> bool {
    kept.len() == fresh.len()
        && kept.iter().zip(fresh).all(|(a, b)| {
            let (mut finds_a, mut finds_b) = (a.finds.clone(), b.finds.clone());
            finds_a.sort_unstable();
            finds_b.sort_unstable();
            a.id == b.id
                && a.name == b.name
                && a.at == b.at
                && a.radius == b.radius
                && finds_a == finds_b
        })
}

/// A length above zero.
pub(super) fn length(flag: &str, metres: f64) -> Result<crate::units::Metres> {
    if metres.is_finite() && metres > 0.0 {
        Ok(crate::units::Metres(metres))
    } else {
        Err(Error::input(format!("{flag} {metres} is no length")).hint("give metres above zero"))
    }
}

/// An object or list as JSON with a line break at its end.
pub(super) fn json(value: &impl serde::Serialize) -> Result<String> {
    serde_json::to_string_pretty(value).map(|text| text + "\n").map_err(|error| {
        Error::program("a result cannot be written as JSON").because(error.to_string())
    })
}
