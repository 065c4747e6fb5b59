//! Runs `trug wayout` and `trug trailhead`.

use serde_json::Value;

use crate::run::{Desk, samples};

const FROM: [&str; 6] =
    ["wayout", "--from", "-42.6189 146.0912", "--at", "2026-05-16T15:20+10:00", "--within"];

fn ask(desk: &Desk, more: &[&str]) -> String {
    let arguments: Vec<&str> = FROM.iter().chain(&["20"]).chain(more).copied().collect();
    desk.reported(&arguments)
}

fn json(desk: &Desk, more: &[&str]) -> Value {
    let arguments: Vec<&str> = FROM.iter().chain(&["20", "--json"]).chain(more).copied().collect();
    let output = desk.run(&arguments);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn position_may_begin_with_a_minus_sign() {
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
fn all_position_notations_give_the_same_result() {
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
fn message_fits_160_characters() {
    let desk = Desk::new();
    let reported = desk.run(&[
        "wayout",
        "--from",
        "-42.6189 146.0912",
        "--to",
        "-42.6110 146.1010",
        "--message",
        "--at",
        "2026-05-16T15:20+10:00",
    ]);
    let text = String::from_utf8(reported.stdout).unwrap();
    assert!(trug::present::way_out::message::fits(text.trim_end()), "{} {text}", text.len());
    for part in
        ["15:20 at -42.6189,146.0912+-", "55GDN", "MAG 028 1190m", "Due ", "dark 17:3", "112"]
    {
        assert!(text.contains(part), "{part}: {text}");
    }
}

#[test]
fn ambiguous_input_is_refused_with_the_reason() {
    let desk = Desk::new();
    for (more, expected) in [
        (&["--to", "-42.61895 146.09121"][..], "in any direction"),
        (&[][..], "there is no store"),
        (&["--to", "the old gate"][..], "neither a trailhead nor a position"),
        (&["--to", "-42.6110 146.1010", "--since", "240 far"][..], "is not a distance"),
        (&["--to", "-42.6110 146.1010", "--elevation", "missing.hgt"][..], "missing.hgt"),
        (&["--to", "-42.6110 146.1010", "--paces", "3"][..], "count your steps"),
        (&["--to", "-42.6110 146.1010", "--avoid", "no.geojson"][..], "no.geojson"),
    ] {
        let reported = ask(&desk, more);
        assert!(reported.starts_with("exit status: 2"), "{more:?}: {reported}");
        assert!(
            reported.contains(expected) && reported.contains("error: "),
            "{more:?}: {reported}"
        );
    }
    let late = desk.reported(&[
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
fn no_start_is_advised_after_dark() {
    let reported = Desk::new().reported(&[
        "wayout",
        "--from",
        "-42.6189 146.0912",
        "--to",
        "-42.6110 146.1010",
        "--at",
        "2026-05-16T19:20+10:00",
    ]);
    assert!(
        reported.contains("DO NOT SET OUT") && reported.contains("stay where you are"),
        "{reported}"
    );
}

#[test]
fn stored_track_is_retraced_and_drawn() {
    let desk = Desk::new();
    let day = samples().join("2026-04-18-wren-gully");
    desk.run(&["--quiet", "import", day.to_str().unwrap(), "--store", "s.gpkg"]);
    let added =
        desk.reported(&["trailhead", "add", "Low gate", "-42.6100 146.0800", "--store", "s.gpkg"]);
    assert!(added.starts_with("exit status: 0"), "{added}");
    assert!(desk.reported(&["trailhead", "list", "--store", "s.gpkg"]).contains("Low gate"));
    assert!(
        desk.reported(&["trailhead", "remove", "Low gate", "--store", "s.gpkg"])
            .contains("Removed")
    );
    assert!(
        desk.reported(&["trailhead", "remove", "Low gate", "--store", "s.gpkg"])
            .contains("no trailhead")
    );
    let before = desk.reported(&["trailhead", "--store", "s.gpkg", "list"]);
    assert!(before.contains("No trailheads stored"), "{before}");
    let stale = desk.reported(&["wayout", "--store", "s.gpkg", "--at", "2026-05-19T15:00+10:00"]);
    assert!(
        stale.contains("too old")
            && stale.contains("2026-04-18 01:59 UTC, 31 days before 2026-05-19 05:00 UTC"),
        "{stale}"
    );
    let tracks = desk.reported(&[
        "wayout",
        "--store",
        "s.gpkg",
        "--at",
        "2026-04-18T11:00+10:00",
        "--line",
        "tracks",
    ]);
    assert!(tracks.contains("no path used on three outings"), "{tracks}");
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
    let area =
        desk.reported(&["wayout", "--store", "s.gpkg", "--area", "--to", "-42.6100 146.0800"]);
    assert!(area.contains("A1") && area.contains("nearest safe place"), "{area}");
}

#[test]
fn mapped_paths_of_the_store_are_offered_as_not_walked() {
    let desk = Desk::new();
    let base = r#"{"type":"FeatureCollection","features":[
        {"type":"Feature","properties":{"highway":"path"},"geometry":{"type":"LineString",
         "coordinates":[[146.12,-42.63],[146.118,-42.618],[146.101,-42.611]]}},
        {"type":"Feature","properties":{"highway":"motorway"},"geometry":{"type":"LineString",
         "coordinates":[[146.12,-42.63],[146.101,-42.611]]}}]}"#;
    std::fs::write(desk.path("base.geojson"), base).unwrap();
    let day = samples().join("2026-04-18-wren-gully");
    let import = ["--quiet", "import", day.to_str().unwrap(), "--store", "s.gpkg", "--base"];
    desk.run(&[&import[..], &["base.geojson"]].concat());
    let ends = ["--from", "-42.6298 146.1203", "--to", "-42.6110 146.1010", "--store", "s.gpkg"];
    let asked = [&["wayout", "--at", "2026-05-16T12:20+10:00"], &ends[..]].concat();
    let reported = desk.reported(&asked);
    assert!(
        reported.contains("along mapped paths") && reported.contains("not walked by you"),
        "{reported}"
    );
    let output = desk.run(&[&asked[..], &["--json"]].concat());
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    let way = &answer["ways"][0];
    let note = &way["notes"][0];
    assert_eq!(
        (way["kind"].as_str(), note["code"].as_str()),
        (Some("mapped-paths"), Some("mapped-not-walked"))
    );
    // along the path, which bends, and not along the road
    let length = note["length_m"].as_f64().unwrap();
    assert!((2_750.0..3_050.0).contains(&length), "{length}");
    let message = desk.reported(&[&asked[..], &["--message"]].concat());
    assert!(message.contains("Map paths"), "{message}");
}

#[test]
fn plan_requires_no_fix() {
    let reported =
        Desk::new().reported(&["wayout", "--plan", "2026-05-30", "--to", "-42.6110 146.1010"]);
    assert!(reported.contains("turn back by") && reported.contains("sunset 16:5"), "{reported}");
    let north = Desk::new().reported(&["wayout", "--plan", "2026-12-21", "--to", "78.22 15.63"]);
    assert!(north.contains("polar night: no daylight and no civil twilight"), "{north}");
}

#[test]
fn closed_areas_are_reported_and_their_holes_are_open() {
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
    let reported = ask(&desk, &["--to", "-42.6110 146.1010", "--avoid", "lake.geojson"]);
    assert!(
        reported.contains("ACROSS CLOSED GROUND") && reported.contains("marked as closed"),
        "{reported}"
    );
    let text = ask(&desk, &["--to", "-42.6110 146.1010", "--avoid", "lake.geojson", "--message"]);
    assert!(text.contains("CLOSED GROUND BETWEEN"), "{text}");
    // start and destination in a hole of the closed area
    let (outer, hole) = (square(146.05, -42.65, 0.1), square(146.08, -42.63, 0.03));
    write("land.geojson", &format!("{outer},{hole}"));
    let reported = ask(&desk, &["--to", "-42.6110 146.1010", "--avoid", "land.geojson"]);
    assert!(!reported.contains("CLOSED GROUND"), "{reported}");
}

#[test]
fn a_wide_radius_is_reported_as_a_range_of_bearings() {
    let desk = Desk::new();
    let coarse = ["wayout", "--from", "-42.62 146.09", "--at", "2026-05-16T12:20+10:00", "--to"];
    let reported = |to: &str, more: &[&str]| {
        let arguments: Vec<&str> = coarse.iter().chain(&[to]).chain(more).copied().collect();
        desk.reported(&arguments)
    };
    let far = reported("-42.60 146.13", &[]);
    assert!(far.contains("away, between ") && far.contains("by compass"), "{far}");
    assert!(reported("-42.60 146.13", &["--message"]).contains("MAG 041+-"));
    assert!(reported("-42.615 146.09", &[]).contains("in any direction"));
}

#[test]
fn a_position_that_is_hardly_known_takes_from_the_light() {
    let desk = Desk::new();
    let answer = |within: &str| {
        let ends = ["--from", "-42.6200 146.1000", "--to", "-42.5800 146.1000", "--within", within];
        let asked = ["--at", "2026-06-10T14:40+10:00", "--json"];
        let output = desk.run(&[&["wayout"], &ends[..], &asked].concat());
        serde_json::from_slice::<Value>(&output.stdout).unwrap()
    };
    let (near, far) = (answer("30"), answer("4000"));
    assert_eq!(near["verdict"], "comfortable");
    // 8.4 km at 3 km/h from 14:40 end after civil twilight, 17:20
    assert_eq!(far["verdict"], "do-not-set-out", "{far}");
    assert!(far["warnings"].to_string().contains("allow 1 h 17 min for your position"), "{far}");
    assert_eq!(near["warnings"].as_array().unwrap().len(), 0, "{near}");
}

const ENDS: [&str; 5] = ["wayout", "--from", "-42.6189 146.0912", "--to", "-42.6110 146.1010"];

fn at(desk: &Desk, moment: &str, more: &[&str]) -> String {
    let arguments: Vec<&str> = ENDS.iter().chain(&["--at", moment]).chain(more).copied().collect();
    desk.reported(&arguments)
}

#[test]
fn no_start_is_advised_before_dawn() {
    let desk = Desk::new();
    for hour in ["02:00", "05:30"] {
        let reported = at(&desk, &format!("2026-05-16T{hour}+10:00"), &[]);
        assert!(
            reported.contains("DO NOT SET OUT") && !reported.contains("COMFORTABLE"),
            "{reported}"
        );
        assert!(
            reported.contains("first light at 06:51") && reported.contains("DARK now"),
            "{reported}"
        );
        let text = at(&desk, &format!("2026-05-16T{hour}+10:00"), &["--message"]);
        assert!(text.contains("STAY PUT: dark till 06:51"), "{text}");
    }
    let dawn = at(&desk, "2026-05-16T06:55+10:00", &[]);
    assert!(dawn.contains("TIGHT") && dawn.contains("the sun rises at 07:21"), "{dawn}");
    insta::assert_snapshot!(at(&desk, "2026-05-16T20:00+10:00", &[]));
}

#[test]
fn passed_latest_start_is_marked() {
    let desk = Desk::new();
    let reported = at(&desk, "2026-05-16T16:30+10:00", &[]);
    assert!(reported.contains("passed: it was 16:18"), "{reported}");
    let json: Value = {
        let arguments: Vec<&str> =
            ENDS.iter().chain(&["--at", "2026-05-16T16:30+10:00", "--json"]).copied().collect();
        serde_json::from_slice(&desk.run(&arguments).stdout).unwrap()
    };
    assert!(json["turn_back_by"].is_null(), "{json}");
    assert_eq!(json["latest_start"]["code"], "passed");
    assert_eq!(json["verdict"], "tight");
}

#[test]
fn polar_night_and_polar_day_are_distinguished() {
    let desk = Desk::new();
    let north = |moment: &str, more: &[&str]| {
        let ends =
            ["wayout", "--from", "78.2200 15.6500", "--to", "78.2300 15.7000", "--at", moment];
        desk.reported(&ends.iter().chain(more).copied().collect::<Vec<_>>())
    };
    let (night, day) = ("2026-12-21T11:00Z", "2026-06-21T23:00Z");
    let reported = north(night, &["--card", "night.svg"]);
    assert!(
        reported.contains("DO NOT SET OUT: polar night") && reported.contains("call for help"),
        "{reported}"
    );
    let reported = north(day, &["--card", "day.svg"]);
    assert!(reported.contains("COMFORTABLE") && reported.contains("polar day"), "{reported}");
    let card = |name: &str| std::fs::read_to_string(desk.path(name)).unwrap();
    assert!(
        card("night.svg").contains("POLAR NIGHT") && card("night.svg").contains("dark all day")
    );
    assert!(card("day.svg").contains("POLAR DAY") && card("day.svg").contains("no dark"));
    assert!(north(night, &["--message"]).contains("polar night, dark all day"));
    assert!(north(day, &["--message"]).contains("polar day, no dark"));
    let area = north(night, &["--area"]);
    assert!(area.contains("polar night: no daylight and no civil twilight"), "{area}");
}

#[test]
fn implausible_positions_are_refused() {
    let desk = Desk::new();
    for (from, to, expected) in [
        ("91 46", "-42.6110 146.1010", "does not begin with a latitude"),
        ("146.0912 -42.6189", "-42.6110 146.1010", "does not begin with a latitude"),
        ("91 181", "-42.6110 146.1010", "is not a position"),
        ("42.6189 146.0912", "-42.6110 146.1010", "too far away to walk to"),
        ("42.5 11.2", "11.2 42.5", "swapped it would be"),
        ("geo:91,46", "-42.6110 146.1010", "does not begin with a latitude"),
        ("geo:-42.6189,146.0912;crs=other", "-42.6110 146.1010", "not WGS 84"),
        ("https://maps.example.org/x7", "-42.6110 146.1010", "the link or URI has no position"),
    ] {
        let reported = desk.reported(&["wayout", "--from", from, "--to", to]);
        assert!(reported.starts_with("exit status: 2"), "{from}: {reported}");
        assert!(reported.contains(expected) && reported.contains("hint: "), "{from}: {reported}");
    }
}

#[test]
fn links_and_uris_are_positions() {
    let desk = Desk::new();
    let distance = |from: &str, to: &str| {
        let moment = "2026-05-16T15:20+10:00";
        let output = desk.run(&["wayout", "--from", from, "--to", to, "--at", moment, "--json"]);
        assert!(output.status.success(), "{from}: {}", String::from_utf8_lossy(&output.stderr));
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        (
            answer["direct"]["distance_m"].as_f64().unwrap(),
            answer["from"]["radius95_m"].as_f64().unwrap(),
        )
    };
    let (plain, _) = distance("-42.6189 146.0912", "-42.6110 146.1010");
    let (linked, radius) = distance(
        "geo:-42.6189,146.0912;u=60",
        "https://maps.example.org/?mlat=-42.6110&mlon=146.1010#map=15/-42.6110/146.1010",
    );
    assert!((plain - linked).abs() < 0.01, "{plain} {linked}");
    assert!((60.0..75.0).contains(&radius), "{radius}");
}

#[test]
fn local_time_requires_a_zone() {
    let desk = Desk::new();
    let sea = |more: &[&str]| {
        let ends = ["wayout", "--from", "-40.000 -120.000", "--to", "-40.010 -120.010"];
        desk.reported(&ends.iter().chain(more).copied().collect::<Vec<_>>())
    };
    for at in ["2026-05-03T15:20", "15:20"] {
        let reported = sea(&["--at", at]);
        assert!(
            reported.starts_with("exit status: 2") && reported.contains("no time zone is known"),
            "{reported}"
        );
    }
    assert!(sea(&["--plan", "2026-05-03"]).contains("no time zone is known"));
    let reported = sea(&["--at", "2026-05-03T20:20Z"]);
    assert!(reported.contains("20:20 UTC"), "{reported}");
    assert!(sea(&["--at", "2026-05-03T20:20", "--zone", "UTC"]).contains("20:20 UTC"));
    for moment in ["2026-05-16T05:20", "2026-05-16T12:00", "2026-05-16T12:10"] {
        let reported = at(&desk, moment, &["--zone", "UTC"]);
        assert!(reported.starts_with("exit status: 0"), "{reported}");
    }
    for zone in ["EST", "Europe/Berlin", "-05:00"] {
        let reported = at(&desk, "2026-05-16T20:00", &["--zone", zone]);
        assert!(
            reported.starts_with("exit status: 2")
                && reported.contains("is not the zone of the place"),
            "{reported}"
        );
    }
    let today = at(&desk, "15:20", &["--json"]);
    let date = jiff::Timestamp::now().in_tz("Australia/Hobart").unwrap().date();
    let instant = date.at(15, 20, 0, 0).in_tz("Australia/Hobart").unwrap().timestamp();
    assert!(today.contains(&instant.to_string()), "{instant} {today}");
}

#[test]
fn missing_store_is_reported() {
    let reported = Desk::new().reported(&["wayout"]);
    assert!(
        reported.starts_with("exit status: 2")
            && reported.contains(
                "there is no store \
         trug.gpkg"
            ),
        "{reported}"
    );
}

#[test]
fn first_leg_has_the_precision_of_the_position() {
    let reported = at(&Desk::new(), "2026-05-16T12:00+10:00", &[]);
    assert!(reported.contains("1.19 km +-44 m") && reported.contains("+-3\u{b0}"), "{reported}");
}

#[test]
fn a_plan_draws_its_card() {
    let desk = Desk::new();
    let arguments: Vec<&str> =
        ENDS.iter().chain(&["--plan", "2026-05-30", "--card", "plan.svg"]).copied().collect();
    let reported = desk.reported(&arguments);
    assert!(
        reported.starts_with("exit status: 0") && reported.contains("Drawn: plan.svg"),
        "{reported}"
    );
    let card = std::fs::read_to_string(desk.path("plan.svg")).unwrap();
    // without a stated time it is made for the latest time to turn back
    assert!(card.contains("made 2026-05-30 for 16:"), "{card}");
    assert!(card.contains("COMFORTABLE") && reported.contains("for turning back at 16:"), "{card}");
    for (time, verdict) in [
        ("15:20", "COMFORTABLE"),
        ("16:40", "TIGHT"),
        ("17:10", "DO NOT SET OUT"),
        ("03:00", "DO NOT SET OUT"),
    ] {
        let arguments = [&arguments[..], &["--at", time]].concat();
        let reported = desk.reported(&arguments);
        assert!(reported.contains(&format!("turning back at {time}: {verdict}")), "{reported}");
        let card = std::fs::read_to_string(desk.path("plan.svg")).unwrap();
        assert!(card.contains(&format!("for {time}")) && card.contains(verdict), "{card}");
    }
    let other = desk.reported(&[&arguments[..], &["--at", "2026-05-31T12:00"]].concat());
    assert!(other.contains("is not on the planned day"), "{other}");
    let reported = desk.reported(&[
        "wayout",
        "--plan",
        "2026-05-30",
        "--to",
        "-42.6110 146.1010",
        "--card",
        "x.svg",
    ]);
    assert!(
        reported.starts_with("exit status: 2") && reported.contains("farthest point"),
        "{reported}"
    );
}

#[test]
fn positions_on_wgs_84_do_not_load_the_register_of_datums() {
    let desk = Desk::new();
    at(&desk, "2026-05-16T12:00+10:00", &[]);
    desk.reported(&["trailhead", "add", "Low gate", "-42.6100 146.0800"]);
    desk.reported(&["trailhead", "add", "High gate", "55G 431500 5277000"]);
    assert!(!desk.path("cache").exists(), "the register was unpacked");
    let other = desk.reported(&["trailhead", "list"]);
    assert!(other.contains("Low gate") && other.contains("High gate"), "{other}");
}

#[test]
fn plan_for_whoever_waits_is_one_message() {
    let desk = Desk::new();
    let plan = ["wayout", "--plan", "2026-05-16", "--message", "--from", "-42.6189 146.0912"];
    let ask = |more: &[&str]| {
        let arguments: Vec<&str> = plan.iter().chain(more).copied().collect();
        desk.reported(&arguments)
    };
    desk.run(&["trailhead", "add", "Sawmill gate", "-42.6110 146.1010"]);
    let text = ask(&[]);
    insta::assert_snapshot!(text);
    insta::assert_snapshot!(ask(&["--call", "Ada 0400 000", "--alarm", "18:30"]));
    insta::assert_snapshot!(ask(&["--alarm", "12:00"]));
    // with a second trailhead the car may be at either
    desk.run(&["trailhead", "add", "Lantern hut", "-42.6168 146.0925"]);
    insta::assert_snapshot!(ask(&[]));
    assert_eq!(ask(&["--to", "Sawmill gate"]), text);
}

/// The minutes after midnight that a message states behind a word.
fn minutes_behind(text: &str, word: &str) -> i32 {
    let clock = &text[text.find(word).unwrap_or_else(|| panic!("{word}: {text}")) + word.len()..];
    let number = |part: &str| part.parse::<i32>().unwrap();
    number(&clock[..2]) * 60 + number(&clock[3..5])
}

#[test]
fn message_of_a_plan_is_that_of_the_stated_time() {
    let desk = Desk::new();
    let plan = ["wayout", "--plan", "2026-05-16", "--from", "-42.6189 146.0912"];
    let ask = |more: &[&str]| desk.reported(&[&plan[..], more].concat());
    desk.run(&["trailhead", "add", "Sawmill gate", "-42.6110 146.1010"]);
    let text = ask(&["--message", "--at", "14:05"]);
    assert_eq!(minutes_behind(&text, "Turn back "), 14 * 60 + 5, "{text}");
    let walk = minutes_behind(&text, "Back by ") - minutes_behind(&text, "Turn back ");
    let whole = ask(&["--at", "14:05"]);
    let arrival = minutes_behind(&whole, "arrival about ");
    assert_eq!(minutes_behind(&text, "Back by "), arrival, "{text}{whole}");
    let latest = ask(&["--message"]);
    let other = minutes_behind(&latest, "Back by ") - minutes_behind(&latest, "Turn back ");
    assert_eq!(walk, other, "{latest}");
    let dark = ask(&["--message", "--at", "17:30"]);
    assert!(dark.starts_with("exit status: 2") && dark.contains("ends in the dark"), "{dark}");
    for (time, why) in [
        ("25:00", "hours go from 0 to 23"),
        ("noon", "has a colon"),
        ("2026-05-16", "a date without a time"),
        ("2026-13-16T12:00", "no such date"),
        ("2026-05-16T12:61", "hours go from 0 to 23"),
    ] {
        let refused = ask(&["--at", time]);
        assert!(refused.starts_with("exit status: 2") && refused.contains(why), "{refused}");
    }
    assert!(ask(&["--at", "9:05"]).contains("turning back at 09:05"));
}

#[test]
fn message_of_a_plan_without_a_sunset_needs_a_time() {
    let desk = Desk::new();
    let north = ["wayout", "--plan", "2026-06-21", "--message", "--zone", "+02:00"];
    let places = ["--from", "78.2200 15.6300", "--to", "78.2300 15.6500"];
    let ask = |more: &[&str]| desk.reported(&[&north[..], &places, more].concat());
    let none = ask(&[]);
    assert!(none.starts_with("exit status: 2") && none.contains("--alarm"), "{none}");
    let stated = ask(&["--at", "15:00"]);
    assert!(stated.contains("Turn back 15:00. Back by 15:"), "{stated}");
    let alarm = ask(&["--alarm", "20:00"]);
    assert!(alarm.contains("No word by 20:00") && !alarm.contains("Back by"), "{alarm}");
}

#[test]
fn name_that_no_text_message_can_hold_is_left_out_with_a_note() {
    let desk = Desk::new();
    desk.run(&[
        "trailhead",
        "add",
        "\u{0412}\u{043e}\u{0440}\u{043e}\u{0442}\u{0430}",
        "-42.6110 146.1010",
    ]);
    for more in [&["--message"][..], &["--message", "--plan", "2026-05-16"]] {
        let place = ["wayout", "--from", "-42.6189 146.0912"];
        let text = desk.reported(&[&place[..], more].concat());
        assert!(text.contains("UCS-2") && !text.contains(".. "), "{text}");
    }
}

#[test]
fn paces_of_the_first_leg_agree_everywhere() {
    let desk = Desk::new();
    let ends = ["wayout", "--from", "-42.6189 146.0912", "--to", "-42.6110 146.1010"];
    let more = ["--at", "2026-05-16T12:00+10:00", "--card", "c.svg", "--gpx", "w.gpx"];
    let text = desk.reported(&[&ends[..], &more].concat());
    let line = text.lines().find(|line| line.contains(" paces")).unwrap();
    let paces = line.split(", ").nth(1).unwrap().trim_end_matches(" paces").trim().to_owned();
    assert_eq!(text.matches(&format!(" {paces} ")).count(), 2, "{text}");
    let read = |name: &str| std::fs::read_to_string(desk.path(name)).unwrap();
    assert!(read("c.svg").matches(&format!(">{paces}<")).count() == 1, "{paces}");
    assert!(read("w.gpx").contains(&format!(" {paces} paces")), "{paces}");
}

#[test]
fn an_evening_past_midnight_is_not_the_light_of_the_planned_day() {
    // the sun sets at 00:02 local time and rises at 02:54
    let plan = ["wayout", "--plan", "2026-06-21", "--from", "64.140000 -21.700000"];
    let to = ["--to", "64.160000 -21.600000", "--json"];
    let desk = Desk::new();
    let output = desk.run(&[&plan[..], &to].concat());
    let planned: Value = serde_json::from_slice(&output.stdout).unwrap();
    let latest = planned["turn_back"][0]["turn_back_by"].as_str().unwrap();
    assert!(latest.starts_with("2026-06-21T21:"), "{latest}");
    let message = desk.reported(&[&plan[..], &to[..2], &["--message"]].concat());
    assert!(message.contains("Turn back 21:"), "{message}");
}

#[test]
fn the_light_at_the_goal_counts_too() {
    // at the start the sun stays up all night, 40 km to the south it sets
    let answer = |to: &str| {
        let output = Desk::new().run(&[
            "wayout",
            "--from",
            "66.000000 25.000000",
            "--to",
            to,
            "--at",
            "2026-06-21T16:00:00Z",
            "--declination",
            "0",
            "--json",
        ]);
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        (answer["verdict"].clone(), answer["verdict_reason"]["code"].clone())
    };
    assert_eq!(answer("66.005000 25.000000"), ("comfortable".into(), "no-sunset".into()));
    assert_eq!(answer("65.640000 25.000000"), ("tight".into(), "twilight-all-night".into()));
}
