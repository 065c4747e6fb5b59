//! Values in words, for the journal and for readers in a GIS. Layer: `store`.

use jiff::tz::TimeZone;
use rusqlite::{Connection, OptionalExtension};

use crate::model::{Located, Patch};
use crate::store::fault::Attempt;
use crate::store::read::find_row::{COLUMNS, FindRow};
use crate::store::{geometry, read};
use crate::units::{LatLon, Metres, Timestamp};

/// A position with its radius.
pub(super) fn position(place: Option<&Located>) -> String {
    match place {
        Some(place) => format!("{}, within {}", place.at, place.radius),
        None => "not located".to_owned(),
    }
}

/// A local time.
pub(super) fn local(when: Timestamp, zone: &TimeZone) -> String {
    zone.to_datetime(when).strftime("%Y-%m-%d %H:%M:%S").to_string()
}

/// The new value of a patch.
pub(super) fn of_patch(work: &Connection, patch: &Patch) -> Attempt<String> {
    Ok(match patch {
        Patch::Position { latitude, longitude, within_m } => {
            let at = LatLon::clamped(*latitude, *longitude);
            format!("{at}, within {}", Metres(*within_m))
        }
        Patch::Unlocated => "not located".to_owned(),
        Patch::Time { clock, .. } => clock.strftime("%Y-%m-%d %H:%M:%S").to_string(),
        Patch::Photographs { add, remove } => {
            let added = add.iter().map(|name| format!("+{name}"));
            let removed = remove.iter().map(|name| format!("-{name}"));
            added.chain(removed).collect::<Vec<_>>().join(", ")
        }
        Patch::Text { value, .. } => value.clone().unwrap_or_default(),
        Patch::Collector(name) => name.clone(),
        Patch::Outing(outing) => {
            super::outing_text(work, &outing.to_string())?.unwrap_or_else(|| outing.to_string())
        }
        Patch::Withdrawn(true) => "withdrawn".to_owned(),
        Patch::Withdrawn(false) => "not withdrawn".to_owned(),
        Patch::Determination(named) => named.full_name(),
        Patch::CameraClock(ahead) => ahead_text(ahead.0),
        Patch::Refused { value, .. } => value.clone(),
    })
}

/// `+01:02:05`, a camera's reading less local time.
pub(super) fn ahead_text(seconds: f64) -> String {
    let sign = if seconds < 0.0 { '-' } else { '+' };
    let whole = seconds.abs().round();
    let (hours, rest) = ((whole / 3_600.0).floor(), whole % 3_600.0);
    format!("{sign}{hours:02.0}:{:02.0}:{:02.0}", (rest / 60.0).floor(), rest % 60.0)
}

/// The value of a find's property that is in force now.
pub(super) fn in_force(work: &Connection, find: i64, patch: &Patch) -> Attempt<Option<String>> {
    let amended: Option<Option<String>> = work
        .prepare_cached("SELECT value FROM amended WHERE find_id = ?1 AND property = ?2")?
        .query_row((find, patch.property()), |row| row.get(0))
        .optional()?;
    match amended {
        Some(value) => Ok(value),
        None => written(work, find, patch),
    }
}

/// The same from the find's row.
fn written(work: &Connection, find: i64, patch: &Patch) -> Attempt<Option<String>> {
    let row = row_of(work, find)?;
    let record = &row.record;
    Ok(match patch {
        Patch::Position { .. } | Patch::Unlocated => Some(position(row.place.as_ref())),
        Patch::Time { .. } => {
            let zone = zone_of(work, row.outing)?;
            row.when.map(|(when, _)| local(when, &zone))
        }
        Patch::Photographs { .. } => Some(photographs(work, find)?.join(", ")),
        Patch::Text { property, .. } => property.value(record),
        Patch::Collector(_) => row.collector.clone(),
        Patch::Outing(_) => super::outing_text_by_key(work, row.outing)?,
        Patch::Withdrawn(_) => {
            Some(if row.withdrawn.is_some() { "withdrawn" } else { "not withdrawn" }.to_owned())
        }
        Patch::Determination(_) => record.name.clone(),
        Patch::CameraClock(_) | Patch::Refused { .. } => None,
    })
}

/// A find's row as it is.
pub(super) fn row_of(work: &Connection, find: i64) -> Attempt<FindRow> {
    let mut statement =
        work.prepare_cached(&format!("SELECT {COLUMNS} FROM finds f WHERE f.id = ?1"))?;
    let mut rows = statement.query([find])?;
    match rows.next()? {
        Some(row) => FindRow::read(row),
        None => Err(rusqlite::Error::QueryReturnedNoRows.into()),
    }
}

/// The names of a find's photographs.
pub(super) fn photographs(work: &Connection, find: i64) -> Attempt<Vec<String>> {
    let names = work
        .prepare_cached(
            "SELECT p.name FROM find_photographs c JOIN photographs p ON p.id = c.photograph_id
             WHERE c.find_id = ?1 ORDER BY p.place, p.id",
        )?
        .query_map([find], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    Ok(names)
}

/// The zone of an outing.
pub(super) fn zone_of(work: &Connection, outing: i64) -> Attempt<TimeZone> {
    let name: Option<String> = work
        .prepare_cached("SELECT zone FROM outings WHERE id = ?1")?
        .query_row([outing], |row| row.get(0))
        .optional()?;
    Ok(name.and_then(|name| read::day::zone(&name)).unwrap_or(TimeZone::UTC))
}

/// Whether two geometries are the same point.
pub(super) fn same_point(a: Option<&[u8]>, b: Option<&[u8]>) -> bool {
    let at = |blob: Option<&[u8]>| blob.and_then(geometry::position);
    at(a) == at(b)
}
