//! Detects conflicts within a day: two finds in one photograph, a number used twice, a find timed where
//! nobody stopped, numbers out of order with time, a place name far from its other finds, anchors that
//! disagree, coordinates with more than one possible reading, a date that is not the day's. Each has its
//! size and, where it can be computed, a p-value. Layer: `join`.

mod order_of_numbers;
mod place_names;

use std::collections::BTreeMap;

use crate::error::Error;
use crate::model::{
    Conflict, ConflictKind, ConflictSize, ConflictingPosition, CoordinateReading, CoordinatesApart,
    Find, FindReference, PlacedPhoto, PositionConflict, ReadingFinding, Record, RecordConflict,
    SourceFile, WrittenCoordinates,
};
use crate::units::{Metres, Seconds};

use super::day::{Apart, Scene};
use super::locate::{Decided, Disagreement, Draft};

/// All conflicts between the finds of a day.
pub(super) fn find(scene: &Scene, finds: &[Find], photos: &[PlacedPhoto]) -> Vec<Conflict> {
    let mut conflicts = shared_photos(scene, finds, photos);
    conflicts.extend(repeated_numbers(scene, finds));
    conflicts.extend(dates(scene, finds));
    conflicts.extend(without_stop(scene, finds));
    conflicts.extend(order_of_numbers::find(scene, finds));
    conflicts.extend(place_names::find(scene, finds));
    conflicts
}

/// Sorts by severity: those that change a position first, by size.
pub(super) fn order(conflicts: &mut [Conflict]) {
    let rank = |conflict: &Conflict| match conflict.kind {
        ConflictKind::Coordinates => 0,
        ConflictKind::Anchors => 1,
        ConflictKind::RepeatedNumber => 2,
        ConflictKind::SharedPhoto => 3,
        ConflictKind::Date => 4,
        ConflictKind::OutsideStops => 5,
        ConflictKind::NumberOrder => 6,
        ConflictKind::PlaceName => 7,
    };
    let size = |conflict: &Conflict| match conflict.size {
        ConflictSize::Distance(Metres(size)) | ConflictSize::Time(Seconds(size)) => size,
        ConflictSize::Count(count) => count as f64,
    };
    conflicts.sort_by(|a, b| {
        rank(a).cmp(&rank(b)).then(size(b).total_cmp(&size(a))).then(a.finds.cmp(&b.finds))
    });
}

/// A finding at the record of a find.
pub(super) fn at_record(scene: &Scene, find: &Find, finding: impl Into<Error>) -> Error {
    at(&scene.gathered.sources[find.source], &find.record, finding)
}

/// A finding at a record of a file.
pub(super) fn at(file: &SourceFile, record: &Record, finding: impl Into<Error>) -> Error {
    finding.into().in_file(&file.path).at_line(record.line).in_sheet(record.sheet_name())
}

/// Two anchors of one find that cannot both be right.
pub(super) fn anchors(
    index: usize,
    record: &Record,
    file: &SourceFile,
    drafts: &[Draft],
    disagreement: &Disagreement,
) -> Conflict {
    let (first, second) = disagreement.between;
    let reported = |k: usize| {
        let draft = &drafts[k];
        ConflictingPosition {
            kind: draft.kind,
            radius: Metres(draft.radius_about(draft.point())),
            basis: draft.basis.clone(),
        }
    };
    let distance = Metres(disagreement.distance);
    let finding = PositionConflict::PositionsApart {
        find: FindReference::of(record),
        apart: distance,
        used: reported(first),
        other: reported(second),
        chance: disagreement.chance,
    };
    let report = at(file, record, finding);
    Conflict {
        kind: ConflictKind::Anchors,
        size: ConflictSize::Distance(distance),
        chance: Some(disagreement.chance),
        finds: vec![index],
        report,
    }
}

/// Coordinates that the track had to decide, or could not; nothing where they were clear.
pub(super) fn coordinates(
    index: usize,
    record: &Record,
    file: &SourceFile,
    written: &WrittenCoordinates,
    decided: &Decided,
) -> Option<Conflict> {
    let (find, verbatim) = (FindReference::of(record), written.verbatim.clone());
    let (distances, finding) = match decided {
        Decided::Clear(_) => return None,
        Decided::Chosen { reading, slip, distances } => {
            let (manner, readings) = (reading.manner.clone(), readings(distances));
            let slip = *slip;
            (distances, PositionConflict::ReadingChosen { find, verbatim, manner, slip, readings })
        }
        Decided::Refused(distances) => {
            let readings = readings(distances);
            (distances, PositionConflict::ReadingOpen { find, verbatim, readings })
        }
    };
    let near = distances.iter().filter_map(|(_, away)| *away).min_by(|a, b| a.0.total_cmp(&b.0));
    let report = at(file, record, finding);
    Some(Conflict {
        kind: ConflictKind::Coordinates,
        size: near.map_or(ConflictSize::Count(distances.len()), ConflictSize::Distance),
        chance: None,
        finds: vec![index],
        report,
    })
}

/// Coordinates that do not fit those of another find of their date.
pub(super) fn coordinates_apart(
    index: usize,
    record: &Record,
    file: &SourceFile,
    from: &Record,
    apart: &Apart,
) -> Conflict {
    let written = record.coordinates.as_ref();
    let finding = PositionConflict::CoordinatesApart(CoordinatesApart {
        find: FindReference::of(record),
        verbatim: written.map_or_else(String::new, |written| written.verbatim.clone()),
        from: FindReference::of(from),
        away: apart.away,
        within: apart.within,
        fits: apart.fits.clone(),
        outnumbered: apart.outnumbered,
        used: apart.used,
    });
    Conflict {
        kind: ConflictKind::Coordinates,
        size: ConflictSize::Distance(apart.away),
        chance: None,
        finds: vec![index],
        report: at(file, record, finding),
    }
}

fn readings(distances: &[(CoordinateReading, Option<Metres>)]) -> Vec<ReadingFinding> {
    let reading = |(reading, from_track): &(CoordinateReading, Option<Metres>)| ReadingFinding {
        manner: reading.manner.clone(),
        at: reading.at,
        from_track: *from_track,
    };
    distances.iter().map(reading).collect()
}

fn shared_photos(scene: &Scene, finds: &[Find], photos: &[PlacedPhoto]) -> Vec<Conflict> {
    let shared = photos.iter().filter(|photo| photo.finds.len() > 1);
    shared
        .map(|photo| {
            let named = |&find: &usize| FindReference::of(&finds[find].record);
            let finding = RecordConflict::PhotographShared {
                photograph: photo.photo.name(),
                finds: photo.finds.iter().map(named).collect(),
            };
            Conflict {
                kind: ConflictKind::SharedPhoto,
                size: ConflictSize::Count(photo.finds.len()),
                chance: None,
                finds: photo.finds.clone(),
                report: at_record(scene, &finds[photo.finds[0]], finding),
            }
        })
        .collect()
}

fn repeated_numbers(scene: &Scene, finds: &[Find]) -> Vec<Conflict> {
    let mut by_number: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (index, find) in finds.iter().enumerate() {
        if let Some(number) = &find.record.number {
            let series: String = number.series().chars().filter(|c| c.is_alphanumeric()).collect();
            let ordinal = number.ordinal().map_or_else(|| number.0.clone(), |n| n.to_string());
            by_number
                .entry(format!("{} {ordinal}", series.to_lowercase()))
                .or_default()
                .push(index);
        }
    }
    let repeated = by_number.into_values().filter(|finds| finds.len() > 1);
    repeated
        .map(|indices| {
            let first = &finds[indices[0]];
            let (places, lines) = places(indices.iter().map(|&find| &finds[find].record));
            let finding = RecordConflict::NumberRepeated {
                number: first.record.number.as_ref().map(ToString::to_string).unwrap_or_default(),
                times: indices.len(),
                places,
                lines,
            };
            Conflict {
                kind: ConflictKind::RepeatedNumber,
                size: ConflictSize::Count(indices.len()),
                chance: None,
                report: at_record(scene, first, finding),
                finds: indices,
            }
        })
        .collect()
}

/// The places of records, and whether these are lines.
fn places<'r>(records: impl Iterator<Item = &'r Record> + Clone) -> (Vec<String>, bool) {
    if records.clone().any(|record| record.sheet.is_some()) {
        return (records.map(Record::origin).collect(), false);
    }
    (records.map(|record| record.line.to_string()).collect(), true)
}

fn dates(scene: &Scene, finds: &[Find]) -> Vec<Conflict> {
    let mut conflicts = Vec::new();
    for (index, find) in finds.iter().enumerate() {
        let Some(written) = find.record.date else { continue };
        let days = scene.date.until(written).map_or(0, |span| span.get_days());
        // a night outing has two dates, a longer one more
        let last = scene.span.map_or(scene.date, |(_, end)| {
            end.to_zoned_datetime(scene.gathered.zone.zone.clone()).date()
        });
        if (scene.date..=last).contains(&written) {
            continue;
        }
        let named = FindReference::of(&find.record);
        let finding = RecordConflict::OtherDate { find: named, written, outing: scene.date };
        conflicts.push(Conflict {
            kind: ConflictKind::Date,
            size: ConflictSize::Time(Seconds(f64::from(days.abs()) * 86_400.0)),
            chance: None,
            finds: vec![index],
            report: at_record(scene, find, finding),
        });
    }
    conflicts
}

/// How far in time the nearest stand is, up to half an hour, in steps of 15 s.
fn nearest_stop(scene: &Scene, time: f64) -> Option<f64> {
    let stopped =
        |time: f64| scene.estimated_track.activities.stationary(time).is_some_and(|p| p > 0.5);
    let away =
        (0..=1_800).map(f64::from).find(|away| stopped(time + away) || stopped(time - away))?;
    Some(((away / 15.0).ceil() * 15.0).max(15.0))
}

/// Finds whose time falls where the collector went by without stopping.
fn without_stop(scene: &Scene, finds: &[Find]) -> Vec<Conflict> {
    /// The share of finds that belong to a time of certain walking (common practice).
    const RARE: f64 = 0.04;
    let mut conflicts = Vec::new();
    for (index, find) in finds.iter().enumerate() {
        let Some((when, half)) = find.when else { continue };
        // what is known to minutes only always finds a stop
        if half.0 > 60.0 {
            continue;
        }
        let time = scene.estimated_track.origin.seconds(when);
        let around = |reach: f64| {
            let reach = reach.round();
            let mut most: Option<f64> = None;
            let mut at = -reach;
            while at <= reach {
                let stopped = scene.estimated_track.activities.stationary(time + at);
                most = most.map_or(stopped, |m| Some(stopped.map_or(m, |p| p.max(m))));
                at += 1.0;
            }
            most
        };
        let Some(chance) = around(half.0.max(8.0)).filter(|chance| *chance < RARE) else {
            continue;
        };
        let nearest = nearest_stop(scene, time);
        let named = FindReference::of(&find.record);
        let finding = RecordConflict::NoStop { find: named, nearest: nearest.map(Seconds) };
        conflicts.push(Conflict {
            kind: ConflictKind::OutsideStops,
            size: ConflictSize::Time(Seconds(nearest.unwrap_or(1_800.0))),
            chance: Some(chance),
            finds: vec![index],
            report: at_record(scene, find, finding),
        });
    }
    conflicts
}
