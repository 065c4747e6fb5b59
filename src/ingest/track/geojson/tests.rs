//! Tests of GeoJSON: lines with and without times, points, damage and limits.

use std::path::Path;

use super::{is_own_export, looks_like_geojson, read_from};
use crate::model::TrackFile;

fn parse(text: impl AsRef<[u8]>) -> TrackFile {
    read_from(text.as_ref(), Path::new("day/ridge.geojson")).unwrap()
}

fn feature(kind: &str, coordinates: &str, properties: &str) -> String {
    format!(
        r#"{{"type":"Feature","properties":{properties},"geometry":{{"type":"{kind}","coordinates":{coordinates}}}}}"#
    )
}

fn collection(features: &[String]) -> String {
    format!(r#"{{"type":"FeatureCollection","features":[{}]}}"#, features.join(",\n"))
}

fn timed(file: &TrackFile) -> Vec<String> {
    let shown = |fix: &crate::model::Fix| {
        let time = fix.time.map_or("-".to_owned(), |time| time.to_string());
        format!("{} {} {time}", fix.at.latitude(), fix.at.longitude())
    };
    file.fixes().map(shown).collect()
}

fn messages(file: &TrackFile) -> Vec<String> {
    let all = file.set_aside.iter().chain(&file.remarks);
    all.map(|e| {
        format!("{}: {}", e.where_line().unwrap_or(0), e.what().replace("ridge.geojson: ", ""))
    })
    .collect()
}

const LINE: &str = "[[146.1,-42.1,401.5],[146.2,-42.2]]";
const BOTH: [&str; 2] = ["-42.1 146.1 2026-05-02T01:00:00Z", "-42.2 146.2 2026-05-02T01:00:10Z"];

#[test]
fn times_beside_a_line_are_read_by_their_usual_names() {
    let list = r#"["2026-05-02T01:00:00Z","2026-05-02T01:00:10Z"]"#;
    for properties in [
        format!(r#"{{"coordTimes":{list}}}"#),
        format!(r#"{{"name":"x","coord_times":{list}}}"#),
        format!(r#"{{"times":{list}}}"#),
        r#"{"timestamps":[1777683600,1777683610]}"#.to_string(),
        r#"{"time":[1777683600000,1777683610000]}"#.to_string(),
        format!(r#"{{"coordinateProperties":{{"times":{list}}}}}"#),
    ] {
        let file = parse(collection(&[feature("LineString", LINE, &properties)]));
        assert_eq!(timed(&file), BOTH, "{properties}");
        assert!(messages(&file).is_empty(), "{:?}", messages(&file));
    }
    let parts = r#"{"coordTimes":[["2026-05-02T01:00:00Z"],["2026-05-02T01:00:10Z"]]}"#;
    let file = parse(feature("MultiLineString", "[[[146.1,-42.1]],[[146.2,-42.2]]]", parts));
    assert_eq!(
        (timed(&file), file.tracks[0].segments.len()),
        (BOTH.map(str::to_owned).to_vec(), 2)
    );
}

#[test]
fn a_fourth_number_may_be_the_time() {
    let line = "[[146.1,-42.1,4,1777683600],[146.2,-42.2,4,1777683610]]";
    let file = parse(feature("LineString", line, "{}"));
    assert_eq!(timed(&file), BOTH);
    assert_eq!(messages(&file), ["0: 2 fourth numbers of points were read as their times"]);
    let measure = parse(feature("LineString", "[[1,1,4,17],[2,2,4,18]]", "null"));
    assert_eq!(measure.routes.len(), 1);
}

#[test]
fn lines_without_times_or_with_too_few_are_lines_to_walk() {
    let file = parse(feature("LineString", LINE, r#"{"coordTimes":["2026-05-02T01:00:00Z"]}"#));
    assert_eq!((file.fixes().count(), file.routes[0].points.len()), (0, 2));
    assert_eq!(messages(&file), ["0: 1 line was read without its times"]);
    let why = file.set_aside[0].why().unwrap();
    assert!(why.ends_with("1 times, 2 points (feature 1)"), "{why}");
    let file = parse(feature("LineString", LINE, "null"));
    assert!(messages(&file).is_empty() && file.routes.len() == 1);
}

#[test]
fn points_are_waypoints_or_a_track() {
    let at = "[146.1,-42.1]";
    let point = |time: &str| feature("Point", at, &format!(r#"{{"time":"{time}"}}"#));
    let named = feature("Point", at, r#"{"Name":"TH 17","note":"fern","ele":12.5}"#);
    let file = parse(collection(&[
        point("2026-05-02T01:00:00Z"),
        named,
        point("2026-05-02T01:00:10"),
        feature("Point", at, r#"{"date":"2026-05-02"}"#),
    ]));
    assert_eq!(file.fixes().count(), 2);
    assert_eq!(file.waypoints.len(), 2);
    assert_eq!(file.waypoints[0].name.as_deref(), Some("TH 17"));
    assert_eq!(file.waypoints[0].description.as_deref(), Some("fern"));
    assert_eq!(file.waypoints[0].fix.height.unwrap().0.0, 12.5);
    assert_eq!(file.waypoints[1].fix.time, None);
    let messages = messages(&file);
    assert!(messages.iter().any(|m| m.contains("without a zone")), "{messages:?}");
    assert!(messages.iter().any(|m| m.contains("read as a track")), "{messages:?}");
}

#[test]
fn bad_points_lose_only_themselves() {
    for bad in ["[null,2]", "[\"x\",2]", "[1]", "{}", "[[],true]", "[91,181]", "\"a\""] {
        let line = format!("[[146.1,-42.1],{bad},[146.2,-42.2]]");
        let times = r#"{"coordTimes":["2026-05-02T01:00:00Z","2026-05-02T01:00:05Z","2026-05-02T01:00:10Z"]}"#;
        let file = parse(collection(&[feature("LineString", &line, times)]));
        let points =
            file.fixes().count() + file.routes.iter().map(|r| r.points.len()).sum::<usize>();
        assert_eq!(points, 2, "{bad}: {:?}", messages(&file));
        assert!(!messages(&file).is_empty(), "{bad}");
    }
}

#[test]
fn numbers_unknown_to_json_are_missing_numbers() {
    let line = "[[146.1,-42.1,NaN],[146.2,-42.2,-Infinity]]";
    let times = r#"{"coordTimes":["2026-05-02T01:00:00Z","2026-05-02T01:00:10Z"]}"#;
    let file = parse(collection(&[feature("LineString", line, times)]));
    assert_eq!(timed(&file), BOTH);
    assert!(file.fixes().all(|fix| fix.height.is_none()));
}

#[test]
fn a_damaged_end_keeps_what_precedes_it() {
    let times =
        r#"{"coordTimes":["2026-05-02T01:00:00Z","2026-05-02T01:00:10Z","2026-05-02T01:00:20Z"]}"#;
    let line = "[[146.1,-42.1],[146.2,-42.2],[146.3,-42.3]]";
    let whole = collection(&[
        feature("Point", "[1,2]", r#"{"name":"a"}"#),
        feature("LineString", line, times),
    ]);
    let cut = &whole[..whole.find("146.3").unwrap() - 1];
    let file = parse(cut);
    assert_eq!(timed(&file), BOTH);
    assert_eq!(file.waypoints.len(), 1);
    assert_eq!(messages(&file), ["2: 1 damaged place ends the JSON"]);
    let broken = whole.replace("146.2,-42.2", "146.2 -42.2");
    let file = parse(&broken);
    assert_eq!(timed(&file)[0], BOTH[0]);
    assert_eq!(file.waypoints.len(), 1);
    // the types may stand behind the damage
    let sorted = r#"{"features":[{"geometry":{"coordinates":[[146.1,-42.1],[146.2,-42.2],[146.3"#;
    assert_eq!(parse(sorted).routes[0].points.len(), 2);
    let late = r#"{"features":[{"geometry":{"coordinates":[[146.1,-42.1],[146.2,-42.2]],"type":"LineString"},"properties":{"coordTimes":["2026-05-02T01:00:00Z","2026-05"#;
    assert_eq!(timed(&parse(late)), [BOTH[0], "-42.2 146.2 -"]);
    // every cut is read or refused, and never panics
    for end in 0..whole.len() {
        let _ = read_from(&whole.as_bytes()[..end], Path::new("cut.geojson"));
    }
}

#[test]
fn objects_may_follow_one_another_and_nest() {
    let text = format!(
        "\u{1e}{}\n\u{1e}{}\n",
        feature("Point", "[1,2]", r#"{"name":"a"}"#),
        r#"{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[3,4]}]}"#
    );
    assert!(looks_like_geojson(text.as_bytes()));
    assert_eq!(parse(text).waypoints.len(), 2);
    let deep = format!(r#"{{"type":"LineString","coordinates":{}"#, "[".repeat(100_000));
    let _ = read_from(deep.as_bytes(), Path::new("deep.geojson"));
}

#[test]
fn other_systems_and_other_json_are_refused() {
    let crs = r#"{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::25832"}},"features":[]}"#;
    let refused = read_from(crs.as_bytes(), Path::new("a.geojson")).unwrap_err().to_string();
    assert!(refused.contains("EPSG::25832"), "{refused}");
    let usual = crs.replace("EPSG::25832", "OGC:1.3:CRS84");
    assert!(read_from(usual.as_bytes(), Path::new("a.geojson")).is_ok());
    assert!(read_from("{\"a\":1}".as_bytes(), Path::new("a.geojson")).is_err());
    let sorted = r#"{"features":[{"geometry":{"coordinates":[[146.1,-42.1],[146.2,"#;
    assert!(looks_like_geojson(sorted.as_bytes()));
    for other in ["{\"type\":\"Topology\",\"features\":1}", "[1]", "", "{", "number,type\n1,2"] {
        assert!(!looks_like_geojson(other.as_bytes()), "{other}");
    }
}

#[test]
fn files_of_this_program_are_known() {
    let own = r#"{"type":"FeatureCollection","generator":"trug 0.1.0","features":[]}"#;
    assert!(is_own_export(own.as_bytes()));
    assert!(!is_own_export(collection(&[]).as_bytes()));
}

#[test]
fn type_and_places_may_follow_something_long() {
    let times: Vec<String> =
        (0..1_000).map(|k| format!("\"2026-05-02T00:{:02}:00Z\"", k % 60)).collect();
    let long = format!("\"properties\":{{\"coordTimes\":[{}]}}", times.join(","));
    let line = "\"geometry\":{\"type\":\"LineString\",\"coordinates\":[[146,-42],[146.1,-42]]}";
    for whole in [
        format!("{{\"type\":\"Feature\",{long},{line}}}"),
        format!("{{{long},{line},\"type\":\"Feature\"}}"),
        format!("{{{long},\"speed\":NaN,{line},\"type\":\"Feature\"}}"),
        format!("\u{feff}{{{long},\"type\":\"FeatureCollection\",\"features\":[]}}"),
    ] {
        assert!(looks_like_geojson(whole.as_bytes()), "{}", &whole[..60]);
    }
    let other = format!("{{{long},\"type\":\"Point\"}}");
    assert!(!looks_like_geojson(other.as_bytes()));
    let other = format!("{{{long},\"geometry\":{{\"type\":\"Point\"}},\"type\":\"report\"}}");
    assert!(!looks_like_geojson(other.as_bytes()));
}
