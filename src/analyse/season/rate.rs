//! Fits the rate of finds per hour searched through the year. A Poisson model with search hours as
//! exposure and a cyclic smooth term. Layer: `analyse`.
//!
//! # Method
//! The logarithm of the rate is a cyclic cubic spline with 24 knots, held smooth by a penalty on
//! second differences of its coefficients. The penalty's weight is the one with the highest
//! marginal likelihood (Laplace's approximation). Outings have their overdispersion: the variance
//! of a count with the expectation m is m + a m², so that one outing with many finds does not
//! outweigh ten others; a is estimated by moments, alternating with the curve.
//!
//! # Accuracy
//! Without a penalty the coefficients agree with those of statsmodels' GLM to 1e-6 (`docs/season.md`).
//!
//! # References
//! Eilers & Marx 1996, Flexible smoothing with B-splines and penalties, Statistical Science 11:89;
//! Wood 2011, Fast stable restricted maximum likelihood, JRSS B 73:3; `McCullagh` & Nelder 1989,
//! Generalized Linear Models, 2nd ed., 9.2 (quasi-likelihood); Breslow 1984, Extra-Poisson
//! variation in log-linear models, Applied Statistics 33:38 (moments).

use super::matrix::Cholesky;

/// Knots in the year: one each 15 days.
pub const KNOTS: usize = 24;

/// Finds and hours at one time of the year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tally {
    /// The time of the year, 0 (included) to 1 (excluded).
    pub phase: f64,
    /// Hours searched.
    pub hours: f64,
    /// Finds.
    pub finds: f64,
    /// Its weight: not 1 where outings are resampled.
    pub times: f64,
}

/// The variance of counts with expectation m: `per_find` m + `per_outing` m².
///
/// Either form of overdispersion or both: `per_find` is the dispersion of quasi-likelihood, `per_outing` that of a
/// negative binomial variance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scatter {
    /// 1 for a Poisson variance.
    pub per_find: f64,
    /// The squared coefficient of variation between outings; 0 for a Poisson variance.
    pub per_outing: f64,
}

impl Scatter {
    /// Poisson's.
    pub const POISSON: Self = Self { per_find: 1.0, per_outing: 0.0 };

    /// The variance over the expectation.
    pub(in crate::analyse) fn excess(self, expected: f64) -> f64 {
        self.per_find + self.per_outing * expected
    }

    /// The quasi-likelihood of a count: the integral of (finds - m) over the variance.
    pub(in crate::analyse) fn likelihood(self, finds: f64, log_expected: f64) -> f64 {
        let expected = log_expected.exp();
        let excess = self.excess(expected);
        let against = if self.per_outing > 1e-9 {
            (excess / self.per_find).ln() / self.per_outing
        } else {
            expected / self.per_find
        };
        finds / self.per_find * (log_expected - (excess / self.per_find).ln()) - against
    }
}

/// A fitted curve.
#[derive(Clone, Debug)]
pub struct Curve {
    /// Coefficients of the basis.
    pub coefficients: Vec<f64>,
    /// Their covariance, row by row, including overdispersion.
    pub covariance: Vec<f64>,
    /// The weight of the penalty.
    pub smoothness: f64,
    /// The quasi-likelihood (the log likelihood for a Poisson variance), without the term that
    /// depends on the counts alone.
    pub log_likelihood: f64,
    /// Poisson deviance.
    pub deviance: f64,
    /// Effective degrees of freedom of the curve.
    pub freedom: f64,
}

/// The four basis functions that are not zero at a phase: their columns and values.
///
/// Cubic B-splines on equal knots, joined across New Year; the four values add up to one.
///
/// # Examples
/// ```
/// use trug::analyse::season::rate::{KNOTS, basis};
///
/// let sum: f64 = basis(0.999, KNOTS).iter().map(|(_, value)| value).sum();
/// assert!((sum - 1.0).abs() < 1e-12);
/// // the last columns continue with the first ones
/// assert_eq!(basis(0.999, KNOTS)[1].0, 0);
/// ```
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a phase is in 0..1")]
pub fn basis(phase: f64, knots: usize) -> [(usize, f64); 4] {
    let place = phase.rem_euclid(1.0) * knots as f64;
    let (first, u) = (place.floor() as usize, place.fract());
    let v = 1.0 - u;
    [
        (first % knots, v * v * v / 6.0),
        ((first + 1) % knots, (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0),
        ((first + 2) % knots, (3.0 * v * v * v - 6.0 * v * v + 4.0) / 6.0),
        ((first + 3) % knots, u * u * u / 6.0),
    ]
}

impl Curve {
    /// Finds per hour at a time of the year.
    #[must_use]
    pub fn rate(&self, phase: f64) -> f64 {
        self.log_rate(phase).exp()
    }

    fn log_rate(&self, phase: f64) -> f64 {
        let knots = self.coefficients.len();
        basis(phase, knots).iter().map(|(column, value)| value * self.coefficients[*column]).sum()
    }

    /// One standard error of the logarithm of the rate.
    ///
    /// Where next to nothing was found the logarithm is far from normal; `band` has the upper bound there.
    #[must_use]
    pub fn log_error(&self, phase: f64) -> f64 {
        let knots = self.coefficients.len();
        let row = basis(phase, knots);
        let mut variance = 0.0;
        for (i, a) in row {
            for (j, b) in row {
                variance += a * b * self.covariance[i * knots + j];
            }
        }
        variance.max(0.0).sqrt()
    }
}

/// Fits with the smoothness that has the highest marginal likelihood. `None` when there are no
/// finds or no hours.
///
/// With few finds the highest marginal likelihood is that of a flat curve: no peak is then reported.
#[must_use]
pub fn fit(tallies: &[Tally], scatter: Scatter) -> Option<Curve> {
    let rows = Rows::of(tallies, KNOTS)?;
    let start = Fitted::constant(&rows);
    let top = climb(&rows, scatter, &start, 4)?;
    finish(&rows, top, scatter)
}

/// The coefficients alone, for resamples: starting from those of the full data, with their own
/// smoothness.
#[must_use]
pub(super) fn refit(tallies: &[Tally], scatter: Scatter, whole: &Curve) -> Option<Vec<f64>> {
    let rows = Rows::of(tallies, whole.coefficients.len())?;
    let start =
        Fitted { beta: whole.coefficients.clone(), smoothness: whole.smoothness, marginal: 0.0 };
    climb(&rows, scatter, &start, 1).map(|top| top.beta)
}

/// Finds the smoothness with the highest marginal likelihood from 0.1 to 100,000, in decades first,
/// then in decreasing steps.
fn climb(rows: &Rows, scatter: Scatter, start: &Fitted, finest: i32) -> Option<Fitted> {
    let at = |log: f64, from: &Fitted| settle(rows, from, 10_f64.powf(log), scatter);
    let mut log = start.smoothness.log10().clamp(-1.0, 5.0);
    let mut top = at(log, start)?;
    let mut step = 1.0;
    for _ in 0..finest {
        for way in [step, -step] {
            let mut moved = false;
            while (-1.001..=5.001).contains(&(log + way)) {
                let Some(next) = at(log + way, &top) else { break };
                if next.marginal <= top.marginal {
                    break;
                }
                (log, top, moved) = (log + way, next, true);
            }
            if moved {
                break;
            }
        }
        step /= 2.0;
    }
    Some(top)
}

/// The variance of counts about a smooth curve, by moments (Breslow 1984): that for which Pearson's
/// chi-square equals its degrees of freedom.
#[must_use]
pub fn scatter(tallies: &[Tally]) -> Scatter {
    // starts at a moderate overdispersion, since an overfitted curve would leave none
    let mut scatter = Scatter { per_find: 1.0, per_outing: 0.3 };
    for _ in 0..4 {
        let Some(curve) = fit(tallies, scatter) else { return Scatter::POISSON };
        let expected = expectations(tallies, &curve);
        let left = expected.len() as f64 - curve.freedom;
        if left < 5.0 {
            return scatter;
        }
        let chi_square = |per_outing: f64| -> f64 {
            let scatter = Scatter { per_find: 1.0, per_outing };
            expected.iter().map(|(y, m)| (y - m).powi(2) / (m * scatter.excess(*m))).sum()
        };
        scatter.per_outing = falls_to(chi_square, left);
    }
    scatter
}

/// The overdispersion relative to Poisson: Pearson's chi-square over its degrees of freedom, at
/// least 1.
#[must_use]
pub fn dispersion(tallies: &[Tally], curve: &Curve) -> f64 {
    let expected = expectations(tallies, curve);
    let left = expected.len() as f64 - curve.freedom;
    let chi_square: f64 = expected.iter().map(|(y, m)| (y - m).powi(2) / m).sum();
    if left < 5.0 { 1.0 } else { (chi_square / left).max(1.0) }
}

/// Counts with their expectations. Tiny expectations are left out: they carry no information but
/// could dominate the sum.
fn expectations(tallies: &[Tally], curve: &Curve) -> Vec<(f64, f64)> {
    tallies
        .iter()
        .filter(|tally| tally.hours > 0.0)
        .map(|tally| (tally.finds, tally.hours * curve.rate(tally.phase)))
        .filter(|(_, expected)| *expected > 0.2)
        .collect()
}

/// Where a falling function comes down to a value, from 0 to 20.
pub(in crate::analyse) fn falls_to(value: impl Fn(f64) -> f64, goal: f64) -> f64 {
    let (mut low, mut high) = (0.0, 20.0);
    if value(low) <= goal {
        return low;
    }
    for _ in 0..50 {
        let middle = f64::midpoint(low, high);
        if value(middle) > goal { low = middle } else { high = middle }
    }
    high
}

/// Fits with a given smoothness (0 for none) by penalised iterated least squares.
#[must_use]
pub fn fit_with(
    tallies: &[Tally],
    knots: usize,
    smoothness: f64,
    scatter: Scatter,
) -> Option<Curve> {
    let rows = Rows::of(tallies, knots)?;
    let start = Fitted::constant(&rows);
    finish(&rows, settle(&rows, &start, smoothness, scatter)?, scatter)
}

/// Converged coefficients for a smoothness.
#[derive(Clone, Debug)]
struct Fitted {
    beta: Vec<f64>,
    smoothness: f64,
    marginal: f64,
}

impl Fitted {
    fn constant(rows: &Rows) -> Self {
        let total = |pick: fn(&Tally) -> f64| -> f64 {
            rows.list.iter().map(|row| row.0.times * pick(&row.0)).sum()
        };
        let rate = total(|tally| tally.finds) / total(|tally| tally.hours);
        Self { beta: vec![rate.ln(); rows.knots], smoothness: 10.0, marginal: 0.0 }
    }
}

type Row = (Tally, [(usize, f64); 4]);

/// The informative tallies, each with its part of the basis.
pub(super) struct Rows {
    list: Vec<Row>,
    knots: usize,
}

impl Rows {
    /// `None` without finds.
    pub(super) fn of(tallies: &[Tally], knots: usize) -> Option<Self> {
        let says = |tally: &&Tally| {
            tally.hours > 0.0
                && tally.hours.is_finite()
                && tally.finds >= 0.0
                && tally.finds.is_finite()
                && tally.times > 0.0
        };
        let list: Vec<Row> =
            tallies.iter().filter(says).map(|tally| (*tally, basis(tally.phase, knots))).collect();
        list.iter().any(|row| row.0.finds > 0.0).then_some(Self { list, knots })
    }

    pub(super) fn likelihood(&self, beta: &[f64], scatter: Scatter) -> f64 {
        self.list
            .iter()
            .map(|row| {
                let log = log_rate(row, beta) + row.0.hours.ln();
                row.0.times * scatter.likelihood(row.0.finds, log)
            })
            .sum()
    }

    /// The penalised information, row by row, and the gradient.
    pub(super) fn normal_equations(
        &self,
        beta: &[f64],
        smoothness: f64,
        scatter: Scatter,
    ) -> (Vec<f64>, Vec<f64>) {
        let knots = self.knots;
        let mut matrix = vec![0.0; knots * knots];
        let mut gradient: Vec<f64> =
            roughness_gradient(beta).iter().map(|slope| -smoothness * slope).collect();
        for row in &self.list {
            let expected = row.0.hours * log_rate(row, beta).exp();
            let weight = row.0.times / scatter.excess(expected);
            let (pull, hold) = (weight * (row.0.finds - expected), weight * expected);
            for (i, a) in row.1 {
                gradient[i] += a * pull;
                for (j, b) in row.1 {
                    matrix[i * knots + j] += a * b * hold;
                }
            }
        }
        for (place, entry) in matrix.iter_mut().enumerate() {
            let (i, j) = (place / knots, place % knots);
            *entry += smoothness * penalty(i, j, knots);
            if i == j {
                // a small ridge term, so that a part of the year without hours is still determined
                *entry += 1e-9;
            }
        }
        (matrix, gradient)
    }
}

/// An entry of the penalty matrix: cyclic second differences, squared.
fn penalty(i: usize, j: usize, knots: usize) -> f64 {
    let away = (i + knots - j) % knots;
    [(0, 6.0), (1, -4.0), (2, 1.0), (knots - 1, -4.0), (knots - 2, 1.0)]
        .iter()
        .filter(|(place, _)| *place == away)
        .map(|(_, value)| value)
        .sum()
}

/// Cyclic second differences.
fn bends(beta: &[f64]) -> Vec<f64> {
    let knots = beta.len();
    (0..knots).map(|i| beta[i] - 2.0 * beta[(i + 1) % knots] + beta[(i + 2) % knots]).collect()
}

pub(super) fn roughness(beta: &[f64]) -> f64 {
    bends(beta).iter().map(|bend| bend * bend).sum()
}

/// Half the gradient of the roughness: the penalty matrix times the coefficients.
fn roughness_gradient(beta: &[f64]) -> Vec<f64> {
    let (bends, knots) = (bends(beta), beta.len());
    (0..knots)
        .map(|i| bends[i] - 2.0 * bends[(i + knots - 1) % knots] + bends[(i + knots - 2) % knots])
        .collect()
}

fn log_rate(row: &Row, beta: &[f64]) -> f64 {
    row.1.iter().map(|(column, value)| value * beta[*column]).sum::<f64>().clamp(-50.0, 50.0)
}

/// Penalised scoring until convergence.
fn settle(rows: &Rows, start: &Fitted, smoothness: f64, scatter: Scatter) -> Option<Fitted> {
    let value = |beta: &[f64]| rows.likelihood(beta, scatter) - smoothness * roughness(beta) / 2.0;
    let mut beta = start.beta.clone();
    let mut last = value(&beta);
    for _ in 0..100 {
        let (matrix, gradient) = rows.normal_equations(&beta, smoothness, scatter);
        let step = Cholesky::of(&matrix, rows.knots)?.solve(&gradient);
        let (next, now) = stepped(&beta, last, &step, value)?;
        let gained = now - last;
        (beta, last) = (next, now);
        if gained.abs() < 1e-11 * (1.0 + now.abs()) {
            break;
        }
    }
    let (matrix, _) = rows.normal_equations(&beta, smoothness, scatter);
    let determinant = Cholesky::of(&matrix, rows.knots)?.log_determinant();
    let rank = rows.knots as f64 - 1.0;
    let marginal = last + rank / 2.0 * smoothness.max(1e-12).ln() - determinant / 2.0;
    Some(Fitted { beta, smoothness, marginal })
}

/// Takes the step, halved until the penalised likelihood does not decrease.
pub(in crate::analyse) fn stepped(
    beta: &[f64],
    before: f64,
    step: &[f64],
    value: impl Fn(&[f64]) -> f64,
) -> Option<(Vec<f64>, f64)> {
    let mut share = 1.0;
    for _ in 0..40 {
        let next: Vec<f64> = beta.iter().zip(step).map(|(b, s)| b + share * s).collect();
        let now = value(&next);
        if now.is_finite() && now >= before - 1e-9 * (1.0 + before.abs()) {
            return Some((next, now));
        }
        share /= 2.0;
    }
    None
}

fn finish(rows: &Rows, fitted: Fitted, scatter: Scatter) -> Option<Curve> {
    let Fitted { beta, smoothness, .. } = fitted;
    let knots = rows.knots;
    let (matrix, _) = rows.normal_equations(&beta, smoothness, scatter);
    let covariance = Cholesky::of(&matrix, knots)?.inverse();
    let taken_by_penalty: f64 = (0..knots * knots)
        .map(|k| covariance[k] * smoothness * penalty(k % knots, k / knots, knots))
        .sum();
    let deviance = rows
        .list
        .iter()
        .map(|row| {
            let expected = row.0.hours * log_rate(row, &beta).exp();
            let finds = row.0.finds;
            let log = if finds > 0.0 { finds * (finds / expected).ln() } else { 0.0 };
            2.0 * row.0.times * (log - (finds - expected))
        })
        .sum();
    Some(Curve {
        log_likelihood: rows.likelihood(&beta, scatter),
        coefficients: beta,
        covariance,
        smoothness,
        deviance,
        freedom: knots as f64 - taken_by_penalty,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;

    #[test]
    fn the_basis_adds_up_to_one_and_closes_the_year() {
        for phase in [0.0, 0.01, 0.5, 0.999_999, 1.0, -0.25] {
            let sum: f64 = basis(phase, KNOTS).iter().map(|(_, value)| value).sum();
            assert!((sum - 1.0).abs() < 1e-12);
        }
        let curve = Curve {
            coefficients: (0..KNOTS).map(|i| (i as f64).sin()).collect(),
            covariance: vec![0.0; KNOTS * KNOTS],
            smoothness: 1.0,
            log_likelihood: 0.0,
            deviance: 0.0,
            freedom: 1.0,
        };
        assert!((curve.rate(1e-9) - curve.rate(1.0 - 1e-9)).abs() < 1e-6);
    }

    #[test]
    fn uneven_effort_does_not_move_the_peak() {
        let mut rng = Rng::new(2);
        let tallies: Vec<Tally> = (0..300)
            .map(|_| {
                // most hours are spent in March, the rate is highest in May
                let phase = (0.22 + 0.09 * rng.normal()).rem_euclid(1.0);
                let hours = 3.0;
                let rate = 4.0 * (-0.5 * ((phase - 0.36) / 0.06_f64).powi(2)).exp();
                Tally { phase, hours, finds: f64::from(rng.poisson(rate * hours)), times: 1.0 }
            })
            .collect();
        let curve = fit(&tallies, Scatter::POISSON).unwrap();
        let peak = (0..365)
            .map(|day| f64::from(day) / 365.0)
            .max_by(|a, b| curve.rate(*a).total_cmp(&curve.rate(*b)))
            .unwrap();
        assert!((peak - 0.36).abs() < 0.03, "{peak}");
        assert!((curve.rate(0.36) / 4.0 - 1.0).abs() < 0.35);
    }

    #[test]
    fn no_finds_or_no_hours_give_no_curve() {
        assert!(fit(&[], Scatter::POISSON).is_none());
        assert!(
            fit(&[Tally { phase: 0.3, hours: 2.0, finds: 0.0, times: 1.0 }], Scatter::POISSON)
                .is_none()
        );
        assert!(
            fit(&[Tally { phase: 0.3, hours: 0.0, finds: 2.0, times: 1.0 }], Scatter::POISSON)
                .is_none()
        );
    }
}
