//! Computes bootstrap intervals of the season's dates: resamples whole outings, refits the curve
//! and reads the dates from it. Layer: `analyse`.
//!
//! # References
//! Efron & Tibshirani 1993, An Introduction to the Bootstrap, 13.3 (percentile intervals);
//! resampling the outing and not the find, since finds of one outing share weather, place and
//! observer.

use rayon::prelude::*;

use super::dates::{along, day_of_year};
use super::matrix::Cholesky;

use super::rate::{self, Curve, KNOTS, Scatter};
use super::{DayEstimate, FindDates, Outings};
use crate::analyse::statistics::{Rng, normal_below, quantile};

/// A day, a share of the year.
const DAY: f64 = 1.0 / 365.0;

/// The number of resamples.
const TIMES: usize = 400;

/// Dates read off one curve: phases of the peak, and shares of the season from its cut.
#[derive(Clone, Copy, Debug)]
pub(super) struct Marks {
    peak: f64,
    tenth: f64,
    median: f64,
    ninetieth: f64,
}

/// The same dates over all resamples.
#[derive(Debug)]
pub(super) struct Drawn {
    /// The tail probability of the intervals on each side.
    tail: f64,
    marks: Vec<Marks>,
    /// The same for curves drawn from the posterior distribution of the one curve.
    posterior: Vec<Marks>,
    find_dates: Vec<[f64; 5]>,
}

/// Draws the outings of all resamples from one seed, then fits them in parallel: the result does not depend on the
/// number of processors.
pub(super) fn run(
    outings: &Outings,
    curve: &Curve,
    scatter: Scatter,
    cut: f64,
    searched: &[bool; 365],
) -> Drawn {
    let mut rng = Rng::new(0x5ea5_0017);
    let count = outings.list.len();
    let draws: Vec<Vec<u32>> = (0..TIMES)
        .map(|_| {
            let mut weights = vec![0_u32; count];
            for _ in 0..count {
                weights[rng.below(count)] += 1;
            }
            weights
        })
        .collect();
    let days = Days::searched(searched, cut);
    let drawn: Vec<(Option<Marks>, Option<[f64; 5]>)> = draws
        .par_iter()
        .map(|weights| {
            let again = rate::refit(&outings.tallies(Some(weights)), scatter, curve);
            (again.map(|beta| days.marks(&beta)), dates_of_finds(outings, cut, Some(weights)))
        })
        .collect();
    Drawn {
        tail: tail(outings.list.iter().filter(|outing| outing.finds > 0).count()),
        marks: drawn.iter().filter_map(|(marks, _)| *marks).collect(),
        posterior: posterior(curve, &days, &mut rng),
        find_dates: drawn.iter().filter_map(|(_, dates)| *dates).collect(),
    }
}

/// Dates of curves drawn from the normal posterior of the coefficients, which holds what the penalty
/// may have taken from the curve: resamples are as smooth as the estimate and do not.
fn posterior(curve: &Curve, days: &Days, rng: &mut Rng) -> Vec<Marks> {
    let Some(factor) = Cholesky::of(&curve.covariance, KNOTS) else { return Vec::new() };
    (0..TIMES)
        .map(|_| {
            let normal: Vec<f64> = (0..KNOTS).map(|_| rng.normal()).collect();
            let away = factor.times(&normal);
            let drawn: Vec<f64> =
                curve.coefficients.iter().zip(away).map(|(b, away)| b + away).collect();
            days.marks(&drawn)
        })
        .collect()
}

/// The searched days in the order of the season, each with its part of the basis.
pub(super) struct Days {
    cut: f64,
    /// The offset from the cut, a share of the year, and the basis there.
    list: Vec<(f64, [(usize, f64); 4])>,
}

impl Days {
    pub(super) fn searched(searched: &[bool; 365], cut: f64) -> Self {
        let mut list: Vec<(f64, [(usize, f64); 4])> = (0..365)
            .filter(|day| searched[*day])
            .map(|day| {
                let phase = (day as f64 + 0.5) / 365.0;
                ((phase - cut).rem_euclid(1.0), rate::basis(phase, KNOTS))
            })
            .collect();
        list.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        Self { cut, list }
    }

    /// Reads the dates from a curve.
    pub(super) fn marks(&self, coefficients: &[f64]) -> Marks {
        let rates: Vec<f64> = self
            .list
            .iter()
            .map(|(_, row)| {
                row.iter().map(|(k, value)| value * coefficients[*k]).sum::<f64>().exp()
            })
            .collect();
        let total: f64 = rates.iter().sum();
        let reached = |share: f64| {
            let mut left = share * total;
            let place = rates.iter().position(|rate| {
                left -= rate;
                left <= 0.0
            });
            // within the day: `left` is what it gives beyond the share
            place.map_or(0.0, |place| self.list[place].0 + (0.5 + left / rates[place]) * DAY)
        };
        let peak = (0..rates.len()).max_by(|a, b| rates[*a].total_cmp(&rates[*b]));
        let peak = peak.map_or(0.0, |place| self.list[place].0 + self.beside(&rates, place));
        Marks {
            peak: (self.cut + peak).rem_euclid(1.0),
            tenth: reached(0.1),
            median: reached(0.5),
            ninetieth: reached(0.9),
        }
    }
}

impl Days {
    /// How far the top of the parabola through a day and its neighbours is from that day, a share
    /// of the year.
    fn beside(&self, rates: &[f64], place: usize) -> f64 {
        let whole = |a: usize, b: usize| {
            let apart = self.list.get(b).zip(self.list.get(a)).map(|(b, a)| b.0 - a.0);
            apart.is_some_and(|apart| (apart - DAY).abs() < 0.01 * DAY)
        };
        if place == 0 || !whole(place - 1, place) || !whole(place, place + 1) {
            return 0.0;
        }
        let [left, top, right] =
            [-1, 0, 1].map(|by: isize| rates[place.wrapping_add_signed(by)].ln());
        let bend = left - 2.0 * top + right;
        if bend < 0.0 { DAY * (0.5 * (left - right) / bend).clamp(-0.5, 0.5) } else { 0.0 }
    }
}

impl Marks {
    pub(super) fn peak(&self) -> f64 {
        self.peak
    }
}

/// The tail that a percentile interval of 95 % must leave, on either side: less than 0.025 for few
/// outings with finds, since resampled outings vary less than new ones.
///
/// # References
/// Hesterberg 2015, What teachers should know about the bootstrap, The American Statistician
/// 69:371, 4.4 (expanded percentile interval); Abramowitz & Stegun 1964, 26.7.5 (the t quantile).
fn tail(outings: usize) -> f64 {
    let freedom = (outings as f64 - 1.0).max(2.0);
    let z: f64 = 1.959_964;
    let (z3, z5) = (z.powi(3), z.powi(5));
    let t = z
        + (z3 + z) / (4.0 * freedom)
        + (5.0 * z5 + 16.0 * z3 + 3.0 * z) / (96.0 * freedom.powi(2));
    normal_below(-t * ((freedom + 1.0) / freedom).sqrt())
}

impl Drawn {
    /// The interval of the peak, along the circle from the estimate.
    pub(super) fn peak(&self, best: &Marks) -> DayEstimate {
        let away = |marks: &Marks| (marks.peak - best.peak + 0.5).rem_euclid(1.0) - 0.5;
        let (low, high) = self.interval(0.0, away);
        DayEstimate {
            day: day_of_year(best.peak),
            low95: day_of_year(best.peak + low),
            high95: day_of_year(best.peak + high),
        }
    }

    pub(super) fn tenth(&self, best: &Marks, cut: f64) -> DayEstimate {
        self.along(cut, best.tenth, |marks| marks.tenth)
    }

    pub(super) fn median(&self, best: &Marks, cut: f64) -> DayEstimate {
        self.along(cut, best.median, |marks| marks.median)
    }

    pub(super) fn ninetieth(&self, best: &Marks, cut: f64) -> DayEstimate {
        self.along(cut, best.ninetieth, |marks| marks.ninetieth)
    }

    fn along(&self, cut: f64, best: f64, pick: impl Fn(&Marks) -> f64) -> DayEstimate {
        let (low, high) = self.interval(best, pick);
        along(cut, best * 365.0, low * 365.0, high * 365.0)
    }

    /// The interval that holds those of the resamples and of the posterior.
    fn interval(&self, best: f64, pick: impl Fn(&Marks) -> f64) -> (f64, f64) {
        let ends = |marks: &[Marks], tail: f64| {
            let mut sorted: Vec<f64> = marks.iter().map(&pick).collect();
            sorted.sort_unstable_by(f64::total_cmp);
            let at = |share: f64| quantile(&sorted, share).unwrap_or(best);
            (at(tail), at(1.0 - tail))
        };
        let (resampled, drawn) = (ends(&self.marks, self.tail), ends(&self.posterior, 0.025));
        (resampled.0.min(drawn.0), resampled.1.max(drawn.1))
    }

    pub(super) fn find_dates(&self, outings: &Outings, cut: f64) -> FindDates {
        let best = dates_of_finds(outings, cut, None).unwrap_or([0.0; 5]);
        let of = |which: usize| {
            let drawn = self.find_dates.iter().map(|dates| dates[which]).collect();
            estimate(cut, best[which], self.tail, drawn)
        };
        FindDates { first: of(0), tenth: of(1), median: of(2), ninetieth: of(3), last: of(4) }
    }
}

fn estimate(cut: f64, best: f64, tail: f64, mut drawn: Vec<f64>) -> DayEstimate {
    drawn.sort_unstable_by(f64::total_cmp);
    let at = |share: f64| quantile(&drawn, share).unwrap_or(best) * 365.0;
    along(cut, best * 365.0, at(tail), at(1.0 - tail))
}

/// First, tenth, median, ninetieth and last date of the finds, as shares of the year from the cut.
fn dates_of_finds(outings: &Outings, cut: f64, weights: Option<&[u32]>) -> Option<[f64; 5]> {
    let mut counted: Vec<(f64, u32)> = outings
        .list
        .iter()
        .enumerate()
        .map(|(index, outing)| {
            let weight = weights.map_or(1, |weights| weights[index]);
            ((outing.phase - cut).rem_euclid(1.0), outing.finds * weight)
        })
        .filter(|(_, finds)| *finds > 0)
        .collect();
    counted.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let total: u32 = counted.iter().map(|(_, finds)| finds).sum();
    let reached = |share: f64| {
        let mut sum = 0;
        counted.iter().find_map(|(along, finds)| {
            sum += finds;
            (f64::from(sum) >= share * f64::from(total)).then_some(*along)
        })
    };
    Some([reached(0.0)?, reached(0.1)?, reached(0.5)?, reached(0.9)?, reached(1.0)?])
}
