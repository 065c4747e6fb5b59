//! Tests an association in strata of two-by-two tables: the distribution over all permutations within
//! the strata, computed exactly, and the odds ratio with its interval. Layer: `analyse`.
//!
//! # References
//! Mehta, Patel & Gray 1985, Computing an exact confidence interval for the common odds ratio in several
//! 2 x 2 contingency tables, JASA 80:969 (convolution over the strata); Lancaster 1961, Significance
//! tests in discrete distributions, JASA 56:223 (mid-p). Where exact distributions are too long: Mantel &
//! Haenszel 1959, J. Natl. Cancer Inst. 22:719; Robins, Breslow & Greenland 1986, Biometrics 42:311.

use serde::Serialize;

use crate::analyse::intervals::{Interval, Z95};
use crate::analyse::statistics::normal_below;

/// One stratum: how many of its members are of the taxon, with the host, and both.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stratum {
    /// All members.
    pub all: u32,
    /// Of the taxon.
    pub taxon: u32,
    /// With the host.
    pub host: u32,
    /// Of the taxon with the host.
    pub both: u32,
}

/// How an association was tested.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Method {
    /// All permutations, exactly.
    Exact,
    /// Normal approximation of the permutations.
    Pooled,
}

/// The result of the test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tested {
    /// The common odds ratio; its ends may be 0 and infinite.
    pub odds: Interval,
    /// Two-sided.
    pub p_value: f64,
    /// The smallest p-value that these strata could give.
    pub least_p: f64,
    /// How.
    pub method: Method,
}

/// Above this length of the distribution the pooled form is used.
const LONGEST: usize = 400;

/// The test with mid-p-values; `None` where no stratum can show anything.
#[must_use]
pub fn test(strata: &[Stratum]) -> Option<Tested> {
    let informative: Vec<Stratum> = strata.iter().copied().filter(|s| s.low() < s.high()).collect();
    let length: usize = informative.iter().map(|s| (s.high() - s.low()) as usize).sum();
    match length {
        0 => None,
        1..=LONGEST => Some(Exact::of(&informative).tested(0.5)),
        _ => Some(pooled(&informative)),
    }
}

impl Stratum {
    fn low(&self) -> u32 {
        (self.taxon + self.host).saturating_sub(self.all)
    }

    fn high(&self) -> u32 {
        self.taxon.min(self.host)
    }

    /// The hypergeometric probabilities from the least count on.
    fn chances(&self) -> Vec<f64> {
        let choose = |n: u32, k: u32| {
            let of = |n: u32| libm::lgamma(f64::from(n) + 1.0);
            of(n) - of(k) - of(n - k)
        };
        let all = choose(self.all, self.taxon);
        (self.low()..=self.high())
            .map(|both| {
                let others = choose(self.all - self.host, self.taxon - both);
                (choose(self.host, both) + others - all).exp()
            })
            .collect()
    }
}

/// The distribution of the sum over the strata under permutation.
#[derive(Clone, Debug)]
pub struct Exact {
    /// Logarithms of the probabilities, from the least sum on.
    chances: Vec<f64>,
    /// The place of the observed sum.
    seen: usize,
}

impl Exact {
    /// Convolves the strata.
    #[must_use]
    pub fn of(strata: &[Stratum]) -> Self {
        let (mut chances, mut seen) = (vec![1.0], 0);
        for stratum in strata {
            chances = convolved(&chances, &stratum.chances());
            seen += (stratum.both - stratum.low()) as usize;
        }
        Self { chances: chances.into_iter().map(f64::ln).collect(), seen }
    }

    /// The probability of a sum above the observed one, below it, and of it, at a logarithm of the odds
    /// ratio; and the expected place.
    fn at(&self, log_odds: f64) -> (f64, f64, f64, f64) {
        let weight = |(place, chance): (usize, &f64)| chance + place as f64 * log_odds;
        let top = self.chances.iter().enumerate().map(weight).fold(f64::NEG_INFINITY, f64::max);
        let (mut above, mut below, mut same, mut mean) = (0.0, 0.0, 0.0, 0.0);
        for (place, chance) in self.chances.iter().enumerate() {
            let mass = (weight((place, chance)) - top).exp();
            mean += mass * place as f64;
            match place.cmp(&self.seen) {
                std::cmp::Ordering::Greater => above += mass,
                std::cmp::Ordering::Less => below += mass,
                std::cmp::Ordering::Equal => same += mass,
            }
        }
        let all = above + below + same;
        (above / all, below / all, same / all, mean / all)
    }

    /// The p-values of more and of less than expected; `weight` is that of the observed sum itself: 1,
    /// or 0.5 for mid-p.
    #[must_use]
    pub fn one_sided(&self, weight: f64) -> (f64, f64) {
        let (above, below, same, _) = self.at(0.0);
        (above + weight * same, below + weight * same)
    }

    /// The test; `weight` as in [`Self::one_sided`].
    #[must_use]
    pub fn tested(&self, weight: f64) -> Tested {
        let last = self.chances.len() - 1;
        let solved = |rises: &dyn Fn(f64) -> f64| {
            let (mut low, mut high) = (-40.0, 40.0);
            for _ in 0..100 {
                let middle = 0.5 * (low + high);
                if rises(middle) < 0.0 { low = middle } else { high = middle }
            }
            (0.5_f64 * (low + high)).exp()
        };
        let tail = |log_odds: f64, more: bool| {
            let (above, below, same, _) = self.at(log_odds);
            weight * same + if more { above } else { below }
        };
        let (first, ends) = (self.seen == 0, self.seen == last);
        let value = match (first, ends) {
            (true, _) => 0.0,
            (_, true) => f64::INFINITY,
            _ => solved(&|log_odds| self.at(log_odds).3 - self.seen as f64),
        };
        let low95 = if first { 0.0 } else { solved(&|odds| tail(odds, true) - 0.025) };
        let high95 = if ends { f64::INFINITY } else { solved(&|odds| 0.025 - tail(odds, false)) };
        let (more, less) = self.one_sided(weight);
        let edge = self.chances[0].min(self.chances[last]).exp();
        Tested {
            odds: Interval { value, low95, high95 },
            p_value: (2.0 * more.min(less)).min(1.0),
            least_p: (2.0 * weight * edge).min(1.0),
            method: Method::Exact,
        }
    }
}

fn convolved(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut sum = vec![0.0; a.len() + b.len() - 1];
    for (i, x) in a.iter().enumerate() {
        for (j, y) in b.iter().enumerate() {
            sum[i + j] += x * y;
        }
    }
    sum
}

/// The Mantel-Haenszel test without correction, and the pooled odds ratio.
#[must_use]
pub fn pooled(strata: &[Stratum]) -> Tested {
    let (mut excess, mut variance) = (0.0, 0.0);
    let (mut r, mut s, mut pr, mut mixed, mut qs) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for stratum in strata.iter().filter(|stratum| stratum.all > 1) {
        let [n, k, m, a] = [stratum.all, stratum.taxon, stratum.host, stratum.both].map(f64::from);
        excess += a - k * m / n;
        variance += k * m * (n - k) * (n - m) / (n * n * (n - 1.0));
        let (b, c) = (k - a, m - a);
        let d = n - a - b - c;
        let (ours, theirs) = (a * d / n, b * c / n);
        let (p, q) = ((a + d) / n, (b + c) / n);
        r += ours;
        s += theirs;
        pr += p * ours;
        mixed += p * theirs + q * ours;
        qs += q * theirs;
    }
    let z = if variance > 0.0 { excess / variance.sqrt() } else { 0.0 };
    let spread = (pr / (2.0 * r * r) + mixed / (2.0 * r * s) + qs / (2.0 * s * s)).sqrt();
    let (value, factor) = (r / s, (Z95 * spread).exp());
    let open = !spread.is_finite();
    let odds = Interval {
        value,
        low95: if open { 0.0 } else { value / factor },
        high95: if open { f64::INFINITY } else { value * factor },
    };
    Tested { odds, p_value: 2.0 * normal_below(-z.abs()), least_p: 0.0, method: Method::Pooled }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;

    #[test]
    fn exact_distribution_is_that_of_permutations() {
        let strata = [
            Stratum { all: 7, taxon: 3, host: 4, both: 3 },
            Stratum { all: 5, taxon: 2, host: 1, both: 1 },
            Stratum { all: 4, taxon: 0, host: 2, both: 0 },
        ];
        let (more, _) = Exact::of(&strata).one_sided(1.0);
        let mut rng = Rng::new(3);
        let mut as_many = 0;
        for _ in 0..40_000 {
            let mut sum = 0;
            for stratum in &strata {
                let mut hosts: Vec<bool> = (0..stratum.all).map(|n| n < stratum.host).collect();
                for place in (1..hosts.len()).rev() {
                    hosts.swap(place, rng.below(place + 1));
                }
                sum += hosts.iter().take(stratum.taxon as usize).filter(|host| **host).count();
            }
            as_many += usize::from(sum >= 4);
        }
        let share = as_many as f64 / 4e4;
        assert!((share - more).abs() < 0.008, "{share} {more}");
    }

    #[test]
    fn interval_and_p_value_agree() {
        for both in 0..=8 {
            let strata = [
                Stratum { all: 30, taxon: 8, host: 12, both },
                Stratum { all: 10, taxon: 3, host: 5, both: 2 },
            ];
            let tested = test(&strata).unwrap();
            let outside = tested.odds.low95 > 1.0 || tested.odds.high95 < 1.0;
            assert_eq!(outside, tested.p_value < 0.05, "{both}: {tested:?}");
            assert!(
                tested.odds.low95 <= tested.odds.value && tested.odds.value <= tested.odds.high95
            );
        }
        assert!(test(&[Stratum { all: 9, taxon: 9, host: 4, both: 4 }]).is_none());
        assert!(test(&[]).is_none());
    }

    #[test]
    fn long_strata_are_pooled_and_agree_with_the_exact_test() {
        let strata: Vec<Stratum> =
            (0..60).map(|n| Stratum { all: 20, taxon: 6, host: 8, both: 2 + n % 3 }).collect();
        let (exact, quick) = (Exact::of(&strata).tested(0.5), pooled(&strata));
        assert!((exact.odds.value / quick.odds.value - 1.0).abs() < 0.02, "{exact:?} {quick:?}");
        assert!((exact.odds.low95 / quick.odds.low95 - 1.0).abs() < 0.02);
        assert!((exact.p_value - quick.p_value).abs() < 0.003);
        let many: Vec<Stratum> = strata.iter().cycle().take(200).copied().collect();
        assert_eq!(test(&many).unwrap().method, Method::Pooled);
    }
}
