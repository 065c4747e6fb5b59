//! Estimates how much each manner of moving counts as search apart for outings of each style. Layer: `analyse`.
//!
//! # Method
//! Finds show how much a manner counts beside the other manners of the same outing ([`super::weights`]). They do not
//! show how much it counts beside the manners of other outings. Who searches line by line walks fast only on the way
//! there, and finds nothing on it; who goes fast from spot to spot makes all finds in that manner and spends no time in
//! another. Weights of both together would make an hour of the first worth more than an hour of the second, and
//! a change of habits a change of seasons or years.
//!
//! So outings are grouped by style, the manner off regular paths in which they spent most of the moving time, and
//! weights are estimated for each group. In each the mean weight over finds is 1: **an hour of search is assumed to
//! count the same in each style**. The grouping does not depend on finds, since time at them belongs to no manner.

use serde::Serialize;

use super::manner::{Manner, SEARCHING, Weights};
use super::weights::ByManner;

/// The manners that make a style: those off regular paths.
const STYLES: usize = 3;
/// Fewer outings of another style than this are no second style (project choice).
const LEAST_OUTINGS: usize = 3;
/// The same as a share of all outings (project choice).
const LEAST_SHARE: f64 = 0.1;

/// The weights of one style.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct StyleWeights {
    /// The manner of most of the moving time.
    pub style: Manner,
    /// Outings of that style.
    pub outings: usize,
    /// How much each manner counts on them.
    #[serde(flatten)]
    pub weights: Weights,
}

/// The weights of all styles.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Styles([Option<StyleWeights>; STYLES]);

/// The style of an outing: the manner off regular paths with most hours; `None` without any.
#[must_use]
pub fn style(outing: &ByManner) -> Option<Manner> {
    let most = (0..STYLES).max_by(|a, b| outing.hours[*a].total_cmp(&outing.hours[*b]))?;
    (outing.hours[most] > 0.0).then(|| SEARCHING[most])
}

impl Styles {
    /// The weights that explain best in which manner finds were made, for each style.
    #[must_use]
    pub fn estimated(outings: &[ByManner]) -> Self {
        Self(std::array::from_fn(|class| {
            let own: Vec<ByManner> = outings
                .iter()
                .filter(|outing| style(outing) == Some(SEARCHING[class]))
                .copied()
                .collect();
            (!own.is_empty()).then(|| StyleWeights {
                style: SEARCHING[class],
                outings: own.len(),
                weights: Weights::estimated(&own),
            })
        }))
    }

    /// The styles that occur, slow ones first.
    pub fn each(&self) -> impl Iterator<Item = &StyleWeights> {
        self.0.iter().flatten()
    }

    /// The weights of an outing of this style; those assumed where nothing is known of it.
    #[must_use]
    pub fn of(&self, style: Option<Manner>) -> Weights {
        let class = style.and_then(Manner::class).filter(|class| *class < STYLES);
        class.and_then(|class| self.0[class]).map_or_else(Weights::default, |own| own.weights)
    }

    /// Outings of each style, slow ones first, where two styles or more are frequent enough that rates compare them.
    #[must_use]
    pub fn differing(&self) -> Option<[usize; STYLES]> {
        let outings = self.0.map(|own| own.map_or(0, |own| own.outings));
        let all = outings.iter().sum::<usize>() as f64;
        let frequent =
            |count: &&usize| **count >= LEAST_OUTINGS && **count as f64 >= LEAST_SHARE * all;
        (outings.iter().filter(frequent).count() > 1).then_some(outings)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;

    /// Outings line by line with some minutes of fast walking on the way, on which nothing is found, and outings
    /// fast from spot to spot; the same rate by hour of search.
    fn two_styles() -> Vec<(ByManner, f64)> {
        let mut rng = Rng::new(51);
        (0..80)
            .map(|outing| {
                let (search, way) = (2.0 + rng.uniform(), 0.1 + 0.1 * rng.uniform());
                let found = rng.poisson(3.0 * search);
                let of = |class: usize, hours: f64, finds: u32, mut by: ByManner| {
                    by.hours[class] += hours;
                    by.km[class] += [1.2, 2.9, 5.0, 4.5][class] * hours;
                    by.finds[class] += finds;
                    by
                };
                let class = if outing < 40 { 0 } else { 2 };
                let by = of(2, way, 0, of(class, search, found, ByManner::default()));
                (by, search)
            })
            .collect()
    }

    #[test]
    fn an_hour_of_search_counts_the_same_in_each_style() {
        let outings = two_styles();
        let all: Vec<ByManner> = outings.iter().map(|(by, _)| *by).collect();
        let styles = Styles::estimated(&all);
        let ratio = |weights: &dyn Fn(&ByManner) -> Weights, part: &[(ByManner, f64)]| {
            let counted = |by: &ByManner| -> f64 {
                by.hours.iter().zip(weights(by).hour).map(|(hours, weight)| hours * weight).sum()
            };
            let (sum, whole) = part
                .iter()
                .fold((0.0, 0.0), |sums, (by, search)| (sums.0 + counted(by), sums.1 + search));
            sum / whole
        };
        let by_style = |by: &ByManner| styles.of(style(by));
        let (slow, fast) = (ratio(&by_style, &outings[..40]), ratio(&by_style, &outings[40..]));
        assert!((slow - 1.0).abs() < 0.06 && (fast - 1.0).abs() < 0.09, "{slow} {fast}");
        // one set of weights for both takes the one style for poor and the other for rich
        let pooled = Weights::estimated(&all);
        let one = |_: &ByManner| pooled;
        let apart = ratio(&one, &outings[..40]) / ratio(&one, &outings[40..]);
        assert!(apart > 1.3, "{apart}");
        assert_eq!(styles.differing(), Some([40, 0, 40]));
    }

    #[test]
    fn rare_outings_of_another_style_are_no_second_style() {
        let mut all: Vec<ByManner> = two_styles().into_iter().map(|(by, _)| by).collect();
        all.truncate(42);
        assert_eq!(Styles::estimated(&all).differing(), None);
        assert_eq!(Styles::estimated(&[]).of(None), Weights::default());
    }
}
