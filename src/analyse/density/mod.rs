//! Estimates the density of finds, of searched track length, and their ratio, by kernels on an
//! equal-area plane. Unsearched ground is masked, not shown as empty. Layer: `analyse`.
//!
//! # Relative risk
//! The relative risk of a taxon is the density of its finds over that of all finds, each
//! normalised, with a small constant added to both so that places with hardly any finds do not get
//! extreme values.
//!
//! # References
//! Bithell 1990, An application of density estimation to geographical epidemiology, Statistics in
//! Medicine 9:691 (the quotient, and the constant added to both). Kelsall & Diggle 1995,
//! Non-parametric estimation of spatial variation in relative risk, Statistics in Medicine 14:2335
//! (the quotient of two densities of the same bandwidth).

pub(crate) mod along;
pub mod bandwidth;
pub(crate) mod isopleth;
pub mod kernel;
mod lines;
mod narrow;

use crate::earth::equal_area::EqualArea;
use crate::units::LatLon;
use bandwidth::Bandwidth;
use kernel::{Grid, Mass, sum};

/// Densities over an area.
#[derive(Clone, Debug)]
pub struct DensityMap {
    /// The plane that the grid lies on.
    pub plane: EqualArea,
    /// The grid.
    pub grid: Grid,
    /// The kernel.
    pub bandwidth: Bandwidth,
    /// Finds per hectare, kernel sum.
    pub finds: Vec<f64>,
    /// Searched kilometres per hectare, kernel sum.
    pub effort: Vec<f64>,
    /// Finds per searched kilometre, shrunk where the searched length is short; NaN where nobody
    /// searched.
    pub per_km: Vec<f64>,
    /// Share of these finds among a wider set of finds, relative to the whole area; NaN where
    /// nobody searched; empty unless requested.
    pub relative: Vec<f64>,
    /// The number of finds used.
    pub count: usize,
    /// The searched length used, kilometres.
    pub searched_km: f64,
}

/// Square metres in a hectare.
const HECTARE: f64 = 1e4;

/// Ground counts as searched where the kernel sum of the track is at least that at two bandwidths
/// beside a long straight track: exp(-2)/sqrt(2 pi) over the bandwidth (project choice).
const SEARCHED: f64 = 0.053_991;

/// The constant added in the relative risk, a share of the highest density of all finds.
const FLOOR: f64 = 0.01;

impl DensityMap {
    /// The density map of these finds and tracks, all on this plane.
    #[must_use]
    pub fn of(
        plane: EqualArea,
        grid: Grid,
        bandwidth: Bandwidth,
        finds: &[Mass],
        ways: &[Mass],
    ) -> Self {
        let h = bandwidth.metres;
        let (found, searched) = rayon::join(|| sum(finds, &grid, h), || sum(ways, &grid, h));
        let floor = SEARCHED / h;
        let way: f64 = ways.iter().map(|mass| mass.weight).sum();
        let mean = finds.iter().map(|mass| mass.weight).sum::<f64>() / way.max(1.0);
        let quotient = |finds: f64, metres: f64| {
            // a short searched length beside a find would give an extreme rate: a rate above that
            // of the whole map is combined with the smallest length that counts, at the rate of the
            // map
            let held = (finds + floor * mean) / (metres + floor);
            1e3 * (finds / metres).min(held.max(mean))
        };
        let per_km = found
            .iter()
            .zip(&searched)
            .map(
                |(finds, metres)| {
                    if *metres >= floor { quotient(finds.max(0.0), *metres) } else { f64::NAN }
                },
            )
            .collect();
        Self {
            plane,
            grid,
            bandwidth,
            finds: found.into_iter().map(|value| value.max(0.0) * HECTARE).collect(),
            effort: searched.into_iter().map(|value| value.max(0.0) * HECTARE / 1e3).collect(),
            per_km,
            relative: Vec::new(),
            count: finds.len(),
            searched_km: ways.iter().map(|mass| mass.weight).sum::<f64>() / 1e3,
        }
    }

    /// Adds the relative risk of these finds against a wider set that contains them: 1 where their
    /// share equals that of the whole map.
    #[must_use]
    pub fn against(mut self, all: &[Mass]) -> Self {
        let whole = sum(all, &self.grid, self.bandwidth.metres);
        let of_all = all.len().max(1) as f64;
        let own = self.count.max(1) as f64 * HECTARE;
        let floor = FLOOR * whole.iter().copied().fold(0.0, f64::max) / of_all;
        self.relative = self
            .per_km
            .iter()
            .zip(self.finds.iter().zip(&whole))
            .map(|(mask, (finds, whole))| {
                let risk = (finds / own + floor) / (whole.max(0.0) / of_all + floor);
                if mask.is_nan() || floor <= 0.0 { f64::NAN } else { risk }
            })
            .collect();
        self
    }

    /// Finds per searched kilometre at a place, with the 95 % upper limit without any find (3.0
    /// over the length searched within the kernel); `None` where nobody searched.
    #[must_use]
    pub fn at(&self, place: LatLon) -> Option<(f64, f64)> {
        let (x, y) = self.plane.to_plane(place);
        let index = self.grid.index(x, y)?;
        let rate = self.per_km[index];
        // the effective area of the kernel is 4 pi h²
        let near = self.effort[index] / HECTARE
            * 4.0
            * std::f64::consts::PI
            * self.bandwidth.metres.powi(2);
        (!rate.is_nan()).then(|| (rate, 3.0 / near))
    }

    /// The position of a point of the plane.
    #[must_use]
    pub fn place(&self, x: f64, y: f64) -> LatLon {
        self.plane.from_plane(x, y)
    }
}

/// A grid around all points with a margin, at most so many cells on its longer side.
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "counts of cells")]
pub fn grid_about(points: &[Mass], margin: f64, most: usize) -> Option<Grid> {
    let bounds = |pick: fn(&Mass) -> f64| {
        let low = points.iter().map(pick).fold(f64::INFINITY, f64::min) - margin;
        (low, points.iter().map(pick).fold(f64::NEG_INFINITY, f64::max) + margin)
    };
    let ((west, east), (south, north)) = (bounds(|m| m.x), bounds(|m| m.y));
    let (wide, high) = (east - west, north - south);
    if !(wide.is_finite() && high.is_finite() && wide > 0.0 && high > 0.0) {
        return None;
    }
    let cell = wide.max(high) / most.max(1) as f64;
    let cells = |length: f64| (length / cell).ceil().clamp(1.0, most as f64) as usize;
    Some(Grid { west, south, cell, columns: cells(wide), rows: cells(high) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(finds: &[Mass], ways: &[Mass]) -> DensityMap {
        let grid = Grid { west: -500.0, south: -500.0, cell: 10.0, columns: 100, rows: 100 };
        let origin = bandwidth::Origin::Stated;
        let bandwidth = Bandwidth { origin, metres: 60.0, before_floor: 60.0, floor: 8.0 };
        DensityMap::of(
            EqualArea::about(LatLon::clamped(-42.0, 146.0)),
            grid,
            bandwidth,
            finds,
            ways,
        )
    }

    #[test]
    fn the_rate_is_finds_over_way_and_unsearched_ground_is_masked() {
        let mut ways = Vec::new();
        along::masses(&[(-400.0, 0.0), (400.0, 0.0)], 60.0, &mut ways);
        // ten finds for each 100 m of track
        let finds: Vec<Mass> = (0..80)
            .map(|i| Mass { x: -395.0 + 10.0 * f64::from(i), y: 0.0, weight: 1.0 })
            .collect();
        let map = map(&finds, &ways);
        let at = |x: f64, y: f64| map.at(map.place(x, y));
        let (rate, _) = at(0.0, 0.0).unwrap();
        assert!((rate - 100.0).abs() < 0.5, "{rate}");
        assert!(at(0.0, 110.0).is_some() && at(0.0, 135.0).is_none());
        assert!((map.searched_km - 0.8).abs() < 1e-9);
        let whole: f64 = map.finds.iter().sum::<f64>() * map.grid.cell_area() / 1e4;
        assert!((whole - 80.0).abs() < 1.0, "{whole}");
    }

    #[test]
    fn relative_risk_is_the_share_here_over_the_share_everywhere() {
        let mut ways = Vec::new();
        along::masses(&[(-400.0, 0.0), (400.0, 0.0)], 60.0, &mut ways);
        // a find each ten metres; in the west half every second is of the taxon, in the east every
        // fifth
        let all: Vec<Mass> = (0..80)
            .map(|i| Mass { x: -395.0 + 10.0 * f64::from(i), y: 0.0, weight: 1.0 })
            .collect();
        let taxon: Vec<Mass> = (0..80_usize)
            .filter(|i| if *i < 40 { i % 2 == 0 } else { i % 5 == 0 })
            .map(|i| all[i])
            .collect();
        let map = map(&taxon, &ways).against(&all);
        let at = |x: f64, y: f64| map.relative[map.grid.index(x, y).unwrap()];
        let whole = taxon.len() as f64 / 80.0;
        assert!((at(-200.0, 0.0) - 0.5 / whole).abs() < 0.03, "{}", at(-200.0, 0.0));
        assert!((at(200.0, 0.0) - 0.2 / whole).abs() < 0.03, "{}", at(200.0, 0.0));
        assert!(at(0.0, 300.0).is_nan());
        // the taxon against itself is alike everywhere
        let same = map.clone().against(&taxon);
        assert!(same.relative.iter().all(|risk| risk.is_nan() || (risk - 1.0).abs() < 1e-9));
        let none = map.against(&[]);
        assert!(none.relative.iter().all(|risk| risk.is_nan()));
    }

    #[test]
    fn the_highest_rate_is_at_the_finds_and_not_at_the_edge_of_the_search() {
        let mut ways = Vec::new();
        along::masses(&[(-400.0, 0.0), (400.0, 0.0)], 60.0, &mut ways);
        // the finds lie beside the track, so that the plain ratio grows towards the edge of the
        // searched area
        let finds: Vec<Mass> = (0..20).map(|_| Mass { x: 0.0, y: 40.0, weight: 1.0 }).collect();
        let map = map(&finds, &ways);
        let at = |x: f64, y: f64| map.per_km[map.grid.index(x, y).unwrap()];
        let plain = |x: f64, y: f64| {
            let index = map.grid.index(x, y).unwrap();
            map.finds[index] / map.effort[index]
        };
        let edge = 115.0;
        assert!(plain(0.0, edge) > 3.0 * plain(0.0, 5.0));
        assert!(at(0.0, edge) < 0.75 * plain(0.0, edge), "{}", at(0.0, edge));
        // low rates stay as they are
        assert!((at(350.0, 5.0) - plain(350.0, 5.0)).abs() < 1e-9);
    }

    #[test]
    fn search_without_a_find_has_an_upper_limit() {
        let mut ways = Vec::new();
        along::masses(&[(-400.0, 0.0), (400.0, 0.0)], 60.0, &mut ways);
        let map = map(&[], &ways);
        let (rate, limit) = map.at(map.place(0.0, 0.0)).unwrap();
        assert!(rate.abs() < 1e-12 && limit > 5.0 && limit < 30.0, "{limit}");
    }
}
