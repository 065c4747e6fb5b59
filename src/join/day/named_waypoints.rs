//! Compares the waypoints that records name, and that bear no time of the outing, with the times of their finds and with
//! the stops of the track, file by file: a receiver numbers its waypoints again each year. Layer: `join`.

use std::collections::BTreeMap;

use crate::model::Waypoint;

use super::Scene;
use super::cameras::{SetCamera, reading};
use super::waypoint_plausibility::Occupancy;

/// Nearer to the place of its find's time than this a waypoint agrees with it, farther than that it does not, metres.
const AGREES: f64 = 60.0;
const DIFFERS: f64 = 150.0;
/// How far people get while a coarse written time stays the same, metres a second (common practice).
const PACE: f64 = 0.7;
/// So many that differ contradict a file.
const ENOUGH: usize = 2;
/// The prior probability that waypoints which records name are of the outing (assumption), and the posterior from which
/// on they are, whatever the times say: then the watch is wrong.
const OF_THIS_OUTING: f64 = 0.97;
const SURE: f64 = 0.95;
/// The limits of what the place of one of them says about all.
const LEAST: f64 = -4.6;
const MOST: f64 = 2.3;

/// Why a file is of another outing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Contradicted {
    pub(super) differ: usize,
    pub(super) compared: usize,
}

/// What is known of the waypoints of one file.
#[derive(Clone, Copy, Debug, Default)]
struct File {
    agree: usize,
    differ: usize,
    compared: usize,
    /// The log ratio of the probability of their places, on this outing to on another.
    places: f64,
}

/// The files with such waypoints.
#[derive(Debug, Default)]
pub(super) struct NamedWaypoints {
    files: BTreeMap<usize, File>,
}

impl NamedWaypoints {
    pub(super) fn of(scene: &Scene, cameras: &[SetCamera]) -> Self {
        let mut files: BTreeMap<usize, File> = BTreeMap::new();
        let mut occupancy = None;
        for find in 0..scene.gathered.records.len() {
            let Some(index) = scene.claims.waypoint[find] else { continue };
            let waypoint = &scene.gathered.waypoints[index];
            if !is_asked(scene, find, waypoint) {
                continue;
            }
            let plane = scene.estimated_track.plane.to_plane(waypoint.fix.at);
            let occupancy = occupancy.get_or_insert_with(|| Occupancy::of(scene)).as_ref();
            let file = files.entry(scene.gathered.waypoint_files[index]).or_default();
            file.places += occupancy.map_or(0.0, |all| all.log_factor(plane).clamp(LEAST, MOST));
            if let Some((away, slack)) = away(scene, cameras, find, plane) {
                file.compared += 1;
                file.agree += usize::from(away < AGREES + slack);
                file.differ += usize::from(away > DIFFERS + slack);
            }
        }
        Self { files }
    }

    /// Why the waypoint of a find is of another outing, where the times of the others of its file show this.
    pub(super) fn contradicted(&self, scene: &Scene, find: usize) -> Option<Contradicted> {
        let index = scene.claims.waypoint[find]?;
        if !is_asked(scene, find, &scene.gathered.waypoints[index]) {
            return None;
        }
        let file = self.files.get(&scene.gathered.waypoint_files[index])?;
        let contradicted = Contradicted { differ: file.differ, compared: file.compared };
        (file.differ >= ENOUGH && file.differ > file.agree && !file.is_sure())
            .then_some(contradicted)
    }
}

impl File {
    /// Whether they lie at the stops of the track, as those of the outing do.
    fn is_sure(&self) -> bool {
        let log_odds = OF_THIS_OUTING.ln() - (1.0 - OF_THIS_OUTING).ln() + self.places;
        1.0 / (1.0 + (-log_odds).exp()) >= SURE
    }
}

/// Whether the record names the waypoint, and no time shows that it was marked on the outing.
fn is_asked(scene: &Scene, find: usize, waypoint: &Waypoint) -> bool {
    let record = &scene.gathered.records[find].record;
    let marked = waypoint.fix.time.is_some_and(|time| scene.is_of_the_outing(record, time));
    record.waypoint.is_some() && !marked
}

/// How far a waypoint lies from the place of its find's time, and how far a collector may get within the figures of
/// that time.
fn away(
    scene: &Scene,
    cameras: &[SetCamera],
    find: usize,
    (east, north): (f64, f64),
) -> Option<(f64, f64)> {
    let track = scene.estimated_track;
    let written = scene.written(&scene.gathered.records[find]).filter(|read| read.other.is_none());
    let written = written.map(|read| (track.origin.seconds(read.instant), read.step.0));
    let (time, step) = written.or_else(|| Some((pictured(scene, cameras, find)?, 1.0)))?;
    let there = track.at(time)?;
    let slack = PACE * (step - 60.0).max(0.0);
    Some(((there.east - east).hypot(there.north - north), slack))
}

/// When the first photograph of a find was taken.
fn pictured(scene: &Scene, cameras: &[SetCamera], find: usize) -> Option<f64> {
    scene.claims.photos[find].iter().find_map(|photo| {
        let camera = cameras.iter().find(|camera| camera.photos.contains(photo))?;
        Some(reading(scene, *photo)? - camera.offset()?)
    })
}
