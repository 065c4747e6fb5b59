//! Chooses areas that nobody searched, at elevations with more finds than the searched ground, within reach and apart
//! from each other. Layer: `analyse`.
//!
//! # Method
//! An area is a square of [`SIDE`] on the grid of heights. Its rate is that of its ground by steps of elevation
//! ([`ByElevation::relative`]). It is suitable where the interval of the rate is above 1, all its ground is within the
//! range of elevation, no searched track comes within [`UNSEARCHED`] of its middle, a known path or the start lies within
//! [`OFF_PATH`], its ground is not steeper than [`STEEPEST`] in the mean and bears none of the mapped classes that cannot
//! be searched. Of areas whose rates differ by less than a tenth the nearest to the start comes first; the next one is at
//! least [`APART`] from those before it. All distances are project choices.

use std::collections::BTreeMap;

use super::elevation::{ByElevation, Support};
use super::rows::step_of;
use crate::analyse::intervals::Interval;
use crate::earth::height_grid::HeightGrid;
use crate::model::UnsearchedNote;
use crate::units::{Degrees, Metres};

/// The side of an area.
pub const SIDE: Metres = Metres(200.0);
/// The least distance of searched track from the middle of an area.
pub const UNSEARCHED: Metres = Metres(200.0);
/// The largest distance of the middle of an area from a known path or the start.
pub const OFF_PATH: Metres = Metres(500.0);
/// The largest mean slope of an area.
pub const STEEPEST: Degrees = Degrees(30.0);
/// The least distance between areas that are offered.
pub const APART: Metres = Metres(500.0);
/// The most areas that are offered.
pub const MOST: usize = 8;
/// Areas whose logarithms of the rate differ by less are alike.
const ALIKE: f64 = 0.1;

/// The ground about a start, which is the origin of the grid.
#[derive(Clone, Debug)]
pub struct Reach<'a> {
    /// Heights.
    pub grid: &'a HeightGrid,
    /// Nodes that searched track comes to.
    pub searched: Vec<bool>,
    /// Nodes on known paths.
    pub paths: Vec<bool>,
    /// Nodes on water and other ground that cannot be searched.
    pub unsuitable: Vec<bool>,
    /// The largest distance from the start.
    pub within: Metres,
}

/// An area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Metres east of the start.
    pub x: f64,
    /// Metres north of it.
    pub y: f64,
    /// The mean elevation of its ground, its lowest and its highest.
    pub elevation: (Metres, Metres, Metres),
    /// The mean slope of its ground.
    pub slope: Degrees,
    /// Its rate relative to the searched ground.
    pub rate: Interval,
    /// What was searched at its elevations.
    pub support: Support,
    /// From its middle to the nearest searched track; none where nothing was searched on the grid.
    pub from_search: Option<Metres>,
    /// From its middle to the nearest known path; none where no path is known on the grid.
    pub from_path: Option<Metres>,
}

impl Area {
    /// From the start to its middle.
    #[must_use]
    pub fn from_start(&self) -> Metres {
        Metres(self.x.hypot(self.y))
    }

    fn class(&self) -> f64 {
        (self.rate.value.ln() / ALIKE).round()
    }
}

/// The areas that are offered, best first.
///
/// # Errors
/// Why there is none.
pub fn areas(made: &ByElevation, reach: &Reach<'_>) -> Result<Vec<Area>, UnsearchedNote> {
    let chooser = Chooser::of(made, reach);
    let mut refused = [0; 4];
    let mut suitable = Vec::new();
    for (column, row) in chooser.places() {
        let Some(area) = chooser.area(column, row) else { continue };
        refused[0] += 1;
        if area.from_search.is_some_and(|away| away.0 < UNSEARCHED.0) {
            refused[1] += 1;
        } else if area.from_start().0 > OFF_PATH.0
            && area.from_path.is_none_or(|away| away.0 > OFF_PATH.0)
        {
            refused[2] += 1;
        } else if area.slope.0 > STEEPEST.0 || chooser.is_unsuitable(column, row) {
            refused[3] += 1;
        } else {
            suitable.push(area);
        }
    }
    if suitable.is_empty() {
        let [richer, searched, far_from_paths, unsuitable] = refused;
        return Err(if chooser.rates.values().any(|rate| rate.low95 > 1.0) {
            UnsearchedNote::UnsearchedNoArea { richer, searched, far_from_paths, unsuitable }
        } else {
            let (from, to) = made.ends();
            UnsearchedNote::UnsearchedNoneRicher { from, to }
        });
    }
    suitable.sort_by(|a, b| {
        let nearer = a.from_start().0.total_cmp(&b.from_start().0);
        b.class().total_cmp(&a.class()).then(nearer)
    });
    let mut offered: Vec<Area> = Vec::new();
    for area in suitable {
        let apart = |other: &Area| (area.x - other.x).hypot(area.y - other.y) >= APART.0;
        if offered.len() < MOST && offered.iter().all(apart) {
            offered.push(area);
        }
    }
    Ok(offered)
}

/// What is known of each node.
struct Chooser<'a> {
    made: &'a ByElevation,
    reach: &'a Reach<'a>,
    /// Nodes from the middle of an area to its edge.
    half: usize,
    /// The rate of each step of the range.
    rates: BTreeMap<i64, Interval>,
    from_search: Vec<f64>,
    from_path: Vec<f64>,
}

impl<'a> Chooser<'a> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few nodes")]
    fn of(made: &'a ByElevation, reach: &'a Reach<'a>) -> Self {
        let grid = reach.grid;
        let half = (SIDE.0 / 2.0 / grid.step.0).round().max(1.0) as usize;
        let rate = |step: i64| Some((step, made.relative(&[(step, 1.0)])?));
        let rates = (made.range.0..=made.range.1).filter_map(rate).collect();
        let away = |marks: &[bool]| distances(marks, grid.columns, grid.step.0);
        let (from_search, from_path) = (away(&reach.searched), away(&reach.paths));
        Self { made, reach, half, rates, from_search, from_path }
    }

    /// The middles of all areas within reach.
    fn places(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        let (grid, half) = (self.reach.grid, self.half);
        let rows = (half..grid.rows.saturating_sub(half)).step_by(half);
        let all = rows.flat_map(move |row| {
            let columns = (half..grid.columns.saturating_sub(half)).step_by(half);
            columns.map(move |column| (column, row))
        });
        all.filter(|(column, row)| grid.x(*column).hypot(grid.y(*row)) <= self.reach.within.0)
    }

    fn window(&self, column: usize, row: usize) -> impl Iterator<Item = (usize, usize)> {
        let half = self.half;
        (row - half..=row + half)
            .flat_map(move |row| (column - half..=column + half).map(move |column| (column, row)))
    }

    /// The area about a node where its rate is above that of the searched ground.
    fn area(&self, column: usize, row: usize) -> Option<Area> {
        let grid = self.reach.grid;
        // most areas are ruled out by their middle
        let middle = self.rates.get(&step_of(grid.at(column, row)))?;
        if middle.high95 <= 1.0 {
            return None;
        }
        let mut shares: BTreeMap<i64, f64> = BTreeMap::new();
        let (mut sum, mut low, mut high, mut slope) = (0.0, f64::INFINITY, f64::NEG_INFINITY, 0.0);
        let mut count = 0.0;
        for (column, row) in self.window(column, row) {
            let height = grid.at(column, row);
            if !height.is_finite() {
                return None;
            }
            *shares.entry(step_of(height)).or_insert(0.0) += 1.0;
            sum += height;
            (low, high) = (f64::min(low, height), f64::max(high, height));
            slope += slope_at(grid, column, row);
            count += 1.0;
        }
        let shares: Vec<(i64, f64)> =
            shares.into_iter().map(|(step, nodes)| (step, nodes / count)).collect();
        let rate = self.made.relative(&shares)?;
        let metres = |value: &f64| value.is_finite().then_some(Metres(*value));
        let index = row * grid.columns + column;
        let steps = (step_of(low), step_of(high));
        (rate.low95 > 1.0).then(|| Area {
            x: grid.x(column),
            y: grid.y(row),
            elevation: (Metres(sum / count), Metres(low), Metres(high)),
            slope: Degrees(slope / count),
            rate,
            support: self.made.support(steps),
            from_search: metres(&self.from_search[index]),
            from_path: metres(&self.from_path[index]),
        })
    }

    fn is_unsuitable(&self, column: usize, row: usize) -> bool {
        let grid = self.reach.grid;
        self.window(column, row)
            .any(|(column, row)| self.reach.unsuitable[row * grid.columns + column])
    }
}

/// The slope at a node by its neighbours, degrees; steep where one is not known.
fn slope_at(grid: &HeightGrid, column: usize, row: usize) -> f64 {
    let at = |right: i32, up: i32| {
        let column = column.checked_add_signed(right as isize);
        let row = row.checked_add_signed(up as isize);
        column.zip(row).map_or(f64::NAN, |(column, row)| grid.at(column, row))
    };
    let rise = (at(1, 0) - at(-1, 0)).hypot(at(0, 1) - at(0, -1));
    let degrees = (rise / (2.0 * grid.step.0)).atan().to_degrees();
    if degrees.is_finite() { degrees } else { 90.0 }
}

/// The distance of each node of a grid to the nearest marked one, metres; infinite without a mark.
///
/// # References
/// Felzenszwalb & Huttenlocher 2012, Distance transforms of sampled functions, Theory of Computing 8:415 (along rows,
/// then along columns; here by looking outwards, since few nodes are far from a mark).
fn distances(marks: &[bool], columns: usize, step: f64) -> Vec<f64> {
    let rows = marks.len() / columns.max(1);
    let mut along = vec![f64::INFINITY; marks.len()];
    for row in 0..rows {
        let mut last = f64::INFINITY;
        for column in 0..columns {
            last = if marks[row * columns + column] { 0.0 } else { last + 1.0 };
            along[row * columns + column] = last;
        }
        last = f64::INFINITY;
        for column in (0..columns).rev() {
            last = if marks[row * columns + column] { 0.0 } else { last + 1.0 };
            let own = &mut along[row * columns + column];
            *own = own.min(last);
        }
    }
    let mut away = vec![f64::INFINITY; marks.len()];
    for column in 0..columns {
        for row in 0..rows {
            let mut best = along[row * columns + column].powi(2);
            let mut off = 1;
            while ((off * off) as f64) < best && (off <= row || row + off < rows) {
                for other in [row.checked_sub(off), Some(row + off).filter(|other| *other < rows)] {
                    let Some(other) = other else { continue };
                    let across = along[other * columns + column];
                    best = best.min(across * across + (off * off) as f64);
                }
                off += 1;
            }
            away[row * columns + column] = step * best.sqrt();
        }
    }
    away
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;
    use crate::analyse::unsearched::elevation::estimate;
    use crate::analyse::unsearched::rows::{Row, middle_of};
    use jiff::civil::date;

    /// A taxon of 500 to 600 m on a slope from 300 to 800 m, searched on 60 outings over twelve squares.
    fn belt() -> ByElevation {
        let mut rng = Rng::new(5);
        let mut rows = Vec::new();
        for unit in 0..60_usize {
            let day = i16::try_from(unit % 50).unwrap();
            let date = date(2018 + i16::try_from(unit / 10).unwrap(), 9, 1)
                .checked_add(jiff::Span::new().days(day % 25))
                .unwrap();
            let column = i64::try_from(unit % 12).unwrap();
            for step in 12..32 {
                let rate = if (20..24).contains(&step) { 6.0 } else { 0.5 };
                let finds = f64::from(rng.poisson(0.2 * rate));
                rows.push(Row { unit, date, square: (column, 0), step, hours: 0.2, finds });
            }
        }
        assert!((middle_of(20) - 512.5).abs() < 1e-9);
        estimate(&rows).unwrap()
    }

    /// A slope that rises to the east by a tenth of the way, from 350 m in the west; the start is in its middle.
    fn slope() -> HeightGrid {
        let (columns, rows) = (161, 161);
        let heights =
            (0..columns * rows).map(|index| 350.0 + (index % columns) as f64 * 2.5).collect();
        HeightGrid {
            columns,
            rows,
            step: Metres(25.0),
            west: -2_000.0,
            south: -2_000.0,
            heights,
            spacing: Metres(25.0),
        }
    }

    fn reach(grid: &HeightGrid) -> Reach<'_> {
        let none = vec![false; grid.heights.len()];
        let mut paths = none.clone();
        // a path to the east and to the west through the start
        (0..grid.columns).for_each(|column| paths[80 * grid.columns + column] = true);
        let within = Metres(2_000.0);
        Reach { grid, searched: none.clone(), paths, unsuitable: none, within }
    }

    #[test]
    fn areas_lie_in_the_belt_near_the_path_and_apart() {
        let (made, grid) = (belt(), slope());
        assert!(made.refused().is_none(), "{:?}", made.refused());
        let offered = areas(&made, &reach(&grid)).unwrap();
        assert!((2..=MOST).contains(&offered.len()), "{}", offered.len());
        for (place, area) in offered.iter().enumerate() {
            assert!((480.0..620.0).contains(&area.elevation.0.0), "{area:?}");
            assert!(area.rate.low95 > 1.0 && area.y.abs() <= OFF_PATH.0, "{area:?}");
            assert!((area.slope.0 - 0.1_f64.atan().to_degrees()).abs() < 1e-6, "{area:?}");
            assert!(area.support.outings > 30 && area.from_search.is_none(), "{area:?}");
            let apart = |other: &Area| (area.x - other.x).hypot(area.y - other.y) >= APART.0;
            assert!(offered[..place].iter().all(apart));
        }
    }

    #[test]
    fn searched_wet_and_far_ground_is_not_offered() {
        let (made, grid) = (belt(), slope());
        let mut all = reach(&grid);
        all.searched.fill(true);
        let refused = areas(&made, &all).unwrap_err();
        let UnsearchedNote::UnsearchedNoArea { richer, searched, .. } = refused else {
            panic!("{refused:?}")
        };
        assert!(richer > 10 && richer == searched, "{refused:?}");
        let mut wet = reach(&grid);
        wet.unsuitable.fill(true);
        let refused = areas(&made, &wet).unwrap_err();
        assert!(
            matches!(refused, UnsearchedNote::UnsearchedNoArea { unsuitable, far_from_paths, .. } if unsuitable > 0 && far_from_paths > 0),
            "{refused:?}"
        );
        // ground above and below all that was searched
        let high = HeightGrid { heights: vec![900.0; grid.heights.len()], ..slope() };
        let refused = areas(&made, &reach(&high)).unwrap_err();
        assert!(
            matches!(refused, UnsearchedNote::UnsearchedNoArea { richer: 0, .. }),
            "{refused:?}"
        );
    }

    #[test]
    fn distances_are_those_of_all_pairs() {
        let mut rng = Rng::new(8);
        let marks: Vec<bool> = (0..30 * 20).map(|_| rng.uniform() < 0.02).collect();
        let found = distances(&marks, 30, 10.0);
        for (index, away) in found.iter().enumerate() {
            let of = |other: usize| {
                let (x, y) = (index % 30, index / 30);
                let (u, v) = (other % 30, other / 30);
                10.0 * (x as f64 - u as f64).hypot(y as f64 - v as f64)
            };
            let marked = (0..marks.len()).filter(|other| marks[*other]).map(of);
            assert!((away - marked.fold(f64::INFINITY, f64::min)).abs() < 1e-9);
        }
        assert!(distances(&[false; 6], 3, 1.0).iter().all(|away| away.is_infinite()));
    }
}
