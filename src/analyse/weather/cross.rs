//! Compares a model with weather and the season alone by predicting years that were left out. Layer:
//! `analyse`.
//!
//! # References
//! Roberts and others 2017, Cross-validation strategies for data with temporal, spatial, hierarchical, or
//! phylogenetic structure, Ecography 40:913 (whole years are left out, since outings of one year share
//! what is not in the model); Gneiting & Raftery 2007, Strictly proper scoring rules, prediction, and
//! estimation, JASA 102:359 (the logarithmic score).

use rayon::prelude::*;
use serde::Serialize;

use super::cases::{Block, Cases};
use crate::analyse::penalised::{Fit, Problem};
use crate::analyse::statistics::student_quantile;

/// The fewest years to leave out.
const LEAST_YEARS: usize = 3;

/// What weather adds to the prediction of years that were left out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Gain {
    /// The mean gain of the logarithmic score for each outing.
    pub per_outing: f64,
    /// The lower end of its 95 % interval, from the differences between years.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
    /// Years that are predicted better.
    pub better_years: usize,
    /// Years that were left out.
    pub years: usize,
}

impl Gain {
    /// Whether the interval is above 0: otherwise the gain can be due to chance.
    #[must_use]
    pub fn is_clear(&self) -> bool {
        self.low95 > 0.0
    }
}

/// The gain of a model with these blocks; none with fewer than three years.
pub(super) fn gain(cases: &Cases, blocks: &[Block], season: &Fit, with: &Fit) -> Option<Gain> {
    let years = cases.years.len();
    if years < LEAST_YEARS {
        return None;
    }
    let (plain, full) = (cases.problem(&[]), cases.problem(blocks));
    let by_year: Vec<(f64, usize)> = (0..years)
        .into_par_iter()
        .filter_map(|year| {
            let (alone, count) = left_out(cases, &plain, season, season, year)?;
            let (weather, _) = left_out(cases, &full, with, season, year)?;
            Some((weather - alone, count))
        })
        .collect();
    let counted: Vec<(f64, usize)> = by_year.into_iter().filter(|(_, count)| *count > 0).collect();
    if counted.len() < LEAST_YEARS {
        return None;
    }
    let n = counted.len() as f64;
    let outings: usize = counted.iter().map(|(_, count)| count).sum();
    let total: f64 = counted.iter().map(|(gain, _)| gain).sum();
    let per_outing = total / outings as f64;
    // the variance of a ratio, each year weighing by its outings
    let squares: f64 =
        counted.iter().map(|(gain, count)| (gain - per_outing * *count as f64).powi(2)).sum();
    let error = (squares * n / (n - 1.0)).sqrt() / outings as f64;
    let wide = student_quantile(n - 1.0, 0.975) * error;
    Some(Gain {
        per_outing,
        low95: per_outing - wide,
        high95: per_outing + wide,
        better_years: counted.iter().filter(|(gain, _)| *gain > 0.0).count(),
        years: counted.len(),
    })
}

/// The score of the outings of one year under the model fitted to the others, both models with the
/// overdispersion of the season alone.
fn left_out(
    cases: &Cases,
    problem: &Problem,
    fit: &Fit,
    season: &Fit,
    year: usize,
) -> Option<(f64, usize)> {
    let others = cases.list.iter().zip(&problem.observations).filter(|(case, _)| case.year != year);
    let trained = Problem {
        observations: others.map(|(_, one)| one.clone()).collect(),
        columns: problem.columns,
        penalties: problem.penalties.clone(),
    };
    if !trained.observations.iter().any(|one| one.count > 0.0) {
        return None;
    }
    let again = trained.fit_with(season.scatter, Some(fit), 12)?;
    let own = cases.list.iter().zip(&problem.observations).filter(|(case, _)| case.year == year);
    let mut score = 0.0;
    let mut count = 0;
    for (_, one) in own {
        score += season.scatter.likelihood(one.count, one.log_expected(&again.beta));
        count += 1;
    }
    Some((score, count))
}
