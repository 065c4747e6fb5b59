//! Which cell comes next? Buckets by cost in a ring: cheaper than a heap, and exact as long as a
//! bucket is worked off until nothing more falls into it. Layer: `wayout`.

use super::layout::Spot;

/// Cells waiting, by the bucket of their cost.
pub(super) struct Queue {
    ring: Vec<Vec<Spot>>,
    shift: u32,
    current: u32,
    waiting: usize,
}

impl Queue {
    /// A queue whose buckets are at most as wide as the cheapest move, and whose ring is longer than
    /// the dearest.
    pub(super) fn new(cheapest: u32, dearest: u32, from: u32) -> Self {
        let shift = cheapest.max(1).ilog2();
        let needed = (dearest >> shift) as usize + 2;
        let ring = vec![Vec::new(); needed.next_power_of_two()];
        Self { ring, shift, current: from >> shift, waiting: 0 }
    }

    /// The bucket of a cost.
    #[inline]
    pub(super) fn bucket(&self, cost: u32) -> u32 {
        cost >> self.shift
    }

    /// Puts a cell behind its cost; one that is too cheap for what is being worked on joins that.
    #[inline]
    pub(super) fn put(&mut self, cost: u32, cell: Spot) {
        let bucket = self.bucket(cost).max(self.current);
        let slot = bucket as usize & (self.ring.len() - 1);
        if let Some(cells) = self.ring.get_mut(slot) {
            cells.push(cell);
            self.waiting += 1;
        }
    }

    /// The next cell and the bucket that it comes from.
    #[inline]
    pub(super) fn next(&mut self) -> Option<(u32, Spot)> {
        while self.waiting > 0 {
            let slot = self.current as usize & (self.ring.len() - 1);
            if let Some(cell) = self.ring.get_mut(slot).and_then(Vec::pop) {
                self.waiting -= 1;
                return Some((self.current, cell));
            }
            self.current += 1;
        }
        None
    }
}
