//! Tests of written positions, their readings, and the exact text of refusals.

use super::{read, read_columns};
use crate::earth::geodesic;
use crate::model::{CoordinateReading, WrittenCoordinates};
use crate::units::LatLon;

const WORLD: Option<&str> = Some("WGS84");

fn at(latitude: f64, longitude: f64) -> LatLon {
    LatLon::new(latitude, longitude).unwrap()
}

fn is_near(reading: &CoordinateReading, place: LatLon, metres: f64) -> bool {
    geodesic::distance(reading.at, place).0 <= metres
}

fn world(text: &str) -> WrittenCoordinates {
    read(text, WORLD).unwrap_or_else(|error| panic!("{text}: {error}"))
}

#[test]
fn one_place_in_many_clear_forms() {
    let place = at(-42.512_345, 146.256_789);
    for text in [
        "-42.512345, 146.256789",
        "-42.512345 146.256789",
        "\u{2212}42.512345;146.256789",
        "42.512345 S 146.256789 E",
        "42.512345S,146.256789E",
        "S42.512345 E146.256789",
        "S 42.512345, E 146.256789",
        "146.256789 E 42.512345 S",
        "-42,512345 146,256789",
        "-42,512345; 146,256789",
        "42,512345\u{b0} S, 146,256789\u{b0} E",
        "lat: -42.512345 lon: 146.256789",
        "Longitude 146.256789, Latitude -42.512345",
        "42.512345 south, 146.256789 east",
        "-42.512345 S 146.256789 E",
        "42\u{b0}30.7407'S 146\u{b0}15.4073'E",
        "42 30.7407 S 146 15.4073 E",
        "S42 30.7407 E146 15.4073",
        "42\u{b0} 30\u{2032} 44.44\u{2033} S, 146\u{b0} 15\u{2032} 24.44\u{2033} E",
        "42d30m44.44s S 146d15m24.44s E",
        "42:30:44.44 S 146:15:24.44 E",
        "42-30-44.44S 146-15-24.44E",
        "42 30 44.44 S 146 15 24.44 E",
        "42\u{ba}30'44.44''S 146\u{ba}15'24.44''E",
        "42,30,44.44 S 146,15,24.44 E",
        "4230.7407S 14615.4073E",
        "423044.44S 1461524.44E",
        "-42 30 44.44 146 15 24.44",
        "-42\u{b0}30'44.44\" 146\u{b0}15'24.44\"",
    ] {
        let written = world(text);
        assert_eq!(written.readings.len(), 1, "{text}: {:?}", written.readings);
        assert!(is_near(&written.readings[0], place, 1.0), "{text}: {:?}", written.readings);
        assert_eq!(written.verbatim, text);
    }
}

#[test]
fn unambiguous_forms_have_no_sign_slips() {
    assert_eq!(world("42.512345 S 146.256789 E").slips, []);
    let manners = |text: &str| -> Vec<String> {
        world(text).slips.into_iter().map(|slip| slip.manner).collect()
    };
    assert_eq!(manners("-42.5123, 146.2567"), Vec::<String>::new());
    assert_eq!(manners("-42.5123, 46.2567"), ["decimal degrees, longitude first"]);
}

#[test]
fn a_pair_without_signs_is_read_by_convention_and_its_slips_are_kept() {
    let written = world("42.5123 146.2567");
    assert!(is_near(&written.readings[0], at(42.5123, 146.2567), 0.1));
    assert_eq!(written.readings.len(), 1);
    assert!(written.slips.iter().any(|slip| is_near(slip, at(-42.5123, 146.2567), 0.1)));
    let slip = &written.slips[0];
    assert_eq!(slip.manner, "decimal degrees, latitude first, a minus or a letter missing");
    let swapped = world("8.2345 47.5123");
    assert!(is_near(&swapped.readings[0], at(8.2345, 47.5123), 0.1));
    assert!(swapped.slips.iter().any(|slip| is_near(slip, at(47.5123, 8.2345), 0.1)));
}

#[test]
fn longitude_first_is_clear_where_it_must_be() {
    let written = world("146.2567, -42.5123");
    assert_eq!(written.readings.len(), 1);
    assert!(is_near(&written.readings[0], at(-42.5123, 146.2567), 0.1));
    assert_eq!(written.readings[0].manner, "decimal degrees, longitude first");
}

#[test]
fn minutes_behind_the_point_are_a_slip() {
    let written = world("-42.30 146.15");
    assert!(is_near(&written.readings[0], at(-42.30, 146.15), 0.1));
    assert!(is_near(&written.slips[0], at(-42.5, 146.25), 0.1));
    assert_eq!(written.slips[0].manner, "decimal degrees, minutes after the decimal point");
}

#[test]
fn swapped_columns_are_invalid_and_explained() {
    let written = read_columns("146.2567", "-42.5123", WORLD).unwrap();
    assert_eq!(written.readings, []);
    assert!(is_near(&written.slips[0], at(-42.5123, 146.2567), 0.1));
    assert_eq!(written.slips[0].manner, "decimal degrees, latitude and longitude swapped");
    let written = read_columns("-42,5123", "146,2567", WORLD).unwrap();
    assert!(is_near(&written.readings[0], at(-42.5123, 146.2567), 0.1));
    let written = read_columns("42 30.738 S", "146 15.402 E", WORLD).unwrap();
    assert!(is_near(&written.readings[0], at(-42.5123, 146.2567), 0.1));
}

#[test]
fn letters_that_languages_disagree_about_leave_two_readings() {
    let written = world("47.5 N 8.25 O");
    assert_eq!(written.readings.len(), 2);
    assert!(is_near(&written.readings[0], at(47.5, 8.25), 0.1));
    assert!(is_near(&written.readings[1], at(47.5, -8.25), 0.1));
    let contradiction = world("-42.5 N 146.25 E");
    assert_eq!(contradiction.readings.len(), 2);
}

#[test]
fn utm_in_the_ways_it_is_written() {
    let place = at(-42.512_345, 146.256_789);
    for text in [
        "55G 438945 5293069",
        "55 G 0438945 5293069",
        "55G 438945mE 5293069mN",
        "55G E438945 N5293069",
        "UTM zone 55 south 438945 E 5293069 N",
        "438945 E 5293069 N 55 south",
        "55G N5293069 E438945",
        "55G 5293069 438945",
        "zone 55, south, 438945, 5293069",
        "55S 438945 5293069",
    ] {
        let written = world(text);
        assert_eq!(written.readings.len(), 1, "{text}: {:?}", written.readings);
        let off = geodesic::distance(written.readings[0].at, place).0;
        assert!(off < 2.0, "{text}: {off} m: {:?}", written.readings);
        assert!((written.readings[0].precision.0 - 1.414).abs() < 1e-3);
    }
}

#[test]
fn utm_without_its_half_is_open() {
    assert_eq!(world("55 438945 5293069").readings.len(), 2);
    // 3,700 km north is in band S; 3,700 km of the southern grid is off Antarctica, yet possible
    let written = world("55S 438945 4000000");
    let manners: Vec<_> = written.readings.iter().map(|reading| reading.manner.as_str()).collect();
    assert_eq!(
        manners,
        [
            "UTM zone 55 south (S read as the southern half)",
            "UTM zone 55 north (S read as the band from 32 to 40 N)"
        ]
    );
    let written = world("55Q 438945 5293069");
    assert_eq!(written.readings.len(), 2);
    assert!(written.readings[0].manner.contains("its band Q does not fit"));
}

#[test]
fn mgrs_of_every_precision_is_the_centre_of_its_square() {
    for (text, side) in [
        ("55GDN3894593068", 1.0),
        ("55G DN 3894 9306", 10.0),
        ("55GDN389930", 100.0),
        ("MGRS 55G DN 38 93", 1_000.0),
        ("55gdn39", 10_000.0),
        ("55GDN", 100_000.0),
    ] {
        let written = world(text);
        let reading = &written.readings[0];
        assert_eq!(written.readings.len(), 1);
        assert!((reading.precision.0 - side / 2_f64.sqrt()).abs() < 1e-6, "{text}");
        assert!(is_near(reading, at(-42.512_345, 146.256_789), side), "{text}: {reading:?}");
        assert!(reading.manner.contains("centre of a square of"), "{}", reading.manner);
    }
}

#[test]
fn named_grids_and_datums_are_converted() {
    let grid = read("438945 5293069", Some("EPSG:28355")).unwrap();
    assert!(is_near(&grid.readings[0], at(-42.512_345, 146.256_789), 5.0));
    assert_eq!(grid.readings[0].datum.0, 3.0);
    let zone = read("55G 438945 5293069", Some("GDA94")).unwrap();
    assert!(geodesic::distance(zone.readings[0].at, grid.readings[0].at).0 < 1e-3);
    let zone = read("438945 5293069", Some("WGS 84 / UTM zone 55S")).unwrap();
    assert!(is_near(&zone.readings[0], at(-42.512_345, 146.256_789), 2.0));
    let old = read("-42.5123 146.2567", Some("AGD66")).unwrap();
    let moved = geodesic::distance(old.readings[0].at, at(-42.5123, 146.2567)).0;
    assert!((150.0..250.0).contains(&moved), "{moved}");
    let changed = read("5293069 438945", Some("EPSG:28355")).unwrap();
    assert_eq!(changed.readings, []);
    assert!(changed.slips[0].manner.contains("swapped"));
}

#[test]
fn unstated_datum_is_reported_and_bounded() {
    let written = read("-42.5123 146.2567", None).unwrap();
    let reading = &written.readings[0];
    assert_eq!(
        reading.manner,
        "decimal degrees, latitude first, datum not stated, assumed to be WGS 84"
    );
    assert!((100.0..300.0).contains(&reading.datum.0), "{}", reading.datum);
}

#[test]
fn refusals_say_what_and_why() {
    let message = |text: &str, system: Option<&str>| {
        let error = read(text, system).unwrap_err();
        format!("{} | {}", error.what(), error.why().unwrap_or_default())
    };
    let cases = [
        ("", "it is empty"),
        ("by the hut", "\"by\" is not part of a position"),
        ("42.5", "there is one number where two are expected"),
        ("42 75 S 146 15 E", "it has 75 minutes"),
        ("42.5 30 S 146 15 E", "only the last part of an angle can have decimals"),
        ("42.5 N 46.5 S", "both angles have the same direction: two latitudes or two longitudes"),
        ("1 2 3", "3 numbers do not form two angles"),
        (
            "95.5 195.5",
            "these numbers are not a position: latitude 95.5 and longitude 195.5 are out \
                        of range (latitude is -90 to 90, longitude -180 to 180)",
        ),
    ];
    for (text, why) in cases {
        let expected = format!("\"{text}\" is not a position that trug can read | {why}");
        assert_eq!(message(text, WORLD), expected);
    }
    assert_eq!(
        message("438945 5293069", WORLD),
        "\"438945 5293069\" is not a position that trug can read | these numbers look like metres \
         on a grid: 438945 and 5293069 are not degrees, and no grid is named"
    );
    assert!(
        message("42.5 S 146 E", Some("the old grid"))
            .contains("not a known coordinate reference system")
    );
    assert!(message("55GDN123", WORLD).contains("MGRS"));
}
