//! How many finds per hour searched, at each time of the year? A Poisson model with the hours as
//! exposure and a smooth curve that closes over New Year. Layer: `analyse`.
//!
//! # Method
//! The logarithm of the rate is a cyclic cubic spline with 24 knots, held smooth by a penalty on
//! second differences of its coefficients. The penalty's weight is the one with the highest marginal
//! likelihood (Laplace's approximation). Counts that scatter more than Poisson's are allowed for: the
//! likelihood is divided by the dispersion.
//!
//! # References
//! Eilers & Marx 1996, Flexible smoothing with B-splines and penalties, Statistical Science 11:89;
//! Wood 2011, Fast stable restricted maximum likelihood, JRSS B 73:3; `McCullagh` & Nelder 1989,
//! Generalized Linear Models, 2nd ed., 9.2 (dispersion).

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
    /// Finds, weighted where outings are resampled.
    pub finds: f64,
}

/// A fitted curve.
#[derive(Clone, Debug)]
pub struct Curve {
    /// Coefficients of the basis.
    pub coefficients: Vec<f64>,
    /// Their covariance, row by row, dispersion included.
    pub covariance: Vec<f64>,
    /// The weight of the penalty.
    pub smoothness: f64,
    /// Poisson log likelihood, without the term that depends on the counts alone.
    pub log_likelihood: f64,
    /// Poisson deviance.
    pub deviance: f64,
    /// Effective degrees of freedom of the curve.
    pub freedom: f64,
    marginal: f64,
}

/// The four basis functions that are not zero at a phase: their columns and values.
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

/// Fits with the smoothness that has the highest marginal likelihood, given the dispersion.
/// `None` when there are no finds or no hours.
#[must_use]
pub fn fit(tallies: &[Tally], dispersion: f64) -> Option<Curve> {
    let coarse = (-2..=10).map(|step| 10_f64.powf(f64::from(step) * 0.5));
    let best = best_of(tallies, coarse, dispersion)?;
    let near = [0.56, 1.0, 1.78].map(|factor| factor * best.smoothness);
    best_of(tallies, near.into_iter(), dispersion)
}

/// Fits with the best of a few smoothnesses: for resamples, which must be free to be less smooth than
/// the whole.
#[must_use]
pub fn fit_coarsely(tallies: &[Tally], dispersion: f64) -> Option<Curve> {
    best_of(tallies, [0.3, 3.0, 30.0, 300.0, 1e4].into_iter(), dispersion)
}

fn best_of(
    tallies: &[Tally],
    choices: impl Iterator<Item = f64>,
    dispersion: f64,
) -> Option<Curve> {
    choices
        .filter_map(|smoothness| fit_with(tallies, KNOTS, smoothness, dispersion))
        .max_by(|a, b| a.marginal.total_cmp(&b.marginal))
}

/// The dispersion of the counts about a curve as flexible as the data allow: Pearson's chi-square
/// over its degrees of freedom, never below 1.
#[must_use]
pub fn dispersion(tallies: &[Tally]) -> f64 {
    let Some(curve) = fit(tallies, 1.0) else { return 1.0 };
    let mut chi_square = 0.0;
    let mut used = 0.0;
    for tally in tallies.iter().filter(|tally| tally.hours > 0.0) {
        // cells with next to no expectation say nothing, but could dominate the sum
        let expected = tally.hours * curve.rate(tally.phase);
        if expected > 0.2 {
            chi_square += (tally.finds - expected).powi(2) / expected;
            used += 1.0;
        }
    }
    let left = used - curve.freedom;
    if left < 5.0 { 1.0 } else { (chi_square / left).max(1.0) }
}

/// Fits with a given smoothness (0 for none) by penalised iterated least squares.
#[must_use]
pub fn fit_with(
    tallies: &[Tally],
    knots: usize,
    smoothness: f64,
    dispersion: f64,
) -> Option<Curve> {
    let used: Vec<(Tally, [(usize, f64); 4])> = tallies
        .iter()
        .filter(|tally| tally.hours > 0.0 && tally.hours.is_finite() && tally.finds >= 0.0)
        .map(|tally| (*tally, basis(tally.phase, knots)))
        .collect();
    let finds: f64 = used.iter().map(|(tally, _)| tally.finds).sum();
    let hours: f64 = used.iter().map(|(tally, _)| tally.hours).sum();
    if finds <= 0.0 || hours <= 0.0 {
        return None;
    }
    let penalty = penalty(knots, smoothness);
    let mut beta = vec![(finds / hours).ln(); knots];
    let mut last = f64::NEG_INFINITY;
    for _ in 0..100 {
        let (matrix, gradient) = normal_equations(&used, &beta, &penalty, dispersion);
        let step = Cholesky::of(&matrix, knots)?.solve(&gradient);
        let (next, value) = stepped(&used, &beta, &step, &penalty, dispersion)?;
        beta = next;
        if (value - last).abs() < 1e-11 * (1.0 + value.abs()) {
            break;
        }
        last = value;
    }
    finish(&used, beta, &penalty, smoothness, dispersion)
}

type Row = (Tally, [(usize, f64); 4]);

/// The penalty matrix: cyclic second differences, and a trace of ridge so that a stretch of the year
/// without hours is still determined.
fn penalty(knots: usize, smoothness: f64) -> Vec<f64> {
    let mut matrix = vec![0.0; knots * knots];
    for row in 0..knots {
        let taken = [(row, 1.0), ((row + 1) % knots, -2.0), ((row + 2) % knots, 1.0)];
        for (i, a) in taken {
            for (j, b) in taken {
                matrix[i * knots + j] += smoothness * a * b;
            }
        }
    }
    matrix
}

fn log_rate(row: &Row, beta: &[f64]) -> f64 {
    row.1.iter().map(|(column, value)| value * beta[*column]).sum::<f64>().clamp(-50.0, 50.0)
}

fn normal_equations(
    rows: &[Row],
    beta: &[f64],
    penalty: &[f64],
    dispersion: f64,
) -> (Vec<f64>, Vec<f64>) {
    let knots = beta.len();
    let mut matrix = penalty.to_vec();
    let mut gradient: Vec<f64> = (0..knots)
        .map(|i| -(0..knots).map(|j| penalty[i * knots + j] * beta[j]).sum::<f64>())
        .collect();
    for row in rows {
        let expected = row.0.hours * log_rate(row, beta).exp();
        for (i, a) in row.1 {
            gradient[i] += a * (row.0.finds - expected) / dispersion;
            for (j, b) in row.1 {
                matrix[i * knots + j] += a * b * expected / dispersion;
            }
        }
    }
    for i in 0..knots {
        matrix[i * knots + i] += 1e-9;
    }
    (matrix, gradient)
}

fn log_likelihood(rows: &[Row], beta: &[f64]) -> f64 {
    rows.iter()
        .map(|row| {
            let log = log_rate(row, beta);
            row.0.finds * (log + row.0.hours.ln()) - row.0.hours * log.exp()
        })
        .sum()
}

fn roughness(beta: &[f64], penalty: &[f64]) -> f64 {
    let knots = beta.len();
    (0..knots * knots).map(|k| beta[k / knots] * penalty[k] * beta[k % knots]).sum()
}

/// Takes the step, or half of it and so on, until the penalised likelihood does not fall.
fn stepped(
    rows: &[Row],
    beta: &[f64],
    step: &[f64],
    penalty: &[f64],
    dispersion: f64,
) -> Option<(Vec<f64>, f64)> {
    let value =
        |beta: &[f64]| log_likelihood(rows, beta) / dispersion - roughness(beta, penalty) / 2.0;
    let before = value(beta);
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

fn finish(
    rows: &[Row],
    beta: Vec<f64>,
    penalty: &[f64],
    smoothness: f64,
    dispersion: f64,
) -> Option<Curve> {
    let knots = beta.len();
    let (matrix, _) = normal_equations(rows, &beta, penalty, dispersion);
    let factor = Cholesky::of(&matrix, knots)?;
    let covariance = factor.inverse();
    let log_likelihood = log_likelihood(rows, &beta);
    let taken_by_penalty: f64 =
        (0..knots * knots).map(|k| covariance[k] * penalty[(k % knots) * knots + k / knots]).sum();
    let rank = knots as f64 - 1.0;
    let marginal = log_likelihood / dispersion - roughness(&beta, penalty) / 2.0
        + rank / 2.0 * smoothness.max(1e-12).ln()
        - factor.log_determinant() / 2.0;
    let deviance = 2.0
        * rows
            .iter()
            .map(|row| {
                let expected = row.0.hours * log_rate(row, &beta).exp();
                let finds = row.0.finds;
                let log = if finds > 0.0 { finds * (finds / expected).ln() } else { 0.0 };
                log - (finds - expected)
            })
            .sum::<f64>();
    Some(Curve {
        coefficients: beta,
        covariance,
        smoothness,
        log_likelihood,
        deviance,
        freedom: knots as f64 - taken_by_penalty,
        marginal,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::chance::Dice;

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
            marginal: 0.0,
        };
        assert!((curve.rate(1e-9) - curve.rate(1.0 - 1e-9)).abs() < 1e-6);
    }

    #[test]
    fn uneven_effort_does_not_move_the_peak() {
        let mut dice = Dice::new(2);
        let tallies: Vec<Tally> = (0..300)
            .map(|_| {
                // most hours are spent in March, the rate is highest in May
                let phase = (0.22 + 0.09 * dice.normal()).rem_euclid(1.0);
                let hours = 3.0;
                let rate = 4.0 * (-0.5 * ((phase - 0.36) / 0.06_f64).powi(2)).exp();
                Tally { phase, hours, finds: f64::from(dice.poisson(rate * hours)) }
            })
            .collect();
        let curve = fit(&tallies, 1.0).unwrap();
        let peak = (0..365)
            .map(|day| f64::from(day) / 365.0)
            .max_by(|a, b| curve.rate(*a).total_cmp(&curve.rate(*b)))
            .unwrap();
        assert!((peak - 0.36).abs() < 0.03, "{peak}");
        assert!((curve.rate(0.36) / 4.0 - 1.0).abs() < 0.35);
    }

    #[test]
    fn no_finds_or_no_hours_give_no_curve() {
        assert!(fit(&[], 1.0).is_none());
        assert!(fit(&[Tally { phase: 0.3, hours: 2.0, finds: 0.0 }], 1.0).is_none());
        assert!(fit(&[Tally { phase: 0.3, hours: 0.0, finds: 2.0 }], 1.0).is_none());
    }
}
