//! Tests of KML: ordinary, by other programs' habits, damaged and hostile.

use std::path::Path;

use super::{is_own_export, looks_like_kml, read_from};
use crate::model::TrackFile;
use crate::units::{GpsHeight, Metres};

fn parse(text: impl AsRef<[u8]>) -> TrackFile {
    read_from(text.as_ref(), Path::new("day/ridge.kml")).unwrap()
}

fn document(inner: &str) -> String {
    format!(
        "<?xml version=\"1.0\"?>\n<kml xmlns=\"http://www.opengis.net/kml/2.2\" \
         xmlns:gx=\"http://www.google.com/kml/ext/2.2\"><Document>\n{inner}\n</Document></kml>"
    )
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
    all.map(|e| format!("{}: {}", e.where_line().unwrap_or(0), e.what().replace("ridge.kml: ", "")))
        .collect()
}

const TRACK: &str = "<Placemark><name>morning</name><gx:Track><altitudeMode>absolute</altitudeMode>
<when>2026-05-02T01:00:00Z</when><when>2026-05-02T01:00:10Z</when><when>2026-05-02T01:00:20Z</when>
<gx:coord>146.1 -42.1 401.5</gx:coord><gx:coord>146.2 -42.2 402</gx:coord>
<gx:coord>146.3 -42.3 0</gx:coord></gx:Track></Placemark>";

#[test]
fn a_track_pairs_its_times_and_positions() {
    let file = parse(document(TRACK));
    assert_eq!(
        timed(&file),
        [
            "-42.1 146.1 2026-05-02T01:00:00Z",
            "-42.2 146.2 2026-05-02T01:00:10Z",
            "-42.3 146.3 2026-05-02T01:00:20Z"
        ]
    );
    let fix = file.fixes().next().unwrap();
    assert_eq!((fix.height, fix.line), (Some(GpsHeight(Metres(401.5))), 5));
    assert_eq!(file.tracks[0].name.as_deref(), Some("morning"));
    assert!(messages(&file).is_empty(), "{:?}", messages(&file));
    // version 2.3 has no prefix; a pair may stand together
    let plain = TRACK.replace("gx:", "").replace("</when><when>", "</when>\n<when>");
    assert_eq!(timed(&parse(document(&plain))), timed(&file));
}

#[test]
fn other_prefixes_are_known_by_what_they_are_bound_to() {
    let text = "<ns0:kml xmlns:ns0=\"http://www.opengis.net/kml/2.2\" \
        xmlns:ns1=\"http://www.google.com/kml/ext/2.2\" xmlns:ns2=\"http://www.w3.org/2005/Atom\">
        <ns0:Placemark><ns2:name>no</ns2:name><ns1:Track><ns0:when>2026-05-02T01:00:00Z</ns0:when>
        <ns1:coord>1 2 3</ns1:coord></ns1:Track></ns0:Placemark></ns0:kml>";
    assert!(looks_like_kml(text.as_bytes()));
    let file = parse(text);
    assert_eq!(timed(&file), ["2 1 2026-05-02T01:00:00Z"]);
    assert_eq!(file.tracks[0].name, None);
}

#[test]
fn several_pieces_are_segments_of_one_track() {
    let one = "<gx:Track><when>2026-05-02T01:00:00Z</when><gx:coord>1 2</gx:coord></gx:Track>";
    let two = one.replace("01:00:00", "02:00:00");
    let file = parse(document(&format!(
        "<Placemark><gx:MultiTrack><gx:interpolate>1</gx:interpolate>{one}{two}</gx:MultiTrack></Placemark>"
    )));
    assert_eq!((file.tracks.len(), file.tracks[0].segments.len()), (1, 2));
}

#[test]
fn another_number_of_times_than_of_positions_leaves_a_line() {
    let text = TRACK.replace("<when>2026-05-02T01:00:10Z</when>", "");
    let file = parse(document(&text));
    assert_eq!(file.fixes().count(), 0);
    assert_eq!(file.routes[0].points.len(), 3);
    assert_eq!(messages(&file), ["3: 1 line was read without its times"]);
    assert!(file.set_aside[0].why().unwrap().ends_with("2 times, 3 points"));
}

#[test]
fn a_damaged_position_or_time_loses_only_itself() {
    let text =
        TRACK.replace("146.2 -42.2 402", "146.2 -92.2 402").replace("01:00:20Z", "25:00:20Z");
    let file = parse(document(&text));
    assert_eq!(timed(&file), ["-42.1 146.1 2026-05-02T01:00:00Z", "-42.3 146.3 -"]);
    let messages = messages(&file);
    assert_eq!(messages.len(), 2, "{messages:?}");
    assert!(messages[0].contains("impossible latitude") && messages[1].contains("1 time was"));
    let broken = TRACK.replace("<gx:coord>146.2 -42.2 402</gx:coord>", "<gx:coord 146.2");
    let file = parse(document(&broken));
    assert_eq!(
        timed(&file),
        ["-42.1 146.1 2026-05-02T01:00:00Z", "-42.3 146.3 2026-05-02T01:00:20Z"]
    );
}

#[test]
fn a_cut_file_keeps_what_is_complete() {
    let whole = document(TRACK);
    let cut = &whole[..whole.find("146.3").unwrap() + 4];
    let file = parse(cut);
    assert_eq!(
        timed(&file),
        ["-42.1 146.1 2026-05-02T01:00:00Z", "-42.2 146.2 2026-05-02T01:00:10Z"]
    );
    assert!(messages(&file)[0].contains("truncated"), "{:?}", messages(&file));
}

#[test]
fn lines_without_times_are_lines_to_walk() {
    let file = parse(document(
        "<Placemark><name>old tramway</name><LineString><coordinates>
         146.1,-42.1,400 146.2,-42.2,0\n146.3,x,0 146.4,-42.4</coordinates></LineString></Placemark>
         <Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>1,1 2,2 3,3 1,1</coordinates>
         </LinearRing></outerBoundaryIs></Polygon></Placemark>",
    ));
    assert_eq!((file.tracks.len(), file.routes.len()), (0, 1));
    assert_eq!(file.routes[0].name.as_deref(), Some("old tramway"));
    assert_eq!(file.routes[0].points.len(), 3);
    assert_eq!(messages(&file), ["5: 1 point with unreadable coordinates was skipped"]);
}

#[test]
fn a_line_has_times_where_each_point_or_a_short_span_gives_them() {
    let line = "<LineString><coordinates>1,1 2,2 3,3</coordinates></LineString>";
    let whens = "<when>2026-05-02T01:00:00Z</when><when>2026-05-02T01:00:01Z</when>\
                 <when>2026-05-02T01:00:02Z</when>";
    let file = parse(document(&format!("<Placemark>{whens}{line}</Placemark>")));
    assert_eq!(timed(&file)[2], "3 3 2026-05-02T01:00:02Z");
    let span = |end: &str| {
        format!(
            "<Placemark><TimeSpan><begin>2026-05-02T01:00:00Z</begin><end>{end}</end></TimeSpan>\
             {line}</Placemark>"
        )
    };
    let short = parse(document(&span("2026-05-02T01:01:00Z")));
    assert_eq!(timed(&short), ["1 1 2026-05-02T01:00:00Z", "3 3 2026-05-02T01:01:00Z"]);
    let long = parse(document(&span("2026-05-02T05:01:00Z")));
    assert_eq!((long.fixes().count(), long.routes.len()), (0, 1));
    assert!(messages(&long)[0].contains("only at its ends"), "{:?}", messages(&long));
}

#[test]
fn points_are_waypoints_and_unnamed_points_with_times_a_track() {
    let point = |name: &str, time: &str, at: &str| {
        format!(
            "<Placemark>{name}<TimeStamp><when>{time}</when></TimeStamp><LookAt><longitude>9</longitude>\
             <gx:TimeStamp><when>1999-01-01T00:00:00Z</when></gx:TimeStamp></LookAt>\
             <Point><coordinates>{at}</coordinates></Point></Placemark>"
        )
    };
    let named = point("<name>TH 17</name>", "2026-05-02T01:00:00Z", "146.1,-42.1,5");
    let file = parse(document(&named));
    assert_eq!(file.waypoints[0].name.as_deref(), Some("TH 17"));
    assert_eq!(file.waypoints[0].fix.time.unwrap().to_string(), "2026-05-02T01:00:00Z");
    let unnamed: String = (10..13)
        .map(|second| point("", &format!("2026-05-02T01:00:{second}Z"), "146.1,-42.1"))
        .collect();
    let file = parse(document(&format!("{named}{unnamed}")));
    assert_eq!((file.waypoints.len(), file.fixes().count()), (1, 3));
    assert_eq!(messages(&file).len(), 1, "{:?}", messages(&file));
    // twenty named points a few seconds apart are a track, nineteen are marked places
    let many = |count: usize| -> String {
        let one = |k: usize| {
            let time = format!("2026-05-02T01:00:{:02}Z", k * 2);
            point(&format!("<name>{k}</name>"), &time, "146.1,-42.1")
        };
        (0..count).map(one).collect()
    };
    assert_eq!(parse(document(&many(20))).fixes().count(), 20);
    assert_eq!(parse(document(&many(19))).waypoints.len(), 19);
}

#[test]
fn a_time_among_extended_data_is_that_of_the_point() {
    let point = |data: &str| {
        format!(
            "<Placemark><ExtendedData>{data}</ExtendedData><Point><coordinates>1,2</coordinates>\
             </Point></Placemark>"
        )
    };
    let simple = "<SchemaData schemaUrl=\"#t\"><SimpleData name=\"speed\">7</SimpleData>\
                  <SimpleData name=\"time\">2026/05/02 01:00:00+00</SimpleData></SchemaData>";
    let data = "<Data name=\"Timestamp\"><displayName>t</displayName>\
                <value>2026-05-02T01:00:04Z</value></Data><Data name=\"x\"><value>y</value></Data>";
    let file = parse(document(&format!("{}{}", point(simple), point(data))));
    assert_eq!(timed(&file), ["2 1 2026-05-02T01:00:00Z", "2 1 2026-05-02T01:00:04Z"]);
    assert_eq!(messages(&file).len(), 1, "{:?}", messages(&file));
}

#[test]
fn altitudes_above_the_ground_are_no_heights() {
    let file = parse(document(&TRACK.replace("absolute", "relativeToGround")));
    assert!(file.fixes().all(|fix| fix.height.is_none()));
}

#[test]
fn a_long_list_comes_in_pieces_and_is_whole() {
    let list: String =
        (0..30_000).fold(String::new(), |list, k| list + &format!("{}.123456,-42.5,12 ", k % 180));
    let text = document(&format!(
        "<Placemark><LineString><coordinates>{list}</coordinates></LineString></Placemark>"
    ));
    let file = parse(text);
    assert_eq!(file.routes[0].points.len(), 30_000);
    assert!(messages(&file).is_empty(), "{:?}", messages(&file));
    for (k, point) in file.routes[0].points.iter().enumerate() {
        assert_eq!(point.fix.at.longitude(), (k % 180) as f64 + 0.123_456);
    }
}

#[test]
fn unclosed_elements_and_entities_hide_no_placemark() {
    let text = document(&format!("<Style><IconStyle><Icon>{TRACK}"));
    let file = parse(text);
    assert_eq!(file.fixes().count(), 3);
    let bomb = format!(
        "<!DOCTYPE kml [<!ENTITY a \"aaaa\">]>{}",
        document(TRACK).split_once('\n').unwrap().1
    )
    .replace("morning", "&a;&a;");
    let file = parse(bomb);
    assert_eq!(file.tracks[0].name.as_deref(), Some("&a;&a;"));
    assert_eq!(file.set_aside.len(), 2, "{:?}", messages(&file));
}

#[test]
fn links_are_not_followed_and_own_files_are_known() {
    let file = parse(document(
        "<NetworkLink><Link><href>http://example.org/x.kml</href></Link></NetworkLink>",
    ));
    assert_eq!(messages(&file).len(), 1);
    let own = document("<name>Finds</name><description>written by trug 0.1.0</description>");
    assert!(is_own_export(own.as_bytes()));
    assert!(!is_own_export(document(TRACK).as_bytes()));
    assert!(read_from("<gpx/>".as_bytes(), Path::new("a.kml")).is_err());
    assert!(read_from("".as_bytes(), Path::new("a.kml")).is_err());
}
