//! Generates reproducible pseudo-random numbers for tests. Layer: `join`.

/// A stream of random numbers.
pub(super) struct Scatter(pub(super) u64);

impl Scatter {
    /// Between zero and one.
    fn unit(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(self.0 >> 33).unwrap()) / f64::from(1_u32 << 31)
    }

    /// Nearly normal, of variance one.
    pub(super) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}
