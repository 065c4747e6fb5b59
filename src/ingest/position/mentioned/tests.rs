//! Positions within free text, in every notation, and texts that hold none.

use super::*;
use crate::earth::{datum, geodesic, grid};
use crate::ingest::position;
use crate::model::MentionedForm;
use crate::units::Metres;

/// A place in Tasmania, one in Norway and one in Switzerland.
const PLACES: [(f64, f64); 3] =
    [(-42.512_34, 146.256_78), (61.234_56, 7.098_76), (46.951_08, 7.438_64)];

fn finds(text: &str, at: LatLon, within: f64) -> bool {
    let close = |one: &Mentioned| geodesic::distance(one.at, at).0 <= within + one.precision.0;
    mentioned(text, Some(at)).iter().any(close)
}

/// Degrees, minutes and seconds of a number, to `decimals` of a second.
fn parts(degrees: f64) -> (f64, f64, f64) {
    let degrees = degrees.abs();
    let minutes = degrees.fract() * 60.0;
    (degrees.trunc(), minutes.trunc(), minutes.fract() * 60.0)
}

/// The place in the notations that people use.
fn written(at: LatLon) -> Vec<String> {
    let (latitude, longitude) = (at.latitude(), at.longitude());
    let (north, east) = (if latitude < 0.0 { "S" } else { "N" }, "E");
    let (a, b) = (latitude.abs(), longitude.abs());
    let ((d, m, s), (e, n, t)) = (parts(latitude), parts(longitude));
    let (dm, en) = (m + s / 60.0, n + t / 60.0);
    let utm = grid::utm(at);
    let (x, y, zone) = (utm.easting().0, utm.northing().0, utm.zone());
    let half = if utm.is_north() { "N" } else { "S" };
    let one = grid::mgrs(at, Metres(1.0));
    let (square, figures) = one.split_at(one.len() - 10);
    let (first, second) = figures.split_at(5);
    let comma = |degrees: f64| format!("{degrees:.5}").replace('.', ",");
    vec![
        format!("{latitude:.5} {longitude:.5}"),
        format!("{latitude:.5},{longitude:.5}"),
        format!("{longitude:.4} / {latitude:.4}"),
        format!("lat {latitude:.5} and long {longitude:.5}"),
        format!("{} {}", comma(latitude), comma(longitude)),
        format!("{}; {}", comma(latitude), comma(longitude)),
        format!("{a:.5}\u{b0}{north}, {b:.5}\u{b0}{east}"),
        format!("{north}{a:.5} {east}{b:.5}"),
        format!("{d:.0}\u{b0}{m:.0}'{s:.1}\"{north} {e:.0}\u{b0}{n:.0}'{t:.1}\"{east}"),
        format!(
            "{d:.0}\u{b0} {m:02.0}\u{2032} {s:04.1}\u{2033} {north}; {e:.0}\u{b0} {n:02.0}\u{2032} {t:04.1}\u{2033} {east}"
        ),
        format!("{d:.0} {m:.0} {s:.0} {north} {e:.0} {n:.0} {t:.0} {east}"),
        format!("{d:.0}-{m:.0}-{s:.0}{north}, {e:.0}-{n:.0}-{t:.0}{east}"),
        format!(
            "{d:.0} deg {m:.0} min {s:.0} sec {north}, {e:.0} deg {n:.0} min {t:.0} sec {east}"
        ),
        format!("{d:.0}d{m:.0}m{s:.1}s{north} {e:.0}d{n:.0}m{t:.1}s{east}"),
        format!("{d:.0}\u{b0}{dm:.3}'{north} {e:.0}\u{b0}{en:.3}'{east}"),
        format!("{d:.0} {dm:.3} {e:.0} {en:.3}"),
        format!("{north} {d:.0}\u{b0} {}' {east} {e:.0}\u{b0} {}'", comma(dm), comma(en)),
        format!("{d:02.0}{m:02.0}{s:02.0}{north} {e:03.0}{n:02.0}{t:02.0}{east}"),
        one.clone(),
        format!("{square} {first} {second}"),
        format!("{} {}", square.to_lowercase(), figures),
        format!("{} {first} {second}", &square[square.len() - 2..]),
        format!("{first} {second}"),
        format!("GR {} {}", &first[..3], &second[..3]),
        format!("grid ref. {}{}", &first[..3], &second[..3]),
        format!("{zone}{half} {x:.0} {y:.0}"),
        format!("zone {zone} E{x:.0} N{y:.0}"),
        format!("{x:.0}mE {y:.0}mN"),
        format!("N {y:.0} E {x:.0} (UTM {zone})"),
        format!("geo:{latitude:.5},{longitude:.5};u=10"),
        format!("https://maps.example.org/?q={latitude:.5}%2C{longitude:.5}&z=15"),
        format!("https://maps.example.org/#map=15/{latitude:.5}/{longitude:.5}"),
        format!("maps.example.org/?mlat={latitude:.5}&mlon={longitude:.5}"),
        format!("wp {latitude:.5}\u{200b} {longitude:.5}"),
    ]
}

#[test]
fn every_notation_is_found_within_text() {
    for (latitude, longitude) in PLACES {
        let at = LatLon::new(latitude, longitude).unwrap();
        for written in written(at) {
            for text in [
                written.clone(),
                format!("On a fallen log below the track at {written}, with 12 caps, 3.5 cm"),
                format!("photos 2041, 2042. {written}; height 450 m, 3 May 2026"),
            ] {
                assert!(finds(&text, at, 5.0), "{text}");
            }
        }
    }
}

#[test]
fn metres_with_short_northings_are_found_near_the_equator() {
    let at = LatLon::new(0.046_84, 36.903_19).unwrap();
    for text in ["log E266618 N5180", "sweet UTM 266618 5180", "log 266618mE 5180mN", "5180/266618"]
    {
        assert!(finds(text, at, 5.0), "{text}");
    }
    for (latitude, north) in [(0.000_5, true), (0.046_84, true), (-0.04, false), (-0.000_2, false)]
    {
        let at = LatLon::new(latitude, 36.903_19).unwrap();
        let utm = grid::utm(at);
        let (east, own) = (utm.easting().0, utm.northing().0);
        let other = if north { own + 1e7 } else { own - 1e7 };
        for northing in [own, other] {
            let text = format!("log E{east:.0} N{northing:.0}");
            assert!(finds(&text, at, 5.0), "{text}");
        }
    }
}

#[test]
fn metres_on_national_grids_are_found_near_the_place() {
    for (code, latitude, longitude) in [
        (2_056, 46.951_08, 7.438_64),
        (27_700, 56.796_8, -5.003_5),
        (2_193, -41.2, 174.9),
        (31_468, 48.1, 11.6),
    ] {
        let at = LatLon::new(latitude, longitude).unwrap();
        let (x, y) = datum::from_wgs84(&format!("EPSG:{code}"), at).unwrap();
        for text in [
            format!("am Bach {x:.0} / {y:.0}, nass"),
            format!("EPSG:{code} {x:.1} {y:.1}"),
            format!("{} {}", grouped(x), grouped(y)),
            format!("ref {:03.0} {:03.0}", (x / 100.0).floor() % 1e3, (y / 100.0).floor() % 1e3),
        ] {
            assert!(finds(&text, at, 100.0), "{text}");
        }
    }
    // any grid that the text names
    let at = LatLon::new(35.7, 139.7).unwrap();
    let (x, y) = datum::from_wgs84("EPSG:6677", at).unwrap();
    assert!(finds(&format!("epsg 6677: {x:.0}, {y:.0}"), at, 100.0));
}

fn grouped(metres: f64) -> String {
    let digits = format!("{metres:.0}");
    let groups: Vec<&str> =
        digits.as_bytes().rchunks(3).rev().map(|it| std::str::from_utf8(it).unwrap()).collect();
    groups.join("'")
}

#[test]
fn what_the_parser_of_positions_reads_is_found_in_text() {
    for text in [
        "-42.51234 146.25678",
        "42 30.74 S 146 15.41 E",
        "42 30 44 S 146 15 25 E",
        "55G 438880 5293530",
        "55GDN3888093530",
        "55G DN 388 809 353 0",
        "ZAH2000000000",
        "MGRS: 55G DN 38880 93530",
        "42.5123 S, 146.2568 O",
        "S 42 30 44.4 E 146 15 24.4",
        "42,51234 146,25678",
        "423044S 1461525E",
        "438880mE 5293530mN zone 55G",
    ] {
        let read = position::read(text, None).unwrap();
        let found = mentioned(&format!("seen at {text} again"), None);
        for reading in read.readings.iter().chain(&read.slips) {
            let close =
                |one: &Mentioned| geodesic::distance(one.at, reading.at).0 < 1.0 + one.precision.0;
            assert!(found.iter().any(close), "{text}: {}", reading.manner);
        }
    }
}

#[test]
fn ordinary_notes_mention_no_position_nearby() {
    let at = LatLon::new(-42.512_34, 146.256_78).unwrap();
    for text in [
        "12 caps on a log of 40 cm, photos 2041 to 2044",
        "Cap 12.5 x 4.25 cm, spores 8.5-9.75 x 4.5-5.25 um, Q 1.75",
        "2026-05-03T14:32:05+10:00, IMG_20260503_143205.jpg, IMG_2041.jpg",
        "f47ac10b-58cc-4372-a567-0e02b2c3d479",
        "on Nothofagus cunninghamii, d.b.h. 120 cm, 35 m tall, altitude 450 m, slope 25\u{b0} facing 146\u{b0}",
        "KOH 5 % on flesh: yellow; found 3, 4 and 5 May at 10:15, 11:20, 12:25",
        "",
    ] {
        let near = |one: &Mentioned| {
            one.precision.0 < 2_000.0 && geodesic::distance(one.at, at).0 < 5_000.0
        };
        assert!(!mentioned(text, Some(at)).iter().any(near), "{text}");
    }
}

#[test]
fn hostile_texts_are_bounded() {
    let long = "42 30 44 146 15 25, ".repeat(20_000);
    let began = std::time::Instant::now();
    let _ = mentioned(&long[..200_000], None);
    assert!(began.elapsed().as_secs() < 60, "{:?}", began.elapsed());
    for text in [
        "geo:",
        "\u{ff11}\u{ff12}\u{ff13}",
        "1,2,3,4",
        "999999999999999999999 1e308",
        "55G",
        "EPSG EPSG: 1",
    ] {
        let _ = mentioned(text, LatLon::new(0.0, 0.0).ok());
    }
}

/// Coordinates of a place in unusual units, each alone and both.
fn unusual(at: LatLon) -> Vec<String> {
    let (north, east) = (at.latitude().abs(), at.longitude().abs());
    let utm = grid::utm(at);
    let (x, y) = (utm.easting().0 / 1e3, utm.northing().0 / 1e3);
    let minutes = |angle: f64| angle.fract() * 60.0;
    let decimals = |angle: f64| format!("{:.5}", angle.fract())[2..].to_owned();
    vec![
        format!("{north:.5e} {east:.5e}"),
        format!("{north:.5E}"),
        format!("{:.5} x 10^1", north / 10.0),
        format!("{:.0} {:.0}", north * 1e6, east * 1e6),
        format!("{:.0}", east * 1e7),
        format!("{:.6} rad", north.to_radians()),
        format!("{:.5} {:.5}", north.to_radians(), east.to_radians()),
        format!("{:.4} gon", north / 0.9),
        format!("{x:.2} {y:.2}"),
        format!("N{y:.2}"),
        format!("{:.2}' and {:.2}'", minutes(north), minutes(east)),
        format!("{:.3} {:.3}", minutes(north), minutes(east)),
        format!(".{} .{}", decimals(north), decimals(east)),
        format!("{} / {}", decimals(north), decimals(east)),
    ]
}

#[test]
fn unusual_units_and_parts_are_found_at_the_place() {
    for (latitude, longitude) in
        [(47.305_12, 11.414_44), (-42.616_71, 146.092_51), (52.5103, 13.3927)]
    {
        let at = LatLon::new(latitude, longitude).unwrap();
        for written in unusual(at) {
            let text = format!("log by the stream {written} with caps");
            assert!(!mentioned(&text, Some(at)).is_empty(), "{text}");
            let far = LatLon::new(latitude - 3.271, longitude + 4.433).unwrap();
            let elsewhere = mentioned(&text, Some(far));
            let near = |one: &&Mentioned| {
                one.form == MentionedForm::Coordinate && geodesic::distance(one.at, far).0 < 800.0
            };
            assert!(!elsewhere.iter().any(|one| near(&one)), "{text}: {elsewhere:?}");
        }
    }
    let at = LatLon::new(52.517, 13.388).unwrap();
    for locator in ["JO62qm64", "jo62qm64qc"] {
        let found = mentioned(locator, Some(at));
        assert!(found.iter().any(|one| one.form == MentionedForm::Code), "{locator}");
    }
}
