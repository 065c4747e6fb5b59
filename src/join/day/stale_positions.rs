//! How far the collector had gone since the position that a photograph carries was determined: its GPS time is
//! older than the photograph, or earlier photographs bear exactly the same position. Layer: `join`.

use crate::model::Photo;

use super::Scene;
use super::cameras::{SetCamera, reading};

/// A position that is no older than this is of the photograph, seconds.
const FRESH: f64 = 60.0;
/// How fast a collector gets away from a place that no track shows, metres per second (common practice).
const PACE: f64 = 0.5;
/// The farthest that is allowed for, metres.
const FARTHEST: f64 = 20_000.0;

/// Metres from where the position was determined to where the photograph was taken; `None` for a position of
/// that moment, and where no clock shows it.
pub(super) fn moved(scene: &Scene, cameras: &[SetCamera], photo: usize) -> Option<f64> {
    let camera = cameras.iter().find(|camera| camera.photos.contains(&photo))?;
    let offset = camera.offset()?;
    let taken = reading(scene, photo)? - offset;
    let known = &scene.gathered.photos[photo];
    let of_gps = known.gps.time.map(|time| scene.estimated_track.origin.seconds(time));
    let first = of_gps.into_iter().chain(first_shown(scene, camera, known, offset));
    let since = first.fold(taken, f64::min);
    let age = taken - since;
    (age > FRESH).then(|| {
        let track = scene.estimated_track;
        let walked = track.at(taken).zip(track.at(since)).map_or(PACE * age, |(here, there)| {
            (here.east - there.east).hypot(here.north - there.north)
        });
        walked.min(FARTHEST)
    })
}

/// When the first photograph of the camera with exactly this position was taken.
fn first_shown(scene: &Scene, camera: &SetCamera, known: &Photo, offset: f64) -> Option<f64> {
    let same = |other: &&usize| scene.gathered.photos[**other].gps.at == known.gps.at;
    let times = camera.photos.iter().filter(same).filter_map(|&other| reading(scene, other));
    times.min_by(f64::total_cmp).map(|first| first - offset)
}
