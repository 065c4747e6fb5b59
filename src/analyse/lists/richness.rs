//! Estimates how many species a list would have if it were complete: Chao2, jackknife, ICE. Chao2 is a
//! lower bound; all assume that outings are alike and that no species comes or goes meanwhile. Layer:
//! `analyse`.

use serde::Serialize;

use super::completed::Spreads;
use super::incidence::{INFREQUENT, Incidences};
use crate::analyse::intervals::{Interval, Z95, garwood};
use crate::analyse::statistics::student_quantile;

/// Estimates of the number of species.
///
/// Every value is for the ground, seasons and collectors of these outings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Richness {
    /// Species found.
    pub observed: usize,
    /// Outings.
    pub outings: usize,
    /// Species found in one outing only.
    pub uniques: usize,
    /// Species found in two outings.
    pub duplicates: usize,
    /// The lower bound, bias-corrected.
    pub chao2: Interval,
    /// The lower bound in its classic form; bias-corrected where no species was found in two outings.
    pub chao2_classic: Interval,
    /// The first-order jackknife.
    pub jackknife1: Interval,
    /// The second-order jackknife.
    pub jackknife2: Interval,
    /// The incidence coverage-based estimator; none where all infrequent species are uniques.
    pub ice: Option<Interval>,
    /// The share of all incidences that belong to species on the list.
    pub coverage: Interval,
    /// New species to be expected on one more outing like these.
    pub new_in_next: Interval,
}

/// The fewest outings for an estimate (project choice).
pub const LEAST_OUTINGS: usize = 5;

impl Richness {
    /// The share of the species of [`Self::chao2`] that were found: more than the share of all, since that
    /// number is a lower bound.
    #[must_use]
    pub fn share_of_chao2(&self) -> Interval {
        let of = |number: f64| (self.observed as f64 / number.max(1e-9)).min(1.0);
        let Interval { value, low95, high95 } = self.chao2;
        Interval { value: of(value), low95: of(high95), high95: of(low95) }
    }

    /// The estimates; `None` below [`LEAST_OUTINGS`] outings or without a species.
    #[must_use]
    pub fn of(found: &Incidences) -> Option<Self> {
        if found.units < LEAST_OUTINGS || found.of_species.is_empty() {
            return None;
        }
        let (observed, uniques) = (found.observed(), found.found_in(1));
        let spreads = Spreads::of(found);
        let within = |value: f64, spread: f64| Interval {
            value,
            low95: (value - Z95 * spread).max(observed),
            high95: (value + Z95 * spread).max(observed),
        };
        let coverage = sample_coverage(found);
        Some(Self {
            observed: found.of_species.len(),
            outings: found.units,
            uniques: whole(uniques),
            duplicates: whole(found.found_in(2)),
            chao2: chao2(found, true),
            chao2_classic: chao2(found, false),
            jackknife1: jackknife1(found),
            jackknife2: within(jackknife2(found).max(observed), spreads.jackknife2),
            ice: ice(found).map(|ice| within(ice, spreads.ice)),
            coverage: Interval {
                value: coverage,
                low95: (coverage - Z95 * spreads.coverage).max(0.0),
                high95: (coverage + Z95 * spreads.coverage).min(1.0),
            },
            new_in_next: garwood(uniques).times(1.0 / found.units as f64),
        })
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
fn whole(count: f64) -> usize {
    count as usize
}

/// Chao2 with its 95 % interval on the logarithm of the species not found.
///
/// # References
/// Chao 1987, Estimating the population size for capture-recapture data with unequal catchability,
/// Biometrics 43:783. Colwell, Mao & Chang 2004 and Chao 2005 (Encyclopedia of Statistical Sciences
/// 12:7907) for the bias-corrected form and its variance; the interval without uniques from memory.
#[must_use]
pub fn chao2(found: &Incidences, corrected: bool) -> Interval {
    let (observed, a) = (found.observed(), found.few());
    let (q1, q2) = (found.found_in(1), found.found_in(2));
    let (added, variance) = if corrected || q2 == 0.0 {
        let added = a * q1 * (q1 - 1.0) / (2.0 * (q2 + 1.0));
        let variance = if q2 == 0.0 {
            a * q1 * (q1 - 1.0) / 2.0 + a * a * q1 * (2.0 * q1 - 1.0).powi(2) / 4.0
                - a * a * q1.powi(4) / (4.0 * (observed + added))
        } else {
            added
                + a * a * q1 * (2.0 * q1 - 1.0).powi(2) / (4.0 * (q2 + 1.0).powi(2))
                + a * a * q1 * q1 * q2 * (q1 - 1.0).powi(2) / (4.0 * (q2 + 1.0).powi(4))
        };
        (added, variance)
    } else {
        let r = q1 / q2;
        let variance = q2 * (a * r * r / 2.0 + a * a * r.powi(3) + a * a * r.powi(4) / 4.0);
        (a * q1 * r / 2.0, variance)
    };
    if added < 1e-9 {
        return without_uniques(found);
    }
    let spread = (Z95 * (1.0 + variance.max(0.0) / (added * added)).ln().sqrt()).exp();
    let value = observed + added;
    Interval { value, low95: observed + added / spread, high95: observed + added * spread }
}

/// The interval where no species is estimated to be missing.
fn without_uniques(found: &Incidences) -> Interval {
    let observed = found.observed();
    let missed: f64 = found.of_species.iter().map(|count| (-f64::from(*count)).exp()).sum();
    let share = if observed > 0.0 { missed / observed } else { 0.0 };
    let middle = observed / (1.0 - share).max(1e-9);
    let half = Z95 * (observed * share).sqrt() / (1.0 - share).max(1e-9);
    Interval { value: observed, low95: (middle - half).max(observed), high95: middle + half }
}

/// The standard error of Chao2, as the interval does not show it.
#[must_use]
pub fn chao2_error(found: &Incidences) -> f64 {
    let estimate = chao2(found, false);
    let added = estimate.value - found.observed();
    if added <= 0.0 {
        return 0.0;
    }
    let spread = (estimate.high95 - found.observed()) / added;
    added * (((spread.ln() / Z95).powi(2)).exp() - 1.0).max(0.0).sqrt()
}

/// The first-order jackknife; its variance is that of the outings' uniques.
///
/// # References
/// Burnham & Overton 1979, Robust estimation of population size when capture probabilities vary among
/// animals, Ecology 60:927; Heltshe & Forrester 1983, Estimating species richness using the jackknife
/// procedure, Biometrics 39:1.
#[must_use]
pub fn jackknife1(found: &Incidences) -> Interval {
    let (m, q1) = (found.units as f64, found.found_in(1));
    let value = found.observed() + q1 * found.few();
    let squares: f64 = found.uniques_of_unit.iter().map(|count| f64::from(*count).powi(2)).sum();
    let half =
        student_quantile(m - 1.0, 0.975) * (found.few() * (squares - q1 * q1 / m)).max(0.0).sqrt();
    Interval { value, low95: (value - half).max(found.observed()), high95: value + half }
}

/// The second-order jackknife.
///
/// # References
/// Smith & van Belle 1984, Nonparametric estimation of species richness, Biometrics 40:119.
#[must_use]
pub fn jackknife2(found: &Incidences) -> f64 {
    let m = found.units as f64;
    let added = found.found_in(1) * (2.0 * m - 3.0) / m
        - found.found_in(2) * (m - 2.0).powi(2) / (m * (m - 1.0)).max(1.0);
    found.observed() + added
}

/// The incidence coverage-based estimator.
///
/// # References
/// Lee & Chao 1994, Estimating population size via sample coverage for closed capture-recapture models,
/// Biometrics 50:88; Chazdon and others 1998, in Forest Biodiversity Research, Monitoring and Modeling,
/// p. 285.
#[must_use]
pub fn ice(found: &Incidences) -> Option<f64> {
    let (mut species, mut incidences, mut pairs, mut frequent) = (0.0, 0.0, 0.0, 0.0);
    for (count, number) in found.frequencies() {
        let times = f64::from(count);
        if count <= INFREQUENT {
            species += number;
            incidences += times * number;
            pairs += times * (times - 1.0) * number;
        } else {
            frequent += number;
        }
    }
    if species == 0.0 {
        return Some(frequent);
    }
    let coverage = 1.0 - found.found_in(1) / incidences;
    let units = found.infrequent_units as f64;
    if coverage <= 0.0 || units < 2.0 {
        return None;
    }
    let uneven =
        species / coverage * units / (units - 1.0) * pairs / (incidences * incidences) - 1.0;
    Some(frequent + species / coverage + found.found_in(1) / coverage * uneven.max(0.0))
}

/// The estimated share of all incidences that belong to species on the list.
///
/// # References
/// Chao & Jost 2012, Coverage-based rarefaction and extrapolation: standardizing samples by completeness
/// rather than size, Ecology 93:2533; for incidences Chao and others 2014, Ecol. Monogr. 84:45, eq. 4b.
#[must_use]
pub fn sample_coverage(found: &Incidences) -> f64 {
    let (m, q1, q2) = (found.units as f64, found.found_in(1), found.found_in(2));
    let total = found.total();
    if total <= 0.0 {
        return 0.0;
    }
    let again = if q2 > 0.0 {
        (m - 1.0) * q1 / ((m - 1.0) * q1 + 2.0 * q2)
    } else {
        (m - 1.0) * (q1 - 1.0) / ((m - 1.0) * (q1 - 1.0) + 2.0)
    };
    if q1 == 0.0 { 1.0 } else { (1.0 - q1 / total * again.max(0.0)).clamp(0.0, 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four outings: a in all, b in two, c to f in one each.
    fn found() -> Incidences {
        Incidences::of(&[vec![0, 1, 2], vec![0, 1, 3], vec![0, 4], vec![0, 5], vec![0]], 6)
    }

    #[test]
    fn estimates_by_hand() {
        let found = found();
        // q1 = 4, q2 = 1, m = 5: 6 + 0.8 * 4 * 3 / 4 and 6 + 0.8 * 16 / 2
        assert!((chao2(&found, true).value - 8.4).abs() < 1e-12);
        assert!((chao2(&found, false).value - 12.4).abs() < 1e-12);
        assert!((jackknife1(&found).value - 9.2).abs() < 1e-12);
        assert!((jackknife2(&found) - (6.0 + 4.0 * 7.0 / 5.0 - 9.0 / 20.0)).abs() < 1e-12);
        // all infrequent: 11 incidences, coverage 7/11, pairs 20 + 2
        let (coverage, pairs) = (7.0 / 11.0, 22.0);
        let uneven: f64 = 6.0 / coverage * 5.0 / 4.0 * pairs / 121.0 - 1.0;
        let expected = 6.0 / coverage + 4.0 / coverage * uneven;
        assert!((ice(&found).unwrap() - expected).abs() < 1e-9);
        let coverage = 1.0 - 4.0 / 11.0 * 16.0 / 18.0;
        assert!((sample_coverage(&found) - coverage).abs() < 1e-12);
        let all = Richness::of(&found).unwrap();
        assert!((all.new_in_next.value - 0.8).abs() < 1e-12);
        for interval in [all.chao2, all.chao2_classic, all.jackknife1, all.jackknife2] {
            assert!(interval.low95 >= 6.0 && interval.low95 <= interval.value, "{interval:?}");
            assert!(interval.high95 >= interval.value, "{interval:?}");
        }
    }

    #[test]
    fn a_complete_list_and_one_of_uniques() {
        let complete = Incidences::of(&vec![vec![0, 1]; 8], 2);
        let estimates = Richness::of(&complete).unwrap();
        assert_eq!((estimates.chao2.value, estimates.coverage.value), (2.0, 1.0));
        assert!(estimates.chao2.high95 < 2.1, "{:?}", estimates.chao2);
        let uniques: Vec<Vec<usize>> = (0..6).map(|unit| vec![unit]).collect();
        let estimates = Richness::of(&Incidences::of(&uniques, 6)).unwrap();
        assert!(estimates.ice.is_none() && estimates.chao2.value > 12.0, "{estimates:?}");
        assert!(estimates.coverage.value < 0.2);
        let one = Incidences::of(&[vec![0], vec![], vec![], vec![], vec![]], 1);
        assert_eq!(Richness::of(&one).unwrap().chao2.value, 1.0);
        assert!(Richness::of(&Incidences::of(&vec![vec![0]; 3], 1)).is_none());
    }
}
