//! Generates the notes on a day: number gaps, missing fields, photographs without a record or without a
//! file, gaps in the track, receiver faults, unknown clock offsets. Layer: `join`.

mod faults;
mod numbers;

use std::collections::BTreeMap;

use crate::error::Error;
use crate::model::{Association, CameraClock, ClockMethod, Find, Outing, PlacedPhoto, SourceFile};
use crate::units::{Seconds, Timestamp};

pub(super) use numbers::Numbers;

use super::conflict::{name_of, report};
use super::day::{Scene, SetCamera, kept};
use super::outings::Gathered;
use super::written::{self, Doubt};

/// The number of names shown of a long list.
const SHOWN: usize = 6;

pub(super) fn make(
    scene: &Scene,
    finds: &[Find],
    photos: &[PlacedPhoto],
    cameras: &[SetCamera],
    numbers: &Numbers,
    notebook_off: bool,
) -> Vec<Error> {
    let mut remarks = Vec::new();
    remarks.extend(cameras.iter().filter_map(|camera| clock(&camera.clock)));
    remarks.extend(cameras.iter().filter_map(gps_against));
    remarks.extend(super::times::remarks(scene, cameras, notebook_off));
    remarks.extend(shown_nowhere(scene));
    remarks.extend(track(scene));
    remarks.extend(faults::reported(scene, finds));
    remarks.extend(number_gaps(finds, numbers));
    remarks.extend(numbers.used_before(scene, finds));
    remarks.extend(missing_fields(scene, finds));
    remarks.extend(missing_photos(scene, finds));
    remarks.extend(unclaimed(photos, finds));
    remarks.extend(finds.iter().filter_map(|find| clock_change(scene, find)));
    remarks
}

fn clock(clock: &CameraClock) -> Option<Error> {
    if clock.method == ClockMethod::Declined {
        return Some(
            Error::input(format!("the clock offset of {} is unknown", clock.camera))
                .because(clock.basis.clone())
                .hint("set --camera-clock, or name a photograph of a clock"),
        );
    }
    let zone = clock.zone_part.filter(|part| part.0.abs() >= 450.0)?;
    let ahead = clock.ahead?;
    let error = clock.error_part.unwrap_or_default();
    let what = match clock.wrong_date() {
        Some(date) => format!("{}: {date}", clock.camera),
        None => format!("{} is {} the local time", clock.camera, beside(ahead)),
    };
    // a date is wrong by the hand that set it: no zone has a part in that
    let zone = zone - clock.date_ahead();
    let parts = match (clock.wrong_date(), zone.0.abs() >= 450.0) {
        (Some(_), false) => format!("apart from that it is {} the local time", beside(error)),
        (Some(_), true) => {
            format!("zone or summer time accounts for {zone}, clock error for {error}")
        }
        (None, _) => {
            format!("zone or summer time accounts for {zone} of it, clock error for {error}")
        }
    };
    Some(
        Error::input(what)
            .because(format!("{parts}; estimated from {}", clock.basis))
            .hint("the corrected time is used; set the camera clock before the next outing"),
    )
}

/// GPS times that cannot belong to the clock as it is set.
fn gps_against(camera: &SetCamera) -> Option<Error> {
    let ((count, named), ahead) = (camera.gps_against()?, camera.clock.ahead?);
    let times = if count == 1 { "GPS time".to_owned() } else { format!("{count} GPS times") };
    Some(
        Error::input(format!("{}: GPS times and camera clock conflict", camera.clock.camera))
            .because(format!(
                "by the {times} in its photographs it is {} the local time; the estimate used is {} it, from {}",
                beside(named),
                beside(ahead),
                camera.clock.basis
            ))
            .hint("set --camera-clock, or name a photograph of a clock"),
    )
}

/// `1 min 12 s behind`.
fn beside(ahead: Seconds) -> String {
    if ahead.0 < 0.0 { format!("{} behind", -ahead) } else { format!("{ahead} ahead of") }
}

/// A photograph of a clock that is not among the photographs.
fn shown_nowhere(scene: &Scene) -> Option<Error> {
    let super::CameraClockOption::Shown { photo, .. } = &scene.options.camera_clock else {
        return None;
    };
    let wanted = crate::model::PhotoRef(photo.clone());
    let found = scene.gathered.photos.iter().any(|p| written::names(&wanted, &p.name()));
    (!found).then(|| {
        Error::input(format!("{photo} is not among the photographs of {}", day_of(scene)))
            .because("its time is needed to set the camera clock")
            .hint("check the name after --camera-clock")
    })
}

fn day_of(scene: &Scene) -> String {
    match scene.date {
        Outing::UNDATED => "no known date".to_owned(),
        date => date.to_string(),
    }
}

/// The note on an outing without a date.
pub(super) fn undated(gathered: &Gathered) -> Error {
    let names: Vec<String> = gathered.sources.iter().map(SourceFile::name).collect();
    Error::input(format!("the date of {} cannot be determined", listed(&names)))
        .because("no fix, photograph or record in it has a date")
        .hint("add the date to the notebook; an undated outing is shown but not stored")
}

fn track(scene: &Scene) -> Vec<Error> {
    let mut remarks = Vec::new();
    if scene.track.is_empty() {
        let fixes = scene.estimated_track.fixes.len();
        let refused = scene.gathered.associations.iter().any(Association::is_refusal);
        let why = if fixes == 0 && refused {
            "no track is certainly that of its finds".to_owned()
        } else if fixes == 0 {
            "no file holds a track of that day".to_owned()
        } else {
            format!("none of its {fixes} fixes can be used")
        };
        remarks.push(
            Error::input(format!("the outing of {} has no track", day_of(scene)))
                .because(why)
                .hint("only coordinates and waypoints give positions"),
        );
        return remarks;
    }
    let gaps: Vec<(Timestamp, f64)> = scene
        .track
        .windows(2)
        .filter(|pair| pair[0].gap_after)
        .map(|pair| (pair[0].time, Seconds::between(pair[0].time, pair[1].time).0))
        .collect();
    if let Some(longest) = gaps.iter().max_by(|a, b| a.1.total_cmp(&b.1)) {
        let all: f64 = gaps.iter().map(|gap| gap.1).sum();
        remarks.push(
            Error::input(gaps_text(gaps.len(), all, longest.1, &local(scene, longest.0)))
                .because("without fixes a position rests on interpolation")
                .hint("add coordinates or a waypoint to finds within a gap: their radius is large"),
        );
    }
    let (fixes, kept) = (scene.estimated_track.fixes.len(), kept(scene.estimated_track));
    if kept * 2 < fixes {
        remarks.push(
            Error::input(format!("only {kept} of {fixes} fixes are used"))
                .because(
                    "the others conflict with each other, with their times or with walking speed",
                )
                .hint("see the reasons; poor reception or a damaged receiver is possible"),
        );
    }
    remarks
}

/// `1 gap in the track: 14 min 30 s from 10:37`.
fn gaps_text(count: usize, all: f64, longest: f64, from: &str) -> String {
    let (all, longest) = (Seconds(all), Seconds(longest));
    if count == 1 {
        return format!("1 gap in the track: {longest} from {from}");
    }
    format!("{count} gaps in the track: {all} in total, the longest {longest} from {from}")
}

fn times(count: usize) -> String {
    match count {
        1 => "once".into(),
        2 => "twice".into(),
        n => format!("{n} times"),
    }
}

pub(super) fn local(scene: &Scene, instant: Timestamp) -> String {
    let zoned = instant.to_zoned_datetime(scene.gathered.zone.zone.clone());
    zoned.strftime("%H:%M:%S").to_string()
}

fn number_gaps(finds: &[Find], numbers: &Numbers) -> Vec<Error> {
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
        let gaps: Vec<String> = ordinals
            .windows(2)
            .filter(|pair| pair[1] - pair[0] > 1 && pair[1] - pair[0] <= most)
            .map(|pair| match pair[1] - pair[0] {
                2 => format!("{name}{}", pair[0] + 1),
                _ => format!("{name}{} to {name}{}", pair[0] + 1, pair[1] - 1),
            })
            .collect();
        if !gaps.is_empty() {
            remarks.push(
                Error::input(format!("numbers are missing: {}", listed(&gaps)))
                    .because("numbers of one day are usually consecutive")
                    .hint("check whether a label was lost or a number was skipped"),
            );
        }
    }
    remarks
}

/// A single number far above or below all others of its series.
fn odd_number(name: &str, ordinals: &[u64]) -> Option<Error> {
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
    let range = format!("{name}{} to {name}{}", series[0], series[series.len() - 1]);
    Some(
        Error::input(format!("the number {name}{odd} is far from the others, {range}"))
            .because("numbers of one day are usually consecutive")
            .hint("check whether it is a writing error"),
    )
}

/// The first few of a list.
pub(super) fn listed(names: &[String]) -> String {
    let shown = names[..names.len().min(SHOWN)].join(", ");
    match names.len().checked_sub(SHOWN) {
        Some(rest) if rest > 0 => format!("{shown} and {rest} more"),
        _ => shown,
    }
}

fn missing_fields(scene: &Scene, finds: &[Find]) -> Vec<Error> {
    let blank = |field: &Option<String>| field.as_deref().is_none_or(|text| text.trim().is_empty());
    let lacks = |test: &dyn Fn(&Find) -> bool| -> Vec<usize> {
        (0..finds.len()).filter(|&k| test(&finds[k])).collect()
    };
    let kinds = [
        (
            "neither host nor substrate",
            lacks(&|f| blank(&f.record.host) && blank(&f.record.substrate)),
            "host and substrate cannot be determined later",
        ),
        (
            "no number",
            lacks(&|f| f.record.number.is_none()),
            "labels and deposits identify a find by its number",
        ),
    ];
    let mut remarks = Vec::new();
    for (what, indices, why) in kinds {
        let Some(&first) = indices.first() else { continue };
        let names: Vec<String> = indices.iter().map(|&k| name_of(&finds[k].record)).collect();
        let verb = if names.len() == 1 { "has" } else { "have" };
        remarks.push(
            report(scene, &finds[first], format!("{} {verb} {what}", listed(&names)))
                .because(why)
                .hint("fill it in while you remember it"),
        );
    }
    remarks
}

fn missing_photos(scene: &Scene, finds: &[Find]) -> Vec<Error> {
    let named: usize = scene.claims.missing.iter().map(Vec::len).sum();
    if scene.gathered.photos.is_empty() && named > 0 {
        let what = format!("none of the {named} photographs named in the records was found");
        return vec![
            Error::input(what)
                .because("no photograph of that outing was read")
                .hint("add their folder; their times give positions"),
        ];
    }
    let lacking =
        finds.iter().zip(&scene.claims.missing).filter(|(_, missing)| !missing.is_empty());
    lacking
        .map(|(find, missing)| {
            let names: Vec<String> = missing.iter().map(|named| named.0.clone()).collect();
            report(scene, find, format!("{} names {}", name_of(&find.record), listed(&names)))
                .because("the outing has no photograph of that name")
                .hint("check the spelling, or add the photograph to the folder")
        })
        .collect()
}

fn unclaimed(photos: &[PlacedPhoto], finds: &[Find]) -> Option<Error> {
    let names: Vec<String> = photos
        .iter()
        .filter(|photo| photo.finds.is_empty())
        .map(|photo| photo.photo.name())
        .collect();
    if names.is_empty() {
        return None;
    }
    if names.len() == photos.len() {
        let what = match names.as_slice() {
            [only] => format!("no record names the only photograph, {only}"),
            all => format!("no record names any of the {} photographs", all.len()),
        };
        let (why, hint) = if finds.is_empty() {
            ("no records were read", "add the notebook to the import")
        } else {
            (
                "the records name none of them",
                "write the numbers of the photographs into the records",
            )
        };
        return Some(Error::input(what).because(why).hint(hint));
    }
    Some(
        Error::input(format!("no record names {}", listed(&names)))
            .because(format!("{} of {} photographs", names.len(), photos.len()))
            .hint("check whether they show a find without a record"),
    )
}

/// A written time that the change of clocks skips or repeats.
fn clock_change(scene: &Scene, find: &Find) -> Option<Error> {
    let zone = &scene.gathered.zone.zone;
    let read = written::instant(&find.record, scene.date, zone, scene.span)?;
    let (why, choice) = match read.doubtful? {
        Doubt::Skipped => {
            ("clocks were put forward past that time", "it is read in the time before the change")
        }
        Doubt::Twice => (
            "clocks were put back, so that time occurred twice",
            "the occurrence within the track is used, else the first",
        ),
    };
    let time = find.record.time?.clock;
    Some(
        report(
            scene,
            find,
            format!("{} is timed {}", name_of(&find.record), time.strftime("%H:%M")),
        )
        .because(format!("{why} in {}; {choice}", scene.gathered.zone.name))
        .hint("add the time in UTC on such days"),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Camera;

    #[test]
    fn gaps_are_reported_with_duration_and_time() {
        assert_eq!(
            gaps_text(1, 870.0, 870.0, "10:37:00"),
            "1 gap in the track: 14 min 30 s from 10:37:00"
        );
        let two = gaps_text(2, 900.0, 600.0, "10:37:00");
        assert!(two.starts_with("2 gaps in the track: 15 min 00 s in total"), "{two}");
        assert!(two.ends_with("the longest 10 min 00 s from 10:37:00"), "{two}");
    }

    #[test]
    fn one_odd_number_is_reported_and_not_the_gap_to_it() {
        let said = |ordinals: &[u64]| odd_number("K-", ordinals).map(|error| error.to_string());
        let odd = said(&[1, 2, 3, 4, 5, 101]).unwrap();
        assert!(odd.contains("the number K-101 is far from the others, K-1 to K-5"), "{odd}");
        assert!(said(&[1, 101, 102, 103, 104]).unwrap().contains("K-1 is far"));
        assert_eq!(said(&[1, 2, 3, 4, 5, 9]), None);
        assert_eq!(said(&[1, 2, 101]), None);
        assert_eq!(said(&[]), None);
    }

    #[test]
    fn wrong_date_is_not_reported_as_a_zone() {
        let said = |zone: f64| {
            let mut camera = CameraClock::unknown(Camera::default(), 1);
            camera.method = ClockMethod::Day;
            camera.ahead = Some(Seconds(zone + 53.0));
            camera.zone_part = Some(Seconds(zone));
            camera.error_part = Some(Seconds(53.0));
            camera.basis = "the day".to_owned();
            clock(&camera).map_or_else(String::new, |error| error.to_string())
        };
        let days = said(3.0 * 86_400.0);
        assert!(days.contains("the date is 3 days ahead"), "{days}");
        assert!(
            days.contains("apart from that it is 53 s ahead of the local time; estimated"),
            "{days}"
        );
        let both = said(-86_400.0 + 3_600.0);
        assert!(both.contains("the date is 1 day behind"), "{both}");
        assert!(both.contains("zone or summer time accounts for 1 h 00 min, clock error for 53 s"));
        let zone = said(3_600.0);
        assert!(zone.contains("is 1 h 01 min ahead of the local time"), "{zone}");
        assert!(zone.contains("zone or summer time accounts for 1 h 00 min of it"), "{zone}");
        assert_eq!(said(0.0), "");
    }
}
