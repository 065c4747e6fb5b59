//! Sums the search effort of each outing by elevation band. Layer: `commands`.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

use jiff::civil::Date;
use uuid::Uuid;

use super::search::{Band, band};
use super::{Years, named};
use crate::analyse::effort::weights::ByManner;
use crate::analyse::effort::{EffortRule, Tally};
use crate::analyse::season::{Per, Stint};
use crate::analyse::walk::Walk;
use crate::commands::console::Console;
use crate::earth::equal_area::EqualArea;
use crate::error::Result;
use crate::store::BriefFind;
use crate::units::Seconds;

/// The data of a named find that the season estimate needs.
pub(in crate::commands) struct Seen {
    pub(in crate::commands) outing: Uuid,
    pub(in crate::commands) date: Date,
    pub(in crate::commands) taxon: Arc<str>,
    height: Option<f64>,
    /// Whether it has a position.
    pub(in crate::commands) located: bool,
}

impl Seen {
    pub(super) fn of(find: &BriefFind) -> Option<Self> {
        let taxon = find.name.clone().and_then(named)?;
        let height = find.place.and(find.height);
        let located = find.place.is_some();
        Some(Self { outing: find.outing, date: find.date, taxon, height, located })
    }
}

/// Finds by name, outing and band: finds of one name are compared with a taxon once, not one by one.
pub(in crate::commands) struct Tallied(HashMap<Arc<str>, BTreeMap<(usize, Band), u32>>);

impl Tallied {
    /// Finds by name alone, all on one outing.
    #[cfg(test)]
    pub(in crate::commands) fn of_names(names: &[(&str, u32)]) -> Self {
        let own =
            |(name, count): &(&str, u32)| (Arc::from(*name), BTreeMap::from([((0, None), *count)]));
        Self(names.iter().map(own).collect())
    }

    /// The names, each with its finds.
    pub(in crate::commands) fn names(&self) -> impl Iterator<Item = (&str, u32)> {
        self.0.iter().map(|(name, finds)| (&**name, finds.values().sum()))
    }
}

/// Effort of each outing, by band of 100 m of elevation.
pub(in crate::commands) struct Hours {
    of: BTreeMap<(usize, Band), f64>,
    dates: Vec<Date>,
    number: HashMap<Uuid, usize>,
    /// The unit of each outing: that of people who walked together is one.
    unit: Vec<usize>,
    /// Outings of the hemisphere that is not analysed.
    other_hemisphere: HashSet<usize>,
}

impl Hours {
    /// The effort of each outing, by its number, with its date; of both hemispheres.
    pub(in crate::commands) fn each(&self) -> impl Iterator<Item = (usize, Date, f64)> {
        self.of.iter().map(|((outing, _), hours)| (*outing, self.dates[*outing], *hours))
    }

    /// All outings as stints, with the finds of the wanted names; those of people who walked together as one.
    pub(in crate::commands) fn stints(
        &self,
        seen: &[Seen],
        wanted: impl Fn(&str) -> bool,
    ) -> Vec<Stint> {
        self.stints_of(&self.tallied(seen), wanted)
    }

    /// The finds by name.
    pub(in crate::commands) fn tallied(&self, seen: &[Seen]) -> Tallied {
        let mut names: HashMap<Arc<str>, BTreeMap<(usize, Band), u32>> = HashMap::new();
        for find in seen {
            let Some(outing) = self.number.get(&find.outing) else { continue };
            let key = (*outing, band(find.height));
            if let Some(finds) = names.get_mut(&find.taxon) {
                *finds.entry(key).or_insert(0) += 1;
            } else {
                names.insert(find.taxon.clone(), BTreeMap::from([(key, 1)]));
            }
        }
        Tallied(names)
    }

    /// All outings as stints, with the finds of the wanted names; those of people who walked together as one.
    pub(in crate::commands) fn stints_of(
        &self,
        tallied: &Tallied,
        wanted: impl Fn(&str) -> bool,
    ) -> Vec<Stint> {
        let mut sums: BTreeMap<(usize, Band), (f64, u32)> = BTreeMap::new();
        let here = |outing: &usize| !self.other_hemisphere.contains(outing);
        let unit = |(outing, band): &(usize, Band)| (self.unit[*outing], *band);
        for (key, hours) in self.of.iter().filter(|(key, _)| here(&key.0)) {
            sums.entry(unit(key)).or_default().0 += hours;
        }
        for (_, own) in tallied.0.iter().filter(|(name, _)| wanted(name)) {
            for (key, count) in own.iter().filter(|(key, _)| here(&key.0)) {
                sums.entry(unit(key)).or_default().1 += count;
            }
        }
        let stint = |((outing, band), (hours, finds)): ((usize, Band), (f64, u32))| Stint {
            outing,
            date: self.dates[outing],
            elevation: band.map(|band| band as f64 * 100.0 + 50.0),
            hours,
            finds,
        };
        sums.into_iter().map(stint).collect()
    }
}

impl Years {
    /// Sums the hours searched from all tracks.
    pub(in crate::commands) fn hours(&self, console: &Console) -> Result<Hours> {
        self.effort_per(Per::Hour, console)
    }

    /// The time that counts as search on each outing with a track, as `trug effort` states it.
    pub(in crate::commands) fn searched(
        &self,
        console: &Console,
    ) -> Result<HashMap<Uuid, Seconds>> {
        let search = self.search(console)?;
        let walked: HashSet<Uuid> = self
            .outings
            .iter()
            .filter(|outing| outing.searched.is_some())
            .map(|outing| outing.id)
            .collect();
        let hours = |outing: Uuid, bands: &BTreeMap<Band, ByManner>| -> f64 {
            let weights = search.weights(outing).hour;
            let of = |sums: &ByManner| -> f64 {
                sums.hours.iter().zip(weights).map(|(sum, weight)| sum * weight).sum()
            };
            bands.values().map(of).sum()
        };
        let own = search.outings.iter().filter(|(outing, _)| walked.contains(outing));
        Ok(own.map(|(outing, bands)| (*outing, Seconds(3_600.0 * hours(*outing, bands)))).collect())
    }

    /// The hectares that each outing searched, each place once.
    fn hectares(&self, console: &Console) -> Result<HashMap<Uuid, f64>> {
        let places = self.outings.iter().filter_map(|outing| outing.began);
        let plane = EqualArea::about_all(places);
        let rule = EffortRule { by: Vec::new(), ..EffortRule::default() };
        let mut of = HashMap::new();
        let look = |walk: Walk| (walk.outing, Tally::of(&walk, &plane, &rule, |_| None).hectares());
        self.map_searches(console, "Computing effort", look, |(outing, hectares)| {
            of.insert(outing, hectares);
        })?;
        Ok(of)
    }

    /// Sums the effort from all tracks, in hours, kilometres or hectares. The hectares of an outing are
    /// divided among its bands of elevation as its kilometres are.
    pub(in crate::commands) fn effort_per(&self, per: Per, console: &Console) -> Result<Hours> {
        let search = self.search(console)?;
        let hectares = if per == Per::Hectare { self.hectares(console)? } else { HashMap::new() };
        let number: HashMap<Uuid, usize> =
            self.outings.iter().enumerate().map(|(n, outing)| (outing.id, n)).collect();
        let mut of = BTreeMap::new();
        let weighted = |sums: &[f64; 4], weights: [f64; 4]| -> f64 {
            sums.iter().zip(weights).map(|(sum, weight)| sum * weight).sum()
        };
        for (id, bands) in &search.outings {
            let Some(outing) = number.get(id).copied() else { continue };
            if self.counted.left_out.contains(id) {
                continue;
            }
            let weights = search.weights(*id);
            let km = |sums: &ByManner| weighted(&sums.km, weights.km);
            let whole: f64 = bands.values().map(km).sum();
            let hectares = hectares.get(id).copied().unwrap_or(0.0);
            for (band, sums) in bands {
                let effort = match per {
                    Per::Hour => weighted(&sums.hours, weights.hour),
                    Per::Km => km(sums),
                    Per::Hectare if whole > 0.0 => hectares * km(sums) / whole,
                    Per::Hectare => 0.0,
                };
                *of.entry((outing, *band)).or_insert(0.0) += effort;
            }
        }
        let dates = self.outings.iter().map(|outing| outing.date).collect();
        let other = self.counted.other_hemisphere.iter();
        let other_hemisphere = other.filter_map(|id| number.get(id).copied()).collect();
        let units = self.units(console)?;
        let unit = (0..self.outings.len()).map(|outing| units.of(outing)).collect();
        Ok(Hours { of, dates, number, unit, other_hemisphere })
    }
}
