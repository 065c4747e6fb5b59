//! Computes how well GPS positions of photographs and written coordinates fit a track, against positions of
//! another person in the same square kilometre. Layer: `join`.

use crate::model::{CoordinateReading, Photo, Record};
use crate::units::{LatLon, Timestamp};

use super::TrackView;
use super::fit::{self, sum_of_logs};

/// How far a position lies from where the collector was, metres per axis.
const SCATTER: f64 = 30.0;
/// The share of positions in photographs that are stale.
const STRAY: f64 = 0.05;
/// The share of written coordinates that are mistaken or of something else: the car, the village.
const MISTAKEN: f64 = 0.2;
/// The lower limit of the log Bayes factor of positions: photographs, records.
const LEAST: (f64, f64) = (-4.6, -1.6);
/// The share of a square kilometre of walks that lies about a track, so that a place near it is no
/// surprise.
const ABOUT_A_TRACK: f64 = 0.3;
/// Square metres over which a stranger's position may lie.
const GROUND: f64 = 1e6;
/// The largest number of positions that count.
const ENOUGH: usize = 4;
/// The pace between the beginning and the end of a written minute, metres a second (common practice).
const PACE: f64 = 1.0;
/// The weight of each after the first: neighbours share an error.
const FURTHER: f64 = 0.6;

/// The log Bayes factor of the GPS positions of a session, and how many there are.
pub(super) fn photographs(session: &[Photo], track: &TrackView) -> (f64, usize) {
    let placed: Vec<&Photo> = session.iter().filter(|photo| photo.gps.at.is_some()).collect();
    let every = placed.len().div_ceil(ENOUGH).max(1);
    let factors = placed.iter().step_by(every).filter_map(|photo| {
        let at = photo.gps.at?;
        let scatter = photo.gps.error.map_or(SCATTER, |error| error.0.clamp(SCATTER, 500.0));
        let (start, end) = track.span;
        let then = photo.gps.time.filter(|time| (start..=end).contains(time));
        then.and_then(|time| at_time(at, scatter, STRAY, time, track))
            .or_else(|| near(at, scatter, STRAY, track))
    });
    (together(factors).max(LEAST.0), placed.len())
}

/// The log Bayes factor of the coordinates in records, each by the reading nearest to the track.
pub(super) fn records(records: &[&Record], track: &TrackView) -> (f64, usize) {
    let written: Vec<_> = records.iter().filter(|record| record.coordinates.is_some()).collect();
    let every = written.len().div_ceil(ENOUGH).max(1);
    let factors = written.iter().step_by(every).filter_map(|written| {
        let coordinates = written.coordinates.as_ref()?;
        let of = |reading: &CoordinateReading| of_reading(reading, written, track);
        coordinates.readings.iter().chain(&coordinates.slips).filter_map(of).max_by(f64::total_cmp)
    });
    (together(factors).max(LEAST.1), written.len())
}

/// The log Bayes factor of one reading of the coordinates of a record: near the track at the written time, or near
/// any part of it, half each.
fn of_reading(reading: &CoordinateReading, record: &Record, track: &TrackView) -> Option<f64> {
    let scatter = SCATTER.max(reading.precision.0 + reading.datum.0);
    let anywhere = near(reading.at, scatter, MISTAKEN, track)?;
    let timed = at_written_time(reading.at, scatter, record, track);
    Some(timed.map_or(anywhere, |timed| sum_of_logs(timed, anywhere) - std::f64::consts::LN_2))
}

/// Near where the track was at the written time?
fn at_written_time(at: LatLon, scatter: f64, record: &Record, track: &TrackView) -> Option<f64> {
    let written = fit::read(record, track)?;
    let (start, end) = track.span;
    let then = Some(written.instant).filter(|time| (start..=end).contains(time))?;
    let walked = PACE * written.step.0 / 2.0;
    at_time(at, scatter.hypot(walked), MISTAKEN, then, track)
}

/// Near where the track was at an instant, against a stranger's position on the same ground?
fn at_time(
    at: LatLon,
    scatter: f64,
    stray: f64,
    time: Timestamp,
    track: &TrackView,
) -> Option<f64> {
    let there = track.estimated_track.at(track.estimated_track.origin.seconds(time))?;
    let (east, north) = track.estimated_track.plane.to_plane(at);
    let apart2 = (there.east - east).powi(2) + (there.north - north).powi(2);
    let variance = scatter * scatter + there.variance;
    let density = (-0.5 * apart2 / variance).exp() / (std::f64::consts::TAU * variance);
    Some(((1.0 - stray) * density * GROUND + stray).ln())
}

fn together(factors: impl Iterator<Item = f64>) -> f64 {
    factors.enumerate().map(|(k, log)| if k == 0 { log } else { FURTHER * log }).sum()
}

/// A place without a time: near any part of the track?
fn near(at: LatLon, scatter: f64, stray: f64, track: &TrackView) -> Option<f64> {
    let away = distance(track, at)?;
    let density = (-0.5 * (away / scatter).powi(2)).exp();
    Some(((1.0 - stray) * density / ABOUT_A_TRACK + stray).ln())
}

/// Metres from the nearest part of a track.
fn distance(track: &TrackView, at: LatLon) -> Option<f64> {
    let (east, north) = track.estimated_track.plane.to_plane(at);
    let frames = &track.estimated_track.frames;
    let points = &frames.all;
    let leg = |k: usize| {
        let a = &points[k];
        let Some(b) = points.get(k + 1).filter(|_| frames.step(k) <= frames.gap) else {
            return (a.east - east).hypot(a.north - north);
        };
        let (x, y) = (b.east - a.east, b.north - a.north);
        let along = ((east - a.east) * x + (north - a.north) * y) / (x * x + y * y).max(1e-9);
        let along = along.clamp(0.0, 1.0);
        (a.east + along * x - east).hypot(a.north + along * y - north)
    };
    (0..points.len()).map(leg).min_by(f64::total_cmp)
}
