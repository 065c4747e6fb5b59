//! Text messages of routes: for any request, one message of 160 GSM-7 characters with everything
//! that a recipient needs.

use proptest::prelude::*;
use trug::earth::declination::Compass;
use trug::earth::local::Plane;
use trug::model::{Activity, TrackPoint};
use trug::present::way_out::message::{compose, fits};
use trug::units::{
    Declination, Degrees, LatLon, MagneticModel, Metres, Radius95, Seconds, TimeZone, Timestamp,
};
use trug::wayout::goal::Goal;
use trug::wayout::legs::Paces;
use trug::wayout::report::{Catching, Request, find};
use trug::wayout::start::Start;

/// A walk of so many legs that turn at random, a fix every ten seconds.
fn track(origin: LatLon, now: Timestamp, turns: &[f64]) -> Vec<TrackPoint> {
    let plane = Plane::about(origin);
    let (mut east, mut north, mut points) = (0.0, 0.0, Vec::new());
    let count = turns.len() * 20;
    for index in 0..count {
        let heading = turns[index / 20];
        east += 9.0 * heading.sin();
        north += 9.0 * heading.cos();
        points.push(TrackPoint {
            time: Seconds(-10.0 * (count - index) as f64).after(now),
            at: plane.from_plane(east, north),
            height: None,
            radius: Radius95::new(Metres(8.0)).unwrap(),
            activity: Activity::Walking,
            gap_after: false,
        });
    }
    points
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_way_out_is_one_message(
        latitude in -89.9..89.9_f64,
        longitude in -180.0..180.0_f64,
        away in (-30_000.0..30_000.0_f64, -30_000.0..30_000.0_f64),
        name in ".{0,40}",
        radius in 1.0..5_000.0_f64,
        second in 1_735_700_000_i64..1_893_400_000,
        turns in proptest::collection::vec(0.0..6.2_f64, 0..12),
    ) {
        let origin = LatLon::new(latitude, longitude).unwrap();
        let now = Timestamp::from_second(second).unwrap();
        let track = track(origin, now, &turns);
        let start = match Start::last_fix(&track, now, false) {
            Ok(start) => start,
            Err(_) => Start::stated(origin, Radius95::new(Metres(radius)).unwrap()),
        };
        let at = if track.is_empty() { Plane::about(origin).from_plane(away.0, away.1) } else { origin };
        let request = Request {
            now,
            zone: TimeZone::UTC,
            start,
            goals: vec![Goal { name, at }],
            declination: Declination {
                east: Degrees(14.0),
                uncertainty: Degrees(0.4),
                model: MagneticModel::Stated,
                date: jiff::civil::date(2026, 5, 1),
                place: origin,
            },
            compass: Compass::Good,
            track: &track,
            net: None,
            mapped: None,
            ground: None,
            avoid: &[],
            line: Catching::IfKnown,
            paces: Paces::ACROSS_COUNTRY,
            steep: Degrees(30.0),
        };
        if let Ok(answer) = find(&request) {
            let text = compose(&answer);
            prop_assert!(fits(&text), "{} {text}", text.chars().count());
            let at = answer.from.at;
            let figures = [4, 5].map(|n| format!("{:.n$},{:.n$}", at.latitude(), at.longitude()));
            prop_assert!(figures.iter().any(|figures| text.contains(figures)), "{at}: {text}");
            // the time of dark, or that there is only twilight
            prop_assert!(text.contains("dark") || text.contains("twilight all day"), "{text}");
            for part in ["MAG ", "112", "+-"] {
                prop_assert!(text.contains(part), "{part} in {text}");
            }
        }
    }
}
