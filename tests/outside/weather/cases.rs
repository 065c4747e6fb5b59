//! Writes penalised fits of random counts as JSON, for the checks against other programs: models of a season,
//! a distributed lag with two penalties, and effects of years; and seasons alone.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use serde_json::{Value, json};
use trug::analyse::penalised::{Observation, Penalty, Problem};
use trug::analyse::season::rate::{KNOTS, Scatter, Tally, basis, fit, scatter};
use trug::analyse::statistics::Rng;

/// Coefficients of the lag, and years.
const LAG: usize = 12;
const YEARS: usize = 8;

fn main() {
    let cases: Vec<Value> = (0..4).map(case).collect();
    let seasons: Vec<Value> = (0..6).map(season).collect();
    println!("{}", json!({ "cases": cases, "seasons": seasons }));
}

/// A season of 160 outings with one or two flushes, fitted as Poisson counts or with overdispersion.
fn season(seed: u64) -> Value {
    let mut rng = Rng::new(400 + seed);
    let tallies: Vec<Tally> = (0..160)
        .map(|_| {
            let phase = (0.75 + 0.1 * rng.normal()).rem_euclid(1.0);
            let hours = 1.0 + 3.0 * rng.uniform();
            let bell = |middle: f64| (-0.5 * ((phase - middle) / 0.05_f64).powi(2)).exp();
            let rate = 0.3 + 3.0 * bell(0.72) + (seed % 3) as f64 * bell(0.9);
            let excess =
                if seed.is_multiple_of(2) { 1.0 } else { (0.7 * rng.normal() - 0.245).exp() };
            let finds = f64::from(rng.poisson(rate * hours * excess));
            Tally { phase, hours, finds, times: 1.0 }
        })
        .collect();
    let scatter = if seed.is_multiple_of(2) { Scatter::POISSON } else { scatter(&tallies) };
    let curve = fit(&tallies, scatter).unwrap();
    let days = || (0..365).map(|day| (f64::from(day) + 0.5) / 365.0);
    json!({
        "phases": tallies.iter().map(|tally| tally.phase).collect::<Vec<f64>>(),
        "hours": tallies.iter().map(|tally| tally.hours).collect::<Vec<f64>>(),
        "finds": tallies.iter().map(|tally| tally.finds).collect::<Vec<f64>>(),
        "per_outing": scatter.per_outing,
        "smoothness": curve.smoothness,
        "log_rates": days().map(|phase| curve.rate(phase).ln()).collect::<Vec<f64>>(),
        "log_errors": days().map(|phase| curve.log_error(phase)).collect::<Vec<f64>>(),
    })
}

fn case(seed: u64) -> Value {
    let mut rng = Rng::new(900 + seed);
    let levels: Vec<f64> = (0..YEARS).map(|_| 0.4 * rng.normal()).collect();
    let effect: Vec<f64> = (0..LAG)
        .map(|k| {
            if seed.is_multiple_of(2) { 0.3 * (-0.5 * (k as f64 - 4.0).powi(2)).exp() } else { 0.0 }
        })
        .collect();
    let observations: Vec<Observation> = (0..160)
        .map(|index| {
            let year = index % YEARS;
            let phase = (0.75 + 0.09 * rng.normal()).rem_euclid(1.0);
            let lagged: Vec<f64> = (0..LAG).map(|_| 2.0 * rng.normal()).collect();
            let hours = 1.0 + 3.0 * rng.uniform();
            let acts: f64 = lagged.iter().zip(&effect).map(|(x, b)| x * b).sum();
            let rate =
                3.0 * (-0.5 * ((phase - 0.77) / 0.05_f64).powi(2) + levels[year] + acts).exp();
            let excess = (0.5 * rng.normal() - 0.125).exp();
            let mut row: Vec<(usize, f64)> = basis(phase, KNOTS).to_vec();
            row.extend(lagged.iter().enumerate().map(|(k, x)| (KNOTS + k, *x)));
            row.push((KNOTS + LAG + year, 1.0));
            let count = f64::from(rng.poisson(rate * hours * excess));
            Observation { row, offset: hours.ln(), count }
        })
        .collect();
    let penalties = vec![
        Penalty::bends(0, KNOTS, true),
        Penalty::bends(KNOTS, LAG, false),
        Penalty::lines(KNOTS, LAG),
        Penalty::ridge(KNOTS + LAG, YEARS),
    ];
    let problem = Problem { observations, columns: KNOTS + LAG + YEARS, penalties };
    let fit = problem.fit().unwrap();
    let rows: Vec<&Vec<(usize, f64)>> = problem.observations.iter().map(|one| &one.row).collect();
    let offsets: Vec<f64> = problem.observations.iter().map(|one| one.offset).collect();
    let counts: Vec<f64> = problem.observations.iter().map(|one| one.count).collect();
    let penalty = |of: &Penalty| {
        let entries: Vec<Vec<f64>> =
            (0..of.size).map(|i| (0..of.size).map(|j| of.entry(i, j)).collect()).collect();
        json!({ "first": of.first, "rank": of.rank, "matrix": entries })
    };
    let penalties: Vec<Value> = problem.penalties.iter().map(penalty).collect();
    let errors: Vec<f64> = (0..problem.columns).map(|i| fit.combined(&[(i, 1.0)]).1).collect();
    json!({
        "columns": problem.columns,
        "rows": rows,
        "offsets": offsets,
        "counts": counts,
        "penalties": penalties,
        "lambda": fit.lambda,
        "per_outing": fit.scatter.per_outing,
        "beta": fit.beta,
        "errors": errors,
    })
}
