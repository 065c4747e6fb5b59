//! Tests of GPX files: ordinary, damaged and hostile.

use std::fmt::Write as _;
use std::path::Path;

use super::{read, read_from};
use crate::model::{FixKind, TrackFile};
use crate::units::{GpsHeight, Metres};

fn parse(text: impl AsRef<[u8]>) -> TrackFile {
    read_from(text.as_ref(), Path::new("day/ridge.gpx")).unwrap()
}

/// A track of points with the given inner XML, one to a line, the first on line 2.
fn track(points: &[&str]) -> String {
    format!("<gpx version=\"1.1\"><trk><trkseg>\n{}\n</trkseg></trk></gpx>", points.join("\n"))
}

fn latitudes(file: &TrackFile) -> Vec<f64> {
    file.fixes().map(|fix| fix.at.latitude()).collect()
}

/// What was set aside, as "line: sentence".
fn set_aside(file: &TrackFile) -> Vec<String> {
    file.set_aside.iter().map(message).collect()
}

fn remarks(file: &TrackFile) -> Vec<String> {
    file.remarks.iter().map(message).collect()
}

fn message(error: &crate::error::Error) -> String {
    format!("{}: {}", error.where_line().unwrap_or(0), error.what().replace("ridge.gpx: ", ""))
}

const GOOD: &str = r#"<trkpt lat="7" lon="1"/>"#;

#[test]
fn everything_that_the_model_holds_is_read() {
    let file = parse(
        r#"<?xml version="1.0"?>
<gpx version="1.1" creator="Invented Receiver &amp; Co" xmlns="http://www.topografix.com/GPX/1/1">
<metadata><name>not a track</name><time>2020-01-01T00:00:00Z</time></metadata>
<wpt lat="-42.5" lon="146.25"><ele>400</ele><time>2026-05-03T01:02:03Z</time><name>TH-17</name>
 <cmt>by the &lt;log&gt;</cmt><desc><![CDATA[under <fern>]]> tree</desc><sym>Flag</sym>
 <extensions><x:WptExt><x:Samples>120</x:Samples></x:WptExt></extensions></wpt>
<rte><name>way out</name><rtept lat="1" lon="2"><name>gate</name></rtept><rtept lat="3" lon="4"/></rte>
<trk><name>morning</name><desc>wet</desc><number>3</number><trkseg>
<trkpt lat="-42.1" lon="146.1"><ele>401.5</ele><time>2026-05-03T01:02:03.5Z</time><fix>3d</fix>
 <sat>9</sat><hdop>1.1</hdop><vdop>1.5</vdop><pdop>1.9</pdop></trkpt>
</trkseg><trkseg/></trk></gpx>"#,
    );
    assert!(file.set_aside.is_empty() && file.remarks.is_empty(), "{file:?}");
    assert_eq!(file.creator.as_deref(), Some("Invented Receiver & Co"));
    let waypoint = &file.waypoints[0];
    assert_eq!(waypoint.name.as_deref(), Some("TH-17"));
    assert_eq!(waypoint.comment.as_deref(), Some("by the <log>"));
    assert_eq!(waypoint.description.as_deref(), Some("under <fern> tree"));
    assert_eq!(waypoint.symbol.as_deref(), Some("Flag"));
    assert_eq!((waypoint.averaged, waypoint.fix.line), (Some(120), 4));
    assert_eq!(file.routes[0].name.as_deref(), Some("way out"));
    assert_eq!(file.routes[0].points.len(), 2);
    assert_eq!(file.routes[0].points[0].name.as_deref(), Some("gate"));
    let track = &file.tracks[0];
    assert_eq!(
        (track.name.as_deref(), track.description.as_deref()),
        (Some("morning"), Some("wet"))
    );
    assert_eq!(track.segments.len(), 1);
    let fix = track.segments[0].fixes[0];
    assert_eq!(fix.time.unwrap().to_string(), "2026-05-03T01:02:03.5Z");
    assert_eq!(fix.height, Some(GpsHeight(Metres(401.5))));
    assert_eq!((fix.hdop, fix.vdop, fix.pdop), (Some(1.1), Some(1.5), Some(1.9)));
    assert_eq!((fix.satellites, fix.kind, fix.line), (Some(9), Some(FixKind::ThreeD), 9));
}

#[test]
fn bad_point_loses_only_itself() {
    let bad = [
        (
            r#"<trkpt lat="91" lon="1"/>"#,
            "3: 1 point with an impossible latitude or longitude was \
         skipped",
        ),
        (r#"<trkpt lat="x" lon="1"/>"#, "3: 1 point with unreadable coordinates was skipped"),
        (r#"<trkpt lon="1"></trkpt>"#, "3: 1 point without coordinates was skipped"),
        (
            r#"<trkpt lat="1" lon="1" <ele>5</ele></trkpt>"#,
            "3: 1 point with unreadable coordinates was skipped",
        ),
        (
            r#"<trkpt lat="1 lon="1"><ele>5</ele></trkpt>"#,
            "3: 1 point with unreadable coordinates was skipped",
        ),
    ];
    for (point, message) in bad {
        let file = parse(track(&[GOOD, point, GOOD]));
        assert_eq!(latitudes(&file), [7.0, 7.0], "{point}");
        assert_eq!(set_aside(&file), [message], "{point}");
        assert!(remarks(&file).is_empty(), "{point}: {:?}", file.remarks);
        assert_eq!(file.points_set_aside, 1);
    }
}

#[test]
fn bad_value_loses_only_itself() {
    let bad = [
        ("<time>2026-13-03T00:00:00Z</time>", "1 time was ignored"),
        ("<ele>high</ele>", "1 height was ignored"),
        ("<ele>1,234</ele>", "1 height was ignored"),
        ("<ele>1e9</ele>", "1 height was ignored"),
        ("<hdop>-1</hdop>", "1 dilution of precision was ignored"),
        ("<sat>many</sat>", "1 number of satellites was ignored"),
        ("<fix>4d</fix>", "1 fix type was ignored"),
    ];
    for (value, message) in bad {
        let point = format!("<trkpt lat=\"5\" lon=\"1\">\n{value}<pdop>2</pdop></trkpt>");
        let file = parse(track(&[GOOD, &point, GOOD]));
        assert_eq!(latitudes(&file), [7.0, 5.0, 7.0]);
        assert_eq!(set_aside(&file), [format!("4: {message}")]);
        assert_eq!(file.fixes().nth(1).unwrap().pdop, Some(2.0));
        assert_eq!(file.points_set_aside, 0);
    }
}

#[test]
fn what_can_be_read_on_an_assumption_is_read_and_reported() {
    let point = r#"<trkpt lat="-42,25" lon="146,5"><ele>12 m</ele><time>2026-05-03T00:00:00</time>
        <hdop></hdop><vdop/><time></time></trkpt>"#;
    let file = parse(track(&[point]));
    let fix = file.fixes().next().unwrap();
    assert_eq!((fix.at.latitude(), fix.at.longitude()), (-42.25, 146.5));
    assert_eq!(fix.height, Some(GpsHeight(Metres(12.0))));
    assert_eq!(fix.time.unwrap().to_string(), "2026-05-03T00:00:00Z");
    assert!(file.set_aside.is_empty());
    assert_eq!(
        remarks(&file),
        [
            "2: 1 time without a zone was read as UTC",
            "2: 1 decimal comma was read as a point",
            "2: 1 height was read without its unit",
        ]
    );
}

#[test]
fn what_an_extension_holds_is_no_point() {
    let file = parse(
        r#"<gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0" xmlns:f="http://example.org/f">
<extensions><trk><trkseg><trkpt lat="1" lon="1"/></trkseg></trk></extensions>
<f:wpt lat="2" lon="2"/><trk><trkseg>
<trkpt lat="7" lon="1"><f:ele>9</f:ele><unknown><trkpt lat="3" lon="3"><ele>1</ele></trkpt></unknown>
<extensions><trkpt lat="4" lon="4"></trkpt><time>2026-05-03T00:00:00Z</time></extensions></trkpt>
<trkpt xmlns="http://example.org/f" lat="5" lon="5"></trkpt>
<unbound:trkpt lat="6" lon="6"/></trkseg></trk></gpx>"#,
    );
    assert_eq!(latitudes(&file), [7.0]);
    let fix = file.fixes().next().unwrap();
    assert_eq!((fix.height, fix.time), (None, None));
    assert!(file.waypoints.is_empty());
    assert!(file.set_aside.is_empty() && file.remarks.is_empty(), "{file:?}");
}

#[test]
fn missing_and_stray_end_tags_lose_no_point() {
    let file = parse(
        r#"<gpx><trk><trkseg><trkpt lat="1" lon="1"><ele>5</trkpt>
<trkpt lat="2" lon="1"><extensions><a></extensions></trkpt><trkpt lat="3" lon="1"><extensions><b></trkpt>
<trkpt lat="4" lon="1"></b><ele>6</ele><trkpt lat="5" lon="1"></trkpt></trkseg></trkseg>
<trkpt lat="6" lon="1"/></trk></gpx>"#,
    );
    assert_eq!(latitudes(&file), [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
    let heights: Vec<_> = file.fixes().filter_map(|fix| fix.height).map(|h| h.0.0).collect();
    assert_eq!(heights, [5.0, 6.0]);
    assert!(file.set_aside.is_empty());
    assert_eq!(remarks(&file), ["1: 4 tags do not match their end tags"]);
}

#[test]
fn a_file_cut_anywhere_keeps_what_was_complete() {
    let whole = track(&[
        r#"<trkpt lat="1" lon="1"><ele>123.4</ele><time>2026-05-03T00:00:00Z</time></trkpt>"#,
        r#"<trkpt lat="22" lon="1"><ele>567.8</ele></trkpt>"#,
    ]);
    for cut in 20..whole.len() {
        let file = parse(&whole[..cut]);
        for fix in file.fixes() {
            assert!([1.0, 22.0].contains(&fix.at.latitude()), "cut at {cut}");
            assert!(fix.height.is_none_or(|height| [123.4, 567.8].contains(&height.0.0)));
        }
        let complete = whole[..cut].matches("</trkpt>").count();
        assert!(file.fixes().count() >= complete);
        assert!(
            set_aside(&file).iter().any(|text| text.contains("file is truncated")),
            "cut at {cut}"
        );
    }
}

#[test]
fn ampersands_and_angles_in_a_text_stay_text() {
    let file = parse(
        r#"<gpx><wpt lat="1" lon="1"><name>Smith & Sons; a < b &amp; <3 &#233; &nbsp; &lol;</name></wpt>
<wpt lat="2" lon="1"><name>next</name></wpt></gpx>"#,
    );
    assert_eq!(file.waypoints[0].name.as_deref(), Some("Smith & Sons; a < b & <3 é &nbsp; &lol;"));
    assert_eq!(file.waypoints[1].name.as_deref(), Some("next"));
    assert_eq!(set_aside(&file), ["1: 2 unknown entities were left as written"]);
}

#[test]
fn entity_bomb_is_refused_and_points_are_read() {
    let mut bomb = String::from("<?xml version='1.0'?>\n<!DOCTYPE gpx [<!ENTITY a0 'ha'>");
    for level in 1..40 {
        let _ = write!(bomb, "<!ENTITY a{level} '{}'>", format!("&a{};", level - 1).repeat(10));
    }
    bomb.push_str("<!ENTITY file SYSTEM 'file:///etc/hostname'>]>");
    bomb.push_str("<gpx><wpt lat='1' lon='1'><name>&a39; &file;</name></wpt></gpx>");
    let file = parse(bomb);
    assert_eq!(file.waypoints[0].name.as_deref(), Some("&a39; &file;"));
    assert_eq!(
        set_aside(&file),
        [
            "2: 2 unknown entities were left as written",
            "2: 1 document type that defines entities was ignored"
        ]
    );
}

#[test]
fn deep_nesting_takes_linear_time() {
    for (name, deep) in [("a", 200_000), ("trkpt", 200_000), ("extensions", 3_000_000)] {
        let mut text = String::from("<gpx><trk><trkseg><trkpt lat='1' lon='1'><extensions>");
        text.push_str(&format!("<{name}>").repeat(deep));
        text.push_str(&format!("</{name}>").repeat(deep));
        text.push_str("</extensions></trkpt><trkpt lat='2' lon='1'/></trkseg></trk></gpx>");
        let start = std::time::Instant::now();
        assert_eq!(latitudes(&parse(&text)), [1.0, 2.0]);
        // a quadratic reader needs minutes; the bound only separates the two
        assert!(start.elapsed().as_secs() < 20, "{name}: {:?}", start.elapsed());
    }
}

#[test]
fn endless_tokens_are_passed_over_in_bounded_memory() {
    let long = "x".repeat(1 << 20);
    let fillers = [
        format!("<!-- {long} > -- > -->"),
        format!("<?note {long} > ?>"),
        format!("<unknown><![CDATA[ {long} ]] > ]]></unknown>"),
        format!("<unknown>{long}</unknown>"),
        format!("<!DOCTYPE gpx [<!ENTITY a '{long}]>'> <!-- ]> -->]>"),
        format!("<unknown a='{long}'>"),
        format!("<{long}>"),
    ];
    for filler in fillers {
        let file = parse(track(&[GOOD, &filler, GOOD]));
        assert_eq!(latitudes(&file), [7.0, 7.0], "{}", &filler[..30]);
    }
    let name = format!("<gpx><wpt lat='1' lon='1'><name>{long}</name><sym>Flag</sym></wpt></gpx>");
    let file = parse(name);
    assert_eq!(file.waypoints[0].name.as_ref().unwrap().len(), 65_536);
    assert_eq!(file.waypoints[0].symbol.as_deref(), Some("Flag"));
    assert_eq!(set_aside(&file), ["1: 1 text was truncated"]);
}

#[test]
fn unclosed_elements_are_reported_with_their_line() {
    let never_closed = "1 comment or block is not closed, and everything after it was skipped";
    for opening in ["<!-- ", "<![CDATA["] {
        let file = parse(track(&[GOOD, opening, GOOD]));
        assert_eq!(latitudes(&file), [7.0], "{opening}");
        assert!(set_aside(&file).contains(&format!("3: {never_closed}")), "{:?}", set_aside(&file));
    }
}

#[test]
fn points_in_an_element_that_never_ends_are_counted() {
    let message = "3: 2 points inside an unclosed element were skipped";
    let text = track(&[GOOD, "<note>", GOOD, "<trkpt lat='1' lon='1'></trkpt>"]);
    for text in [&text, &text[..text.len() - 30]] {
        let file = parse(text);
        assert_eq!(latitudes(&file), [7.0]);
        assert_eq!(set_aside(&file)[0], message);
        assert_eq!(file.points_set_aside, 2);
    }
}

#[test]
fn an_instruction_that_never_closes_hides_no_point() {
    for rest in [GOOD.to_owned(), format!("{GOOD}<?end?>"), "x".repeat(1 << 20) + GOOD] {
        let file = parse(track(&[GOOD, "<?note>", &rest]));
        assert_eq!(latitudes(&file), [7.0, 7.0]);
        assert_eq!(set_aside(&file), ["3: 1 damaged tag was skipped"]);
    }
}

#[test]
fn lines_are_counted_whatever_ends_them() {
    for end in ["\n", "\r\n", "\r"] {
        let text = track(&[GOOD, "<trkpt lat='99' lon='1'/>", GOOD]).replace('\n', end);
        let file = parse(text);
        let lines: Vec<_> = file.fixes().map(|fix| fix.line).collect();
        assert_eq!(lines, [2, 4], "{end:?}");
        assert_eq!(file.set_aside[0].where_line(), Some(3));
    }
}

#[test]
fn utf_16_and_legacy_encodings_are_read() {
    let text = "<?xml version='1.0' encoding='ENC'?>\n<gpx><wpt lat='1' lon='1'><name>Süß</name></wpt></gpx>";
    let sixteen: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(parse(sixteen).waypoints[0].name.as_deref(), Some("Süß"));
    let latin = text.replace("ENC", "iso-8859-1");
    let latin: Vec<u8> = latin.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let file = parse(&latin);
    assert_eq!(file.waypoints[0].name.as_deref(), Some("Süß"));
    assert!(file.remarks.is_empty());
    let undeclared: Vec<u8> = text.replace("ENC", "utf-8").chars().map(|c| c as u8).collect();
    let file = parse(undeclared);
    assert_eq!(file.waypoints[0].name.as_deref(), Some("Süß"));
    let guessed = "2: 2 bytes that are invalid in the file's encoding were read by a guess";
    assert_eq!(remarks(&file), [guessed]);
    let file = parse(text.replace("ENC", "martian"));
    assert_eq!(remarks(&file), ["1: 1 unknown encoding was read as UTF-8"]);
}

#[test]
fn fragment_is_read_and_other_xml_refused() {
    let file = parse("<trkpt lat='1' lon='1'/><trkpt lat='2' lon='1'/>");
    assert_eq!(latitudes(&file), [1.0, 2.0]);
    assert_eq!(remarks(&file), ["1: 1 file lacks its <gpx> tag"]);
    let refused = |bytes: &[u8]| read_from(bytes, Path::new("a.gpx")).unwrap_err();
    let kml = refused(b"<?xml version='1.0'?>\n<kml><wpt lat='1' lon='1'/></kml>");
    assert_eq!(
        kml.to_string(),
        "a.gpx is not a GPX file (line 2)\nbecause: its first element is <kml>: XML of another format\nhint: \
         export the track from the receiver as GPX"
    );
    assert_eq!(refused(b"").why(), Some("it is empty"));
    assert_eq!(refused(b"\xFF\xD8\xFF\xE0<x>").why(), Some("it seems to be a JPEG photograph"));
    assert!(refused(&vec![b'x'; 1 << 20]).why().unwrap().contains("text that begins"));
    assert!(refused(b"<\0\0\0g\0\0\0").why().unwrap().contains("UTF-32"));
    assert_eq!(read(Path::new("no/such.gpx")).unwrap_err().what(), "cannot open no/such.gpx");
}

#[test]
fn prefixed_files_and_repeated_roots_are_read() {
    let file = parse(
        "<g:gpx xmlns:g='http://www.topografix.com/GPX/1/1'><g:wpt lat='1' lon='1'><g:name>a</g:name>\
         </g:wpt></g:gpx>",
    );
    assert_eq!(file.waypoints[0].name.as_deref(), Some("a"));
    let twice = track(&[GOOD]).repeat(2);
    assert_eq!(latitudes(&parse(twice)), [7.0, 7.0]);
}

#[test]
fn the_hash_and_the_length_are_of_the_whole_file() {
    let text = format!("{}{}", track(&[GOOD]), "\0".repeat(300_000));
    let file = parse(&text);
    assert_eq!(file.source.hash, blake3::hash(text.as_bytes()).to_hex().to_string());
    assert_eq!(file.source.bytes, text.len() as u64);
    assert_eq!(latitudes(&file), [7.0]);
}

#[test]
fn fixes_take_little_more_room_than_themselves() {
    let points = (0..50_000).map(|_| r#"<trkpt lat="1" lon="1"><ele>2</ele></trkpt>"#);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("long.gpx");
    std::fs::write(&path, track(&points.collect::<Vec<_>>())).unwrap();
    let file = read(&path).unwrap();
    let fixes = &file.tracks[0].segments[0].fixes;
    assert_eq!(fixes.len(), 50_000);
    assert!(fixes.capacity() * size_of::<crate::model::Fix>() <= 100 * fixes.len());
}
