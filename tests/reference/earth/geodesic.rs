//! Source: `data/geodesic.csv`, the test rows of GeographicLib's Python package.

use trug::earth::geodesic;
use trug::units::{Degrees, LatLon, Metres, TrueBearing};

use super::{number, rows};

/// The rows carry 1e-9 m; 1e-8 m and 1e-9 degree are what double precision leaves.
const METRES: f64 = 1e-8;
const DEGREES: f64 = 1e-9;

#[test]
fn distances_bearings_and_destinations_are_those_of_geographiclib() {
    let table = rows("geodesic.csv");
    assert_eq!(table.len(), 20);
    for row in &table {
        let from = LatLon::clamped(number(row, 0), number(row, 1));
        let to = LatLon::clamped(number(row, 3), number(row, 4));
        let (azimuth, length) = (number(row, 2), number(row, 6));
        let (distance, bearing) = geodesic::leg(from, to);
        assert!((distance.0 - length).abs() < METRES, "{row:?} {}", distance.0);
        let turn = bearing.turn_to(TrueBearing::new(Degrees(azimuth)));
        assert!(turn.abs().0 < DEGREES, "{row:?} {turn:?}");
        let end = geodesic::destination(from, TrueBearing::new(Degrees(azimuth)), Metres(length));
        assert!((end.latitude() - to.latitude()).abs() < DEGREES, "{row:?} {end:?}");
        assert!(Degrees(end.longitude() - to.longitude()).shortest_turn().abs().0 < DEGREES);
    }
}
