//! Properties of the GPX reader for any input: it never panics, never invents a point, and reads
//! valid files as crate `gpx` does.

use std::fmt::Write as _;
use std::path::Path;

use proptest::collection::vec;
use proptest::prelude::*;
use trug::ingest::gpx::read_from;
use trug::model::TrackFile;
use trug::units::Timestamp;

fn read(bytes: &[u8]) -> Option<TrackFile> {
    read_from(bytes, Path::new("any.gpx")).ok()
}

/// What a receiver may write for one point.
#[derive(Clone, Debug)]
struct Written {
    latitude: f64,
    longitude: f64,
    height: Option<f64>,
    time: Option<(i64, u32)>,
    hdop: Option<f64>,
    satellites: Option<u8>,
    name: Option<String>,
}

fn written() -> impl Strategy<Value = Written> {
    (
        -90.0..=90.0_f64,
        -179.999..179.999_f64,
        proptest::option::of(-500.0..9000.0_f64),
        proptest::option::of((0..4_000_000_000_i64, 0..1_000_000_000_u32)),
        proptest::option::of(0.0..99.0_f64),
        proptest::option::of(any::<u8>()),
        proptest::option::of("[a-zA-Z0-9 &<>é茸'\"-]{0,12}[a-z]"),
    )
        .prop_map(|(latitude, longitude, height, time, hdop, satellites, name)| Written {
            latitude,
            longitude,
            height,
            time,
            hdop,
            satellites,
            name,
        })
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

fn point(tag: &str, point: &Written) -> String {
    let mut text = format!("<{tag} lat=\"{}\" lon=\"{}\">", point.latitude, point.longitude);
    if let Some(height) = point.height {
        let _ = write!(text, "\n  <ele>{height}</ele>");
    }
    if let Some((seconds, nanoseconds)) = point.time {
        let time = Timestamp::new(seconds, nanoseconds.try_into().unwrap()).unwrap();
        let _ = write!(text, "<time>{time}</time>");
    }
    if let Some(name) = &point.name {
        let _ = write!(text, "<name>{}</name>", escaped(name));
    }
    if let Some(satellites) = point.satellites {
        let _ = write!(text, "<sat>{satellites}</sat>");
    }
    if let Some(hdop) = point.hdop {
        let _ = write!(text, "<hdop>{hdop}</hdop>");
    }
    text + &format!("<extensions><x:y a='1'>2</x:y></extensions></{tag}>\r\n")
}

fn document(tracks: &[Vec<Vec<Written>>], waypoints: &[Written]) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"c\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:x=\"http://example.org/x\">\n",
    );
    for each in waypoints {
        text.push_str(&point("wpt", each));
    }
    for track in tracks {
        text.push_str("<trk>");
        for segment in track {
            text.push_str("<trkseg>");
            for each in segment {
                text.push_str(&point("trkpt", each));
            }
            text.push_str("</trkseg>");
        }
        text.push_str("</trk>\n");
    }
    text + "</gpx>\n"
}

/// Building blocks of files, so that random sequences combine interesting ones.
fn soup() -> impl Strategy<Value = Vec<u8>> {
    let pieces: Vec<&[u8]> = vec![
        b"<gpx>",
        b"</gpx>",
        b"<trk>",
        b"</trk>",
        b"<trkseg>",
        b"</trkseg>",
        b"</trkpt>",
        b"<ele>",
        b"</ele>",
        b"<time>",
        b"</time>",
        b"<extensions>",
        b"</extensions>",
        b"<name>",
        b"</name>",
        b"<trkpt lat='1' lon='2'>",
        b"<trkpt lat='1' lon='2'/>",
        b"<wpt lat=\"1\" lon=\"2\">",
        b"</wpt>",
        b"<trkpt lat=\"",
        b"\"",
        b"'",
        b"<",
        b">",
        b"&",
        b";",
        b"&amp;",
        b"&#0;",
        b"&x;",
        b"<!--",
        b"-->",
        b"<![CDATA[",
        b"]]>",
        b"<?",
        b"?>",
        b"<!DOCTYPE",
        b"[",
        b"]>",
        b"<!",
        b"</",
        b"/>",
        b"12",
        b"\0",
        b"\xFF",
        b"\xC3",
        b"\n",
        b"\r",
        b" ",
        b"1,5",
        b"2026-05-03T00:00:00Z",
    ];
    vec(proptest::sample::select(pieces), 0..60).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes_are_read_or_refused(bytes in vec(any::<u8>(), 0..600)) {
        read(&bytes);
    }

    #[test]
    fn any_sequence_of_tags_is_read_or_refused(soup in soup(), mark in 0..4_usize) {
        let marks: [&[u8]; 4] = [b"<gpx>", b"\xFF\xFE", b"\xFE\xFF", b"\xEF\xBB\xBF"];
        let bytes = [marks[mark], &soup].concat();
        if let Some(file) = read(&bytes) {
            let starts = soup.windows(4).filter(|four| *four == b"lat=").count();
            let points = file.fixes().count() + file.waypoints.len();
            prop_assert!(points <= starts, "{} points of {} tags", points, starts);
            prop_assert_eq!(file.source.bytes, bytes.len() as u64);
            prop_assert_eq!(file.source.hash, blake3::hash(&bytes).to_hex().to_string());
        }
    }

    #[test]
    fn damage_at_one_byte_loses_little(
        points in vec(written(), 5..20),
        at in 0.0..1.0_f64,
        byte in any::<u8>(),
    ) {
        let mut bytes = document(&[vec![points.clone()]], &[]).into_bytes();
        let first = bytes.windows(6).position(|six| six == b"<trkpt").unwrap();
        let length = bytes.len() - first - 30;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let place = first + (at * length as f64) as usize;
        bytes[place] = byte;
        let file = read(&bytes).unwrap();
        // one byte may damage its tag and the next one; further loss is reported
        let known = file.fixes().count() + file.points_set_aside;
        prop_assert!(known + 2 >= points.len(), "{}", String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn a_good_file_is_read_as_crate_gpx_reads_it(
        tracks in vec(vec(vec(written(), 1..6), 0..3), 0..3),
        waypoints in vec(written(), 0..4),
    ) {
        let text = document(&tracks, &waypoints);
        let theirs = gpx::read(text.as_bytes()).unwrap();
        let ours = read(text.as_bytes()).unwrap();
        prop_assert!(ours.set_aside.is_empty() && ours.remarks.is_empty(), "{:?}", ours.set_aside);
        prop_assert_eq!(ours.tracks.len(), theirs.tracks.len());
        let our_fixes = ours.fixes().chain(ours.waypoints.iter().map(|waypoint| &waypoint.fix));
        let segments = theirs.tracks.iter().flat_map(|track| &track.segments);
        let their_fixes = segments.flat_map(|segment| &segment.points).chain(&theirs.waypoints);
        prop_assert_eq!(ours.fixes().count() + ours.waypoints.len(), their_fixes.clone().count());
        for (ours, theirs) in our_fixes.zip(their_fixes) {
            let place = theirs.point();
            prop_assert_eq!((ours.at.latitude(), ours.at.longitude()), (place.y(), place.x()));
            prop_assert_eq!(ours.height.map(|height| height.0.0), theirs.elevation);
            let time = theirs.time.map(|time| time.format().unwrap().parse::<Timestamp>().unwrap());
            prop_assert_eq!(ours.time, time);
            prop_assert_eq!(ours.satellites.map(u64::from), theirs.sat);
            #[allow(clippy::cast_possible_truncation)]
            let hdop = theirs.hdop.map(|value| value as f32);
            prop_assert_eq!(ours.hdop, hdop);
        }
        for (ours, theirs) in ours.waypoints.iter().zip(&theirs.waypoints) {
            let name = theirs.name.as_ref().map(|name| name.trim().to_owned());
            prop_assert_eq!(ours.name.clone(), name);
        }
    }

    #[test]
    fn the_encoding_of_a_file_does_not_matter(points in vec(written(), 1..5)) {
        let text = document(&[], &points);
        let plain = read(text.as_bytes()).unwrap();
        let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let big: Vec<u8> =
            [0xFEFF].into_iter().chain(text.encode_utf16()).flat_map(u16::to_be_bytes).collect();
        for bytes in [little, big, [b"\xEF\xBB\xBF", text.as_bytes()].concat()] {
            let file = read(&bytes).unwrap();
            prop_assert_eq!(&file.waypoints, &plain.waypoints);
        }
    }
}
