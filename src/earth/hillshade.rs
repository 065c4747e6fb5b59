//! Computes hill shading from a grid of heights: how light each node is under a light from the
//! north-west. Layer: `earth`.
//!
//! # References
//! Horn 1981, Hill shading and the reflectance map, Proceedings of the IEEE 69(1):14,
//! doi:10.1109/PROC.1981.11918: the gradient from eight neighbours, and the reflectance of a matt surface.
//! A light from the north-west, 45 degrees above the horizon: Imhof 1982, Cartographic Relief
//! Presentation, and common practice.

use super::height_grid::HeightGrid;
use crate::units::Degrees;

/// From where the light comes.
#[derive(Clone, Copy, Debug)]
pub struct Light {
    /// Clockwise from north.
    pub azimuth: Degrees,
    /// Above the horizon.
    pub altitude: Degrees,
}

/// The light of maps.
pub const NORTH_WEST: Light = Light { azimuth: Degrees(315.0), altitude: Degrees(45.0) };

/// The light that falls on each node, 0 (none) to 1 (full), in the order of the grid. Level ground has
/// the sine of the light's altitude. NaN at the outermost nodes and beside voids.
///
/// No ground casts a shadow on other ground: each node is lit by its own slope alone.
#[must_use]
pub fn hillshade(grid: &HeightGrid, light: Light) -> Vec<f64> {
    let (azimuth, altitude) = (light.azimuth.radians(), light.altitude.radians());
    let toward = (azimuth.sin() * altitude.cos(), azimuth.cos() * altitude.cos(), altitude.sin());
    let shade = |index: usize| {
        let Some((east, north)) = gradient(grid, index % grid.columns, index / grid.columns) else {
            return f64::NAN;
        };
        let lit = toward.2 - east * toward.0 - north * toward.1;
        (lit / (1.0 + east * east + north * north).sqrt()).clamp(0.0, 1.0)
    };
    (0..grid.heights.len()).map(shade).collect()
}

/// The slope eastward and northward at a node, metres per metre; `None` beside a void and at the edge.
///
/// Horn's weighted difference over the eight neighbours: it smooths a little, so that single posts that are wrong
/// show less.
#[must_use]
pub fn gradient(grid: &HeightGrid, column: usize, row: usize) -> Option<(f64, f64)> {
    let (west, south) = (column.checked_sub(1)?, row.checked_sub(1)?);
    let line = |column: usize| {
        grid.at(column, south) + 2.0 * grid.at(column, row) + grid.at(column, row + 1)
    };
    let rank =
        |row: usize| grid.at(west, row) + 2.0 * grid.at(column, row) + grid.at(column + 1, row);
    let over = 8.0 * grid.step.0;
    let east = (line(column + 1) - line(west)) / over;
    let north = (rank(row + 1) - rank(south)) / over;
    (!east.is_nan() && !north.is_nan()).then_some((east, north))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Metres;

    fn plane(east: f64, north: f64) -> HeightGrid {
        let heights = (0..25)
            .map(|i| east * f64::from(i % 5) * 20.0 + north * f64::from(i / 5) * 20.0)
            .collect();
        let step = Metres(20.0);
        HeightGrid { columns: 5, rows: 5, step, west: 0.0, south: 0.0, heights, spacing: step }
    }

    #[test]
    fn level_ground_has_the_sine_of_the_altitude() {
        let shade = hillshade(&plane(0.0, 0.0), NORTH_WEST);
        assert!((shade[12] - 45.0_f64.to_radians().sin()).abs() < 1e-12);
        assert!(shade[0].is_nan() && shade[4].is_nan());
    }

    #[test]
    fn slope_that_faces_the_light_is_fully_lit_and_its_back_is_dark() {
        // one that falls to the north-west at 45 degrees stands square to the light
        let steep = 1.0 / 2.0_f64.sqrt();
        assert!((hillshade(&plane(steep, -steep), NORTH_WEST)[12] - 1.0).abs() < 1e-12);
        assert!(hillshade(&plane(-steep, steep), NORTH_WEST)[12].abs() < 1e-12);
    }

    #[test]
    fn gradient_of_a_plane_is_exact() {
        let (east, north) = gradient(&plane(0.3, -0.7), 2, 2).unwrap();
        assert!((east - 0.3).abs() < 1e-12 && (north + 0.7).abs() < 1e-12);
    }
}
