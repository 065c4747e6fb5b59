//! Applies a function to the track of every outing, several in parallel, in order of time, with a
//! bounded number in memory. Layer: `commands`.

use rayon::prelude::*;

use super::Years;
use crate::analyse::counted_with::without;
use crate::analyse::sites::Sites;
use crate::analyse::together::together;
use crate::analyse::visits::{VisitRule, Watch};
use crate::analyse::walk::Walk;
use crate::commands::console::Console;
use crate::error::Result;
use crate::model::Visit;
use crate::store::PackedBriefTrack;

/// The number of tracks in memory at once.
const TOGETHER: usize = 32;

impl Years {
    /// Maps every track of every outing, several in parallel, and passes the results on in order of time.
    /// Outings without a track come last, as tracks without points.
    pub(in crate::commands) fn map_walks<T: Send>(
        &self,
        console: &Console,
        doing: &str,
        look: impl Fn(Walk) -> T + Sync,
        mut take: impl FnMut(T),
    ) -> Result<()> {
        self.make_ways(console)?;
        let bar = console.progress(doing, self.outings.len() as u64);
        let mut walked = std::collections::HashSet::new();
        let mut ways = self.store.brief_ways()?;
        let (dates, shown) = (&self.dates, &self.counted.shown);
        loop {
            let batch: Vec<PackedBriefTrack> =
                ways.by_ref().take(TOGETHER).collect::<Result<_>>()?;
            if batch.is_empty() {
                break;
            }
            let seen: Vec<T> = batch
                .par_iter()
                .map(|packed| {
                    let way = packed.unpack()?;
                    let date = dates.get(&packed.outing).copied().unwrap_or_default();
                    let (outing, mut track) = (packed.outing, (way.points, way.lengths));
                    if let Some(shown) = shown.get(&outing) {
                        track = without(track, shown);
                    }
                    let (points, lengths) = track;
                    Ok(look(Walk::new(outing, date, points, lengths)))
                })
                .collect::<Result<_>>()?;
            seen.into_iter().for_each(&mut take);
            bar.inc(batch.len() as u64);
            walked.extend(batch.iter().map(|packed| packed.outing));
        }
        // outings without a track still have finds, and so visits
        for outing in self.outings.iter().filter(|outing| !walked.contains(&outing.id)) {
            take(look(Walk::straight(outing.id, outing.date, Vec::new())));
            bar.inc(1);
        }
        bar.finish_and_clear();
        Ok(())
    }

    /// Maps every track as [`Years::map_walks`], judged and weighted as search.
    pub(in crate::commands) fn map_searches<T: Send>(
        &self,
        console: &Console,
        doing: &str,
        look: impl Fn(Walk) -> T + Sync,
        take: impl FnMut(T),
    ) -> Result<()> {
        let search = self.search(console)?;
        self.map_walks(console, doing, |walk| look(search.applied(walk)), take)
    }

    /// Visits every track of every outing in order of time, judged and weighted as search.
    pub(in crate::commands) fn each_search(
        &self,
        console: &Console,
        doing: &str,
        mut look: impl FnMut(&Walk),
    ) -> Result<()> {
        self.map_searches(console, doing, |walk| walk, |walk| look(&walk))
    }

    /// Simplifies tracks that are not yet simplified: once, in stores of older versions.
    pub(super) fn make_ways(&self, console: &Console) -> Result<()> {
        let bar = console.progress("Simplifying tracks (once)", 0);
        self.store.make_brief_ways(|done, of| {
            bar.set_length(of as u64);
            bar.set_position(done as u64);
        })?;
        bar.finish_and_clear();
        Ok(())
    }

    /// All visits to all sites, in order of time; those of people who walked together as one.
    pub(in crate::commands) fn visits(
        &self,
        sites: &Sites,
        rule: VisitRule,
        console: &Console,
    ) -> Result<Vec<Visit>> {
        let visits = self.visits_of_persons(sites, rule, console)?;
        let unit_of = self.unit_of(console)?;
        Ok(together(visits, rule.apart, |outing| unit_of.get(&outing).copied().unwrap_or(outing)))
    }

    /// All visits to all sites, in order of time; each person's on its own.
    pub(in crate::commands) fn visits_of_persons(
        &self,
        sites: &Sites,
        rule: VisitRule,
        console: &Console,
    ) -> Result<Vec<Visit>> {
        let watch = Watch::new(&sites.sites, rule);
        let mut visits = Vec::new();
        let (finds, of_outing) = (&self.finds, &self.of_outing);
        let look = |walk: Walk| {
            let here = of_outing.get(&walk.outing).map_or(&[][..], Vec::as_slice);
            watch.visits(&walk, finds, &sites.of_find, here)
        };
        self.map_searches(console, "Finding visits", look, |seen| visits.extend(seen))?;
        visits.sort_by_key(|visit| (visit.start, visit.site));
        Ok(visits)
    }
}
