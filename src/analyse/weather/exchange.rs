//! Tests whether weather and finds belong together, by giving each year of outings the weather of another
//! year. Layer: `analyse`.
//!
//! # Method
//! Residuals r are those of the season alone, over their variance. For a series x the score of each lag is
//! the sum of r x over outings; the statistic is the sum over pairs of lags of their scores times
//! exp(-(l - l')² / 50), large where neighbouring lags agree: the score statistic of a smooth effect
//! (Lin 1997). Its distribution is that under 999 arrangements of years: outings keep their dates and
//! finds, the weather is that of the same days of another year. So season, autocorrelation of the weather,
//! and years that differ for other reasons are allowed for.
//!
//! # References
//! Lin 1997, Variance component testing in generalised linear models with random effects, Biometrika
//! 84:309; Good 2005, Permutation, Parametric and Bootstrap Tests of Hypotheses, 3rd ed., 3.1.

use super::cases::{Cases, moved};
use crate::analyse::penalised::{Fit, Problem};
use crate::analyse::statistics::Rng;
use jiff::civil::Date;

const ARRANGEMENTS: usize = 999;
/// Arrangements that a test at 5 % needs.
const LEAST: f64 = 40.0;
/// The width of the kernel over lags, days.
const WIDTH: f64 = 5.0;

/// The result of a test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Exchanged {
    /// The p-value; none where there are too few arrangements.
    pub(super) p: Option<f64>,
    /// Years with weather that could be given.
    pub(super) pool: usize,
}

/// Residuals of the model without weather, over the variance of each.
pub(super) fn residuals(problem: &Problem, fit: &Fit) -> Vec<f64> {
    problem
        .observations
        .iter()
        .map(|one| {
            let expected = one.log_expected(&fit.beta).exp();
            (one.count - expected) / fit.scatter.excess(expected)
        })
        .collect()
}

/// Tests a series whose values before a date in an area are given, none where too few are known. Years
/// of the pool are those from `from` to `until` in which nearly all outings have values.
pub(super) fn test(
    cases: &Cases,
    residuals: &[f64],
    (from, until): (i32, i32),
    values: impl Fn(usize, Date) -> Option<Vec<f64>> + Sync,
) -> Exchanged {
    let own = scores(cases, residuals, (from, until), &values);
    let pool = own.first().map_or(0, Vec::len);
    // years whose own weather does not serve all others are not exchanged
    let count = own.len();
    let arrangements: f64 = (0..count).map(|taken| pool.saturating_sub(taken) as f64).product();
    if count < 2 || arrangements < LEAST {
        return Exchanged { p: None, pool };
    }
    // the first score of each year is that of its own weather
    let seen = statistic(own.iter().map(|of| &of[0].1));
    let mut rng = Rng::new(0x0eea_7e57);
    let mut years: Vec<i32> = own.iter().flat_map(|of| of.iter().map(|(year, _)| *year)).collect();
    years.sort_unstable();
    years.dedup();
    let mut as_large = 0_usize;
    for _ in 0..ARRANGEMENTS {
        for place in 0..count.min(years.len()) {
            let other = place + rng.below(years.len() - place);
            years.swap(place, other);
        }
        let given = own.iter().zip(&years).filter_map(|(of, year)| {
            of.iter().find(|(other, _)| other == year).map(|(_, scores)| scores)
        });
        as_large += usize::from(statistic(given) >= seen * (1.0 - 1e-9));
    }
    Exchanged { p: Some((1 + as_large) as f64 / (1 + ARRANGEMENTS) as f64), pool }
}

type Scores = Vec<(i32, Vec<f64>)>;

/// For each year of outings, its own weather first: the scores under the weather of each year of the pool.
fn scores(
    cases: &Cases,
    residuals: &[f64],
    (from, until): (i32, i32),
    values: &(impl Fn(usize, Date) -> Option<Vec<f64>> + Sync),
) -> Vec<Scores> {
    use rayon::prelude::*;
    let of_year = |year: usize, given: i32| -> Option<Vec<f64>> {
        let mut sums: Vec<f64> = Vec::new();
        let (mut known, mut all) = (0_usize, 0_usize);
        for (case, residual) in cases.list.iter().zip(residuals) {
            if case.year != year {
                continue;
            }
            all += 1;
            let day = moved(case.date, given - cases.years[year])?;
            let Some(values) = values(case.area, day) else { continue };
            known += 1;
            sums.resize(values.len(), 0.0);
            sums.iter_mut().zip(values).for_each(|(sum, value)| *sum += residual * value);
        }
        (10 * known >= 9 * all && known > 0).then_some(sums)
    };
    let candidates: Vec<i32> = (from..=until).collect();
    // a year is in the pool if it serves all years of outings
    let table: Vec<Vec<Option<Vec<f64>>>> = candidates
        .par_iter()
        .map(|given| (0..cases.years.len()).map(|year| of_year(year, *given)).collect())
        .collect();
    let serving: Vec<usize> =
        (0..candidates.len()).filter(|place| table[*place].iter().all(Option::is_some)).collect();
    (0..cases.years.len())
        .filter_map(|year| {
            let scores = |place: &usize| {
                (candidates[*place], table[*place][year].clone().unwrap_or_default())
            };
            let mut all: Scores = serving.iter().map(scores).collect();
            let own = all.iter().position(|(given, _)| *given == cases.years[year])?;
            all.swap(0, own);
            Some(all)
        })
        .collect()
}

fn statistic<'a>(scores: impl Iterator<Item = &'a Vec<f64>>) -> f64 {
    let mut sums: Vec<f64> = Vec::new();
    for own in scores {
        sums.resize(own.len(), 0.0);
        sums.iter_mut().zip(own).for_each(|(sum, value)| *sum += value);
    }
    let kernel: Vec<f64> =
        (0..sums.len()).map(|apart| (-0.5 * (apart as f64 / WIDTH).powi(2)).exp()).collect();
    let mut total = 0.0;
    for (i, a) in sums.iter().enumerate() {
        for (j, b) in sums.iter().enumerate() {
            total += a * b * kernel[i.abs_diff(j)];
        }
    }
    total
}
