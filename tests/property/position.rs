//! Positions from arbitrary text: no panic, no impossible coordinates; printed positions can be
//! parsed again.

use proptest::prelude::*;
use trug::earth::{geodesic, grid};
use trug::ingest::position;
use trug::units::{LatLon, Metres};

/// Building blocks of positions, in any order.
fn pieces() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        "[0-9]{1,8}",
        "[0-9]{1,3}[.,][0-9]{0,6}",
        "[NSEWOnsewo]",
        "[A-Z]{1,3}",
        "[-+\u{2212}]",
        "[\u{b0}'\"\u{2032}\u{ba}]",
        "[ ,;/:]",
        Just("''".to_owned()),
        Just("UTM".to_owned()),
        Just("zone".to_owned()),
        Just("lat".to_owned()),
        ".{1,2}",
    ];
    proptest::collection::vec(piece, 0..12).prop_map(|pieces| pieces.concat())
}

fn check(text: &str) {
    if let Ok(written) = position::read(text, Some("WGS84")) {
        for reading in written.readings.iter().chain(&written.slips) {
            assert!(reading.precision.0.is_finite() && reading.precision.0 >= 0.0, "{text}");
            assert!(!reading.manner.is_empty());
        }
        assert!(!written.readings.is_empty() || !written.slips.is_empty(), "{text}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn any_text(text in ".{0,60}") {
        check(&text);
    }

    #[test]
    fn any_pieces(text in pieces()) {
        check(&text);
    }

    #[test]
    fn any_columns(latitude in pieces(), longitude in pieces()) {
        let _ = position::read_columns(&latitude, &longitude, Some("WGS84"));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn what_is_printed_can_be_read(latitude in -80.0..84.0_f64, longitude in -179.99..180.0_f64) {
        let place = LatLon::new(latitude, longitude).unwrap();
        let texts = [
            (place.to_string(), 1.0),
            (format!("{latitude:.7}, {longitude:+.7}"), 0.1),
            (grid::utm(place).to_string(), 1.0),
            (grid::mgrs(place, Metres(1.0)), 1.0),
        ];
        for (text, metres) in texts {
            let written = position::read(&text, Some("WGS84")).unwrap();
            prop_assert_eq!(written.readings.len(), 1, "{}: {:?}", text, written.readings);
            let off = geodesic::distance(written.readings[0].at, place).0;
            prop_assert!(off <= metres, "{}: {} m", text, off);
        }
    }
}

proptest! {
    // an unknown name is searched in the whole register
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn any_system(system in prop_oneof!["[A-Z0-9/ ]{0,12}", "(UTM|utm|\u{130}utm) ?(zone)? ?[0-9]{0,3}.{0,3}", ".{0,12}"]) {
        let _ = position::read("-42.5 146.25", Some(&system));
        let _ = position::read("438945 5293069", Some(&system));
    }
}
