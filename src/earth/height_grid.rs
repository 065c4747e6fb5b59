//! Samples elevation tiles on a square grid about a map's middle, in strips, so that memory follows
//! the drawing and not the tiles; refines it smoothly for drawing. Layer: `earth`.

use super::elevation::{Bounds, Relief};
use super::local::Plane;
use crate::error::Result;
use crate::units::{LatLon, Metres};

/// The most nodes of a grid, before and after it is refined.
const MOST_NODES: usize = 1_000_000;
/// Heights that one strip of a tile may hold while it is sampled, about.
const STRIP_POSTS: f64 = 4e6;
/// Heights averaged for a node along each side, at the most, where the tile is finer than the grid.
const MOST_SAMPLES: u32 = 4;

/// Heights on a plane, row by row from the south; NaN where none is known.
///
/// Nodes lie on a square lattice of the local plane about the middle of the map, so that slope, shading and contours
/// need no further projection. At most a million nodes: 8 MB of heights.
#[derive(Clone, Debug)]
pub struct HeightGrid {
    /// Columns from the west.
    pub columns: usize,
    /// Rows from the south.
    pub rows: usize,
    /// Between neighbouring nodes.
    pub step: Metres,
    /// Metres east of the plane's origin: the first column.
    pub west: f64,
    /// Metres north of the plane's origin: the first row.
    pub south: f64,
    /// The heights above sea level, metres.
    pub heights: Vec<f64>,
    /// The distance between posts of the finest tile used.
    pub spacing: Metres,
}

/// What part of the ground is asked for.
#[derive(Clone, Copy, Debug)]
pub struct GroundArea {
    /// The middle, which is the origin of the grid's plane.
    pub middle: LatLon,
    /// From the middle to the western and the eastern edge.
    pub half_wide: Metres,
    /// From the middle to the southern and the northern edge.
    pub half_high: Metres,
    /// The shortest length that the drawing shows.
    pub finest: Metres,
}

impl GroundArea {
    /// Whether a place within the margin of the area lies in it.
    #[must_use]
    pub fn bounds(&self, margin: Metres) -> Option<Bounds> {
        let plane = Plane::about(self.middle);
        let (east, north) = (self.half_wide.0 + margin.0, self.half_high.0 + margin.0);
        let edge: Vec<LatLon> = [-1.0, 0.0, 1.0]
            .iter()
            .flat_map(|x| [-1.0, 0.0, 1.0].map(|y| plane.from_plane(x * east, y * north)))
            .collect();
        Bounds::about(&edge, Metres(0.0))
    }
}

impl HeightGrid {
    /// Samples the tiles over an area and two steps beyond its edge; `None` where no tile has a height.
    ///
    /// A node is the bilinear height at its place; where the tile has several posts for a node, the
    /// mean of up to 4 x 4 places within its cell.
    ///
    /// # Errors
    /// When a tile cannot be read.
    pub fn read(relief: &Relief, area: &GroundArea) -> Result<Option<Self>> {
        let Some(spacing) = relief.spacing_within(area) else { return Ok(None) };
        let Some(mut grid) = Self::empty(area, spacing) else { return Ok(None) };
        let samples = samples(grid.step, spacing);
        let plane = Plane::about(area.middle);
        let strip = grid.rows_of_a_strip(spacing);
        let mut row = 0;
        while row < grid.rows {
            let end = (row + strip).min(grid.rows);
            let Some(bounds) = grid.strip_bounds(&plane, row, end) else { break };
            let ground = relief.read(&bounds)?;
            let height =
                |x: f64, y: f64| ground.height(plane.from_plane(x, y)).map(|height| height.0.0);
            for index in row * grid.columns..end * grid.columns {
                let (x, y) = grid.place(index);
                grid.heights[index] = mean(x, y, grid.step.0, samples, &height);
            }
            row = end;
        }
        Ok(grid.heights.iter().any(|height| !height.is_nan()).then_some(grid))
    }

    fn empty(area: &GroundArea, spacing: Metres) -> Option<Self> {
        let (wide, high) = (2.0 * area.half_wide.0, 2.0 * area.half_high.0);
        // never more nodes than a map can show
        let least = (wide * high / (MOST_NODES as f64 / 4.0)).sqrt();
        let step = spacing.0.max(area.finest.0).max(least);
        if !(step > 0.0 && wide.is_finite() && high.is_finite()) {
            return None;
        }
        let (columns, rows) = (nodes(wide / step), nodes(high / step));
        let first = |count: usize| -step * (count - 1) as f64 / 2.0;
        Some(Self {
            columns,
            rows,
            step: Metres(step),
            west: first(columns),
            south: first(rows),
            heights: vec![f64::NAN; columns * rows],
            spacing,
        })
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    fn rows_of_a_strip(&self, spacing: Metres) -> usize {
        let across = self.columns as f64 * self.step.0 / spacing.0;
        let along = self.step.0 / spacing.0;
        (STRIP_POSTS / (across * along)).clamp(1.0, self.rows as f64) as usize
    }

    fn strip_bounds(&self, plane: &Plane, from: usize, to: usize) -> Option<Bounds> {
        let (south, north) = (self.y(from) - self.step.0, self.y(to) + self.step.0);
        let (west, east) = (self.west - self.step.0, self.x(self.columns));
        let corner = |x: f64, y: f64| plane.from_plane(x, y);
        let middle = f64::midpoint(west, east);
        let edge = [west, middle, east].map(|x| [corner(x, south), corner(x, north)]);
        Bounds::about(edge.as_flattened(), Metres(2.0 * self.spacing.0))
    }

    /// Metres east of the origin.
    #[must_use]
    pub fn x(&self, column: usize) -> f64 {
        self.west + self.step.0 * column as f64
    }

    /// Metres north of the origin.
    #[must_use]
    pub fn y(&self, row: usize) -> f64 {
        self.south + self.step.0 * row as f64
    }

    fn place(&self, index: usize) -> (f64, f64) {
        (self.x(index % self.columns), self.y(index / self.columns))
    }

    /// The height of a node; NaN outside.
    #[must_use]
    pub fn at(&self, column: usize, row: usize) -> f64 {
        let inside = column < self.columns && row < self.rows;
        let index = inside.then(|| row * self.columns + column);
        index.and_then(|index| self.heights.get(index)).copied().unwrap_or(f64::NAN)
    }

    /// The height at a place of the plane, bilinear; NaN outside and beside a void.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked before")]
    pub fn height(&self, x: f64, y: f64) -> f64 {
        let (across, up) = ((x - self.west) / self.step.0, (y - self.south) / self.step.0);
        if !(across >= 0.0 && up >= 0.0) {
            return f64::NAN;
        }
        let (column, row) = (across as usize, up as usize);
        let (u, v) = (across.fract(), up.fract());
        let mix = |a: f64, b: f64, share: f64| if share == 0.0 { a } else { a + share * (b - a) };
        let low = mix(self.at(column, row), self.at(column + 1, row), u);
        if v == 0.0 {
            return low;
        }
        mix(low, mix(self.at(column, row + 1), self.at(column + 1, row + 1), u), v)
    }

    /// The same ground with a step so many times shorter that it is not above `finest`: cubic through
    /// the nodes, which keep their heights. Beside voids and at the edge it is linear.
    ///
    /// # References
    /// Catmull & Rom 1974, A class of local interpolating splines, in Computer Aided Geometric
    /// Design:317.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 16")]
    pub fn refined(&self, finest: Metres) -> Self {
        let room = (MOST_NODES as f64 / self.heights.len().max(1) as f64).sqrt().floor();
        let times = (self.step.0 / finest.0).ceil().clamp(1.0, room.clamp(1.0, 16.0)) as usize;
        if times == 1 {
            return self.clone();
        }
        let wide = along_rows(&self.heights, self.columns, times);
        let columns = (self.columns - 1) * times + 1;
        let turned = transposed(&wide, columns);
        let rows = (self.rows - 1) * times + 1;
        let heights = transposed(&along_rows(&turned, self.rows, times), rows);
        Self { columns, rows, step: Metres(self.step.0 / times as f64), heights, ..self.clone() }
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded by the step")]
fn nodes(steps: f64) -> usize {
    // two more on each side
    (steps.ceil().clamp(1.0, MOST_NODES as f64) as usize) + 5
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
fn samples(step: Metres, spacing: Metres) -> u32 {
    (step.0 / spacing.0 - 0.25).ceil().clamp(1.0, f64::from(MOST_SAMPLES)) as u32
}

fn mean(x: f64, y: f64, step: f64, samples: u32, height: &impl Fn(f64, f64) -> Option<f64>) -> f64 {
    let aside = |index: u32| step * ((f64::from(index) + 0.5) / f64::from(samples) - 0.5);
    let (mut sum, mut count) = (0.0, 0.0);
    for up in 0..samples {
        for right in 0..samples {
            if let Some(height) = height(x + aside(right), y + aside(up)) {
                sum += height;
                count += 1.0;
            }
        }
    }
    if count > 0.0 { sum / count } else { f64::NAN }
}

fn along_rows(heights: &[f64], columns: usize, times: usize) -> Vec<f64> {
    let mut refined = Vec::with_capacity(heights.len() * times);
    for row in heights.chunks(columns) {
        for column in 0..columns - 1 {
            let (b, c) = (row[column], row[column + 1]);
            let before = if column > 0 { row[column - 1] } else { f64::NAN };
            let after = row.get(column + 2).copied().unwrap_or(f64::NAN);
            for step in 0..times {
                refined.push(between([before, b, c, after], step as f64 / times as f64));
            }
        }
        refined.extend(row.last());
    }
    refined
}

/// The cubic between the two in the middle of four nodes; linear where an outer one is a void.
fn between([a, b, c, d]: [f64; 4], share: f64) -> f64 {
    if share == 0.0 {
        return b;
    }
    if a.is_nan() || d.is_nan() {
        return b + share * (c - b);
    }
    let (one, two) = (c - a, 2.0 * a - 5.0 * b + 4.0 * c - d);
    b + 0.5 * share * (one + share * (two + share * (3.0 * (b - c) + d - a)))
}

fn transposed(heights: &[f64], columns: usize) -> Vec<f64> {
    let rows = heights.len() / columns.max(1);
    let mut turned = Vec::with_capacity(heights.len());
    for column in 0..columns {
        turned.extend((0..rows).map(|row| heights[row * columns + column]));
    }
    turned
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(columns: usize, rows: usize, height: impl Fn(f64, f64) -> f64) -> HeightGrid {
        let mut grid = HeightGrid {
            columns,
            rows,
            step: Metres(10.0),
            west: -50.0,
            south: -30.0,
            heights: vec![0.0; columns * rows],
            spacing: Metres(10.0),
        };
        for index in 0..columns * rows {
            let (x, y) = grid.place(index);
            grid.heights[index] = height(x, y);
        }
        grid
    }

    #[test]
    fn refined_ground_keeps_its_nodes_and_planes() {
        let rough = grid(9, 7, |x, y| (x * 0.37).sin() * 20.0 + y * 0.5);
        let fine = rough.refined(Metres(2.5));
        assert_eq!((fine.columns, fine.rows, fine.step), (33, 25, Metres(2.5)));
        for row in 0..7 {
            for column in 0..9 {
                assert_eq!(rough.at(column, row), fine.at(4 * column, 4 * row));
            }
        }
        let plane = grid(9, 7, |x, y| 3.0 * x - 2.0 * y).refined(Metres(3.0));
        for row in 0..plane.rows {
            for column in 0..plane.columns {
                let exact = 3.0 * plane.x(column) - 2.0 * plane.y(row);
                assert!((plane.at(column, row) - exact).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn void_stays_a_void_and_spreads_to_no_node() {
        let mut rough = grid(9, 7, |x, y| x + y);
        rough.heights[3 * 9 + 4] = f64::NAN;
        let fine = rough.refined(Metres(5.0));
        assert!(fine.at(8, 6).is_nan() && fine.at(7, 6).is_nan());
        assert_eq!(fine.at(10, 6), rough.at(5, 3));
        assert!(rough.height(-9.0, 1.0).is_nan() && rough.height(1e9, 0.0).is_nan());
    }

    #[test]
    fn bilinear_height_is_exact_on_a_plane() {
        let plane = grid(9, 7, |x, y| 100.0 + 0.2 * x - 0.1 * y);
        for (x, y) in [(-50.0, -30.0), (-13.7, 4.4), (29.9, 29.0), (30.0, 30.0)] {
            assert!((plane.height(x, y) - (100.0 + 0.2 * x - 0.1 * y)).abs() < 1e-9, "{x} {y}");
        }
        assert!(plane.height(-51.0, 0.0).is_nan());
    }
}
