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
//! The manner of a find is that of most of the minute before the collector arrived at it.
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
        Self {
            hour: full(weights),
            km: per_km(weights, speeds),
            finds: outings.iter().flat_map(|outing| outing.finds).sum(),
        }
    }
}

/// The largest becomes 1.
fn full(weights: [f64; 4]) -> [f64; 4] {
    let most = weights.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    weights.map(|weight| weight / most)
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
        for (estimated, truth) in found.hour.iter().zip(truth) {
            assert!((estimated - truth).abs() < 0.12, "{found:?}");
        }
    }

    #[test]
    fn without_finds_the_weights_are_the_default() {
        let none = Weights::estimated(&[]);
        assert_eq!((none.hour, none.finds), (Weights::default().hour, 0));
        let untracked = ByManner { finds: [3, 0, 0, 0], ..ByManner::default() };
        assert!(Weights::estimated(&[untracked]).hour.iter().all(|weight| weight.is_finite()));
    }
}
