//! Selects the next block of cells by its least pending cost, from a ring of buckets as wide as the
//! cheapest move. All cells of a bucket are settled at once; this is exact, since none can be
//! reached more cheaply through another. Layer: `wayout`.

/// Pending blocks, by the bucket of their least pending cost.
pub(super) struct Queue {
    ring: Vec<Vec<u32>>,
    width: u32,
    current: u32,
    waiting: usize,
}

impl Queue {
    /// A queue whose buckets are as wide as the cheapest move, and whose ring is longer than the
    /// most expensive move.
    pub(super) fn new(cheapest: u32, dearest: u32, from: u32) -> Self {
        let width = cheapest.max(1);
        let needed = (dearest / width) as usize + 2;
        Self {
            ring: vec![Vec::new(); needed.next_power_of_two()],
            width,
            current: from / width,
            waiting: 0,
        }
    }

    /// The width of a bucket.
    #[inline]
    pub(super) fn width(&self) -> u32 {
        self.width
    }

    /// The bucket of a cost.
    #[inline]
    pub(super) fn bucket(&self, cost: u32) -> u32 {
        cost / self.width
    }

    /// Queues a block by its least pending cost.
    #[inline]
    pub(super) fn put(&mut self, bucket: u32, block: u32) {
        let slot = bucket as usize & (self.ring.len() - 1);
        if let Some(blocks) = self.ring.get_mut(slot) {
            blocks.push(block);
            self.waiting += 1;
        }
    }

    /// The next bucket and its blocks; the list is returned afterwards.
    pub(super) fn next(&mut self) -> Option<(u32, Vec<u32>)> {
        while self.waiting > 0 {
            let slot = self.current as usize & (self.ring.len() - 1);
            let bucket = self.current;
            self.current += 1;
            if let Some(blocks) = self.ring.get_mut(slot).filter(|blocks| !blocks.is_empty()) {
                let blocks = std::mem::take(blocks);
                self.waiting -= blocks.len();
                return Some((bucket, blocks));
            }
        }
        None
    }

    /// Reuses the memory of a processed list.
    pub(super) fn hand_back(&mut self, bucket: u32, mut blocks: Vec<u32>) {
        let slot = bucket as usize & (self.ring.len() - 1);
        if let Some(empty) = self.ring.get_mut(slot).filter(|slot| slot.is_empty()) {
            blocks.clear();
            *empty = blocks;
        }
    }
}
