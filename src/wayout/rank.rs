//! In which order are the ways reported, and why? By time, weighed up where the ground is less known,
//! steep or closed. Layer: `wayout`.

use super::across::Area;
use super::daylight::Daylight;
use super::legs::{Way, WayKind};
use super::light;
use super::pace::{Footing, tobler};
use super::report::{Ranked, Request};
use crate::earth::local::Plane;
use crate::units::{LatLon, Metres, Seconds};

/// Ground that is known weighs less than ground that is not.
pub(super) fn weight(way: &Way) -> f64 {
    let unknown = match way.kind {
        WayKind::Retrace | WayKind::KnownPaths => 1.0,
        WayKind::Terrain => 1.2,
        WayKind::Direct => 1.5,
    };
    let steep = if way.legs.iter().any(|leg| leg.steep.is_some()) { 1.3 } else { 1.0 };
    let gap = if way.crosses_gap { 1.2 } else { 1.0 };
    let closed = if way.crosses_closed { 5.0 } else { 1.0 };
    way.duration.careful().0 * unknown * steep * gap * closed
}

/// The ways in their order.
pub(super) fn ranked(mut ways: Vec<Way>, request: &Request<'_>, light: &Daylight) -> Vec<Ranked> {
    ways.sort_by(|a, b| weight(a).total_cmp(&weight(b)));
    let quickest = ways.iter().map(|way| way.duration.careful().0).fold(f64::INFINITY, f64::min);
    ways.into_iter()
        .map(|way| {
            let takes = way.duration.careful() + farther(request.start.radius.metres());
            let verdict = light::verdict(request.now, takes, light);
            Ranked { verdict, reason: reason(&way, quickest), way }
        })
        .collect()
}

/// How much longer the way may take because the start lies elsewhere within its radius: at most the radius
/// more, off the path. The reserve covers the first hundred metres.
pub(super) fn farther(radius: Metres) -> Seconds {
    const COVERED: Metres = Metres(100.0);
    Seconds((radius - COVERED).0.max(0.0) / tobler(0.0, Footing::OffPath).0)
}

fn reason(way: &Way, quickest: f64) -> String {
    let ground = match way.kind {
        WayKind::Retrace => "you walked it today",
        WayKind::KnownPaths => "it was walked before",
        WayKind::Terrain => "the heights allow it, nobody has walked it",
        WayKind::Direct => "for checking only: what lies on it is not known",
    };
    let steep =
        if way.legs.iter().any(|leg| leg.steep.is_some()) { ", with steep ground" } else { "" };
    let gap = if way.crosses_gap { ", across a gap of the receiver" } else { "" };
    let closed = if way.crosses_closed { ", ACROSS CLOSED GROUND" } else { "" };
    let slower = way.duration.careful().0 - quickest;
    if slower < 30.0 {
        format!("the quickest; {ground}{steep}{gap}{closed}")
    } else {
        format!(
            "{} slower than the quickest; {ground}{steep}{gap}{closed}",
            light::span(Seconds(slower))
        )
    }
}

/// Marks a way that leads over closed ground. The walk across the land leads around it.
pub(super) fn mark_closed(way: &mut Way, avoid: &[Area]) {
    if way.kind == WayKind::Terrain || !avoid.iter().any(|area| crosses(way, area)) {
        return;
    }
    way.crosses_closed = true;
    way.remarks.push("crosses ground that you named as closed: do not take it as it is".to_owned());
}

fn crosses(way: &Way, area: &Area) -> bool {
    let Some(first) = way.legs.first() else { return false };
    let plane = Plane::about(first.from);
    let flat = |place: &LatLon| plane.to_plane(*place);
    let rings: Vec<Vec<(f64, f64)>> =
        area.iter().map(|ring| ring.iter().map(flat).collect()).collect();
    let edges = || rings.iter().flat_map(|ring| ring.iter().zip(ring.iter().cycle().skip(1)));
    way.legs.iter().any(|leg| {
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
    fn a_way_over_closed_ground_is_marked_and_one_through_a_hole_is_not() {
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
                let (off_path, silent) = (|_| Footing::OffPath, |_| String::new());
                let mut way = Way::through(WayKind::Direct, &ends, &country(), off_path, silent);
                mark_closed(&mut way, std::slice::from_ref(&lake));
                way.crosses_closed
            };
            assert!(marked((-800.0, 10.0), (800.0, 20.0)), "over it");
            assert!(marked((200.0, 200.0), (210.0, 210.0)), "within it");
            assert!(marked((800.0, 0.0), (300.0, 0.0)), "into it");
            assert!(!marked((-800.0, 600.0), (800.0, 600.0)), "beside it");
            assert!(!marked((-50.0, 10.0), (50.0, 20.0)), "on the island");
        }
    }
}
