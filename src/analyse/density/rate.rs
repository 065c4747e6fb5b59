//! Estimates the rate of finds per searched kilometre over a map, with its standard error.
//! Layer: `analyse`.
//!
//! # Method
//! A find counts at the place of the track that it was made from, so finds and searched length lie on
//! the same lines, and their kernel sums have the same edges: with a constant rate their quotient has
//! the expectation of that rate everywhere, to the edge of the searched ground and beyond.
//!
//! The quotient rests on a searched length of N = (sum of kernels)² / (sum of squared kernels), and on n
//! outings ([`super::dispersion`]). At a mean rate m it has the variance V = m/N + a m²/n, a being the
//! overdispersion between outings. What the rates of a map vary more than that is variation of the rate
//! itself, A, estimated by moments over the searched track. Each rate is drawn towards the mean as far as
//! its variance comes from few finds or few outings: m + (x - m) A / (A + V). Where the data show no
//! variation of the rate, the map is flat.
//!
//! The standard error is that of the rate drawn to the mean, with V at the rate itself where that is higher,
//! and with the error of the mean.
//!
//! # References
//! Marshall 1991, Mapping disease and mortality rates using empirical Bayes estimators, Applied
//! Statistics 40:283 (moments, and the shrunken rate). Diggle 1985, A kernel method for smoothing point
//! process data, Applied Statistics 34:138 (edges). Both from memory.

use super::dispersion::{Dispersion, OfOuting, concentration};
use super::kernel::{Grid, Mass, sum};

/// The rate on a grid.
pub(super) struct Rate {
    /// Finds per kilometre.
    pub(super) per_km: Vec<f64>,
    /// Its standard error.
    pub(super) error: Vec<f64>,
    /// Finds expected within the kernel at the mean rate.
    pub(super) evidence: Vec<f64>,
    /// How outings differ.
    pub(super) dispersion: Dispersion,
}

/// Where the kernel sum of the track is below this share of its mean nothing is estimated.
const NOTHING: f64 = 1e-9;
/// Rounds in which the rate and the overdispersion follow from each other.
const ROUNDS: usize = 3;

impl Rate {
    /// From finds on the track, the track, and its kernel sum on the grid.
    pub(super) fn of(
        from: &[OfOuting],
        ways: &[OfOuting],
        track: &[f64],
        grid: &Grid,
        h: f64,
    ) -> Self {
        let quotients = Quotients::of(from, ways, track, grid, h);
        // a flat rate first: a map that follows every outing would leave no difference between them
        let flat = quotients.mean();
        let mut dispersion = Dispersion::of(from, ways, |_| flat);
        let mut drawn = quotients.drawn(&dispersion);
        for _ in 0..ROUNDS {
            let at = |mass: &Mass| grid.index(mass.x, mass.y).map_or(flat, |cell| drawn[cell].0);
            dispersion = Dispersion::of(from, ways, at);
            drawn = quotients.drawn(&dispersion);
        }
        Self {
            per_km: drawn.iter().map(|value| 1e3 * value.0).collect(),
            error: drawn.iter().map(|value| 1e3 * value.1).collect(),
            evidence: drawn.iter().map(|value| value.2).collect(),
            dispersion,
        }
    }
}

/// The plain quotients of kernel sums.
struct Quotients<'a> {
    /// The rate and the metres that it rests on.
    cells: Vec<Option<(f64, f64)>>,
    /// The inverse of the number of outings that each cell rests on.
    concentration: Vec<f64>,
    track: &'a [f64],
    found: f64,
    length: f64,
}

impl<'a> Quotients<'a> {
    fn of(from: &[OfOuting], ways: &[OfOuting], track: &'a [f64], grid: &Grid, h: f64) -> Self {
        let plain = |list: &[OfOuting]| list.iter().map(|(mass, _)| *mass).collect::<Vec<Mass>>();
        let narrow = h / std::f64::consts::SQRT_2;
        // a track of weighted metres has the variance of its own finds: weight by weight
        let (finds, squares) =
            rayon::join(|| sum(&plain(from), grid, h), || sum(&plain(ways), grid, narrow));
        let top = track.iter().copied().fold(0.0, f64::max);
        let area = 4.0 * std::f64::consts::PI * h * h;
        let cells: Vec<Option<(f64, f64)>> = (0..track.len())
            .map(|cell| {
                let (metres, squares) = (track[cell], squares[cell]);
                (metres > NOTHING * top && squares > 0.0)
                    .then(|| (finds[cell].max(0.0) / metres, area * metres * metres / squares))
            })
            .collect();
        Self {
            cells,
            concentration: concentration(ways, grid, h),
            track,
            found: from.iter().map(|(mass, _)| mass.weight).sum(),
            length: ways.iter().map(|(mass, _)| mass.weight).sum(),
        }
    }

    fn mean(&self) -> f64 {
        self.found / self.length.max(1.0)
    }

    /// For each cell the rate drawn to the mean, its standard error, and the finds expected there.
    fn drawn(&self, dispersion: &Dispersion) -> Vec<(f64, f64, f64)> {
        let mean = self.mean();
        // at a rate: Poisson's variance, and that of the outings
        let chance = |cell: usize, metres: f64, rate: f64| {
            rate / metres + dispersion.per_outing * rate * rate * self.concentration[cell]
        };
        let variation = self.variation(|cell, metres| chance(cell, metres, mean));
        let log_error = (dispersion.mean.high95 / dispersion.mean.value.max(1e-300)).ln() / 1.96;
        let of_mean = if mean > 0.0 {
            (mean * log_error).powi(2)
        } else {
            1.0 / self.length.max(1.0).powi(2)
        };
        let drawn = |(cell, own): (usize, &Option<(f64, f64)>)| {
            let Some((rate, metres)) = *own else { return (mean, f64::INFINITY, 0.0) };
            let noise = chance(cell, metres, mean);
            let share = if variation + noise > 0.0 { variation / (variation + noise) } else { 0.0 };
            let drawn = mean + share * (rate - mean);
            // where the rate is high, chance is as well
            let noise = chance(cell, metres, drawn.max(mean));
            let variance = share * noise + (1.0 - share) * (1.0 - share) * of_mean;
            (drawn, variance.sqrt(), mean * metres)
        };
        self.cells.iter().enumerate().map(drawn).collect()
    }

    /// The variance of the rate between places, by moments, weighted by searched length.
    fn variation(&self, chance: impl Fn(usize, f64) -> f64) -> f64 {
        let mean = self.mean();
        let (mut spread, mut noise, mut whole) = (0.0, 0.0, 0.0);
        for (cell, (own, metres)) in self.cells.iter().zip(self.track).enumerate() {
            let Some((rate, supported)) = own else { continue };
            spread += metres * (rate - mean).powi(2);
            noise += metres * chance(cell, *supported);
            whole += metres;
        }
        if whole > 0.0 { ((spread - noise) / whole).max(0.0) } else { 0.0 }
    }
}
