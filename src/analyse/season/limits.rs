//! Estimates the start and end of the season, with intervals, from the extreme dates of finds.
//! Requires five different dates. Layer: `analyse`.
//!
//! # References
//! Roberts & Solow 2003, When did the dodo become extinct?, Nature 426:245; Pearse, Davis, Inouye,
//! Primack & Davies 2017, A statistical estimator for determining the limits of contemporary and
//! historic phenology, Nature Ecology & Evolution 1:1876.

use serde::Serialize;

/// The most extreme dates used, since the theory is asymptotic in the tail.
pub const MOST: usize = 10;
/// The fewest dates for an estimate (project choice).
pub const LEAST: usize = 5;

/// An estimated limit with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limit {
    /// The limit.
    pub at: f64,
    /// The lower end of the interval.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
    /// The number of dates used.
    pub dates: usize,
}

/// The start of the season: the limit below the earliest dates, in their unit.
///
/// `None` as for [`end`].
///
/// # Accuracy
/// Of the last sightings of the dodo it makes 1690.4 for the end, of which 1690 is published (unit test).
#[must_use]
pub fn onset(dates: &[f64]) -> Option<Limit> {
    let mirrored: Vec<f64> = dates.iter().map(|date| -date).collect();
    let limit = end(&mirrored)?;
    Some(Limit { at: -limit.at, low95: -limit.high95, high95: -limit.low95, dates: limit.dates })
}

/// The end of the season: the limit above the latest dates, in their unit.
///
/// `None` for fewer than [`LEAST`] dates, when they do not differ, or when two share the extreme.
#[must_use]
pub fn end(dates: &[f64]) -> Option<Limit> {
    end_of_latest(dates, MOST)
}

fn end_of_latest(dates: &[f64], most: usize) -> Option<Limit> {
    let mut latest: Vec<f64> = dates.iter().copied().filter(|date| date.is_finite()).collect();
    latest.sort_unstable_by(|a, b| b.total_cmp(a));
    latest.truncate(most);
    let count = latest.len();
    if count < LEAST || latest[0] <= latest[1] || latest[0] <= latest[count - 1] {
        return None;
    }
    let range = latest[0] - latest[count - 1];
    let shape = latest[1..count - 1].iter().map(|t| (range / (latest[0] - t)).ln()).sum::<f64>()
        / (count - 1) as f64;
    if !shape.is_finite() || shape <= 0.0 {
        return None;
    }
    let weights = weights(count, shape)?;
    let at = weights.iter().zip(&latest).map(|(weight, date)| weight * date).sum();
    let bound = |level: f64| {
        let scale = (-level.ln() / count as f64).powf(-shape);
        latest[0] + range / (scale - 1.0)
    };
    let (low95, high95) = (bound(0.975), bound(0.025));
    let ordered = low95.is_finite() && high95.is_finite() && low95 <= high95;
    ordered.then_some(Limit { at, low95, high95, dates: count })
}

/// Weights of the optimal linear estimator: the inverse covariance of the extremes times ones, made
/// to sum to one.
fn weights(count: usize, shape: f64) -> Option<Vec<f64>> {
    let ln_gamma = libm::lgamma;
    let entry = |row: usize, column: usize| {
        let (high, low) = (row.max(column) as f64 + 1.0, row.min(column) as f64 + 1.0);
        (ln_gamma(2.0 * shape + high) + ln_gamma(shape + low)
            - ln_gamma(shape + high)
            - ln_gamma(low))
        .exp()
    };
    let matrix: Vec<f64> =
        (0..count * count).map(|index| entry(index / count, index % count)).collect();
    let solved = super::matrix::Cholesky::of(&matrix, count)?.solve(&vec![1.0; count]);
    let total: f64 = solved.iter().sum();
    (total.abs() > 0.0).then(|| solved.iter().map(|weight| weight / total).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The dodo's last sightings; the estimate of 1690 and the upper limit of about 1797 are those
    /// published by Roberts & Solow 2003 (the last five years are from memory).
    #[test]
    fn extinction_limit_matches_published_example() {
        let years =
            [1662.0, 1638.0, 1631.0, 1628.0, 1628.0, 1611.0, 1607.0, 1602.0, 1601.0, 1598.0];
        let limit = end(&years).unwrap();
        assert!((limit.at - 1690.4).abs() < 0.05, "{limit:?}");
        assert!((limit.low95 - 1669.1).abs() < 0.05 && (limit.high95 - 1798.9).abs() < 0.05);
    }

    /// Computed from the authors' formulae.
    #[test]
    fn onset_mirrors_the_end() {
        let dates: Vec<f64> = (5..=15).map(f64::from).collect();
        let mirrored: Vec<f64> = dates.iter().map(|date| -date).collect();
        let (onset, end) = (onset(&dates).unwrap(), end(&mirrored).unwrap());
        assert_eq!(onset.at, -end.at);
        assert_eq!(onset.dates, MOST);
        assert!(onset.at < 5.0 && onset.low95 < onset.at && onset.at < onset.high95);
        let all = end_of_latest(&mirrored, 11).unwrap();
        assert!((-all.at - 3.4816).abs() < 5e-5, "{all:?}");
        assert!((-all.high95 + 2.267).abs() < 5e-4 && (-all.low95 - 4.918).abs() < 5e-4);
    }

    #[test]
    fn too_few_or_equal_dates_say_nothing() {
        assert_eq!(end(&[1.0, 2.0, 3.0, 4.0]), None);
        assert_eq!(end(&[3.0; 9]), None);
        assert_eq!(end(&[f64::NAN; 9]), None);
        assert_eq!(end(&[1.0, 2.0, 3.0, 4.0, 5.0, 5.0]), None);
    }
}
