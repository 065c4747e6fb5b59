//! Loads finds, sites and tracks of all years from the store for the commands that analyse them. Layer:
//! `commands`.

mod counted;
mod hours;
mod local;
mod places;
mod search;
mod units;
mod unlocated;
mod walks;

use std::cell::OnceCell;
use std::collections::{HashMap, HashSet};
use std::path::Path;
use std::sync::Arc;

use jiff::civil::Date;
use uuid::Uuid;

use super::console::Console;
use crate::analyse::sites::Sites;
use crate::analyse::spotted::{SpottedFind, belongs, continued};
use crate::error::{Error, Result};
use crate::model::{EffortNote, Site, SiteId};
use crate::present::coded::with_sentence;
use crate::present::summary::words::counted;
use crate::store::{BriefFind, KeptOuting, Store};
use crate::units::LatLon;

use counted::Counted;
pub(super) use counted::note_same_walks;
pub(super) use hours::{Hours, Seen, Tallied};
pub(super) use local::Weathers;
pub(super) use places::rule_of;
use search::Search;
pub(super) use units::Units;

/// The data of all years, without tracks.
pub(super) struct Years {
    pub(super) store: Store,
    pub(super) outings: Vec<KeptOuting>,
    pub(super) finds: Vec<SpottedFind>,
    /// Finds that have no position at all.
    pub(super) unlocated: usize,
    /// Every find with a name, located or not.
    pub(super) seen: Vec<Seen>,
    /// The row of each of `finds` in the store.
    pub(super) rows: Vec<i64>,
    /// A fingerprint that changes with any find.
    mark: String,
    /// Indices of the finds of each outing.
    of_outing: HashMap<Uuid, Vec<usize>>,
    dates: HashMap<Uuid, Date>,
    /// Outings with a track.
    walked: HashSet<Uuid>,
    /// The times of the finds of each outing, in order.
    moments: search::Moments,
    /// What all tracks together show of the search; made when first asked for.
    search: OnceCell<Search>,
    /// Where finds and effort count.
    pub(super) counted: Counted,
    /// The outings of people who walked together; found when first asked for.
    units: OnceCell<Units>,
}

impl Years {
    /// Opens the store and reads its outings and finds.
    pub(super) fn open(path: &Path) -> Result<Self> {
        let store = Store::open(path)?;
        let outings = store.outings()?;
        let (mut kept, mark) = store.brief_finds()?;
        store.name_as_accepted(kept.iter_mut().map(|find| &mut find.name))?;
        let counted = Counted::of(&store, &outings, &kept)?;
        for find in &mut kept {
            find.outing = counted.canonical(find.outing);
        }
        let seen = kept.iter().filter_map(Seen::of).collect();
        let all = kept.len();
        let moments = search::Moments::new(&kept);
        let mut rows = Vec::with_capacity(all);
        let mut finds = Vec::with_capacity(all);
        for find in kept {
            let row = find.key;
            if let Some(find) = spotted(find) {
                finds.push(find);
                rows.push(row);
            }
        }
        let unlocated = all - finds.len();
        let mut of_outing: HashMap<Uuid, Vec<usize>> = HashMap::new();
        for (index, find) in finds.iter().enumerate() {
            of_outing.entry(find.outing).or_default().push(index);
        }
        let dates = outings.iter().map(|outing| (outing.id, outing.date)).collect();
        let tracked = outings.iter().filter(|outing| outing.length.is_some());
        let walked = tracked.map(|outing| outing.id).collect();
        let search = OnceCell::new();
        Ok(Self {
            store,
            outings,
            finds,
            unlocated,
            seen,
            rows,
            mark,
            of_outing,
            dates,
            walked,
            moments,
            search,
            counted,
            units: OnceCell::new(),
        })
    }

    /// The taxon that is meant: the accepted name where the checklist takes the asked one for a synonym.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(super) fn meant(
        &self,
        taxon: Option<&str>,
        console: &mut Console,
    ) -> Result<Option<String>> {
        let Some(taxon) = taxon.map(|taxon| taxon.split_whitespace().collect::<Vec<_>>().join(" "))
        else {
            return Ok(None);
        };
        let taxon = taxon.as_str();
        let check = self.store.lookup(taxon)?;
        let Some(accepted) = check.as_ref().and_then(|check| check.other_accepted()) else {
            return Ok(Some(self.whole_name(taxon, console)));
        };
        console.note(&format!("{taxon} is a synonym of {}.", accepted.full_name()));
        Ok(Some(accepted.name.clone()))
    }

    /// The only name that the asked one is the beginning of, where no name has it whole.
    fn whole_name(&self, taxon: &str, console: &mut Console) -> String {
        let names = || self.seen.iter().map(|find| &*find.taxon);
        if names().any(|name| belongs(name, taxon)) {
            return taxon.to_owned();
        }
        match &continued(names(), taxon)[..] {
            [only] => {
                console.note(&format!("{taxon} is read as {only}, the only name that begins so."));
                only.clone()
            }
            _ => taxon.to_owned(),
        }
    }

    /// Says how finds and effort are brought together; of seasons also which hemisphere is analysed.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(super) fn say_effort(&self, seasons: bool, console: &mut Console) -> Result<()> {
        self.search(console)?;
        for note in self.notes_of_effort(seasons) {
            console.note(&note.to_string());
        }
        Ok(())
    }

    /// Says how many units people who walked together make, where there are any.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(super) fn say_together(&self, console: &mut Console) -> Result<()> {
        if let Some(note) = self.units(console)?.note() {
            console.note(&note.to_string());
        }
        Ok(())
    }

    /// The notes on effort; those on people who walked together once an analysis has asked for them.
    fn notes_of_effort(&self, seasons: bool) -> Vec<EffortNote> {
        let differing = self.search.get().and_then(|search| search.styles.differing());
        let styles = differing.map(|[searching, walking, fast]| EffortNote::StylesDiffer {
            searching,
            walking,
            fast,
        });
        let together = self.units.get().and_then(Units::note);
        self.counted.notes(seasons).into_iter().chain(together).chain(styles).collect()
    }

    /// The same as JSON; nothing where there are no notes.
    pub(super) fn effort_notes(&self, seasons: bool) -> Option<serde_json::Value> {
        let notes = self.notes_of_effort(seasons);
        let one = |note: &EffortNote| with_sentence(note, &note.to_string());
        (!notes.is_empty()).then(|| notes.iter().map(one).collect())
    }

    /// Analyses seasons of the hemisphere of this place, also where fewer outings were there.
    pub(super) fn analyse_side_of(&mut self, at: LatLon) {
        self.counted.take_side_of(&self.outings, at);
    }

    /// The note on the hemisphere that is left out.
    pub(super) fn left_out_side(&self) -> Option<EffortNote> {
        let notes = self.counted.notes(true).into_iter();
        notes.into_iter().find(|note| matches!(note, EffortNote::OtherHemisphere { .. }))
    }

    /// The local date of an outing.
    pub(super) fn date_of(&self, outing: Uuid) -> Option<Date> {
        self.dates.get(&outing).copied()
    }

    /// The site with this number or name.
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
                    .because(format!(
                        "the store has {}",
                        counted(sites.sites.len(), "site", "sites")
                    ))
                    .hint("`trug sites` lists them with their numbers and names")
            })
    }
}

/// A find with a position, as input of the analyses.
fn spotted(find: BriefFind) -> Option<SpottedFind> {
    let (at, radius) = find.place?;
    Some(SpottedFind {
        id: find.id,
        label: find.number.unwrap_or_else(|| Arc::from(find.id.to_string())),
        at,
        radius,
        date: find.date,
        when: find.when,
        taxon: find.name.and_then(named),
        outing: find.outing,
        height: find.height,
    })
}

/// A non-empty name, trimmed.
fn named(name: Arc<str>) -> Option<Arc<str>> {
    let plain = name.trim();
    if plain.len() == name.len() {
        return (!name.is_empty()).then_some(name);
    }
    (!plain.is_empty()).then(|| Arc::from(plain))
}

/// The largest distance on the Earth, metres: half its circumference, rounded up.
const FARTHEST: f64 = 20_100_000.0;

/// A length above zero.
pub(super) fn length(flag: &str, metres: f64) -> Result<crate::units::Metres> {
    if metres > 0.0 && metres <= FARTHEST {
        Ok(crate::units::Metres(metres))
    } else if metres > FARTHEST {
        Err(Error::input(format!("{flag} {metres} is too large"))
            .because(format!("the maximum is {FARTHEST:.0}"))
            .hint("give a realistic value"))
    } else {
        Err(Error::input(format!("{flag} {metres} is not a valid length"))
            .hint("give metres above zero"))
    }
}

/// An object or list as JSON with a line break at its end.
pub(super) fn json(value: &impl serde::Serialize) -> Result<String> {
    serde_json::to_string_pretty(value).map(|text| text + "\n").map_err(|error| {
        Error::program("a result cannot be written as JSON").because(error.to_string())
    })
}
