//! Copies outings from another store, with new row keys and the same identifiers. Layer: `store`.
//!
//! Rows get new keys, since keys of two stores coincide; identifiers stay, so that a find has one identity
//! everywhere.

use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, params_from_iter};

use super::Merged;
use crate::model::MergeConflict;
use crate::store::amend::{self, Lifted, archive, lay_outing, lift_outing};
use crate::store::fault::Attempt;

/// The columns that hold keys of rows.
const KEYS: [&str; 7] =
    ["id", "outing_id", "source_id", "camera_id", "find_id", "photograph_id", "conflict_id"];

/// Puts every amended row of a copy back as it was imported.
pub(super) fn lift_all(copy: &Connection) -> Attempt<()> {
    amend::begin_own(copy)?;
    let outings: Vec<i64> = copy
        .prepare("SELECT id FROM outings ORDER BY id")?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    for outing in outings {
        lift_outing(copy, outing)?;
    }
    Ok(())
}

/// An outing of the other store.
struct Theirs {
    key: i64,
    uuid: String,
    date: String,
    collector: Option<String>,
    fingerprint: String,
    finds: usize,
}

/// Adds the outings that this store lacks.
pub(super) fn add(
    work: &Connection,
    other: &Connection,
    change: &mut dyn FnMut() -> Attempt<i64>,
    merged: &mut Merged,
) -> Attempt<()> {
    let beyond = beyond(work)?;
    for outing in theirs(other)? {
        let ours: Option<String> = work
            .prepare_cached("SELECT fingerprint FROM outings WHERE uuid = ?1")?
            .query_row([&outing.uuid], |row| row.get(0))
            .optional()?;
        match ours {
            Some(ours) if ours == outing.fingerprint => merged.outings_same += 1,
            Some(_) => merged.conflicts.push(MergeConflict::OutingDiffers {
                date: outing.date.clone(),
                collector: outing.collector.clone(),
            }),
            None => {
                if let Some(obstacle) = obstacle(work, other, &outing)? {
                    merged.conflicts.push(obstacle);
                } else {
                    let id = match merged.change {
                        Some(id) => id,
                        None => *merged.change.insert(change()?),
                    };
                    copy(work, other, id, &outing, beyond)?;
                    merged.outings_added += 1;
                    merged.finds_added += outing.finds;
                }
            }
        }
    }
    Ok(())
}

fn theirs(other: &Connection) -> Attempt<Vec<Theirs>> {
    let mut statement = other.prepare(
        "SELECT o.id, o.uuid, o.date, o.collector, o.fingerprint,
           (SELECT count(*) FROM finds f WHERE f.outing_id = o.id AND f.withdrawn IS NULL)
         FROM outings o ORDER BY o.date, o.start_time, o.uuid",
    )?;
    let outings = statement.query_map([], |row| {
        Ok(Theirs {
            key: row.get(0)?,
            uuid: row.get(1)?,
            date: row.get(2)?,
            collector: row.get(3)?,
            fingerprint: row.get(4)?,
            finds: row.get(5)?,
        })
    })?;
    Ok(outings.collect::<rusqlite::Result<_>>()?)
}

/// Why an outing that this store lacks is not added.
fn obstacle(
    work: &Connection,
    other: &Connection,
    outing: &Theirs,
) -> Attempt<Option<MergeConflict>> {
    let removed: Option<i64> = work
        .prepare_cached(
            "SELECT max(j.id) FROM archived_outings a JOIN journal j ON j.id = a.change_id
             WHERE a.outing_uuid = ?1 AND j.active AND j.kind IN ('removal', 'undo')",
        )?
        .query_row([&outing.uuid], |row| row.get(0))?;
    let (date, collector) = (outing.date.clone(), outing.collector.clone());
    if let Some(change) = removed {
        return Ok(Some(MergeConflict::OutingRemoved { date, collector, change }));
    }
    let mut statement = other.prepare_cached("SELECT uuid FROM finds WHERE outing_id = ?1")?;
    let mut rows = statement.query([outing.key])?;
    while let Some(row) = rows.next()? {
        let uuid: String = row.get(0)?;
        let here: Option<String> = work
            .prepare_cached(
                "SELECT o.date FROM finds f JOIN outings o ON o.id = f.outing_id WHERE f.uuid = ?1",
            )?
            .query_row([&uuid], |row| row.get(0))
            .optional()?;
        if let Some(other_date) = here {
            return Ok(Some(MergeConflict::FindsInAnotherOuting { date, collector, other_date }));
        }
    }
    Ok(None)
}

/// Added to each key of the other store, so that none is used here.
fn beyond(work: &Connection) -> Attempt<i64> {
    Ok(work
        .prepare_cached("SELECT coalesce(max(seq), 0) FROM sqlite_sequence")?
        .query_row([], |row| row.get(0))?)
}

fn copy(
    work: &Connection,
    other: &Connection,
    change: i64,
    outing: &Theirs,
    beyond: i64,
) -> Attempt<()> {
    work.prepare_cached(
        "INSERT OR IGNORE INTO archived_outings (change_id, outing_uuid, date, collector, find_count)
         VALUES (?1, ?2, ?3, ?4, 0)",
    )?
    .execute((change, &outing.uuid, &outing.date, &outing.collector))?;
    for (table, condition) in archive::TABLES {
        copy_table(work, other, (table, condition), outing.key, beyond)?;
    }
    lay_outing(work, outing.key.saturating_add(beyond), &Lifted::default())?;
    Ok(())
}

fn copy_table(
    work: &Connection,
    other: &Connection,
    (table, condition): (&str, &str),
    outing: i64,
    beyond: i64,
) -> Attempt<()> {
    let mut statement =
        other.prepare_cached(&format!("SELECT * FROM {table} WHERE {condition} ORDER BY id"))?;
    let names: Vec<String> = statement.column_names().into_iter().map(str::to_owned).collect();
    let marks = vec!["?"; names.len()].join(", ");
    let insert = format!("INSERT INTO {table} ({}) VALUES ({marks})", names.join(", "));
    let mut rows = statement.query([outing])?;
    while let Some(row) = rows.next()? {
        let mut cells = Vec::with_capacity(names.len());
        for (place, name) in names.iter().enumerate() {
            let cell: Value = row.get(place)?;
            cells.push(match cell {
                Value::Integer(key) if KEYS.contains(&name.as_str()) => {
                    Value::Integer(key.saturating_add(beyond))
                }
                cell => cell,
            });
        }
        work.prepare_cached(&insert)?.execute(params_from_iter(&cells))?;
    }
    Ok(())
}
