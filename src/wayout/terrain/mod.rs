//! Finds the quickest route across open ground from a grid of elevations: sixteen neighbours,
//! Tobler's function along the direction of travel, barriers and corridors. Exact on its grid, then
//! straightened. Layer: `wayout`.
//!
//! # Limits
//! The grid knows nothing smaller than its cells. Sixteen directions make a route on the grid up to some percent
//! longer than the best one; straightening between cells removes most of it (within 1 % of the analytic optimum on
//! planes and cones). Ground steeper than the stated limit, voids and closed areas are never entered.
//!
//! # References
//! Tobler 1993, NCGIA Technical Report 93-1. The tests compare with a plain Dijkstra's algorithm to the millisecond
//! and with `scipy.sparse.csgraph.dijkstra` to 2e-4.

mod barriers;
mod field;
mod footprint;
mod layout;
mod moves;
mod offer;
mod queue;
mod search;
mod straighten;
mod walk;
mod wave;

pub use self::field::{Inward, NOWHERE};
pub use self::footprint::Footprint;
pub use self::walk::Walk;

use self::layout::{At, CellIndex, Layout, WIDE};
use self::moves::Moves;
use crate::units::Metres;

/// The steepest move: rise over run (project choice).
pub(super) const STEEPEST_STEP: f64 = 1.2;

/// Bits of a cell's mark.
mod mark {
    pub(super) const BARRIER: u8 = 0b001;
    /// A barrier lies within two cells.
    pub(super) const NEAR: u8 = 0b010;
    pub(super) const CORRIDOR: u8 = 0b100;
}

/// Not reached.
const FAR: u32 = moves::NEVER;

/// The cost grid. Its arrays hold a row of a strip in each element.
///
/// Seven bytes a cell ([`Terrain::bytes_per_cell`]). One grid serves many searches, one after the other.
pub struct Terrain {
    /// Milliseconds from the start and [`search::BEGIN`] more; a barrier's 0 is never improved, so
    /// none is ever entered.
    costs: Vec<[u32; WIDE]>,
    /// In steps of the quantum above the base.
    heights: Vec<[i16; WIDE]>,
    marks: Vec<[u8; WIDE]>,
    layout: Layout,
    spacing: (f64, f64),
    quantum: f64,
    base: f64,
    has_corridors: bool,
    moves: Moves,
    /// Costs below this are final.
    settled: u32,
}

impl Terrain {
    /// The field with these heights in metres, row by row from the south; NaN is a void, which no
    /// route enters.
    ///
    /// # Units
    /// `spacing`: metres from cell to cell eastward and northward.
    ///
    /// # Panics
    /// Never: incomplete rows are filled with voids.
    #[must_use]
    pub fn new(columns: usize, rows: usize, spacing: (f64, f64), heights: &[f32]) -> Self {
        let (quantum, base) = scale(heights, moves::least_quantum(spacing));
        let layout = Layout::new(columns, rows);
        let strips = layout.len();
        let mut terrain = Self {
            costs: vec![[0; WIDE]; strips],
            heights: vec![[0; WIDE]; strips],
            marks: vec![[mark::BARRIER; WIDE]; strips],
            layout,
            spacing,
            quantum,
            base,
            has_corridors: false,
            moves: Moves::new(spacing, quantum),
            settled: 0,
        };
        let (wide, high) = terrain.size();
        for (row, line) in heights.chunks_exact(columns.max(1)).take(high).enumerate() {
            terrain.fill_row(row, line.get(..wide).unwrap_or(line));
        }
        terrain
    }

    /// Heights into the cells of a row, up to the end of a strip at a time.
    fn fill_row(&mut self, row: usize, mut line: &[f32]) {
        let (base, quantum) = (self.base, self.quantum);
        let mut column = 0;
        while !line.is_empty() {
            let at = self.layout.at(CellIndex::inner(column, row));
            let (piece, rest) = line.split_at(line.len().min(WIDE - at.column));
            let (Some(heights), Some(marks)) =
                (self.heights.get_mut(at.row), self.marks.get_mut(at.row))
            else {
                return;
            };
            let cells = heights.iter_mut().zip(marks).skip(at.column);
            for ((height, mark), metres) in cells.zip(piece) {
                if metres.is_finite() {
                    *height = quantised((f64::from(*metres) - base) / quantum);
                    *mark = 0;
                }
            }
            column += piece.len();
            line = rest;
        }
    }

    /// Columns and rows of the field.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        (self.layout.columns(), self.layout.rows())
    }

    /// Bytes that the field takes for each cell.
    #[must_use]
    pub fn bytes_per_cell() -> usize {
        size_of::<u32>() + size_of::<i16>() + size_of::<u8>()
    }

    /// The height at a place of the field, bilinear; `None` outside and beside a void.
    #[must_use]
    pub fn height(&self, at: (f64, f64)) -> Option<Metres> {
        let (column, row) = (at.0.floor(), at.1.floor());
        let corner = self.cell((column, row))?;
        let (right, up) = (at.0 - column, at.1 - row);
        let mut sum = 0.0;
        for (across, along, share) in [
            (0, 0, (1.0 - right) * (1.0 - up)),
            (1, 0, right * (1.0 - up)),
            (0, 1, (1.0 - right) * up),
            (1, 1, right * up),
        ] {
            if share > 0.0 {
                sum += f64::from(self.open(corner.moved(across, along))?) * share;
            }
        }
        Some(Metres(self.base + sum * self.quantum))
    }

    /// Whether the cell can be entered.
    #[must_use]
    pub fn is_open(&self, at: (f64, f64)) -> bool {
        self.cell((at.0.round(), at.1.round())).is_some_and(|cell| self.open(cell).is_some())
    }

    /// The mark of a cell; a barrier outside of the field.
    #[inline]
    fn mark(&self, cell: CellIndex) -> u8 {
        let At { row, column } = self.layout.at(cell);
        self.marks.get(row).and_then(|row| row.get(column)).copied().unwrap_or(mark::BARRIER)
    }

    /// The height of a cell in steps, unless it is a barrier.
    #[inline]
    fn open(&self, cell: CellIndex) -> Option<i16> {
        let At { row, column } = self.layout.at(cell);
        if self.marks.get(row)?.get(column)? & mark::BARRIER != 0 {
            return None;
        }
        self.heights.get(row)?.get(column).copied()
    }

    /// What a cell costs from the start, its offset counted.
    #[inline]
    fn cost(&self, cell: CellIndex) -> u32 {
        let At { row, column } = self.layout.at(cell);
        self.costs.get(row).and_then(|row| row.get(column)).copied().unwrap_or(0)
    }

    /// The cell at whole column and row; `None` outside of the field.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked before")]
    fn cell(&self, at: (f64, f64)) -> Option<CellIndex> {
        let (wide, high) = self.size();
        let inside = (0.0..wide as f64).contains(&at.0) && (0.0..high as f64).contains(&at.1);
        inside.then(|| CellIndex::inner(at.0 as usize, at.1 as usize))
    }
}

/// The step in which heights are kept, and the height of step zero: whole metres where the tile has
/// no finer ones, otherwise a tenth; coarser only where the field spans more than 6.5 km of height.
#[allow(clippy::cast_possible_truncation, reason = "only compared with what it came from")]
fn scale(heights: &[f32], least: f64) -> (f64, f64) {
    let (mut low, mut high, mut whole) = (f32::INFINITY, f32::NEG_INFINITY, true);
    for height in heights.iter().filter(|height| height.is_finite()) {
        low = low.min(*height);
        high = high.max(*height);
        whole &= (*height as i32) as f32 == *height;
    }
    let (low, range) =
        if low <= high { (f64::from(low), f64::from(high - low)) } else { (0.0, 0.0) };
    let fine = if whole { 1.0_f64 } else { 0.1 };
    let quantum = fine.max(least).max(range / 65_000.0);
    (quantum, low + 32_500.0 * quantum)
}

/// Rounded to the nearest step.
#[allow(clippy::cast_possible_truncation, reason = "clamped to the range")]
fn quantised(steps: f64) -> i16 {
    // the cast truncates positive values, which is much quicker than rounding
    ((steps.clamp(-32_760.0, 32_760.0) + 32_768.5) as i32 - 32_768) as i16
}

#[cfg(test)]
mod tests;
