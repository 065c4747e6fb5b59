//! Lists non-detections: taxa that an outing did not find at searched sites where they are known.
//! Layer: `present`.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use jiff::civil::Date;
use uuid::Uuid;

use crate::analyse::sites::Sites;
use crate::analyse::spotted::SpottedFind;
use crate::analyse::visits::{VisitRule, Watch};
use crate::analyse::walk::Walk;
use crate::model::{Site, SiteId};
use crate::present::darwin_core::identification;
use crate::units::Seconds;

/// The least duration of a search (chosen).
const LEAST_SEARCH: Seconds = Seconds(60.0);

/// A taxon that an outing did not find at sites where it was found on other days.
#[derive(Clone, Debug, PartialEq)]
pub struct Absence {
    /// The outing.
    pub outing: Uuid,
    /// Its local date.
    pub date: Date,
    /// The name as determined.
    pub kind: String,
    /// The number of such sites.
    pub sites: usize,
    /// Their total search time.
    pub searched: Seconds,
}

impl Absence {
    /// Stable for one outing and taxon.
    #[must_use]
    pub fn id(&self) -> Uuid {
        Uuid::new_v5(&self.outing, format!("not found: {}", self.kind).as_bytes())
    }
}

/// Finds and sites of all outings, from which the non-detections of each follow.
pub struct Searches<'a> {
    finds: &'a [SpottedFind],
    sites: &'a Sites,
    of_outing: HashMap<Uuid, Vec<usize>>,
    of_id: HashMap<SiteId, &'a Site>,
    watch: Watch<'a>,
}

impl<'a> Searches<'a> {
    /// Of these finds and their sites.
    #[must_use]
    pub fn of(finds: &'a [SpottedFind], sites: &'a Sites) -> Self {
        let mut of_outing: HashMap<Uuid, Vec<usize>> = HashMap::new();
        for (index, find) in finds.iter().enumerate() {
            of_outing.entry(find.outing).or_default().push(index);
        }
        let of_id = sites.sites.iter().map(|site| (site.id, site)).collect();
        let watch = Watch::new(&sites.sites, VisitRule::default());
        Self { finds, sites, of_outing, of_id, watch }
    }
}

/// The non-detections of one outing, whose track is judged as search. Taxa in `excluded` are omitted: a
/// search for a rare species along a track reveals where it grows.
#[must_use]
pub fn absences(walk: &Walk, all: &Searches<'_>, excluded: &BTreeSet<String>) -> Vec<Absence> {
    let (finds, sites) = (all.finds, all.sites);
    let here = all.of_outing.get(&walk.outing).map_or(&[][..], Vec::as_slice);
    let found: HashSet<&str> = here.iter().filter_map(|find| certain(&finds[*find])).collect();
    let mut non_detections: BTreeMap<&str, (BTreeSet<i64>, f64)> = BTreeMap::new();
    for visit in all.watch.visits(walk, finds, &sites.of_find, here) {
        if visit.searched < LEAST_SEARCH {
            continue;
        }
        let Some(site) = all.of_id.get(&visit.site) else { continue };
        let known: BTreeSet<&str> =
            site.finds.iter().filter_map(|find| certain(&finds[*find])).collect();
        for kind in known {
            if !found.contains(kind) && !excluded.contains(kind) {
                let (at, searched) = non_detections.entry(kind).or_default();
                at.insert(visit.site.0);
                *searched += visit.searched.0;
            }
        }
    }
    non_detections
        .into_iter()
        .map(|(kind, (at, searched))| Absence {
            outing: walk.outing,
            date: walk.date,
            kind: kind.to_owned(),
            sites: at.len(),
            searched: Seconds(searched),
        })
        .collect()
}

/// The name where it is certain: absence of an uncertain taxon cannot be stated.
fn certain(find: &SpottedFind) -> Option<&str> {
    find.taxon.as_deref().filter(|name| identification(name).qualifier.is_none())
}
