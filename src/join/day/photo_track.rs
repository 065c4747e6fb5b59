//! Makes a sparse track of the positions that the photographs of one camera carry, for finds whose time no other
//! track covers. Layer: `join`.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::{AnchorKind, Association, Camera, Fix, PartKind, Photo};
use crate::units::{LatLon, Metres, Radius95, Timestamp};

use super::super::clean::Run;
use super::super::estimated_track::EstimatedTrack;
use super::super::locate::{Draft, Moments, TrackModel, from_times, stated_radius};
use super::Scene;
use super::cameras::{SetCamera, reading};

/// A position whose 95 % radius is larger is not a fix of a satellite receiver, metres.
const COARSEST: f64 = 100.0;
/// A camera's clock places its photographs on the track where it is known this well, seconds (one standard deviation).
const CLOCK: f64 = 30.0;
/// Positions hours apart show less of the path walked than there was: no less than this, metres a second (that of a
/// day of which nothing is known).
const PACE: f64 = 0.5;

/// The positions of the photographs of one camera, as a track.
pub(crate) struct PhotoTrack {
    /// The camera.
    pub(crate) camera: String,
    /// How many positions.
    pub(crate) positions: usize,
    track: EstimatedTrack,
}

/// A position of a photograph at a time, and its 95 % radius in metres.
type Position = (Timestamp, LatLon, f64);

impl PhotoTrack {
    /// The track of the only camera with positions; `None` where several cameras or collectors are there, since
    /// nothing says whose positions they are.
    pub(super) fn of(scene: &Scene, cameras: &[SetCamera]) -> Option<Self> {
        let gathered = scene.gathered;
        let collectors = gathered.records.iter().filter_map(|one| one.record.collector.as_deref());
        let refused = gathered.associations.iter().any(Association::is_refusal);
        if refused || collectors.collect::<BTreeSet<&str>>().len() > 1 {
            return None;
        }
        let mut of_cameras: BTreeMap<&Camera, Vec<Position>> = BTreeMap::new();
        for (index, photo) in gathered.photos.iter().enumerate() {
            let position = position(scene, cameras, index, photo);
            of_cameras.entry(&photo.camera).or_default().extend(position);
        }
        of_cameras.retain(|_, positions| !positions.is_empty());
        let only = of_cameras.len() == 1;
        let (camera, positions) = of_cameras.pop_first().filter(|_| only)?;
        Self::of_positions(scene, camera.to_string(), without_repeats(positions))
    }

    fn of_positions(scene: &Scene, camera: String, positions: Vec<Position>) -> Option<Self> {
        if positions.len() < 2 {
            return None;
        }
        let fixes = positions.iter().map(|&(time, at, _)| Fix::bare(at, Some(time))).collect();
        let whole = scene.estimated_track;
        let about = whole.plane.from_plane(0.0, 0.0);
        let mut track = EstimatedTrack::of(&[Run { source: 0, fixes }], whole.origin, about);
        let squares: f64 = positions.iter().map(|(_, _, radius)| radius * radius).sum();
        let usual = (squares / positions.len() as f64).sqrt();
        // two receivers that disagree widen a track by half of their distance
        track.disagrees_by(2.0 * usual / Radius95::PER_SIGMA);
        Some(Self { camera, positions: positions.len(), track })
    }

    /// The anchor of a time between two of the positions.
    pub(super) fn draft(
        &self,
        kind: AnchorKind,
        moments: &Moments,
        time_part: PartKind,
        stand_off: Metres,
        words: &str,
    ) -> Option<Draft> {
        let frames = &self.track.frames.all;
        let (first, last) = (frames.first()?.time, frames.last()?.time);
        let within = |moment: &(f64, f64, f64)| first <= moment.0 && moment.1 <= last;
        if !moments.iter().all(within) {
            return None;
        }
        let model = self.track.track_model();
        let model = TrackModel { pace: model.pace.max(PACE), ..model };
        let basis = format!("{words}, between positions of photographs ({})", self.camera);
        from_times(model, kind, moments, time_part, stand_off, basis)
    }
}

/// The position of a photograph at its GPS time, else at the time of a camera whose clock is known.
fn position(scene: &Scene, cameras: &[SetCamera], index: usize, photo: &Photo) -> Option<Position> {
    let at = photo.gps.at?;
    let radius = stated_radius(&photo.gps);
    let by_clock = || {
        let camera = cameras.iter().find(|camera| camera.photos.contains(&index))?;
        let offset = camera.offset()?;
        let known = camera.spread(offset) <= CLOCK;
        known.then_some(scene.estimated_track.origin.instant(reading(scene, index)? - offset))
    };
    let time = photo.gps.time.or_else(by_clock)?;
    (radius <= COARSEST).then_some((time, at, radius))
}

/// In order of time, each position once: exactly the same one again was not determined again.
fn without_repeats(mut positions: Vec<Position>) -> Vec<Position> {
    positions.sort_by_key(|(time, _, _)| *time);
    positions.dedup_by_key(|(_, at, _)| *at);
    positions.dedup_by_key(|(time, _, _)| *time);
    positions
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_that_repeats_counts_once() {
        let at = |east: f64| LatLon::clamped(47.9, 8.1 + east);
        let time = |second: i64| Timestamp::from_second(second).unwrap();
        let positions = vec![
            (time(120), at(0.0), 30.0),
            (time(0), at(0.0), 30.0),
            (time(240), at(0.1), 30.0),
            (time(240), at(0.2), 30.0),
            (time(300), at(0.0), 30.0),
        ];
        let times = without_repeats(positions).into_iter().map(|(time, _, _)| time.as_second());
        assert_eq!(times.collect::<Vec<_>>(), [0, 240, 300]);
    }
}
