//! Selects the bandwidth of the kernel by Silverman's rule, by cross-validation or as given; never
//! narrower than the uncertainty of the positions. Layer: `analyse`.
//!
//! # References
//! Silverman 1986, Density Estimation for Statistics and Data Analysis, 3.4.2 and 4.3.2 (the rule,
//! and the interquartile range against long tails), 3.4.4 (likelihood cross-validation).

use serde::Serialize;

use super::dispersion::OfOuting;
use super::kernel::Mass;
use super::rate_bandwidth::by_rate;
use crate::analyse::statistics::{Rng, quantile};

/// How the bandwidth is chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Choice {
    /// Cross-validation where there are enough finds and outings, otherwise the rule.
    Best,
    /// The normal reference rule in two dimensions.
    Rule,
    /// The bandwidth that maximises the likelihood of each outing's finds given all others.
    CrossValidation,
    /// As stated, metres.
    Stated(f64),
}

/// The origin of a bandwidth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub enum Origin {
    /// The rule.
    Rule,
    /// Cross-validation.
    CrossValidation,
    /// The user.
    Stated,
}

/// A chosen bandwidth.
///
/// `floor` is what the uncertainty of the positions allows: a narrower kernel would draw the errors of the
/// receiver.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Bandwidth {
    /// Where it comes from.
    pub origin: Origin,
    /// Metres.
    pub metres: f64,
    /// The chosen value before the lower limit was applied.
    pub before_floor: f64,
    /// The positions' own uncertainty: the median of the 95 % radii.
    pub floor: f64,
}

/// What a rate rests on: the places of the track that finds were made from, and the track, each with
/// its outing.
pub struct Effort {
    /// Finds.
    pub finds: Vec<OfOuting>,
    /// Track, weighted by searched length.
    pub track: Vec<OfOuting>,
}

/// Chooses as [`choose`], cross-validating the rate along the track instead of the finds alone.
#[must_use]
pub fn choose_for_rate(
    points: &[Mass],
    radii: &[f64],
    outings: &[usize],
    effort: &Effort,
    choice: Choice,
) -> Option<Bandwidth> {
    let plain = choose(points, radii, outings, Choice::Rule);
    let different: std::collections::BTreeSet<&usize> =
        effort.finds.iter().map(|(_, outing)| outing).collect();
    let enough = effort.finds.len() >= LEAST_FINDS && different.len() >= LEAST_OUTINGS;
    let validate = choice == Choice::CrossValidation || (choice == Choice::Best && enough);
    let top = 2.0 * rule(points);
    let validated = plain.filter(|_| validate).and_then(|plain| {
        let metres = by_rate(&effort.finds, &effort.track, plain.floor.max(top / 40.0), top)?;
        let origin = Origin::CrossValidation;
        let metres = metres.max(plain.floor);
        Some(Bandwidth { origin, metres, before_floor: metres, floor: plain.floor })
    });
    match choice {
        Choice::Best => validated.or_else(|| choose(points, radii, outings, Choice::Rule)),
        _ => validated.or_else(|| choose(points, radii, outings, choice)),
    }
}

/// The fewest finds for cross-validation (project choice).
const LEAST_FINDS: usize = 20;
/// The fewest outings for cross-validation (project choice).
const LEAST_OUTINGS: usize = 5;

/// Chooses the bandwidth for finds at these points with these 95 % radii, of these outings; `None`
/// without finds, or when all are at one point of unknown uncertainty.
///
/// # Accuracy
/// Cross-validation leaves out the finds of one outing together; with fewer finds or outings than it needs the rule
/// is used.
#[must_use]
pub fn choose(
    points: &[Mass],
    radii: &[f64],
    outings: &[usize],
    choice: Choice,
) -> Option<Bandwidth> {
    let mut sorted: Vec<f64> = radii.iter().copied().filter(|r| r.is_finite()).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let floor = quantile(&sorted, 0.5).unwrap_or(0.0);
    let different: std::collections::BTreeSet<&usize> = outings.iter().collect();
    let enough = points.len() >= LEAST_FINDS && different.len() >= LEAST_OUTINGS;
    let (origin, before_floor) = match choice {
        Choice::CrossValidation => {
            (Origin::CrossValidation, cross_validated(points, outings, floor))
        }
        Choice::Best if enough => {
            (Origin::CrossValidation, cross_validated(points, outings, floor))
        }
        Choice::Best | Choice::Rule => (Origin::Rule, rule(points)),
        Choice::Stated(metres) => (Origin::Stated, metres),
    };
    let metres = before_floor.max(floor);
    (!points.is_empty() && metres.is_finite() && metres > 0.0).then_some(Bandwidth {
        origin,
        metres,
        before_floor,
        floor,
    })
}

/// The smaller of the standard deviation and the interquartile range over 1.34, on the axis where
/// that is less, times n^(-1/6).
#[must_use]
pub fn rule(points: &[Mass]) -> f64 {
    let spread = |pick: fn(&Mass) -> f64| {
        let mut values: Vec<f64> = points.iter().map(pick).collect();
        values.sort_unstable_by(f64::total_cmp);
        robust_spread(&values)
    };
    let spread = spread(|m| m.x).min(spread(|m| m.y));
    spread * (points.len() as f64).powf(-1.0 / 6.0)
}

/// Silverman's rule in one dimension: 0.9 times the spread times n^(-1/5).
#[must_use]
pub fn rule_in_one_dimension(sorted: &[f64]) -> f64 {
    0.9 * robust_spread(sorted) * (sorted.len() as f64).powf(-0.2)
}

fn robust_spread(sorted: &[f64]) -> f64 {
    let n = sorted.len() as f64;
    if n < 2.0 {
        return 0.0;
    }
    let mean = sorted.iter().sum::<f64>() / n;
    let deviation =
        (sorted.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let range = quantile(sorted, 0.75).unwrap_or(0.0) - quantile(sorted, 0.25).unwrap_or(0.0);
    // half of the finds at one place would give a range of zero
    if range > 0.0 { deviation.min(range / 1.34) } else { deviation }
}

/// The bandwidth with the highest likelihood of each outing's finds given all others', searched
/// from the lower limit to twice the rule in steps of a quarter. Finds of one outing are left out
/// together, since they depend on the same track. More than 1,500 finds are represented by a sample
/// of that size.
fn cross_validated(points: &[Mass], outings: &[usize], floor: f64) -> f64 {
    const MOST: usize = 1_500;
    let top = 2.0 * rule(points);
    // a find of unknown outing counts as an outing of its own
    let outing = |place: usize| outings.get(place).copied().unwrap_or(usize::MAX - place);
    let mut drawn: Vec<(Mass, usize)> =
        points.iter().enumerate().map(|(place, mass)| (*mass, outing(place))).collect();
    let mut rng = Rng::new(0xba4d);
    for place in 0..MOST.min(drawn.len()) {
        let other = place + rng.below(drawn.len() - place);
        drawn.swap(place, other);
    }
    drawn.truncate(MOST);
    let mut best = (f64::NEG_INFINITY, top);
    let ground = ground(&drawn);
    let mut h = floor.max(top / 200.0);
    while h > 0.0 && h <= top {
        let value = left_out_likelihood(&drawn, ground, h);
        if value > best.0 {
            best = (value, h);
        }
        h *= 1.25;
    }
    best.1
}

/// The area that the finds lie in, square metres.
fn ground(points: &[(Mass, usize)]) -> f64 {
    let side = |pick: fn(&Mass) -> f64| {
        let values = points.iter().map(|(mass, _)| pick(mass));
        values.clone().fold(f64::NEG_INFINITY, f64::max) - values.fold(f64::INFINITY, f64::min)
    };
    side(|m| m.x).max(1.0) * side(|m| m.y).max(1.0)
}

/// The probability that a find lies anywhere in the area: without it an isolated find would widen
/// the bandwidth to reach it.
const ANYWHERE: f64 = 0.05;

fn left_out_likelihood(points: &[(Mass, usize)], ground: f64, h: f64) -> f64 {
    let scale = 1.0 / (2.0 * std::f64::consts::PI * h * h);
    let mut sums = vec![0.0; points.len()];
    let mut of_outing: std::collections::HashMap<usize, usize> = std::collections::HashMap::new();
    for (i, (a, outing)) in points.iter().enumerate() {
        *of_outing.entry(*outing).or_default() += 1;
        for (j, (b, other)) in points.iter().enumerate().skip(i + 1) {
            let d2 = ((a.x - b.x).powi(2) + (a.y - b.y).powi(2)) / (h * h);
            if d2 < 60.0 && outing != other {
                let value = (-0.5 * d2).exp();
                sums[i] += value;
                sums[j] += value;
            }
        }
    }
    points
        .iter()
        .zip(&sums)
        .map(|((_, outing), sum)| {
            let others = (points.len() - of_outing[outing]).max(1) as f64;
            ((1.0 - ANYWHERE) * sum * scale / others + ANYWHERE / ground).ln()
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cloud(count: usize, spread: f64) -> Vec<Mass> {
        let mut rng = Rng::new(6);
        (0..count)
            .map(|_| Mass { x: spread * rng.normal(), y: spread * rng.normal(), weight: 1.0 })
            .collect()
    }

    #[test]
    fn the_rule_is_right_for_a_normal_cloud() {
        let h = rule(&cloud(4_096, 100.0));
        // 100 times 4096^(-1/6) is 25
        assert!((h - 25.0).abs() < 1.5, "{h}");
    }

    #[test]
    fn no_bandwidth_is_below_the_uncertainty_of_the_positions() {
        let points = cloud(4_096, 10.0);
        for choice in [Choice::Rule, Choice::CrossValidation, Choice::Stated(1.0)] {
            let bandwidth = choose(&points, &[8.0, 12.0, 9.0], &[], choice).unwrap();
            assert!(bandwidth.metres >= 9.0, "{choice:?} {bandwidth:?}");
        }
        assert!(choose(&[], &[8.0], &[], Choice::Rule).is_none());
        assert!(choose(&points[..1], &[], &[], Choice::Rule).is_none());
    }

    #[test]
    fn cross_validation_resolves_two_clusters_that_the_rule_smooths() {
        let mut points = cloud(400, 5.0);
        for mass in &mut points[..200] {
            mass.x += 500.0;
        }
        let outings: Vec<usize> = (0..400).map(|place| place % 8).collect();
        let by_rule = choose(&points, &[1.0], &outings, Choice::Rule).unwrap().metres;
        let best = choose(&points, &[1.0], &outings, Choice::Best).unwrap();
        let by_data = best.metres;
        assert_eq!(best.origin, Origin::CrossValidation);
        let few = choose(&points[..19], &[1.0], &outings[..19], Choice::Best).unwrap();
        assert_eq!(few.origin, Origin::Rule);
        assert!(by_data < 5.0, "{by_data} against {by_rule}");
    }

    #[test]
    fn finds_of_one_outing_are_left_out_together() {
        // each outing finds five within two metres, around its own centre within a cloud of 50 m
        let places = cloud(60, 50.0);
        let mut rng = Rng::new(8);
        let (mut points, mut outings) = (Vec::new(), Vec::new());
        for (outing, place) in places.iter().enumerate() {
            for _ in 0..5 {
                let (x, y) = (place.x + 2.0 * rng.normal(), place.y + 2.0 * rng.normal());
                points.push(Mass { x, y, weight: 1.0 });
                outings.push(outing);
            }
        }
        let alone: Vec<usize> = (0..points.len()).collect();
        let each = |outings: &[usize]| {
            choose(&points, &[1.0], outings, Choice::CrossValidation).unwrap().metres
        };
        assert!(each(&alone) < 5.0 && each(&outings) > 10.0, "{} {}", each(&alone), each(&outings));
    }
}
