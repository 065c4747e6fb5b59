//! Estimates the density of finds, of searched track length, and their ratio, by kernels on an
//! equal-area plane. Unsearched ground is masked, not shown as empty. Layer: `analyse`.
//!
//! # Relative risk
//! The relative risk of a taxon is the density of its finds over that of all finds, each
//! normalised, with a small constant added to both so that places with hardly any finds do not get
//! extreme values.
//!
//! # Method
//! Finds are counted at the place of the searched track that they were made from; finds and searched length then
//! have the same edges, and the quotient of their kernel sums is a rate per kilometre everywhere (`rate`), with a
//! local line against the bias of a gradient at an edge (`local_linear`). Finds and effort per hectare are
//! divided by the share of the kernel on searched ground (`edge`). The bandwidth is chosen by Silverman's rule or by cross-validation over outings and is never narrower than the
//! uncertainty of the positions (`bandwidth`). How much outings differ beyond Poisson widens the intervals
//! (`dispersion`).
//!
//! `docs/density.md` has the checks and what a map can and cannot show.
//!
//! # References
//! Bithell 1990, An application of density estimation to geographical epidemiology, Statistics in
//! Medicine 9:691 (the quotient, and the constant added to both). Kelsall & Diggle 1995,
//! Non-parametric estimation of spatial variation in relative risk, Statistics in Medicine 14:2335
//! (the quotient of two densities of the same bandwidth).

pub(crate) mod along;
pub mod bandwidth;
pub mod dispersion;
mod edge;
pub(crate) mod isopleth;
pub mod kernel;
mod lines;
mod local_linear;
mod narrow;
pub mod rate;
pub mod rate_bandwidth;
pub mod track;

use crate::analyse::intervals::Interval;
use crate::earth::equal_area::EqualArea;
use crate::units::LatLon;
use bandwidth::Bandwidth;
use kernel::{Grid, Mass, sum};
use track::{PlaneFind, SearchedRun};

/// Densities over an area.
///
/// Values are those of cell centres, row by row from the south. Ground farther than 15 m from every searched track
/// is NaN: not searched is not the same as absent.
#[derive(Clone, Debug)]
pub struct DensityMap {
    /// The plane that the grid lies on.
    pub plane: EqualArea,
    /// The grid.
    pub grid: Grid,
    /// The kernel.
    pub bandwidth: Bandwidth,
    /// Finds per hectare of searched ground: the kernel sum over [`Self::kernel_share`].
    pub finds: Vec<f64>,
    /// Searched kilometres per hectare of searched ground, likewise.
    pub effort: Vec<f64>,
    /// The share of the kernel about each cell that lies on searched ground.
    pub kernel_share: Vec<f64>,
    /// Finds per searched kilometre ([`rate`]); NaN where nobody searched.
    pub per_km: Vec<f64>,
    /// The standard error of that; NaN where nobody searched.
    pub error: Vec<f64>,
    /// The finds expected within the kernel at the mean rate: the evidence for the rate.
    pub evidence: Vec<f64>,
    /// Finds per searched kilometre of the whole map, with an interval over outings.
    pub mean: Interval,
    /// The coefficient of variation of the rate between outings.
    pub overdispersion: f64,
    /// Outings that searched.
    pub outings: usize,
    /// Finds that were made from the searched track: others are in no rate.
    pub made_from_track: usize,
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

/// The constant added in the relative risk, a share of the highest density of all finds.
const FLOOR: f64 = 0.01;

impl DensityMap {
    /// The density map of these finds and searched tracks, all on this plane.
    #[must_use]
    pub fn of(
        plane: EqualArea,
        grid: Grid,
        bandwidth: Bandwidth,
        finds: &[PlaneFind],
        runs: &[SearchedRun],
    ) -> Self {
        let h = bandwidth.metres;
        let ways = track::masses_of_outings(runs, h);
        let metres: Vec<Mass> = ways.iter().map(|(mass, _)| *mass).collect();
        let points: Vec<Mass> = finds.iter().map(PlaneFind::mass).collect();
        let from = track::made_from_of_outings(finds, runs);
        let (found, searched) = rayon::join(|| sum(&points, &grid, h), || sum(&metres, &grid, h));
        let rate = rate::Rate::of(&from, &ways, &searched, &grid, h);
        let cells = track::searched_cells(runs, &grid);
        let masked = |values: Vec<f64>| -> Vec<f64> {
            let cells = values.iter().zip(&cells);
            cells.map(|(value, searched)| if *searched { *value } else { f64::NAN }).collect()
        };
        let kernel_share = edge::kernel_share(&cells, &grid, h);
        let on_searched = |values: Vec<f64>, unit: f64| {
            let values = values.into_iter().zip(&kernel_share);
            masked(values.map(|(value, share)| value.max(0.0) * unit / share).collect())
        };
        Self {
            plane,
            grid,
            bandwidth,
            finds: on_searched(found, HECTARE),
            effort: on_searched(searched, HECTARE / 1e3),
            kernel_share,
            per_km: masked(rate.per_km),
            error: masked(rate.error),
            evidence: rate.evidence,
            mean: rate.dispersion.mean.times(1e3),
            overdispersion: rate.dispersion.per_outing.sqrt(),
            outings: rate.dispersion.outings,
            made_from_track: from.len(),
            relative: Vec::new(),
            count: finds.len(),
            searched_km: metres.iter().map(|mass| mass.weight).sum::<f64>() / 1e3,
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
            .zip(self.finds.iter().zip(&self.kernel_share).zip(&whole))
            .map(|(mask, ((finds, share), whole))| {
                let risk = (finds * share / own + floor) / (whole.max(0.0) / of_all + floor);
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
        let near = self.effort[index] * self.kernel_share[index] / HECTARE
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

/// A grid of round cells around all points with a margin, at most so many on its longer side.
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
    let mut cell = round_up(wide.max(high) / most.max(1) as f64);
    loop {
        // the grid begins at a multiple of its cells
        let edge = |low: f64| (low / cell).floor() * cell;
        let (west, south) = (edge(west), edge(south));
        let (columns, rows) = (((east - west) / cell).ceil(), ((north - south) / cell).ceil());
        if columns.max(rows) <= most.max(1) as f64 {
            let (columns, rows) = (columns.max(1.0) as usize, rows.max(1.0) as usize);
            return Some(Grid { west, south, cell, columns, rows });
        }
        cell = round_up(1.01 * cell);
    }
}

/// The next of 1, 2, 2.5, 5 and 10 times a power of ten.
fn round_up(length: f64) -> f64 {
    let power = 10_f64.powf(length.log10().floor());
    let steps = [1.0, 2.0, 2.5, 5.0, 10.0];
    let enough = |step: &f64| step * power >= length * (1.0 - 1e-9);
    power * steps.into_iter().find(enough).unwrap_or(10.0)
}

#[cfg(test)]
mod tests;
