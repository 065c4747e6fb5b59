//! Sums the search effort of each outing by elevation band. Layer: `commands`.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use jiff::civil::Date;
use uuid::Uuid;

use super::search::{Band, band};
use super::{Years, named};
use crate::analyse::season::{Per, Stint};
use crate::commands::console::Console;
use crate::error::Result;
use crate::store::BriefFind;

/// The data of a named find that the season estimate needs.
pub(in crate::commands) struct Seen {
    pub(in crate::commands) outing: Uuid,
    pub(in crate::commands) date: Date,
    pub(in crate::commands) taxon: Arc<str>,
    height: Option<f64>,
}

impl Seen {
    pub(super) fn of(find: &BriefFind) -> Option<Self> {
        let taxon = find.name.clone().and_then(named)?;
        let height = find.place.and(find.height);
        Some(Self { outing: find.outing, date: find.date, taxon, height })
    }
}

/// Effort of each outing, by band of 100 m of elevation.
pub(in crate::commands) struct Hours {
    of: BTreeMap<(usize, Band), f64>,
    dates: Vec<Date>,
    number: HashMap<Uuid, usize>,
}

impl Hours {
    /// All outings as stints, with the selected finds.
    pub(in crate::commands) fn stints(
        &self,
        seen: &[Seen],
        wanted: impl Fn(&Seen) -> bool,
    ) -> Vec<Stint> {
        let mut finds: BTreeMap<(usize, Band), u32> = BTreeMap::new();
        for find in seen.iter().filter(|find| wanted(find)) {
            if let Some(outing) = self.number.get(&find.outing) {
                *finds.entry((*outing, band(find.height))).or_insert(0) += 1;
            }
        }
        let keys: BTreeSet<_> = self.of.keys().chain(finds.keys()).collect();
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
    /// Sums the hours searched from all tracks.
    pub(in crate::commands) fn hours(&self, console: &Console) -> Result<Hours> {
        self.effort_per(Per::Hour, console)
    }

    /// Sums the effort from all tracks, in hours or kilometres.
    pub(in crate::commands) fn effort_per(&self, per: Per, console: &Console) -> Result<Hours> {
        let search = self.search(console)?;
        let number: HashMap<Uuid, usize> =
            self.outings.iter().enumerate().map(|(n, outing)| (outing.id, n)).collect();
        let mut of = BTreeMap::new();
        for (outing, bands) in &search.outings {
            let Some(outing) = number.get(outing).copied() else { continue };
            for (band, sums) in bands {
                let (sums, weights) = match per {
                    Per::Hour => (sums.hours, search.weights.hour),
                    Per::Km => (sums.km, search.weights.km),
                };
                let effort: f64 = sums.iter().zip(weights).map(|(sum, weight)| sum * weight).sum();
                *of.entry((outing, *band)).or_insert(0.0) += effort;
            }
        }
        let dates = self.outings.iter().map(|outing| outing.date).collect();
        Ok(Hours { of, dates, number })
    }
}
