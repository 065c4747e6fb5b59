//! Reports input files that no outing uses, with the reason. Layer: `join`.

use std::collections::HashSet;
use std::path::Path;

use crate::error::Error;
use crate::model::{FileNote, Intake, SourceFile, UnusedReason};

use super::Gathered;

/// What was read, by file, before it is shared among the outings.
pub(super) struct Offered {
    files: Vec<(SourceFile, UnusedReason)>,
    photos: Vec<SourceFile>,
}

impl Offered {
    pub(super) fn of(intake: &Intake) -> Self {
        let mut files = Vec::new();
        for track in &intake.tracks {
            let fixes = track.fixes().count();
            let route_points = track.routes.iter().map(|route| route.points.len()).sum();
            let counts = [fixes, route_points, track.waypoints.len(), track.points_set_aside];
            files.push((track.source.clone(), why_no_track(counts)));
        }
        for records in &intake.records {
            let why = why_no_records(records.records.len(), records.set_aside.len());
            files.push((records.source.clone(), why));
        }
        Self { files, photos: intake.photos.iter().map(|photo| photo.source.clone()).collect() }
    }

    /// An entry for each file of which nothing is in any outing; photographs together.
    pub(super) fn given_to_none(self, outings: &[Gathered]) -> Vec<Error> {
        let used: HashSet<&Path> = outings
            .iter()
            .flat_map(|outing| &outing.sources)
            .map(|source| source.path.as_path())
            .collect();
        let unused_files = |source: &SourceFile| !used.contains(source.path.as_path());
        let mut reported: Vec<Error> = self
            .files
            .iter()
            .filter(|(source, _)| unused_files(source))
            .map(|(source, reason)| {
                let note = FileNote::FileNotUsed { file_name: source.name(), reason: *reason };
                Error::from(note).in_file(&source.path)
            })
            .collect();
        let photos: Vec<&SourceFile> =
            self.photos.iter().filter(|photo| unused_files(photo)).collect();
        reported.extend(photographs(&photos));
        reported
    }
}

/// The counts are those of fixes, of points of routes, of waypoints, and of points that were set aside.
fn why_no_track([fixes, route_points, waypoints, set_aside]: [usize; 4]) -> UnusedReason {
    if fixes > 0 {
        UnusedReason::Fixes { fixes }
    } else if route_points > 0 {
        UnusedReason::RouteOnly { points: route_points }
    } else if waypoints > 0 {
        UnusedReason::WaypointsOnly { waypoints }
    } else if set_aside > 0 {
        UnusedReason::AllSetAside { points: set_aside }
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
    let note = FileNote::PhotographsOfNoOuting { photographs: photos.len(), first: first.name() };
    Some(Error::from(note).in_file(&first.path))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reason_is_that_of_the_file() {
        assert_eq!(why_no_track([0, 12, 0, 0]), UnusedReason::RouteOnly { points: 12 });
        assert_eq!(why_no_track([0, 0, 3, 0]), UnusedReason::WaypointsOnly { waypoints: 3 });
        assert_eq!(why_no_track([0, 0, 0, 7]), UnusedReason::AllSetAside { points: 7 });
        assert_eq!(why_no_track([0, 0, 0, 0]), UnusedReason::Empty);
        assert_eq!(why_no_records(0, 0), UnusedReason::HeadingsOnly);
        assert_eq!(why_no_records(0, 2), UnusedReason::NoRow { set_aside: 2 });
    }
}
