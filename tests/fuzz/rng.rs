//! Pseudo-random numbers that are the same on every machine, with an independent stream for each
//! case.

/// `SplitMix64` (Steele, Lea and Flood 2014, Fast splittable pseudorandom number generators,
/// doi:10.1145/2660193.2660195).
pub(crate) struct Rng(u64);

impl Rng {
    /// The generator of one case of a run.
    pub(crate) fn of(seed: u64, case: u64) -> Self {
        let mut rng = Self(seed);
        let state = rng.next() ^ case.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        Self(state)
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below a bound; 0 where the bound is 0.
    pub(crate) fn below(&mut self, bound: usize) -> usize {
        let bound = u64::try_from(bound).unwrap().max(1);
        usize::try_from(self.next() % bound).unwrap()
    }

    pub(crate) fn pick<'a, T: ?Sized>(&mut self, among: &[&'a T]) -> &'a T {
        among[self.below(among.len())]
    }
}
