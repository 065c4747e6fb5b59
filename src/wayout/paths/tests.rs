//! Tests that tracks are joined where they meet, preferred where they are walked often, and
//! unchanged by serialisation. Layer: `wayout`.

use super::*;
use crate::earth::local::Plane;
use crate::model::{Activity, BaseClass, BaseFeature, BaseShape, TrackPoint};
use crate::units::{Radius95, Seconds, Timestamp};

fn track(plane: Plane, points: &[(f64, f64)]) -> Vec<TrackPoint> {
    let mut track = Vec::new();
    for pair in points.windows(2) {
        let length = (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1);
        let steps = (length / 3.0).ceil();
        let mut step = 0.0;
        while step < steps {
            let share = step / steps;
            track.push(point(
                plane,
                (
                    pair[0].0 + (pair[1].0 - pair[0].0) * share,
                    pair[0].1 + (pair[1].1 - pair[0].1) * share,
                ),
                track.len(),
            ));
            step += 1.0;
        }
    }
    track.push(point(plane, *points.last().unwrap(), track.len()));
    track
}

fn point(plane: Plane, at: (f64, f64), index: usize) -> TrackPoint {
    TrackPoint {
        time: Seconds(index as f64 * 3.0).after(Timestamp::UNIX_EPOCH),
        at: plane.from_plane(at.0, at.1),
        height: None,
        radius: Radius95::new(Metres(8.0)).unwrap(),
        activity: Activity::Walking,
        gap_after: false,
    }
}

pub(super) fn net(plane: Plane, tracks: &[&[(f64, f64)]]) -> Net {
    let mut builder = Builder::default();
    for (print, points) in tracks.iter().enumerate() {
        builder.add(&track(plane, points), print as u64);
    }
    builder.finish()
}

pub(super) fn planes() -> [Plane; 3] {
    [(-42.0, 146.0), (-17.0, 180.0), (79.5, -179.999)]
        .map(|(latitude, longitude)| Plane::about(LatLon::new(latitude, longitude).unwrap()))
}

#[test]
fn tracks_that_cross_are_joined_where_they_meet() {
    for plane in planes() {
        let net = net(plane, &[&[(-500.0, 0.0), (500.0, 0.0)], &[(3.0, -400.0), (3.0, 400.0)]]);
        let goal = Entry { at: plane.from_plane(3.0, 400.0) };
        let route = net.quickest(plane.from_plane(-480.0, 20.0), &[goal], None).unwrap();
        let length: f64 = route
            .places
            .windows(2)
            .map(|pair| crate::earth::geodesic::distance(pair[0], pair[1]).0)
            .sum();
        assert!((870.0..920.0).contains(&length), "{length}");
    }
}

#[test]
fn lines_that_do_not_meet_lead_nowhere() {
    let plane = planes()[0];
    let net = net(plane, &[&[(0.0, 0.0), (500.0, 0.0)], &[(0.0, 1_500.0), (500.0, 1_500.0)]]);
    let goal = Entry { at: plane.from_plane(500.0, 1_500.0) };
    assert_eq!(net.quickest(plane.from_plane(0.0, 0.0), &[goal], None), None);
    assert_eq!(net.quickest(plane.from_plane(0.0, 9_000.0), &[goal], None), None);
    assert_eq!(Net::default().quickest(plane.from_plane(0.0, 0.0), &[goal], None), None);
}

#[test]
fn a_line_walked_often_is_preferred_to_a_shorter_one_walked_once() {
    let plane = planes()[0];
    let often: &[(f64, f64)] = &[(0.0, 0.0), (300.0, 200.0), (600.0, 0.0)];
    let once: &[(f64, f64)] = &[(0.0, 0.0), (600.0, 0.0)];
    let goal = Entry { at: plane.from_plane(600.0, 0.0) };
    let route = net(plane, &[often, often, often, once])
        .quickest(plane.from_plane(0.0, 0.0), &[goal], None)
        .unwrap();
    assert!(route.passes.iter().filter(|passes| **passes >= WALKED_OFTEN).count() > 40);
    let route =
        net(plane, &[often, once]).quickest(plane.from_plane(0.0, 0.0), &[goal], None).unwrap();
    let middle = plane.to_plane(route.places[route.places.len() / 2]);
    assert!(middle.1.abs() < 30.0, "{middle:?}");
}

#[test]
fn stored_network_is_unchanged_and_extends_like_a_new_one() {
    let plane = planes()[1];
    let first: &[(f64, f64)] = &[(-500.0, 0.0), (500.0, 0.0)];
    let second: &[(f64, f64)] = &[(0.0, -400.0), (0.0, 400.0)];
    let kept = Net::from_bytes(&net(plane, &[first]).to_bytes()).unwrap();
    assert_eq!(kept, net(plane, &[first]));
    let mut grown = Builder::of(&kept);
    grown.add(&track(plane, second), 1);
    assert_eq!(grown.finish(), net(plane, &[first, second]));
    assert!(kept.is_of(&[0]) && !kept.is_of(&[0, 1]));
}

#[test]
fn bytes_that_were_cut_or_changed_are_refused() {
    let whole = net(planes()[0], &[&[(0.0, 0.0), (100.0, 0.0)]]).to_bytes();
    assert!(Net::from_bytes(&whole).is_ok());
    for length in 0..whole.len() {
        assert!(Net::from_bytes(&whole[..length]).is_err(), "{length}");
    }
    let mut changed = whole;
    changed[8..16].copy_from_slice(&u64::MAX.to_le_bytes());
    assert!(Net::from_bytes(&changed).is_err());
}

#[test]
fn gap_remains_until_recorded_with_signal() {
    let plane = planes()[0];
    let mut lost = track(plane, &[(0.0, 0.0), (100.0, 0.0)]);
    lost.last_mut().unwrap().gap_after = true;
    lost.extend(track(plane, &[(300.0, 0.0), (400.0, 0.0)]));
    let mut builder = Builder::default();
    builder.add(&lost, 1);
    let goal = Entry { at: plane.from_plane(400.0, 0.0) };
    let route = builder.finish().quickest(plane.from_plane(0.0, 0.0), &[goal], None).unwrap();
    assert!(route.gaps.iter().any(|gap| *gap));
}

#[test]
fn times_between_many_places_are_those_of_single_routes() {
    let plane = planes()[0];
    let net = net(
        plane,
        &[
            &[(-500.0, 0.0), (500.0, 0.0)],
            &[(3.0, -400.0), (3.0, 400.0)],
            &[(3.0, 380.0), (300.0, 200.0), (480.0, 3.0)],
            &[(5_000.0, 0.0), (5_300.0, 50.0)],
        ],
    );
    let places: Vec<LatLon> = [
        (-480.0, 20.0),
        (5.0, 395.0),
        (200.0, 260.0),
        (0.0, -300.0),
        (470.0, 90.0),
        (5_100.0, 0.0),
        (2_500.0, 0.0),
    ]
    .into_iter()
    .map(|(east, north)| plane.from_plane(east, north))
    .collect();
    let times = net.times(&places);
    for (a, from) in places.iter().enumerate() {
        for (b, to) in places.iter().enumerate() {
            let single = net.quickest(*from, &[Entry { at: *to }], None);
            let expected = single.map(|route| route.duration).filter(|_| b > a);
            assert_eq!(times[a][b], expected, "{a} {b}");
        }
    }
    assert!(times[0][1].is_some() && times[0][5].is_none() && times[0][6].is_none());
}

#[test]
fn mapped_paths_join_known_ones_and_are_counted() {
    let mapped = |class, plane: Plane, corners: &[(f64, f64)]| {
        let places = corners.iter().map(|(east, north)| plane.from_plane(*east, *north));
        BaseFeature { class, name: None, shape: BaseShape::Line(places.collect()) }
    };
    for plane in planes() {
        let known = net(plane, &[&[(0.0, 0.0), (400.0, 0.0)]]);
        let from = plane.from_plane(400.0, 900.0);
        let goal = Entry { at: plane.from_plane(0.0, 0.0) };
        assert!(known.quickest(from, &[goal], None).is_none());
        let joined = |class| {
            let mut builder = Builder::of(&known);
            // it crosses the known path in the middle of a piece of each
            builder.add_mapped(&[mapped(class, plane, &[(397.0, 905.0), (203.0, -95.0)])]);
            builder.finish()
        };
        assert_eq!(joined(BaseClass::Road), known);
        let net = joined(BaseClass::Path);
        let found = net.quickest(from, &[goal], None).unwrap();
        assert!((870.0..980.0).contains(&found.mapped().0), "{}", found.mapped());
        assert!(found.passes.contains(&1));
        // what was walked stays walked
        assert_eq!(net.pieces().filter(|piece| piece.2 > 0).count(), known.edges());
        let walked = net.quickest(plane.from_plane(100.0, 0.0), &[goal], None).unwrap();
        assert_eq!(walked.mapped(), Metres(0.0));
    }
}
