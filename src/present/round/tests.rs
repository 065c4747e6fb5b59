//! Tests that a round's times agree on every output and that nothing is drawn outside of the printable
//! area. Layer: `present`.

#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a margin in pixels")]

use super::*;
use crate::present::map::ground::MapGround;
use crate::present::render;

fn at(latitude: f64, longitude: f64) -> LatLon {
    LatLon::new(latitude, longitude).unwrap()
}

pub(super) fn round(stops: usize) -> PlannedRound {
    let set_out: Timestamp = "2027-05-07T23:00:00Z".parse().unwrap();
    let after = |minutes: f64| Seconds(60.0 * minutes).after(set_out);
    let place = |index: usize| {
        let turn = index as f64 / (stops + 1) as f64 * std::f64::consts::TAU;
        at(-42.61 + 0.004 * turn.sin(), 146.1 + 0.006 * turn.cos())
    };
    let stop = |index: usize| Stop {
        name: format!("{} Moss Terrace", 30 + index),
        at: place(index + 1),
        chance: (0.34, 0.1, 0.71),
        arrive: after(20.0 * index as f64 + 8.0),
        leave: after(20.0 * index as f64 + 20.0),
        leave_by: after(170.0),
    };
    let leg = |index: usize| Leg {
        line: vec![place(index % (stops + 1)), place((index + 1) % (stops + 1))],
        distance: Metres(312.0),
        duration: Seconds(480.0),
        known: index.is_multiple_of(2),
    };
    PlannedRound {
        date: jiff::civil::date(2027, 5, 8),
        zone: TimeZone::get("Australia/Hobart").unwrap(),
        taxon: None,
        from: (place(0), "Car park".into()),
        stops: (0..stops).map(stop).collect(),
        legs: (0..=stops).map(leg).collect(),
        set_out,
        turn_back_by: after(150.0),
        turn_back_from: None,
        back: after(160.0),
        back_by: after(180.0),
        stay: Seconds(720.0),
        expected: 1.9,
        interval: (0, 4),
        exact: true,
        remark: String::new(),
        others: vec![at(-42.611, 146.101)],
        left_out: (3, 0.05),
        positions: "Positions are exact.".into(),
    }
}

#[test]
fn figure_is_described_and_its_words_have_six_points_and_more() {
    let drawn = figure::drawing(&round(6), &MapGround::default()).unwrap();
    let description = crate::present::markup::text_of(&drawn, "desc").unwrap();
    assert!(description.contains("turn back") && description.contains("30 Moss Terrace 34 %"));
    for part in drawn.split("font-size=\"").skip(1) {
        let size: f64 = part[..part.find('"').unwrap()].parse().unwrap();
        assert!(size >= 6.0, "{size}");
    }
}

/// The text of a drawing, its lines joined.
fn words_of(drawing: &str) -> String {
    let parts = drawing.split('>').filter_map(|part| part.split('<').next());
    parts.filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
}

#[test]
fn every_stop_and_the_time_to_turn_back_are_on_figure_and_card() {
    let round = round(5);
    let ground = MapGround::default();
    for drawn in [figure::drawing(&round, &ground), card::drawing(&round, &ground)] {
        let drawn = drawn.unwrap();
        for index in 0..5 {
            assert!(drawn.contains(&format!("{} Moss Terrace", 30 + index)));
        }
        assert!(drawn.contains("urn back by") && drawn.contains("11:30"), "{drawn}");
        assert!(words_of(&drawn).contains("3 sites with a chance below 5 % are left out."));
        assert!(!drawn.contains("NaN"));
    }
    let none = PlannedRound { stops: Vec::new(), ..round };
    assert!(figure::drawing(&none, &ground).is_none());
}

#[test]
fn a_time_to_turn_back_before_the_plan_ends_names_its_stop() {
    let ground = MapGround::default();
    let round = PlannedRound { turn_back_from: Some(3), ..round(6) };
    for drawn in [figure::drawing(&round, &ground), card::drawing(&round, &ground)] {
        let words = words_of(&drawn.unwrap());
        assert!(words.contains("urn back from stop 3 by 11:30"), "{words}");
        assert!(words.contains("By plan stop 6 is left at 11:00."), "{words}");
        for part in ["start and end", "stop, by its number", "other site", "3: 32 Moss Terrace"] {
            assert!(words.contains(part), "{part}: {words}");
        }
    }
}

#[test]
fn card_keeps_its_ink_inside_the_printable_area() {
    for stops in [1, 6, 16] {
        let svg = card::drawing(&round(stops), &MapGround::default()).unwrap();
        let dots = 100.0;
        let image = image::load_from_memory(&render::png(&svg, dots).unwrap()).unwrap().to_luma8();
        let margin = (11.6 / 25.4 * dots) as u32;
        let (wide, high) = image.dimensions();
        let outside = image.enumerate_pixels().filter(|(x, y, pixel)| {
            let edge = *x < margin || *y < margin || *x >= wide - margin || *y >= high - margin;
            edge && pixel.0[0] < 250
        });
        assert_eq!(outside.count(), 0, "{stops}");
    }
}

#[test]
fn files_hold_start_stops_and_legs() {
    let round = round(3);
    let gpx = files::gpx(&round);
    assert_eq!((gpx.matches("<wpt ").count(), gpx.matches("<rte>").count()), (4, 4));
    let kml = files::kml(&round);
    assert_eq!(kml.matches("<Placemark>").count(), 8);
    assert!(kml.contains("<name>3 to start</name>"), "{kml}");
}

#[test]
fn distances_are_rounded_as_they_are_walked() {
    for (metres, words) in [
        (1.0, "5 m"),
        (38.0, "40 m"),
        (98.0, "100 m"),
        (312.0, "310 m"),
        (994.0, "990 m"),
        (996.0, "1.0 km"),
        (2_361.0, "2.4 km"),
        (12_400.0, "12 km"),
    ] {
        assert_eq!(walked(Metres(metres)), words);
    }
}
