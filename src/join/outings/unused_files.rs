//! Reports input files that no outing uses, and what is not used of the others, with the reason. Layer: `join`.

use std::collections::{BTreeMap, HashSet};
use std::path::Path;

use super::Gathered;
use crate::earth::geodesic;
use crate::error::Error;
use crate::model::{FileNote, Intake, Record, SourceFile, TrackFile, UnusedReason, Waypoint};
use crate::units::{LatLon, Metres};

/// An undated waypoint farther than this from everything in an outing is none of it (chosen: farther than
/// the sites of one day).
const FAR: Metres = Metres(100_000.0);

/// What was read, by file, before it is shared among the outings; tracks come first, in their order.
pub(super) struct Offered {
    files: Vec<File>,
    photos: Vec<SourceFile>,
}

/// A file, why it would not be used, and what of it never is.
struct File {
    source: SourceFile,
    reason: UnusedReason,
    /// Whether it holds nothing but waypoints and routes.
    waypoints_only: bool,
    routes: usize,
    route_points: usize,
}

impl Offered {
    pub(super) fn of(intake: &Intake) -> Self {
        let mut files = Vec::new();
        for track in &intake.tracks {
            let route_points = track.routes.iter().map(|route| route.points.len()).sum();
            files.push(File {
                source: track.source.clone(),
                reason: why_no_track(track),
                waypoints_only: track.fixes().next().is_none(),
                routes: track.routes.len(),
                route_points,
            });
        }
        for records in &intake.records {
            files.push(File {
                source: records.source.clone(),
                reason: why_no_records(records.records.len(), records.set_aside.len()),
                waypoints_only: false,
                routes: 0,
                route_points: 0,
            });
        }
        Self { files, photos: intake.photos.iter().map(|photo| photo.source.clone()).collect() }
    }

    /// An entry for each file of which nothing is in any outing; photographs together.
    pub(super) fn given_to_none(&self, outings: &[Gathered]) -> Vec<Error> {
        let used = used(outings);
        let far = far_waypoints(outings);
        let mut reported: Vec<Error> = self
            .files
            .iter()
            .enumerate()
            .filter_map(|(index, file)| {
                let reason = why_unused(file, &used, far.get(&index))?;
                let note = FileNote::FileNotUsed { file_name: file.source.name(), reason };
                Some(Error::from(note).in_file(&file.source.path))
            })
            .collect();
        let unused = |source: &SourceFile| !used.contains(source.path.as_path());
        let photos: Vec<&SourceFile> = self.photos.iter().filter(|photo| unused(photo)).collect();
        reported.extend(photographs(&photos));
        reported
    }

    /// A note for each file of which routes or waypoints are not used though the rest of it may be.
    pub(super) fn used_in_part(&self, outings: &[Gathered]) -> Vec<Error> {
        let used = used(outings);
        let far = far_waypoints(outings);
        let mut reported = Vec::new();
        for (index, file) in self.files.iter().enumerate() {
            let file_name = file.source.name();
            let unused = why_unused(file, &used, far.get(&index));
            let tell = |note: FileNote| Error::from(note).in_file(&file.source.path);
            if file.routes > 0 && !matches!(unused, Some(UnusedReason::RouteOnly { .. })) {
                let (routes, points) = (file.routes, file.route_points);
                reported.push(tell(FileNote::RoutesNotUsed {
                    file_name: file_name.clone(),
                    routes,
                    points,
                }));
            }
            if let (None, Some(far)) = (unused, far.get(&index)) {
                let (waypoints, distance) = (far.number, far.nearest);
                reported.push(tell(FileNote::WaypointsFar { file_name, waypoints, distance }));
            }
        }
        reported
    }
}

/// Why nothing of a file is used; `None` where something is.
fn why_unused(file: &File, used: &HashSet<&Path>, far: Option<&Far>) -> Option<UnusedReason> {
    if !used.contains(file.source.path.as_path()) {
        return Some(file.reason);
    }
    let far = far.filter(|far| file.waypoints_only && far.number == far.of)?;
    Some(UnusedReason::WaypointsFar { waypoints: far.number, distance: far.nearest })
}

/// The paths of the files of which something is in an outing.
fn used(outings: &[Gathered]) -> HashSet<&Path> {
    outings.iter().flat_map(|outing| &outing.sources).map(|source| source.path.as_path()).collect()
}

/// Waypoints of a file that are far from everything in their outing.
struct Far {
    number: usize,
    /// The waypoints of the file in outings, near ones included.
    of: usize,
    /// The distance of the nearest of them.
    nearest: Metres,
}

/// Files with undated waypoints that no record names and that lie far from everything in their outing.
fn far_waypoints(outings: &[Gathered]) -> BTreeMap<usize, Far> {
    let mut far: BTreeMap<usize, Far> = BTreeMap::new();
    for outing in outings {
        let boxes = boxes(outing);
        for (file, point) in outing.waypoint_files.iter().zip(&outing.waypoints) {
            let own =
                far.entry(*file).or_insert(Far { number: 0, of: 0, nearest: Metres(f64::MAX) });
            own.of += 1;
            if point.fix.time.is_some() || is_named(point, outing) {
                continue;
            }
            let to = |near: &Limits| geodesic::distance(point.fix.at, near.nearest(point.fix.at)).0;
            let distance = boxes.iter().map(to).fold(f64::INFINITY, f64::min);
            if distance.is_finite() && distance > FAR.0 {
                own.number += 1;
                own.nearest = Metres(own.nearest.0.min(distance));
            }
        }
    }
    far.retain(|_, own| own.number > 0);
    far
}

fn is_named(point: &Waypoint, outing: &Gathered) -> bool {
    let Some(name) = point.name.as_deref() else { return false };
    let names = |record: &Record| {
        let written = record.waypoint.as_deref().is_some_and(|waypoint| waypoint == name);
        written || record.number.as_ref().is_some_and(|number| number.means(name))
    };
    outing.records.iter().any(|filed| names(&filed.record))
}

/// The limits of latitude and longitude of some positions.
#[derive(Clone, Copy)]
struct Limits {
    low: (f64, f64),
    high: (f64, f64),
}

impl Limits {
    fn of(places: impl Iterator<Item = LatLon>) -> Option<Self> {
        places.map(|at| (at.latitude(), at.longitude())).fold(None, |known, at| {
            let own = known.unwrap_or(Self { low: at, high: at });
            Some(Self {
                low: (own.low.0.min(at.0), own.low.1.min(at.1)),
                high: (own.high.0.max(at.0), own.high.1.max(at.1)),
            })
        })
    }

    /// The place in it with the nearest coordinates.
    fn nearest(&self, at: LatLon) -> LatLon {
        let within = |value: f64, low: f64, high: f64| value.max(low).min(high);
        LatLon::clamped(
            within(at.latitude(), self.low.0, self.high.0),
            within(at.longitude(), self.low.1, self.high.1),
        )
    }
}

/// Where the tracks, the photographs and the records of an outing are.
fn boxes(outing: &Gathered) -> Vec<Limits> {
    let runs = outing.runs.iter().filter_map(|run| Limits::of(run.fixes.iter().map(|fix| fix.at)));
    let photos = outing.photos.iter().filter_map(|photo| photo.gps.at);
    let written = outing.records.iter().filter_map(|filed| filed.record.coordinates.as_ref());
    let records = written.flat_map(|written| &written.readings).map(|reading| reading.at);
    let single = photos.chain(records).filter_map(|at| Limits::of(std::iter::once(at)));
    runs.chain(single).collect()
}

fn why_no_track(track: &TrackFile) -> UnusedReason {
    let fixes = track.fixes().count();
    let route_points: usize = track.routes.iter().map(|route| route.points.len()).sum();
    let (waypoints, areas) = (track.waypoints.len(), track.areas);
    if fixes > 0 {
        UnusedReason::Fixes { fixes }
    } else if route_points > 0 {
        UnusedReason::RouteOnly { points: route_points }
    } else if waypoints > 0 {
        UnusedReason::WaypointsOnly { waypoints }
    } else if track.points_set_aside > 0 {
        UnusedReason::AllSetAside { points: track.points_set_aside }
    } else if track.checksums_wrong > 0 {
        UnusedReason::ChecksumsWrong { lines: track.checksums_wrong }
    } else if areas > 0 {
        UnusedReason::AreasOnly { areas }
    } else {
        UnusedReason::Empty
    }
}

fn why_no_records(rows: usize, set_aside: usize) -> UnusedReason {
    match (rows, set_aside) {
        (0, 0) => UnusedReason::HeadingsOnly,
        (0, set_aside) => UnusedReason::NoRow { set_aside },
        (rows, _) => UnusedReason::NoDates { rows },
    }
}

fn photographs(photos: &[&SourceFile]) -> Option<Error> {
    let first = photos.first()?;
    let names = photos.iter().map(|photo| photo.name()).collect();
    let (photographs, name) = (photos.len(), first.name());
    let note = FileNote::PhotographsOfNoOuting { photographs, first: name, names };
    Some(Error::from(note).in_file(&first.path))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{FileKind, Fix, Route};

    #[test]
    fn the_reason_is_that_of_the_file() {
        let track = TrackFile {
            source: SourceFile {
                path: "day/ridge.gpx".into(),
                kind: FileKind::Gpx,
                bytes: 0,
                hash: String::new(),
            },
            creator: None,
            tracks: Vec::new(),
            routes: Vec::new(),
            waypoints: Vec::new(),
            areas: 0,
            set_aside: Vec::new(),
            points_set_aside: 0,
            checksums_wrong: 0,
            zone_assumed: false,
            remarks: Vec::new(),
        };
        let waypoint = Waypoint {
            fix: Fix::bare(LatLon::clamped(-42.5, 146.25), None),
            name: None,
            description: None,
            comment: None,
            symbol: None,
            averaged: None,
        };
        let points = vec![waypoint.clone(), waypoint];
        let route = Route { points: points.clone(), ..Route::default() };
        let with = |change: fn(&mut TrackFile)| {
            let mut track = track.clone();
            change(&mut track);
            why_no_track(&track)
        };
        let route = TrackFile { routes: vec![route], ..track.clone() };
        assert_eq!(why_no_track(&route), UnusedReason::RouteOnly { points: 2 });
        let marked = TrackFile { waypoints: points, ..track.clone() };
        assert_eq!(why_no_track(&marked), UnusedReason::WaypointsOnly { waypoints: 2 });
        assert_eq!(
            with(|track| track.points_set_aside = 7),
            UnusedReason::AllSetAside { points: 7 }
        );
        assert_eq!(
            with(|track| track.checksums_wrong = 9),
            UnusedReason::ChecksumsWrong { lines: 9 }
        );
        assert_eq!(with(|track| track.areas = 2), UnusedReason::AreasOnly { areas: 2 });
        assert_eq!(why_no_track(&track), UnusedReason::Empty);
        assert_eq!(why_no_records(0, 0), UnusedReason::HeadingsOnly);
        assert_eq!(why_no_records(0, 2), UnusedReason::NoRow { set_aside: 2 });
    }
}
