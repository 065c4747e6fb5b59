//! Tests whether the rate of finds changes within the searched part of the year, by permuting
//! outings over dates. Layer: `analyse`.
//!
//! # Method
//! Outings are put on a circle by the order of their dates, so that the test has the same power for
//! a season of a month within a month and a half of search as within a whole year. The statistic is
//! the sum over the first four harmonics k of the squared resultant of finds less those expected at
//! an even rate, each over its variance's excess, divided by k²: seasons are broad. Its
//! distribution is that under permutations of the outings, so overdispersion of outings is allowed
//! for, whatever its form.
//!
//! # References
//! Good 2005, Permutation, Parametric and Bootstrap Tests of Hypotheses, 3rd ed., 3.1; Watson 1961,
//! Goodness-of-fit tests on a circle, Biometrika 48:109 (harmonics of the empirical distribution).

use super::rate::{Scatter, Tally};
use crate::analyse::statistics::Rng;

const HARMONICS: usize = 4;
const PERMUTATIONS: usize = 1_999;

/// The p-value of a rate that does not depend on the date: 1 where the test is impossible.
pub(super) fn probability(tallies: &[Tally], scatter: Scatter) -> f64 {
    let mut tallies: Vec<Tally> =
        tallies.iter().copied().filter(|tally| tally.hours > 0.0).collect();
    tallies.sort_by(|a, b| a.phase.total_cmp(&b.phase));
    let finds: f64 = tallies.iter().map(|tally| tally.finds).sum();
    let hours: f64 = tallies.iter().map(|tally| tally.hours).sum();
    if finds <= 0.0 {
        return 1.0;
    }
    let mut pulls: Vec<f64> = tallies
        .iter()
        .map(|tally| {
            let expected = tally.hours * finds / hours;
            (tally.finds - expected) / (scatter.per_find + scatter.per_outing * expected)
        })
        .collect();
    let circle = places(&tallies);
    let seen = resultant(&pulls, &circle);
    let mut rng = Rng::new(0xe7e1);
    let mut as_uneven = 0_u32;
    for _ in 0..PERMUTATIONS {
        for place in (1..pulls.len()).rev() {
            pulls.swap(place, rng.below(place + 1));
        }
        // the order of summation changes the last digits
        as_uneven += u32::from(resultant(&pulls, &circle) >= seen * (1.0 - 1e-9));
    }
    f64::from(1 + as_uneven) / (1 + PERMUTATIONS) as f64
}

/// Sine and cosine of each harmonic at the place of each outing in the order of dates; outings of
/// one day of the year share a place.
fn places(sorted: &[Tally]) -> Vec<[(f64, f64); HARMONICS]> {
    let count = sorted.len() as f64;
    let mut circle = Vec::with_capacity(sorted.len());
    for same in sorted.chunk_by(|a, b| (a.phase - b.phase).abs() < 1e-4) {
        let place = (circle.len() as f64 + same.len() as f64 / 2.0) / count;
        let turn = 2.0 * std::f64::consts::PI * place;
        let here = std::array::from_fn(|k| ((k + 1) as f64 * turn).sin_cos());
        circle.extend(std::iter::repeat_n(here, same.len()));
    }
    circle
}

fn resultant(pulls: &[f64], circle: &[[(f64, f64); HARMONICS]]) -> f64 {
    let mut sums = [(0.0, 0.0); HARMONICS];
    for (pull, here) in pulls.iter().zip(circle) {
        for (sum, (sine, cosine)) in sums.iter_mut().zip(here) {
            sum.0 += pull * sine;
            sum.1 += pull * cosine;
        }
    }
    sums.iter().zip(1..).map(|((s, c), k)| (s * s + c * c) / f64::from(k * k)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tallies(rng: &mut Rng, rate: impl Fn(f64) -> f64) -> Vec<Tally> {
        (0..70)
            .map(|_| {
                let phase = 0.3 + 0.2 * rng.uniform();
                let hours = 1.0 + 3.0 * rng.uniform();
                let overdispersion = (0.7 * rng.normal()).exp();
                let finds = f64::from(rng.poisson(rate(phase) * overdispersion * hours));
                Tally { phase, hours, finds, times: 1.0 }
            })
            .collect()
    }

    #[test]
    fn constant_rate_is_rejected_at_the_nominal_level() {
        let mut rng = Rng::new(31);
        let scatter = Scatter { per_find: 1.0, per_outing: 0.6 };
        let tries = 200;
        let wrong = (0..tries)
            .filter(|_| probability(&tallies(&mut rng, |_| 1.0), scatter) <= 0.05)
            .count();
        // ten are expected; more than 20 or fewer than 2 have a probability below 0.002
        assert!((2..=20).contains(&wrong), "{wrong} of {tries}");
    }

    #[test]
    fn a_season_within_the_searched_weeks_is_seen() {
        let mut rng = Rng::new(32);
        let scatter = Scatter { per_find: 1.0, per_outing: 0.6 };
        let season = |phase: f64| 2.0 * (-0.5 * ((phase - 0.38) / 0.04_f64).powi(2)).exp();
        let seen =
            (0..20).filter(|_| probability(&tallies(&mut rng, season), scatter) <= 0.05).count();
        assert!(seen >= 19, "{seen} of 20");
        assert_eq!(probability(&[], scatter), 1.0);
    }
}
