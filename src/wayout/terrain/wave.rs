//! Selects the cells of a row within the current bucket of costs and the least cost beyond it,
//! several cells at a time. Layer: `wayout`.

use super::FAR;
use super::layout::WIDE;

/// One bucket of costs.
#[derive(Clone, Copy)]
pub(super) struct Wave {
    pub(super) low: u32,
    pub(super) high: u32,
}

impl Wave {
    /// A bit for each cost that belongs to it.
    #[inline]
    #[allow(clippy::cast_possible_wrap, reason = "costs are below 2^31")]
    pub(super) fn bits(self, costs: &[u32; WIDE]) -> u64 {
        let (low, high) = (self.low as i32, self.high as i32);
        let mut bits = 0;
        for (number, eight) in costs.chunks_exact(8).enumerate() {
            let mut flags = [0_u8; 8];
            for (flag, cost) in flags.iter_mut().zip(eight) {
                let cost = *cost as i32;
                *flag = u8::from(cost >= low) & u8::from(cost < high);
            }
            // gathers the lowest bits of eight bytes
            let byte = u64::from_le_bytes(flags).wrapping_mul(0x0102_0408_1020_4080) >> 56;
            bits |= byte << (8 * number);
        }
        bits
    }

    /// The least cost beyond it.
    #[inline]
    #[allow(clippy::cast_possible_wrap, reason = "costs are below 2^31")]
    pub(super) fn least_beyond(self, costs: &[u32; WIDE]) -> u32 {
        let high = self.high as i32;
        let mut least = [FAR as i32; 8];
        for eight in costs.chunks_exact(8) {
            for (least, cost) in least.iter_mut().zip(eight) {
                let cost = *cost as i32;
                let cost = if cost < high { FAR as i32 } else { cost };
                *least = if cost < *least { cost } else { *least };
            }
        }
        least.into_iter().fold(FAR as i32, i32::min).unsigned_abs()
    }
}
