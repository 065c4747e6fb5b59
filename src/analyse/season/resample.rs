//! How far would the season's dates move, had other outings of the same kind been made? Resamples
//! whole outings, refits the curve, and reads the dates off again. Layer: `analyse`.
//!
//! # References
//! Efron & Tibshirani 1993, An Introduction to the Bootstrap, 13.3 (percentile intervals); resampling
//! the outing and not the find, since finds of one outing share its weather, place and eyes.

use super::dates::{along, day_of_year};
use super::rate::{self, Curve};
use super::{DayEstimate, FindDates, Outings};
use crate::analyse::chance::{Dice, quantile};

/// How many times.
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
#[derive(Debug, Default)]
pub(super) struct Drawn {
    marks: Vec<Marks>,
    find_dates: Vec<[f64; 5]>,
}

pub(super) fn run(outings: &Outings, dispersion: f64, cut: f64, searched: &[bool; 365]) -> Drawn {
    let mut dice = Dice::new(0x5ea5_0017);
    let mut drawn = Drawn::default();
    let count = outings.list.len();
    for _ in 0..TIMES {
        let mut weights = vec![0_u32; count];
        for _ in 0..count {
            weights[dice.below(count)] += 1;
        }
        let tallies = outings.tallies(Some(&weights));
        if let Some(again) = rate::fit_coarsely(&tallies, dispersion) {
            drawn.marks.push(marks(&again, cut, searched));
        }
        drawn.find_dates.extend(dates_of_finds(outings, cut, Some(&weights)));
    }
    drawn
}

/// Reads the dates off a curve, over the days that were searched.
pub(super) fn marks(curve: &Curve, cut: f64, searched: &[bool; 365]) -> Marks {
    let mut season: Vec<(f64, f64)> = (0..365)
        .filter(|day| searched[*day])
        .map(|day| {
            let phase = (day as f64 + 0.5) / 365.0;
            ((phase - cut).rem_euclid(1.0), curve.rate(phase))
        })
        .collect();
    season.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = season.iter().map(|(_, rate)| rate).sum();
    let reached = |share: f64| {
        let mut sum = 0.0;
        for (along, rate) in &season {
            sum += rate;
            if sum >= share * total {
                return *along;
            }
        }
        0.0
    };
    let peak = season.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0.0, |(along, _)| *along);
    Marks {
        peak: (cut + peak).rem_euclid(1.0),
        tenth: reached(0.1),
        median: reached(0.5),
        ninetieth: reached(0.9),
    }
}

impl Drawn {
    /// The interval of the peak, along the circle from the estimate.
    pub(super) fn peak(&self, best: &Marks) -> DayEstimate {
        let mut away: Vec<f64> = self
            .marks
            .iter()
            .map(|marks| (marks.peak - best.peak + 0.5).rem_euclid(1.0) - 0.5)
            .collect();
        away.sort_unstable_by(f64::total_cmp);
        let at = |share: f64| day_of_year(best.peak + quantile(&away, share).unwrap_or(0.0));
        DayEstimate { day: day_of_year(best.peak), low95: at(0.025), high95: at(0.975) }
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
        estimate(cut, best, self.marks.iter().map(pick).collect())
    }

    pub(super) fn find_dates(&self, outings: &Outings, cut: f64) -> FindDates {
        let best = dates_of_finds(outings, cut, None).unwrap_or([0.0; 5]);
        let of = |which: usize| {
            estimate(cut, best[which], self.find_dates.iter().map(|dates| dates[which]).collect())
        };
        FindDates { first: of(0), tenth: of(1), median: of(2), ninetieth: of(3), last: of(4) }
    }
}

fn estimate(cut: f64, best: f64, mut drawn: Vec<f64>) -> DayEstimate {
    drawn.sort_unstable_by(f64::total_cmp);
    let at = |share: f64| quantile(&drawn, share).unwrap_or(best) * 365.0;
    along(cut, best * 365.0, at(0.025), at(0.975))
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
