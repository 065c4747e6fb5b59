//! Fits counts by a log-linear model with several quadratic penalties, whose weights are those of the
//! highest restricted likelihood. Layer: `analyse`.
//!
//! # Method
//! Counts have the variance m + a m² about their expectation m = exp(offset + row · β). β maximises the
//! quasi-likelihood less half the sum of λ β'Sβ over all penalties, by Newton steps on the expected
//! information. Each λ follows the generalised Fellner-Schall update: λ = (rank - λ tr(V S)) / β'Sβ, V the
//! inverse of the penalised information, until nothing changes; for a penalty whose variance is kept from
//! vanishing, with a prior in proportion to the standard deviation, λ = (rank - 1) / (β'Sβ + tr(V S)). Penalties of one model must have ranges
//! that do not overlap. V is the covariance of β given the data (Nychka 1988).
//!
//! # References
//! Wood & Fasiolo 2017, A generalized Fellner-Schall method for smoothing parameter optimization,
//! Biometrics 73:1071; Wood 2017, Generalized Additive Models, 2nd ed., 6.5 and 6.10; Nychka 1988, Bayesian
//! confidence intervals for smoothing splines, JASA 83:1134.

mod design;
mod grouped;
mod penalty;

pub use grouped::Grouped;
pub use penalty::Penalty;

use design::Design;

use super::season::matrix::Cholesky;
use super::season::rate::{Scatter, stepped};
use super::statistics::Rng;

/// One count with its row of the design, zeros left out.
#[derive(Clone, Debug)]
pub struct Observation {
    /// Columns and values.
    pub row: Vec<(usize, f64)>,
    /// The logarithm of the effort.
    pub offset: f64,
    /// The count.
    pub count: f64,
}

impl Observation {
    /// The logarithm of the expectation.
    #[must_use]
    pub fn log_expected(&self, beta: &[f64]) -> f64 {
        let own: f64 = self.row.iter().map(|(column, value)| value * beta[*column]).sum();
        (self.offset + own).clamp(-50.0, 50.0)
    }
}

/// Counts, the number of columns, and the penalties.
#[derive(Clone, Debug)]
pub struct Problem {
    /// The counts.
    pub observations: Vec<Observation>,
    /// How many coefficients.
    pub columns: usize,
    /// The penalties.
    pub penalties: Vec<Penalty>,
}

/// A fitted model.
#[derive(Clone, Debug)]
pub struct Fit {
    /// The coefficients.
    pub beta: Vec<f64>,
    /// Their covariance, row by row.
    pub covariance: Vec<f64>,
    /// The weight of each penalty.
    pub lambda: Vec<f64>,
    /// The variance of counts.
    pub scatter: Scatter,
    /// Effective degrees of freedom.
    pub freedom: f64,
}

/// The bounds of a penalty's weight.
const BOUNDS: (f64, f64) = (1e-5, 1e7);
/// A keeping of the matrix positive where columns say nothing.
const RIDGE: f64 = 1e-8;
/// Updates of the weights at the most.
const UPDATES: usize = 80;
/// By how much the steps of the weights of kept penalties are lengthened: they are those of expectation and
/// maximisation, which are slow.
const HURRY: f64 = 1.7;

impl Problem {
    /// Fits with the variance of counts estimated by moments.
    #[must_use]
    pub fn fit(&self) -> Option<Fit> {
        let mut scatter = Scatter { per_find: 1.0, per_outing: 0.3 };
        let mut fit: Option<Fit> = None;
        for _ in 0..4 {
            let next = self.fit_with(scatter, fit.as_ref(), UPDATES)?;
            let before = scatter.per_outing;
            scatter = self.scatter(&next).unwrap_or(scatter);
            fit = Some(Fit { scatter, ..next });
            if (scatter.per_outing - before).abs() < 0.01 * (0.1 + before) {
                break;
            }
        }
        self.fit_with(scatter, fit.as_ref(), UPDATES)
    }

    /// Fits with this variance of counts, from an earlier fit if there is one.
    #[must_use]
    pub fn fit_with(&self, scatter: Scatter, from: Option<&Fit>, updates: usize) -> Option<Fit> {
        let design = Design::of(&self.observations);
        let mut beta = from.map_or_else(|| self.start(), |fit| fit.beta.clone());
        let mut lambda = from
            .map_or_else(|| self.first_weights(&design, &beta, scatter), |fit| fit.lambda.clone());
        let mut factor = self.settle(&design, &mut beta, &lambda, scatter)?;
        for _ in 0..updates {
            let covariance = factor.inverse();
            let moved = self.update(&mut lambda, &beta, &covariance);
            factor = self.settle(&design, &mut beta, &lambda, scatter)?;
            if moved < 0.02 {
                break;
            }
        }
        let covariance = factor.inverse();
        let taken: f64 = self
            .penalties
            .iter()
            .zip(&lambda)
            .map(|(penalty, lambda)| lambda * penalty.trace(&covariance, self.columns))
            .sum();
        let freedom = self.columns as f64 - taken;
        Some(Fit { beta, covariance, lambda, scatter, freedom })
    }

    /// All zero but the columns that carry the level: those of no penalty start at zero too, so the level
    /// is spread by the first Newton step from the mean rate.
    fn start(&self) -> Vec<f64> {
        vec![0.0; self.columns]
    }

    /// Weights at which each penalty is as strong as the data along its own columns.
    fn first_weights(&self, design: &Design, beta: &[f64], scatter: Scatter) -> Vec<f64> {
        let (information, _) =
            self.equations(design, beta, &vec![0.0; self.penalties.len()], scatter);
        self.penalties
            .iter()
            .map(|penalty| {
                let own: f64 = (penalty.first..penalty.first + penalty.size)
                    .map(|i| information[i * self.columns + i])
                    .sum();
                let size: f64 = (0..penalty.size).map(|i| penalty.entry(i, i)).sum();
                (0.3 * own / size.max(1e-12)).clamp(BOUNDS.0, BOUNDS.1)
            })
            .collect()
    }

    /// The largest change of the logarithm of a weight.
    fn update(&self, lambda: &mut [f64], beta: &[f64], covariance: &[f64]) -> f64 {
        let mut moved: f64 = 0.0;
        for (penalty, lambda) in self.penalties.iter().zip(lambda) {
            let (own, size) = (penalty.trace(covariance, self.columns), penalty.size_of(beta));
            let next = if penalty.kept {
                let ratio = (penalty.rank - 1.0).max(0.5) / (*lambda * (size + own)).max(1e-15);
                *lambda * ratio.powf(HURRY)
            } else {
                (penalty.rank - *lambda * own).max(1e-9) / size.max(1e-15)
            };
            let next = next.clamp(*lambda / 30.0, *lambda * 30.0).clamp(BOUNDS.0, BOUNDS.1);
            moved = moved.max((next / *lambda).ln().abs());
            *lambda = next;
        }
        moved
    }

    /// Newton steps until convergence; the factor of the last information.
    fn settle(
        &self,
        design: &Design,
        beta: &mut Vec<f64>,
        lambda: &[f64],
        scatter: Scatter,
    ) -> Option<Cholesky> {
        let value = |beta: &[f64]| self.value(beta, lambda, scatter);
        let mut last = value(beta);
        for _ in 0..60 {
            let (matrix, gradient) = self.equations(design, beta, lambda, scatter);
            let step = Cholesky::of(&matrix, self.columns)?.solve(&gradient);
            let Some((next, now)) = stepped(beta, last, &step, value) else { break };
            let gained = now - last;
            (*beta, last) = (next, now);
            if gained.abs() < 1e-11 * (1.0 + now.abs()) {
                break;
            }
        }
        let (matrix, _) = self.equations(design, beta, lambda, scatter);
        Cholesky::of(&matrix, self.columns)
    }

    fn value(&self, beta: &[f64], lambda: &[f64], scatter: Scatter) -> f64 {
        let penalty: f64 = self
            .penalties
            .iter()
            .zip(lambda)
            .map(|(penalty, lambda)| lambda * penalty.size_of(beta))
            .sum();
        self.likelihood(beta, scatter) - penalty / 2.0
    }

    /// The quasi-likelihood.
    #[must_use]
    pub fn likelihood(&self, beta: &[f64], scatter: Scatter) -> f64 {
        self.observations
            .iter()
            .map(|one| scatter.likelihood(one.count, one.log_expected(beta)))
            .sum()
    }

    /// The penalised information, row by row, and the gradient.
    fn equations(
        &self,
        design: &Design,
        beta: &[f64],
        lambda: &[f64],
        scatter: Scatter,
    ) -> (Vec<f64>, Vec<f64>) {
        let columns = self.columns;
        let mut matrix = vec![0.0; columns * columns];
        let mut gradient = vec![0.0; columns];
        for (row, one) in self.observations.iter().enumerate() {
            let expected = one.log_expected(beta).exp();
            let excess = scatter.excess(expected);
            let weights = ((one.count - expected) / excess, expected / excess);
            design.add(row, weights, &mut gradient, &mut matrix);
        }
        for i in 0..columns {
            for j in 0..i {
                matrix[i * columns + j] = matrix[j * columns + i];
            }
        }
        for (penalty, lambda) in self.penalties.iter().zip(lambda) {
            penalty.add(*lambda, beta, &mut matrix, &mut gradient);
        }
        for i in 0..columns {
            matrix[i * columns + i] += RIDGE;
        }
        (matrix, gradient)
    }

    /// The variance for which Pearson's chi-square equals its degrees of freedom.
    fn scatter(&self, fit: &Fit) -> Option<Scatter> {
        let expected: Vec<(f64, f64)> = self
            .observations
            .iter()
            .map(|one| (one.count, one.log_expected(&fit.beta).exp()))
            .filter(|(_, expected)| *expected > 0.2)
            .collect();
        // freedom that belongs to counts left out is left out in proportion
        let share = expected.len() as f64 / self.observations.len().max(1) as f64;
        let left = expected.len() as f64 - share * fit.freedom;
        if left < 5.0 {
            return None;
        }
        let chi_square = |per_outing: f64| -> f64 {
            let scatter = Scatter { per_find: 1.0, per_outing };
            expected.iter().map(|(y, m)| (y - m).powi(2) / (m * scatter.excess(*m))).sum()
        };
        let per_outing = super::season::rate::falls_to(chi_square, left);
        Some(Scatter { per_find: 1.0, per_outing })
    }
}

impl Fit {
    /// A combination of coefficients with its standard error.
    #[must_use]
    pub fn combined(&self, weights: &[(usize, f64)]) -> (f64, f64) {
        let columns = self.beta.len();
        let value = weights.iter().map(|(i, w)| w * self.beta[*i]).sum();
        let mut variance = 0.0;
        for (i, a) in weights {
            for (j, b) in weights {
                variance += a * b * self.covariance[i * columns + j];
            }
        }
        (value, f64::max(variance, 0.0).sqrt())
    }

    /// Coefficients drawn from their distribution given the data.
    #[must_use]
    pub fn drawn(&self, times: usize, rng: &mut Rng) -> Vec<Vec<f64>> {
        let columns = self.beta.len();
        let Some(factor) = Cholesky::of(&self.covariance, columns) else { return Vec::new() };
        (0..times)
            .map(|_| {
                let normal: Vec<f64> = (0..columns).map(|_| rng.normal()).collect();
                self.beta.iter().zip(factor.times(&normal)).map(|(b, away)| b + away).collect()
            })
            .collect()
    }
}

#[cfg(test)]
mod tests;
