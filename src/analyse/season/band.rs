//! Computes the upper bound of the rate where there are few or no finds. There the logarithm of the
//! rate is far from normally distributed, and 1.96 standard errors give an unbounded limit.
//! Layer: `analyse`.
//!
//! # Method
//! The upper end at a time of the year is the highest rate for which the penalised likelihood, all
//! else being refitted, falls by no more than ln 40 = 3.69 from its highest: for a count of zero
//! this is the exact Poisson limit, 3.69 over the hours. It is used where it is below that of the
//! standard error, so with enough finds the standard error applies.
//!
//! # References
//! Venzon & Moolgavkar 1988, A method for computing profile-likelihood-based confidence intervals,
//! Applied Statistics 37:87; Garwood 1936, Fiducial limits for the Poisson distribution, Biometrika
//! 28:437.

use super::matrix::Cholesky;
use super::rate::{Curve, KNOTS, Rows, Scatter, Tally, basis, roughness, stepped};

/// ln 40: a probability of 1/40 of finding nothing.
const FALL: f64 = 3.688_879;
/// A standard error of the logarithm below which the normal approximation holds (project choice).
const SURE: f64 = 0.45;
/// Days between computed values; the logarithm is interpolated linearly between them.
const STEP: usize = 5;

/// The upper end on each day of the year, finds per hour; infinite where the standard error rules.
pub(super) fn upper(tallies: &[Tally], curve: &Curve, scatter: Scatter) -> Vec<f64> {
    use rayon::prelude::*;
    let Some(rows) = Rows::of(tallies, KNOTS) else { return vec![f64::INFINITY; 365] };
    let profile = Profile { rows, curve, scatter };
    let ends: Vec<f64> = (0..365 / STEP)
        .into_par_iter()
        .map(|place| profile.upper((place as f64 * STEP as f64 + 0.5) / 365.0).ln())
        .collect();
    (0..365)
        .map(|day| {
            let (place, along) = (day / STEP, (day % STEP) as f64 / STEP as f64);
            let (from, to) = (ends[place], ends[(place + 1) % ends.len()]);
            if along == 0.0 {
                from.exp()
            } else if from.is_finite() && to.is_finite() {
                (from + (to - from) * along).exp()
            } else {
                f64::INFINITY
            }
        })
        .collect()
}

struct Profile<'a> {
    rows: Rows,
    curve: &'a Curve,
    scatter: Scatter,
}

impl Profile<'_> {
    /// The highest rate at a phase that the penalised likelihood allows; infinite where the normal approximation holds.
    fn upper(&self, phase: f64) -> f64 {
        let error = self.curve.log_error(phase);
        if error < SURE {
            return f64::INFINITY;
        }
        let mut row = vec![0.0; KNOTS];
        for (k, value) in basis(phase, KNOTS) {
            row[k] += value;
        }
        let top = self.value(&self.curve.coefficients);
        let mut at = self.curve.coefficients.clone();
        let mut log = self.curve.rate(phase).ln();
        let most = log + 1.96 * error;
        let mut step = 1.0;
        // doubling until the decrease is too large, then bisection
        while step > 0.02 {
            let Some((next, value)) = self.settled(&at, &row, step) else { break };
            if top - value > FALL {
                step /= 2.0;
            } else {
                (at, log) = (next, log + step);
                if log >= most {
                    return f64::INFINITY;
                }
            }
        }
        log.exp()
    }

    fn value(&self, beta: &[f64]) -> f64 {
        self.rows.likelihood(beta, self.scatter) - self.curve.smoothness * roughness(beta) / 2.0
    }

    /// The likeliest coefficients whose logarithm of the rate lies higher by `step`.
    fn settled(&self, from: &[f64], row: &[f64], step: f64) -> Option<(Vec<f64>, f64)> {
        let inner = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let mut beta = from.to_vec();
        let mut missing = step;
        let mut last = f64::NEG_INFINITY;
        for _ in 0..40 {
            let (matrix, gradient) =
                self.rows.normal_equations(&beta, self.curve.smoothness, self.scatter);
            let factor = Cholesky::of(&matrix, KNOTS)?;
            let (free, held) = (factor.solve(&gradient), factor.solve(row));
            let pull = inner(row, &free) / inner(row, &held);
            if missing > 0.0 {
                let lift = missing / inner(row, &held);
                beta.iter_mut().zip(&held).for_each(|(b, h)| *b += lift * h);
                missing = 0.0;
                last = self.value(&beta);
                continue;
            }
            let way: Vec<f64> = free.iter().zip(&held).map(|(f, h)| f - pull * h).collect();
            let (next, now) = stepped(&beta, last, &way, |beta| self.value(beta))?;
            let gained = now - last;
            (beta, last) = (next, now);
            if gained.abs() < 1e-6 * (1.0 + now.abs()) {
                break;
            }
        }
        last.is_finite().then_some((beta, last))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;

    /// Outings of two hours each week of ten years; a season of eight weeks about the middle of the
    /// year.
    fn years(found: bool) -> Vec<Tally> {
        let mut rng = Rng::new(17);
        (0..520)
            .map(|week| {
                let phase = (f64::from(week) * 7.0 / 365.0).rem_euclid(1.0);
                let rate = 3.0 * (-0.5 * ((phase - 0.5) / 0.04_f64).powi(2)).exp();
                let finds = if found { f64::from(rng.poisson(2.0 * rate)) } else { 0.0 };
                Tally { phase, hours: 2.0, finds, times: 1.0 }
            })
            .collect()
    }

    #[test]
    fn hours_without_a_find_give_the_poisson_limit() {
        let tallies = years(true);
        let curve = super::super::rate::fit(&tallies, Scatter::POISSON).unwrap();
        let upper = upper(&tallies, &curve, Scatter::POISSON);
        // from January to April 340 hours gave nothing: 3.69 / 340 is 0.011 an hour
        for day in (5..100).step_by(5) {
            let phase = (f64::from(day) + 0.5) / 365.0;
            let by_error = curve.rate(phase) * (1.96 * curve.log_error(phase)).exp();
            let high = upper[usize::try_from(day).unwrap()].min(by_error);
            assert!(high >= curve.rate(phase) && high < 0.2, "day {day}: {high}, {by_error}");
        }
        // where there are finds enough the standard error rules
        assert!(upper[182].is_infinite());
    }

    #[test]
    fn without_a_find_there_is_no_band() {
        let curve = super::super::rate::fit(&years(true), Scatter::POISSON).unwrap();
        let upper = upper(&years(false), &curve, Scatter::POISSON);
        assert!(upper.iter().all(|high| high.is_infinite()));
    }
}
