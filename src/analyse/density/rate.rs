//! Estimates the rate of finds per searched kilometre over a map, with its standard error.
//! Layer: `analyse`.
//!
//! # Method
//! A find counts at the place of the track that it was made from, so finds and searched length lie on
//! the same lines, and their kernel sums have the same edges: with a constant rate their quotient has
//! the expectation of that rate everywhere, to the edge of the searched ground and beyond. Where the rate has a
//! gradient, the track within the kernel lies to one side of a cell at an edge, and the quotient is the rate there.
//! A trend, the same estimate with a kernel three times as wide and a line through the rate
//! (`local_linear`), gives the difference between the cell and that track, which is added.
//!
//! The quotient rests on a searched length of N = (sum of kernels)² / (sum of squared kernels), and on n
//! outings ([`super::dispersion`]). At a mean rate m it has the variance V = m/N + a m²/n, a being the
//! overdispersion between outings. What the rates of a map vary more than that is variation of the rate
//! itself, A, estimated by moments over the searched track. Each rate is drawn towards the mean as far as
//! its variance comes from few finds or few outings: m + (x - m) A / (A + V). Where the data show no
//! variation of the rate, the map is flat.
//!
//! The standard error is that of the rate shrunk towards the mean, with V at the rate itself where that is higher,
//! and with the error of the mean.
//!
//! # References
//! Marshall 1991, Mapping disease and mortality rates using empirical Bayes estimators, Applied
//! Statistics 40:283 (moments, and the shrunken rate). Diggle 1985, A kernel method for smoothing point
//! process data, Applied Statistics 34:138 (edges). Both from memory.

use super::dispersion::{Dispersion, OfOuting, concentration};
use super::kernel::{Grid, Mass, derivatives, sum};
use super::local_linear::{Correction, Sums};

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
/// Where it is below this share of its highest value no line is drawn through the rate: errors of the sum weigh.
const SOUND: f64 = 2e-3;
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
        let wide = WIDER * h;
        let walked: Vec<Mass> = ways.iter().map(|(mass, _)| *mass).collect();
        let around = sum(&walked, grid, wide);
        let smooth =
            Quotients::of(from, ways, &around, grid, wide).with_lines(from, ways, grid, wide);
        let trend: Vec<f64> =
            smooth.settled(from, ways, grid).1.iter().map(|value| value.0).collect();
        let quotients = Quotients::of(from, ways, track, grid, h).about(&trend, ways, grid, h);
        let (dispersion, drawn) = quotients.settled(from, ways, grid);
        Self {
            per_km: drawn.iter().map(|value| 1e3 * value.0).collect(),
            error: drawn.iter().map(|value| 1e3 * value.1).collect(),
            evidence: drawn.iter().map(|value| value.2).collect(),
            dispersion,
        }
    }
}

/// The rate of each cell, its standard error and the finds expected there.
type Drawn = Vec<(f64, f64, f64)>;

/// How much wider than the kernel that of the trend is (project choice): its slopes rest on nine times the finds.
const WIDER: f64 = 3.0;

/// The sums for lines through the rate; `None` where cells do not resolve the kernel.
fn local_sums(found: &[Mass], walked: &[Mass], grid: &Grid, h: f64) -> Option<Sums> {
    Some(Sums {
        finds: derivatives(found, grid, h)?,
        track: derivatives(walked, grid, h)?,
        squares: derivatives(walked, grid, h / std::f64::consts::SQRT_2)?,
        bandwidth: h,
    })
}

/// The plain quotients of kernel sums.
struct Quotients<'a> {
    /// The rate and the metres that it rests on.
    cells: Vec<Option<(f64, f64)>>,
    /// What a local line takes from the rate.
    corrections: Vec<Option<Correction>>,
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
        let (found, walked) = (plain(from), plain(ways));
        let (finds, squares) = rayon::join(|| sum(&found, grid, h), || sum(&walked, grid, narrow));
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
            corrections: vec![None; cells.len()],
            cells,
            concentration: concentration(ways, grid, h),
            track,
            found: from.iter().map(|(mass, _)| mass.weight).sum(),
            length: ways.iter().map(|(mass, _)| mass.weight).sum(),
        }
    }

    /// With local lines through the rate.
    fn with_lines(self, from: &[OfOuting], ways: &[OfOuting], grid: &Grid, h: f64) -> Self {
        let plain = |list: &[OfOuting]| list.iter().map(|(mass, _)| *mass).collect::<Vec<Mass>>();
        let Some(sums) = local_sums(&plain(from), &plain(ways), grid, h) else { return self };
        let top = self.track.iter().copied().fold(0.0, f64::max);
        let sound = |cell: usize| self.cells[cell].is_some() && self.track[cell] > SOUND * top;
        let lines = |cell: usize| if sound(cell) { sums.correction(cell) } else { None };
        Self { corrections: (0..self.cells.len()).map(lines).collect(), ..self }
    }

    /// With the difference between a trend at each cell and its mean over the track within the kernel: the
    /// quotient is a rate where that track lies.
    fn about(mut self, trend: &[f64], ways: &[OfOuting], grid: &Grid, h: f64) -> Self {
        let weighted = |(mass, _): &OfOuting| {
            let rate = grid.index(mass.x, mass.y).map_or(0.0, |cell| trend[cell]);
            Mass { weight: mass.weight * rate, ..*mass }
        };
        let weighted: Vec<Mass> = ways.iter().map(weighted).collect();
        let means = sum(&weighted, grid, h);
        for (cell, own) in self.cells.iter_mut().enumerate() {
            if let Some((rate, _)) = own {
                let along = trend[cell] - means[cell] / self.track[cell];
                // neither below nothing nor twice as much
                *rate += if along.is_finite() { along.clamp(-*rate, *rate) } else { 0.0 };
            }
        }
        self
    }

    /// The rates, and how outings differ: each follows from the other.
    fn settled(&self, from: &[OfOuting], ways: &[OfOuting], grid: &Grid) -> (Dispersion, Drawn) {
        // a flat rate first: a map that follows every outing would leave no difference between them
        let flat = self.mean();
        let mut dispersion = Dispersion::of(from, ways, |_| flat);
        let mut drawn = self.drawn(&dispersion);
        for _ in 0..ROUNDS {
            let at = |mass: &Mass| grid.index(mass.x, mass.y).map_or(flat, |cell| drawn[cell].0);
            dispersion = Dispersion::of(from, ways, at);
            drawn = self.drawn(&dispersion);
        }
        (dispersion, drawn)
    }

    /// The quotients with the local lines that the data support, given the variance of each quotient, and the
    /// metres that they then rest on.
    fn corrected(&self, chance: impl Fn(usize, f64) -> f64) -> Vec<Option<(f64, f64)>> {
        let parts = self.cells.iter().zip(&self.corrections).enumerate();
        let (mut spread, mut aside) = (0.0, 0.0);
        for (cell, (own, correction)) in parts {
            let (Some((_, metres)), Some(line)) = (own, correction) else { continue };
            let noise = line.noise * chance(cell, *metres);
            spread += self.track[cell] * (line.amount.powi(2) - noise);
            aside += self.track[cell] * line.aside;
        }
        let slopes = if aside > 0.0 { (spread / aside).max(0.0) } else { 0.0 };
        let own = |cell: usize| {
            let (rate, metres) = self.cells[cell]?;
            let Some(line) = &self.corrections[cell] else { return Some((rate, metres)) };
            let (signal, noise) = (slopes * line.aside, line.noise * chance(cell, metres));
            let share = if signal > 0.0 { signal / (signal + noise) } else { 0.0 };
            Some((rate - line.taken(share, rate), metres / line.inflation(share)))
        };
        (0..self.cells.len()).map(own).collect()
    }

    fn mean(&self) -> f64 {
        self.found / self.length.max(1.0)
    }

    /// For each cell the rate shrunk towards the mean, its standard error, and the finds expected there.
    fn drawn(&self, dispersion: &Dispersion) -> Drawn {
        let mean = self.mean();
        // at a rate: Poisson's variance, and that of the outings
        let chance = |cell: usize, metres: f64, rate: f64| {
            rate / metres + dispersion.per_outing * rate * rate * self.concentration[cell]
        };
        let at_mean = |cell: usize, metres: f64| chance(cell, metres, mean);
        let cells = self.corrected(at_mean);
        let variation = self.variation(&cells, at_mean);
        let log_error = (dispersion.mean.high95 / dispersion.mean.value.max(1e-300)).ln() / 1.96;
        let of_mean = if mean > 0.0 {
            (mean * log_error).powi(2)
        } else {
            1.0 / self.length.max(1.0).powi(2)
        };
        let drawn = |(cell, own): (usize, &Option<(f64, f64)>)| {
            let (Some((rate, metres)), Some((_, plain))) = (*own, self.cells[cell]) else {
                return (mean, f64::INFINITY, 0.0);
            };
            // the line is shrunk by itself: its variance counts in the error only
            let noise = chance(cell, plain, mean);
            let share = if variation + noise > 0.0 { variation / (variation + noise) } else { 0.0 };
            let drawn = mean + share * (rate - mean);
            // where the rate is high, chance is as well
            let noise = chance(cell, metres, drawn.max(mean));
            let variance = share * noise + (1.0 - share) * (1.0 - share) * of_mean;
            (drawn, variance.sqrt(), mean * plain)
        };
        cells.iter().enumerate().map(drawn).collect()
    }

    /// The variance of the rate between places, by moments, weighted by searched length.
    fn variation(&self, cells: &[Option<(f64, f64)>], chance: impl Fn(usize, f64) -> f64) -> f64 {
        let mean = self.mean();
        let (mut spread, mut noise, mut whole) = (0.0, 0.0, 0.0);
        for (cell, (own, metres)) in cells.iter().zip(self.track).enumerate() {
            let Some((rate, supported)) = own else { continue };
            spread += metres * (rate - mean).powi(2);
            noise += metres * chance(cell, *supported);
            whole += metres;
        }
        if whole > 0.0 { ((spread - noise) / whole).max(0.0) } else { 0.0 }
    }
}
