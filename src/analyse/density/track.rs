//! The searched track and the finds made from it, on a plane: which place of the track a find
//! belongs to, and which ground was searched. Layer: `analyse`.

use std::collections::HashMap;

use super::along;
use super::bandwidth::{Bandwidth, Choice, Effort, choose_for_rate};
use super::dispersion::OfOuting;
use super::kernel::{Grid, Mass};
use crate::analyse::spatial_index::Ecef;
use crate::analyse::walk::Walk;
use crate::earth::equal_area::EqualArea;
use crate::units::LatLon;

/// An unbroken part of a searched track on the plane, all in one manner.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchedRun {
    /// The number of its outing.
    pub outing: usize,
    /// Metres east and north.
    pub points: Vec<(f64, f64)>,
    /// How much a metre of the line counts as searched: 0 to 1, and more where the track is longer than the line.
    pub weight: f64,
}

/// A find on the plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaneFind {
    /// Metres east.
    pub x: f64,
    /// Metres north.
    pub y: f64,
    /// The number of its outing.
    pub outing: usize,
    /// The 95 % radius of its position, metres.
    pub radius: f64,
}

impl PlaneFind {
    /// As a point of weight 1.
    #[must_use]
    pub fn mass(&self) -> Mass {
        Mass { x: self.x, y: self.y, weight: 1.0 }
    }
}

/// Ground counts as searched up to this distance from the searched track, metres: as a site is
/// visited.
pub const BESIDE: f64 = 15.0;
/// A find farther from all searched track of its outing than this and than twice its radius was not
/// made from it, metres (project choice).
const FAR: f64 = 50.0;

/// An unbroken part of a searched track in degrees: what is kept of tracks until their plane is known.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchedPart {
    /// Its places.
    pub places: Vec<LatLon>,
    /// How much a metre of the line counts as searched: 0 to 1, and more where the track is longer than the line.
    pub weight: f64,
}

/// The searched parts of a track.
///
/// The points of a walk may be those of a thinned track: each part weighs more by as much as the straight lines between
/// them are shorter than the track, so that its metres are those of the effort.
#[must_use]
pub fn searched_parts(walk: &Walk) -> Vec<SearchedPart> {
    let mut parts: Vec<SearchedPart> = Vec::new();
    // along the track and on the straight lines
    let mut lengths: Vec<(f64, f64)> = Vec::new();
    let mut end = None;
    for piece in walk.pieces().filter(crate::analyse::walk::Piece::is_search) {
        let weight = piece.length_weight();
        let goes_on = end == Some(piece.from.time)
            && parts.last().is_some_and(|part| (part.weight - weight).abs() < 1e-12);
        if !goes_on {
            parts.push(SearchedPart { places: vec![piece.from.at], weight });
            lengths.push((0.0, 0.0));
        }
        if let (Some(part), Some(length)) = (parts.last_mut(), lengths.last_mut()) {
            part.places.push(piece.to.at);
            length.0 += piece.length.0;
            length.1 += Ecef::of(piece.from.at).distance(Ecef::of(piece.to.at)).0;
        }
        end = Some(piece.to.time);
    }
    for (part, (along, straight)) in parts.iter_mut().zip(lengths) {
        part.places.shrink_to_fit();
        if straight > 0.0 {
            part.weight *= along / straight;
        }
    }
    parts
}

impl SearchedPart {
    /// The part on a plane.
    #[must_use]
    pub fn on(&self, outing: usize, plane: &EqualArea) -> SearchedRun {
        let points = self.places.iter().map(|at| plane.to_plane(*at)).collect();
        SearchedRun { outing, points, weight: self.weight }
    }
}

/// The searched parts of a track on a plane.
#[must_use]
pub fn searched_runs(walk: &Walk, outing: usize, plane: &EqualArea) -> Vec<SearchedRun> {
    searched_parts(walk).iter().map(|part| part.on(outing, plane)).collect()
}

/// Points along the runs, each with the searched metres that it stands for.
#[must_use]
pub fn masses(runs: &[SearchedRun], bandwidth: f64) -> Vec<Mass> {
    let mut masses = Vec::new();
    for run in runs {
        let first = masses.len();
        along::masses(&run.points, bandwidth, &mut masses);
        masses[first..].iter_mut().for_each(|mass| mass.weight *= run.weight);
    }
    masses
}

/// The same, each with the number of its outing.
#[must_use]
pub fn masses_of_outings(runs: &[SearchedRun], bandwidth: f64) -> Vec<OfOuting> {
    runs.iter()
        .flat_map(|run| {
            let own = masses(std::slice::from_ref(run), bandwidth);
            own.into_iter().map(|mass| (mass, run.outing))
        })
        .collect()
}

/// The places of the searched track that finds were made from, each with the number of its outing; finds
/// that were not made from it are left out.
#[must_use]
pub fn made_from_of_outings(finds: &[PlaneFind], runs: &[SearchedRun]) -> Vec<OfOuting> {
    made_from(finds, runs)
        .into_iter()
        .zip(finds)
        .filter_map(|(place, find)| place.map(|(x, y)| (Mass { x, y, weight: 1.0 }, find.outing)))
        .collect()
}

/// The place of the searched track that each find was made from: the nearest of its own outing.
/// `None` for a find that was not made from it.
#[must_use]
pub fn made_from(finds: &[PlaneFind], runs: &[SearchedRun]) -> Vec<Option<(f64, f64)>> {
    let mut of_outing: HashMap<usize, Segments> =
        finds.iter().map(|find| (find.outing, Segments::default())).collect();
    for run in runs {
        if let Some(segments) = of_outing.get_mut(&run.outing) {
            run.points.windows(2).for_each(|ends| segments.add(ends[0], ends[1]));
        }
    }
    finds
        .iter()
        .map(|find| {
            of_outing.get(&find.outing)?.nearest((find.x, find.y), FAR.max(2.0 * find.radius))
        })
        .collect()
}

/// The segments of a track in square cells, by their extents.
#[derive(Default)]
struct Segments {
    list: Vec<[(f64, f64); 2]>,
    of_cell: HashMap<(i64, i64), Vec<usize>>,
}

/// The side of a cell of [`Segments`], metres.
const CELL: f64 = 50.0;
/// The most cells that are looked through from a find outwards; beyond it all segments are.
const RINGS: i64 = 40;
/// The most cells of one segment: a longer one is in all searches.
const CELLS: i64 = 64;

#[allow(clippy::cast_possible_truncation, reason = "a plane of the Earth")]
fn cell_of(at: (f64, f64)) -> (i64, i64) {
    ((at.0 / CELL).floor() as i64, (at.1 / CELL).floor() as i64)
}

impl Segments {
    fn add(&mut self, from: (f64, f64), to: (f64, f64)) {
        let number = self.list.len();
        self.list.push([from, to]);
        let (a, b) = (cell_of(from), cell_of(to));
        let (wide, high) = ((a.0 - b.0).abs() + 1, (a.1 - b.1).abs() + 1);
        if wide.saturating_mul(high) > CELLS {
            self.of_cell.entry(ANYWHERE).or_default().push(number);
            return;
        }
        for column in a.0.min(b.0)..=a.0.max(b.0) {
            for row in a.1.min(b.1)..=a.1.max(b.1) {
                self.of_cell.entry((column, row)).or_default().push(number);
            }
        }
    }

    /// The nearest place within a distance.
    fn nearest(&self, at: (f64, f64), within: f64) -> Option<(f64, f64)> {
        let here = cell_of(at);
        let mut best: Option<(f64, (f64, f64))> = None;
        let mut look = |cell: (i64, i64)| {
            for number in self.of_cell.get(&cell).into_iter().flatten() {
                let [from, to] = self.list[*number];
                let found = nearest(at, from, to);
                if best.is_none_or(|best| found.0 < best.0) {
                    best = Some(found);
                }
            }
            best
        };
        let mut found = look(ANYWHERE);
        for ring in 0..=RINGS {
            // all within the inner rings is nearer than what follows
            let inner = (ring - 1).max(0) as f64 * CELL;
            if inner > within || found.is_some_and(|best| best.0 <= inner) {
                return found.filter(|best| best.0 <= within).map(|best| best.1);
            }
            for along in -ring..=ring {
                for (over, up) in [(along, -ring), (along, ring), (-ring, along), (ring, along)] {
                    found = look((here.0 + over, here.1 + up));
                }
            }
        }
        let all = self.list.iter().map(|[from, to]| nearest(at, *from, *to));
        all.min_by(|a, b| a.0.total_cmp(&b.0)).filter(|best| best.0 <= within).map(|best| best.1)
    }
}

/// The cell of segments that are longer than some cells.
const ANYWHERE: (i64, i64) = (i64::MIN, i64::MIN);

/// The distance to a segment, and its nearest place.
fn nearest(at: (f64, f64), from: (f64, f64), to: (f64, f64)) -> (f64, (f64, f64)) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length2 = dx * dx + dy * dy;
    let along = (at.0 - from.0) * dx + (at.1 - from.1) * dy;
    let share = if length2 > 0.0 { (along / length2).clamp(0.0, 1.0) } else { 0.0 };
    let place = (from.0 + share * dx, from.1 + share * dy);
    ((at.0 - place.0).hypot(at.1 - place.1), place)
}

/// Which cells were searched: those with track within [`BESIDE`], or within half a cell where cells
/// are larger.
#[must_use]
#[allow(clippy::cast_possible_truncation, reason = "a few cells")]
pub fn searched_cells(runs: &[SearchedRun], grid: &Grid) -> Vec<bool> {
    let mut searched = vec![false; grid.columns * grid.rows];
    let reach = BESIDE.max(0.5 * grid.cell);
    let cells = (reach / grid.cell).ceil().min(200.0) as i32;
    let step = (grid.cell / 2.0).max(2.0);
    let mut last = None;
    for ends in runs.iter().flat_map(|run| run.points.windows(2)) {
        let length = (ends[1].0 - ends[0].0).hypot(ends[1].1 - ends[0].1);
        let parts = (length / step).ceil().clamp(1.0, 1e5);
        let mut part = 0.0;
        while part <= parts {
            let share = part / parts;
            let x = ends[0].0 + share * (ends[1].0 - ends[0].0);
            let y = ends[0].1 + share * (ends[1].1 - ends[0].1);
            part += 1.0;
            let here = grid.index(x, y);
            // most steps stay close to the last one
            if last.is_some_and(|(a, b): (f64, f64)| (x - a).hypot(y - b) < 0.2 * step) {
                continue;
            }
            last = Some((x, y));
            let Some(here) = here else { continue };
            let (column, row) = (here % grid.columns, here / grid.columns);
            for up in -cells..=cells {
                for over in -cells..=cells {
                    #[allow(clippy::cast_possible_wrap, reason = "a grid has far fewer cells")]
                    let near = (column as i64 + i64::from(over), row as i64 + i64::from(up));
                    let (Ok(column), Ok(row)) = (usize::try_from(near.0), usize::try_from(near.1))
                    else {
                        continue;
                    };
                    if column < grid.columns
                        && row < grid.rows
                        && (grid.x(column) - x).powi(2) + (grid.y(row) - y).powi(2) <= reach * reach
                    {
                        searched[row * grid.columns + column] = true;
                    }
                }
            }
            searched[here] = true;
        }
    }
    searched
}

/// The bandwidth for finds made from these tracks; `None` where all finds are at one point.
#[must_use]
pub fn bandwidth(finds: &[PlaneFind], runs: &[SearchedRun], choice: Choice) -> Option<Bandwidth> {
    let points: Vec<Mass> = finds.iter().map(PlaneFind::mass).collect();
    let radii: Vec<f64> = finds.iter().map(|find| find.radius).collect();
    let outings: Vec<usize> = finds.iter().map(|find| find.outing).collect();
    let effort =
        Effort { finds: made_from_of_outings(finds, runs), track: masses_of_outings(runs, 40.0) };
    choose_for_rate(&points, &radii, &outings, &effort, choice)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;

    /// A track of two sides of a triangle, thinned to the third: its kilometres are those that were walked.
    #[test]
    fn the_metres_of_a_thinned_track_are_those_of_the_track() {
        use crate::model::{Activity, TrackPoint};
        use crate::units::{Metres, Radius95};
        let plane = EqualArea::about(LatLon::clamped(47.0, 8.0));
        let point = |second: i64, east: f64| TrackPoint {
            time: jiff::Timestamp::from_second(second).unwrap(),
            at: plane.from_plane(east, 0.0),
            height: None,
            radius: Radius95::new(Metres(8.0)).unwrap(),
            activity: Activity::Searching,
            gap_after: false,
        };
        let points = vec![point(0, 0.0), point(100, 80.0), point(200, 160.0)];
        let lengths = vec![Metres(100.0), Metres(90.0), Metres(0.0)];
        let date = jiff::civil::date(2024, 9, 1);
        let walk = Walk::new(uuid::Uuid::nil(), date, points, lengths);
        let runs = searched_runs(&walk, 0, &plane);
        let metres: f64 = masses(&runs, 30.0).iter().map(|mass| mass.weight).sum();
        assert!((metres - 190.0).abs() < 0.01, "{metres}");
    }

    #[test]
    fn the_nearest_place_is_that_of_all_segments() {
        let mut rng = Rng::new(1_025);
        let mut at = (0.0, 0.0);
        let mut points = vec![at];
        for step in 0..600 {
            let far = if step % 100 == 0 { 4_000.0 } else { 60.0 };
            at = (at.0 + far * rng.normal(), at.1 + far * rng.normal());
            points.push(at);
        }
        let runs = [SearchedRun { outing: 0, points: points.clone(), weight: 1.0 }];
        for _ in 0..400 {
            let near = points[rng.below(points.len())];
            let radius = if rng.uniform() < 0.1 { 9_000.0 } else { 40.0 * rng.uniform() };
            let (x, y) = (near.0 + 80.0 * rng.normal(), near.1 + 80.0 * rng.normal());
            let found = made_from(&[PlaneFind { x, y, outing: 0, radius }], &runs)[0];
            let every = points.windows(2).map(|ends| nearest((x, y), ends[0], ends[1]));
            let best = every.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
            assert_eq!(found, (best.0 <= FAR.max(2.0 * radius)).then_some(best.1), "{x} {y}");
        }
        let other = PlaneFind { x: 0.0, y: 0.0, outing: 1, radius: 8.0 };
        assert_eq!(made_from(&[other], &runs), [None]);
    }
}
