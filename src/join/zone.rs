//! Chooses the time zone of the day's local times: the stated zone, else the zone stated by the
//! photographs, else the zone at the track, else UTC; and records the source. Where photographs and place
//! differ, the notebook decides: a camera on another zone differs by hours from the times written beside
//! its photographs. Layer: `join`.

use std::collections::BTreeMap;

use jiff::tz::Offset;

use crate::earth;
use crate::error::Error;
use crate::model::{Photo, ZoneChoice, ZoneNote, ZoneReason, ZoneSource};
use crate::units::{LatLon, TimeZone, Timestamp};

use super::Options;
use super::day::PhotoIndex;
use super::moment::median;
use super::outings::Filed;
use super::written::names;

/// Chooses the zone of an outing, with a note where the evidence differs.
pub(super) fn choose(
    options: &Options,
    photos: &[Photo],
    records: &[Filed],
    place: Option<LatLon>,
    span: Option<(Timestamp, Timestamp)>,
    remarks: &mut Vec<Error>,
) -> ZoneChoice {
    let by_place = place.and_then(earth::zone::at);
    if let Some(stated) = &options.zone {
        remarks.extend(far_from_place(stated, by_place.as_ref(), span).map(Error::from));
        return stated.clone();
    }
    let claimed = claimed(photos);
    match (claimed, by_place) {
        (Some(offset), Some((name, zone))) => {
            between(offset, &name, &zone, records, photos, span, remarks)
        }
        (Some(offset), None) => of_photographs(offset),
        (None, Some((name, zone))) => ZoneChoice { zone, name, source: ZoneSource::Place },
        (None, None) => {
            ZoneChoice { zone: TimeZone::UTC, name: "UTC".into(), source: ZoneSource::Assumed }
        }
    }
}

/// A note on a stated zone whose clocks are hours from those of the place.
fn far_from_place(
    stated: &ZoneChoice,
    by_place: Option<&(String, TimeZone)>,
    span: Option<(Timestamp, Timestamp)>,
) -> Option<ZoneNote> {
    const HOURS: i32 = 7_200;
    let ((name, zone), instant) = (by_place?, span?.0);
    let (here, there) = (zone.to_offset(instant), stated.zone.to_offset(instant));
    ((here.seconds() - there.seconds()).abs() >= HOURS).then(|| ZoneNote::ZoneFarFromPlace {
        zone: stated.name.clone(),
        offset: offset_name(there),
        place: name.clone(),
        place_offset: offset_name(here),
    })
}

/// The offset that most photographs state.
fn claimed(photos: &[Photo]) -> Option<Offset> {
    let mut counts: BTreeMap<i32, usize> = BTreeMap::new();
    for offset in photos.iter().filter_map(|photo| photo.offset) {
        *counts.entry(offset.seconds()).or_default() += 1;
    }
    let most = counts.into_iter().max_by_key(|&(_, count)| count)?;
    Offset::from_seconds(most.0).ok()
}

fn of_photographs(offset: Offset) -> ZoneChoice {
    ZoneChoice {
        zone: TimeZone::fixed(offset),
        name: offset_name(offset),
        source: ZoneSource::Photograph,
    }
}

/// `+10:00`.
fn offset_name(offset: Offset) -> String {
    let (sign, seconds) =
        if offset.seconds() < 0 { ('-', -offset.seconds()) } else { ('+', offset.seconds()) };
    format!("{sign}{:02}:{:02}", seconds / 3_600, seconds / 60 % 60)
}

/// The photographs' offset and that of the place: alike, or one of them fits the notebook.
fn between(
    offset: Offset,
    name: &str,
    zone: &TimeZone,
    records: &[Filed],
    photos: &[Photo],
    span: Option<(Timestamp, Timestamp)>,
    remarks: &mut Vec<Error>,
) -> ZoneChoice {
    let instant = span.map(|span| span.0).or_else(|| {
        photos.iter().find_map(|photo| Some(crate::units::ClockOffset::as_if_utc(photo.taken?)))
    });
    let here = instant.map(|instant| zone.to_offset(instant));
    if here == Some(offset) {
        return of_photographs(offset);
    }
    let fixed = TimeZone::fixed(offset);
    let fits = |zone: &TimeZone| {
        let Some((start, end)) = span else { return 0 };
        records.iter().filter(|filed| in_span(filed, zone, start, end)).count()
    };
    let apart = here.map(|here| f64::from(offset.seconds() - here.seconds()));
    let (by_place, reason) =
        match apart.and_then(|apart| nearer(behind(records, photos, offset)?, apart)) {
            Some(true) => (true, ZoneReason::TimesApart),
            Some(false) => (false, ZoneReason::TimesAgree),
            None if fits(zone) > fits(&fixed) => (true, ZoneReason::WithinTrack),
            None => (false, ZoneReason::Precedence),
        };
    let chosen = if by_place {
        ZoneChoice { zone: zone.clone(), name: name.to_owned(), source: ZoneSource::Place }
    } else {
        of_photographs(offset)
    };
    let note = ZoneNote::ZonesDiffer {
        zone: chosen.name.clone(),
        photographs_offset: offset_name(offset),
        place: name.to_owned(),
        place_offset: here.map(offset_name),
        reason,
    };
    remarks.push(note.into());
    chosen
}

/// How far the times written beside photographs are behind what the cameras that claim this offset
/// showed, seconds, ordinarily.
fn behind(records: &[Filed], photos: &[Photo], offset: Offset) -> Option<f64> {
    let file_names: &[String] = &photos.iter().map(Photo::name).collect::<Vec<_>>();
    let index = PhotoIndex::of(file_names);
    let mut differences: Vec<f64> = records
        .iter()
        .filter(|filed| filed.record.time_offset().is_none())
        .filter_map(|filed| {
            let written = filed.record.time?.clock;
            let of_find = |named| {
                let claimed = move |photo: &usize| names(named, &file_names[*photo]);
                index.candidates(named).filter(claimed)
            };
            let mut claimed: Vec<usize> = filed.record.photos.iter().flat_map(of_find).collect();
            claimed.sort_unstable();
            let shown = claimed.iter().map(|photo| &photos[*photo]);
            let taken =
                shown.filter(|photo| photo.offset == Some(offset)).find_map(|photo| photo.taken)?;
            let date = filed.record.date.unwrap_or(taken.date());
            let span = taken.duration_since(date.to_datetime(written));
            Some(span.as_secs_f64())
        })
        .collect();
    median(&mut differences)
}

/// Whether the notebook is nearer to a clock so many seconds behind the camera than to the camera;
/// `None` in between.
fn nearer(behind: f64, apart: f64) -> Option<bool> {
    /// Clocks and notes differ by some minutes anyway, seconds.
    const MINUTES: f64 = 600.0;
    let (to_place, to_camera) = ((behind - apart).abs(), behind.abs());
    ((to_place - to_camera).abs() > MINUTES).then_some(to_place < to_camera)
}

fn in_span(filed: &Filed, zone: &TimeZone, start: Timestamp, end: Timestamp) -> bool {
    let (Some(date), Some(time)) = (filed.record.date, filed.record.time) else { return false };
    if filed.record.time_offset().is_some() {
        return false;
    }
    let local = date.to_datetime(time.clock);
    zone.to_ambiguous_timestamp(local)
        .compatible()
        .is_ok_and(|instant| (start..=end).contains(&instant))
}

#[cfg(test)]
mod tests {
    use jiff::civil::{DateTime, date, time};

    use super::*;
    use crate::model::{
        Camera, FileKind, PhotoGps, PhotoRef, Record, SourceFile, TimePrecision, WrittenTime,
    };

    fn photo(name: &str, taken: DateTime, hours: i8) -> Photo {
        let source =
            SourceFile { path: name.into(), kind: FileKind::Photo, bytes: 1, hash: name.into() };
        Photo {
            source,
            camera: Camera::default(),
            taken: Some(taken),
            offset: Some(jiff::tz::offset(hours)),
            gps: PhotoGps::default(),
            remarks: Vec::new(),
            damaged: false,
        }
    }

    fn filed(photo: &str, hour: i8, minute: i8) -> Filed {
        let clock =
            WrittenTime { clock: time(hour, minute, 0, 0), precision: TimePrecision::Minute };
        let record = Record {
            date: Some(date(2026, 9, 13)),
            time: Some(clock),
            photos: vec![PhotoRef(photo.into())],
            ..Record::default()
        };
        Filed { record, source: 0, occurrence: super::super::written::Occurrence::default() }
    }

    /// The zone reported of a day in Japan by a camera that claims ten hours, its first photograph at
    /// ten past nine by its own clock.
    fn reported(records: &[Filed]) -> ZoneChoice {
        let photos = [photo("A1.JPG", date(2026, 9, 13).at(9, 10, 0, 0), 10)];
        let place = LatLon::new(43.05, 142.61).ok();
        let span =
            ("2026-09-12T21:00:00Z".parse().unwrap(), "2026-09-13T06:00:00Z".parse().unwrap());
        let mut remarks = Vec::new();
        let choice = choose(&Options::default(), &photos, records, place, Some(span), &mut remarks);
        assert_eq!(remarks.len(), 1);
        choice
    }

    #[test]
    fn notebook_an_hour_from_the_camera_uses_the_zone_of_the_place() {
        let choice = reported(&[filed("A1", 8, 12)]);
        assert_eq!((choice.name.as_str(), choice.source), ("Asia/Tokyo", ZoneSource::Place));
    }

    #[test]
    fn notebook_that_agrees_with_the_camera_uses_its_zone() {
        let choice = reported(&[filed("A1", 9, 12)]);
        assert_eq!((choice.name.as_str(), choice.source), ("+10:00", ZoneSource::Photograph));
        // without a time beside a photograph the zone of the photographs is used
        assert_eq!(reported(&[filed("B7", 8, 12)]).source, ZoneSource::Photograph);
        assert_eq!(reported(&[]).source, ZoneSource::Photograph);
    }
}
