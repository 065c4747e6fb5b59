//! Estimates the shift of the season with elevation by maximum likelihood, with its interval, or states
//! that the data do not determine it. The shift from year to year is in `analyse::years`, whose
//! model has the differences between years. Layer: `analyse`.
//!
//! # Method
//! The curve of the rate stays the same but is moved by so many days for each 100 m; the likelihood is profiled over
//! that number, and its 95 % interval is what the likelihood ratio, divided by the dispersion, does not reject.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::Stint;
use super::dates::phase;
use super::rate::{Curve, KNOTS, Scatter, Tally, fit_with};
use crate::model::ShiftNote;
use crate::units::Metres;

/// A shift of the season, days later for each step.
///
/// `low95` and `high95` are open on a side where no shift that was tried is excluded.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shift {
    /// Days later for each step (earlier when negative); `None` where the data do not determine it.
    pub days: Option<f64>,
    /// The lower end of its 95 % interval.
    pub low95: Option<f64>,
    /// The upper end.
    pub high95: Option<f64>,
    /// The shift, or why it cannot be determined.
    pub finding: ShiftNote,
}

impl Shift {
    fn unknown(finding: ShiftNote) -> Self {
        Self { days: None, low95: None, high95: None, finding }
    }
}

/// The fewest finds for a shift (project choice).
const LEAST_FINDS: u32 = 20;
/// The smallest standard deviation of elevation for a comparison, metres (project choice).
const LEAST_SPREAD: f64 = 50.0;

pub(super) fn by_elevation(stints: &[Stint], curve: &Curve, dispersion: f64) -> Shift {
    // effort counts by elevation only where the finds of the outing have one
    let unplaced: BTreeSet<usize> = stints
        .iter()
        .filter(|stint| stint.finds > 0 && stint.elevation.is_none() && stint.hours <= 0.0)
        .map(|stint| stint.outing)
        .collect();
    let known: Vec<(Stint, f64)> = stints
        .iter()
        .filter(|stint| stint.hours > 0.0 && !unplaced.contains(&stint.outing))
        .filter_map(|stint| stint.elevation.map(|height| (*stint, height / 100.0)))
        .collect();
    let finds: u32 = known.iter().map(|(stint, _)| stint.finds).sum();
    let spread = weighted_spread(&known) * 100.0;
    if finds < LEAST_FINDS || spread < LEAST_SPREAD {
        return Shift::unknown(ShiftNote::ShiftTooLittle {
            finds,
            least_finds: LEAST_FINDS,
            spread: Metres(spread),
            least_spread: Metres(LEAST_SPREAD),
        });
    }
    profile(&known, curve, dispersion)
}

fn weighted_spread(known: &[(Stint, f64)]) -> f64 {
    let hours: f64 = known.iter().map(|(stint, _)| stint.hours).sum();
    if hours <= 0.0 {
        return 0.0;
    }
    let mean = known.iter().map(|(stint, x)| stint.hours * x).sum::<f64>() / hours;
    let square = known.iter().map(|(stint, x)| stint.hours * (x - mean).powi(2)).sum::<f64>();
    (square / hours).sqrt()
}

/// The likelihood on a grid of 41 shifts, the ends of which move the season by 40 days over two standard deviations
/// of elevation; its maximum by a parabola, the interval where it has fallen by 1.92 (half the 95 % point of
/// chi-square with one degree of freedom), linear between grid points. Open where it does not fall so far on a
/// side.
fn profile(known: &[(Stint, f64)], curve: &Curve, dispersion: f64) -> Shift {
    const GRID: i32 = 20;
    let spread = weighted_spread(known);
    // the ends move the season by 40 days over two standard deviations
    let unit = 20.0 / spread.max(1e-9) / f64::from(GRID);
    let points: Vec<(f64, f64)> = (-GRID..=GRID)
        .filter_map(|place| {
            let days = f64::from(place) * unit;
            shifted(known, curve.smoothness, dispersion, days).map(|height| (days, height))
        })
        .collect();
    let Some(best) = (0..points.len()).max_by(|a, b| points[*a].1.total_cmp(&points[*b].1)) else {
        return Shift::unknown(ShiftNote::ShiftNotConverged);
    };
    let top = points[best].1;
    let crossing = |mut places: Box<dyn Iterator<Item = usize>>| {
        let mut last = points[best];
        places.find_map(|place| {
            let point = points[place];
            let floor = top - 1.920_729;
            let found = (point.1 < floor).then(|| {
                last.0 + (point.0 - last.0) * (last.1 - floor) / (last.1 - point.1).max(1e-12)
            });
            last = point;
            found
        })
    };
    let low = crossing(Box::new((0..best).rev()));
    let high = crossing(Box::new(best + 1..points.len()));
    let (Some(low), Some(high)) = (low, high) else {
        return Shift::unknown(ShiftNote::ShiftOpen {
            low: low.unwrap_or(points[0].0),
            high: high.unwrap_or(points[points.len() - 1].0),
        });
    };
    let days = summit(&points, best);
    Shift {
        days: Some(days),
        low95: Some(low),
        high95: Some(high),
        finding: ShiftNote::ShiftEstimated { days, low95: low, high95: high },
    }
}

/// The vertex of the parabola through the best point and its neighbours.
fn summit(points: &[(f64, f64)], best: usize) -> f64 {
    if best == 0 || best + 1 >= points.len() {
        return points[best].0;
    }
    let (a, b, c) = (points[best - 1], points[best], points[best + 1]);
    let bend = a.1 - 2.0 * b.1 + c.1;
    if bend >= 0.0 { b.0 } else { b.0 + 0.5 * (a.1 - c.1) / bend * (c.0 - b.0) }
}

/// The log likelihood over the dispersion, with every date moved back by so many days a step.
fn shifted(known: &[(Stint, f64)], smoothness: f64, dispersion: f64, days: f64) -> Option<f64> {
    let hours: f64 = known.iter().map(|(stint, _)| stint.hours).sum();
    let mean = known.iter().map(|(stint, x)| stint.hours * x).sum::<f64>() / hours;
    // rounded to tenths of a day, so that equal dates stay equal
    let mut tallies: BTreeMap<i64, Tally> = BTreeMap::new();
    for (stint, x) in known {
        let moved = (phase(stint.date) - days * (x - mean) / 365.0).rem_euclid(1.0);
        let tally = tallies.entry(tenths(moved)).or_insert(Tally {
            phase: moved,
            hours: 0.0,
            finds: 0.0,
            times: 1.0,
        });
        tally.hours += stint.hours;
        tally.finds += f64::from(stint.finds);
    }
    // merging rows must not change the likelihood: only the linear part depends on the rows
    let rows: Vec<Tally> = tallies.into_values().collect();
    let scatter = Scatter { per_find: dispersion, per_outing: 0.0 };
    let curve = fit_with(&rows, KNOTS, smoothness, scatter)?;
    let constant: f64 = rows.iter().map(|row| row.finds * row.hours.ln()).sum();
    Some(curve.log_likelihood - constant / dispersion)
}

#[allow(clippy::cast_possible_truncation, reason = "a phase is in 0..1")]
fn tenths(phase: f64) -> i64 {
    (phase * 3_650.0).floor() as i64
}
