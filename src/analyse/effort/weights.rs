//! Estimates how much each manner of moving counts as search, from the manners in which finds were
//! made. Layer: `analyse`.
//!
//! # Method
//! On an outing with the rate r the finds made in manner c are Poisson with the expectation
//! r wₒ tₒ, t the time spent in it and w its weight. Given the number of finds of the outing, their
//! manners are multinomial with probabilities in proportion to w t: the rate, and with it season,
//! weather and overdispersion, cancels. Weights maximise that likelihood over all outings, all
//! taxa together, with a gamma prior worth `PRIOR` finds for each manner about the default
//! weights, so that few data change little.
//!
//! The manner of a find is that of most of the minute before the collector arrived at it, and a part of the track is
//! of the manner of the minute before it as well ([`super::judge`]): otherwise the slow steps about each stop would be
//! time in which nothing is ever found.
//!
//! # Scale
//! Over finds the mean weight is 1, that of an hour and that of a kilometre: an hour counts as one in the manner in
//! which finds are made. A manner with few finds decides nothing about the scale, and where all manners find alike, hours
//! and kilometres are those of the track.
//!
//! # References
//! Hausman, Hall & Griliches 1984, Econometric models for count data, Econometrica 52:909 (the
//! conditional likelihood of counts with an effect of each group); Hunter 2004, MM algorithms for
//! generalized Bradley-Terry models, Annals of Statistics 32:384 (the iteration); both from memory.

use super::manner::{Weights, per_km};

/// Finds that the prior of each manner is worth (project choice).
const PRIOR: f64 = 3.0;

/// Hours, kilometres and finds of one outing by manner, in the order of
/// [`super::manner::SEARCHING`].
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ByManner {
    /// Hours.
    pub hours: [f64; 4],
    /// Kilometres.
    pub km: [f64; 4],
    /// Finds.
    pub finds: [u32; 4],
}

impl Weights {
    /// The weights that explain best in which manner finds were made.
    #[must_use]
    pub fn estimated(outings: &[ByManner]) -> Self {
        let prior = Self::default().hour;
        let finds: [f64; 4] = std::array::from_fn(|class| {
            outings.iter().map(|outing| f64::from(outing.finds[class])).sum()
        });
        let mut weights = prior;
        for _ in 0..500 {
            let exposed = exposed(outings, &weights);
            let next: [f64; 4] = std::array::from_fn(|class| {
                (finds[class] + PRIOR) / (exposed[class] + PRIOR / prior[class])
            });
            let moved = (0..4).any(|class| (next[class] / weights[class] - 1.0).abs() > 1e-9);
            weights = next;
            if !moved {
                break;
            }
        }
        let total = |pick: fn(&ByManner) -> [f64; 4]| -> [f64; 4] {
            std::array::from_fn(|class| outings.iter().map(|outing| pick(outing)[class]).sum())
        };
        let (hours, km) = (total(|outing| outing.hours), total(|outing| outing.km));
        let usual = [0.3, 0.8, 1.3, 1.3];
        let speeds = std::array::from_fn(|class| {
            // a usual speed stands in for the first kilometre
            let (hours, km) = (hours[class] + 1.0 / (3.6 * usual[class]), km[class] + 1.0);
            km / hours / 3.6
        });
        let made = made(finds, hours, weights);
        let by_manner = std::array::from_fn(|class| {
            outings.iter().map(|outing| outing.finds[class]).sum::<u32>()
        });
        Self {
            hour: scaled(weights, made),
            km: scaled(per_km(weights, speeds), made),
            finds: by_manner.iter().sum(),
            by_manner,
        }
    }
}

/// The finds by manner, with the prior's by what is expected from the hours: without any find these decide.
fn made(finds: [f64; 4], hours: [f64; 4], weights: [f64; 4]) -> [f64; 4] {
    let expected: [f64; 4] = std::array::from_fn(|class| hours[class] * weights[class]);
    let whole = expected.iter().sum::<f64>();
    let share = |class: usize| if whole > 0.0 { expected[class] / whole } else { 0.25 };
    std::array::from_fn(|class| finds[class] + PRIOR * share(class))
}

/// The mean over finds becomes 1.
fn scaled(weights: [f64; 4], made: [f64; 4]) -> [f64; 4] {
    let sum: f64 = weights.iter().zip(made).map(|(weight, finds)| weight * finds).sum();
    let mean = sum / made.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    if mean > 0.0 { weights.map(|weight| weight / mean) } else { weights }
}

/// For each manner, the sum over finds of its time over the weighted time of the outing.
fn exposed(outings: &[ByManner], weights: &[f64; 4]) -> [f64; 4] {
    let mut exposed = [0.0; 4];
    for outing in outings {
        let finds = f64::from(outing.finds.iter().sum::<u32>());
        let whole: f64 = outing.hours.iter().zip(weights).map(|(hours, w)| hours * w).sum();
        if finds > 0.0 && whole > 0.0 {
            for (sum, hours) in exposed.iter_mut().zip(outing.hours) {
                *sum += finds * hours / whole;
            }
        }
    }
    exposed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;

    #[test]
    fn weights_come_back_whatever_the_season_does() {
        let mut rng = Rng::new(41);
        let truth = [0.5, 1.0, 0.7, 0.05];
        let outings: Vec<ByManner> = (0..300)
            .map(|_| {
                let hours: [f64; 4] = std::array::from_fn(|_| 0.2 + rng.uniform());
                // between a poor and a rich day
                let rate = (1.5 * rng.normal()).exp();
                let finds = std::array::from_fn(|c| rng.poisson(rate * truth[c] * hours[c]));
                ByManner { hours, km: hours.map(|hours| 2.0 * hours), finds }
            })
            .collect();
        let found = Weights::estimated(&outings);
        assert!(found.finds > 300, "{found:?}");
        // their ratios: the scale is that of the finds
        for (estimated, truth) in found.hour.iter().zip(truth) {
            assert!((estimated / found.hour[1] - truth).abs() < 0.12, "{found:?}");
        }
        let mean = |of: [f64; 4]| -> f64 {
            let sum: f64 = of.iter().zip(found.by_manner).map(|(w, n)| w * f64::from(n)).sum();
            sum / f64::from(found.finds)
        };
        assert!((mean(found.hour) - 1.0).abs() < 0.01 && (mean(found.km) - 1.0).abs() < 0.01);
    }

    #[test]
    fn hours_and_kilometres_are_those_of_the_track_where_all_manners_find_alike() {
        let mut rng = Rng::new(42);
        let outings: Vec<ByManner> = (0..200)
            .map(|_| {
                // one pace, its noise now in one manner, now in another
                let hours = [0.1 * rng.uniform(), 1.0, 0.4 * rng.uniform(), 0.0];
                let finds = std::array::from_fn(|c| rng.poisson(4.0 * hours[c]));
                ByManner { hours, km: hours.map(|hours| 2.9 * hours), finds }
            })
            .collect();
        let found = Weights::estimated(&outings);
        let ratio = |pick: fn(&ByManner) -> [f64; 4], weights: [f64; 4]| {
            let sums = outings.iter().map(|outing| {
                let parts = pick(outing);
                let weighted: f64 = parts.iter().zip(weights).map(|(part, w)| part * w).sum();
                (weighted, parts.iter().sum::<f64>())
            });
            let (weighted, whole) = sums.fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
            weighted / whole
        };
        let (hours, km) = (ratio(|o| o.hours, found.hour), ratio(|o| o.km, found.km));
        assert!((hours - 1.0).abs() < 0.03 && (km - 1.0).abs() < 0.03, "{hours} {km}");
    }

    #[test]
    fn without_finds_the_weights_are_the_default() {
        let none = Weights::estimated(&[]);
        let steady = none.hour.map(|weight| weight / none.hour[1]);
        assert_eq!((steady, none.finds), (Weights::default().hour, 0));
        let untracked = ByManner { finds: [3, 0, 0, 0], ..ByManner::default() };
        assert!(Weights::estimated(&[untracked]).hour.iter().all(|weight| weight.is_finite()));
    }
}
