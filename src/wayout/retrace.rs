//! Computes the route back along the day's track, without its loops, simplified within its
//! uncertainty. Layer: `wayout`.
//!
//! A collector's track is full of loops. Joined to itself where it comes within its own 95 % radius it becomes a
//! small network, and the quickest path through it leaves the loops out. It is not necessarily a path, but somebody
//! walked every piece of it today.
//!
//! # References
//! Douglas & Peucker 1973, doi:10.3138/FM57-6770-U75U-7727, for the corners; the tolerance is the uncertainty of
//! the track, from 8 to 25 m.

use super::legs::{Country, Route, RouteKind};
use super::pace::Surface;
use super::paths::{Builder, Entry, Net, NetRoute, WALKED_OFTEN};
use super::simplify;
use crate::model::{Landmark, RouteNote, TrackPoint};
use crate::units::{LatLon, Metres, TimeZone};

/// The largest tolerance of simplification, so that a compass leg does not leave the walked ground.
const WIDEST: Metres = Metres(25.0);
/// Nor less than this.
const NARROWEST: Metres = Metres(8.0);
/// The largest distance of a landmark on the track from a corner.
const NEARBY: Metres = Metres(40.0);

/// The route back along the day's track, from the current position. The track is joined to itself
/// wherever it comes within its own uncertainty, which removes loops. `None` without a track or
/// more than 500 m from it.
#[must_use]
pub fn route(
    track: &[TrackPoint],
    from: LatLon,
    to: LatLon,
    country: &Country<'_>,
    zone: &TimeZone,
) -> Option<Route> {
    let mut day = Builder::default();
    day.add(track, 0);
    let route = day.finish().quickest(from, &[Entry { at: to }], country.ground)?;
    let expect = |place: LatLon| landmark(track, place, zone);
    Some(legs(RouteKind::Retrace, &route, country, expect))
}

/// The quickest route along all tracks to one of the goals, with the number of the goal.
#[must_use]
pub fn known(
    net: &Net,
    from: LatLon,
    goals: &[LatLon],
    country: &Country<'_>,
) -> Option<(usize, Route)> {
    let (found, route) = along(RouteKind::KnownPaths, net, (from, goals), country)?;
    Some((found.goal, route))
}

/// The quickest route along all tracks and the paths of base maps to one of the goals; `None` where it needs no
/// piece of a base map.
#[must_use]
pub fn mapped(
    net: &Net,
    from: LatLon,
    goals: &[LatLon],
    country: &Country<'_>,
) -> Option<(usize, Route)> {
    let (found, mut route) = along(RouteKind::MappedPaths, net, (from, goals), country)?;
    let length = found.mapped();
    route.notes.insert(0, RouteNote::MappedNotWalked { length });
    (length.0 > 0.0).then_some((found.goal, route))
}

/// The quickest route along a net to one of the goals, and the same as legs.
fn along(
    kind: RouteKind,
    net: &Net,
    (from, goals): (LatLon, &[LatLon]),
    country: &Country<'_>,
) -> Option<(NetRoute, Route)> {
    let goals: Vec<Entry> = goals.iter().map(|at| Entry { at: *at }).collect();
    let found = net.quickest(from, &goals, country.ground)?;
    let route = legs(kind, &found, country, |_| None);
    Some((found, route))
}

/// A route as legs between the corners that are needed.
fn legs(
    kind: RouteKind,
    found: &NetRoute,
    country: &Country<'_>,
    expect: impl Fn(LatLon) -> Option<Landmark>,
) -> Route {
    let tolerance = found.radius.max(NARROWEST).min(WIDEST);
    let kept = simplify::corners(&found.places, tolerance);
    let kept = simplify::merged(&found.places, &kept, tolerance);
    let corners: Vec<LatLon> =
        kept.iter().filter_map(|index| found.places.get(*index).copied()).collect();
    let pieces = |leg: usize| kept[leg]..kept[leg + 1];
    let often = |leg: usize| {
        let walked = &found.passes[pieces(leg)];
        walked.iter().filter(|passes| **passes >= WALKED_OFTEN).count() * 2 > walked.len()
    };
    let surface = |leg: usize| if often(leg) { Surface::Path } else { Surface::OffPath };
    let last = corners.len().saturating_sub(1);
    let report = |corner: usize| {
        let gap = found.gaps[pieces(corner - 1)].contains(&true);
        // the first piece of a base map is no track
        let open = corner == 1 && kept[1] == 1 && kind != RouteKind::MappedPaths;
        let first = match (gap, open) {
            (true, _) => Some(Landmark::Gap),
            (_, true) => Some(Landmark::TrackReached),
            _ => None,
        };
        let goal = Landmark::Goal { name: None };
        let then = if corner == last { Some(goal) } else { expect(corners[corner]) };
        first.into_iter().chain(then).collect()
    };
    let mut route = Route::through(kind, &corners, country, surface, report);
    if found.gaps.contains(&true) {
        route.crosses_gap = true;
        route.notes.push(RouteNote::CrossesGap);
    }
    route
}

/// What the collector did near a place and when, as a landmark.
fn landmark(track: &[TrackPoint], place: LatLon, zone: &TimeZone) -> Option<Landmark> {
    let nearest = track
        .iter()
        .map(|point| (crate::earth::local::distance(point.at, place).0, point))
        .filter(|(off, _)| *off <= NEARBY.0)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let (_, point) = nearest?;
    let time = zone.to_datetime(point.time).time();
    Some(Landmark::BeenThere { activity: point.activity, time })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::earth::local::Plane;
    use crate::model::Activity;
    use crate::units::{Declination, Degrees, MagneticModel, Radius95, Seconds, Timestamp};
    use crate::wayout::legs::Paces;

    fn country(at: LatLon) -> Country<'static> {
        Country {
            ground: None,
            declination: Declination {
                east: Degrees(14.0),
                uncertainty: Degrees(0.4),
                model: MagneticModel::Stated,
                date: jiff::civil::date(2026, 5, 1),
                place: at,
            },
            paces: Paces::ACROSS_COUNTRY,
            steep: Degrees(30.0),
        }
    }

    /// Out 600 m east with three loops of 60 m radius on the way.
    fn wander(plane: Plane) -> Vec<TrackPoint> {
        let mut points = Vec::new();
        for leg in 0..3 {
            let east = f64::from(leg) * 200.0;
            points.extend((0..50).map(|step| (east + f64::from(step) * 4.0, 0.0)));
            points.extend((0..90).map(|step| {
                let turn = f64::from(step) / 90.0 * std::f64::consts::TAU;
                (east + 200.0 + 60.0 * turn.sin(), 60.0 - 60.0 * turn.cos())
            }));
        }
        let point = |(index, (east, north)): (usize, (f64, f64))| TrackPoint {
            time: Seconds(index as f64 * 6.0).after(Timestamp::UNIX_EPOCH),
            at: plane.from_plane(east, north),
            height: None,
            radius: Radius95::new(Metres(8.0)).unwrap(),
            activity: Activity::Searching,
            gap_after: false,
        };
        points.into_iter().enumerate().map(point).collect()
    }

    #[test]
    fn loops_of_the_track_are_removed() {
        for (latitude, longitude) in [(-42.0, 146.0), (-17.0, 179.9999), (70.0, 20.0)] {
            let plane = Plane::about(LatLon::new(latitude, longitude).unwrap());
            let track = wander(plane);
            let walked: f64 = track
                .windows(2)
                .map(|pair| crate::earth::geodesic::distance(pair[0].at, pair[1].at).0)
                .sum();
            assert!(walked > 1_600.0);
            let from = plane.from_plane(600.0, 0.0);
            let back = route(&track, from, plane.origin(), &country(from), &TimeZone::UTC).unwrap();
            assert!((590.0..625.0).contains(&back.distance.0), "{}", back.distance);
            assert!(back.legs.len() <= 4, "{}", back.legs.len());
            assert!(back.legs.last().unwrap().expect.contains(&Landmark::Goal { name: None }));
        }
    }

    #[test]
    fn no_route_along_a_distant_track() {
        let plane = Plane::about(LatLon::new(-42.0, 146.0).unwrap());
        let from = plane.from_plane(0.0, 5_000.0);
        assert!(
            route(&wander(plane), from, plane.origin(), &country(from), &TimeZone::UTC).is_none()
        );
        assert!(route(&[], from, plane.origin(), &country(from), &TimeZone::UTC).is_none());
    }
}
