//! Distributions, quantiles and a seeded pseudo-random number generator, so that a resampled interval is the
//! same on every machine. Layer: `analyse`.
//!
//! The distributions are those of `statrs` and `rand_distr`; here their arguments are held in range, so that no
//! estimate from few data makes an analysis fail.

use rand_distr::{Distribution, Gamma, Poisson, StandardNormal, StandardUniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// The probability that a standard normal value is below `z`.
///
/// # Accuracy
/// That of `erfc` of libm: about 1e-16.
#[must_use]
pub fn normal_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// The standard normal value below which a share `p` lies; held within 1e-300 of the ends.
///
/// # Examples
/// ```
/// use trug::analyse::statistics::{normal_below, normal_quantile};
///
/// assert!((normal_quantile(0.975) - 1.959_964).abs() < 1e-6);
/// assert!((normal_below(normal_quantile(0.2)) - 0.2).abs() < 1e-12);
/// ```
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    if p.is_nan() {
        return p;
    }
    Normal::standard().inverse_cdf(p.clamp(1e-300, 1.0 - 1e-16))
}

/// Student's t below which a share `p` lies, with at least one degree of freedom.
#[must_use]
pub fn student_quantile(freedom: f64, p: f64) -> f64 {
    match student(freedom) {
        Some(student) if (0.0..=1.0).contains(&p) => student.inverse_cdf(p),
        _ => normal_quantile(p),
    }
}

/// The gamma value of this shape and scale 1 below which a share lies; zero for an invalid shape.
#[must_use]
pub fn gamma_quantile(shape: f64, share: f64) -> f64 {
    let share = share.clamp(0.0, 1.0 - 1e-16);
    statrs::distribution::Gamma::new(shape, 1.0).map_or(0.0, |gamma| gamma.inverse_cdf(share))
}

/// The probability that Student's t lies further from zero, on either side.
#[must_use]
pub fn student_beyond(t: f64, freedom: f64) -> f64 {
    2.0 * student(freedom).map_or_else(|| normal_below(-t.abs()), |student| student.cdf(-t.abs()))
}

/// `None` for so many degrees of freedom that it is normal.
fn student(freedom: f64) -> Option<StudentsT> {
    StudentsT::new(0.0, 1.0, freedom.max(1.0)).ok().filter(|_| freedom < 1e9)
}

/// p-values of many tests as the least false discovery rate at which each is rejected; those that do not
/// exist stay so and do not count.
///
/// # Examples
/// ```
/// use trug::analyse::statistics::false_discovery;
///
/// let q = false_discovery(&[Some(0.01), Some(0.04), None, Some(0.03)]);
/// assert_eq!(q, [Some(0.03), Some(0.04), None, Some(0.04)]);
/// ```
///
/// # References
/// Benjamini & Hochberg 1995, Controlling the false discovery rate, JRSS B 57:289.
#[must_use]
pub fn false_discovery(p: &[Option<f64>]) -> Vec<Option<f64>> {
    let mut order: Vec<(usize, f64)> =
        p.iter().enumerate().filter_map(|(place, p)| p.map(|p| (place, p))).collect();
    order.sort_by(|a, b| b.1.total_cmp(&a.1));
    let count = order.len();
    let mut adjusted = vec![None; p.len()];
    let mut least: f64 = 1.0;
    for (rank, (place, p)) in order.into_iter().enumerate() {
        least = least.min(p * count as f64 / (count - rank) as f64);
        adjusted[place] = Some(least);
    }
    adjusted
}

/// A repeatable source of random numbers (xoshiro256++).
///
/// Never seeded from the clock: a resampled interval has to come out the same tomorrow. Not for secrets.
///
/// # References
/// Blackman & Vigna 2021, Scrambled linear pseudorandom number generators, ACM TOMS 47:36.
#[derive(Clone, Debug)]
pub struct Rng {
    generator: Xoshiro256PlusPlus,
}

impl Rng {
    /// A generator that always gives the same numbers for the same seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self { generator: Xoshiro256PlusPlus::seed_from_u64(seed) }
    }

    /// Between 0 (included) and 1 (excluded).
    pub fn uniform(&mut self) -> f64 {
        StandardUniform.sample(&mut self.generator)
    }

    /// One of `0..count`; 0 for an empty range.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below count")]
    pub fn below(&mut self, count: usize) -> usize {
        ((self.uniform() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// A standard normal value.
    pub fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.generator)
    }

    /// A gamma value of this shape and scale 1; 0 for an invalid shape.
    pub fn gamma(&mut self, shape: f64) -> f64 {
        Gamma::new(shape, 1.0).map_or(0.0, |gamma| gamma.sample(&mut self.generator))
    }

    /// A beta value.
    pub fn beta(&mut self, hits: f64, misses: f64) -> f64 {
        let (a, b) = (self.gamma(hits), self.gamma(misses));
        if a + b > 0.0 { a / (a + b) } else { 0.5 }
    }

    /// A count with this mean; 0 for a mean of zero.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a cast saturates")]
    pub fn poisson(&mut self, mean: f64) -> u32 {
        Poisson::new(mean).map_or(0, |poisson| poisson.sample(&mut self.generator) as u32)
    }
}

/// The quantile of sorted numbers, with linear interpolation.
///
/// `None` of an empty list. The numbers have to be sorted, without NaN.
///
/// # Examples
/// ```
/// use trug::analyse::statistics::quantile;
///
/// assert_eq!(quantile(&[1.0, 2.0, 4.0], 0.5), Some(2.0));
/// assert_eq!(quantile(&[1.0, 2.0], 0.25), Some(1.25));
/// ```
///
/// # References
/// Hyndman & Fan 1996, Sample quantiles in statistical packages, Am. Stat. 50:361, definition 7.
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
pub fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = share.clamp(0.0, 1.0) * last as f64;
    let below = place.floor() as usize;
    let above = (below + 1).min(last);
    Some(sorted[below] + (sorted[above] - sorted[below]) * (place - below as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_the_normal_undo_its_probabilities() {
        for z in [-8.0, -3.0, -0.1, 0.0, 0.5, 1.959_963_984_540_054, 5.0] {
            assert!((normal_quantile(normal_below(z)) - z).abs() < 1e-9, "{z}");
        }
        assert!((normal_quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-12);
    }

    /// Tabulated: Abramowitz & Stegun 1964, table 26.10.
    #[test]
    fn student_quantiles_are_those_of_the_table() {
        for (freedom, t) in [(1.0, 12.706), (2.0, 4.303), (3.0, 3.182), (5.0, 2.571), (30.0, 2.042)]
        {
            let own = student_quantile(freedom, 0.975);
            assert!((own - t).abs() < 0.0006, "{freedom}: {own}");
            assert!((student_beyond(t, freedom) - 0.05).abs() < 0.0001, "{freedom}");
        }
        assert_eq!(student_quantile(0.0, 0.975), student_quantile(1.0, 0.975));
        assert!((student_quantile(f64::INFINITY, 0.975) - normal_quantile(0.975)).abs() < 1e-12);
        assert!((student_beyond(1.96, 1e12) - 0.05).abs() < 1e-5);
    }

    /// The 15 p-values of Benjamini & Hochberg 1995, section 3.2, of which four are rejected at 0.05.
    #[test]
    fn four_of_the_fifteen_published_tests_are_rejected() {
        let p = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
            0.5719, 0.6528, 0.7590, 1.0,
        ];
        let mut all: Vec<Option<f64>> = p.iter().copied().map(Some).collect();
        all.insert(3, None);
        let adjusted = false_discovery(&all);
        assert_eq!(adjusted.iter().flatten().filter(|q| **q <= 0.05).count(), 4);
        assert_eq!(adjusted[3], None);
        assert!((adjusted[0].unwrap() - 0.0015).abs() < 1e-12);
        assert!((adjusted[4].unwrap() - 0.0095 * 15.0 / 4.0).abs() < 1e-12);
        assert!(adjusted.iter().flatten().is_sorted() && adjusted[15] <= Some(1.0));
        assert!(false_discovery(&[]).is_empty());
    }

    #[test]
    fn random_numbers_are_uniform_and_repeat() {
        let mut rng = Rng::new(1);
        let again = Rng::new(1).uniform();
        assert_eq!(rng.uniform(), again);
        let normals: Vec<f64> = (0..20_000).map(|_| rng.normal()).collect();
        let mean = normals.iter().sum::<f64>() / 2e4;
        let variance = normals.iter().map(|z| z * z).sum::<f64>() / 2e4;
        assert!(mean.abs() < 0.03 && (variance - 1.0).abs() < 0.04, "{mean} {variance}");
        for (hits, misses) in [(0.3, 2.0), (4.0, 1.5)] {
            let drawn: Vec<f64> = (0..20_000).map(|_| rng.beta(hits, misses)).collect();
            let (sum, all) = (drawn.iter().sum::<f64>() / 2e4, hits + misses);
            let spread = drawn.iter().map(|x| (x - hits / all).powi(2)).sum::<f64>() / 2e4;
            let true_spread = hits * misses / (all * all * (all + 1.0));
            assert!((sum - hits / all).abs() < 0.006, "{hits} {misses}: {sum}");
            assert!((spread / true_spread - 1.0).abs() < 0.06, "{hits} {misses}: {spread}");
        }
        let counts = (0..5_000).map(|_| f64::from(rng.poisson(70.0))).sum::<f64>() / 5e3;
        assert!((counts - 70.0).abs() < 0.5, "{counts}");
    }

    #[test]
    fn sample_quantiles_lie_between_neighbours() {
        assert_eq!(quantile(&[1.0, 2.0, 4.0], 0.75), Some(3.0));
        assert_eq!(quantile(&[], 0.5), None);
    }
}
