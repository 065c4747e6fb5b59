//! Computes kernel sums for bandwidths below two cells, point by point: exact up to the cut-off.
//! Layer: `analyse`.
//!
//! # Method
//! Along each axis the kernel at the cell k away from a point's own is exp(-d²/2h²) exp(dc/h²)^k
//! exp(-k²c²/2h²): two exponentials a point, powers by multiplication, and a table.
//!
//! # References
//! Greengard & Lee 2004, Accelerating the nonuniform fast Fourier transform, SIAM Review 46:443, 3.

use super::kernel::{Grid, Mass, REACH};
use super::lines::{Lines, Placed};

/// The sum of the kernels on a grid; for bandwidths below 1.25 cells.
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
        let mut values = self.away;
        let middle = exponential(-0.5 * (past * unit).powi(2));
        if WIDE == 1 {
            return [values[0] * middle; WIDE];
        }
        let growth = exponential(past * unit * unit);
        let shrink = 1.0 / growth;
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

/// The exponential to nine digits: a million points need four each, so speed matters.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
fn exponential(power: f64) -> f64 {
    let power = power.clamp(-700.0, 700.0);
    // adding and subtracting 1.5 times 2⁵² rounds to the nearest integer
    let rounding = 6_755_399_441_055_744.0;
    let whole = (power * std::f64::consts::LOG2_E + rounding) - rounding;
    let rest = power - whole * std::f64::consts::LN_2;
    let mut sum = 1.0 / 40_320.0;
    for factor in [1.0 / 5_040.0, 1.0 / 720.0, 1.0 / 120.0, 1.0 / 24.0, 1.0 / 6.0, 0.5, 1.0, 1.0] {
        sum = sum * rest + factor;
    }
    sum * f64::from_bits(((whole as i64 + 1_023) << 52) as u64)
}

#[allow(clippy::cast_possible_truncation, reason = "weights to seven digits")]
fn scatter_over<const WIDE: usize>(masses: &[Mass], grid: &Grid, bandwidth: f64) -> Vec<f64> {
    let bell = Bell::<WIDE>::new(grid.cell, bandwidth);
    let reach = WIDE / 2;
    // padding for kernels of points beside the grid avoids bounds checks
    let rim = 2 * reach;
    let lines = Lines { count: grid.rows + 2 * rim, length: grid.columns + 2 * rim, touched: WIDE };
    let place = |mass: &Mass| {
        let (column, across) = cell_of(mass.x, grid.west, grid.cell, reach, grid.columns)?;
        let (line, up) = cell_of(mass.y, grid.south, grid.cell, reach, grid.rows)?;
        Some(Placed { line, column, across, up, weight: mass.weight as f32 })
    };
    let rimmed = lines.add_all(masses, place, |here, placed| {
        let (across, up) = (bell.about(f64::from(placed.across)), bell.about(f64::from(placed.up)));
        let column = placed.column as usize;
        for (line, up) in here.chunks_exact_mut(lines.length).zip(&up) {
            let weight = f64::from(placed.weight) * up;
            let Some(cells) = line[column..].first_chunk_mut::<WIDE>() else { continue };
            for (cell, across) in cells.iter_mut().zip(&across) {
                *cell += weight * across;
            }
        }
    });
    let inner = |row: usize| &rimmed[(row + rim) * lines.length + rim..][..grid.columns];
    (0..grid.rows).flat_map(|row| inner(row).iter().copied()).collect()
}

/// The first cell that a point's kernel reaches, counted with the padding, and the offset of the
/// point from the centre of its cell.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked before")]
fn cell_of(at: f64, edge: f64, cell: f64, reach: usize, count: usize) -> Option<(u32, f32)> {
    let place = (at - edge) / cell + reach as f64;
    (place >= 0.0 && place < (count + 2 * reach) as f64).then(|| {
        let own = place as u32;
        (own, (place - f64::from(own) - 0.5) as f32)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quick_exponential_is_exact_to_nine_digits() {
        for step in -7_000..=7_000 {
            let power = f64::from(step) / 10.0 + 0.013;
            let exact = power.exp();
            if (1e-300..1e300).contains(&exact) {
                assert!((exponential(power) / exact - 1.0).abs() < 1e-9, "{power}");
            }
        }
    }
}
