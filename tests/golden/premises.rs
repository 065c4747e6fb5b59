//! Tests that finds are placed from a track only where the pairing is certain; else the reason is reported
//! first and the exit status is 1.

use crate::run::Desk;

const HEAD: &str = r#"<?xml version="1.0"?>
<gpx version="1.1" creator="hand" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
"#;

/// A walk to the north on this date, a fix every ten seconds for two hours from 10:00 in Tasmania.
fn track(date: &str) -> String {
    let point = |k: u32| {
        let (hour, minute, second) = (k / 360, k / 6 % 60, k % 6 * 10);
        let north = -42.61 + f64::from(k) * 1e-5;
        format!(
            "<trkpt lat=\"{north:.6}\" lon=\"146.09\"><time>{date}T{hour:02}:{minute:02}:{second:02}Z</time></trkpt>\n"
        )
    };
    format!("{HEAD}{}</trkseg></trk></gpx>\n", (0..720).map(point).collect::<String>())
}

const NOTES: &str = "number,date,time,coordinates,position final,uncertainty,host,substrate\n\
    AQ-1,2026-05-03,10:20,,,,beech,soil\n\
    AQ-2,2026-05-03,10:40,,,,beech,soil\n\
    AQ-3,2026-05-03,11:10,\"-42.60000, 146.09000\",yes,3 m,beech,soil\n";

#[test]
fn track_of_another_day_places_no_finds() {
    let desk = Desk::new();
    desk.file("day/walk.gpx", track("2026-05-02")).file("day/notes.csv", NOTES);
    for command in [&["check", "day"][..], &["import", "day", "--store", "s.gpkg"]] {
        let output = desk.run(command);
        assert_eq!(output.status.code(), Some(1), "{command:?}");
        let reported = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(reported.starts_with("Tracks and finds\n"), "{reported}");
        for part in [
            "3 records are not placed on walk.gpx: another day",
            "the record dates are 2026-05-03",
            "the fixes of walk.gpx are dated 2026-05-02",
            "import them with the track of 2026-05-03",
            "no track is associated with it with enough certainty",
            "Sunday 3 May 2026",
            "Finds: 1 located, 2 not",
        ] {
            assert!(reported.contains(part), "{part}: {reported}");
        }
    }
    let output = desk.run(&["finds", "--store", "s.gpkg"]);
    let listed = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(listed.matches("2026-05-03").count(), 3, "{listed}");
}

#[test]
fn the_json_holds_the_comparison() {
    let desk = Desk::new();
    desk.file("day/walk.gpx", track("2026-05-02")).file("day/notes.csv", NOTES);
    let output = desk.run(&["check", "day", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let association = &object["associations"][0];
    assert_eq!(association["kind"], "another-day");
    assert_eq!(association["refused"], true);
    assert_eq!(association["records"], 3);
    assert!(association["tracks"][0]["probability"].as_f64().unwrap() < 0.5);
    assert!(!association["tracks"][0]["evidence"].as_array().unwrap().is_empty());
}

#[test]
fn the_json_holds_why_there_is_no_position_and_what_one_rests_on() {
    let desk = Desk::new();
    desk.file("day/walk.gpx", track("2026-05-02")).file("day/notes.csv", NOTES);
    let output = desk.run(&["check", "day", "--json"]);
    let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let why = &object["finds"][0]["why_not_located"];
    assert_eq!(why["code"], "find-not-located");
    assert_eq!(why["find"]["number"], "AQ-1");
    assert_eq!(why["line"], 2);
    let reason = &why["reasons"][0];
    assert_eq!(reason["code"], "written-time-off-track");
    assert_eq!(reason["at"], "2026-05-03T10:20:00+10:00");
    assert_eq!(reason["track"]["code"], "not-associated");
    let words = "written time 10:20:00: no track is associated with it with enough certainty";
    assert_eq!(why["why"], words);
    let anchor = &object["finds"][2]["anchors"][0];
    assert_eq!(anchor["evidence"]["code"], "coordinates");
    assert_eq!(anchor["evidence"]["verbatim"], "-42.60000, 146.09000");
    let manner = anchor["evidence"]["manner"].as_str().unwrap();
    assert_eq!(anchor["basis"], format!("\"-42.60000, 146.09000\", read as {manner}"));
}

#[test]
fn track_of_the_same_day_with_three_notes_is_accepted_by_its_date() {
    let desk = Desk::new();
    desk.file("day/walk.gpx", track("2026-05-03")).file("day/notes.csv", NOTES);
    let output = desk.run(&["check", "day"]);
    let reported = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(output.status.code(), Some(0), "{reported}");
    assert!(!reported.contains("not placed"), "{reported}");
    assert!(reported.contains("3 records are placed on walk.gpx by the date only"), "{reported}");
    assert!(reported.contains("Finds: 3 located, 0 not"), "{reported}");
}

#[test]
fn measured_coordinates_are_kept_and_conflicts_reported() {
    let desk = Desk::new();
    let far = NOTES.replace("-42.60000, 146.09000", "-42.60000, 146.10000");
    desk.file("day/walk.gpx", track("2026-05-03")).file("day/notes.csv", far);
    let output = desk.run(&["check", "day", "--json"]);
    let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let find = &object["finds"][2];
    assert_eq!(find["decimalLatitude"], -42.6);
    assert_eq!(find["decimalLongitude"], 146.1);
    let radius = find["coordinateUncertaintyInMeters"].as_f64().unwrap();
    assert!((3.0..12.0).contains(&radius), "{radius}");
    let conflicts = object["conflicts"].as_array().unwrap();
    assert!(conflicts.iter().any(|conflict| conflict["kind"] == "anchors"), "{conflicts:?}");
}

/// A track with these waypoints in its file: name, latitude, and a time where there is one.
fn marked(date: &str, points: &[(&str, f64, &str)]) -> String {
    let point = |(name, lat, time): &(&str, f64, &str)| {
        let time = if time.is_empty() { String::new() } else { format!("<time>{time}</time>") };
        format!("<wpt lat=\"{lat}\" lon=\"146.09\">{time}<name>{name}</name></wpt>")
    };
    let points: String = points.iter().map(point).collect();
    track(date).replace("<trk>", &format!("{points}<trk>"))
}

#[test]
fn a_waypoint_of_another_outing_that_only_bears_the_number_places_nothing() {
    let year = "2024-05-02T00:30:00Z";
    for (points, used) in [
        (&[("7", -42.604, "")][..], true),
        (&[("7", -42.2, "")], false),
        (&[("7", -42.606, year)], false),
        (&[("7", -42.606, "2006-09-16T00:30:00Z")], true),
        (&[("7", -42.2, "2026-05-02T00:30:00Z")], true),
    ] {
        let desk = Desk::new();
        let notes = "number,date,time,host,substrate\n7,2026-05-02,10:20,beech,soil\n";
        desk.file("day/walk.gpx", marked("2026-05-02", points)).file("day/notes.csv", notes);
        let output = desk.run(&["check", "day", "--json"]);
        let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let anchors = object["finds"][0]["anchors"].as_array().unwrap();
        let waypoint = anchors.iter().any(|anchor| anchor["kind"] == "waypoint");
        assert_eq!(waypoint, used, "{points:?}: {object}");
        let conflicts = object["conflicts"].as_array().unwrap();
        assert!(used || !conflicts.is_empty(), "{points:?}");
        assert!(object["finds"][0]["decimalLatitude"].is_number(), "{points:?}");
    }
}

#[test]
fn an_undated_waypoint_far_from_the_track_is_not_taken_not_even_by_its_exact_name() {
    let notes = "number,date,waypoint,host,substrate\nAQ-1,2026-05-02,1,beech,soil\n";
    for name in ["001", "1"] {
        let desk = Desk::new();
        desk.file("day/walk.gpx", marked("2026-05-02", &[(name, -42.0, "")]));
        desk.file("day/notes.csv", notes);
        let output = desk.run(&["check", "day"]);
        let reported = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(reported.contains("Finds: 0 located"), "{reported}");
        assert!(reported.contains(" from the track, and no time shows"), "{reported}");
    }
}

#[test]
fn a_date_written_before_midnight_is_shown_beside_the_derived_one() {
    let desk = Desk::new();
    // 23:00 to 01:00 in Tasmania
    let gpx = track("2026-05-02").replace("T00:", "T13:").replace("T01:", "T14:");
    let notes = "number,date,time,host,substrate\nAQ-1,2026-05-02,23:40,beech,soil\n\
        AQ-2,2026-05-02,00:20,beech,soil\n";
    desk.file("day/walk.gpx", gpx).file("day/notes.csv", notes);
    let output = desk.run(&["check", "day"]);
    let reported = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(reported.contains("2026-05-02 00:20 (derived: 2026-05-03 00:20)"), "{reported}");
}

#[test]
fn finds_beside_a_track_without_times_end_with_status_1() {
    let desk = Desk::new();
    let timeless = track("1970-01-01");
    desk.file("day/walk.gpx", timeless).file("day/notes.csv", NOTES);
    assert_eq!(desk.run(&["check", "day"]).status.code(), Some(1));
}

#[test]
fn numbers_that_the_store_holds_of_another_day_are_reported() {
    let desk = Desk::new();
    let notes = |day: &str| {
        format!(
            "number,date,time,host,substrate\n7,{day},10:20,beech,soil\n8,{day},10:40,beech,soil\n"
        )
    };
    for day in ["2026-05-02", "2026-05-09"] {
        desk.file(&format!("{day}/walk.gpx"), track(day));
        desk.file(&format!("{day}/notes.csv"), notes(day));
    }
    let import = |day: &str| {
        let output = desk.run(&["import", day, "--store", "s.gpkg"]);
        String::from_utf8_lossy(&output.stderr).into_owned()
    };
    let again = "the numbers 7, 8 are used on 2026-05-02 already";
    assert!(!import("2026-05-02").contains("used on"));
    assert!(import("2026-05-09").contains(again));
    assert!(!import("2026-05-09").contains(again));
}

#[test]
fn exact_waypoint_name_is_preferred_to_a_similar_one() {
    let desk = Desk::new();
    let point = |name: &str, lat: f64, day: &str| {
        format!(
            "<wpt lat=\"{lat}\" lon=\"146.09\"><time>{day}T00:30:00Z</time><name>{name}</name></wpt>"
        )
    };
    let points = ["012", "12*", "12"].iter().zip([-42.0, -42.5, -42.605]);
    let points: String = points.map(|(name, lat)| point(name, lat, "2026-05-02")).collect();
    let gpx = track("2026-05-02").replace("<trk>", &format!("{points}<trk>"));
    let notes = "number,date,waypoint,host,substrate\nAQ-1,2026-05-02,12,beech,soil\n";
    desk.file("day/walk.gpx", gpx).file("day/notes.csv", notes);
    let output = desk.run(&["check", "day", "--json"]);
    let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let latitude = object["finds"][0]["decimalLatitude"].as_f64().unwrap();
    assert!((latitude + 42.605).abs() < 1e-4, "{latitude}");
}

#[test]
fn a_waypoint_of_another_outing_of_the_import_is_found() {
    let desk = Desk::new();
    let point = "<wpt lat=\"-42.6070\" lon=\"146.0901\"><time>2026-05-02T00:30:00Z</time><name>OLD LOG</name></wpt>";
    let gpx = track("2026-05-02").replace("<trk>", &format!("{point}<trk>"));
    let notes = "number,date,waypoint,host,substrate\n\
        AQ-1,2026-05-02,,beech,soil\nAQ-2,2026-05-09,OLD LOG,beech,soil\n";
    desk.file("day/one.gpx", gpx)
        .file("day/two.gpx", track("2026-05-09"))
        .file("day/notes.csv", notes);
    let output = desk.run(&["check", "day", "--json"]);
    let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let finds = object["finds"].as_array().unwrap();
    let find = finds.iter().find(|find| find["recordNumber"] == "AQ-2").unwrap();
    assert_eq!(find["decimalLatitude"], -42.607);
    assert!(find["eventDate"].as_str().unwrap().starts_with("2026-05-09"), "{find}");
}

#[test]
fn reused_numbers_are_reported_and_numbers_of_other_days_are_not_missing() {
    let desk = Desk::new();
    let notes = "number,date,time,host,substrate\n\
        AQ-1,2026-05-02,10:10,beech,soil\nAQ-2,2026-05-02,10:20,beech,soil\n\
        AQ-4,2026-05-02,10:30,beech,soil\nAQ-3,2026-05-03,10:10,beech,soil\n\
        AQ-2,2026-05-03,10:20,beech,soil\nAQ-5,2026-05-03,10:30,beech,soil\n";
    desk.file("day/one.gpx", track("2026-05-02"))
        .file("day/two.gpx", track("2026-05-03"))
        .file("day/notes.csv", notes);
    let reported = desk.reported(&["check", "day"]);
    assert!(!reported.contains("numbers are missing"), "{reported}");
    assert!(reported.contains("already used on 2026-05-02"), "{reported}");
}

/// What `check --json` says of finds of one date that have these times and coordinates, and its exit status.
fn written_only(finds: &[(&str, &str)]) -> (serde_json::Value, i32) {
    let rows: String = (1..)
        .zip(finds)
        .map(|(k, (time, coordinates))| format!("{k},2026-05-03,{time},\"{coordinates}\"\n"))
        .collect();
    let desk = Desk::new();
    desk.file("day/notes.csv", format!("number,date,time,coordinates\n{rows}"));
    let output = desk.run(&["check", "day", "--json"]);
    (serde_json::from_slice(&output.stdout).unwrap(), output.status.code().unwrap())
}

fn placed(object: &serde_json::Value) -> Vec<bool> {
    let finds = object["finds"].as_array().unwrap();
    finds.iter().map(|find| find["decimalLatitude"].is_number()).collect()
}

#[test]
fn coordinates_that_do_not_fit_the_other_finds_of_their_day_place_nothing() {
    let south =
        [("", "-42.6012, 146.0934"), ("", "-42.6101, 146.1012"), ("", "-42.6099, 146.0877")];
    let alps = [("", "47.5123, 8.2345"), ("", "47.5201, 8.2411"), ("", "47.5177, 8.2502")];
    for (others, wrong, manner) in [
        (south, "42.6050, 146.0951", Some("a minus or a letter missing")),
        (alps, "8.2388, 47.5150", Some("longitude first")),
        (south, "-37.6050, 146.0951", None),
        (south, "-42.6050, 141.0951", None),
    ] {
        for at in 0..=others.len() {
            let mut finds = others.to_vec();
            finds.insert(at, ("", wrong));
            let (object, status) = written_only(&finds);
            let expected: Vec<bool> = (0..finds.len()).map(|k| k != at).collect();
            assert_eq!(placed(&object), expected, "{wrong}: {object}");
            assert_eq!(status, 1, "{wrong}");
            let conflict = &object["conflicts"][0];
            assert_eq!(conflict["code"], "coordinates-apart", "{object}");
            let fits = conflict["fits"]["manner"].as_str();
            assert_eq!(fits.is_some(), manner.is_some(), "{conflict}");
            assert!(fits.is_none_or(|fits| fits.contains(manner.unwrap())), "{conflict}");
            assert_eq!(object["finds"][at]["why_not_located"]["reasons"][0]["verbatim"], wrong);
        }
    }
}

#[test]
fn of_two_finds_with_coordinates_that_do_not_fit_none_is_placed() {
    let (object, status) = written_only(&[("", "-42.6012, 146.0934"), ("", "42.6050, 146.0951")]);
    assert_eq!((placed(&object), status), (vec![false, false], 1));
    assert_eq!(object["conflicts"].as_array().unwrap().len(), 2);
    let (object, status) = written_only(&[("", "-42.6012, 146.0934"), ("", "-42.9, 147.3")]);
    assert_eq!((placed(&object), status), (vec![true, true], 0), "an hour's drive");
}

#[test]
fn a_way_that_nobody_drives_in_the_time_between_is_reported() {
    let here = |minute: &'static str| (minute, "-42.6012, 146.0934");
    let far = "-41.4012, 147.2934";
    let (object, status) =
        written_only(&[here("10:00"), here("10:20"), ("10:40", far), here("11:00")]);
    assert_eq!((placed(&object), status), (vec![true, true, false, true], 1), "{object}");
    let (object, status) =
        written_only(&[here("08:00"), here("08:20"), ("14:40", far), ("15:00", far)]);
    assert_eq!((placed(&object), status), (vec![true; 4], 0), "{object}");
    assert_eq!(object["conflicts"].as_array().unwrap().len(), 0);
}

/// What `check --json` says of finds at these written times in the night in which summer time ends in the Black Forest,
/// beside a walk from 01:30 (first) to 03:30.
fn in_the_repeated_hour(times: &[&str]) -> serde_json::Value {
    let point = |k: u32| {
        let second = 23 * 3_600 + 1_800 + 10 * k;
        let (day, second) = (24 + second / 86_400, second % 86_400);
        let (hour, minute) = (second / 3_600, second / 60 % 60);
        let north = 47.9 + f64::from(k) * 2e-5;
        format!(
            "<trkpt lat=\"{north:.6}\" lon=\"8.1\"><time>2026-10-{day}T{hour:02}:{minute:02}:{:02}Z</time></trkpt>\n",
            second % 60
        )
    };
    let points: String = (0..1_080).map(point).collect();
    let rows: String =
        (1..).zip(times).map(|(k, time)| format!("B {k},2026-10-25,{time},beech,soil\n")).collect();
    let desk = Desk::new();
    desk.file("night/walk.gpx", format!("{HEAD}{points}</trkseg></trk></gpx>\n"));
    desk.file("night/notes.csv", format!("number,date,time,host,substrate\n{rows}"));
    serde_json::from_slice(&desk.run(&["check", "night", "--json"]).stdout).unwrap()
}

#[test]
fn the_order_of_the_records_shows_which_of_two_equal_times_is_meant() {
    let object = in_the_repeated_hour(&["01:50", "02:10", "02:40", "02:05", "02:30", "03:10"]);
    let finds = object["finds"].as_array().unwrap();
    let offsets: Vec<&str> =
        finds.iter().map(|find| &find["eventDate"].as_str().unwrap()[19..]).collect();
    assert_eq!(offsets, ["+02:00", "+02:00", "+02:00", "+01:00", "+01:00", "+01:00"], "{object}");
    for (find, minutes) in finds.iter().zip([20.0, 40.0, 70.0, 95.0, 120.0, 160.0]) {
        let off = (find["decimalLatitude"].as_f64().unwrap() - 47.9 - minutes * 12e-5) * 111_200.0;
        let radius = find["coordinateUncertaintyInMeters"].as_f64().unwrap();
        assert!(off.abs() < radius && radius < 120.0, "{minutes}: {off} {radius}");
    }
    let said = object["remarks"].to_string();
    assert!(said.contains("by the order of the records the second is meant"), "{said}");
}

#[test]
fn where_nothing_shows_which_of_two_equal_times_is_meant_the_radius_holds_both() {
    let object = in_the_repeated_hour(&["01:50", "02:10", "02:40", "03:10"]);
    let finds = object["finds"].as_array().unwrap();
    for (find, minutes) in finds.iter().zip([20.0, 40.0, 70.0, 160.0]).skip(1).take(2) {
        for later in [0.0, 60.0] {
            let truth = 47.9 + (minutes + later) * 12e-5;
            let off = (find["decimalLatitude"].as_f64().unwrap() - truth) * 111_200.0;
            let radius = find["coordinateUncertaintyInMeters"].as_f64().unwrap();
            assert!(off.abs() < radius, "{minutes} {later}: {off} {radius}");
        }
        assert!(find["time_half_width_s"].as_f64().unwrap() > 1_800.0, "{find}");
    }
    assert!(object["remarks"].to_string().contains("nothing shows which is meant"), "{object}");
}

#[test]
fn a_notebook_without_a_date_beside_the_only_track_is_said_to_have_none() {
    let desk = Desk::new();
    let notes = "number,time,host,substrate\nAQ-1,10:20,beech,soil\nAQ-2,10:40,beech,soil\n";
    desk.file("day/walk.gpx", track("2026-05-03")).file("day/notes.csv", notes);
    let reported = desk.reported(&["check", "day"]);
    assert!(reported.contains("the only track, although no date is written"), "{reported}");
    assert!(!reported.contains("by the date only"), "{reported}");
}
