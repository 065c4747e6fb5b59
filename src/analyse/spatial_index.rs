//! Geocentric coordinates ([`Ecef`]) and a spatial index of positions on the whole globe: cells of
//! about equal size, without a seam at 180 degrees or at the poles. Distances are chords, so this
//! serves for neighbourhoods of some kilometres, not for travel. Layer: `analyse`.

use std::ops::{Add, Mul, Sub};

use rayon::prelude::*;

use crate::units::{LatLon, Metres};

/// Half the long axis of WGS 84, metres.
const LONG_AXIS: f64 = 6_378_137.0;
/// Flattening of WGS 84.
const FLATTENING: f64 = 1.0 / 298.257_223_563;
/// Square of its eccentricity.
const ECCENTRICITY2: f64 = FLATTENING * (2.0 - FLATTENING);
/// No degree of latitude is shorter than this, metres (it is at the equator).
const DEGREE_OF_LATITUDE: f64 = 110_574.0;
/// A degree of longitude at the equator, metres; elsewhere it is at least this times the cosine.
const DEGREE_OF_LONGITUDE: f64 = 111_319.49;

/// Geocentric coordinates (earth-centred, earth-fixed), metres.
///
/// # Accuracy
/// The chord is shorter than the geodesic by d³/24R²: 0.01 mm at 2 km.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ecef {
    /// Towards 0 N 0 E.
    pub x: f64,
    /// Towards 0 N 90 E.
    pub y: f64,
    /// Towards the north pole.
    pub z: f64,
}

impl Ecef {
    /// The point on the ellipsoid.
    #[must_use]
    pub fn of(at: LatLon) -> Self {
        let (sin_lat, cos_lat) = at.latitude().to_radians().sin_cos();
        let (sin_lon, cos_lon) = at.longitude().to_radians().sin_cos();
        let normal = LONG_AXIS / (1.0 - ECCENTRICITY2 * sin_lat * sin_lat).sqrt();
        Self {
            x: normal * cos_lat * cos_lon,
            y: normal * cos_lat * sin_lon,
            z: normal * (1.0 - ECCENTRICITY2) * sin_lat,
        }
    }

    /// The position under or over this point, for points within some kilometres of the ellipsoid.
    ///
    /// # References
    /// Bowring 1976, Transformation from spatial to geographical coordinates, Survey Review 23:323.
    #[must_use]
    pub fn on_the_ground(self) -> LatLon {
        let from_axis = self.x.hypot(self.y);
        let short_axis = LONG_AXIS * (1.0 - FLATTENING);
        let (sin_u, cos_u) = (self.z * LONG_AXIS).atan2(from_axis * short_axis).sin_cos();
        let second = ECCENTRICITY2 / (1.0 - ECCENTRICITY2);
        let latitude = (self.z + second * short_axis * sin_u.powi(3))
            .atan2(from_axis - ECCENTRICITY2 * LONG_AXIS * cos_u.powi(3));
        LatLon::clamped(latitude.to_degrees(), self.y.atan2(self.x).to_degrees())
    }

    /// The square of the chord, square metres.
    #[must_use]
    pub fn distance2(self, other: Self) -> f64 {
        let d = self - other;
        d.x * d.x + d.y * d.y + d.z * d.z
    }

    /// The chord.
    #[must_use]
    pub fn distance(self, other: Self) -> Metres {
        Metres(self.distance2(other).sqrt())
    }

    /// The scalar product.
    #[must_use]
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y + self.z * other.z
    }
}

impl Add for Ecef {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { x: self.x + other.x, y: self.y + other.y, z: self.z + other.z }
    }
}

impl Sub for Ecef {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { x: self.x - other.x, y: self.y - other.y, z: self.z - other.z }
    }
}

impl Mul<f64> for Ecef {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self { x: self.x * factor, y: self.y * factor, z: self.z * factor }
    }
}

/// Items sorted into cells that are at least a stated size wide and high.
///
/// Faster than a tree for the many short queries of a clustering: a million queries of 30 m take 0.46 s, with an
/// `rstar` tree 1.5 s (`docs/sites-and-visits.md`).
#[derive(Clone, Debug)]
pub struct Lattice {
    size: f64,
    order: Vec<u32>,
    cells: Vec<Cell>,
    rows: Vec<Row>,
}

#[derive(Clone, Copy, Debug)]
struct Cell {
    column: u32,
    start: u32,
    end: u32,
}

#[derive(Clone, Copy, Debug)]
struct Row {
    number: u32,
    columns: u32,
    start: u32,
    end: u32,
}

impl Lattice {
    /// Sorts the positions into cells of at least this size (held at one metre or more).
    #[must_use]
    pub fn new(positions: &[LatLon], size: Metres) -> Self {
        let size = if size.0.is_finite() { size.0.clamp(1.0, 1e6) } else { 1e6 };
        let key = |(index, at): (usize, &LatLon)| {
            let number = row_of(at.latitude(), size);
            let column = column_of(at.longitude(), columns_in(number, size));
            // cell and index in one number: one comparison each when they are sorted
            u128::from(number) << 64 | u128::from(column) << 32 | u128::from(as_index(index))
        };
        let mut keyed: Vec<u128> =
            positions.par_iter().enumerate().with_min_len(1024).map(key).collect();
        keyed.par_sort_unstable();
        let mut lattice = Self {
            size,
            order: Vec::with_capacity(keyed.len()),
            cells: Vec::new(),
            rows: Vec::new(),
        };
        let mut last = None;
        for key in keyed {
            let cell = key >> 32;
            if last != Some(cell) {
                lattice.open_cell(part(cell, 32), part(cell, 0));
                last = Some(cell);
            }
            lattice.order.push(part(key, 0));
            if let Some(cell) = lattice.cells.last_mut() {
                cell.end += 1;
            }
        }
        lattice
    }

    fn open_cell(&mut self, number: u32, column: u32) {
        let at = as_index(self.order.len());
        let cell = as_index(self.cells.len());
        if self.rows.last().is_none_or(|row| row.number != number) {
            let columns = columns_in(number, self.size);
            self.rows.push(Row { number, columns, start: cell, end: cell });
        }
        self.cells.push(Cell { column, start: at, end: at });
        if let Some(row) = self.rows.last_mut() {
            row.end += 1;
        }
    }

    /// The items in the order of their cells; [`Self::pairs`] counts along it.
    #[must_use]
    pub fn order(&self) -> &[u32] {
        &self.order
    }

    /// Calls `visit` with the index of every item within `reach` of `at`, and of some slightly
    /// farther.
    pub fn near(&self, at: LatLon, reach: Metres, mut visit: impl FnMut(u32)) {
        let margin = reach.0 / DEGREE_OF_LATITUDE;
        let first = row_of(at.latitude() - margin, self.size);
        let last = row_of(at.latitude() + margin, self.size);
        let from = self.rows.partition_point(|row| row.number < first);
        for row in self.rows[from..].iter().take_while(|row| row.number <= last) {
            self.columns_near(*row, at, reach.0, |cell| {
                self.order[cell.start as usize..cell.end as usize].iter().for_each(|i| visit(*i));
            });
        }
    }

    fn columns_near(&self, row: Row, at: LatLon, reach: f64, mut visit: impl FnMut(Cell)) {
        let cells = &self.cells[row.start as usize..row.end as usize];
        let (west, east) = self.column_span(row, at.longitude(), at.latitude(), reach);
        let columns = i64::from(row.columns);
        if east - west + 1 >= columns {
            for cell in cells {
                visit(*cell);
            }
            return;
        }
        for (low, high) in split_at_seam(west, east, columns) {
            let from = cells.partition_point(|cell| i64::from(cell.column) < low);
            cells[from..]
                .iter()
                .take_while(|cell| i64::from(cell.column) <= high)
                .for_each(|cell| visit(*cell));
        }
    }

    /// Columns of a row that can contain items within `reach` of a place, before wrapping at 180
    /// degrees.
    fn column_span(&self, row: Row, longitude: f64, latitude: f64, reach: f64) -> (i64, i64) {
        let (south, north) = edges_of(row.number, self.size);
        let margin = reach / DEGREE_OF_LATITUDE;
        let poleward = south.abs().max(north.abs()).max(latitude.abs() + margin).min(90.0);
        let degrees = reach / (DEGREE_OF_LONGITUDE * poleward.to_radians().cos()).max(1e-9);
        let width = 360.0 / f64::from(row.columns);
        let column = |longitude: f64| ((longitude + 180.0) / width).floor();
        let limit = f64::from(row.columns);
        let west = column(longitude - degrees).max(-limit);
        let east = column(longitude + degrees).min(2.0 * limit);
        (whole(west), whole(east))
    }

    /// Calls `visit` once for every pair of items that lie in the same or in touching cells, with
    /// their places in [`Self::order`]: all pairs within the size of a cell, and many that are not.
    pub fn pairs(&self, mut visit: impl FnMut(usize, usize)) {
        (0..self.rows.len()).for_each(|row| self.pairs_from_row(row, &mut visit));
    }

    /// The same from several threads at once.
    pub fn pairs_at_once(&self, visit: impl Fn(usize, usize) + Sync) {
        let each = |row| self.pairs_from_row(row, &mut |a, b| visit(a, b));
        (0..self.rows.len()).into_par_iter().with_min_len(16).for_each(each);
    }

    fn pairs_from_row(&self, index: usize, visit: &mut impl FnMut(usize, usize)) {
        let row = self.rows[index];
        let above = self.rows.get(index + 1).filter(|next| next.number == row.number + 1);
        let mut from = above.map_or(0, |row| row.start as usize);
        for at in row.start as usize..row.end as usize {
            self.pairs_in_row(row, at, visit);
            if let Some(above) = above {
                from = self.pairs_with_row(row, at, *above, from, visit);
            }
        }
    }

    fn pairs_in_row(&self, row: Row, at: usize, visit: &mut impl FnMut(usize, usize)) {
        let cell = self.cells[at];
        for first in cell.start as usize..cell.end as usize {
            (first + 1..cell.end as usize).for_each(|second| visit(first, second));
        }
        if let Some(next) = self.cells[..row.end as usize].get(at + 1)
            && next.column == cell.column + 1
        {
            across(cell, *next, visit);
        }
        // the last column touches the first one round the globe
        let first = self.cells[row.start as usize];
        if row.columns > 2 && cell.column + 1 == row.columns && first.column == 0 {
            across(cell, first, visit);
        }
    }

    /// Pairs of one cell with those of the row above that it touches; columns of that row can have another width.
    fn pairs_with_row(
        &self,
        row: Row,
        at: usize,
        above: Row,
        from: usize,
        visit: &mut impl FnMut(usize, usize),
    ) -> usize {
        let cell = self.cells[at];
        let width = 360.0 / f64::from(row.columns);
        let middle = (f64::from(cell.column) + 0.5) * width - 180.0;
        let (south, _) = edges_of(above.number, self.size);
        let reach = self.size + width / 2.0 * DEGREE_OF_LONGITUDE * south.to_radians().cos();
        let (west, east) = self.column_span(above, middle, south, reach * 1.000_1);
        let columns = i64::from(above.columns);
        let all = &self.cells[above.start as usize..above.end as usize];
        if east - west + 1 >= columns {
            for other in all {
                across(cell, *other, visit);
            }
            return from;
        }
        if west < 0 || east >= columns {
            for (low, high) in split_at_seam(west, east, columns) {
                let first = all.partition_point(|other| i64::from(other.column) < low);
                all[first..]
                    .iter()
                    .take_while(|other| i64::from(other.column) <= high)
                    .for_each(|other| across(cell, *other, visit));
            }
            return from;
        }
        let mut from = from;
        while from < above.end as usize && i64::from(self.cells[from].column) < west {
            from += 1;
        }
        self.cells[from..above.end as usize]
            .iter()
            .take_while(|other| i64::from(other.column) <= east)
            .for_each(|other| across(cell, *other, visit));
        from
    }
}

#[inline]
fn across(a: Cell, b: Cell, visit: &mut impl FnMut(usize, usize)) {
    for first in a.start as usize..a.end as usize {
        (b.start as usize..b.end as usize).for_each(|second| visit(first, second));
    }
}

/// The one or two spans of columns that a span across the seam at 180 degrees becomes.
fn split_at_seam(west: i64, east: i64, columns: i64) -> [(i64, i64); 2] {
    const NONE: (i64, i64) = (1, 0);
    if west < 0 && east < 0 {
        [(west + columns, east + columns), NONE]
    } else if west < 0 {
        [(west + columns, columns - 1), (0, east)]
    } else if west >= columns {
        [(west - columns, east - columns), NONE]
    } else if east >= columns {
        [(west, columns - 1), (0, east - columns)]
    } else {
        [(west, east), NONE]
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
fn row_of(latitude: f64, size: f64) -> u32 {
    ((latitude.clamp(-90.0, 90.0) + 90.0) * DEGREE_OF_LATITUDE / size).floor() as u32
}

fn edges_of(row: u32, size: f64) -> (f64, f64) {
    let degrees = size / DEGREE_OF_LATITUDE;
    let south = f64::from(row) * degrees - 90.0;
    (south, south + degrees)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
fn columns_in(row: u32, size: f64) -> u32 {
    let (south, north) = edges_of(row, size);
    let poleward = south.abs().max(north.abs()).min(90.0);
    let around = 360.0 * DEGREE_OF_LONGITUDE * poleward.to_radians().cos();
    (around / size).floor().clamp(1.0, 1e9) as u32
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
fn column_of(longitude: f64, columns: u32) -> u32 {
    let column = ((longitude + 180.0) / 360.0 * f64::from(columns)).floor();
    column.clamp(0.0, f64::from(columns - 1)) as u32
}

#[allow(clippy::cast_possible_truncation, reason = "held in range by the caller")]
fn whole(number: f64) -> i64 {
    number as i64
}

fn as_index(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(u32::MAX)
}

/// Thirty-two bits of a key.
fn part(key: u128, from: u32) -> u32 {
    u32::try_from(key >> from & 0xffff_ffff).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;

    fn at(latitude: f64, longitude: f64) -> LatLon {
        LatLon::new(latitude, longitude).unwrap()
    }

    #[test]
    fn a_point_in_space_returns_to_its_position() {
        for (lat, lon) in [(0.0, 0.0), (-42.3, 146.1), (89.999, -30.0), (-90.0, 0.0), (12.0, 180.0)]
        {
            let back = Ecef::of(at(lat, lon)).on_the_ground();
            assert!((back.latitude() - lat).abs() < 1e-11, "{back:?}");
            assert!(Ecef::of(back).distance(Ecef::of(at(lat, lon))).0 < 1e-6);
        }
    }

    #[test]
    fn the_lattice_misses_no_neighbour_anywhere_on_the_globe() {
        let mut rng = Rng::new(5);
        for middle in
            [at(0.0, 0.0), at(-42.0, 180.0), at(89.9995, 10.0), at(-90.0, 0.0), at(60.0, -179.999)]
        {
            let spread = 0.02;
            let places: Vec<LatLon> = (0..300)
                .map(|_| {
                    let latitude = middle.latitude() + spread * (rng.uniform() - 0.5);
                    let turn = if latitude.abs() > 89.0 { 360.0 } else { spread * 2.0 };
                    LatLon::clamped(latitude, middle.longitude() + turn * (rng.uniform() - 0.5))
                })
                .collect();
            let spots: Vec<Ecef> = places.iter().map(|place| Ecef::of(*place)).collect();
            let reach = Metres(150.0);
            let lattice = Lattice::new(&places, reach);
            let mut true_pairs = 0;
            let mut seen = std::collections::BTreeSet::new();
            lattice.pairs(|a, b| {
                let (a, b) = (lattice.order()[a] as usize, lattice.order()[b] as usize);
                if spots[a].distance(spots[b]).0 <= reach.0 {
                    assert!(seen.insert((a.min(b), a.max(b))), "a pair seen twice at {middle}");
                }
            });
            for a in 0..places.len() {
                let mut near = vec![false; places.len()];
                lattice.near(places[a], reach, |other| near[other as usize] = true);
                for b in 0..places.len() {
                    if spots[a].distance(spots[b]).0 <= reach.0 {
                        assert!(near[b], "near: {} and {}", places[a], places[b]);
                        if a < b {
                            true_pairs += 1;
                            assert!(seen.contains(&(a, b)), "{} and {}", places[a], places[b]);
                        }
                    }
                }
            }
            assert!(true_pairs > 20, "{true_pairs} at {middle}");
        }
    }
}
