//! Compares the times of a day as a whole: a notebook an hour from the photographs, times and photographs
//! outside the track, photographs of other days. Each is reported once, not for each find. Layer: `join`.

use crate::error::Error;
use crate::units::{Seconds, Timestamp};

use super::conflict::name_of;
use super::day::{Scene, SetCamera, of_another_day, reading};
use super::moment::median;
use super::note::{listed, local};
use super::written;

/// The remarks; where the offset of the whole notebook is reported elsewhere, none on its times.
pub(super) fn remarks(scene: &Scene, cameras: &[SetCamera], notebook_off: bool) -> Vec<Error> {
    let finds = times_of_finds(scene, cameras);
    let mut remarks = Vec::new();
    if !notebook_off {
        remarks.extend(notebook_apart(&finds));
    }
    remarks.extend(beyond_the_track(scene, &finds, notebook_off));
    remarks.extend(other_days(scene));
    remarks.extend(set_between(scene, cameras));
    remarks
}

/// Cameras whose photographs are those of two clocks.
fn set_between(scene: &Scene, cameras: &[SetCamera]) -> Vec<Error> {
    /// Offsets of two parts of a day that agree within this many seconds are one.
    const SAME: f64 = 90.0;
    let of = |camera: &SetCamera, last: bool| {
        let photos = camera.photos.iter().map(|&photo| scene.gathered.photos[photo].name());
        if last { photos.max() } else { photos.min() }
    };
    let both = |(k, late): (usize, &SetCamera)| {
        let early = cameras[..k].iter().find(|early| early.clock.camera == late.clock.camera)?;
        let by = match (early.clock.ahead, late.clock.ahead) {
            (Some(before), Some(after)) => {
                let step = after.0 - before.0;
                if step.abs() < SAME {
                    return Some(watch_stepped(&of(early, true)?, &of(late, false)?));
                }
                let direction = if step < 0.0 { "back" } else { "forward" };
                format!("put {direction} by {}", Seconds(step.abs()))
            }
            _ => "set".to_owned(),
        };
        let (last, first) = (of(early, true)?, of(late, false)?);
        Some(
            Error::input(format!("the clock of {} was {by} during the day", late.clock.camera))
                .because(format!(
                    "the written times step between {last} and {first}; each part has its own clock offset"
                ))
                .hint("photograph the receiver's clock after setting a camera clock"),
        )
    };
    cameras.iter().enumerate().filter_map(both).collect()
}

/// The camera offset is the same on both sides of the step, so the watch was set.
fn watch_stepped(last: &str, first: &str) -> Error {
    Error::input(format!("the written times step between {last} and {first}"))
        .because("the photographs on both sides match the stops with the same clock offset")
        .hint("check whether the watch used for the notebook was set during the day")
}

/// When a find was written down and photographed, seconds since the day's origin.
struct Times {
    name: String,
    written: Option<f64>,
    pictured: Option<f64>,
}

/// One of them.
type Of = fn(&Times) -> Option<f64>;

fn times_of_finds(scene: &Scene, cameras: &[SetCamera]) -> Vec<Times> {
    let zone = &scene.gathered.zone.zone;
    let pictured = |claimed: &[usize]| {
        claimed.iter().find_map(|photo| {
            let camera = cameras.iter().find(|camera| camera.photos.contains(photo))?;
            Some(reading(scene, *photo)? - camera.offset()?)
        })
    };
    let records = scene.gathered.records.iter().zip(&scene.claims.photos);
    records
        .map(|(filed, claimed)| {
            let read = written::instant(&filed.record, scene.date, zone, scene.span);
            Times {
                name: name_of(&filed.record),
                written: read.map(|read| scene.estimated_track.origin.seconds(read.instant)),
                pictured: pictured(claimed),
            }
        })
        .collect()
}

/// Most written times are as far from the photographs of their finds.
fn notebook_apart(finds: &[Times]) -> Option<Error> {
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
    let beside = if middle < 0.0 { "behind" } else { "ahead of" };
    let apart = in_minutes(middle.abs());
    Some(
        Error::input(format!("the notebook is about {apart} {beside} the photographs"))
            .because(format!(
                "{alike} of {} written times differ by this much from the corrected times of their photographs",
                ahead.len()
            ))
            .hint(
                "check the watch and the time zone; use --zone, or --camera-clock if the \
                 photographs are wrong",
            ),
    )
}

/// `1 h 02 min`.
fn in_minutes(seconds: f64) -> String {
    let minutes = (seconds / 60.0).round();
    if minutes < 60.0 {
        return format!("{minutes:.0} min");
    }
    format!("{:.0} h {:02.0} min", (minutes / 60.0).floor(), minutes % 60.0)
}

/// Times of finds that lie before the track begins or after it ends.
fn beyond_the_track(scene: &Scene, finds: &[Times], notebook_off: bool) -> Vec<Error> {
    let Some((start, end)) = scene.span else { return Vec::new() };
    let kinds: [(&str, Of); 2] = [
        ("the photograph times", |find| find.pictured),
        ("the written times", |find| find.written),
    ];
    let beyond = |(what, of): (&str, Of)| {
        let names: Vec<String> = finds
            .iter()
            .filter(|find| of(find).is_some_and(|time| outside(scene, time, (start, end))))
            .map(|find| find.name.clone())
            .collect();
        (!names.is_empty()).then(|| {
            Error::input(format!("{what} of {} lie outside the track", listed(&names)))
                .because(format!(
                    "it runs from {} to {}; within {} of its ends a find has a large radius, \
                     farther outside the track no position is estimated",
                    local(scene, start),
                    local(scene, end),
                    Seconds(super::locate::BEYOND)
                ))
                .hint("check whether the receiver was switched off early or a clock is wrong")
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
fn other_days(scene: &Scene) -> Option<Error> {
    let photos = &scene.gathered.photos;
    let other = |photo: &usize| reading(scene, *photo).is_some_and(|r| of_another_day(scene, r));
    let of_others: Vec<usize> = (0..photos.len()).filter(other).collect();
    let dates: std::collections::BTreeSet<String> = of_others
        .iter()
        .filter_map(|&photo| Some(photos[photo].taken?.date().to_string()))
        .collect();
    if of_others.is_empty() || of_others.len() == photos.len() {
        return None;
    }
    let dates: Vec<String> = dates.into_iter().collect();
    let what = if of_others.len() == 1 { "photograph is" } else { "photographs are" };
    Some(
        Error::input(format!("{} {what} dated {}", of_others.len(), listed(&dates)))
            .because(
                "in no time zone are they on the day of the track; they are not used for the clock",
            )
            .hint(
                "they may be from other days; otherwise the camera's date was changed in between",
            ),
    )
}
