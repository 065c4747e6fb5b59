//! `trug wayout` and `trug trailhead` as a user runs them.

use serde_json::Value;

use crate::run::{Desk, samples};

const FROM: [&str; 6] =
    ["wayout", "--from", "-42.6189 146.0912", "--at", "2026-05-16T15:20+10:00", "--within"];

fn ask(desk: &Desk, more: &[&str]) -> String {
    let arguments: Vec<&str> = FROM.iter().chain(&["20"]).chain(more).copied().collect();
    desk.told(&arguments)
}

fn json(desk: &Desk, more: &[&str]) -> Value {
    let arguments: Vec<&str> = FROM.iter().chain(&["20", "--json"]).chain(more).copied().collect();
    let output = desk.run(&arguments);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn a_position_that_begins_with_a_minus_sign_leads_to_a_position() {
    let answer = json(&Desk::new(), &["--to", "-42.6110 146.1010"]);
    let direct = &answer["direct"];
    let number = |name: &str| direct[name].as_f64().unwrap();
    // GeographicLib's Inverse on WGS 84, by its Python package: 1190.2389 m at 42.50067 degrees
    assert!((number("distance_m") - 1_190.238_9).abs() < 0.01, "{direct}");
    assert!((number("true_bearing_deg") - 42.500_67).abs() < 1e-5, "{direct}");
    let east = number("declination_deg");
    let magnetic = (number("true_bearing_deg") - east).rem_euclid(360.0);
    assert!((number("magnetic_bearing_deg") - magnetic).abs() < 1e-9);
    let back = (number("back_bearing_magnetic_deg") - magnetic).rem_euclid(360.0);
    assert!((back - 180.0).abs() < 0.02);
    assert!(
        (number("grid_bearing_deg") + number("convergence_deg") - number("true_bearing_deg")).abs()
            < 1e-9
    );
    assert_eq!(answer["ways"][0]["kind"], "direct");
    assert_eq!(answer["verdict"], "comfortable");
    assert!(answer["sun"]["sunset"].as_str().unwrap().starts_with("2026-05-16T07:0"));
    assert!(
        answer["turn_back_by"].is_string() && !answer["cautions"].as_array().unwrap().is_empty()
    );
}

#[test]
fn the_same_in_every_way_of_writing_a_position() {
    let desk = Desk::new();
    let from = |text: &str| {
        let output = desk.run(&[
            "wayout",
            "--from",
            text,
            "--to",
            "42.6110 S 146.1010 E",
            "--json",
            "--at",
            "2026-05-16T15:20+10:00",
        ]);
        assert!(output.status.success(), "{text}: {}", String::from_utf8_lossy(&output.stderr));
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        answer["direct"]["distance_m"].as_f64().unwrap()
    };
    let plain = from("-42.61890 146.09120");
    for text in ["S 42 37.134 E 146 05.472", "42\u{b0}37'08.04\"S 146\u{b0}05'28.32\"E"] {
        assert!((from(text) - plain).abs() < 2.0, "{text}");
    }
}

#[test]
fn one_message_fits_a_telephone_and_stands_alone() {
    let desk = Desk::new();
    let told = desk.run(&[
        "wayout",
        "--from",
        "-42.6189 146.0912",
        "--to",
        "-42.6110 146.1010",
        "--message",
        "--at",
        "2026-05-16T15:20+10:00",
    ]);
    let text = String::from_utf8(told.stdout).unwrap();
    assert!(trug::wayout::message::fits(text.trim_end()), "{} {text}", text.len());
    for part in
        ["15:20 at -42.6189,146.0912+-", "55GDN", "MAG 028 1190m", "Due ", "dark 17:3", "112"]
    {
        assert!(text.contains(part), "{part}: {text}");
    }
}

#[test]
fn what_would_be_a_guess_is_refused_with_the_reason() {
    let desk = Desk::new();
    for (more, expected) in [
        (&["--to", "-42.61895 146.09121"][..], "any side of you"),
        (&[][..], "there is nowhere to lead you"),
        (&["--to", "the old gate"][..], "neither a trailhead nor a position"),
        (&["--to", "-42.6110 146.1010", "--since", "240 far"][..], "is no distance"),
        (&["--to", "-42.6110 146.1010", "--elevation", "missing.hgt"][..], "missing.hgt"),
        (&["--to", "-42.6110 146.1010", "--paces", "3"][..], "count your steps"),
        (&["--to", "-42.6110 146.1010", "--avoid", "no.geojson"][..], "no.geojson"),
    ] {
        let told = ask(&desk, more);
        assert!(told.starts_with("exit status: 2"), "{more:?}: {told}");
        assert!(told.contains(expected) && told.contains("error: "), "{more:?}: {told}");
    }
    let late = desk.told(&[
        "wayout",
        "--from",
        "-42.6189 146.0912",
        "--to",
        "-42.6110 146.1010",
        "--at",
        "2031-05-16T15:20+10:00",
    ]);
    assert!(late.contains("2029-12-31") && late.contains("--declination"), "{late}");
}

#[test]
fn after_dark_nobody_is_sent_out() {
    let told = Desk::new().told(&[
        "wayout",
        "--from",
        "-42.6189 146.0912",
        "--to",
        "-42.6110 146.1010",
        "--at",
        "2026-05-16T19:20+10:00",
    ]);
    assert!(told.contains("DO NOT SET OUT") && told.contains("stay where you are"), "{told}");
}

#[test]
fn a_day_of_the_store_is_walked_back_and_drawn() {
    let desk = Desk::new();
    let day = samples().join("2026-04-18-wren-gully");
    desk.run(&["--quiet", "import", day.to_str().unwrap(), "--store", "s.gpkg"]);
    let added =
        desk.told(&["trailhead", "add", "Low gate", "-42.6100 146.0800", "--store", "s.gpkg"]);
    assert!(added.starts_with("exit status: 0"), "{added}");
    assert!(desk.told(&["trailhead", "list", "--store", "s.gpkg"]).contains("Low gate"));
    assert!(
        desk.told(&["trailhead", "remove", "Low gate", "--store", "s.gpkg"]).contains("Forgotten")
    );
    assert!(
        desk.told(&["trailhead", "remove", "Low gate", "--store", "s.gpkg"])
            .contains("no trailhead")
    );
    let before = desk.told(&["trailhead", "--store", "s.gpkg", "list"]);
    assert!(before.contains("No trailhead is kept"), "{before}");
    let stale = desk.told(&["wayout", "--store", "s.gpkg", "--at", "2026-05-19T15:00+10:00"]);
    assert!(
        stale.contains("too old")
            && stale.contains("2026-04-18 01:59 UTC, 31 days before 2026-05-19 05:00 UTC"),
        "{stale}"
    );
    let tracks = desk.told(&[
        "wayout",
        "--store",
        "s.gpkg",
        "--at",
        "2026-04-18T11:00+10:00",
        "--line",
        "tracks",
    ]);
    assert!(tracks.contains("no path walked by three outings"), "{tracks}");
    let output = desk.run(&[
        "wayout",
        "--store",
        "s.gpkg",
        "--at",
        "2026-04-18T11:00+10:00",
        "--json",
        "--card",
        "card.svg",
        "--gpx",
        "out.gpx",
    ]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    let kinds: Vec<&str> =
        answer["ways"].as_array().unwrap().iter().filter_map(|way| way["kind"].as_str()).collect();
    assert!(kinds.contains(&"retrace") && kinds.contains(&"known-paths"), "{kinds:?}");
    let card = std::fs::read_to_string(desk.path("card.svg")).unwrap();
    assert!(card.contains("112") && card.contains("width=\"105.00mm\""));
    let route = std::fs::read_to_string(desk.path("out.gpx")).unwrap();
    assert!(route.contains("<rtept") && route.contains("Way out"), "{route}");
    let area = desk.told(&["wayout", "--store", "s.gpkg", "--area", "--to", "-42.6100 146.0800"]);
    assert!(area.contains("A1") && area.contains("nearest safe place"), "{area}");
}

#[test]
fn a_plan_needs_no_fix() {
    let told = Desk::new().told(&["wayout", "--plan", "2026-05-30", "--to", "-42.6110 146.1010"]);
    assert!(told.contains("turn back by") && told.contains("sunset 16:5"), "{told}");
    let north = Desk::new().told(&["wayout", "--plan", "2026-12-21", "--to", "78.22 15.63"]);
    assert!(north.contains("stays dark"), "{north}");
}

#[test]
fn closed_ground_on_the_straight_line_is_named_and_a_hole_in_it_is_open() {
    let desk = Desk::new();
    let square = |west: f64, south: f64, side: f64| {
        let (east, north) = (west + side, south + side);
        format!(
            "[[{west},{south}],[{east},{south}],[{east},{north}],[{west},{north}],[{west},{south}]]"
        )
    };
    let outer = square(146.0930, -42.6180, 0.006);
    let write = |name: &str, rings: &str| {
        let text = format!(r#"{{"type":"Polygon","coordinates":[{rings}]}}"#);
        std::fs::write(desk.path(name), text).unwrap();
    };
    write("lake.geojson", &outer);
    let told = ask(&desk, &["--to", "-42.6110 146.1010", "--avoid", "lake.geojson"]);
    assert!(told.contains("ACROSS CLOSED GROUND") && told.contains("named as closed"), "{told}");
    let text = ask(&desk, &["--to", "-42.6110 146.1010", "--avoid", "lake.geojson", "--message"]);
    assert!(text.contains("CLOSED GROUND BETWEEN"), "{text}");
    // start and goal in a hole of the closed land
    let (outer, hole) = (square(146.05, -42.65, 0.1), square(146.08, -42.63, 0.03));
    write("land.geojson", &format!("{outer},{hole}"));
    let told = ask(&desk, &["--to", "-42.6110 146.1010", "--avoid", "land.geojson"]);
    assert!(!told.contains("CLOSED GROUND"), "{told}");
}

#[test]
fn a_wide_radius_is_told_as_a_range_of_bearings() {
    let desk = Desk::new();
    let coarse = ["wayout", "--from", "-42.62 146.09", "--at", "2026-05-16T12:20+10:00", "--to"];
    let told = |to: &str, more: &[&str]| {
        let arguments: Vec<&str> = coarse.iter().chain(&[to]).chain(more).copied().collect();
        desk.told(&arguments)
    };
    let far = told("-42.60 146.13", &[]);
    assert!(far.contains("away, anywhere from ") && far.contains("by compass"), "{far}");
    assert!(told("-42.60 146.13", &["--message"]).contains("MAG 041+-"));
    assert!(told("-42.615 146.09", &[]).contains("any side of you"));
}
