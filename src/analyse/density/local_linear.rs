//! Corrects a quotient of kernel sums for a gradient: at an edge the track within the kernel lies to one
//! side, and the quotient is the rate there, not here. Layer: `analyse`.
//!
//! # Method
//! A line through the rate, weighted by kernel and searched length (local linear regression), has no bias of the first
//! order, at an edge or where search is uneven. With z the way from a cell in bandwidths, s the mean of z over
//! the track, C its covariance and q the quotient, the slope is b = C⁻¹ (mean of z over finds per length of track - s q)
//! and the rate at the cell is q - s b. All moments of a Gaussian kernel are derivatives of its sum.
//!
//! The correction is shrunk towards zero as far as it comes from few finds: slopes have the variance B, estimated by
//! moments over the track, and a correction of variance v keeps the share B s² / (B s² + v). Where the data show
//! no gradient there is no correction.
//!
//! # References
//! Fan & Gijbels 1996, Local Polynomial Modelling and Its Applications, 3.2.5 (edges). Chapman & Hall. (From
//! memory.)

use super::kernel::Derivatives;

/// Added to both variances of the track's covariance, square bandwidths: a straight line of track has no
/// variance across (project choice).
const RIDGE: f64 = 0.02;

/// The correction of one cell, before it is shrunk.
#[derive(Clone, Copy, Debug)]
pub(super) struct Correction {
    /// What is to be taken from the quotient, finds per metre.
    pub(super) amount: f64,
    /// Square of the distance from the cell to the middle of the track in its kernel, square bandwidths.
    pub(super) aside: f64,
    /// Its Poisson variance as a multiple of that of the quotient.
    pub(super) noise: f64,
    /// Its Poisson covariance with the quotient, likewise.
    pub(super) with_quotient: f64,
}

/// The kernel sums of a grid: finds, track, and the track with squared kernels.
pub(super) struct Sums {
    pub(super) finds: Derivatives,
    pub(super) track: Derivatives,
    pub(super) squares: Derivatives,
    pub(super) bandwidth: f64,
}

type Pair = [f64; 2];

fn dot(a: Pair, b: Pair) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// A symmetric matrix: its first row, then the last value.
type Matrix = [f64; 3];

fn times(m: Matrix, v: Pair) -> Pair {
    [m[0] * v[0] + m[1] * v[1], m[1] * v[0] + m[2] * v[1]]
}

fn inverse(m: Matrix) -> Option<Matrix> {
    let determinant = m[0] * m[2] - m[1] * m[1];
    (determinant > 0.0 && m[0] > 0.0)
        .then(|| [m[2] / determinant, -m[1] / determinant, m[0] / determinant])
}

impl Sums {
    /// The correction of a cell; `None` where its moments are not determined.
    pub(super) fn correction(&self, cell: usize) -> Option<Correction> {
        let (h, track) = (self.bandwidth, &self.track);
        let whole = track.value[cell];
        let first = |of: &Derivatives| [h * of.first[0][cell], h * of.first[1][cell]];
        let second = |of: &Derivatives| [0, 1, 2].map(|place| h * h * of.second[place][cell]);
        let s = first(track).map(|value| value / whole);
        let [east, both, north] = second(track).map(|value| value / whole);
        let floor = |variance: f64| variance.max(0.0) + RIDGE;
        let covariance =
            [floor(1.0 + east - s[0] * s[0]), both - s[0] * s[1], floor(1.0 + north - s[1] * s[1])];
        let g = times(inverse(covariance)?, s);
        let quotient = self.finds.value[cell].max(0.0) / whole;
        let of_finds = first(&self.finds).map(|value| value / whole);
        let amount = dot(g, [0, 1].map(|axis| of_finds[axis] - s[axis] * quotient));
        // squared kernels are Gaussian with half the variance
        let all = self.squares.value[cell];
        let mean = first(&self.squares).map(|value| 0.5 * value / all);
        let [east, both, north] = second(&self.squares).map(|value| 0.25 * value / all);
        let of_squares = dot(g, times([0.5 + east, both, 0.5 + north], g));
        let (gs, gm) = (dot(g, s), dot(g, mean));
        let noise = of_squares - 2.0 * gs * gm + gs * gs;
        let found = Correction { amount, aside: dot(s, s), noise, with_quotient: gm - gs };
        let sound = amount.is_finite() && noise.is_finite() && noise >= 0.0;
        (sound && quotient > 0.0 && found.aside < FARTHEST).then_some(found)
    }
}

/// Farther than this many bandwidths, squared, from the middle of the track no line is drawn to a cell.
const FARTHEST: f64 = 4.0;

impl Correction {
    /// What is taken from the quotient at this share of the correction: it neither falls below nothing nor
    /// doubles.
    pub(super) fn taken(&self, share: f64, quotient: f64) -> f64 {
        (share * self.amount).clamp(-quotient, quotient)
    }

    /// The Poisson variance of the corrected quotient as a multiple of that of the quotient.
    pub(super) fn inflation(&self, share: f64) -> f64 {
        (1.0 - 2.0 * share * self.with_quotient + share * share * self.noise).max(LEAST)
    }
}

/// The least multiple: a line does not make a rate much better known.
const LEAST: f64 = 0.5;
