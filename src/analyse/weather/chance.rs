//! Changes the probability of a find by the factor that the weather makes on the rate. Layer: `analyse`.
//!
//! # Method
//! With Poisson finds a probability p is 1 - exp(-c) of an expectation c; the factor multiplies c. The
//! logarithms of c and of the factor are independent; their standard errors, a quarter of the width of
//! each interval (3.92), add up in squares, on each side.

use super::effect::Factor;

/// A probability with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chance {
    /// The estimate.
    pub chance: f64,
    /// The lower end.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
}

impl Chance {
    /// The probability under this weather.
    #[must_use]
    pub fn under(self, factor: &Factor) -> Self {
        let log = |chance: f64| (-(-chance.clamp(1e-9, 1.0 - 1e-9)).ln_1p()).ln();
        let (low, middle, high) = (log(self.low95), log(self.chance), log(self.high95));
        let (less, own, more) = (factor.low95.ln(), factor.factor.ln(), factor.high95.ln());
        let at = middle + own;
        let back = |log: f64| -(-log.exp()).exp_m1();
        Self {
            chance: back(at),
            low95: back(at - (middle - low).hypot(own - less)),
            high95: back(at + (high - middle).hypot(more - own)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twice_the_rate_misses_with_the_square_of_the_probability() {
        let chance = Chance { chance: 0.4, low95: 0.3, high95: 0.5 };
        let sure = |factor| Factor { factor, low95: factor, high95: factor };
        let twice = chance.under(&sure(2.0));
        assert!((twice.chance - (1.0 - 0.36)).abs() < 1e-12);
        assert!((twice.low95 - (1.0 - 0.49)).abs() < 1e-9 && (twice.high95 - 0.75).abs() < 1e-9);
        let same = chance.under(&sure(1.0));
        assert!((same.chance - 0.4).abs() < 1e-12 && (same.low95 - 0.3).abs() < 1e-9);
        let unsure = chance.under(&Factor { factor: 2.0, low95: 1.0, high95: 4.0 });
        assert!(unsure.low95 < twice.low95 && twice.high95 < unsure.high95);
        let never = Chance { chance: 0.0, low95: 0.0, high95: 0.0 }.under(&sure(3.0));
        assert!(never.chance >= 0.0 && never.high95 < 1e-6);
    }
}
