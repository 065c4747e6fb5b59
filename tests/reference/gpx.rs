//! Published GPX files: counts, bounds, heights and times as gpxpy reads them (`data/gpx.csv`), and
//! every value as crate `gpx` reads it. `data/gpx/README.md` names sources and licences.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use trug::ingest::gpx::read_from;
use trug::model::{Fix, FixKind, TrackFile, Waypoint};
use trug::units::Timestamp;

const DATA: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/data");

fn unpacked(path: &Path) -> Vec<u8> {
    let mut bytes = Vec::new();
    flate2::read::GzDecoder::new(File::open(path).unwrap()).read_to_end(&mut bytes).unwrap();
    bytes
}

fn published() -> Vec<PathBuf> {
    let folders = ["gpxpy", "crate-gpx"].map(|name| Path::new(DATA).join("gpx").join(name));
    let files = folders.iter().flat_map(|folder| std::fs::read_dir(folder).unwrap());
    let mut paths: Vec<_> = files.map(|file| file.unwrap().path()).collect();
    paths.sort();
    assert!(paths.len() >= 35, "{} files", paths.len());
    paths
}

/// Bounds to the last figure written; the sum of heights to a micrometre, since both programs add
/// the same numbers in another order.
#[test]
fn counts_bounds_heights_and_times_are_those_of_gpxpy() {
    let mut table = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(Path::new(DATA).join("gpx.csv"))
        .unwrap();
    let mut rows = 0;
    for row in table.records().map(Result::unwrap) {
        rows += 1;
        let path = Path::new(DATA).join("gpx").join(&row[0]);
        let file = read_from(unpacked(&path).as_slice(), &path).unwrap();
        assert_eq!(
            summary(&file),
            row.iter().skip(1).map(loosened).collect::<Vec<_>>(),
            "{}",
            &row[0]
        );
        assert_eq!(file.points_set_aside, 0, "{}", &row[0]);
    }
    assert!(rows >= 35, "{rows} rows");
}

/// A number in one way of writing; anything else as it is.
fn loosened(text: &str) -> String {
    text.parse().map_or_else(|_| text.to_owned(), |value: f64| number(value))
}

/// Twelve decimals, so that one number is written in one way; adding 0 makes -0 a plain 0.
fn number(value: f64) -> String {
    ((value * 1e12).round() / 1e12 + 0.0).to_string()
}

fn summary(file: &TrackFile) -> Vec<String> {
    let fixes: Vec<&Fix> = file.fixes().collect();
    let count = |value: usize| value.to_string();
    let bound = |of: fn(&Fix) -> f64, pick: fn(f64, f64) -> f64| {
        let bound = fixes.iter().map(|fix| of(fix)).reduce(pick);
        bound.map_or_else(String::new, number)
    };
    let latitude: fn(&Fix) -> f64 = |fix| fix.at.latitude();
    let longitude: fn(&Fix) -> f64 = |fix| fix.at.longitude();
    let times: Vec<Timestamp> = fixes.iter().filter_map(|fix| fix.time).collect();
    let second = |time: Option<&Timestamp>| {
        time.map_or_else(String::new, |time| {
            Timestamp::from_second(
                time.as_nanosecond().div_euclid(1_000_000_000).try_into().unwrap(),
            )
            .unwrap()
            .to_string()
        })
    };
    let heights: f64 = fixes.iter().filter_map(|fix| fix.height).map(|height| height.0.0).sum();
    vec![
        count(file.tracks.len()),
        count(file.tracks.iter().map(|track| track.segments.len()).sum()),
        count(fixes.len()),
        count(times.len()),
        count(file.waypoints.len()),
        count(file.routes.len()),
        count(file.routes.iter().map(|route| route.points.len()).sum()),
        bound(latitude, f64::min),
        bound(latitude, f64::max),
        bound(longitude, f64::min),
        bound(longitude, f64::max),
        number((heights * 1e6).round() / 1e6),
        second(times.first()),
        second(times.last()),
    ]
}

/// Crate `gpx` shares no code with the reader. Every file that it can read, it must read alike.
#[test]
fn every_value_is_that_of_crate_gpx() {
    let mut compared = 0;
    for path in published() {
        let bytes = unpacked(&path);
        let Ok(theirs) = gpx::read(bytes.as_slice()) else { continue };
        let ours = read_from(bytes.as_slice(), &path).unwrap();
        compared += 1;
        let name = path.display();
        assert_eq!(ours.creator.as_ref(), theirs.creator.as_ref().filter(|text| !text.is_empty()));
        assert_eq!(ours.tracks.len(), theirs.tracks.len(), "{name}");
        for (ours, theirs) in ours.tracks.iter().zip(&theirs.tracks) {
            assert_eq!(ours.name, text(theirs.name.as_ref()), "{name}");
            assert_eq!(ours.description, text(theirs.description.as_ref()), "{name}");
            let full = theirs.segments.iter().filter(|segment| !segment.points.is_empty());
            let full: Vec<_> = full.collect();
            assert_eq!(ours.segments.len(), full.len(), "{name}");
            for (ours, theirs) in ours.segments.iter().zip(full) {
                assert_eq!(ours.fixes.len(), theirs.points.len(), "{name}");
                for (ours, theirs) in ours.fixes.iter().zip(&theirs.points) {
                    assert_same_fix(ours, theirs, &name.to_string());
                }
            }
        }
        assert_same_waypoints(&ours.waypoints, &theirs.waypoints, &name.to_string());
        assert_eq!(ours.routes.len(), theirs.routes.len(), "{name}");
        for (ours, theirs) in ours.routes.iter().zip(&theirs.routes) {
            assert_eq!(ours.name, text(theirs.name.as_ref()), "{name}");
            assert_same_waypoints(&ours.points, &theirs.points, &name.to_string());
        }
    }
    assert!(compared >= 25, "crate gpx reads only {compared} of the files");
}

fn assert_same_waypoints(ours: &[Waypoint], theirs: &[gpx::Waypoint], name: &str) {
    assert_eq!(ours.len(), theirs.len(), "{name}");
    for (ours, theirs) in ours.iter().zip(theirs) {
        assert_same_fix(&ours.fix, theirs, name);
        assert_eq!(ours.name, text(theirs.name.as_ref()), "{name}");
        assert_eq!(ours.description, text(theirs.description.as_ref()), "{name}");
        assert_eq!(ours.comment, text(theirs.comment.as_ref()), "{name}");
        assert_eq!(ours.symbol, text(theirs.symbol.as_ref()), "{name}");
    }
}

/// trug leaves the space round a text away and counts an empty text as none.
fn text(theirs: Option<&String>) -> Option<String> {
    theirs.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())
}

#[allow(clippy::cast_possible_truncation, reason = "trug keeps dilutions in 32 bits")]
fn assert_same_fix(ours: &Fix, theirs: &gpx::Waypoint, name: &str) {
    let place = theirs.point();
    assert_eq!((ours.at.latitude(), ours.at.longitude()), (place.y(), place.x()), "{name}");
    assert_eq!(ours.height.map(|height| height.0.0), theirs.elevation, "{name}");
    let time = theirs.time.map(|time| time.format().unwrap().parse::<Timestamp>().unwrap());
    assert_eq!(ours.time, time, "{name}");
    assert_eq!(ours.hdop, theirs.hdop.map(|value| value as f32), "{name}");
    assert_eq!(ours.vdop, theirs.vdop.map(|value| value as f32), "{name}");
    assert_eq!(ours.pdop, theirs.pdop.map(|value| value as f32), "{name}");
    assert_eq!(ours.satellites.map(u64::from), theirs.sat, "{name}");
    let kind = theirs.fix.as_ref().and_then(|fix| match fix {
        gpx::Fix::None => Some(FixKind::None),
        gpx::Fix::TwoDimensional => Some(FixKind::TwoD),
        gpx::Fix::ThreeDimensional => Some(FixKind::ThreeD),
        gpx::Fix::DGPS => Some(FixKind::Dgps),
        gpx::Fix::PPS => Some(FixKind::Pps),
        gpx::Fix::Other(_) => None,
    });
    assert_eq!(ours.kind, kind, "{name}");
}
