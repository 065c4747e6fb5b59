//! What is the quickest walk across open ground? A grid of heights on a plane, sixteen neighbours,
//! Tobler's function in the direction of the walk, barriers and quick corridors. Exact on its grid;
//! afterwards straightened, since nobody walks along sixteen directions. Layer: `wayout`.

mod layout;
mod moves;
mod queue;
mod search;
mod straighten;

use self::layout::{Layout, Spot};
use self::moves::Moves;
use crate::earth::local::Plane;
use crate::units::{Degrees, LatLon, Metres, Seconds};

/// The steepest step that anybody walks at all: rise over run.
pub(super) const STEEPEST_STEP: f64 = 1.2;

/// One cell: 8 bytes, so that everything a step needs is in one place of memory.
#[derive(Clone, Copy)]
struct Cell {
    /// Milliseconds from the start; nothing is quicker than a barrier's 0, so none is ever entered.
    cost: u32,
    /// In steps of the field's quantum above its base.
    height: i16,
    /// Bits: the move by which it was reached, and [`mark`].
    mark: u8,
}

/// Bits of a cell's mark above the four of the move.
mod mark {
    pub(super) const MOVE: u8 = 0b0000_1111;
    /// A barrier lies within two cells.
    pub(super) const NEAR: u8 = 0b0001_0000;
    pub(super) const BARRIER: u8 = 0b0010_0000;
    pub(super) const CORRIDOR: u8 = 0b0100_0000;
    pub(super) const EXPANDED: u8 = 0b1000_0000;
}

const FAR: u32 = u32::MAX;

/// Ground to walk on.
pub struct Terrain {
    cells: Vec<Cell>,
    layout: Layout,
    spacing: (f64, f64),
    quantum: f64,
    base: f64,
    has_corridors: bool,
    moves: Moves,
}

/// A walk across the field.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// Which of the goals was reached.
    pub goal: usize,
    /// Its time by Tobler's function, straightened.
    pub duration: Seconds,
    /// Its time along the cells of the grid: never less than `duration`.
    pub on_grid: Seconds,
    /// Its corners as columns and rows of the field, the start first.
    pub corners: Vec<(f64, f64)>,
    /// The cells that were looked at.
    pub expanded: usize,
    /// Whether a quicker walk might lead outside of the field.
    pub may_leave: bool,
}

impl Terrain {
    /// The field with these heights in metres, row by row from the south; not a number is a void,
    /// which nobody enters.
    ///
    /// # Units
    /// `spacing`: metres from cell to cell eastward and northward.
    ///
    /// # Panics
    /// Never: rows that are cut short are voids.
    #[must_use]
    pub fn new(columns: usize, rows: usize, spacing: (f64, f64), heights: &[f32]) -> Self {
        let (low, high) = heights
            .iter()
            .filter(|height| height.is_finite())
            .fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), h| (a.min(*h), b.max(*h)));
        let (low, range) =
            if low <= high { (f64::from(low), f64::from(high - low)) } else { (0.0, 0.0) };
        // whole metres where the tile has no finer ones, else a tenth; coarser only where the field
        // spans more than 6.5 km of height
        let whole = heights.iter().all(|height| !height.is_finite() || height.fract() == 0.0);
        let quantum = if whole { 1.0 } else { (range / 65_000.0).max(0.1) };
        let base = low + 32_500.0 * quantum;
        let layout = Layout::new(columns, rows);
        let empty = Cell { cost: 0, height: 0, mark: mark::BARRIER };
        let mut cells = vec![empty; layout.len()];
        for (row, line) in heights.chunks_exact(columns.max(1)).take(layout.rows()).enumerate() {
            for (column, height) in line.iter().take(layout.columns()).enumerate() {
                let spot = Spot::inner(column, row);
                if let Some(cell) = cells.get_mut(layout.index(spot))
                    && height.is_finite()
                {
                    cell.height = quantised((f64::from(*height) - base) / quantum);
                    cell.mark = 0;
                }
            }
        }
        let moves = Moves::new(spacing, quantum);
        Self { cells, layout, spacing, quantum, base, has_corridors: false, moves }
    }

    /// Columns and rows of the field.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        (self.layout.columns(), self.layout.rows())
    }

    /// Bytes that the field takes for each cell.
    #[must_use]
    pub fn bytes_per_cell() -> usize {
        size_of::<Cell>()
    }

    /// The height at a place of the field, bilinear; `None` outside and beside a void.
    #[must_use]
    pub fn height(&self, at: (f64, f64)) -> Option<Metres> {
        let (column, row) = (at.0.floor(), at.1.floor());
        let corner = self.spot((column, row))?;
        let (right, up) = (at.0 - column, at.1 - row);
        let mut sum = 0.0;
        for (across, along, share) in [
            (0, 0, (1.0 - right) * (1.0 - up)),
            (1, 0, right * (1.0 - up)),
            (0, 1, (1.0 - right) * up),
            (1, 1, right * up),
        ] {
            if share > 0.0 {
                let cell = self.open(corner.moved(across, along))?;
                sum += f64::from(cell.height) * share;
            }
        }
        Some(Metres(self.base + sum * self.quantum))
    }

    /// Closes every cell whose slope, over the cells beside it, is steeper than this.
    pub fn close_steeper_than(&mut self, limit: Degrees) {
        let steepest = limit.radians().tan();
        let steep: Vec<Spot> = self
            .layout
            .spots()
            .filter(|spot| self.slope(*spot).is_some_and(|slope| slope > steepest))
            .collect();
        self.close(steep);
    }

    /// Closes the inside and the edge of a polygon given as columns and rows.
    pub fn close_polygon(&mut self, corners: &[(f64, f64)]) {
        let mut closed = Vec::new();
        let (wide, high) = self.size();
        let rows = span(corners.iter().map(|corner| corner.1), high);
        let columns = span(corners.iter().map(|corner| corner.0), wide);
        for row in rows {
            for column in columns.clone() {
                if inside(corners, (column as f64, row as f64)) {
                    closed.push(Spot::inner(column, row));
                }
            }
        }
        let edges = corners.iter().zip(corners.iter().cycle().skip(1));
        closed.extend(edges.flat_map(|(from, to)| self.cells_along(*from, *to)));
        self.close(closed);
    }

    /// Opens a quick corridor along a line given as columns and rows.
    pub fn open_corridor(&mut self, line: &[(f64, f64)]) {
        for pair in line.windows(2) {
            for spot in self.cells_along(pair[0], pair[1]) {
                if let Some(cell) = self.cells.get_mut(self.layout.index(spot))
                    && cell.mark & mark::BARRIER == 0
                {
                    cell.mark |= mark::CORRIDOR;
                    self.has_corridors = true;
                }
            }
        }
    }

    /// Whether somebody can stand here.
    #[must_use]
    pub fn is_open(&self, at: (f64, f64)) -> bool {
        self.spot((at.0.round(), at.1.round())).is_some_and(|spot| self.open(spot).is_some())
    }

    fn close(&mut self, spots: Vec<Spot>) {
        for spot in spots {
            if let Some(cell) = self.cells.get_mut(self.layout.index(spot)) {
                cell.mark |= mark::BARRIER;
            }
        }
    }

    fn cell(&self, spot: Spot) -> Option<&Cell> {
        self.cells.get(self.layout.index(spot))
    }

    /// The cell, unless it is a barrier.
    fn open(&self, spot: Spot) -> Option<&Cell> {
        self.cell(spot).filter(|cell| cell.mark & mark::BARRIER == 0)
    }

    /// The slope over the neighbours on both sides, or over one where the other is a void; `None` on
    /// a barrier.
    fn slope(&self, spot: Spot) -> Option<f64> {
        let at = |across, along| {
            let cell = self.open(spot.moved(across, along))?;
            Some(f64::from(cell.height) * self.quantum)
        };
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

    /// The cell at whole column and row; `None` outside of the field.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked before")]
    fn spot(&self, at: (f64, f64)) -> Option<Spot> {
        let (wide, high) = self.size();
        let inside = (0.0..wide as f64).contains(&at.0) && (0.0..high as f64).contains(&at.1);
        inside.then(|| Spot::inner(at.0 as usize, at.1 as usize))
    }

    /// Every cell that a line touches, each step to one side only, so that nothing slips through
    /// between two of them.
    fn cells_along(&self, from: (f64, f64), to: (f64, f64)) -> Vec<Spot> {
        let steps = ((to.0 - from.0).abs() + (to.1 - from.1).abs()).ceil() * 4.0;
        if !steps.is_finite() || steps > 4e7 {
            return Vec::new();
        }
        let mut touched: Vec<Spot> = Vec::new();
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
                touched.extend(self.spot((here.0, last.1)));
            }
            if before != Some(here) {
                touched.extend(self.spot(here));
            }
            before = Some(here);
            step += 1.0;
        }
        touched
    }
}

#[allow(clippy::cast_possible_truncation, reason = "clamped to the range")]
fn quantised(steps: f64) -> i16 {
    steps.round().clamp(-32_760.0, 32_760.0) as i16
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

/// Even and odd crossings of a ray to the right.
fn inside(corners: &[(f64, f64)], at: (f64, f64)) -> bool {
    let mut inside = false;
    for (a, b) in corners.iter().zip(corners.iter().cycle().skip(1)) {
        if (a.1 > at.1) != (b.1 > at.1) && at.0 < (b.0 - a.0) * (at.1 - a.1) / (b.1 - a.1) + a.0 {
            inside = !inside;
        }
    }
    inside
}

/// Where a field lies: its plane, the place of its first cell and its spacing.
#[derive(Clone, Copy, Debug)]
pub struct Footprint {
    /// The plane on which its cells are square.
    pub plane: Plane,
    /// Metres east and north of the plane's origin of the first cell.
    pub corner: (f64, f64),
    /// Metres between cells.
    pub spacing: f64,
    /// Cells eastward.
    pub columns: usize,
    /// Cells northward.
    pub rows: usize,
}

impl Footprint {
    /// The smallest footprint with this spacing about the places, with a margin on all sides.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in bounds")]
    pub fn about(places: &[LatLon], margin: Metres, spacing: Metres) -> Option<Self> {
        let plane = Plane::about(*places.first()?);
        let points: Vec<(f64, f64)> = places.iter().map(|place| plane.to_plane(*place)).collect();
        let low = |pick: fn(&(f64, f64)) -> f64| {
            points.iter().map(pick).fold(f64::INFINITY, f64::min) - margin.0
        };
        let high = |pick: fn(&(f64, f64)) -> f64| {
            points.iter().map(pick).fold(f64::NEG_INFINITY, f64::max) + margin.0
        };
        let corner = (low(|point| point.0), low(|point| point.1));
        let cells = |from: f64, to: f64| {
            (((to - from) / spacing.0).ceil().clamp(1.0, 20_000.0) as usize).saturating_add(1)
        };
        Some(Self {
            plane,
            corner,
            spacing: spacing.0,
            columns: cells(corner.0, high(|point| point.0)),
            rows: cells(corner.1, high(|point| point.1)),
        })
    }

    /// The field with the heights that are told for its cells.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "heights need no more than 32 bits")]
    pub fn survey(&self, height: impl Fn(LatLon) -> Option<Metres>) -> Terrain {
        let mut heights = Vec::with_capacity(self.columns * self.rows);
        for row in 0..self.rows {
            for column in 0..self.columns {
                let place = self.place((column as f64, row as f64));
                heights.push(height(place).map_or(f32::NAN, |height| height.0 as f32));
            }
        }
        Terrain::new(self.columns, self.rows, (self.spacing, self.spacing), &heights)
    }

    /// The position of a column and row.
    #[must_use]
    pub fn place(&self, at: (f64, f64)) -> LatLon {
        self.plane
            .from_plane(self.corner.0 + at.0 * self.spacing, self.corner.1 + at.1 * self.spacing)
    }

    /// The column and row of a position.
    #[must_use]
    pub fn cell(&self, place: LatLon) -> (f64, f64) {
        let (east, north) = self.plane.to_plane(place);
        ((east - self.corner.0) / self.spacing, (north - self.corner.1) / self.spacing)
    }
}

#[cfg(test)]
mod tests;
