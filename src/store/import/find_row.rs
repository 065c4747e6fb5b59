//! Converts a find to a row of the layer `finds`. Layer: `store`.

use jiff::civil::Date;

use crate::model::{Day, Field, Find, Record};
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
fn set_fields(row: &mut Row, record: &Record) -> Attempt<()> {
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
    let located = find.place.as_ref().ok();
    let unlocated = find.place.as_ref().err();
    let from = find.anchors.iter().find(|anchor| anchor.used).map(|anchor| anchor.kind);
    row.set("geom", located.map(|place| geometry::point(place.at)))
        .set("radius95_m", located.map(|place| place.radius.metres().0))
        .set("position_from", located.and(from).map(words::word).transpose()?)
        .set("radius_parts", located.map(|place| words::json(&place.parts)).transpose()?)
        .set("gps_height_m", located.and_then(|place| place.height).map(|height| height.0.0))
        .set("combination", located.map(|place| words::word(place.combination)).transpose()?)
        .set("why_unlocated", unlocated.map(|why| words::sentence(&why.0)))
        .set("unlocated_report", unlocated.map(|why| words::json(&why.0)).transpose()?);
    Ok(())
}
