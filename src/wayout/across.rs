//! Prepares the least-cost search across open ground: the window of the elevation model, barriers,
//! corridors, and a check that the window is large enough. Layer: `wayout`.
//!
//! The window is half of the straight distance wider than start and goals on every side, at least 300 m, and is
//! widened until no route beyond its edge could be quicker at the highest speed. At most 16 million cells: with
//! more the cells become larger than the posts of the tile.

use super::legs::{Country, Route, RouteKind};
use super::pace::Surface;
use super::terrain::{Footprint, Walk};
use crate::earth::elevation::Ground;
use crate::earth::geodesic;
use crate::model::{Landmark, NoRoute, RouteNote};
use crate::units::{Degrees, LatLon, Metres};

/// Ground steeper than this is closed.
const CLOSED: Degrees = Degrees(40.0);
/// The margin around start and goals, as a share of the distance, and its minimum.
const MARGIN_SHARE: f64 = 0.5;
const LEAST_MARGIN: Metres = Metres(300.0);
/// The most cells of a window.
const MOST_CELLS: f64 = 16e6;

/// An area on the ground: its outline, then the outlines of its holes.
///
/// Rings need not be closed and may have either direction. Whatever lies inside an odd number of rings is closed.
pub type Area = Vec<Vec<LatLon>>;

/// Elevations, barriers and corridors of the area.
pub struct Land<'a> {
    /// Heights.
    pub ground: &'a Ground,
    /// The spacing of the cells: that of the finest tile.
    pub spacing: Metres,
    /// Closed areas (water, cliffs, land that may not be entered), each with its holes after it.
    pub avoid: &'a [Area],
    /// Corridors: lines with the speed of a path.
    pub corridors: &'a [Vec<LatLon>],
}

/// The quickest route to one of the goals, with the index of the goal.
///
/// # Accuracy
/// Exact on its grid to 2e-4 against `scipy.sparse.csgraph.dijkstra` with the same sixteen neighbours; on planes
/// and cones within 1 % of their analytic optimum (`docs/way-out.md`).
///
/// # Errors
/// When the tile has no data at the start or at every goal, or barriers are all around.
///
/// # References
/// Tobler 1993, Three Presentations on Geographical Analysis and Modeling, NCGIA Technical Report 93-1; Dijkstra's
/// algorithm with buckets as wide as the cheapest move.
pub fn route(
    land: &Land<'_>,
    from: LatLon,
    goals: &[LatLon],
    country: &Country<'_>,
) -> Result<(usize, Route), NoRoute> {
    let nearest = goals
        .iter()
        .map(|goal| geodesic::distance(from, *goal))
        .reduce(Metres::min)
        .ok_or(NoRoute::NoGoal)?;
    if land.ground.height(from).is_none() {
        return Err(NoRoute::NoElevationAtStart { at: from });
    }
    if goals.iter().all(|goal| land.ground.height(*goal).is_none()) {
        return Err(NoRoute::NoElevationAtGoal);
    }
    let reachable: Vec<usize> = (0..goals.len())
        .filter(|index| {
            goals
                .get(*index)
                .is_some_and(|goal| geodesic::distance(from, *goal).0 < nearest.0 * 3.0 + 1_000.0)
        })
        .collect();
    let places: Vec<LatLon> = [from]
        .into_iter()
        .chain(reachable.iter().filter_map(|index| goals.get(*index).copied()))
        .collect();
    let mut margin = LEAST_MARGIN.max(nearest * MARGIN_SHARE);
    for _ in 0..3 {
        let footprint = window(&places, margin, land.spacing)?;
        if let Some(walk) = search(&footprint, land, &places)
            && (!walk.may_leave || margin.0 > 40_000.0)
        {
            let goal = reachable.get(walk.goal).copied().unwrap_or(0);
            return Ok((goal, report(&footprint, &walk, land, country)));
        }
        margin = margin * 2.0;
    }
    let footprint = window(&places, margin, land.spacing)?;
    let walk = search(&footprint, land, &places).ok_or(NoRoute::Enclosed)?;
    let goal = reachable.get(walk.goal).copied().unwrap_or(0);
    Ok((goal, report(&footprint, &walk, land, country)))
}

fn window(places: &[LatLon], margin: Metres, spacing: Metres) -> Result<Footprint, NoRoute> {
    let try_with = |spacing| Footprint::about(places, margin, spacing);
    let spacing = spacing.max(Metres(5.0));
    let first = try_with(spacing).ok_or(NoRoute::NoStart)?;
    let cells = first.columns as f64 * first.rows as f64;
    let coarser = spacing * (cells / MOST_CELLS).sqrt().max(1.0);
    try_with(coarser).ok_or(NoRoute::NoStart)
}

fn search(footprint: &Footprint, land: &Land<'_>, places: &[LatLon]) -> Option<Walk> {
    let mut terrain = footprint.survey(|place| land.ground.height(place).map(|height| height.0));
    terrain.close_steeper_than(CLOSED);
    let cells = |line: &[LatLon]| -> Vec<(f64, f64)> {
        line.iter().map(|place| footprint.cell(*place)).collect()
    };
    for area in land.avoid {
        let rings: Vec<Vec<(f64, f64)>> = area.iter().map(|ring| cells(ring)).collect();
        terrain.close_area(&rings);
    }
    for line in land.corridors {
        terrain.open_corridor(&cells(line));
    }
    let spots = cells(places);
    let (start, goals) = spots.split_first()?;
    terrain.walk(*start, goals)
}

fn report(footprint: &Footprint, walk: &Walk, land: &Land<'_>, country: &Country<'_>) -> Route {
    let corners: Vec<LatLon> = walk.corners.iter().map(|corner| footprint.place(*corner)).collect();
    let on_corridor = |index: usize| {
        let ends = (corners.get(index), corners.get(index + 1));
        let (Some(from), Some(to)) = ends else { return Surface::OffPath };
        let middle = geodesic::interpolate(*from, *to, 0.5);
        let near = land.corridors.iter().flatten().any(|place| {
            crate::earth::local::distance(*place, middle).0 < 2.0 * footprint.spacing.max(10.0)
        });
        if near { Surface::Path } else { Surface::OffPath }
    };
    let last = corners.len().saturating_sub(1);
    let expect = |corner: usize| {
        if corner == last { vec![Landmark::Goal { name: None }] } else { Vec::new() }
    };
    let mut route = Route::through(RouteKind::Terrain, &corners, country, on_corridor, expect);
    let spacing = Metres(footprint.spacing);
    route.notes.push(RouteNote::FromElevations { spacing });
    route
}
