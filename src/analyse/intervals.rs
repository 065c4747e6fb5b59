//! Computes 95 % intervals of shares (Wilson), counts (Garwood), rates over outings and means (Student's t).
//! Layer: `analyse`.
//!
//! All of them are asymmetric where the data are few, and none leaves the range of what is possible: a share stays
//! between 0 and 1, a rate above zero.

use serde::Serialize;

use super::statistics::{gamma_quantile, student_quantile};

/// The standard normal value for 95 %, two-sided.
pub const Z95: f64 = 1.959_963_984_540_054;

/// An estimate with its 95 % interval.
///
/// The estimate need not lie in the middle. An unknown upper end is infinite.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// The estimate.
    pub value: f64,
    /// The lower end.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
}

impl Interval {
    /// The same in another unit.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        let of = |value: f64| value * factor;
        Self { value: of(self.value), low95: of(self.low95), high95: of(self.high95) }
    }
}

/// A share of `count` with its score interval; 0 to 1 where there is nothing.
///
/// # Examples
/// ```
/// use trug::analyse::intervals::wilson;
///
/// let none_of_ten = wilson(0.0, 10.0);
/// assert_eq!((none_of_ten.value, none_of_ten.low95), (0.0, 0.0));
/// assert!((none_of_ten.high95 - 0.2775).abs() < 1e-4);
/// ```
///
/// # References
/// Wilson 1927, Probable inference, the law of succession, and statistical inference, JASA 22:209.
#[must_use]
pub fn wilson(hits: f64, count: f64) -> Interval {
    if count <= 0.0 {
        return Interval { value: f64::NAN, low95: 0.0, high95: 1.0 };
    }
    let (share, z2) = (hits / count, Z95 * Z95);
    let middle = (share + z2 / (2.0 * count)) / (1.0 + z2 / count);
    let half = Z95 / (1.0 + z2 / count)
        * (share * (1.0 - share) / count + z2 / (4.0 * count * count)).max(0.0).sqrt();
    let low95 = if hits <= 0.0 { 0.0 } else { (middle - half).max(0.0) };
    let high95 = if hits >= count { 1.0 } else { (middle + half).min(1.0) };
    Interval { value: share, low95, high95 }
}

/// A Poisson count with its exact interval.
///
/// # Accuracy
/// 1e-9 relative.
///
/// # Examples
/// No find in a day of search is no proof of absence: up to 3.69 were to be expected.
///
/// ```
/// use trug::analyse::intervals::garwood;
///
/// assert!((garwood(0.0).high95 - 3.688_879).abs() < 1e-6);
/// ```
///
/// # References
/// Garwood 1936, Fiducial limits for the Poisson distribution, Biometrika 28:437.
#[must_use]
pub fn garwood(count: f64) -> Interval {
    let count = count.max(0.0);
    let low95 = if count < 0.5 { 0.0 } else { gamma_quantile(count, 0.025) };
    Interval { value: count, low95, high95: gamma_quantile(count + 1.0, 0.975) }
}

/// Finds over effort, of pairs of both for each outing, with an interval that allows for overdispersion
/// between outings: the variance is that of a ratio over outings, the interval that of the logarithm with
/// Student's t of outings less one, and never narrower than Garwood's. The estimate is that of all finds
/// over all effort; with no effort it is 0, without an upper end.
///
/// # References
/// Cochran 1977, Sampling Techniques, 3rd ed., 6.4 (the variance of a ratio; from memory).
#[must_use]
pub fn rate_over_outings(outings: &[(f64, f64)]) -> Interval {
    let finds: f64 = outings.iter().map(|(finds, _)| finds).sum();
    let effort: f64 = outings.iter().map(|(_, effort)| effort).sum();
    if effort <= 0.0 {
        return Interval { value: 0.0, low95: 0.0, high95: f64::INFINITY };
    }
    let exact = garwood(finds).times(1.0 / effort);
    let count = outings.len() as f64;
    if finds <= 0.0 || outings.len() < 2 {
        return exact;
    }
    let rate = finds / effort;
    let squares: f64 = outings.iter().map(|(finds, effort)| (finds - rate * effort).powi(2)).sum();
    let error = (squares * count / (count - 1.0)).sqrt() / finds;
    let wide = student_quantile(count - 1.0, 0.975) * error;
    Interval {
        value: rate,
        low95: exact.low95.min(rate * (-wide).exp()),
        high95: exact.high95.max(rate * wide.exp()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_limits_of_poisson_counts() {
        // chi-square quantiles over two, from qchisq of R 4.2.2
        for (count, low, high) in [
            (0.0, 0.0, 3.688_879_454),
            (1.0, 0.025_317_808, 5.571_643_391),
            (10.0, 4.795_388_718, 18.390_356_044),
            (100.0, 81.363_991_25, 121.626_794),
        ] {
            let limits = garwood(count);
            assert!((limits.low95 - low).abs() < 1e-5, "{count}: {limits:?}");
            assert!((limits.high95 - high).abs() < 1e-5, "{count}: {limits:?}");
        }
        let many = garwood(1e6);
        assert!((many.low95 - 998_041.0).abs() < 2.0, "{many:?}");
    }

    #[test]
    fn a_share_keeps_within_zero_and_one() {
        // 1 of 10: Wilson's formula by hand
        let share = wilson(1.0, 10.0);
        assert!((share.low95 - 0.017_875).abs() < 1e-5 && (share.high95 - 0.404_15).abs() < 1e-5);
        assert_eq!((wilson(0.0, 5.0).low95, wilson(5.0, 5.0).high95), (0.0, 1.0));
        assert_eq!(wilson(0.0, 0.0).high95, 1.0);
    }

    #[test]
    fn a_rate_over_outings_is_as_wide_as_outings_differ() {
        // outings that do not differ leave Garwood's interval
        let alike = [(2.0, 1.0), (2.0, 1.0), (2.0, 1.0)];
        assert_eq!(rate_over_outings(&alike), garwood(6.0).times(1.0 / 3.0));
        // by hand: squares 36 + 4 + 16 about 6 an hour, error sqrt(56 * 3 / 2) / 18, t of 2 is 4.303
        let apart = [(12.0, 1.0), (4.0, 1.0), (2.0, 1.0)];
        let rate = rate_over_outings(&apart);
        let wide = (4.302_653 * 84.0_f64.sqrt() / 18.0).exp();
        assert!((rate.high95 / (6.0 * wide) - 1.0).abs() < 0.01, "{rate:?}");
        assert!((rate.low95 * wide / 6.0 - 1.0).abs() < 0.01, "{rate:?}");
        assert_eq!(rate_over_outings(&[(3.0, 2.0)]), garwood(3.0).times(0.5));
        assert_eq!(rate_over_outings(&[]).high95, f64::INFINITY);
    }
}
