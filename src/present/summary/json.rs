//! Writes the summary of an import as one JSON object. Property names follow Darwin Core where it has a
//! term; others state their unit. Layer: `present`.

use serde_json::{Map, Value, json};

use super::passed_over_json;
use super::words::{anchor, fate, fates};
use crate::error::Error;
use crate::model::{
    AnchorKind, Association, CameraClock, Conflict, ConflictSize, Day, Find, IgnoredFile, Located,
    PhotoGroup, Verdict,
};
use crate::present::derived_time;
use crate::units::Seconds;

/// The summary of an import of these days, with the files that were set aside and those
/// that were ignored, each with its cause.
#[must_use]
pub fn object(days: &[Day], set_aside: &[Error], passed_over: &[IgnoredFile]) -> Value {
    let all = |part: fn(&Day) -> Vec<Value>| -> Vec<Value> { days.iter().flat_map(part).collect() };
    let aside: Vec<Value> = set_aside.iter().map(report).chain(all(set_aside_of)).collect();
    json!({
        "outings": days.iter().map(outing).collect::<Vec<_>>(),
        "fixes": fixes(days),
        "cameras": all(|day| day.cameras.iter().map(|clock| camera(day, clock)).collect()),
        "finds": all(|day| day.finds.iter().map(|one| find(day, one)).collect()),
        "photo_groups": all(|day| day.photo_groups.iter().map(|one| photo_group(day, one)).collect()),
        "associations": all(|day| day.associations.iter().map(|one| association(day, one)).collect()),
        "conflicts": all(|day| day.conflicts.iter().map(|one| conflict(day, one)).collect()),
        "set_aside": aside,
        "passed_over": passed_over_json(passed_over),
        "remarks": all(|day| day.remarks.iter().map(report).collect()),
    })
}

fn outing(day: &Day) -> Value {
    let outing = &day.outing;
    json!({
        "id": outing.id.to_string(),
        "eventDate": outing.dated().map(|date| date.to_string()),
        "start": outing.start.map(|instant| instant.to_string()),
        "end": outing.end.map(|instant| instant.to_string()),
        "zone": outing.zone.name,
        "zone_source": outing.zone.source,
        "recordedBy": outing.collector,
        "stops": day.stops.len(),
    })
}

fn fixes(days: &[Day]) -> Value {
    let mut reasons: Map<String, Value> = Map::new();
    for (reason, number) in days.iter().flat_map(fates) {
        let sum = reasons.get(reason).and_then(Value::as_u64).unwrap_or(0) + number as u64;
        reasons.insert(reason.to_owned(), sum.into());
    }
    let read: usize = days.iter().map(|day| day.fixes.len()).sum();
    let kept = |day: &Day| day.fixes.iter().filter(|fix| fix.verdict == Verdict::Kept).count();
    let kept: usize = days.iter().map(kept).sum();
    debug_assert_eq!(fate(Verdict::Kept), "kept");
    json!({ "read": read, "kept": kept, "set_aside": read - kept, "reasons": reasons })
}

fn camera(day: &Day, clock: &CameraClock) -> Value {
    let seconds = |span: Option<Seconds>| span.map(|span| rounded(span.0, 10.0));
    json!({
        "camera": clock.camera.to_string(),
        "outing": day.outing.id.to_string(),
        "photographs": clock.photos,
        "offset_s": seconds(clock.ahead),
        "offset_low95_s": seconds(clock.interval95.map(|(low, _)| low)),
        "offset_high95_s": seconds(clock.interval95.map(|(_, high)| high)),
        "method": clock.method,
        "zone_part_s": seconds(clock.zone_part),
        "error_part_s": seconds(clock.error_part),
        "drift_s_per_day": clock.drift_per_day.map(|drift| rounded(drift.0, 1000.0)),
        "alternatives": clock.alternatives.iter().map(|alternative| json!({
            "offset_s": rounded(alternative.ahead.0, 10.0),
            "probability": rounded(alternative.probability, 1e6),
        })).collect::<Vec<_>>(),
        "basis": clock.basis.to_string(),
        "evidence": clock.basis,
    })
}

fn photo_group(day: &Day, group: &PhotoGroup) -> Value {
    let mut value = json!({
        "outing": day.outing.id.to_string(),
        "photographs": group.photos.iter().map(|index| day.photos[*index].photo.name())
            .collect::<Vec<_>>(),
        "time": group.when.map(|(when, _)| when.to_string()),
        "time_half_width_s": group.when.map(|(_, half)| rounded(half.0, 10.0)),
        "decimalLatitude": null, "decimalLongitude": null, "coordinateUncertaintyInMeters": null,
    });
    match &group.place {
        Ok(place) => locate(&mut value, place),
        Err(unlocated) => value["why_not_located"] = report(&Error::from(unlocated)),
    }
    value
}

fn find(day: &Day, find: &Find) -> Value {
    let mut value = json!({
        "occurrenceID": format!("urn:uuid:{}", find.id),
        "recordNumber": find.record.number.as_ref().map(ToString::to_string),
        "scientificName": find.record.name,
        "eventDate": event_date(day, find),
        "verbatimEventDate": find.record.written_date_and_time(),
        "derived_time": derived_when(day, find),
        "time_half_width_s": find.when.map(|(_, half)| rounded(half.0, 10.0)),
        "decimalLatitude": null, "decimalLongitude": null, "coordinateUncertaintyInMeters": null,
        "geodeticDatum": "EPSG:4326",
        "georeferenceSources": sources(find),
        "photographs": find.photos.iter().map(|index| day.photos[*index].photo.name())
            .collect::<Vec<_>>(),
        "anchors": find.anchors.iter().map(|one| json!({
            "kind": one.kind,
            "decimalLatitude": rounded(one.at.latitude(), 1e7),
            "decimalLongitude": rounded(one.at.longitude(), 1e7),
            "coordinateUncertaintyInMeters": rounded(one.radius.metres().0, 10.0),
            "used": one.used,
            "basis": one.basis.to_string(),
            "evidence": one.basis,
        })).collect::<Vec<_>>(),
    });
    match &find.place {
        Ok(place) => locate(&mut value, place),
        Err(unlocated) => value["why_not_located"] = report(&Error::from(unlocated)),
    }
    value
}

fn locate(value: &mut Value, place: &Located) {
    value["decimalLatitude"] = rounded(place.at.latitude(), 1e7).into();
    value["decimalLongitude"] = rounded(place.at.longitude(), 1e7).into();
    value["coordinateUncertaintyInMeters"] = rounded(place.radius.metres().0, 10.0).into();
    value["combination"] = json!(place.combination);
    let parts = place
        .parts
        .iter()
        .map(|part| json!({ "kind": part.kind, "size_m": rounded(part.size.0, 10.0) }));
    value["radius_parts"] = parts.collect::<Vec<_>>().into();
}

/// The derived local time where it differs from the written one, which is kept.
fn derived_when(day: &Day, find: &Find) -> Option<String> {
    let local = derived_time::differing(&find.record, find.when?, &day.outing.zone.zone)?;
    Some(local.strftime("%Y-%m-%dT%H:%M:%S").to_string())
}

fn event_date(day: &Day, find: &Find) -> Option<String> {
    let derived = derived_when(day, find);
    match find.when.filter(|_| derived.is_none()) {
        Some((when, _)) => Some(
            when.to_zoned_datetime(day.outing.zone.zone.clone())
                .strftime("%Y-%m-%dT%H:%M:%S%:z")
                .to_string(),
        ),
        None => find.record.date.or(day.outing.dated()).map(|date| date.to_string()),
    }
}

fn sources(find: &Find) -> String {
    let mut kinds: Vec<AnchorKind> =
        find.anchors.iter().filter(|anchor| anchor.used).map(|anchor| anchor.kind).collect();
    kinds.dedup();
    kinds.into_iter().map(anchor).collect::<Vec<_>>().join(" | ")
}

fn association(day: &Day, association: &Association) -> Value {
    let mut value = report(&super::association::report(association));
    value["outing"] = day.outing.id.to_string().into();
    value["refused"] = association.is_refusal().into();
    value["threshold"] = Association::THRESHOLD.into();
    if let (Some(value), Value::Object(parts)) = (value.as_object_mut(), json!(association)) {
        value.extend(parts);
    }
    value
}

fn conflict(day: &Day, conflict: &Conflict) -> Value {
    let mut value = report(&conflict.report);
    value["kind"] = json!(conflict.kind);
    match conflict.size {
        ConflictSize::Distance(distance) => value["distance_m"] = rounded(distance.0, 10.0).into(),
        ConflictSize::Time(time) => value["time_s"] = rounded(time.0, 10.0).into(),
        ConflictSize::Count(number) => value["count"] = number.into(),
    }
    value["chance"] = conflict.chance.map_or(Value::Null, Value::from);
    let numbers = conflict
        .finds
        .iter()
        .map(|index| day.finds[*index].record.number.as_ref().map(ToString::to_string));
    value["recordNumbers"] = numbers.collect::<Vec<_>>().into();
    value
}

fn set_aside_of(day: &Day) -> Vec<Value> {
    day.set_aside.iter().map(report).collect()
}

/// What was set aside, with the code and the values of its finding.
pub(crate) fn report(error: &Error) -> Value {
    let why = error.why().map_or_else(|| error.what().to_owned(), str::to_owned);
    let mut value = json!({
        "file": error.where_file().map(|file| file.to_string_lossy()),
        "line": error.where_line(),
        "what": error.what(),
        "why": why,
        "hint": error.advice(),
    });
    if let Some(cell) = error.where_cell() {
        value["cell"] = cell.into();
    }
    if let (Value::Object(value), Some(finding)) = (&mut value, error.finding()) {
        value.extend(finding.clone());
    }
    value
}

fn rounded(value: f64, steps: f64) -> f64 {
    (value * steps).round() / steps
}
