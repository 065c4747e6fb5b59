//! Copies amendments and what reversed them from another store's journal. Layer: `store`.
//!
//! Changes are recognised by their identifiers, so that merging twice, or two stores into each other, gives the
//! same.

use std::collections::{HashMap, HashSet};

use rusqlite::{Connection, OptionalExtension};

use super::{Merged, conflicts};
use crate::model::AmendedSubject;
use crate::store::amend::{journal, relay};
use crate::store::fault::Attempt;

/// A change of the other store.
struct Theirs {
    key: i64,
    uuid: String,
    kind: String,
    made: String,
    order_time: String,
    who: Option<String>,
    reason: Option<String>,
    reverses: Option<i64>,
}

/// Adds the changes that this store lacks and applies them. Amendments are in force in the order in which
/// they were made, in whichever store; an undo that is in force reverses its change in both.
pub(super) fn add(work: &Connection, other: &Connection, merged: &mut Merged) -> Attempt<()> {
    let mut here: HashMap<i64, i64> = HashMap::new();
    let mut added = Vec::new();
    for theirs in theirs(other)? {
        let ours: Option<i64> = work
            .prepare_cached("SELECT id FROM journal WHERE uuid = ?1")?
            .query_row([&theirs.uuid], |row| row.get(0))
            .optional()?;
        if let Some(ours) = ours {
            here.insert(theirs.key, ours);
            continue;
        }
        let reverses = theirs.reverses.and_then(|reversed| here.get(&reversed).copied());
        if theirs.kind == "undo" && reverses.is_none() {
            // it reversed an import or a removal, which stay with their store
            continue;
        }
        let key = insert(work, &theirs, reverses)?;
        copy_lines(work, other, theirs.key, key)?;
        here.insert(theirs.key, key);
        added.push(key);
    }
    // an undo is later than what it reverses
    for change in added.iter().rev() {
        journal::settle(work, *change)?;
    }
    merged.changes_added = added.len();
    let mut subjects: Vec<AmendedSubject> = Vec::new();
    for change in &added {
        subjects.extend(journal::subjects(work, journal::root(work, *change)?)?);
    }
    relay(work, &subjects.iter().collect::<Vec<_>>())?;
    let added: HashSet<i64> = added.into_iter().collect();
    let known: HashSet<i64> = here.into_values().collect();
    merged.conflicts.extend(conflicts::list(work, &added, &known)?);
    Ok(())
}

fn theirs(other: &Connection) -> Attempt<Vec<Theirs>> {
    let mut statement = other.prepare(
        "SELECT id, uuid, kind, made, order_time, who, reason, reverses FROM journal
         WHERE kind IN ('amendment', 'gis', 'undo') ORDER BY id",
    )?;
    let changes = statement.query_map([], |row| {
        Ok(Theirs {
            key: row.get(0)?,
            uuid: row.get(1)?,
            kind: row.get(2)?,
            made: row.get(3)?,
            order_time: row.get(4)?,
            who: row.get(5)?,
            reason: row.get(6)?,
            reverses: row.get(7)?,
        })
    })?;
    Ok(changes.collect::<rusqlite::Result<_>>()?)
}

fn insert(work: &Connection, theirs: &Theirs, reverses: Option<i64>) -> Attempt<i64> {
    Ok(work
        .prepare_cached(
            "INSERT INTO journal (uuid, kind, made, order_time, who, reason, reverses, active)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, 1)",
        )?
        .insert((
            &theirs.uuid,
            &theirs.kind,
            &theirs.made,
            &theirs.order_time,
            &theirs.who,
            &theirs.reason,
            reverses,
        ))?)
}

fn copy_lines(work: &Connection, other: &Connection, from: i64, to: i64) -> Attempt<()> {
    type Line =
        (Option<String>, Option<String>, Option<String>, String, Option<String>, String, String);
    let lines: Vec<Line> = other
        .prepare_cached(
            "SELECT find_uuid, outing_uuid, camera, property, before, after, patch
             FROM amendments WHERE change_id = ?1 ORDER BY id",
        )?
        .query_map([from], |row| {
            Ok((
                row.get(0)?,
                row.get(1)?,
                row.get(2)?,
                row.get(3)?,
                row.get(4)?,
                row.get(5)?,
                row.get(6)?,
            ))
        })?
        .collect::<rusqlite::Result<_>>()?;
    for (find, outing, camera, property, before, after, patch) in lines {
        work.prepare_cached(
            "INSERT INTO amendments
               (change_id, find_uuid, outing_uuid, camera, property, before, after, patch)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        )?
        .execute((to, find, outing, camera, property, before, after, patch))?;
    }
    Ok(())
}
