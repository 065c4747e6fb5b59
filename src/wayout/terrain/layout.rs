//! Where in memory does a cell lie? In blocks of 16 x 16, so that the sixteen neighbours of a cell
//! nearly always share a page: a search over a large field waits for memory more than for anything
//! else. Layer: `wayout`.

/// Cells of margin on every side, so that no move leaves the field.
pub(super) const MARGIN: usize = 2;
/// Cells on a side of a block.
const BLOCK: usize = 16;
/// The most columns or rows: a spot holds both in 16 bits each.
const MOST: usize = 65_000;

/// Column and row of a cell, the margin counted, in one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Spot(pub(super) u32);

impl Spot {
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

/// The order of the cells.
pub(super) struct Layout {
    columns: usize,
    rows: usize,
    /// What a column adds to an index, and a row.
    across: Vec<u32>,
    along: Vec<u32>,
}

impl Layout {
    #[allow(clippy::cast_possible_truncation, reason = "65,000 squared fits 32 bits")]
    pub(super) fn new(columns: usize, rows: usize) -> Self {
        let (columns, rows) = (columns.min(MOST), rows.min(MOST));
        let blocks = (columns + 2 * MARGIN).div_ceil(BLOCK);
        let wide = blocks * BLOCK;
        let high = (rows + 2 * MARGIN).div_ceil(BLOCK) * BLOCK;
        let across = (0..wide).map(|x| (x / BLOCK * BLOCK * BLOCK + x % BLOCK) as u32).collect();
        let along = (0..high)
            .map(|y| (y / BLOCK * blocks * BLOCK * BLOCK + y % BLOCK * BLOCK) as u32)
            .collect();
        Self { columns, rows, across, along }
    }

    pub(super) fn columns(&self) -> usize {
        self.columns
    }

    pub(super) fn rows(&self) -> usize {
        self.rows
    }

    /// Cells with margin and the rest of the last blocks.
    pub(super) fn len(&self) -> usize {
        self.across.len() * self.along.len()
    }

    /// Where a cell lies; beyond the end for one that does not exist.
    #[inline]
    pub(super) fn index(&self, spot: Spot) -> usize {
        match (self.across.get(spot.column() as usize), self.along.get(spot.row() as usize)) {
            (Some(across), Some(along)) => (across + along) as usize,
            _ => usize::MAX,
        }
    }

    /// What the two columns and rows to each side add to an index, for an inner cell.
    #[inline]
    pub(super) fn around(&self, spot: Spot) -> Option<(&[u32; 5], &[u32; 5])> {
        Some((beside(&self.across, spot.column())?, beside(&self.along, spot.row())?))
    }

    /// All cells of the field, row by row from the south.
    pub(super) fn spots(&self) -> impl Iterator<Item = Spot> + use<> {
        let columns = self.columns;
        (0..self.rows).flat_map(move |row| (0..columns).map(move |column| Spot::inner(column, row)))
    }
}

#[inline]
fn beside(parts: &[u32], middle: u32) -> Option<&[u32; 5]> {
    parts.get((middle as usize).checked_sub(MARGIN)?..)?.first_chunk::<5>()
}
