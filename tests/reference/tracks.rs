//! Published NMEA logs and KML: counts, bounds and times as pynmea2 and fastkml read them
//! (`data/tracks.csv`). `data/tracks/README.md` names sources and licences.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use trug::ingest;
use trug::model::{Fix, TrackFile};

const DATA: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/data");

/// The file as trug reads it from its folder, unpacked in place.
fn read(name: &str) -> TrackFile {
    let path = Path::new(DATA).join("tracks").join(name);
    let mut intake = ingest::read(&[&path]);
    assert!(intake.set_aside.is_empty(), "{name}: {:?}", intake.set_aside);
    intake.tracks.remove(0)
}

fn summary(file: &TrackFile) -> Vec<String> {
    let timed: Vec<&Fix> = file.fixes().filter(|fix| fix.time.is_some()).collect();
    let lines = file.routes.iter().flat_map(|route| &route.points);
    let every: Vec<&Fix> = timed
        .iter()
        .copied()
        .chain(lines.clone().map(|point| &point.fix))
        .chain(file.waypoints.iter().map(|point| &point.fix))
        .collect();
    let ends = |of: fn(&Fix) -> f64| {
        let values = || every.iter().map(|fix| of(fix));
        let (least, most) = (values().reduce(f64::min), values().reduce(f64::max));
        [least, most].map(|end| end.map_or_else(String::new, |end| format!("{end:.7}")))
    };
    let time = |fix: Option<&&Fix>| {
        let time = fix.and_then(|fix| fix.time);
        time.map_or_else(String::new, |time| time.strftime("%Y-%m-%dT%H:%M:%SZ").to_string())
    };
    let counts = [timed.len(), file.routes.len(), lines.count(), file.waypoints.len()];
    let mut row: Vec<String> = counts.iter().map(ToString::to_string).collect();
    row.extend(ends(|fix| fix.at.latitude()));
    row.extend(ends(|fix| fix.at.longitude()));
    row.extend([time(timed.first()), time(timed.last())]);
    row
}

/// Bounds to a centimetre: both programs compute degrees from the same minutes.
#[test]
fn counts_bounds_and_times_are_those_of_other_libraries() {
    let mut table = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(Path::new(DATA).join("tracks.csv"))
        .unwrap();
    let mut rows = 0;
    for row in table.records().map(Result::unwrap) {
        rows += 1;
        let expected: Vec<&str> = row.iter().skip(1).collect();
        assert_eq!(summary(&read(&row[0])), expected, "{}", &row[0]);
    }
    assert_eq!(rows, 4);
}

/// The log has one sentence for each time of day, all of them sound.
#[test]
fn nothing_of_a_sound_log_is_lost() {
    let path = Path::new(DATA).join("tracks/nmea1.log.gz");
    let mut text = String::new();
    flate2::read::GzDecoder::new(File::open(path).unwrap()).read_to_string(&mut text).unwrap();
    let positions = text.lines().filter(|line| line.contains("GGA,") || line.contains("RMC,"));
    assert!(positions.count() >= 2 * 993);
    let file = read("nmea1.log.gz");
    assert_eq!(file.points_set_aside, 0);
    assert!(file.fixes().all(|fix| fix.height.is_some() && fix.satellites.is_some()));
}
