//! Measures the coverage and accuracy of positions in withheld pieces of published walks, against straight
//! interpolation. The walks and their licences: `tests/reference/data/gpx/README.md`.

use std::fmt::Write as _;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;
use trug::earth::geodesic::distance;
use trug::earth::local::Plane;
use trug::ingest::gpx::read_from;
use trug::join::{Options, join};
use trug::model::{
    FileKind, Fix, Intake, Record, RecordFile, RecordNumber, Segment, SourceFile, TimePrecision,
    Track, TrackFile, WrittenTime, ZoneChoice, ZoneSource,
};
use trug::units::{LatLon, Seconds, Timestamp};

use super::simulation::score::quantile;

/// A walk: its name, and fixes in order of time.
struct Walk {
    name: &'static str,
    fixes: Vec<(Timestamp, LatLon)>,
}

/// File, and how much slower it is reported: one of them was recorded at 2.4 m/s, which is no walk.
const FILES: [(&str, f64); 3] = [
    ("crate-gpx/long-with-extensions.gpx.gz", 1.0),
    ("gpxpy/korita-zbevnica.gpx.gz", 1.0),
    ("crate-gpx/activity-with-route.gpx.gz", 2.4),
];
/// Longer files count as several outings, seconds.
const OUTING: f64 = 9_600.0;
/// A part without a fix for longer is two parts, seconds.
const WITHOUT: f64 = 100.0;

fn walks() -> Vec<Walk> {
    FILES.iter().flat_map(|&(file, slower)| parts(file, slower)).collect()
}

fn parts(file: &'static str, slower: f64) -> Vec<Walk> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/data/gpx").join(file);
    let mut bytes = Vec::new();
    let packed = std::fs::File::open(&path).unwrap();
    flate2::read::GzDecoder::new(packed).read_to_end(&mut bytes).unwrap();
    let read = read_from(bytes.as_slice(), &path).unwrap();
    let mut timed: Vec<(Timestamp, LatLon)> =
        read.fixes().filter_map(|fix| Some((fix.time?, fix.at))).collect();
    timed.sort_by_key(|fix| fix.0);
    timed.dedup_by_key(|fix| fix.0);
    let start = timed[0].0;
    for fix in &mut timed {
        fix.0 = Seconds((slower * Seconds::between(start, fix.0).0).round()).after(start);
    }
    let whole = timed.chunk_by(|a, b| Seconds::between(a.0, b.0).0 <= WITHOUT);
    whole
        .filter(|part| lasts(part) >= 2_400.0)
        .flat_map(|part| {
            let outings = (lasts(part) / OUTING).ceil() as usize;
            part.chunks(part.len().div_ceil(outings))
                .map(|fixes| Walk { name: file, fixes: fixes.to_vec() })
        })
        .collect()
}

fn lasts(fixes: &[(Timestamp, LatLon)]) -> f64 {
    Seconds::between(fixes[0].0, fixes[fixes.len() - 1].0).0
}

/// What came of the finds of one length of gap.
#[derive(Default)]
struct Outcome {
    /// Metres from the recorded place, and the radius.
    finds: Vec<(f64, f64)>,
    /// Metres of the simple answer.
    simple: Vec<f64>,
}

impl Outcome {
    fn errors(&self) -> Vec<f64> {
        self.finds.iter().map(|find| find.0).collect()
    }

    fn held(&self) -> f64 {
        self.finds.iter().filter(|find| find.0 <= find.1).count() as f64 / self.finds.len() as f64
    }

    fn row(&self) -> String {
        let radii: Vec<f64> = self.finds.iter().map(|find| find.1).collect();
        let (errors, simple) = (self.errors(), &self.simple);
        format!(
            "{} | {:.1} | {:.0}, {:.0} | {:.0}, {:.0} | {:.0} |",
            self.finds.len(),
            100.0 * self.held(),
            quantile(simple, 0.5),
            quantile(simple, 0.95),
            quantile(&errors, 0.5),
            quantile(&errors, 0.95),
            quantile(&radii, 0.5),
        )
    }
}

/// Withholds the fixes strictly between two indices, and times a find at some of them.
fn withhold(walk: &Walk, from: usize, to: usize, outcome: &mut Outcome) {
    let fixes = &walk.fixes;
    let kept: Vec<(Timestamp, LatLon)> = fixes[..=from.min(fixes.len() - 1)]
        .iter()
        .chain(fixes.get(to..).unwrap_or(&[]))
        .copied()
        .collect();
    located(walk, &kept, &spread_over(from + 1, to), outcome, |time| {
        between(&fixes[from], &fixes[to], time)
    });
}

/// Withholds the first or the last fixes.
fn withhold_end(walk: &Walk, unseen: f64, last: bool, outcome: &mut Outcome) {
    let fixes = &walk.fixes;
    let end = if last { fixes[fixes.len() - 1].0 } else { fixes[0].0 };
    let away = |fix: &&(Timestamp, LatLon)| Seconds::between(fix.0, end).0.abs() > unseen;
    let kept: Vec<(Timestamp, LatLon)> = fixes.iter().filter(away).copied().collect();
    let gone = fixes.len() - kept.len();
    let (from, to) = if last { (kept.len(), fixes.len()) } else { (0, gone) };
    let edge = if last { kept[kept.len() - 1].1 } else { kept[0].1 };
    located(walk, &kept, &spread_over(from, to), outcome, |_| edge);
}

/// Five indices of a range.
fn spread_over(from: usize, to: usize) -> Vec<usize> {
    [0.15, 0.35, 0.5, 0.65, 0.85].map(|part| from + (part * (to - from) as f64) as usize).to_vec()
}

/// In proportion to the time.
fn between(a: &(Timestamp, LatLon), b: &(Timestamp, LatLon), time: Timestamp) -> LatLon {
    let plane = Plane::about(a.1);
    let (from, to) = (plane.to_plane(a.1), plane.to_plane(b.1));
    let share = Seconds::between(a.0, time).0 / Seconds::between(a.0, b.0).0;
    plane.from_plane(from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1))
}

fn located(
    walk: &Walk,
    kept: &[(Timestamp, LatLon)],
    finds: &[usize],
    outcome: &mut Outcome,
    simple: impl Fn(Timestamp) -> LatLon,
) {
    let truths: Vec<(Timestamp, LatLon)> = finds.iter().map(|&find| walk.fixes[find]).collect();
    let zone = ZoneChoice { zone: TimeZone::UTC, name: "UTC".into(), source: ZoneSource::Stated };
    let options = Options { zone: Some(zone), ..Options::default() };
    for day in join(intake(kept, &truths), &options) {
        for find in &day.finds {
            let (time, truth) = truths[find.record.line as usize];
            outcome.simple.push(distance(simple(time), truth).0);
            // what has no position has the whole Earth for a circle, and a large error
            outcome.finds.push(find.place.as_ref().map_or((2e7, 2e7), |place| {
                (distance(place.at, truth).0, place.radius.metres().0)
            }));
        }
    }
}

fn intake(kept: &[(Timestamp, LatLon)], truths: &[(Timestamp, LatLon)]) -> Intake {
    let fixes = kept.iter().map(|&(time, at)| Fix::bare(at, Some(time))).collect();
    let track = Track { segments: vec![Segment { fixes }], ..Track::default() };
    let source = |name: &str, kind| SourceFile {
        path: PathBuf::from(name),
        kind,
        bytes: 1,
        hash: name.into(),
    };
    let record = |(line, &(time, _)): (usize, &(Timestamp, LatLon))| {
        let local = TimeZone::UTC.to_datetime(time);
        Record {
            number: Some(RecordNumber(format!("W-{line}"))),
            date: Some(local.date()),
            time: Some(WrittenTime { clock: local.time(), precision: TimePrecision::Second }),
            line: line as u64,
            ..Record::default()
        }
    };
    Intake {
        tracks: vec![TrackFile {
            source: source("walk.gpx", FileKind::Gpx),
            creator: None,
            tracks: vec![track],
            routes: Vec::new(),
            waypoints: Vec::new(),
            areas: 0,
            set_aside: Vec::new(),
            points_set_aside: 0,
            checksums_wrong: 0,
            zone_assumed: false,
            remarks: Vec::new(),
        }],
        records: vec![RecordFile {
            source: source("walk.csv", FileKind::Records),
            records: truths.iter().enumerate().map(record).collect(),
            set_aside: Vec::new(),
            remarks: Vec::new(),
        }],
        ..Intake::default()
    }
}

/// Pieces of so many minutes withheld, so many from each outing.
fn gaps(walks: &[Walk], minutes: f64, pieces: usize) -> Outcome {
    let mut outcome = Outcome::default();
    for walk in walks {
        let whole = lasts(&walk.fixes);
        let unseen = 60.0 * minutes;
        for piece in 0..pieces {
            let start = 120.0 + (piece as f64 + 0.5) / pieces as f64 * (whole - unseen - 240.0);
            if whole < 1.5 * unseen + 600.0 {
                continue;
            }
            let index = |seconds: f64| {
                let time = Seconds(seconds).after(walk.fixes[0].0);
                walk.fixes.partition_point(|fix| fix.0 < time)
            };
            withhold(walk, index(start), index(start + unseen), &mut outcome);
        }
    }
    outcome
}

/// The first and the last so many minutes withheld.
fn ends(walks: &[Walk], minutes: f64) -> Outcome {
    let mut outcome = Outcome::default();
    for walk in walks {
        for last in [false, true] {
            withhold_end(walk, 60.0 * minutes, last, &mut outcome);
        }
    }
    outcome
}

/// Finds timed in the track as it is, every fifteenth fix withheld by itself: to the second.
fn none_withheld(walks: &[Walk]) -> Outcome {
    let mut outcome = Outcome::default();
    for walk in walks {
        let count = walk.fixes.len();
        let finds: Vec<usize> = (15..count - 15).step_by(count / 30).collect();
        let out = |k: &usize| !finds.contains(k);
        let kept: Vec<_> = (0..count).filter(out).map(|k| walk.fixes[k]).collect();
        located(walk, &kept, &finds, &mut outcome, |time| {
            let after = kept.partition_point(|fix| fix.0 < time);
            between(&kept[after - 1], &kept[after], time)
        });
    }
    outcome
}

/// Prints the table of `docs/position.md`: `cargo test --test position withheld_report -- --ignored
/// --nocapture`.
#[test]
#[ignore = "takes minutes; the table for the documentation"]
#[allow(clippy::print_stdout, reason = "a report")]
fn withheld_report() {
    let walks = walks();
    let mut table = String::new();
    writeln!(table, "| withheld | finds | held, % | straight | trug | median radius |").unwrap();
    writeln!(table, "|---|---|---|---|---|---|").unwrap();
    writeln!(table, "| single fixes | {}", none_withheld(&walks).row()).unwrap();
    for minutes in [1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 30.0, 45.0] {
        writeln!(table, "| {minutes} min | {}", gaps(&walks, minutes, 8).row()).unwrap();
    }
    for minutes in [2.0, 5.0, 10.0, 14.0] {
        writeln!(table, "| ends, {minutes} min | {}", ends(&walks, minutes).row()).unwrap();
    }
    for walk in &walks {
        writeln!(table, "{}: {:.1} h", walk.name, lasts(&walk.fixes) / 3_600.0).unwrap();
    }
    println!("{table}");
}

#[test]
fn radii_in_gaps_of_published_walks_cover_the_recorded_place() {
    let walks = walks();
    assert!(walks.len() >= 6, "{} outings", walks.len());
    for (minutes, pieces) in [(2.0, 3), (5.0, 3), (10.0, 3), (20.0, 3), (30.0, 2)] {
        let outcome = gaps(&walks, minutes, pieces);
        // finds of one gap share its fate: a hundred of them scatter as twenty gaps do
        assert!(outcome.held() >= 0.88, "{minutes} min: {}", outcome.row());
        let (median, simple) = (quantile(&outcome.errors(), 0.5), quantile(&outcome.simple, 0.5));
        // the recorded places at both ends have an error of their own, which is allowed for
        assert!(median <= 1.05 * simple + 2.0, "{minutes} min: {}", outcome.row());
        let radii: Vec<f64> = outcome.finds.iter().map(|find| find.1).collect();
        assert!(quantile(&radii, 0.5) < 5.0 * simple + 15.0, "{minutes} min: {}", outcome.row());
    }
}

#[test]
fn radii_beyond_the_ends_of_published_walks_cover_the_recorded_place() {
    let walks = walks();
    let mut all = Outcome::default();
    for minutes in [5.0, 12.0] {
        let outcome = ends(&walks, minutes);
        all.finds.extend(outcome.finds);
        all.simple.extend(outcome.simple);
    }
    assert!(all.held() >= 0.88, "{}", all.row());
    let (median, simple) = (quantile(&all.errors(), 0.5), quantile(&all.simple, 0.5));
    assert!(median <= 1.05 * simple, "{}", all.row());
}

/// A time written to the second places a find as well as the straight line between two fixes does.
#[test]
fn time_written_to_the_second_has_an_error_of_seconds() {
    let outcome = none_withheld(&walks());
    assert!(outcome.held() >= 0.93, "{}", outcome.row());
    let (median, simple) = (quantile(&outcome.errors(), 0.5), quantile(&outcome.simple, 0.5));
    assert!(median <= simple + 2.0, "{}", outcome.row());
}
