//! Maps cells to memory in strips of 32 columns, row after row, so that the five rows around a cell
//! share the cache during a search. Layer: `wayout`.

/// Cells of margin on every side, so that no move leaves the grid.
pub(super) const MARGIN: usize = 2;
/// Columns of a strip.
pub(super) const WIDE: usize = 32;
/// Rows of a block: the piece of a strip that is searched at a time.
pub(super) const HIGH: usize = 16;
/// The most columns or rows: a cell holds both in 16 bits each.
const MOST: usize = 65_000;

/// Column and row of a cell, the margin counted, in one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct CellIndex(u32);

impl CellIndex {
    /// The cell at a column and row of the field, both below 65,000.
    #[allow(clippy::cast_possible_truncation, reason = "held below 65,000")]
    pub(super) fn inner(column: usize, row: usize) -> Self {
        Self(((row.min(MOST) + MARGIN) as u32) << 16 | (column.min(MOST) + MARGIN) as u32)
    }

    #[inline]
    pub(super) fn column(self) -> u32 {
        self.0 & 0xffff
    }

    #[inline]
    pub(super) fn row(self) -> u32 {
        self.0 >> 16
    }

    /// The cell so many columns and rows on. Within the margin of an inner cell only.
    #[inline]
    pub(super) fn moved(self, across: i32, along: i32) -> Self {
        Self(self.0.wrapping_add_signed((along << 16) + across))
    }

    /// Column and row of the field.
    pub(super) fn place(self) -> (f64, f64) {
        let inner = |index: u32| f64::from(index) - MARGIN as f64;
        (inner(self.column()), inner(self.row()))
    }
}

/// A cell as a row of a strip, all strips after each other, and the column within it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct At {
    pub(super) row: usize,
    pub(super) column: usize,
}

/// The order of the cells.
#[derive(Clone, Copy)]
pub(super) struct Layout {
    columns: usize,
    rows: usize,
    strips: usize,
    /// Rows of a strip: the margin and what fills up the last block counted.
    height: usize,
}

impl Layout {
    pub(super) fn new(columns: usize, rows: usize) -> Self {
        let (columns, rows) = (columns.min(MOST), rows.min(MOST));
        Self {
            columns,
            rows,
            strips: (columns + 2 * MARGIN).div_ceil(WIDE),
            height: (rows + 2 * MARGIN).next_multiple_of(HIGH),
        }
    }

    pub(super) fn columns(&self) -> usize {
        self.columns
    }

    pub(super) fn rows(&self) -> usize {
        self.rows
    }

    /// The rows of all strips.
    pub(super) fn len(&self) -> usize {
        self.strips * self.height
    }

    /// Where a cell lies; a row beyond the last for one that does not exist.
    #[inline]
    pub(super) fn at(&self, cell: CellIndex) -> At {
        let (column, row) = (cell.column() as usize, cell.row() as usize);
        if row >= self.height {
            return At { row: usize::MAX, column: 0 };
        }
        At { row: column / WIDE * self.height + row, column: column % WIDE }
    }

    /// The cell that lies there.
    #[inline]
    #[allow(clippy::cast_possible_truncation, reason = "held below 65,032")]
    pub(super) fn cell(&self, at: At) -> CellIndex {
        let column = at.row / self.height * WIDE + at.column;
        CellIndex(((at.row % self.height) as u32) << 16 | column as u32)
    }

    /// Whether a cell belongs to the field itself.
    pub(super) fn is_inner(&self, cell: CellIndex) -> bool {
        let within =
            |index: u32, count: usize| (MARGIN..MARGIN + count).contains(&(index as usize));
        within(cell.column(), self.columns) && within(cell.row(), self.rows)
    }

    /// All cells of the field, row by row from the south.
    pub(super) fn cells(&self) -> impl Iterator<Item = CellIndex> + use<> {
        let columns = self.columns;
        (0..self.rows)
            .flat_map(move |row| (0..columns).map(move |column| CellIndex::inner(column, row)))
    }
}
