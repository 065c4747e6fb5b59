//! Estimates the rate of finds per searched kilometre over a map, with its standard error.
//! Layer: `analyse`.
//!
//! # Method
//! A find counts at the place of the track that it was made from, so finds and searched length lie on
//! the same lines, and their kernel sums have the same edges: with a constant rate their quotient has
//! the expectation of that rate everywhere, to the edge of the searched ground and beyond.
//!
//! The quotient rests on a searched length of N = (sum of kernels)² / (sum of squared kernels), and has
//! the Poisson variance m/N at a mean rate m. What the rates of a map vary more than that is variation of
//! the rate itself, A, estimated by moments over the searched track. Each rate is drawn towards the mean
//! as far as its variance comes from few finds: m + (x - m) A / (A + m/N). Where the data show no
//! variation of the rate, the map is flat.
//!
//! The standard error is that of the rate drawn to the mean, with the error of the mean itself. Finds are
//! taken as independent of each other.
//!
//! # References
//! Marshall 1991, Mapping disease and mortality rates using empirical Bayes estimators, Applied
//! Statistics 40:283 (moments, and the shrunken rate). Diggle 1985, A kernel method for smoothing point
//! process data, Applied Statistics 34:138 (edges). Both from memory.

use super::kernel::{Grid, Mass, sum};

/// The rate on a grid.
pub(super) struct Rate {
    /// Finds per kilometre.
    pub(super) per_km: Vec<f64>,
    /// Its standard error.
    pub(super) error: Vec<f64>,
    /// Finds expected within the kernel at the mean rate.
    pub(super) evidence: Vec<f64>,
    /// Finds per kilometre of the whole map.
    pub(super) mean: f64,
}

/// Where the kernel sum of the track is below this share of its mean nothing is estimated.
const NOTHING: f64 = 1e-9;

impl Rate {
    /// From finds on the track, the track, and its kernel sum on the grid.
    pub(super) fn of(from: &[Mass], ways: &[Mass], track: &[f64], grid: &Grid, h: f64) -> Self {
        let length: f64 = ways.iter().map(|mass| mass.weight).sum();
        let found: f64 = from.iter().map(|mass| mass.weight).sum();
        let narrow = h / std::f64::consts::SQRT_2;
        // a track of weighted metres has the variance of its own finds: weight by weight
        let (finds, squares) = rayon::join(|| sum(from, grid, h), || sum(ways, grid, narrow));
        let mean = found / length.max(1.0);
        let top = track.iter().copied().fold(0.0, f64::max);
        let area = 4.0 * std::f64::consts::PI * h * h;
        let cells: Vec<Option<(f64, f64)>> = (0..track.len())
            .map(|cell| {
                let (metres, squares) = (track[cell], squares[cell]);
                (metres > NOTHING * top && squares > 0.0)
                    .then(|| (finds[cell].max(0.0) / metres, area * metres * metres / squares))
            })
            .collect();
        let variation = variation(&cells, track, mean);
        let drawn = |cell: &Option<(f64, f64)>| {
            let Some((rate, metres)) = *cell else { return (mean, f64::INFINITY, 0.0) };
            let chance = mean / metres;
            let own = if variation + chance > 0.0 { variation / (variation + chance) } else { 0.0 };
            let of_mean = mean.max(1.0 / length.max(1.0)) / length.max(1.0);
            let variance = own * chance + (1.0 - own) * (1.0 - own) * of_mean;
            (mean + own * (rate - mean), variance.sqrt(), mean * metres)
        };
        let values: Vec<(f64, f64, f64)> = cells.iter().map(drawn).collect();
        Self {
            per_km: values.iter().map(|value| 1e3 * value.0).collect(),
            error: values.iter().map(|value| 1e3 * value.1).collect(),
            evidence: values.iter().map(|value| value.2).collect(),
            mean: 1e3 * mean,
        }
    }
}

/// The variance of the rate between places, by moments, weighted by searched length.
fn variation(cells: &[Option<(f64, f64)>], track: &[f64], mean: f64) -> f64 {
    let (mut spread, mut chance, mut whole) = (0.0, 0.0, 0.0);
    for (cell, metres) in cells.iter().zip(track) {
        let Some((rate, supported)) = cell else { continue };
        spread += metres * (rate - mean).powi(2);
        chance += metres * mean / supported;
        whole += metres;
    }
    if whole > 0.0 { ((spread - chance) / whole).max(0.0) } else { 0.0 }
}
