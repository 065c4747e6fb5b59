//! Fits counts whose groups (outings) each have an effect of their own: all counts of one group are multiplied by one
//! gamma variable. Layer: `analyse`.
//!
//! # Method
//! Given the effect of its group each count is Poisson about exp(offset + row · β) times that effect, whose mean is 1
//! and whose variance is a. Integrated over the effect, the counts n with the expectations m of one group, with the
//! sums N and M, have the negative multinomial log likelihood Σ n ln m - (N + 1/a) ln(1 + a M): the split of N among the
//! counts tells of differences within the group whatever its effect was, N tells of differences between groups as far
//! as groups differ no more than a allows. Penalties and their weights are those of [`super::Problem`]; a is estimated
//! by moments of N.
//!
//! # References
//! Hausman, Hall & Griliches 1984, Econometric models for count data with an application to the patents-R&D
//! relationship, Econometrica 52:909 (random effects of groups; from memory).

use super::design::Design;
use super::{Fit, Problem, RIDGE, UPDATES};
use crate::analyse::season::matrix::Cholesky;
use crate::analyse::season::rate::{Scatter, falls_to, stepped};

/// Counts in groups.
#[derive(Clone, Debug)]
pub struct Grouped {
    /// The counts, their columns and penalties.
    pub problem: Problem,
    /// The group of each count, by number from 0.
    pub group: Vec<usize>,
}

/// Counts and expectations of one group, summed.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    count: f64,
    expected: f64,
}

impl Grouped {
    /// Fits, with the variance between groups estimated by moments.
    #[must_use]
    pub fn fit(&self) -> Option<Fit> {
        let mut between = 0.3;
        let mut fit: Option<Fit> = None;
        for _ in 0..4 {
            let next = self.fit_with(between, fit.as_ref(), UPDATES)?;
            let before = between;
            between = self.between(&next).unwrap_or(between);
            fit = Some(next);
            if (between - before).abs() < 0.01 * (0.1 + before) {
                break;
            }
        }
        self.fit_with(between, fit.as_ref(), UPDATES)
    }

    /// Fits with this variance between groups, from an earlier fit if there is one.
    #[must_use]
    pub fn fit_with(&self, between: f64, from: Option<&Fit>, updates: usize) -> Option<Fit> {
        let problem = &self.problem;
        let scatter = Scatter { per_find: 1.0, per_outing: between };
        let design = Design::of(&problem.observations);
        let mut beta = from.map_or_else(|| problem.start(), |fit| fit.beta.clone());
        let mut lambda = from.map_or_else(
            || problem.first_weights(&design, &beta, scatter),
            |fit| fit.lambda.clone(),
        );
        let mut factor = self.settle(&design, &mut beta, &lambda, between)?;
        for _ in 0..updates {
            let covariance = factor.inverse();
            let moved = problem.update(&mut lambda, &beta, &covariance);
            factor = self.settle(&design, &mut beta, &lambda, between)?;
            if moved < 0.02 {
                break;
            }
        }
        let covariance = factor.inverse();
        let taken: f64 = (problem.penalties.iter().zip(&lambda))
            .map(|(penalty, lambda)| lambda * penalty.trace(&covariance, problem.columns))
            .sum();
        let freedom = problem.columns as f64 - taken;
        Some(Fit { beta, covariance, lambda, scatter, freedom })
    }

    /// The counts of some rows only, with their groups.
    #[must_use]
    pub fn only(&self, kept: impl Fn(usize) -> bool) -> Self {
        let rows: Vec<usize> = (0..self.group.len()).filter(|row| kept(*row)).collect();
        let observations = rows.iter().map(|row| self.problem.observations[*row].clone()).collect();
        let penalties = self.problem.penalties.clone();
        let problem = Problem { observations, columns: self.problem.columns, penalties };
        Self { problem, group: rows.into_iter().map(|row| self.group[row]).collect() }
    }

    /// The log likelihood without the terms that depend on the counts alone.
    #[must_use]
    pub fn likelihood(&self, beta: &[f64], between: f64) -> f64 {
        let mut sums = vec![Sum::default(); self.groups()];
        let mut value = 0.0;
        for (one, group) in self.problem.observations.iter().zip(&self.group) {
            let log = one.log_expected(beta);
            value += one.count * log;
            sums[*group].count += one.count;
            sums[*group].expected += log.exp();
        }
        let against = |sum: &Sum| match between {
            a if a > 1e-9 => (sum.count + 1.0 / a) * (a * sum.expected).ln_1p(),
            _ => sum.expected,
        };
        value - sums.iter().map(against).sum::<f64>()
    }

    fn groups(&self) -> usize {
        self.group.iter().max().map_or(0, |last| last + 1)
    }

    fn sums(&self, expected: &[f64]) -> Vec<Sum> {
        let mut sums = vec![Sum::default(); self.groups()];
        for ((one, group), expected) in
            self.problem.observations.iter().zip(&self.group).zip(expected)
        {
            sums[*group].count += one.count;
            sums[*group].expected += expected;
        }
        sums
    }

    /// Newton steps until convergence; the factor of the last information.
    fn settle(
        &self,
        design: &Design,
        beta: &mut Vec<f64>,
        lambda: &[f64],
        between: f64,
    ) -> Option<Cholesky> {
        let problem = &self.problem;
        let value = |beta: &[f64]| {
            let held = problem.penalties.iter().zip(lambda);
            let penalty: f64 = held.map(|(penalty, lambda)| lambda * penalty.size_of(beta)).sum();
            self.likelihood(beta, between) - penalty / 2.0
        };
        let mut last = value(beta);
        for _ in 0..60 {
            let (matrix, gradient) = self.equations(design, beta, lambda, between);
            let step = Cholesky::of(&matrix, problem.columns)?.solve(&gradient);
            let Some((next, now)) = stepped(beta, last, &step, value) else { break };
            let gained = now - last;
            (*beta, last) = (next, now);
            if gained.abs() < 1e-11 * (1.0 + now.abs()) {
                break;
            }
        }
        let (matrix, _) = self.equations(design, beta, lambda, between);
        Cholesky::of(&matrix, problem.columns)
    }

    /// The penalised expected information, row by row, and the gradient.
    fn equations(
        &self,
        design: &Design,
        beta: &[f64],
        lambda: &[f64],
        between: f64,
    ) -> (Vec<f64>, Vec<f64>) {
        let columns = self.problem.columns;
        let observations = &self.problem.observations;
        let expected: Vec<f64> =
            observations.iter().map(|one| one.log_expected(beta).exp()).collect();
        let sums = self.sums(&expected);
        let (mut matrix, mut gradient) = (vec![0.0; columns * columns], vec![0.0; columns]);
        for (row, one) in observations.iter().enumerate() {
            let sum = sums[self.group[row]];
            // what the group made of the expectation, by its own count
            let share = (1.0 + between * sum.count) / (1.0 + between * sum.expected);
            let weights = (one.count - expected[row] * share, expected[row]);
            design.add(row, weights, &mut gradient, &mut matrix);
        }
        self.take_group_effects(&expected, &sums, between, &mut matrix);
        for i in 0..columns {
            for j in 0..i {
                matrix[i * columns + j] = matrix[j * columns + i];
            }
        }
        for (penalty, lambda) in self.problem.penalties.iter().zip(lambda) {
            penalty.add(*lambda, beta, &mut matrix, &mut gradient);
        }
        (0..columns).for_each(|i| matrix[i * columns + i] += RIDGE);
        (matrix, gradient)
    }

    /// Takes from the information what the effects of groups leave open, on and above the diagonal.
    fn take_group_effects(&self, expected: &[f64], sums: &[Sum], between: f64, matrix: &mut [f64]) {
        let columns = self.problem.columns;
        let mut of_group: Vec<Vec<usize>> = vec![Vec::new(); sums.len()];
        self.group.iter().enumerate().for_each(|(row, group)| of_group[*group].push(row));
        let (mut total, mut touched) = (vec![0.0; columns], Vec::new());
        for (rows, sum) in of_group.iter().zip(sums) {
            for row in rows {
                for (column, value) in &self.problem.observations[*row].row {
                    if !touched.contains(column) {
                        touched.push(*column);
                    }
                    total[*column] += expected[*row] * value;
                }
            }
            touched.sort_unstable();
            let held = between / (1.0 + between * sum.expected);
            for (place, i) in touched.iter().enumerate() {
                for j in &touched[place..] {
                    matrix[i * columns + j] -= held * total[*i] * total[*j];
                }
            }
            touched.drain(..).for_each(|column| total[column] = 0.0);
        }
    }

    /// The variance between groups for which Pearson's chi-square of their sums equals its degrees of freedom.
    fn between(&self, fit: &Fit) -> Option<f64> {
        let expected: Vec<f64> =
            self.problem.observations.iter().map(|one| one.log_expected(&fit.beta).exp()).collect();
        let all = self.sums(&expected);
        let sums: Vec<Sum> = all.iter().filter(|sum| sum.expected > 0.2).copied().collect();
        let share = sums.len() as f64 / all.len().max(1) as f64;
        let left = sums.len() as f64 - share * fit.freedom.min(0.5 * all.len() as f64);
        if left < 5.0 {
            return None;
        }
        let chi_square = |a: f64| -> f64 {
            let of = |sum: &Sum| {
                (sum.count - sum.expected).powi(2) / (sum.expected * (1.0 + a * sum.expected))
            };
            sums.iter().map(of).sum()
        };
        Some(falls_to(chi_square, left))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Observation, Penalty};
    use super::*;
    use crate::analyse::statistics::Rng;

    /// Counts at two levels; each group has an effect, and groups with a large one are mostly at the second level.
    fn counts(confounded: bool, rng: &mut Rng) -> Grouped {
        let (mut observations, mut group) = (Vec::new(), Vec::new());
        for own in 0..80 {
            let effect = (0.8 * rng.normal() - 0.32).exp();
            for level in 0..2 {
                let much = confounded && (effect > 0.8) == (level == 1);
                let hours: f64 = if much { 3.0 } else { 0.5 };
                let mean = 3.0 * effect * hours * if level == 1 { 2.0 } else { 1.0 };
                let row = if level == 1 { vec![(0, 1.0), (1, 1.0)] } else { vec![(0, 1.0)] };
                let count = f64::from(rng.poisson(mean));
                observations.push(Observation { row, offset: hours.ln(), count });
                group.push(own);
            }
        }
        let penalties: Vec<Penalty> = Vec::new();
        Grouped { problem: Problem { observations, columns: 2, penalties }, group }
    }

    /// Where effort follows the effects of groups, what groups differ in is not all taken out, but most of it is.
    #[test]
    fn a_difference_within_groups_is_mostly_kept_apart_from_that_between_them() {
        let mut rng = Rng::new(7);
        let (mut grouped, mut alone, mut between) = (0.0, 0.0, 0.0);
        for _ in 0..20 {
            let data = counts(true, &mut rng);
            let fit = data.fit().unwrap();
            grouped += fit.beta[1] / 20.0;
            between += fit.scatter.per_outing / 20.0;
            alone += data.problem.fit().unwrap().beta[1] / 20.0;
        }
        // the truth is ln 2, and a variance of exp(0.64) - 1
        let (own, naive) = (grouped - 2.0_f64.ln(), alone - 2.0_f64.ln());
        assert!(own.abs() < 0.2 && own.abs() < 0.6 * naive, "{grouped} {alone}");
        assert!((0.5..1.4).contains(&between), "{between}");
    }

    #[test]
    fn the_gradient_is_that_of_the_likelihood() {
        let data = counts(false, &mut Rng::new(3));
        let design = Design::of(&data.problem.observations);
        let beta = [0.7, 0.4];
        let (_, gradient) = data.equations(&design, &beta, &[], 0.5);
        for column in 0..2 {
            let at = |step: f64| {
                let mut moved = beta;
                moved[column] += step;
                data.likelihood(&moved, 0.5)
            };
            let slope = (at(1e-5) - at(-1e-5)) / 2e-5;
            assert!((slope - gradient[column]).abs() < 1e-3, "{slope} {}", gradient[column]);
        }
    }
}
