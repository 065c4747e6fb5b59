//! Estimates how much finds vary between outings beyond Poisson, the interval of a map's mean rate from
//! outings, and on how many outings each place of the map rests. Layer: `analyse`.
//!
//! # Method
//! The finds of an outing with the expectation m have the variance m + a m²: outings differ in season,
//! weather and care. a is that for which Pearson's chi-square over outings equals their number less one, m
//! being the searched length of the outing times the rate where it searched, so that ground that differs
//! is no overdispersion.
//!
//! The mean rate is finds over length, with the interval over outings ([`rate_over_outings`]).
//!
//! At a place an outing has the kernel sum K of its track. The finds there have the variance of Poisson
//! plus a (rate)² times the sum of K² over the square of the sum of K: the inverse of the number of outings
//! that the place rests on.
//!
//! # References
//! Breslow 1984, Extra-Poisson variation in log-linear models, Applied Statistics 33:38 (moments; from
//! memory).

use std::collections::BTreeMap;

use super::kernel::{Grid, Mass};
use crate::analyse::intervals::{Interval, rate_over_outings};
use crate::analyse::season::rate::falls_to;

/// A find or a piece of track with the number of its outing.
pub type OfOuting = (Mass, usize);

/// What one outing found on what length, metres.
#[derive(Clone, Copy, Debug, Default)]
struct Own {
    finds: f64,
    length: f64,
    /// The finds expected from the rate where it searched.
    expected: f64,
}

/// How outings differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dispersion {
    /// The squared coefficient of variation between outings.
    pub per_outing: f64,
    /// Finds per metre of the whole map, with its interval.
    pub mean: Interval,
    /// Outings that searched.
    pub outings: usize,
}

impl Dispersion {
    /// From finds on the track and the track; `rate` is that of the map at a place, finds per metre.
    pub(super) fn of(from: &[OfOuting], ways: &[OfOuting], rate: impl Fn(&Mass) -> f64) -> Self {
        let mut own: BTreeMap<usize, Own> = BTreeMap::new();
        for (mass, outing) in ways {
            let one = own.entry(*outing).or_default();
            one.length += mass.weight;
            one.expected += mass.weight * rate(mass);
        }
        for (mass, outing) in from {
            own.entry(*outing).or_default().finds += mass.weight;
        }
        let own: Vec<Own> = own.into_values().filter(|one| one.length > 0.0).collect();
        let pairs: Vec<(f64, f64)> = own.iter().map(|one| (one.finds, one.length)).collect();
        let mean = rate_over_outings(&pairs);
        Self { per_outing: between(&own), mean, outings: own.len() }
    }
}

/// The overdispersion by moments; 0 with fewer than five outings.
fn between(own: &[Own]) -> f64 {
    const LEAST: usize = 5;
    let total: f64 = own.iter().map(|one| one.expected).sum();
    let found: f64 = own.iter().map(|one| one.finds).sum();
    if own.len() < LEAST || total <= 0.0 || found <= 0.0 {
        return 0.0;
    }
    let pairs: Vec<(f64, f64)> = own
        .iter()
        .map(|one| (one.finds, one.expected * found / total))
        .filter(|(_, expected)| *expected > 0.2)
        .collect();
    if pairs.len() < LEAST {
        return 0.0;
    }
    let chi_square = |per_outing: f64| -> f64 {
        pairs.iter().map(|(y, m)| (y - m).powi(2) / (m + per_outing * m * m)).sum()
    };
    falls_to(chi_square, pairs.len() as f64 - 1.0)
}

/// For each cell of a grid, the inverse of the number of outings that its kernel rests on: 1 for one
/// outing, 0.1 for ten that searched alike; 0 where there is no track.
pub(super) fn concentration(ways: &[OfOuting], grid: &Grid, h: f64) -> Vec<f64> {
    let coarse = Coarse::of(grid, h);
    let mut of_outing: BTreeMap<usize, BTreeMap<usize, f64>> = BTreeMap::new();
    for (mass, outing) in ways {
        if let Some(cell) = coarse.cell(mass.x, mass.y) {
            *of_outing.entry(*outing).or_default().entry(cell).or_insert(0.0) += mass.weight;
        }
    }
    let (mut sums, mut squares) = (vec![0.0; coarse.count()], vec![0.0; coarse.count()]);
    let kernel = coarse.kernel(h);
    let mut own = vec![0.0; coarse.count()];
    for cells in of_outing.into_values() {
        let mut touched = Vec::new();
        for (cell, weight) in cells {
            coarse.spread(cell, weight, &kernel, &mut own, &mut touched);
        }
        for cell in touched {
            sums[cell] += own[cell];
            squares[cell] += own[cell] * own[cell];
            own[cell] = 0.0;
        }
    }
    let shares: Vec<f64> = sums
        .iter()
        .zip(&squares)
        .map(|(sum, squares)| if *sum > 0.0 { squares / (sum * sum) } else { 0.0 })
        .collect();
    (0..grid.columns * grid.rows)
        .map(|at| {
            let place = coarse.cell(grid.x(at % grid.columns), grid.y(at / grid.columns));
            place.map_or(0.0, |cell| shares[cell])
        })
        .collect()
}

/// A grid that is coarse beside the kernel.
struct Coarse {
    west: f64,
    south: f64,
    cell: f64,
    columns: usize,
    rows: usize,
}

/// The most cells on one side.
const SIDE: f64 = 1_000.0;

impl Coarse {
    fn of(grid: &Grid, h: f64) -> Self {
        let (wide, high) = (grid.cell * grid.columns as f64, grid.cell * grid.rows as f64);
        let cell = (0.5 * h).max(wide.max(high) / SIDE).max(1e-3);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 1,000")]
        let cells = |length: f64| (length / cell).ceil().clamp(1.0, SIDE) as usize;
        Self { west: grid.west, south: grid.south, cell, columns: cells(wide), rows: cells(high) }
    }

    fn count(&self) -> usize {
        self.columns * self.rows
    }

    fn cell(&self, x: f64, y: f64) -> Option<usize> {
        let (column, row) = ((x - self.west) / self.cell, (y - self.south) / self.cell);
        if !(column >= 0.0 && row >= 0.0) {
            return None;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "not negative")]
        let (column, row) = (column as usize, row as usize);
        (column < self.columns && row < self.rows).then(|| row * self.columns + column)
    }

    /// The kernel by steps of cells up or over, to three bandwidths.
    fn kernel(&self, h: f64) -> Vec<f64> {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few cells")]
        let reach = (3.0 * h / self.cell).ceil().clamp(0.0, 8.0) as usize;
        (0..=reach).map(|step| (-0.5 * (step as f64 * self.cell / h).powi(2)).exp()).collect()
    }

    fn spread(
        &self,
        cell: usize,
        weight: f64,
        kernel: &[f64],
        own: &mut [f64],
        touched: &mut Vec<usize>,
    ) {
        let (column, row) = (cell % self.columns, cell / self.columns);
        let reach = kernel.len() - 1;
        for up in row.saturating_sub(reach)..=(row + reach).min(self.rows - 1) {
            let across = weight * kernel[up.abs_diff(row)];
            for over in column.saturating_sub(reach)..=(column + reach).min(self.columns - 1) {
                let at = up * self.columns + over;
                if own[at] <= 0.0 {
                    touched.push(at);
                }
                own[at] += across * kernel[over.abs_diff(column)];
            }
        }
    }
}
