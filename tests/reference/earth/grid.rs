//! Sources: `data/grid.csv` (PROJ through pyproj); MGRS references worked with GeographicLib's
//! `GeoConvert`, among them the exceptions of Norway and Svalbard and the polar grid; PROJ's own
//! regression file `test/gie/builtins.gie` (MIT licence), section `utm`.

use trug::earth::{datum, grid};
use trug::units::{LatLon, Metres};

use super::{number, rows};

#[test]
fn utm_and_convergence_are_those_of_proj() {
    let table = rows("grid.csv");
    assert!(table.len() >= 60);
    for row in &table {
        let place = LatLon::new(number(row, 0), number(row, 1)).unwrap();
        let utm = grid::utm(place);
        assert_eq!(f64::from(utm.zone()), number(row, 2), "{row:?}");
        assert_eq!(if utm.is_north() { "north" } else { "south" }, &row[3]);
        assert!((utm.easting().0 - number(row, 4)).abs() < 1e-3, "{row:?} {utm:?}");
        assert!((utm.northing().0 - number(row, 5)).abs() < 1e-3, "{row:?} {utm:?}");
        let back = utm.to_latlon();
        assert!((back.latitude() - place.latitude()).abs() < 1e-8, "{row:?} {back:?}");
        assert!((back.longitude() - place.longitude()).abs() < 1e-7, "{row:?} {back:?}");
        // PROJ differentiates numerically; its figures are good to about 1e-6 degree
        let convergence = grid::convergence(place).0.0;
        assert!((convergence - number(row, 6)).abs() < 2e-6, "{row:?} {convergence}");
    }
}

#[test]
fn references_with_exceptions_are_right() {
    for (latitude, longitude, reference) in [
        (60.4, 5.3, "32VKN9619101684"),
        (78.22, 15.63, "33XWG1435782999"),
        (0.0, 0.0, "31NAA6602100000"),
        (84.5, 10.0, "ZBA0611398202"),
    ] {
        let place = LatLon::new(latitude, longitude).unwrap();
        assert_eq!(grid::mgrs(place, Metres(1.0)), reference);
        let square = grid::from_mgrs(reference).unwrap();
        let off = trug::earth::geodesic::distance(square.centre, place);
        assert!(off.0 <= square.half_diagonal().0 + 1e-3, "{reference} {off}");
    }
}

#[test]
fn the_projection_of_proj_s_own_regression_value_holds() {
    // +proj=utm +ellps=GRS80 +zone=32, accept 12 56, expect 687071.43910944 6210141.32674801
    let (place, _) =
        datum::to_wgs84("EPSG:25832", 687_071.439_109_44, 6_210_141.326_748_01).unwrap();
    assert!((place.longitude() - 12.0).abs() < 1e-10, "{place:?}");
    assert!((place.latitude() - 56.0).abs() < 1e-10, "{place:?}");
}
