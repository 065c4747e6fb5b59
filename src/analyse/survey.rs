//! Holds the finds and walks of all days and answers the questions about them in one call each: sites,
//! visits, density. The whole survey is in memory; the program itself reads walk by walk. Layer:
//! `analyse`.

use std::collections::HashMap;

use rayon::prelude::*;
use uuid::Uuid;

use super::density::bandwidth::Choice;
use super::density::kernel::Mass;
use super::density::track::{self, BESIDE, PlaneFind, SearchedRun, masses, searched_runs};
use super::density::{DensityMap, grid_about};
use super::sites::{Known, SiteRule, Sites, find_sites};
use super::spotted::{SpottedFind, belongs};
use super::visits::{VisitRule, Watch};
use super::walk::Walk;
use crate::earth::equal_area::EqualArea;
use crate::model::{KeptFind, Visit};

/// The fewest finds for a density map (project choice).
const LEAST_FINDS: usize = 3;

/// The located finds and the walks of all days.
///
/// For a program that has all days in memory; some 40 million track points are beyond it, and the commands read the
/// store walk by walk instead.
///
/// # Examples
/// ```
/// use trug::analyse::{SiteRule, Survey, VisitRule, Walk};
/// use trug::store::{FindQuery, Store};
/// # fn of(store: &Store) -> trug::error::Result<()> {
/// let mut walks = Vec::new();
/// for outing in store.outings()? {
///     walks.push(Walk::straight(outing.id, outing.date, store.track(outing.id)?));
/// }
/// let survey = Survey::new(&store.finds(&FindQuery::default())?, walks);
/// let sites = survey.sites(SiteRule::default());
/// let visits = survey.visits(&sites, VisitRule::default());
/// # let _ = visits;
/// # Ok(())
/// # }
/// ```
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Survey {
    /// Finds with a position.
    pub finds: Vec<SpottedFind>,
    /// The number of finds without one; they are in no site and on no map.
    pub unlocated: usize,
    /// One walk for each outing, also without points.
    pub walks: Vec<Walk>,
}

impl Survey {
    /// The survey of these finds and walks; finds without a position are only counted.
    #[must_use]
    pub fn new(finds: &[KeptFind], walks: Vec<Walk>) -> Self {
        let spotted: Vec<SpottedFind> = finds.iter().filter_map(SpottedFind::of).collect();
        Self { unlocated: finds.len() - spotted.len(), finds: spotted, walks }
    }

    /// The sites of all finds, numbered from 1 in order of their first find.
    ///
    /// Numbers that stay the same when days are added need [`find_sites`] with what was known before.
    #[must_use]
    pub fn sites(&self, rule: SiteRule) -> Sites {
        find_sites(&self.finds, rule, &Known::default())
    }

    /// The visits to these sites, with and without a find, in order of time.
    ///
    /// # Accuracy
    /// The distance of a walk from a site is that on the straight pieces between track points; nothing
    /// is counted across a gap.
    #[must_use]
    pub fn visits(&self, sites: &Sites, rule: VisitRule) -> Vec<Visit> {
        let mut of_outing: HashMap<Uuid, Vec<usize>> = HashMap::new();
        for (index, find) in self.finds.iter().enumerate() {
            of_outing.entry(find.outing).or_default().push(index);
        }
        let watch = Watch::new(&sites.sites, rule);
        let of_walk = |walk: &Walk| {
            let here = of_outing.get(&walk.outing).map_or(&[][..], Vec::as_slice);
            watch.visits(walk, &self.finds, &sites.of_find, here)
        };
        let mut visits: Vec<Visit> = self.walks.par_iter().flat_map_iter(of_walk).collect();
        visits.sort_by_key(|visit| (visit.start, visit.site));
        visits
    }

    /// The density of finds, of one taxon or of all, against the searched walks; `None` for fewer than
    /// three finds, or where all are at one point.
    ///
    /// # Units
    /// `cells` is the number of cells on the longer side.
    ///
    /// # Accuracy
    /// As [`DensityMap`]; ground that nobody searched is NaN, not zero.
    #[must_use]
    pub fn density(
        &self,
        taxon: Option<&str>,
        bandwidth: Choice,
        cells: usize,
    ) -> Option<DensityMap> {
        let chosen: Vec<&SpottedFind> =
            self.finds.iter().filter(|find| is_of(find, taxon)).collect();
        if chosen.len() < LEAST_FINDS {
            return None;
        }
        let plane = EqualArea::about_all(chosen.iter().map(|find| find.at));
        let outings = numbered(&chosen, &self.walks);
        let points: Vec<PlaneFind> = chosen
            .iter()
            .map(|find| {
                let (x, y) = plane.to_plane(find.at);
                PlaneFind { x, y, outing: outings[&find.outing], radius: find.radius.metres().0 }
            })
            .collect();
        let of_walk = |walk: &Walk| {
            let outing = outings.get(&walk.outing).copied().unwrap_or(usize::MAX);
            searched_runs(walk, outing, &plane)
        };
        let runs: Vec<SearchedRun> = self.walks.iter().flat_map(of_walk).collect();
        let bandwidth = track::bandwidth(&points, &runs, bandwidth)?;
        let searched = masses(&runs, bandwidth.metres.max(50.0));
        let everything: Vec<Mass> = points.iter().map(PlaneFind::mass).chain(searched).collect();
        let grid = grid_about(&everything, 2.0 * BESIDE, cells)?;
        Some(DensityMap::of(plane, grid, bandwidth, &points, &runs))
    }
}

fn is_of(find: &SpottedFind, taxon: Option<&str>) -> bool {
    taxon.is_none_or(|taxon| find.taxon.as_deref().is_some_and(|name| belongs(name, taxon)))
}

/// A number for each outing, those without a find included.
fn numbered(finds: &[&SpottedFind], walks: &[Walk]) -> HashMap<Uuid, usize> {
    let mut number: HashMap<Uuid, usize> = HashMap::new();
    let walked = walks.iter().map(|walk| walk.outing);
    for outing in finds.iter().map(|find| find.outing).chain(walked) {
        let next = number.len();
        number.entry(outing).or_insert(next);
    }
    number
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Activity, TrackPoint};
    use crate::units::{LatLon, Metres, Radius95, Timestamp};

    fn at(east: f64) -> LatLon {
        LatLon::clamped(0.0, east / 111_320.0)
    }

    /// A walk of 100 m to the east that searches, by a point a metre and a second.
    fn walk(outing: Uuid) -> Walk {
        let point = |second: i32| TrackPoint {
            time: Timestamp::from_second(1_000_000 + i64::from(second)).unwrap(),
            at: at(f64::from(second)),
            height: None,
            radius: Radius95::new(Metres(5.0)).unwrap(),
            activity: Activity::Searching,
            gap_after: false,
        };
        Walk::straight(outing, "2026-05-02".parse().unwrap(), (0..=100).map(point).collect())
    }

    fn find(outing: Uuid, number: u128, east: f64) -> SpottedFind {
        SpottedFind {
            id: Uuid::from_u128(number),
            label: number.to_string().into(),
            at: at(east),
            radius: Radius95::new(Metres(2.0)).unwrap(),
            date: "2026-05-02".parse().unwrap(),
            when: None,
            taxon: Some("Mycena interrupta".into()),
            outing,
            height: None,
        }
    }

    fn survey() -> Survey {
        let outing = Uuid::from_u128(1_000);
        let finds = vec![find(outing, 1, 20.0), find(outing, 2, 21.0), find(outing, 3, 80.0)];
        Survey { finds, unlocated: 0, walks: vec![walk(outing), walk(Uuid::from_u128(1_001))] }
    }

    #[test]
    fn a_walk_without_a_find_is_a_visit() {
        let survey = survey();
        let sites = survey.sites(SiteRule::default());
        assert_eq!(sites.sites.len(), 2);
        let visits = survey.visits(&sites, VisitRule::default());
        assert_eq!(visits.len(), 4);
        assert_eq!(visits.iter().filter(|visit| visit.finds.is_empty()).count(), 2);
    }

    #[test]
    fn density_is_per_searched_length() {
        let map = survey().density(Some("mycena"), Choice::Stated(10.0), 64).unwrap();
        assert_eq!(map.count, 3);
        assert!((map.searched_km - 0.2).abs() < 0.002, "{}", map.searched_km);
        assert!(survey().density(Some("Amanita"), Choice::Best, 64).is_none());
    }
}
