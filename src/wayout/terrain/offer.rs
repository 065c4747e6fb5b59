//! Relaxes the neighbours of a cell over the sixteen moves, without branches, since their outcome
//! is unpredictable and mispredictions cost more than the update. Layer: `wayout`.

use super::FAR;
use super::layout::WIDE;
use super::moves::{Costs, Table, entry};

/// Relaxes the sixteen neighbours of the cell in the middle row. Returns the least improved cost of
/// each row.
#[inline]
pub(super) fn offer(
    costs: &mut [[u32; WIDE]; 5],
    heights: &[[i16; WIDE]; 5],
    column: usize,
    here: u32,
    from: i32,
    table: &Table,
) -> [u32; 5] {
    let [row, steep, slant, knight, leap] = table;
    let column = column.clamp(2, WIDE - 3);
    let mut improved = [FAR; 5];
    let mut one = |line: usize, column: usize, costs_of: &Costs| {
        let rise = i32::from(heights[line][column]) - from;
        let cost = here + costs_of[entry(rise)];
        let before = costs[line][column];
        costs[line][column] = cost.min(before);
        improved[line] = improved[line].min(if cost < before { cost } else { FAR });
    };
    one(0, column - 1, leap);
    one(0, column + 1, leap);
    one(1, column - 2, knight);
    one(1, column - 1, slant);
    one(1, column, steep);
    one(1, column + 1, slant);
    one(1, column + 2, knight);
    one(2, column - 1, row);
    one(2, column + 1, row);
    one(3, column - 2, knight);
    one(3, column - 1, slant);
    one(3, column, steep);
    one(3, column + 1, slant);
    one(3, column + 2, knight);
    one(4, column - 1, leap);
    one(4, column + 1, leap);
    improved
}
