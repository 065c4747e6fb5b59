//! Keeps rows as imported beside amended ones, and puts them back. Layer: `store`.
//!
//! The copy is made when a row is first amended, and is what every later amendment and every undo starts from.

use std::collections::HashMap;

use rusqlite::Connection;

use crate::store::fault::Attempt;

/// The columns of a find that an amendment can change.
const FIND: &str = "geom, outing_id, date, record_number, scientific_name, collector, found_time, \
    found_within_s, radius95_m, position_from, gps_height_m, combination, radius_parts, \
    why_unlocated, unlocated_report, place_name, substrate, host, habitat, container, notes, \
    other_fields, written_date, written_time, written_time_precision, written_collector, withdrawn";
const PHOTOGRAPH: &str = "geom, taken_time, radius95_m";
const CAMERA: &str =
    "method, ahead_s, low95_s, high95_s, zone_part_s, error_part_s, details, profile";

/// What was in force on an outing before its rows were put back.
#[derive(Default)]
pub(in crate::store) struct Lifted {
    /// The finds that had amendments.
    pub(super) finds: Vec<i64>,
    /// What was written and what was in force, by find and property.
    pub(super) was: HashMap<(i64, String), Option<String>>,
}

/// Keeps a find, its evidence and its photographs as they are now.
pub(super) fn keep_find(work: &Connection, find: i64) -> Attempt<()> {
    for statement in [
        "INSERT OR IGNORE INTO base_finds SELECT * FROM finds WHERE id = ?1",
        "INSERT INTO base_anchors SELECT * FROM anchors WHERE find_id = ?1",
        "INSERT INTO base_find_photographs SELECT * FROM find_photographs WHERE find_id = ?1",
    ] {
        work.prepare_cached(statement)?.execute([find])?;
    }
    Ok(())
}

/// Whether a find is kept.
pub(super) fn has_find(work: &Connection, find: i64) -> Attempt<bool> {
    Ok(work
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM base_finds WHERE id = ?1)")?
        .query_row([find], |row| row.get(0))?)
}

/// Puts a find back as it was imported.
pub(super) fn restore_find(work: &Connection, find: i64) -> Attempt<()> {
    if !has_find(work, find)? {
        return Ok(());
    }
    put_back(work, "finds", FIND, find)?;
    for statement in [
        "DELETE FROM anchors WHERE find_id = ?1",
        "INSERT INTO anchors SELECT * FROM base_anchors WHERE find_id = ?1",
        "DELETE FROM find_photographs WHERE find_id = ?1",
        "INSERT INTO find_photographs SELECT * FROM base_find_photographs WHERE find_id = ?1",
        "DELETE FROM base_anchors WHERE find_id = ?1",
        "DELETE FROM base_find_photographs WHERE find_id = ?1",
        "DELETE FROM amended WHERE find_id = ?1",
    ] {
        work.prepare_cached(statement)?.execute([find])?;
    }
    Ok(())
}

fn put_back(work: &Connection, table: &str, columns: &str, key: i64) -> Attempt<()> {
    work.prepare_cached(&format!(
        "UPDATE {table} SET ({columns}) = (SELECT {columns} FROM base_{table} b WHERE b.id = {table}.id)
         WHERE id = ?1"
    ))?
    .execute([key])?;
    work.prepare_cached(&format!("DELETE FROM base_{table} WHERE id = ?1"))?.execute([key])?;
    Ok(())
}

/// Keeps a camera and the photographs that it took on its outing.
pub(super) fn keep_camera(work: &Connection, camera: i64) -> Attempt<()> {
    for statement in [
        "INSERT OR IGNORE INTO base_cameras SELECT * FROM cameras WHERE id = ?1",
        "INSERT OR IGNORE INTO base_photographs SELECT * FROM photographs WHERE camera_id = ?1",
    ] {
        work.prepare_cached(statement)?.execute([camera])?;
    }
    Ok(())
}

/// Puts the finds, photographs and cameras of an outing back as they were imported, those that were
/// moved to it or from it included.
pub(in crate::store) fn lift_outing(work: &Connection, outing: i64) -> Attempt<Lifted> {
    let finds = keys(
        work,
        "SELECT b.id FROM base_finds b JOIN finds f ON f.id = b.id
         WHERE b.outing_id = ?1 OR f.outing_id = ?1 ORDER BY b.id",
        outing,
    )?;
    let mut lifted = Lifted { finds, ..Lifted::default() };
    for find in &lifted.finds {
        let mut statement =
            work.prepare_cached("SELECT property, written FROM amended WHERE find_id = ?1")?;
        let mut rows = statement.query([find])?;
        while let Some(row) = rows.next()? {
            lifted.was.insert((*find, row.get(0)?), row.get(1)?);
        }
        restore_find(work, *find)?;
    }
    lift_cameras(work, outing)?;
    Ok(lifted)
}

/// Puts the cameras and photographs of an outing back.
pub(super) fn lift_cameras(work: &Connection, outing: i64) -> Attempt<()> {
    for (table, columns) in [("photographs", PHOTOGRAPH), ("cameras", CAMERA)] {
        let of = format!("SELECT id FROM base_{table} WHERE outing_id = ?1");
        for key in keys(work, &of, outing)? {
            put_back(work, table, columns, key)?;
        }
    }
    Ok(())
}

pub(super) fn keys(work: &Connection, select: &str, of: i64) -> Attempt<Vec<i64>> {
    let keys = work
        .prepare_cached(select)?
        .query_map([of], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    Ok(keys)
}
