//! Computes the cost of every cell from the start until a goal is settled, one bucket of costs at a
//! time and block by block. Exact: no bucket is wider than the cheapest move. Layer: `wayout`.

use super::layout::{At, CellIndex, HIGH, WIDE};
use super::moves::Direction;
use super::offer::offer;
use super::queue::Queue;
use super::wave::Wave;
use super::{FAR, Terrain, mark};

/// The cost of the start, so that every open cell costs more than a barrier.
pub(super) const BEGIN: u32 = 1 << 24;

/// The pending cells.
struct Waiting {
    /// A lower bound of the pending costs of each row of a strip.
    rows: Vec<u32>,
    /// The least in each block, and whether barriers or corridors matter there.
    blocks: Vec<u32>,
    special: Vec<bool>,
    queue: Queue,
}

impl Terrain {
    /// Computes costs from the start until one of the goals is settled, or of all cells without
    /// goals. Returns the number of settled cells.
    pub(super) fn search(&mut self, start: CellIndex, goals: &[CellIndex]) -> usize {
        self.clear();
        let (off_path, on_path) = self.moves.cheapest;
        let cheapest = if self.has_corridors { off_path.min(on_path) } else { off_path };
        let mut waiting = Waiting {
            rows: vec![FAR; self.layout.len()],
            blocks: vec![FAR; self.layout.len() / HIGH],
            special: self.marks.chunks_exact(HIGH).map(matter).collect(),
            queue: Queue::new(cheapest.min(BEGIN), self.moves.dearest, BEGIN),
        };
        let At { row, column } = self.layout.at(start);
        if let Some(cost) = self.costs.get_mut(row).and_then(|row| row.get_mut(column)) {
            *cost = BEGIN;
            waiting.lower_row(row, BEGIN);
        }
        let mut expanded = 0;
        while let Some((bucket, blocks)) = waiting.queue.next() {
            let low = bucket * waiting.queue.width();
            let wave = Wave { low, high: low + waiting.queue.width() };
            for block in &blocks {
                expanded += self.settle(*block as usize, wave, &mut waiting);
            }
            waiting.queue.hand_back(bucket, blocks);
            self.settled = wave.high;
            if goals.iter().any(|goal| self.is_settled(*goal)) {
                break;
            }
        }
        expanded
    }

    /// Settles the cells of a block in the current bucket and relaxes their neighbours.
    fn settle(&mut self, block: usize, wave: Wave, waiting: &mut Waiting) -> usize {
        let Some(next) = waiting.blocks.get_mut(block) else { return 0 };
        if *next >= wave.high || *next < wave.low {
            return 0;
        }
        *next = FAR;
        let special = waiting.special.get(block).copied().unwrap_or(true);
        let mut expanded = 0;
        let first = block * HIGH;
        for row in first..first + HIGH {
            let Some(least) = waiting.rows.get_mut(row).filter(|least| **least < wave.high) else {
                continue;
            };
            let Some(costs) = self.costs.get(row) else { continue };
            let mut bits = wave.bits(costs);
            *least = wave.least_beyond(costs);
            expanded += bits.count_ones() as usize;
            while bits != 0 {
                let column = bits.trailing_zeros() as usize;
                bits &= bits - 1;
                if special {
                    self.offer_with_care(At { row, column }, waiting);
                } else if (2..WIDE - 2).contains(&column) {
                    self.offer_within(At { row, column }, waiting);
                } else {
                    self.offer_across(At { row, column }, waiting);
                }
            }
        }
        let rows = waiting.rows.get(first..first + HIGH).unwrap_or_default();
        let least = rows.iter().copied().fold(FAR, u32::min);
        waiting.lower(block, least);
        expanded
    }

    /// The sixteen moves from a cell inside a strip, without barriers or corridors.
    #[inline]
    fn offer_within(&mut self, At { row, column }: At, waiting: &mut Waiting) {
        let around = row.saturating_sub(2)..row + 3;
        let (Some(costs), Some(heights), Some(least)) = (
            self.costs.get_mut(around.clone()).and_then(|rows| rows.first_chunk_mut::<5>()),
            self.heights.get(around.clone()).and_then(|rows| rows.first_chunk::<5>()),
            waiting.rows.get_mut(around).and_then(|rows| rows.first_chunk_mut::<5>()),
        ) else {
            return;
        };
        let column = column.clamp(2, WIDE - 3);
        let (here, from) = (costs[2][column], i32::from(heights[2][column]));
        let table = &self.moves.off_path;
        let improved = offer(costs, heights, column, here, from, table);
        for (least, improved) in least.iter_mut().zip(improved) {
            *least = improved.min(*least);
        }
        let within = row % HIGH;
        if within < 2 {
            waiting.lower(row / HIGH - 1, improved[0].min(improved[1]));
        } else if within >= HIGH - 2 {
            waiting.lower(row / HIGH + 1, improved[3].min(improved[4]));
        }
    }

    /// The sixteen moves from a cell at the edge of a strip, without barriers or corridors.
    fn offer_across(&mut self, at: At, waiting: &mut Waiting) {
        let cell = self.layout.cell(at);
        let (here, from) = (self.costs[at.row][at.column], self.heights[at.row][at.column]);
        for direction in &self.moves.directions {
            let there = self.layout.at(cell.moved(direction.step.0, direction.step.1));
            let (Some(costs), Some(heights)) =
                (self.costs.get_mut(there.row), self.heights.get(there.row))
            else {
                continue;
            };
            let rise = i32::from(heights[there.column]) - i32::from(from);
            let cost = here + self.moves.cost(direction, rise, false);
            if cost < costs[there.column] {
                costs[there.column] = cost;
                waiting.lower_row(there.row, cost);
            }
        }
    }

    /// The sixteen moves from a cell near a barrier or on a corridor.
    fn offer_with_care(&mut self, at: At, waiting: &mut Waiting) {
        let cell = self.layout.cell(at);
        let mark = self.marks[at.row][at.column];
        let (corridor, near) = (mark & mark::CORRIDOR != 0, mark & mark::NEAR != 0);
        let (here, from) = (self.costs[at.row][at.column], self.heights[at.row][at.column]);
        for number in 0..16 {
            let direction = self.moves.directions[number];
            let there = self.layout.at(cell.moved(direction.step.0, direction.step.1));
            let (Some(costs), Some(heights), Some(marks)) =
                (self.costs.get(there.row), self.heights.get(there.row), self.marks.get(there.row))
            else {
                continue;
            };
            let quick = corridor && marks[there.column] & mark::CORRIDOR != 0;
            let rise = i32::from(heights[there.column]) - i32::from(from);
            let cost = here + self.moves.cost(&direction, rise, quick);
            if cost >= costs[there.column] || (near && self.leaps(cell, &direction)) {
                continue;
            }
            self.costs[there.row][there.column] = cost;
            waiting.lower_row(there.row, cost);
        }
    }

    /// Whether a move passes over a barrier.
    pub(super) fn leaps(&self, cell: CellIndex, direction: &Direction) -> bool {
        direction.is_knight
            && direction
                .passed
                .iter()
                .any(|(across, along)| self.open(cell.moved(*across, *along)).is_none())
    }

    /// Resets all cells and marks those near a barrier.
    fn clear(&mut self) {
        self.settled = 0;
        for (costs, marks) in self.costs.iter_mut().zip(&mut self.marks) {
            for (cost, mark) in costs.iter_mut().zip(marks) {
                *mark &= !mark::NEAR;
                *cost = if *mark & mark::BARRIER == 0 { FAR } else { 0 };
            }
        }
        for row in 0..self.marks.len() {
            let marks = self.marks.get(row).copied().unwrap_or([0; WIDE]);
            if marks.iter().all(|mark| mark & mark::BARRIER == 0) {
                continue;
            }
            for column in (0..WIDE).filter(|column| marks[*column] & mark::BARRIER != 0) {
                let cell = self.layout.cell(At { row, column });
                if self.layout.is_inner(cell) {
                    self.mark_around(cell);
                }
            }
        }
    }

    fn mark_around(&mut self, cell: CellIndex) {
        for across in -2..=2 {
            for along in -2..=2 {
                self.set_mark(cell.moved(across, along), mark::NEAR);
            }
        }
    }
}

fn matter(marks: &[[u8; WIDE]]) -> bool {
    marks.iter().flatten().any(|mark| mark & (mark::NEAR | mark::CORRIDOR) != 0)
}

impl Waiting {
    /// Registers a pending cell of the row at this cost.
    #[inline]
    fn lower_row(&mut self, row: usize, cost: u32) {
        if let Some(least) = self.rows.get_mut(row) {
            *least = cost.min(*least);
            self.lower(row / HIGH, cost);
        }
    }

    /// Registers a pending cell of the block at this cost.
    #[inline]
    #[allow(clippy::cast_possible_truncation, reason = "fewer than 2^24 blocks")]
    fn lower(&mut self, block: usize, cost: u32) {
        let Some(next) = self.blocks.get_mut(block).filter(|next| cost < **next) else { return };
        let (before, after) = (self.queue.bucket(*next), self.queue.bucket(cost));
        let waits = *next < FAR && before == after;
        *next = cost;
        if !waits {
            self.queue.put(after, block as u32);
        }
    }
}
