//! Ranks the routes and states the reasons. By walking time, weighted up for unknown, steep or
//! closed ground. Layer: `wayout`.
//!
//! | what | weight |
//! |---|---|
//! | back along the day's track, along known paths | 1 |
//! | mapped paths | 1.1 |
//! | across open ground | 1.2 |
//! | straight line | 1.5 |
//! | a steep leg | 1.3 |
//! | a gap in the track | 1.2 |
//! | a closed area | 5 |
//!
//! The weights are project choices and multiply; the times that are reported are without them.

use super::across::Area;
use super::daylight::Daylight;
use super::legs::{Route, RouteKind};
use super::light;
use super::pace::{Surface, tobler};
use super::report::{Ranked, Request};
use crate::earth::local::Plane;
use crate::model::{RankReason, RouteNote};
use crate::units::{LatLon, Metres, Seconds};

/// Routes that differ by less than this, seconds, are equally quick (project choice).
const ABOUT_EQUAL: f64 = 30.0;

/// Cost weights: unknown ground weighs more than known ground.
pub(super) fn weight(route: &Route) -> f64 {
    let unknown = match route.kind {
        RouteKind::Retrace | RouteKind::KnownPaths => 1.0,
        RouteKind::MappedPaths => 1.1,
        RouteKind::Terrain => 1.2,
        RouteKind::Direct => 1.5,
    };
    let steep = if route.legs.iter().any(|leg| leg.steep.is_some()) { 1.3 } else { 1.0 };
    let gap = if route.crosses_gap { 1.2 } else { 1.0 };
    let closed = if route.crosses_closed { 5.0 } else { 1.0 };
    route.duration.careful().0 * unknown * steep * gap * closed
}

/// The routes in order of cost.
pub(super) fn ranked(mut ways: Vec<Route>, request: &Request<'_>, light: &Daylight) -> Vec<Ranked> {
    ways.sort_by(|a, b| weight(a).total_cmp(&weight(b)));
    let quickest =
        ways.iter().map(|route| route.duration.careful().0).fold(f64::INFINITY, f64::min);
    ways.into_iter()
        .map(|route| {
            let takes = route.duration.careful() + farther(request.start.radius.metres());
            let verdict = light::verdict(request.now, takes, light);
            Ranked { verdict, reason: reason(&route, quickest), way: route }
        })
        .collect()
}

/// How much longer the way may take because the start lies elsewhere within its radius: at most the radius
/// more, off the path. The reserve covers the first hundred metres.
pub(super) fn farther(radius: Metres) -> Seconds {
    const COVERED: Metres = Metres(100.0);
    Seconds((radius - COVERED).0.max(0.0) / tobler(0.0, Surface::OffPath).0)
}

fn reason(route: &Route, quickest: f64) -> RankReason {
    let slower = route.duration.careful().0 - quickest;
    RankReason {
        slower: (slower >= ABOUT_EQUAL).then_some(Seconds(slower)),
        steep: route.legs.iter().any(|leg| leg.steep.is_some()),
        crosses_gap: route.crosses_gap,
        crosses_closed: route.crosses_closed,
    }
}

/// Marks a route across a closed area. The route across open ground avoids closed areas.
pub(super) fn mark_closed(route: &mut Route, avoid: &[Area]) {
    if route.kind == RouteKind::Terrain || !avoid.iter().any(|area| crosses(route, area)) {
        return;
    }
    route.crosses_closed = true;
    route.notes.push(RouteNote::CrossesClosedArea);
}

fn crosses(route: &Route, area: &Area) -> bool {
    let Some(first) = route.legs.first() else { return false };
    let plane = Plane::about(first.from);
    let flat = |place: &LatLon| plane.to_plane(*place);
    let rings: Vec<Vec<(f64, f64)>> =
        area.iter().map(|ring| ring.iter().map(flat).collect()).collect();
    let edges = || rings.iter().flat_map(|ring| ring.iter().zip(ring.iter().cycle().skip(1)));
    route.legs.iter().any(|leg| {
        let (from, to) = (flat(&leg.from), flat(&leg.to));
        let within = edges().filter(|(a, b)| above(to, **a, **b)).count() % 2 == 1;
        within || edges().any(|(a, b)| meet(from, to, *a, *b))
    })
}

/// Whether a ray to the north from a point crosses the edge.
fn above(from: (f64, f64), a: (f64, f64), b: (f64, f64)) -> bool {
    (a.0 > from.0) != (b.0 > from.0) && (b.1 - a.1) * (from.0 - a.0) / (b.0 - a.0) + a.1 > from.1
}

/// Whether two pieces of line cross.
fn meet(a: (f64, f64), b: (f64, f64), c: (f64, f64), d: (f64, f64)) -> bool {
    let side = |p: (f64, f64), q: (f64, f64), r: (f64, f64)| {
        (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0)
    };
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wayout::legs::tests::country;

    #[test]
    fn a_start_that_is_hardly_known_may_lie_farther_away_by_its_radius() {
        assert!(farther(Metres(31.0)).0.abs() < 1e-9);
        // Tobler on level ground off the path: 3.02 km/h
        assert!(
            (farther(Metres(3_122.0)).0 - 3_600.0).abs() < 10.0,
            "{}",
            farther(Metres(3_122.0))
        );
    }

    #[test]
    fn route_across_closed_area_is_marked_except_through_a_hole() {
        for (latitude, longitude) in [(-42.0, 146.0), (-17.0, 180.0), (80.0, 20.0)] {
            let plane = Plane::about(LatLon::new(latitude, longitude).unwrap());
            let ring = |reach: f64| -> Vec<LatLon> {
                [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
                    .map(|(east, north)| plane.from_plane(east * reach, north * reach))
                    .to_vec()
            };
            let lake = vec![ring(500.0), ring(100.0)];
            let marked = |from: (f64, f64), to: (f64, f64)| {
                let ends = [from, to].map(|(east, north)| plane.from_plane(east, north));
                let (off_path, unobserved) = (|_| Surface::OffPath, |_| Vec::new());
                let mut route =
                    Route::through(RouteKind::Direct, &ends, &country(), off_path, unobserved);
                mark_closed(&mut route, std::slice::from_ref(&lake));
                route.crosses_closed
            };
            assert!(marked((-800.0, 10.0), (800.0, 20.0)), "over it");
            assert!(marked((200.0, 200.0), (210.0, 210.0)), "within it");
            assert!(marked((800.0, 0.0), (300.0, 0.0)), "into it");
            assert!(!marked((-800.0, 600.0), (800.0, 600.0)), "beside it");
            assert!(!marked((-50.0, 10.0), (50.0, 20.0)), "on the island");
        }
    }
}
