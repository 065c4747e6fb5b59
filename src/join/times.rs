//! Compares the times of a day as a whole: a notebook an hour from the photographs, times and photographs
//! outside the track, photographs of other days. Each is reported once, not for each find. Layer: `join`.

use jiff::civil::Date;

use crate::error::Error;
use crate::model::{ClockNote, FindReference, TimesKind, TimesNote};
use crate::units::{Seconds, Timestamp};

use super::association::is_reset;
use super::day::{Scene, SetCamera, of_another_day, reading};
use super::moment::median;
use super::note::local;

/// The remarks; where the offset of the whole notebook is reported elsewhere, none on its times.
pub(super) fn remarks(scene: &Scene, cameras: &[SetCamera], notebook_off: bool) -> Vec<Error> {
    let finds = times_of_finds(scene, cameras);
    let mut remarks = Vec::new();
    if !notebook_off {
        remarks.extend(notebook_apart(&finds).map(Error::from));
    }
    remarks.extend(beyond_the_track(scene, &finds, notebook_off).into_iter().map(Error::from));
    remarks.extend(other_days(scene).map(Error::from));
    remarks.extend(set_between(scene, cameras).into_iter().map(Error::from));
    remarks
}

/// Cameras whose photographs are those of two clocks.
fn set_between(scene: &Scene, cameras: &[SetCamera]) -> Vec<ClockNote> {
    /// Offsets of two parts of a day that agree within this many seconds are one.
    const SAME: f64 = 90.0;
    let of = |camera: &SetCamera, last: bool| {
        let photos = camera.photos.iter().map(|&photo| scene.gathered.photos[photo].name());
        if last { photos.max() } else { photos.min() }
    };
    let both = |(k, late): (usize, &SetCamera)| {
        let early = cameras[..k].iter().find(|early| early.clock.camera == late.clock.camera)?;
        let (last, first) = (of(early, true)?, of(late, false)?);
        let by = early.clock.ahead.zip(late.clock.ahead).map(|(before, after)| after - before);
        if by.is_some_and(|by| by.0.abs() < SAME) {
            // the offset is the same on both sides of the step, so the watch was set
            return Some(ClockNote::WatchSet { last, first });
        }
        Some(ClockNote::ClockSet { camera: late.clock.camera.clone(), by, last, first })
    };
    cameras.iter().enumerate().filter_map(both).collect()
}

/// When a find was written down and photographed, seconds since the day's origin.
struct Times {
    find: FindReference,
    written: Option<f64>,
    pictured: Option<f64>,
}

/// One of them.
type Of = fn(&Times) -> Option<f64>;

fn times_of_finds(scene: &Scene, cameras: &[SetCamera]) -> Vec<Times> {
    let pictured = |claimed: &[usize]| {
        claimed.iter().find_map(|photo| {
            let camera = cameras.iter().find(|camera| camera.photos.contains(photo))?;
            Some(reading(scene, *photo)? - camera.offset()?)
        })
    };
    let records = scene.gathered.records.iter().zip(&scene.claims.photos);
    records
        .map(|(filed, claimed)| {
            let read = scene.written(filed);
            Times {
                find: FindReference::of(&filed.record),
                written: read.map(|read| scene.estimated_track.origin.seconds(read.instant)),
                pictured: pictured(claimed),
            }
        })
        .collect()
}

/// Most written times are as far from the photographs of their finds.
fn notebook_apart(finds: &[Times]) -> Option<TimesNote> {
    /// Fewer finds give no information, times differ by minutes anyway, and so much from find to find.
    const FEWEST: usize = 4;
    const MINUTES: f64 = 420.0;
    const ALIKE: f64 = 240.0;
    let ahead: Vec<f64> =
        finds.iter().filter_map(|find| Some(find.written? - find.pictured?)).collect();
    let middle = median(&mut ahead.clone())?;
    let alike = ahead.iter().filter(|one| (**one - middle).abs() < ALIKE).count();
    if ahead.len() < FEWEST || middle.abs() < MINUTES || 5 * alike < 3 * ahead.len() {
        return None;
    }
    Some(TimesNote::NotebookApart { ahead: Seconds(middle), alike, of: ahead.len() })
}

/// Times of finds that lie before the track begins or after it ends.
fn beyond_the_track(scene: &Scene, finds: &[Times], notebook_off: bool) -> Vec<TimesNote> {
    let Some((start, end)) = scene.span else { return Vec::new() };
    let kinds: [(TimesKind, Of); 2] =
        [(TimesKind::Photographs, |find| find.pictured), (TimesKind::Written, |find| find.written)];
    let beyond = |(times, of): (TimesKind, Of)| {
        let finds: Vec<FindReference> = finds
            .iter()
            .filter(|find| of(find).is_some_and(|time| outside(scene, time, (start, end))))
            .map(|find| find.find.clone())
            .collect();
        (!finds.is_empty()).then(|| TimesNote::OutsideTrack {
            times,
            finds,
            begins: local(scene, start),
            ends: local(scene, end),
            beyond: Seconds(super::locate::BEYOND),
        })
    };
    let reported = if notebook_off { 1 } else { kinds.len() };
    kinds.into_iter().take(reported).filter_map(beyond).collect()
}

fn outside(scene: &Scene, time: f64, (start, end): (Timestamp, Timestamp)) -> bool {
    /// Nobody walks far before the first and after the last fix in so many seconds.
    const SOON: f64 = 120.0;
    let seconds = |instant| scene.estimated_track.origin.seconds(instant);
    time < seconds(start) - SOON || time > seconds(end) + SOON
}

/// Photographs that no zone brings to the day, where others are of it.
fn other_days(scene: &Scene) -> Option<TimesNote> {
    let photos = &scene.gathered.photos;
    let other = |photo: &usize| {
        // a camera whose clock started again is another matter
        let reset = photos[*photo].taken.is_some_and(|taken| is_reset(taken.date(), scene.date));
        !reset && reading(scene, *photo).is_some_and(|r| of_another_day(scene, r))
    };
    let of_others: Vec<usize> = (0..photos.len()).filter(other).collect();
    let dates: std::collections::BTreeSet<Date> =
        of_others.iter().filter_map(|&photo| Some(photos[photo].taken?.date())).collect();
    if of_others.is_empty() || of_others.len() == photos.len() {
        return None;
    }
    let dates = dates.into_iter().collect();
    Some(TimesNote::OtherDays { photographs: of_others.len(), dates })
}
