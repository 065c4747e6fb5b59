//! Gives effects of weather intervals over years: outings of one year share more than their weather, so the
//! year is the unit that is resampled, as in the test and in the cross-validation. Layer: `analyse`.
//!
//! # Method
//! The model is fitted again without each year, with the same smoothness and the same variance of counts. The
//! standard error of a combination of coefficients is that of the jackknife over years, with Student's t of
//! years less one; the interval is no narrower than that of the coefficients given the data.
//!
//! # References
//! Efron & Tibshirani 1993, An Introduction to the Bootstrap, 11.5 and 11.6 (the jackknife, blocks left out).

use rayon::prelude::*;

use super::cases::Cases;
use super::effect::Factor;
use crate::analyse::penalised::{Fit, Problem};
use crate::analyse::statistics::student_quantile;

/// The fewest years for a jackknife.
const LEAST_YEARS: usize = 3;

/// A fit, and its coefficients without each year.
#[derive(Clone, Debug)]
pub(super) struct Yearly {
    pub(super) fit: Fit,
    without: Vec<Vec<f64>>,
}

impl Yearly {
    /// The observations of the problem are those of the cases, in their order.
    pub(super) fn of(cases: &Cases, problem: &Problem, fit: Fit) -> Self {
        let years = cases.years.len();
        let without: Vec<Vec<f64>> = if years < LEAST_YEARS {
            Vec::new()
        } else {
            (0..years)
                .into_par_iter()
                .filter_map(|year| {
                    let others = others(cases, problem, year);
                    let any = others.observations.iter().any(|one| one.count > 0.0);
                    any.then(|| others.fit_with(fit.scatter, Some(&fit), 0)).flatten()
                })
                .map(|fit| fit.beta)
                .collect()
        };
        Self { fit, without }
    }

    /// The factor of a combination of coefficients.
    pub(super) fn factor(&self, weights: &[(usize, f64)]) -> Factor {
        let (log, error) = self.fit.combined(weights);
        let wide = (1.959_964 * error).max(self.half_width(weights));
        Factor { factor: log.exp(), low95: (log - wide).exp(), high95: (log + wide).exp() }
    }

    /// Half of the interval of the jackknife; 0 with too few years.
    fn half_width(&self, weights: &[(usize, f64)]) -> f64 {
        let values: Vec<f64> = self
            .without
            .iter()
            .map(|beta| weights.iter().map(|(i, weight)| weight * beta[*i]).sum())
            .collect();
        let count = values.len() as f64;
        if values.len() < LEAST_YEARS {
            return 0.0;
        }
        let mean = values.iter().sum::<f64>() / count;
        let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
        student_quantile(count - 1.0, 0.975) * ((count - 1.0) / count * squares).sqrt()
    }

    /// How much wider the interval over years is than that of the coefficients, at least 1.
    pub(super) fn widened(&self, weights: &[(usize, f64)]) -> f64 {
        let (_, error) = self.fit.combined(weights);
        (self.half_width(weights) / (1.959_964 * error).max(1e-12)).max(1.0)
    }
}

/// The problem without the outings of a year.
fn others(cases: &Cases, problem: &Problem, year: usize) -> Problem {
    let kept = cases.list.iter().zip(&problem.observations).filter(|(case, _)| case.year != year);
    Problem {
        observations: kept.map(|(_, one)| one.clone()).collect(),
        columns: problem.columns,
        penalties: problem.penalties.clone(),
    }
}
