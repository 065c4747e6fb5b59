//! Computes how many species any number of the outings would have found: the exact expectation over
//! all orders of the outings, with unconditional intervals. Layer: `analyse`.
//!
//! # References
//! Colwell, Mao & Chang 2004, Interpolating, extrapolating, and comparing incidence-based species
//! accumulation curves, Ecology 85:2717, equations 5 and 6.

use serde::Serialize;

use super::incidence::Incidences;
use crate::analyse::intervals::Z95;

/// One point of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Accumulated {
    /// The number of outings.
    pub outings: usize,
    /// Hours searched on that many outings, in the mean; none without tracks.
    pub hours: Option<f64>,
    /// Species expected.
    pub species: f64,
    /// Its standard error, not conditional on this list.
    pub error: f64,
    /// Lower end of the 95 % interval.
    pub low95: f64,
    /// Upper end.
    pub high95: f64,
}

/// The largest number of points.
const POINTS: usize = 200;

/// The curve at up to 200 numbers of outings, the first and the last included. `complete` is the
/// estimated number of species, `hours` the hours searched on all outings.
///
/// The curve rises as long as species are new; it says nothing of the ground that no outing went to.
#[must_use]
pub fn accumulation(found: &Incidences, complete: f64, hours: Option<f64>) -> Vec<Accumulated> {
    let wanted = wanted(found.units);
    let frequencies = found.frequencies();
    let m = found.units as f64;
    // of each frequency: the chance that none of the outings has the species
    let mut missing: Vec<(f64, f64, f64)> =
        frequencies.iter().map(|(count, species)| (f64::from(*count), *species, 1.0)).collect();
    let mut curve = Vec::with_capacity(wanted.len());
    let mut next = wanted.into_iter().peekable();
    for outings in 1..=found.units {
        let before = outings as f64 - 1.0;
        for (count, _, chance) in &mut missing {
            *chance *= ((m - *count - before) / (m - before)).max(0.0);
        }
        if next.next_if_eq(&outings).is_some() {
            let species: f64 = missing.iter().map(|(_, n, chance)| n * (1.0 - chance)).sum();
            let squares: f64 =
                missing.iter().map(|(_, n, chance)| n * (1.0 - chance).powi(2)).sum();
            let error = (squares - species * species / complete.max(species)).max(0.0).sqrt();
            curve.push(Accumulated {
                outings,
                hours: hours.map(|hours| hours * outings as f64 / m),
                species,
                error,
                low95: (species - Z95 * error).max(0.0),
                high95: species + Z95 * error,
            });
        }
    }
    curve
}

fn wanted(units: usize) -> Vec<usize> {
    let step = units.div_ceil(POINTS).max(1);
    let mut wanted: Vec<usize> = (1..=units).step_by(step).collect();
    if wanted.last() != Some(&units) && units > 0 {
        wanted.push(units);
    }
    wanted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curve_is_the_mean_over_all_orders() {
        let units = [vec![0, 1], vec![0, 2], vec![0, 1, 3]];
        let found = Incidences::of(&units, 4);
        let curve = accumulation(&found, 5.0, Some(6.0));
        // one outing: 2, 2 or 3; two: 3, 3 or 4; three: 4
        let means: Vec<f64> = curve.iter().map(|point| point.species).collect();
        for (mean, expected) in means.iter().zip([7.0 / 3.0, 10.0 / 3.0, 4.0]) {
            assert!((mean - expected).abs() < 1e-12, "{means:?}");
        }
        assert_eq!(curve[1].hours, Some(4.0));
        // at the end: all species, S - S²/S_complete
        assert!((curve[2].error - (4.0_f64 - 16.0 / 5.0).sqrt()).abs() < 1e-12);
        assert!(accumulation(&Incidences::default(), 0.0, None).is_empty());
    }

    #[test]
    fn long_curves_keep_both_ends() {
        let units: Vec<Vec<usize>> = (0..1_001).map(|unit| vec![unit % 37]).collect();
        let curve = accumulation(&Incidences::of(&units, 37), 37.0, None);
        assert!(curve.len() <= 202 && curve[0].outings == 1);
        assert_eq!(curve.last().unwrap().outings, 1_001);
        assert!((curve.last().unwrap().species - 37.0).abs() < 1e-9);
        assert!(curve.is_sorted_by(|a, b| a.species <= b.species + 1e-12));
    }
}
