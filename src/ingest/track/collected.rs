//! Collects lines and points of the formats that tell tracks and routes apart only by their times:
//! a line with times is a track, one without a route, single points with times and without names are
//! a track, other points are waypoints. Layer: `ingest`.

use std::path::Path;

use super::fault::{Fault, Tally};
use crate::model::{FileKind, Fix, Route, Segment, SourceFile, Track, TrackFile, Waypoint};
use crate::units::Timestamp;

/// Named points with times are a track from this number on, and where most follow each other within
/// [`CLOSE`]; fewer or slower ones are marked places (a choice of this program: nobody marks twenty
/// finds a minute apart).
const MANY: usize = 20;

/// Seconds between the points of a track that was written as points.
const CLOSE: f64 = 60.0;

/// The lines and points of one file.
#[derive(Debug, Default)]
pub(super) struct Collected {
    pub(super) tracks: Vec<Track>,
    pub(super) routes: Vec<Route>,
    pub(super) points: Vec<Waypoint>,
    /// Polygons, which are not read.
    pub(super) areas: usize,
}

impl Collected {
    /// A line: a track where any of its points has a time, otherwise a route.
    pub(super) fn line(&mut self, name: Option<&str>, parts: Vec<Vec<Fix>>) {
        let parts: Vec<Vec<Fix>> = parts.into_iter().filter(|part| !part.is_empty()).collect();
        if parts.is_empty() {
            return;
        }
        let name = name.map(str::to_owned);
        if parts.iter().flatten().any(|fix| fix.time.is_some()) {
            let segments = parts.into_iter().map(|fixes| Segment { fixes }).collect();
            self.tracks.push(Track { name, description: None, segments });
            return;
        }
        for part in parts {
            let points = part.into_iter().map(bare).collect();
            self.routes.push(Route { name: name.clone(), points });
        }
    }

    /// A recording, with or without times.
    pub(super) fn track(&mut self, fixes: Vec<Fix>) {
        if !fixes.is_empty() {
            self.tracks.push(Track { segments: vec![Segment { fixes }], ..Track::default() });
        }
    }

    /// Everything as the content of a file.
    pub(super) fn into_file(
        mut self,
        path: &Path,
        kind: FileKind,
        (hash, bytes): (String, u64),
        mut tally: Tally,
    ) -> TrackFile {
        let waypoints = self.part_points(&mut tally);
        TrackFile {
            set_aside: tally.set_aside(path),
            remarks: tally.remarks(path),
            points_set_aside: tally.points(),
            checksums_wrong: tally.times(Fault::ChecksumWrong),
            zone_assumed: tally.has(Fault::ZoneAssumed),
            source: SourceFile { path: path.to_owned(), kind, bytes, hash },
            creator: None,
            tracks: self.tracks,
            routes: self.routes,
            waypoints,
            areas: self.areas,
        }
    }

    /// Makes a track of the points that are one; the others are returned.
    fn part_points(&mut self, tally: &mut Tally) -> Vec<Waypoint> {
        let points = std::mem::take(&mut self.points);
        let timed = |point: &Waypoint| point.fix.time.is_some();
        let unnamed = points.iter().filter(|point| timed(point) && point.name.is_none()).count();
        let all = self.tracks.is_empty() && unnamed == 0 && are_close(&points);
        if unnamed < 2 && !all {
            return points;
        }
        let is_fix = |point: &Waypoint| timed(point) && (all || point.name.is_none());
        let (track, waypoints): (Vec<_>, Vec<_>) = points.into_iter().partition(is_fix);
        let fixes: Vec<Fix> = track.into_iter().map(|point| point.fix).collect();
        let times = (fixes.first().and_then(|fix| fix.time), fixes.last().and_then(|fix| fix.time));
        if let (Some(first), Some(last)) = times {
            let line = fixes.first().map_or(0, |fix| u64::from(fix.line));
            let span = format!("{first} to {last}");
            tally.add_many(Fault::PointsAsTrack, fixes.len() as u64, &span, || line);
        }
        let segments = vec![Segment { fixes }];
        self.tracks.push(Track { segments, ..Track::default() });
        waypoints
    }
}

/// Whether points with times follow each other as fixes of a receiver do.
fn are_close(points: &[Waypoint]) -> bool {
    let times: Vec<Timestamp> = points.iter().filter_map(|point| point.fix.time).collect();
    if times.len() < MANY {
        return false;
    }
    let close = times.windows(2).filter(|pair| {
        let step = pair[1].duration_since(pair[0]).as_secs_f64();
        (0.0..=CLOSE).contains(&step)
    });
    close.count() * 10 >= times.len() * 9
}

/// A point of which only the fix is known.
pub(super) fn bare(fix: Fix) -> Waypoint {
    Waypoint { fix, name: None, description: None, comment: None, symbol: None, averaged: None }
}
