//! Kernels of less than a cell or two, scattered one by one: exact but for their cut-off.
//! Layer: `analyse`.
//!
//! # Method
//! Along each axis the kernel at the cell k away from a point's own is exp(-d²/2h²) exp(dc/h²)^k
//! exp(-k²c²/2h²): two exponentials a point, powers by multiplication, and a table.
//!
//! # References
//! Greengard & Lee 2004, Accelerating the nonuniform fast Fourier transform, SIAM Review 46:443, 3.

use super::kernel::{Grid, Mass, REACH};
use super::lines::Lines;

/// The sum of the kernels on a grid; for bandwidths below 1.6 cells.
pub(super) fn scatter(masses: &[Mass], grid: &Grid, bandwidth: f64) -> Vec<f64> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few cells")]
    let reach = (bandwidth * REACH / grid.cell + 0.5) as usize;
    match reach {
        0 => scatter_over::<1>(masses, grid, bandwidth),
        1 => scatter_over::<3>(masses, grid, bandwidth),
        2 => scatter_over::<5>(masses, grid, bandwidth),
        3 => scatter_over::<7>(masses, grid, bandwidth),
        4 => scatter_over::<9>(masses, grid, bandwidth),
        5 => scatter_over::<11>(masses, grid, bandwidth),
        6 => scatter_over::<13>(masses, grid, bandwidth),
        _ => scatter_over::<15>(masses, grid, bandwidth),
    }
}

/// The kernel along one axis, over `WIDE` cells about a point.
struct Bell<const WIDE: usize> {
    cell: f64,
    bandwidth: f64,
    away: [f64; WIDE],
}

impl<const WIDE: usize> Bell<WIDE> {
    const REACH: usize = WIDE / 2;

    fn new(cell: f64, bandwidth: f64) -> Self {
        let scale = 1.0 / (bandwidth * (2.0 * std::f64::consts::PI).sqrt());
        let away = std::array::from_fn(|place| {
            let cells = place as f64 - Self::REACH as f64;
            scale * (-0.5 * (cells * cell / bandwidth).powi(2)).exp()
        });
        Self { cell, bandwidth, away }
    }

    /// The values at the cells about a point this far, in cells, past the middle of its own.
    fn about(&self, past: f64) -> [f64; WIDE] {
        let unit = self.cell / self.bandwidth;
        let growth = (past * unit * unit).exp();
        let mut values = self.away;
        let shrink = 1.0 / growth;
        let middle = (-0.5 * (past * unit).powi(2)).exp();
        let (mut right, mut left) = (middle, middle);
        values[Self::REACH] *= middle;
        for step in 1..=Self::REACH {
            right *= growth;
            left *= shrink;
            values[Self::REACH + step] *= right;
            values[Self::REACH - step] *= left;
        }
        values
    }
}

fn scatter_over<const WIDE: usize>(masses: &[Mass], grid: &Grid, bandwidth: f64) -> Vec<f64> {
    let bell = Bell::<WIDE>::new(grid.cell, bandwidth);
    let reach = WIDE / 2;
    // room for the kernels of points beside the grid, so that no cell needs to be asked for
    let rim = 2 * reach;
    let lines = Lines { count: grid.rows + 2 * rim, length: grid.columns + 2 * rim, touched: WIDE };
    let column = |mass: &Mass| cell_of(mass.x, grid.west, grid.cell, reach, grid.columns);
    let row = |mass: &Mass| cell_of(mass.y, grid.south, grid.cell, reach, grid.rows);
    let first = |mass: &Mass| column(mass).and_then(|_| row(mass)).map(|(row, _)| row);
    let rimmed = lines.add_all(masses, first, |here, mass| {
        let (Some((column, past_x)), Some((_, past_y))) = (column(mass), row(mass)) else { return };
        let (across, up) = (bell.about(past_x), bell.about(past_y));
        for (line, up) in here.chunks_exact_mut(lines.length).zip(&up) {
            let weight = mass.weight * up;
            for (cell, across) in line[column..column + WIDE].iter_mut().zip(&across) {
                *cell += weight * across;
            }
        }
    });
    let inner = |row: usize| &rimmed[(row + rim) * lines.length + rim..][..grid.columns];
    (0..grid.rows).flat_map(|row| inner(row).iter().copied()).collect()
}

/// The first cell that a point's kernel reaches, counted with the rim, and how far the point is past
/// the middle of its own cell.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked before")]
fn cell_of(at: f64, edge: f64, cell: f64, reach: usize, count: usize) -> Option<(usize, f64)> {
    let place = (at - edge) / cell + reach as f64;
    (place >= 0.0 && place < (count + 2 * reach) as f64).then(|| {
        let own = place as usize;
        (own, place - own as f64 - 0.5)
    })
}
