//! Computes the 50 % and 95 % isopleths of a density: the smallest set of cells with that share of
//! the total, and its outline. Layer: `analyse`.
//!
//! # References
//! Worton 1989, Kernel methods for estimating the utilization distribution in home-range studies,
//! Ecology 70:164 (the isopleth); outlines by marching squares, crate `contour`.

use super::kernel::Grid;

/// An outline: an outer ring, then rings of holes, each closed, metres east and north.
pub type Outline = Vec<Vec<(f64, f64)>>;

/// The level above which the stated share (0 to 1) of the total lies.
///
/// `None` where nothing is above zero.
#[must_use]
pub fn level(values: &[f64], share: f64) -> Option<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|value| *value > 0.0).collect();
    let total: f64 = sorted.iter().sum();
    sorted.sort_unstable_by(|a, b| b.total_cmp(a));
    let mut sum = 0.0;
    sorted.into_iter().find(|value| {
        sum += value;
        sum >= share * total
    })
}

/// The outlines of where the values are above a level. Cells without a value (NaN) are outside: an outline
/// goes no farther than half a cell beyond the cells with values.
#[must_use]
pub fn outlines(values: &[f64], grid: &Grid, level: f64) -> Vec<Outline> {
    // a border of zeros closes lines that would leave the grid
    let (columns, rows) = (grid.columns + 2, grid.rows + 2);
    let mut rimmed = vec![0.0; columns * rows];
    for row in 0..grid.rows {
        let from = &values[row * grid.columns..][..grid.columns];
        let into = &mut rimmed[(row + 1) * columns + 1..][..grid.columns];
        for (cell, value) in into.iter_mut().zip(from) {
            // between this and an outside cell of 0 the level is crossed at half way at the most
            *cell = if value.is_nan() { 0.0 } else { value.clamp(0.0, 2.0 * level) };
        }
    }
    let builder = contour::ContourBuilder::new(columns, rows, true)
        .x_origin(grid.west - grid.cell)
        .y_origin(grid.south - grid.cell)
        .x_step(grid.cell)
        .y_step(grid.cell);
    let Ok(contours) = builder.contours(&rimmed, &[level]) else { return Vec::new() };
    contours
        .iter()
        .flat_map(|contour| contour.geometry().iter())
        .map(|polygon| {
            std::iter::once(polygon.exterior())
                .chain(polygon.interiors())
                .map(|ring| ring.coords().map(|at| (at.x, at.y)).collect())
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::density::kernel::{Mass, sum};

    fn area(ring: &[(f64, f64)]) -> f64 {
        ring.windows(2).map(|p| p[0].0 * p[1].1 - p[1].0 * p[0].1).sum::<f64>().abs() / 2.0
    }

    #[test]
    fn the_lines_about_one_kernel_are_circles_of_known_size() {
        let grid = Grid { west: -500.0, south: -500.0, cell: 5.0, columns: 200, rows: 200 };
        let values = sum(&[Mass { x: 12.0, y: -7.0, weight: 1.0 }], &grid, 60.0);
        for (share, radius) in [(0.5, 1.177_41), (0.95, 2.447_75)] {
            let outlines = outlines(&values, &grid, level(&values, share).unwrap());
            assert_eq!((outlines.len(), outlines[0].len()), (1, 1));
            let found = (area(&outlines[0][0]) / std::f64::consts::PI).sqrt() / 60.0;
            assert!((found / radius - 1.0).abs() < 0.01, "{share}: {found}");
            let n = outlines[0][0].len() as f64;
            let middle = outlines[0][0].iter().map(|at| at.0).sum::<f64>() / n;
            assert!((middle - 12.0).abs() < 1.5, "{middle}");
        }
    }

    #[test]
    fn outlines_end_at_the_edge_of_the_cells_with_values() {
        let grid = Grid { west: 0.0, south: 0.0, cell: 10.0, columns: 30, rows: 30 };
        let mut values = sum(&[Mass { x: 150.0, y: 150.0, weight: 1.0 }], &grid, 60.0);
        for (index, value) in values.iter_mut().enumerate() {
            if index % 30 < 12 {
                *value = f64::NAN;
            }
        }
        let found = outlines(&values, &grid, level(&values, 0.95).unwrap());
        let west = found.iter().flatten().flatten().map(|at| at.0).fold(f64::INFINITY, f64::min);
        assert!((west - 120.0).abs() < 0.01, "{west}");
    }

    #[test]
    fn empty_grid_has_no_isopleths() {
        assert_eq!(level(&[0.0, 0.0], 0.5), None);
        let grid = Grid { west: 0.0, south: 0.0, cell: 1.0, columns: 2, rows: 2 };
        assert!(outlines(&[0.0; 4], &grid, 0.5).is_empty());
    }
}
