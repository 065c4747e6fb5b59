//! The searched track and the finds made from it, on a plane: which place of the track a find
//! belongs to, and which ground was searched. Layer: `analyse`.

use super::along;
use super::bandwidth::{Bandwidth, Choice, Effort, choose_for_rate};
use super::kernel::{Grid, Mass};
use crate::analyse::walk::Walk;
use crate::earth::equal_area::EqualArea;

/// An unbroken part of a searched track on the plane, all in one manner.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchedRun {
    /// The number of its outing.
    pub outing: usize,
    /// Metres east and north.
    pub points: Vec<(f64, f64)>,
    /// How much a metre counts as searched, 0 to 1.
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

/// The searched parts of a track.
#[must_use]
pub fn searched_runs(walk: &Walk, outing: usize, plane: &EqualArea) -> Vec<SearchedRun> {
    let mut runs: Vec<SearchedRun> = Vec::new();
    let mut end = None;
    for piece in walk.pieces().filter(crate::analyse::walk::Piece::is_search) {
        let weight = piece.length_weight();
        let goes_on = end == Some(piece.from.time)
            && runs.last().is_some_and(|run| (run.weight - weight).abs() < 1e-12);
        if !goes_on {
            let points = vec![plane.to_plane(piece.from.at)];
            runs.push(SearchedRun { outing, points, weight });
        }
        if let Some(run) = runs.last_mut() {
            run.points.push(plane.to_plane(piece.to.at));
        }
        end = Some(piece.to.time);
    }
    runs
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

/// The place of the searched track that each find was made from: the nearest of its own outing.
/// `None` for a find that was not made from it.
#[must_use]
pub fn made_from(finds: &[PlaneFind], runs: &[SearchedRun]) -> Vec<Option<(f64, f64)>> {
    let mut of_outing: std::collections::HashMap<usize, Vec<&SearchedRun>> =
        std::collections::HashMap::new();
    for run in runs {
        of_outing.entry(run.outing).or_default().push(run);
    }
    finds
        .iter()
        .map(|find| {
            let segments =
                of_outing.get(&find.outing)?.iter().flat_map(|run| run.points.windows(2));
            let nearest = segments
                .map(|ends| nearest((find.x, find.y), ends[0], ends[1]))
                .min_by(|a, b| a.0.total_cmp(&b.0))?;
            (nearest.0 <= FAR.max(2.0 * find.radius)).then_some(nearest.1)
        })
        .collect()
}

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
                    let near = (column as i64 + i64::from(over), row as i64 + i64::from(up));
                    let (Ok(column), Ok(row)) = (usize::try_from(near.0), usize::try_from(near.1))
                    else {
                        continue;
                    };
                    if column < grid.columns
                        && row < grid.rows
                        && (grid.x(column) - x).hypot(grid.y(row) - y) <= reach
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
    let from = made_from(finds, runs)
        .into_iter()
        .zip(&outings)
        .filter_map(|(place, outing)| place.map(|(x, y)| (Mass { x, y, weight: 1.0 }, *outing)))
        .collect();
    let track = runs
        .iter()
        .flat_map(|run| {
            masses(std::slice::from_ref(run), 40.0).into_iter().map(|m| (m, run.outing))
        })
        .collect();
    choose_for_rate(&points, &radii, &outings, &Effort { finds: from, track }, choice)
}
