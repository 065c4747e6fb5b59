//! Distributions (normal, chi-square, beta) and a seeded pseudo-random number generator, so that a
//! resampled interval is the same on every machine. Layer: `analyse`.
//!
//! Only what the analyses need, so that no library of statistics comes with the program. Each function states its
//! accuracy; where a formula is approximate the range in which it holds is stated.

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
/// # Accuracy
/// 1e-13 relative, by Newton steps on a start of 4.5e-4.
///
/// # Examples
/// ```
/// use trug::analyse::statistics::{normal_below, normal_quantile};
///
/// assert!((normal_quantile(0.975) - 1.959_964).abs() < 1e-6);
/// assert!((normal_below(normal_quantile(0.2)) - 0.2).abs() < 1e-12);
/// ```
///
/// # References
/// Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 26.2.23 (the start).
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    let p = p.clamp(1e-300, 1.0 - 1e-16);
    let tail = p.min(1.0 - p);
    let t = (-2.0 * tail.ln()).sqrt();
    let top = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let bottom = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    let mut z = -(t - top / bottom);
    for _ in 0..4 {
        let density = (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let step = (normal_below(z) - tail) / density;
        // Halley's correction keeps the far tail from overshooting
        z -= step / (1.0 + 0.5 * z * step);
    }
    if p < 0.5 { z } else { -z }
}

/// The chi-square value with `freedom` degrees of freedom that is exceeded with probability
/// `beyond`.
///
/// # Accuracy
/// Exact for two degrees; else by a cube root that is within 0.6 % from four degrees on and for
/// probabilities of 0.001 to 0.5.
///
/// # References
/// Wilson & Hilferty 1931, The distribution of chi-square, PNAS 17:684.
#[must_use]
pub fn chi_square_exceeded(freedom: f64, beyond: f64) -> f64 {
    if (freedom - 2.0).abs() < 1e-9 {
        return -2.0 * beyond.max(1e-300).ln();
    }
    let spread = 2.0 / (9.0 * freedom);
    let root = 1.0 - spread + normal_quantile(1.0 - beyond) * spread.sqrt();
    freedom * root.max(0.0).powi(3)
}

/// Student's t below which a share `p` lies.
///
/// # Accuracy
/// Within 1 % from three degrees of freedom on for p from 0.9 to 0.99; the normal quantile from a thousand.
///
/// # References
/// Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 26.7.5; exact for one and two degrees.
#[must_use]
pub fn student_quantile(freedom: f64, p: f64) -> f64 {
    if freedom < 1.5 {
        return (std::f64::consts::PI * (p - 0.5)).tan();
    }
    if freedom < 2.5 {
        let a = 4.0 * p * (1.0 - p);
        return 2.0 * (p - 0.5) * (2.0 / a).sqrt();
    }
    let z = normal_quantile(p);
    let (z3, z5, z7) = (z.powi(3), z.powi(5), z.powi(7));
    z + (z3 + z) / (4.0 * freedom)
        + (5.0 * z5 + 16.0 * z3 + 3.0 * z) / (96.0 * freedom.powi(2))
        + (3.0 * z7 + 19.0 * z5 + 17.0 * z3 - 15.0 * z) / (384.0 * freedom.powi(3))
}

/// The probability that Student's t lies further from zero, on either side.
///
/// # Accuracy
/// Within 0.003 from three degrees of freedom on; exact for one and two.
///
/// # References
/// Wallace 1959, Bounds on normal approximations to Student's and the chi-square distributions, Annals of
/// Mathematical Statistics 30:1121.
#[must_use]
pub fn student_beyond(t: f64, freedom: f64) -> f64 {
    if freedom < 1.5 {
        return 1.0 - 2.0 / std::f64::consts::PI * t.abs().atan();
    }
    if freedom < 2.5 {
        return 1.0 - t.abs() / (2.0 + t * t).sqrt();
    }
    let near = (8.0 * freedom + 1.0) / (8.0 * freedom + 3.0);
    2.0 * normal_below(-near * (freedom * (t * t / freedom).ln_1p()).sqrt())
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

/// A repeatable source of random numbers (xoshiro256++, seeded through splitmix64).
///
/// Never seeded from the clock: a resampled interval has to come out the same tomorrow. Not for secrets.
///
/// # References
/// Blackman & Vigna 2021, Scrambled linear pseudorandom number generators, ACM TOMS 47:36.
#[derive(Clone, Debug)]
pub struct Rng {
    state: [u64; 4],
}

impl Rng {
    /// A generator that always gives the same numbers for the same seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        let mut seed = seed;
        let state = std::array::from_fn(|_| {
            seed = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = (seed ^ (seed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            z ^ (z >> 31)
        });
        Self { state }
    }

    fn next(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let shifted = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= shifted;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Between 0 (included) and 1 (excluded).
    pub fn uniform(&mut self) -> f64 {
        (self.next() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
    }

    /// One of `0..count`; 0 for an empty range.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below count")]
    pub fn below(&mut self, count: usize) -> usize {
        ((self.uniform() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// A standard normal value.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }

    /// A gamma value of this shape and scale 1; 0 for an invalid shape.
    ///
    /// # References
    /// Marsaglia & Tsang 2000, A simple method for generating gamma variables, ACM TOMS 26:363;
    /// their section 6 for shapes below 1.
    pub fn gamma(&mut self, shape: f64) -> f64 {
        if !(shape.is_finite() && shape > 0.0) {
            return 0.0;
        }
        if shape < 1.0 {
            let grown = self.gamma(shape + 1.0);
            return grown * (1.0 - self.uniform()).powf(1.0 / shape);
        }
        let d = shape - 1.0 / 3.0;
        let c = 1.0 / (9.0 * d).sqrt();
        loop {
            let z = self.normal();
            let v = (1.0 + c * z).powi(3);
            let limit = 0.5 * z * z + d - d * v + d * v.max(1e-300).ln();
            if v > 0.0 && (1.0 - self.uniform()).ln() < limit {
                return d * v;
            }
        }
    }

    /// A beta value.
    pub fn beta(&mut self, hits: f64, misses: f64) -> f64 {
        let (a, b) = (self.gamma(hits), self.gamma(misses));
        if a + b > 0.0 { a / (a + b) } else { 0.5 }
    }

    /// A count with this mean.
    pub fn poisson(&mut self, mean: f64) -> u32 {
        let mut left = mean.max(0.0);
        let mut count = 0;
        // in steps, since exp(-mean) vanishes for large means
        while left > 0.0 {
            let step = left.min(30.0);
            left -= step;
            let floor = (-step).exp();
            let mut product = self.uniform();
            while product > floor {
                count += 1;
                product *= self.uniform();
            }
        }
        count
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
            assert!((own / t - 1.0).abs() < 0.01, "{freedom}: {own}");
            assert!((student_beyond(t, freedom) - 0.05).abs() < 0.003, "{freedom}");
        }
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
