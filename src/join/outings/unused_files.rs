//! Reports input files that no outing uses, with the reason. Layer: `join`.

use std::collections::HashSet;
use std::path::Path;

use crate::error::Error;
use crate::model::{Intake, SourceFile};

use super::Gathered;

/// What was read, by file, before it is shared among the outings.
pub(super) struct Offered {
    files: Vec<(SourceFile, String)>,
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
            .map(|(source, why)| {
                Error::input(format!("{} is not used by any outing", source.name()))
                    .because(why)
                    .hint("check whether it is the intended file")
                    .in_file(&source.path)
            })
            .collect();
        let photos: Vec<&SourceFile> =
            self.photos.iter().filter(|photo| unused_files(photo)).collect();
        reported.extend(photographs(&photos));
        reported
    }
}

/// The counts are those of fixes, of points of routes, of waypoints, and of points that were set aside.
fn why_no_track([fixes, route_points, waypoints, set_aside]: [usize; 4]) -> String {
    if fixes > 0 {
        format!("its {fixes} fixes belong to no outing")
    } else if route_points > 0 {
        format!("it contains only a route or a line without times ({route_points} points)")
    } else if waypoints > 0 {
        format!("it contains waypoints only ({waypoints}), and they match no outing")
    } else if set_aside > 0 {
        format!("all of its points ({set_aside}) were set aside")
    } else {
        "it contains no track, route or waypoint".to_owned()
    }
}

fn why_no_records(rows: usize, set_aside: usize) -> String {
    match (rows, set_aside) {
        (0, 0) => "it has headings, but no row below them".to_owned(),
        (0, faults) => format!("it has no row that can be read ({faults} set aside)"),
        (rows, _) => format!("its {rows} rows belong to no outing: they have no date"),
    }
}

fn photographs(photos: &[&SourceFile]) -> Option<Error> {
    let first = photos.first()?;
    let what = match photos.len() {
        1 => format!("{} belongs to no outing", first.name()),
        several => format!("{several} photographs belong to no outing, {} the first", first.name()),
    };
    Some(
        Error::input(what)
            .because("their headers have no time, and there is no track or record of their day")
            .hint("import them together with the track or the records of their day")
            .in_file(&first.path),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reason_is_that_of_the_file() {
        assert!(why_no_track([0, 12, 0, 0]).contains("(12 points)"));
        assert!(why_no_track([0, 0, 3, 0]).contains("waypoints only (3)"));
        assert!(why_no_track([0, 0, 0, 7]).contains("(7) were set aside"));
        assert!(why_no_track([0, 0, 0, 0]).contains("no track"));
        assert!(why_no_records(0, 0).contains("headings"));
        assert!(why_no_records(0, 2).contains("2 set aside"));
    }
}
