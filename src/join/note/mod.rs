//! Generates the notes on a day: number gaps, missing fields, photographs without a record or without a
//! file, gaps in the track, receiver faults, unknown clock offsets. Layer: `join`.

mod faults;
mod numbers;

use std::collections::BTreeMap;

use jiff::civil::{Date, Time};

use crate::error::Error;
use crate::model::{
    Anchor, AnchorKind, Association, CameraClock, ClockChange, ClockMethod, ClockNote, Find,
    FindReference, JudgedFix, NoTrack, NumberRange, Outing, PhotoPositions, PlacedPhoto,
    RecordNote, SourceFile, TimesNote, TrackNote, Verdict,
};
use crate::units::{Seconds, Timestamp};

pub(super) use numbers::Numbers;

use super::conflict::at_record;
use super::day::{Scene, SetCamera, kept};
use super::outings::{Filed, Gathered};
use super::written::{self, Doubt, Occurrence};

pub(super) fn make(
    scene: &Scene,
    finds: &[Find],
    photos: &[PlacedPhoto],
    cameras: &[SetCamera],
    numbers: &Numbers,
    notebook_off: bool,
) -> Vec<Error> {
    let mut remarks = Vec::new();
    remarks.extend(cameras.iter().filter_map(|camera| clock(&camera.clock)).map(Error::from));
    remarks.extend(cameras.iter().filter_map(gps_against).map(Error::from));
    remarks.extend(super::times::remarks(scene, cameras, notebook_off));
    remarks.extend(shown_nowhere(scene).map(Error::from));
    remarks.extend(track(scene, finds).into_iter().map(Error::from));
    remarks.extend(faults::reported(scene, finds).into_iter().map(Error::from));
    remarks.extend(number_gaps(finds, numbers).into_iter().map(Error::from));
    remarks.extend(numbers.used_before(scene, finds).into_iter().map(Error::from));
    remarks.extend(date_of_outing(scene, finds));
    remarks.extend(missing_fields(scene, finds));
    remarks.extend(missing_photos(scene, finds));
    remarks.extend(unclaimed(photos, finds).map(Error::from));
    remarks.extend(
        finds
            .iter()
            .zip(&scene.gathered.records)
            .filter_map(|(find, filed)| clock_change(scene, find, filed)),
    );
    remarks
}

fn clock(clock: &CameraClock) -> Option<ClockNote> {
    let (camera, basis) = (clock.camera.clone(), clock.basis.clone());
    if clock.method == ClockMethod::Declined {
        return Some(ClockNote::ClockUnknown { camera, basis });
    }
    let zone = clock.zone_part.filter(|part| part.0.abs() >= 450.0)?;
    let (ahead, date) = (clock.ahead?, clock.date_ahead());
    let error = clock.error_part.unwrap_or_default();
    // a date is wrong by the hand that set it: no zone has a part in that
    let zone = zone - date;
    Some(ClockNote::ClockInAnotherZone { camera, ahead, date, zone, error, basis })
}

/// GPS times that cannot belong to the clock as it is set.
fn gps_against(camera: &SetCamera) -> Option<ClockNote> {
    let ((times, by_gps), ahead) = (camera.gps_against()?, camera.clock.ahead?);
    let (camera, basis) = (camera.clock.camera.clone(), camera.clock.basis.clone());
    Some(ClockNote::GpsTimesConflict { camera, times, by_gps, ahead, basis })
}

/// A photograph of a clock that is not among the photographs.
fn shown_nowhere(scene: &Scene) -> Option<ClockNote> {
    let super::CameraClockOption::Shown { photo, .. } = &scene.options.camera_clock else {
        return None;
    };
    let wanted = crate::model::PhotoRef(photo.clone());
    let found = scene.gathered.photos.iter().any(|p| written::names(&wanted, &p.name()));
    let photograph = photo.clone();
    (!found).then(|| ClockNote::ClockPhotographMissing { photograph, date: dated(scene) })
}

fn dated(scene: &Scene) -> Option<Date> {
    (scene.date != Outing::UNDATED).then_some(scene.date)
}

/// The note on an outing without a date.
pub(super) fn undated(gathered: &Gathered) -> Error {
    let files = gathered.sources.iter().map(SourceFile::name).collect();
    let instant = gathered.photos.iter().find_map(|photo| photo.gps.time);
    let records = gathered.records.iter().map(|filed| filed.record.origin()).collect();
    TrackNote::Undated { files, instant, records }.into()
}

fn track(scene: &Scene, finds: &[Find]) -> Vec<TrackNote> {
    let fixes = scene.estimated_track.fixes.len();
    if scene.track.is_empty() {
        let refused = scene.gathered.associations.iter().any(Association::is_refusal);
        let reason = match (fixes, refused) {
            (0, true) => NoTrack::NotAssociated,
            (0, false) => NoTrack::NoFile,
            _ => NoTrack::NoFixUsed,
        };
        let by_time = |anchor: &Anchor| {
            anchor.used && matches!(anchor.kind, AnchorKind::PhotoTime | AnchorKind::WrittenTime)
        };
        let serves = finds.iter().any(|find| find.anchors.iter().any(by_time));
        let photo_positions = scene.photo_track.filter(|_| serves).map(|photos| PhotoPositions {
            count: photos.positions,
            camera: photos.camera.clone(),
        });
        return vec![TrackNote::NoTrack { date: dated(scene), reason, fixes, photo_positions }];
    }
    let mut notes = Vec::new();
    let gaps: Vec<(Timestamp, f64)> = scene
        .track
        .windows(2)
        .filter(|pair| pair[0].gap_after)
        .map(|pair| (pair[0].time, Seconds::between(pair[0].time, pair[1].time).0))
        .collect();
    if let Some(longest) = gaps.iter().max_by(|a, b| a.1.total_cmp(&b.1)) {
        notes.push(TrackNote::Gaps {
            count: gaps.len(),
            total: Seconds(gaps.iter().map(|gap| gap.1).sum()),
            longest: Seconds(longest.1),
            from: local(scene, longest.0),
        });
    }
    let used = kept(scene.estimated_track);
    // repetitions of a position have a note of their own
    let frozen = |fix: &&JudgedFix| fix.verdict == Verdict::Frozen;
    let repeated = scene.estimated_track.fixes.iter().filter(frozen).count();
    if used * 2 < fixes - repeated {
        notes.push(TrackNote::FewFixesUsed { used, fixes });
    }
    notes
}

pub(super) fn local(scene: &Scene, instant: Timestamp) -> Time {
    instant.to_zoned_datetime(scene.gathered.zone.zone.clone()).time()
}

fn number_gaps(finds: &[Find], numbers: &Numbers) -> Vec<RecordNote> {
    let mut series: BTreeMap<&str, Vec<u64>> = BTreeMap::new();
    for number in finds.iter().filter_map(|find| find.record.number.as_ref()) {
        if let Some(ordinal) = number.ordinal() {
            series.entry(number.series()).or_default().push(ordinal);
        }
    }
    let mut remarks = Vec::new();
    for (name, mut ordinals) in series {
        // numbers of the other days of the import are not missing
        let (Some(&first), Some(&last)) = (ordinals.iter().min(), ordinals.iter().max()) else {
            continue;
        };
        ordinals.extend(numbers.within(name, first, last));
        ordinals.sort_unstable();
        ordinals.dedup();
        remarks.extend(odd_number(name, &ordinals));
        // more missing numbers than finds are a new series or a writing error
        let most = (2 * ordinals.len() as u64).clamp(10, 1_000);
        let missing: Vec<NumberRange> = ordinals
            .windows(2)
            .filter(|pair| pair[1] - pair[0] > 1 && pair[1] - pair[0] <= most)
            .map(|pair| range(name, pair[0] + 1, pair[1] - 1))
            .collect();
        if !missing.is_empty() {
            remarks.push(RecordNote::NumbersMissing { numbers: missing });
        }
    }
    remarks
}

/// A single number far above or below all others of its series.
fn odd_number(name: &str, ordinals: &[u64]) -> Option<RecordNote> {
    /// Fewer numbers are no series.
    const SERIES: usize = 3;
    let (first, rest) = ordinals.split_first()?;
    let (last, others) = ordinals.split_last()?;
    let far = |gap: u64| gap > (2 * ordinals.len() as u64).max(10);
    let (odd, series) = if others.len() >= SERIES && far(last - others[others.len() - 1]) {
        (last, others)
    } else if rest.len() >= SERIES && far(rest[0] - first) {
        (first, rest)
    } else {
        return None;
    };
    Some(RecordNote::NumberFarFromOthers {
        number: format!("{name}{odd}"),
        others: range(name, series[0], series[series.len() - 1]),
    })
}

fn range(series: &str, first: u64, last: u64) -> NumberRange {
    NumberRange { series: series.to_owned(), first, last }
}

/// Finds without a date in a file in which others have dates.
fn date_of_outing(scene: &Scene, finds: &[Find]) -> Option<Error> {
    let date = dated(scene)?;
    let is_dated = |find: &&Find| find.record.date.is_some();
    let mut files: Vec<usize> = finds.iter().filter(is_dated).map(|find| find.source).collect();
    files.dedup();
    let undated: Vec<&Find> = finds
        .iter()
        .filter(|find| find.record.date.is_none() && !find.record.has_unread_date())
        .filter(|find| find.record.date_readings.is_empty() && files.contains(&find.source))
        .collect();
    let named = undated.iter().map(|find| FindReference::of(&find.record)).collect();
    let first = undated.first()?;
    Some(at_record(scene, first, RecordNote::DateOfOuting { finds: named, date }))
}

fn missing_fields(scene: &Scene, finds: &[Find]) -> Vec<Error> {
    let blank = |field: &Option<String>| field.as_deref().is_none_or(|text| text.trim().is_empty());
    let lacks = |test: &dyn Fn(&Find) -> bool| -> Vec<&Find> {
        finds.iter().filter(|find| test(find)).collect()
    };
    let named =
        |finds: &[&Find]| finds.iter().map(|find| FindReference::of(&find.record)).collect();
    let unhosted = lacks(&|f| blank(&f.record.host) && blank(&f.record.substrate));
    let unnumbered = lacks(&|f| f.record.number.is_none());
    let host = unhosted
        .first()
        .map(|first| (*first, RecordNote::HostAndSubstrateMissing { finds: named(&unhosted) }));
    let number = unnumbered
        .first()
        .map(|first| (*first, RecordNote::NumberMissing { finds: named(&unnumbered) }));
    host.into_iter().chain(number).map(|(first, note)| at_record(scene, first, note)).collect()
}

fn missing_photos(scene: &Scene, finds: &[Find]) -> Vec<Error> {
    let named: usize = scene.claims.missing.iter().map(Vec::len).sum();
    if scene.gathered.photos.is_empty() && named > 0 {
        return vec![RecordNote::NoNamedPhotographs { named }.into()];
    }
    let lacking =
        finds.iter().zip(&scene.claims.missing).filter(|(_, missing)| !missing.is_empty());
    lacking
        .map(|(find, missing)| {
            let photographs = missing.iter().map(|named| named.0.clone()).collect();
            let named = FindReference::of(&find.record);
            at_record(scene, find, RecordNote::PhotographsMissing { find: named, photographs })
        })
        .collect()
}

fn unclaimed(photos: &[PlacedPhoto], finds: &[Find]) -> Option<RecordNote> {
    let photographs: Vec<String> = photos
        .iter()
        .filter(|photo| photo.finds.is_empty())
        .map(|photo| photo.photo.name())
        .collect();
    let (of, records) = (photos.len(), finds.len());
    (!photographs.is_empty()).then_some(RecordNote::PhotographsNotNamed {
        photographs,
        of,
        records,
    })
}

/// A written time that the change of clocks skips or repeats.
fn clock_change(scene: &Scene, find: &Find, filed: &Filed) -> Option<Error> {
    let change = match (scene.written(filed)?.doubtful?, filed.occurrence) {
        (Doubt::Skipped, _) => ClockChange::Skipped,
        (Doubt::Twice, Occurrence::Clear) => ClockChange::Twice,
        (Doubt::Twice, Occurrence::First) => ClockChange::FirstOfTwo,
        (Doubt::Twice, Occurrence::Second) => ClockChange::SecondOfTwo,
        (Doubt::Twice, Occurrence::Open) => ClockChange::EitherOfTwo,
    };
    let note = TimesNote::ChangeOfClocks {
        find: FindReference::of(&find.record),
        time: find.record.time?.clock,
        change,
        zone: scene.gathered.zone.name.clone(),
    };
    Some(at_record(scene, find, note))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Camera;

    #[test]
    fn one_odd_number_is_reported_and_not_the_gap_to_it() {
        let odd = |ordinals: &[u64]| match odd_number("K-", ordinals)? {
            RecordNote::NumberFarFromOthers { number, others } => {
                Some((number, others.first, others.last))
            }
            other => panic!("{other:?}"),
        };
        assert_eq!(odd(&[1, 2, 3, 4, 5, 101]), Some(("K-101".to_owned(), 1, 5)));
        assert_eq!(odd(&[1, 101, 102, 103, 104]), Some(("K-1".to_owned(), 101, 104)));
        assert_eq!(odd(&[1, 2, 3, 4, 5, 9]), None);
        assert_eq!(odd(&[1, 2, 101]), None);
        assert_eq!(odd(&[]), None);
    }

    #[test]
    fn a_wrong_date_is_no_part_of_the_zone() {
        let noted = |zone: f64| {
            let mut camera = CameraClock::unknown(Camera::default(), 1);
            camera.method = ClockMethod::Day;
            camera.ahead = Some(Seconds(zone + 53.0));
            camera.zone_part = Some(Seconds(zone));
            camera.error_part = Some(Seconds(53.0));
            match clock(&camera)? {
                ClockNote::ClockInAnotherZone { date, zone, error, .. } => {
                    Some((date.0, zone.0, error.0))
                }
                other => panic!("{other:?}"),
            }
        };
        assert_eq!(noted(3.0 * 86_400.0), Some((3.0 * 86_400.0, 0.0, 53.0)));
        assert_eq!(noted(-86_400.0 + 3_600.0), Some((-86_400.0, 3_600.0, 53.0)));
        assert_eq!(noted(3_600.0), Some((0.0, 3_600.0, 53.0)));
        assert_eq!(noted(0.0), None);
    }
}
