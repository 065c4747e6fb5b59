//! Computes hill shading: slopes facing away from a light in the north-west are darkened. Cells without
//! elevation stay unshaded. Layer: `present`.
//!
//! # References
//! Horn 1981, Hill shading and the reflectance map, Proceedings of the IEEE 69:14. The light of 315
//! degrees and 45 degrees up is common practice.

use crate::analyse::density::kernel::Grid;

/// Classes of darkness, the first the lightest.
pub(super) const CLASSES: usize = 6;

/// Darkness of each cell relative to level ground, 0 to 1.
#[derive(Clone, Debug)]
pub struct Shade(Vec<f64>);

impl Shade {
    /// From the heights at the middles of the cells in metres, row by row from the south; NaN where
    /// none is known.
    #[must_use]
    pub fn of(heights: &[f64], grid: &Grid) -> Self {
        let at = |column: usize, row: usize| heights[row * grid.columns + column];
        let slope = |low: f64, high: f64, cells: usize| (high - low) / (cells as f64 * grid.cell);
        let cell = |index: usize| {
            let (column, row) = (index % grid.columns, index / grid.columns);
            let (west, east) = (column.saturating_sub(1), (column + 1).min(grid.columns - 1));
            let (south, north) = (row.saturating_sub(1), (row + 1).min(grid.rows - 1));
            if west == east || south == north {
                return 0.0;
            }
            let eastward = slope(at(west, row), at(east, row), east - west);
            let northward = slope(at(column, south), at(column, north), north - south);
            darkness(eastward, northward)
        };
        Self((0..heights.len()).map(cell).collect())
    }

    /// The class of a cell; `None` where it is no darker than level ground.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
    pub(super) fn class(&self, index: usize) -> Option<usize> {
        let darkness = self.0.get(index).copied().unwrap_or(0.0);
        let class = (darkness * 3.0 * CLASSES as f64).floor() as usize;
        (class > 0).then(|| class.min(CLASSES) - 1)
    }
}

/// Reduction of light on a slope relative to level ground, 0 to 1.
fn darkness(eastward: f64, northward: f64) -> f64 {
    let level = std::f64::consts::FRAC_1_SQRT_2;
    let light = (0.5 * eastward - 0.5 * northward + level)
        / (1.0 + eastward.powi(2) + northward.powi(2)).sqrt();
    let darkness = (level - light) / level;
    if darkness.is_nan() { 0.0 } else { darkness.clamp(0.0, 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_facing_away_from_the_light_are_dark() {
        assert!(darkness(0.0, 0.0).abs() < 1e-12);
        // falling to the south-east, and to the north-west
        assert!(darkness(-0.4, 0.4) > 0.4 && darkness(0.4, -0.4) < 1e-12);
        assert_eq!(darkness(f64::NAN, 0.1), 0.0);
    }

    #[test]
    fn hill_is_dark_on_its_south_eastern_side_only() {
        let grid = Grid { west: 0.0, south: 0.0, cell: 10.0, columns: 21, rows: 21 };
        let heights: Vec<f64> = (0..441)
            .map(|index| {
                let (x, y) = (f64::from(index % 21) - 10.0, f64::from(index / 21) - 10.0);
                60.0 * (-(x * x + y * y) / 40.0).exp()
            })
            .collect();
        let shade = Shade::of(&heights, &grid);
        let class = |column: usize, row: usize| shade.class(row * 21 + column);
        assert!(class(13, 7).is_some() && class(7, 13).is_none() && class(0, 0).is_none());
        assert!(Shade::of(&[f64::NAN; 441], &grid).0.iter().all(|value| *value == 0.0));
    }
}
