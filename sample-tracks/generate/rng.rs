//! Seeded pseudo-random numbers, so that the sample days are the same each time. A 64-bit mixing
//! generator (Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators") and the
//! polar form of Box & Muller 1958.

/// A stream of pseudo-random numbers.
pub(crate) struct Rng {
    state: u64,
}

impl Rng {
    /// The stream that belongs to a name.
    pub(crate) fn named(name: &str) -> Self {
        let state = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        Self { state }
    }

    pub(crate) fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Uniform from 0 (included) to 1 (excluded).
    pub(crate) fn even(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform between two bounds.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.even()
    }

    /// Normal, with this standard deviation about zero.
    pub(crate) fn normal(&mut self, sigma: f64) -> f64 {
        loop {
            let (x, y) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let square = x * x + y * y;
            if square > 0.0 && square < 1.0 {
                return sigma * x * (-2.0 * square.ln() / square).sqrt();
            }
        }
    }

    /// A count with a small mean (Poisson).
    pub(crate) fn count(&mut self, mean: f64) -> usize {
        let floor = (-mean).exp();
        let (mut count, mut product) = (0, self.even());
        while product > floor {
            count += 1;
            product *= self.even();
        }
        count
    }
}
