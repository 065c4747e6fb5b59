//! Collects the direct evidence for a camera's clock offset: the zone it states, times written beside its
//! photographs, waypoints, another camera, GPS times and positions. Layer: `join`.

use std::collections::BTreeMap;

use super::super::clock::{DirectEvidence, GpsTimes, Observation, ObservationSource};
use super::super::estimated_track::EstimatedTrack;
use super::Scene;
use super::cameras::{SetCamera, moment, reading};

/// The direct evidence for the clock of the camera that took these photographs; `others` are cameras of
/// the outing that are set already.
pub(super) fn direct_evidence<'a>(
    scene: &Scene,
    photos: &[usize],
    readings: &[f64],
    others: impl Iterator<Item = &'a SetCamera>,
) -> DirectEvidence {
    let observations =
        [written_times(scene, photos), waypoints(scene, photos), shared(scene, photos, others)];
    DirectEvidence {
        zone: zone_offset(scene, readings),
        claimed: claimed(scene, photos),
        observations: observations.into_iter().flatten().collect(),
        gps: gps_times(scene, photos),
        tracked: scene.estimated_track.activities.course.len() > 1,
    }
}

/// The offset of the outing's zone from UTC on that day, seconds.
fn zone_offset(scene: &Scene, readings: &[f64]) -> f64 {
    let zone = &scene.gathered.zone.zone;
    let first =
        || scene.estimated_track.origin.instant(readings.first().copied().unwrap_or_default());
    let instant = scene.span.map_or_else(first, |span| span.0);
    f64::from(zone.to_offset(instant).seconds())
}

/// The offset that most of the camera's photographs state.
fn claimed(scene: &Scene, photos: &[usize]) -> Option<f64> {
    let mut counts: BTreeMap<i32, usize> = BTreeMap::new();
    for offset in photos.iter().filter_map(|&photo| scene.gathered.photos[photo].offset) {
        *counts.entry(offset.seconds()).or_default() += 1;
    }
    counts.into_iter().max_by_key(|&(_, count)| count).map(|(offset, _)| f64::from(offset))
}

/// Times written beside photographs. People cut off seconds as often as they round, so the middle of what a
/// time may mean is a quarter of its step later; and they write after the photograph, some at once, some
/// when they leave.
fn written_times(scene: &Scene, photos: &[usize]) -> Option<Observation> {
    /// Mean delay from the photograph to the note and its standard deviation, seconds (common practice).
    const AFTER: f64 = 25.0;
    const HABIT: f64 = 60.0;
    let mut offsets = Vec::new();
    let mut widest: f64 = 0.0;
    for (filed, claimed) in scene.gathered.records.iter().zip(&scene.claims.photos) {
        let read = scene.written(filed);
        if let (Some(read), Some(reading)) = (read, mean_reading(scene, claimed, photos)) {
            let written = scene.estimated_track.origin.seconds(read.instant) + read.step.0 / 4.0;
            offsets.push(reading - (written - AFTER));
            widest = widest.max(read.step.0);
        }
    }
    Observation::gathered(
        ObservationSource::Notebook,
        &offsets,
        (0.4 * widest).max(20.0),
        HABIT + widest / 8.0,
    )
}

fn waypoints(scene: &Scene, photos: &[usize]) -> Option<Observation> {
    let mut offsets = Vec::new();
    for (waypoint, claimed) in scene.claims.waypoint.iter().zip(&scene.claims.photos) {
        let time = waypoint.and_then(|point| scene.gathered.waypoints[point].fix.time);
        if let (Some(time), Some(reading)) = (time, mean_reading(scene, claimed, photos)) {
            offsets.push(reading - scene.estimated_track.origin.seconds(time));
        }
    }
    Observation::gathered(ObservationSource::Notebook, &offsets, 40.0, 40.0)
}

/// Finds that another camera, whose clock is known, shows as well: both were used in one stop.
fn shared<'a>(
    scene: &Scene,
    photos: &[usize],
    known: impl Iterator<Item = &'a SetCamera>,
) -> Option<Observation> {
    /// Within a stop, seconds; and how long the second camera usually comes after the first.
    const SCATTER: f64 = 60.0;
    const HABIT: f64 = 30.0;
    let (mut offsets, mut doubt) = (Vec::new(), 0.0_f64);
    for other in known {
        let Some(offset) = other.offset() else { continue };
        let before = offsets.len();
        for claimed in &scene.claims.photos {
            let here = mean_reading(scene, claimed, photos);
            let there = mean_reading(scene, claimed, &other.photos);
            offsets.extend(here.zip(there).map(|(here, there)| here - there + offset));
        }
        if offsets.len() > before {
            doubt = doubt.max(other.spread(offset));
        }
    }
    Observation::gathered(ObservationSource::OtherCamera, &offsets, SCATTER, HABIT.hypot(doubt))
}

/// The mean reading of the photographs that both a record and a camera have.
pub(super) fn mean_reading(scene: &Scene, claimed: &[usize], photos: &[usize]) -> Option<f64> {
    let readings: Vec<f64> = claimed
        .iter()
        .filter(|photo| photos.contains(photo))
        .filter_map(|&photo| reading(scene, photo))
        .collect();
    let (first, last) = (readings.first()?, readings.last()?);
    // photographs hours apart are not of one moment
    (last - first < 900.0).then(|| readings.iter().sum::<f64>() / readings.len() as f64)
}

/// GPS times in the headers.
fn gps_times(scene: &Scene, photos: &[usize]) -> GpsTimes {
    let pair = |&photo: &usize| {
        let time = scene.estimated_track.origin.seconds(scene.gathered.photos[photo].gps.time?);
        Some((moment(scene, photo)?, time))
    };
    GpsTimes::of(photos.iter().filter_map(pair).collect())
}

/// GPS positions in the headers: reading, place on the plane, variance.
pub(super) struct Positions(Vec<(f64, f64, f64, f64)>);

impl Positions {
    pub(super) fn of(scene: &Scene, photos: &[usize]) -> Self {
        const ENOUGH: usize = 30;
        let every = photos.len().div_ceil(ENOUGH).max(1);
        let place = |&photo: &usize| {
            let gps = &scene.gathered.photos[photo].gps;
            let (east, north) = scene.estimated_track.plane.to_plane(gps.at?);
            let sigma = gps.error.map_or(15.0, |error| (error.0 * 0.85).clamp(5.0, 200.0));
            Some((reading(scene, photo)?, east, north, sigma * sigma))
        };
        Self(photos.iter().step_by(every).filter_map(place).collect())
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// How well they lie on the track at an offset. A share of them is stale.
    pub(super) fn log_likelihood(&self, estimated_track: &EstimatedTrack, offset: f64) -> f64 {
        const STALE: f64 = 0.15;
        /// Square metres over which a stale one may lie.
        const ANYWHERE: f64 = 1e6;
        let one = |&(reading, east, north, variance): &(f64, f64, f64, f64)| {
            let placed = estimated_track.at(reading - offset).map_or(0.0, |at| {
                let total = variance + at.variance;
                let apart2 = (at.east - east).powi(2) + (at.north - north).powi(2);
                (-0.5 * apart2 / total).exp() / (2.0 * std::f64::consts::PI * total)
            });
            ((1.0 - STALE) * placed + STALE / ANYWHERE).ln()
        };
        // neighbours share one receiver's error
        0.6 * self.0.iter().map(one).sum::<f64>()
    }
}
