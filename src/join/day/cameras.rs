//! Estimates the clock offset of each camera of an outing from all evidence, then places its photographs on
//! the track. Layer: `join`.

use std::collections::BTreeMap;

use crate::model::{Camera, CameraClock, ClockEvidence, PlacedPhoto};
use crate::units::{ClockOffset, LatLon, Radius95, Seconds, Timestamp};

use super::super::CameraClockOption;
use super::super::association::is_reset;
use super::super::clock::{self, Evidence, Nodes, Observation, Passages, Setting, Weighed};
use super::super::estimated_track::{EstimatedTrack, radius95};
use super::super::written;
use super::Scene;
use super::direct_evidence::{Positions, direct_evidence};
use super::set_between::parted;

/// A camera with its clock.
pub(crate) struct SetCamera {
    pub(crate) clock: CameraClock,
    /// Weighted offsets from UTC, seconds.
    pub(crate) nodes: Nodes,
    /// Its photographs.
    pub(crate) photos: Vec<usize>,
    /// Its evidence, if the offset was not stated.
    weighed: Weighed,
}

impl SetCamera {
    /// The median of its offsets, seconds ahead of UTC; `None` where the clock is not set: an offset
    /// with alternatives would give wrong positions.
    pub(crate) fn offset(&self) -> Option<f64> {
        self.clock.ahead?;
        let mut nodes = self.nodes.clone();
        nodes.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut sum = 0.0;
        nodes.iter().find_map(|node| {
            sum += node.1;
            (sum >= 0.5).then_some(node.0)
        })
    }

    /// How many GPS times in its photographs conflict with the estimated offset, and how far ahead of the local
    /// time they would have it.
    pub(crate) fn gps_against(&self) -> Option<(usize, Seconds)> {
        let said = &self.weighed.said;
        let (ahead, named) = (self.clock.ahead?, said.gps.offset()?);
        let theirs = said.gps.allow(ahead.0 + said.zone);
        (!theirs).then_some((said.gps.count, Seconds(named - said.zone)))
    }

    /// The offset of the outing's zone from UTC, seconds.
    pub(crate) fn zone(&self) -> f64 {
        self.weighed.said.zone
    }

    /// Estimates the offset again with the evidence of other days.
    pub(crate) fn update(&mut self, observation: Observation) {
        let blank = CameraClock::unknown(self.clock.camera.clone(), self.photos.len());
        if let Some((clock, nodes)) = self.weighed.knowing(blank, observation) {
            (self.clock, self.nodes) = (clock, nodes);
        }
    }

    /// How far the offset may be from this value, one standard deviation in seconds.
    pub(crate) fn spread(&self, offset: f64) -> f64 {
        self.nodes.iter().map(|node| node.1 * (node.0 - offset).powi(2)).sum::<f64>().sqrt()
    }
}

/// Sets the clock of every camera, in order of their first photographs; one that was set in between is two.
pub(super) fn set(scene: &Scene) -> Vec<SetCamera> {
    let mut cameras: BTreeMap<Camera, Vec<usize>> = BTreeMap::new();
    for (index, photo) in scene.gathered.photos.iter().enumerate() {
        cameras.entry(photo.camera.clone()).or_default().push(index);
    }
    let mut whole: Vec<(Camera, Vec<usize>)> = cameras.into_iter().collect();
    whole.sort_by_key(|(_, photos)| photos[0]);
    let grouped: Vec<(Camera, Vec<usize>)> = whole
        .into_iter()
        .flat_map(|(camera, photos)| {
            let (misdated, photos) =
                photos.into_iter().partition(|&photo| is_misdated(scene, photo));
            let (as_dated, reset) = by_reset(scene, photos);
            let parts = parted(scene, as_dated).into_iter().chain([reset, misdated]);
            parts.map(move |part| (camera.clone(), part)).collect::<Vec<_>>()
        })
        .filter(|(_, photos)| !photos.is_empty())
        .collect();
    if grouped.is_empty() {
        return Vec::new();
    }
    let estimated_track = scene.estimated_track;
    let passages = Passages::of(
        &estimated_track.points(),
        &estimated_track.activities,
        estimated_track.frames.gap,
    );
    // the camera with most photographs is known best and helps to estimate the others
    let mut order: Vec<usize> = (0..grouped.len()).collect();
    order.sort_by_key(|&index| std::cmp::Reverse(grouped[index].1.len()));
    let mut set: Vec<(usize, SetCamera)> = Vec::with_capacity(grouped.len());
    for index in order {
        let (camera, photos) = &grouped[index];
        let one = one(scene, &passages, camera, photos, &set);
        set.push((index, one));
    }
    set.sort_by_key(|(index, _)| *index);
    set.into_iter().map(|(_, camera)| camera).collect()
}

/// The photographs of a camera, and apart from them those that it took after its clock had started again at a first
/// of January.
fn by_reset(scene: &Scene, photos: Vec<usize>) -> (Vec<usize>, Vec<usize>) {
    let is_reset = |photo: &usize| {
        let taken = scene.gathered.photos[*photo].taken;
        taken.is_some_and(|taken| is_reset(taken.date(), scene.date))
    };
    let (reset, as_dated): (Vec<usize>, Vec<usize>) = photos.into_iter().partition(is_reset);
    if scene.span.is_some() { (as_dated, reset) } else { ([as_dated, reset].concat(), Vec::new()) }
}

/// Whether the date of a photograph's camera is not of the day.
fn is_misdated(scene: &Scene, photo: usize) -> bool {
    scene.gathered.misdated.contains(&scene.gathered.photos[photo].source.path)
}

/// The camera's reading in seconds since the day's origin, as if it were UTC.
pub(crate) fn reading(scene: &Scene, photo: usize) -> Option<f64> {
    let taken = scene.gathered.photos[photo].taken?;
    Some(scene.estimated_track.origin.seconds(ClockOffset::as_if_utc(taken)))
}

/// The reading at the moment of the photograph: a camera cuts fractions of a second off, so that a reading
/// of whole seconds is half a second early on average.
pub(super) fn moment(scene: &Scene, photo: usize) -> Option<f64> {
    let whole = scene.gathered.photos[photo].taken?.subsec_nanosecond() == 0;
    Some(reading(scene, photo)? + if whole { 0.5 } else { 0.0 })
}

/// The readings of a camera's photographs in order, without those of other days: photographs that no zone
/// brings near the track, where others are near it.
fn readings(scene: &Scene, photos: &[usize]) -> Vec<f64> {
    let mut all: Vec<f64> = photos.iter().filter_map(|&photo| moment(scene, photo)).collect();
    all.sort_by(f64::total_cmp);
    let near: Vec<f64> = all.iter().copied().filter(|&time| !of_another_day(scene, time)).collect();
    if near.is_empty() { all } else { near }
}

/// Whether a reading is so far from the track that no zone brings it there.
pub(crate) fn of_another_day(scene: &Scene, reading: f64) -> bool {
    let Some((start, end)) = scene.span else { return false };
    let seconds = |instant| scene.estimated_track.origin.seconds(instant);
    let local = reading - f64::from(scene.gathered.zone.zone.to_offset(start).seconds());
    local < seconds(start) - clock::REACH || local > seconds(end) + clock::REACH
}

fn one(
    scene: &Scene,
    passages: &Passages,
    camera: &Camera,
    photos: &[usize],
    others: &[(usize, SetCamera)],
) -> SetCamera {
    let misdated = photos.first().is_some_and(|&photo| is_misdated(scene, photo));
    let readings = if misdated { Vec::new() } else { readings(scene, photos) };
    let said = direct_evidence(scene, photos, &readings, others.iter().map(|(_, other)| other));
    let setting = setting(scene, photos, said.zone);
    let positions = Positions::of(scene, photos);
    let likelihood = |offset: f64| positions.log_likelihood(scene.estimated_track, offset);
    let evidence = Evidence {
        readings: &readings,
        said,
        activities: &scene.estimated_track.activities,
        passages,
        positions: (!positions.is_empty()).then_some(&likelihood),
    };
    let blank = CameraClock::unknown(camera.clone(), photos.len());
    let clock::Reported { mut clock, nodes, weighed } = clock::report(blank, evidence, &setting);
    if misdated && clock.ahead.is_none() {
        clock.basis = ClockEvidence::OtherDate.into();
    }
    SetCamera { clock, nodes, photos: photos.to_vec(), weighed }
}

/// When the collector was probably stationary, by the photographs of cameras whose clocks are known: from the
/// first to the last of a group, with some seconds about them.
pub(super) fn intervals(scene: &Scene, cameras: &[SetCamera]) -> Vec<(f64, f64)> {
    const ABOUT: f64 = 8.0;
    /// A clock known less well than this is no evidence, seconds.
    const KNOWN: f64 = 22.0;
    let mut intervals = Vec::new();
    for camera in cameras.iter().filter(|camera| camera.clock.ahead.is_some()) {
        let Some(offset) = camera.offset() else { continue };
        if camera.spread(offset) > KNOWN {
            continue;
        }
        let mut readings: Vec<f64> =
            camera.photos.iter().filter_map(|&photo| reading(scene, photo)).collect();
        readings.sort_by(f64::total_cmp);
        intervals.extend(clock::groups(&readings).into_iter().filter_map(|group| {
            Some((group.first()? - offset - ABOUT, group.last()? - offset + ABOUT))
        }));
    }
    intervals
}

fn setting(scene: &Scene, photos: &[usize], zone: f64) -> Setting {
    match &scene.options.camera_clock {
        CameraClockOption::Auto => Setting::Auto,
        CameraClockOption::None => Setting::Right,
        CameraClockOption::Ahead(ahead) => Setting::Stated(ahead.0 + zone),
        CameraClockOption::Shown { photo, instant } => {
            let wanted = crate::model::PhotoRef(photo.clone());
            let shown = photos
                .iter()
                .copied()
                .find(|&index| written::names(&wanted, &scene.gathered.photos[index].name()));
            match shown.and_then(|index| reading(scene, index)) {
                Some(reading) => Setting::ClockPhotograph(
                    reading - scene.estimated_track.origin.seconds(*instant),
                    photo.clone(),
                ),
                None => Setting::Auto,
            }
        }
    }
}

/// Places every photograph on the track.
pub(super) fn place(scene: &Scene, cameras: &[SetCamera]) -> Vec<PlacedPhoto> {
    let mut camera_of = vec![0; scene.gathered.photos.len()];
    for (index, camera) in cameras.iter().enumerate() {
        for &photo in &camera.photos {
            camera_of[photo] = index;
        }
    }
    let photos = scene.gathered.photos.iter().enumerate();
    photos
        .map(|(index, photo)| {
            let camera = &cameras[camera_of[index]];
            let when = camera.offset().and_then(|offset| Some(reading(scene, index)? - offset));
            let on_track = when.and_then(|time| on_track(scene.estimated_track, camera, time));
            let own = photo.gps.at.map(|at| {
                let error = photo.gps.error.map_or(30.0, |error| 2.08 * error.0);
                (at, radius95(error.max(1.0)))
            });
            let when: Option<Timestamp> =
                when.map(|time| scene.estimated_track.origin.instant(time));
            PlacedPhoto {
                photo: photo.clone(),
                camera: camera_of[index],
                when: when.or(photo.gps.time),
                at: on_track.or(own),
                finds: scene.claims.claimed[index].clone(),
            }
        })
        .collect()
}

/// The smoothed position at a time, widened by the clock uncertainty.
fn on_track(
    estimated_track: &EstimatedTrack,
    camera: &SetCamera,
    time: f64,
) -> Option<(LatLon, Radius95)> {
    let at = estimated_track.at(time)?;
    let offset = camera.offset()?;
    let speed2 = at.east_speed.powi(2) + at.north_speed.powi(2);
    let variance = at.variance + 0.5 * speed2 * camera.spread(offset).powi(2);
    Some((
        estimated_track.plane.from_plane(at.east, at.north),
        radius95(variance.sqrt() * Radius95::PER_SIGMA),
    ))
}
