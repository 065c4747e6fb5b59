//! Sums the search time of each outing by elevation band. Layer: `commands`.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use jiff::civil::Date;
use uuid::Uuid;

use super::{Years, named};
use crate::analyse::season::Stint;
use crate::analyse::walk::Walk;
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

/// Hours searched on each outing, by band of 100 m of elevation.
pub(in crate::commands) struct Hours {
    of: BTreeMap<(usize, Option<i64>), f64>,
    dates: Vec<Date>,
    number: HashMap<Uuid, usize>,
    /// Outings whose track shows no searching: all their time counts.
    pub(in crate::commands) unjudged: usize,
}

/// The hours of one outing.
struct Spent {
    outing: Uuid,
    by_band: BTreeMap<Option<i64>, f64>,
    unjudged: bool,
}

fn band(height: Option<f64>) -> Option<i64> {
    #[allow(clippy::cast_possible_truncation, reason = "heights of the Earth")]
    height.filter(|height| height.is_finite()).map(|height| (height / 100.0).floor() as i64)
}

fn spent(walk: &Walk) -> Spent {
    let any = walk.pieces().any(|piece| piece.is_search());
    let mut by_band = BTreeMap::new();
    for piece in walk.pieces().filter(|piece| !any || piece.is_search()) {
        *by_band.entry(band(piece.height(0.5))).or_insert(0.0) += piece.time().0 / 3600.0;
    }
    Spent { outing: walk.outing, by_band, unjudged: !any && walk.points.len() > 1 }
}

impl Hours {
    /// All outings as stints, with the selected finds.
    pub(in crate::commands) fn stints(
        &self,
        seen: &[Seen],
        wanted: impl Fn(&Seen) -> bool,
    ) -> Vec<Stint> {
        let mut finds: BTreeMap<(usize, Option<i64>), u32> = BTreeMap::new();
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
        let mut hours = Hours {
            of: BTreeMap::new(),
            dates: self.outings.iter().map(|outing| outing.date).collect(),
            number: self.outings.iter().enumerate().map(|(n, outing)| (outing.id, n)).collect(),
            unjudged: 0,
        };
        self.map_walks(
            console,
            "Computing effort",
            |walk| spent(&walk),
            |spent| {
                let Some(number) = hours.number.get(&spent.outing).copied() else { return };
                hours.unjudged += usize::from(spent.unjudged);
                for (band, time) in spent.by_band {
                    *hours.of.entry((number, band)).or_insert(0.0) += time;
                }
            },
        )?;
        Ok(hours)
    }
}
