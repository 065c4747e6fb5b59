//! Detects conflicts within a day: two finds in one photograph, a number used twice, a find timed where
//! nobody stopped, numbers out of order with time, a place name far from its other finds, anchors that
//! disagree, coordinates with more than one possible reading, a date that is not the day's. Each has its
//! size and, where it can be computed, a p-value. Layer: `join`.

mod order_of_numbers;
mod place_names;

use std::collections::BTreeMap;

use crate::error::Error;
use crate::model::{
    AnchorKind, Conflict, ConflictKind, ConflictSize, CoordinateReading, Find, PlacedPhoto, Record,
    SourceFile, WrittenCoordinates,
};
use crate::units::{Metres, Seconds};

use super::day::Scene;
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

/// The name of a find in messages.
pub(super) fn name_of(record: &Record) -> String {
    if let Some(number) = &record.number {
        return format!("find {number}");
    }
    let row = if record.sheet.is_some() { "row" } else { "line" };
    format!("the find without a number on {row} {}", record.line)
}

/// A report at the record of a find.
pub(super) fn report(scene: &Scene, find: &Find, what: String) -> Error {
    Error::input(what)
        .in_file(&scene.gathered.sources[find.source].path)
        .at_line(find.record.line)
        .in_sheet(find.record.sheet_name())
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
        let radius = Metres(draft.radius_about(draft.point()));
        format!("{} ({}, within {radius})", kind_words(draft.kind), draft.basis)
    };
    let distance = Metres(disagreement.distance);
    let report = Error::input(format!("{}: two positions lie {distance} apart", name_of(record)))
        .because(format!(
            "{}; {}; {} if both were right",
            reported(first),
            reported(second),
            chance_words(disagreement.chance)
        ))
        .hint(format!(
            "the {} is used; check whether the other belongs to another find",
            kind_words(drafts[first].kind)
        ))
        .in_file(&file.path)
        .at_line(record.line)
        .in_sheet(record.sheet_name());
    Conflict {
        kind: ConflictKind::Anchors,
        size: ConflictSize::Distance(distance),
        chance: Some(disagreement.chance),
        finds: vec![index],
        report,
    }
}

fn kind_words(kind: AnchorKind) -> &'static str {
    match kind {
        AnchorKind::Correction => "corrected position",
        AnchorKind::Coordinates => "written position",
        AnchorKind::Waypoint => "waypoint",
        AnchorKind::PhotoPosition => "position in a photograph",
        AnchorKind::PhotoTime => "time of its photographs",
        AnchorKind::WrittenTime => "written time",
    }
}

/// `p = 0.0005`, at least `p < 0.000001`.
pub(super) fn chance_words(chance: f64) -> String {
    if chance < 1e-6 {
        return "p < 0.000001".into();
    }
    let figures = if chance < 0.001 { 6 } else { 3 };
    format!("p = {chance:.figures$}")
}

/// Coordinates that the track had to decide, or could not; nothing where they were clear.
pub(super) fn coordinates(
    index: usize,
    record: &Record,
    file: &SourceFile,
    written: &WrittenCoordinates,
    decided: &Decided,
) -> Option<Conflict> {
    let (distances, what, hint) = match decided {
        Decided::Clear(_) => return None,
        Decided::Chosen { reading, slip, distances } => (
            distances,
            format!(
                "{}: \"{}\" is read as {}{}",
                name_of(record),
                written.verbatim,
                reading.manner,
                if *slip { ", with a writing error corrected" } else { "" }
            ),
            "only that reading lies near the track; correct the record if another is meant",
        ),
        Decided::Refused(distances) => (
            distances,
            format!("{}: \"{}\" is not used", name_of(record), written.verbatim),
            "add the hemisphere letters, the datum or the grid to the record",
        ),
    };
    let near = distances.iter().filter_map(|(_, away)| *away).min_by(|a, b| a.0.total_cmp(&b.0));
    let report = Error::input(what)
        .because(distances.iter().map(reading_words).collect::<Vec<_>>().join("; "))
        .hint(hint)
        .in_file(&file.path)
        .at_line(record.line)
        .in_sheet(record.sheet_name());
    Some(Conflict {
        kind: ConflictKind::Coordinates,
        size: near.map_or(ConflictSize::Count(distances.len()), ConflictSize::Distance),
        chance: None,
        finds: vec![index],
        report,
    })
}

fn reading_words((reading, away): &(CoordinateReading, Option<Metres>)) -> String {
    let away = away.map_or_else(
        || "no track to compare it with".to_owned(),
        |away| format!("{away} from the track"),
    );
    format!("{} gives {}, {away}", reading.manner, reading.at)
}

fn shared_photos(scene: &Scene, finds: &[Find], photos: &[PlacedPhoto]) -> Vec<Conflict> {
    let shared = photos.iter().filter(|photo| photo.finds.len() > 1);
    shared
        .map(|photo| {
            let names: Vec<String> =
                photo.finds.iter().map(|&find| name_of(&finds[find].record)).collect();
            let first = &finds[photo.finds[0]];
            let what = format!("{} is claimed by {}", photo.photo.name(), names.join(" and "));
            Conflict {
                kind: ConflictKind::SharedPhoto,
                size: ConflictSize::Count(photo.finds.len()),
                chance: None,
                finds: photo.finds.clone(),
                report: report(scene, first, what)
                    .because("one photograph rarely shows two finds; both positions use it")
                    .hint("correct the photographs of one of them, unless both are shown in it"),
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
            let lines = lines(indices.iter().map(|&find| &finds[find].record));
            let first = &finds[indices[0]];
            let times = if indices.len() == 2 {
                "twice".into()
            } else {
                format!("{} times", indices.len())
            };
            let what = format!("{} is used {times}", number_words(&first.record));
            Conflict {
                kind: ConflictKind::RepeatedNumber,
                size: ConflictSize::Count(indices.len()),
                chance: None,
                report: report(scene, first, what)
                    .because(format!("it is on {lines}"))
                    .hint("give one of them a different number; a number identifies one find"),
                finds: indices,
            }
        })
        .collect()
}

/// The places of records: `lines 3 and 7`.
fn lines<'r>(records: impl Iterator<Item = &'r Record> + Clone) -> String {
    if records.clone().any(|record| record.sheet.is_some()) {
        let places: Vec<String> = records.map(Record::origin).collect();
        return places.join(" and ");
    }
    let lines: Vec<String> = records.map(|record| record.line.to_string()).collect();
    format!("lines {}", lines.join(" and "))
}

fn number_words(record: &Record) -> String {
    record.number.as_ref().map_or_else(String::new, |number| format!("the number {number}"))
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
        let what = format!("{} is dated {written}", name_of(&find.record));
        conflicts.push(Conflict {
            kind: ConflictKind::Date,
            size: ConflictSize::Time(Seconds(f64::from(days.abs()) * 86_400.0)),
            chance: None,
            finds: vec![index],
            report: report(scene, find, what)
                .because(format!(
                    "its photographs or its file belong to the outing of {}",
                    scene.date
                ))
                .hint("correct the date, or import it with the track of its own day"),
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
        let away = nearest.map_or_else(
            || "no stop within half an hour".to_owned(),
            |away| format!("the nearest stop is {} away", Seconds(away)),
        );
        let what = format!("{} is timed where the collector did not stop", name_of(&find.record));
        conflicts.push(Conflict {
            kind: ConflictKind::OutsideStops,
            size: ConflictSize::Time(Seconds(nearest.unwrap_or(1_800.0))),
            chance: Some(chance),
            finds: vec![index],
            report: report(scene, find, what)
                .because(format!("the track has no stop at that time; {away}"))
                .hint("check whether its photographs or its time belong to another find"),
        });
    }
    conflicts
}
