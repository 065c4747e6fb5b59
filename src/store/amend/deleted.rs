//! Puts finds back that another program deleted, and compares those that it inserted again. Layer: `store`.
//!
//! A row that is deleted in a GIS is gone for SQLite; the triggers keep what is needed to put it back. The find is
//! then withdrawn, which can be undone.

use rusqlite::Connection;
use rusqlite::types::Value;

use crate::model::{AmendedSubject, Patch};
use crate::store::fault::Attempt;
use crate::store::words::Cell;

/// What the triggers record of a deletion in place of a column.
pub(super) const PROPERTY: &str = "deleted";

/// What belongs to a find, with the rows that must be there for it.
const CHILDREN: [(&str, &str); 4] = [
    ("anchors", "find_id IN (SELECT id FROM finds)"),
    ("find_history", "find_id IN (SELECT id FROM finds)"),
    (
        "find_photographs",
        "find_id IN (SELECT id FROM finds) AND photograph_id IN (SELECT id FROM photographs)",
    ),
    (
        "conflict_finds",
        "find_id IN (SELECT id FROM finds) AND conflict_id IN (SELECT id FROM conflicts)",
    ),
];

/// A find that was deleted and inserted again was edited: its row is put back as it was before, and each
/// column that differs is recorded as an edit.
pub(super) fn join_inserted_again(work: &Connection, columns: &[&str]) -> Attempt<()> {
    let again: Vec<(i64, i64, i64)> = work
        .prepare(
            "SELECT min(d.rowid), d.id, f.id FROM deleted_finds d JOIN finds f ON f.uuid = d.uuid
             GROUP BY d.uuid ORDER BY 1",
        )?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
        .collect::<rusqlite::Result<_>>()?;
    for (first, was, is) in again {
        work.prepare_cached("UPDATE gis_edits SET find_id = ?1 WHERE find_id = ?2")?
            .execute((was, is))?;
        let listed = columns.join(", ");
        let row = |select: &str, key: i64| -> rusqlite::Result<Vec<Value>> {
            work.prepare_cached(select)?
                .query_row([key], |row| (0..columns.len()).map(|place| row.get(place)).collect())
        };
        let before = row(&format!("SELECT {listed} FROM deleted_finds WHERE rowid = ?1"), first)?;
        let after = row(&format!("SELECT {listed} FROM finds WHERE id = ?1"), is)?;
        work.prepare_cached("DELETE FROM finds WHERE id = ?1")?.execute([is])?;
        work.prepare_cached("INSERT INTO finds SELECT * FROM deleted_finds WHERE rowid = ?1")?
            .execute([first])?;
        for ((column, before), after) in columns.iter().zip(&before).zip(&after) {
            if before != after {
                record(work, was, column, (before, after))?;
            }
        }
        work.prepare_cached(
            "DELETE FROM deleted_finds WHERE uuid = (SELECT uuid FROM finds WHERE id = ?1)",
        )?
        .execute([was])?;
    }
    Ok(())
}

/// The row holds the new value until the edits are read.
fn record(work: &Connection, find: i64, column: &str, edit: (&Value, &Value)) -> Attempt<()> {
    work.prepare_cached(
        "INSERT INTO gis_edits (find_id, property, before, after, made)
         SELECT ?1, ?2, ?3, ?4, coalesce(max(made), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
         FROM gis_edits WHERE find_id = ?1",
    )?
    .execute((find, column, edit.0, edit.1))?;
    work.prepare_cached(&format!("UPDATE finds SET {column} = ?1 WHERE id = ?2"))?
        .execute((edit.1, find))?;
    Ok(())
}

/// Puts deleted finds back with all that belongs to them; they are withdrawn instead.
pub(super) fn put_back(work: &Connection) -> Attempt<Vec<(AmendedSubject, Patch)>> {
    let deleted: Vec<(i64, String)> = work
        .prepare(
            "SELECT min(rowid), uuid FROM deleted_finds d
             WHERE d.outing_id IN (SELECT id FROM outings) AND d.uuid NOT IN (SELECT uuid FROM finds)
             GROUP BY uuid ORDER BY 1",
        )?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    for (row, _) in &deleted {
        work.execute("INSERT INTO finds SELECT * FROM deleted_finds WHERE rowid = ?1", [row])?;
    }
    for (table, parents_are_there) in CHILDREN {
        work.execute_batch(&format!(
            "INSERT OR IGNORE INTO {table} SELECT * FROM deleted_{table} WHERE {parents_are_there};
             DELETE FROM deleted_{table};"
        ))?;
    }
    work.execute_batch("DELETE FROM deleted_finds")?;
    let cell = Cell { table: "deleted_finds", row: 0 };
    deleted
        .iter()
        .map(|(_, uuid)| Ok((AmendedSubject::Find(cell.uuid(uuid)?), Patch::Withdrawn(true))))
        .collect()
}
