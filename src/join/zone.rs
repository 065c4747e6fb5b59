//! In which zone are the day's local times? What was stated, else what the photographs claim, else
//! where the track is, else UTC; and it says which. Layer: `join`.

use std::collections::BTreeMap;

use jiff::tz::Offset;

use crate::earth;
use crate::error::Error;
use crate::model::{Photo, ZoneChoice, ZoneSource};
use crate::units::{LatLon, TimeZone, Timestamp};

use super::Options;
use super::outings::Filed;

/// Chooses the zone of an outing, with a remark where the witnesses differ.
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
        remarks.extend(far_from_place(stated, by_place.as_ref(), span));
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

/// A remark on a stated zone whose clocks are hours from those of the place.
fn far_from_place(
    stated: &ZoneChoice,
    by_place: Option<&(String, TimeZone)>,
    span: Option<(Timestamp, Timestamp)>,
) -> Option<Error> {
    const HOURS: i32 = 7_200;
    let ((name, zone), instant) = (by_place?, span?.0);
    let (here, there) = (zone.to_offset(instant), stated.zone.to_offset(instant));
    ((here.seconds() - there.seconds()).abs() >= HOURS).then(|| {
        Error::input(format!("local times are read in {}, as stated", stated.name))
            .because(format!(
                "where the track is ({name}) clocks show {}, the stated zone is at {}",
                offset_name(here),
                offset_name(there)
            ))
            .hint("leave --zone out if the notebook was kept by the clocks of the place")
    })
}

/// The offset that most photographs claim.
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
    let place_fits_better = fits(zone) > fits(&fixed);
    let (chosen, reason) = if place_fits_better {
        (
            ZoneChoice { zone: zone.clone(), name: name.to_owned(), source: ZoneSource::Place },
            "the written times lie within the track only in the zone of the place",
        )
    } else {
        (of_photographs(offset), "the photographs are believed before the place")
    };
    let local = here.map_or_else(|| "another".to_owned(), offset_name);
    remarks.push(
        Error::input(format!("local times are read in {}", chosen.name))
            .because(format!(
                "the photographs claim {}, where the track is ({name}) clocks show {local}; {reason}",
                offset_name(offset)
            ))
            .hint("say which with --zone if that is wrong"),
    );
    chosen
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
