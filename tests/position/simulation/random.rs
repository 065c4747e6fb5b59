//! Generates reproducible pseudo-random numbers.

/// xoshiro256++ (Blackman & Vigna 2019), seeded by `SplitMix64`.
pub(crate) struct Random([u64; 4]);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        let mut state = seed;
        Self(std::array::from_fn(|_| {
            state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = state;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            z ^ (z >> 31)
        }))
    }

    fn next(&mut self) -> u64 {
        let s = &mut self.0;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// From 0 to 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    pub(crate) fn whole(&mut self, low: i64, high: i64) -> i64 {
        low + (self.unit() * (high - low + 1) as f64) as i64
    }

    pub(crate) fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    pub(crate) fn normal(&mut self) -> f64 {
        let (u, v) = (self.unit().max(1e-300), self.unit());
        (-2.0 * u.ln()).sqrt() * (2.0 * std::f64::consts::PI * v).cos()
    }

    /// Student's t, scaled to a variance of one (freedom above two).
    pub(crate) fn student(&mut self, freedom: f64) -> f64 {
        let square: f64 = (0..freedom as usize).map(|_| self.normal().powi(2)).sum();
        self.normal() / (square / freedom).sqrt() * ((freedom - 2.0) / freedom).sqrt()
    }

    pub(crate) fn exponential(&mut self, mean: f64) -> f64 {
        -mean * self.unit().max(1e-300).ln()
    }
}
