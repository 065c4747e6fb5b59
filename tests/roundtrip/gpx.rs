//! GPX written by trug is read back unchanged by its own reader and by crate `gpx`. The output is
//! left in the test folder, where `tests/outside/gpx_schema.py` validates it against the schema.

use std::fs;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::tz::TimeZone;
use trug::ingest::gpx::{read, read_from};
use trug::model::{Fix, KeptFind, Route, TrackPoint, Waypoint};
use trug::present::gpx::{NamedTrack, finds, routes, tracks};
use trug::store::{FindQuery, Store};
use trug::units::{GpsHeight, LatLon, Metres};

use crate::some_day::{at_second, day, place};

/// Positions are written to 1e-8 degree.
const CLOSE: f64 = 0.51e-8;

fn left_for_the_schema(name: &str, text: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("gpx");
    fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    fs::write(&path, text).unwrap();
    path
}

fn assert_close(a: LatLon, b: LatLon) {
    assert!((a.latitude() - b.latitude()).abs() < CLOSE, "{a:?} {b:?}");
    assert!((a.longitude() - b.longitude()).abs() < CLOSE, "{a:?} {b:?}");
}

/// The instant of the written time.
fn as_written(find: &KeptFind) -> Option<Timestamp> {
    let zone = TimeZone::get(&find.zone).unwrap();
    let local = find.record.date.unwrap_or(find.date).to_datetime(find.record.time?.clock);
    Some(zone.to_timestamp(local).unwrap())
}

#[test]
fn finds_come_back_as_waypoints() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::create_or_open(&folder.path().join("trug.gpkg")).unwrap();
    store.import(&[day("Tamsin Hollow", "2026-05-03", 5)], at_second(0)).unwrap();
    let kept = store.finds(&FindQuery::default()).unwrap();
    let located: Vec<_> = kept.iter().filter(|find| find.place.is_some()).collect();
    assert!(located.len() < kept.len(), "one find of the day has no position");
    let text = finds(&kept);
    let file = read(&left_for_the_schema("finds.gpx", &text)).unwrap();
    assert!(file.set_aside.is_empty() && file.remarks.is_empty(), "{file:?}");
    assert_eq!(file.waypoints.len(), located.len());
    for (waypoint, find) in file.waypoints.iter().zip(located) {
        let there = find.place.as_ref().unwrap();
        assert_close(waypoint.fix.at, there.at);
        // the written time stays where the derived one differs from it
        let derived = find.when.map(|(instant, _)| instant);
        let apart = |written: Timestamp| derived.unwrap().duration_since(written).as_secs().abs();
        let written = as_written(find).filter(|written| apart(*written) > 360);
        let expected = written.or(derived);
        assert_eq!(waypoint.fix.time, expected, "{:?}", find.record.time);
        assert_eq!(waypoint.name, find.record.number.as_ref().map(|number| number.0.clone()));
        assert!(waypoint.comment.as_ref().unwrap().contains(&there.radius.to_string()));
    }
    let second_opinion = gpx::read(text.as_bytes()).unwrap();
    assert_eq!(second_opinion.waypoints.len(), file.waypoints.len());
}

#[test]
fn track_is_read_back_with_its_gaps() {
    let day = day("Tamsin Hollow", "2026-05-03", 1);
    let named = NamedTrack {
        name: "Ridge <north> & back",
        description: Some("a line\nand another"),
        points: &day.track,
    };
    let text = tracks(&[named]);
    let file = read(&left_for_the_schema("way.gpx", &text)).unwrap();
    assert!(file.set_aside.is_empty() && file.remarks.is_empty());
    assert_eq!(file.tracks[0].name.as_deref(), Some(named.name));
    assert_eq!(file.tracks[0].description.as_deref(), named.description);
    let gaps = day.track.iter().filter(|point| point.gap_after).count();
    assert_eq!(file.tracks[0].segments.len(), gaps + 1);
    let pairs: Vec<(&Fix, &TrackPoint)> = file.fixes().zip(&day.track).collect();
    assert_eq!(pairs.len(), day.track.len());
    for (fix, point) in pairs {
        assert_close(fix.at, point.at);
        assert_eq!(fix.time, Some(point.time));
        assert_eq!(fix.height, point.height);
    }
}

#[test]
fn a_route_comes_back_with_its_waypoints() {
    let waypoint = |name: &str, at: LatLon| Waypoint {
        fix: Fix { height: Some(GpsHeight(Metres(401.25))), ..Fix::bare(at, Some(at_second(7))) },
        name: Some(name.to_owned()),
        description: Some("turn left & up".into()),
        comment: None,
        symbol: Some("Flag".into()),
        averaged: None,
    };
    let ends =
        [waypoint("car", place(0)), waypoint("saddle \"3\"", LatLon::new(-90.0, 180.0).unwrap())];
    let route = Route { name: Some("way out".into()), points: ends.to_vec() };
    let text = routes(&[route], &ends[..1]);
    let file = read(&left_for_the_schema("route.gpx", &text)).unwrap();
    assert_eq!(file.routes[0].name.as_deref(), Some("way out"));
    assert_eq!(file.waypoints.len(), 1);
    for (back, before) in file.routes[0].points.iter().zip(&ends) {
        assert_close(back.fix.at, before.fix.at);
        assert_eq!((&back.name, &back.description), (&before.name, &before.description));
        assert_eq!((&back.symbol, back.fix.time), (&before.symbol, before.fix.time));
        assert_eq!(back.fix.height, before.fix.height);
    }
    left_for_the_schema("empty.gpx", &finds(&[]));
    assert!(read_from(finds(&[]).as_bytes(), Path::new("empty.gpx")).unwrap().waypoints.is_empty());
}
