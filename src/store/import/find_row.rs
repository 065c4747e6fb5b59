//! Converts a find to a row of the layer `finds`. Layer: `store`.

use jiff::civil::Date;
use rusqlite::Connection;

use crate::error::Error;
use crate::model::{Anchor, AnchorKind, Day, Field, Find, Located, Record};
use crate::store::fault::Attempt;
use crate::store::row::Row;
use crate::store::{geometry, words};

/// The local date of collecting: as written, otherwise of its time, otherwise the outing's.
pub(super) fn date(day: &Day, find: &Find) -> Date {
    let of_time = || {
        let (when, _) = find.when?;
        Some(when.to_zoned_datetime(day.outing.zone.zone.clone()).date())
    };
    find.record.date.or_else(of_time).unwrap_or(day.outing.date)
}

/// The columns for the time and the written record.
pub(super) fn set_record(row: &mut Row, day: &Day, find: &Find) -> Attempt<()> {
    let record = &find.record;
    let collector = record.collector.clone().or_else(|| day.outing.collector.clone());
    row.set("date", date(day, find).to_string())
        .set("found_time", find.when.map(|(when, _)| words::instant(when)))
        .set("found_within_s", find.when.map(|(_, within)| within.0))
        .set("collector", collector)
        .set("record_number", record.number.as_ref().map(|number| number.0.clone()))
        .set("scientific_name", record.name.clone())
        .set("place_name", record.place.clone())
        .set("substrate", record.substrate.clone())
        .set("host", record.host.clone())
        .set("habitat", record.habitat.clone())
        .set("container", record.container.clone())
        .set("source_line", i64::try_from(record.line).unwrap_or(i64::MAX));
    set_fields(row, record)?;
    set_written(row, record)
}

/// Notes have their own column, for readers in a GIS.
pub(in crate::store) fn set_fields(row: &mut Row, record: &Record) -> Attempt<()> {
    let mut others = record.fields.clone();
    row.set("notes", others.remove(&Field::Notes)).set("other_fields", words::json(&others)?);
    Ok(())
}

fn set_written(row: &mut Row, record: &Record) -> Attempt<()> {
    let time = record.time.as_ref();
    row.set("written_date", record.date.map(|date| date.to_string()))
        .set("written_time", time.map(|time| time.clock.to_string()))
        .set("written_time_precision", time.map(|time| words::word(time.precision)).transpose()?)
        .set("written_collector", record.collector.clone())
        .set("written_elevation_m", record.elevation.map(|height| height.0))
        .set("written_photographs", words::json(&record.photos)?)
        .set("written_waypoint", record.waypoint.clone());
    let written = record.coordinates.as_ref();
    row.set("written_coordinates", written.map(|written| written.verbatim.clone()))
        .set("coordinate_readings", written.map(words::json).transpose()?);
    Ok(())
}

/// The columns for the position, or why it is unknown.
pub(super) fn set_place(row: &mut Row, find: &Find) -> Attempt<()> {
    let from = find.anchors.iter().find(|anchor| anchor.used).map(|anchor| anchor.kind);
    let place = find.place.as_ref().map_err(Error::from);
    set_located(row, place.as_ref().copied(), from)
}

/// The same from its parts: the position with the evidence it rests on, or the reason.
pub(in crate::store) fn set_located(
    row: &mut Row,
    place: Result<&Located, &Error>,
    from: Option<AnchorKind>,
) -> Attempt<()> {
    let located = place.ok();
    let unlocated = place.err();
    row.set("geom", located.map(|place| geometry::point(place.at)))
        .set("radius95_m", located.map(|place| place.radius.metres().0))
        .set("position_from", located.and(from).map(words::word).transpose()?)
        .set("radius_parts", located.map(|place| words::json(&place.parts)).transpose()?)
        .set("gps_height_m", located.and_then(|place| place.height).map(|height| height.0.0))
        .set("combination", located.map(|place| words::word(place.combination)).transpose()?)
        .set("why_unlocated", unlocated.map(words::sentence))
        .set("unlocated_report", unlocated.map(words::json).transpose()?);
    Ok(())
}

/// Adds a row to the evidence of a find.
pub(in crate::store) fn add_anchor(work: &Connection, find: i64, anchor: &Anchor) -> Attempt<()> {
    let mut row = Row::new();
    row.set("find_id", find)
        .set("kind", words::word(anchor.kind)?)
        .set("latitude", anchor.at.latitude())
        .set("longitude", anchor.at.longitude())
        .set("radius95_m", anchor.radius.metres().0)
        .set("anchor_time", anchor.when.map(words::instant))
        .set("used", anchor.used)
        .set("basis", anchor.basis.to_string())
        .set("radius_parts", words::json(&anchor.parts)?);
    row.insert(work, "anchors")?;
    Ok(())
}
