//! Marks barriers (closed polygons, steep ground) and corridors on the cells. Layer: `wayout`.

use super::layout::{At, CellIndex};
use super::{Terrain, mark};
use crate::units::Degrees;

impl Terrain {
    /// Closes every cell whose slope, over the cells beside it, is steeper than this.
    pub fn close_steeper_than(&mut self, limit: Degrees) {
        let steepest = limit.radians().tan();
        let steep: Vec<CellIndex> = self
            .layout
            .cells()
            .filter(|cell| self.slope(*cell).is_some_and(|slope| slope > steepest))
            .collect();
        self.close(steep);
    }

    /// The slope over the neighbours on both sides, or over one where the other is a void; `None`
    /// on a barrier.
    fn slope(&self, cell: CellIndex) -> Option<f64> {
        let at =
            |across, along| Some(f64::from(self.open(cell.moved(across, along))?) * self.quantum);
        let here = at(0, 0)?;
        let over = |ahead: Option<f64>, behind: Option<f64>, spacing: f64| match (ahead, behind) {
            (Some(ahead), Some(behind)) => (ahead - behind) / (2.0 * spacing),
            (Some(beside), None) | (None, Some(beside)) => (beside - here) / spacing,
            (None, None) => 0.0,
        };
        let east = over(at(1, 0), at(-1, 0), self.spacing.0);
        let north = over(at(0, 1), at(0, -1), self.spacing.1);
        Some(east.hypot(north))
    }

    /// Closes the inside and the edge of an area: its outline and those of its holes as columns and
    /// rows. The inside of a hole stays open.
    pub fn close_area(&mut self, rings: &[Vec<(f64, f64)>]) {
        let mut closed = Vec::new();
        let (wide, high) = self.size();
        for row in span(rings.iter().flatten().map(|corner| corner.1), high) {
            let mut crossings = crossings(rings, row as f64);
            crossings.sort_by(f64::total_cmp);
            for pair in crossings.chunks_exact(2) {
                let columns = span(pair.iter().copied(), wide);
                let within = |column: &usize| (pair[0]..pair[1]).contains(&(*column as f64));
                closed.extend(columns.filter(within).map(|column| CellIndex::inner(column, row)));
            }
        }
        for ring in rings {
            let edges = ring.iter().zip(ring.iter().cycle().skip(1));
            closed.extend(edges.flat_map(|(from, to)| self.cells_along(*from, *to)));
        }
        self.close(closed);
    }

    /// Marks a corridor along a line given as columns and rows.
    pub fn open_corridor(&mut self, line: &[(f64, f64)]) {
        for pair in line.windows(2) {
            for cell in self.cells_along(pair[0], pair[1]) {
                if self.mark(cell) & mark::BARRIER == 0 {
                    self.set_mark(cell, mark::CORRIDOR);
                    self.has_corridors = true;
                }
            }
        }
    }

    fn close(&mut self, cells: Vec<CellIndex>) {
        for cell in cells {
            self.set_mark(cell, mark::BARRIER);
        }
    }

    pub(super) fn set_mark(&mut self, cell: CellIndex, bit: u8) {
        let At { row, column } = self.layout.at(cell);
        if let Some(mark) = self.marks.get_mut(row).and_then(|row| row.get_mut(column)) {
            *mark |= bit;
        }
    }

    /// Every cell that a line touches, each step to one side only, so that no move passes between
    /// two of them.
    fn cells_along(&self, from: (f64, f64), to: (f64, f64)) -> Vec<CellIndex> {
        let steps = ((to.0 - from.0).abs() + (to.1 - from.1).abs()).ceil() * 4.0;
        if !steps.is_finite() || steps > 4e7 {
            return Vec::new();
        }
        let mut touched: Vec<CellIndex> = Vec::new();
        let mut before: Option<(f64, f64)> = None;
        let mut step = 0.0;
        while step <= steps {
            let share = if steps > 0.0 { step / steps } else { 0.0 };
            let here = (
                (from.0 + (to.0 - from.0) * share).round(),
                (from.1 + (to.1 - from.1) * share).round(),
            );
            if let Some(last) = before
                && last.0 != here.0
                && last.1 != here.1
            {
                touched.extend(self.cell((here.0, last.1)));
            }
            if before != Some(here) {
                touched.extend(self.cell(here));
            }
            before = Some(here);
            step += 1.0;
        }
        touched
    }
}

/// Whole indices within the values and the field.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the field")]
fn span(values: impl Iterator<Item = f64>, count: usize) -> std::ops::Range<usize> {
    let (low, high) = values
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), value| (a.min(value), b.max(value)));
    if low > high {
        return 0..0;
    }
    let last = count as f64;
    low.floor().clamp(0.0, last) as usize..(high.ceil() + 1.0).clamp(0.0, last) as usize
}

/// Where the edges of the rings cross a row, each edge with its lower end but not its upper.
fn crossings(rings: &[Vec<(f64, f64)>], row: f64) -> Vec<f64> {
    rings
        .iter()
        .flat_map(|ring| ring.iter().zip(ring.iter().cycle().skip(1)))
        .filter(|(a, b)| (a.1 > row) != (b.1 > row))
        .map(|(a, b)| (b.0 - a.0) * (row - a.1) / (b.1 - a.1) + a.0)
        .collect()
}
