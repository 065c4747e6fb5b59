//! Copies amendments and what reversed them from another store's journal. Layer: `store`.

use std::collections::HashMap;

use rusqlite::{Connection, OptionalExtension};

use super::Merged;
use crate::model::AmendedSubject;
use crate::store::amend::{journal, relay};
use crate::store::fault::Attempt;

/// A change of the other store.
struct Theirs {
    key: i64,
    uuid: String,
    kind: String,
    made: String,
    who: Option<String>,
    reason: Option<String>,
    reverses: Option<i64>,
    active: bool,
}

/// Adds the changes that this store lacks and applies them. Amendments are in force in the order in which
/// they were made, in whichever store.
pub(super) fn add(work: &Connection, other: &Connection, merged: &mut Merged) -> Attempt<()> {
    let mut here: HashMap<i64, i64> = HashMap::new();
    let (mut added, mut touched) = (Vec::new(), Vec::new());
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
        if let Some(reversed) = reverses {
            adopt(work, other, &here, theirs.reverses, &mut touched)?;
            touched.push(reversed);
        }
    }
    merged.changes_added = added.len();
    let mut subjects: Vec<AmendedSubject> = Vec::new();
    for change in added.iter().chain(&touched) {
        subjects.extend(journal::subjects(work, *change)?);
    }
    relay(work, &subjects.iter().collect::<Vec<_>>())?;
    for change in &added {
        merged.conflicts.extend(conflicts(work, *change, &added)?);
    }
    Ok(())
}

fn theirs(other: &Connection) -> Attempt<Vec<Theirs>> {
    let mut statement = other.prepare(
        "SELECT id, uuid, kind, made, who, reason, reverses, active FROM journal
         WHERE kind IN ('amendment', 'gis', 'undo') ORDER BY id",
    )?;
    let changes = statement.query_map([], |row| {
        Ok(Theirs {
            key: row.get(0)?,
            uuid: row.get(1)?,
            kind: row.get(2)?,
            made: row.get(3)?,
            who: row.get(4)?,
            reason: row.get(5)?,
            reverses: row.get(6)?,
            active: row.get(7)?,
        })
    })?;
    Ok(changes.collect::<rusqlite::Result<_>>()?)
}

fn insert(work: &Connection, theirs: &Theirs, reverses: Option<i64>) -> Attempt<i64> {
    Ok(work
        .prepare_cached(
            "INSERT INTO journal (uuid, kind, made, who, reason, reverses, active)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        )?
        .insert((
            &theirs.uuid,
            &theirs.kind,
            &theirs.made,
            &theirs.who,
            &theirs.reason,
            reverses,
            theirs.active,
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

/// A new undo: what it reverses is in force here as it is there, down to the end of a chain of undos.
fn adopt(
    work: &Connection,
    other: &Connection,
    here: &HashMap<i64, i64>,
    mut reversed: Option<i64>,
    touched: &mut Vec<i64>,
) -> Attempt<()> {
    while let Some(theirs) = reversed {
        let Some(ours) = here.get(&theirs) else { break };
        let (active, next): (bool, Option<i64>) = other
            .prepare_cached("SELECT active, reverses FROM journal WHERE id = ?1")?
            .query_row([theirs], |row| Ok((row.get(0)?, row.get(1)?)))?;
        work.prepare_cached("UPDATE journal SET active = ?2 WHERE id = ?1")?
            .execute((ours, active))?;
        touched.push(*ours);
        reversed = next.filter(|next| *next < theirs);
    }
    Ok(())
}

/// Properties that an added change and one of this store amend differently.
fn conflicts(work: &Connection, change: i64, added: &[i64]) -> Attempt<Vec<String>> {
    let mut statement = work.prepare_cached(
        "SELECT b.change_id, a.property, a.after, b.after, f.record_number, coalesce(e.value, a.after)
         FROM amendments a JOIN journal ja ON ja.id = a.change_id AND ja.active
         JOIN amendments b ON b.find_uuid = a.find_uuid AND b.property = a.property
           AND b.change_id != a.change_id AND b.patch != a.patch
         JOIN journal jb ON jb.id = b.change_id AND jb.active
         JOIN finds f ON f.uuid = a.find_uuid
         LEFT JOIN amended e ON e.find_id = f.id AND e.property = a.property
         WHERE a.change_id = ?1 AND a.property NOT IN ('photographs', 'determination') ORDER BY b.id",
    )?;
    let mut rows = statement.query([change])?;
    let mut conflicts = Vec::new();
    while let Some(row) = rows.next()? {
        let ours: i64 = row.get(0)?;
        if added.contains(&ours) {
            continue;
        }
        let property: String = row.get(1)?;
        let (there, here): (String, String) = (row.get(2)?, row.get(3)?);
        let number: Option<String> = row.get(4)?;
        let in_force: String = row.get(5)?;
        conflicts.push(format!(
            "{} {property}: {here} here (change {ours}), {there} there (change {change}); in force is the one made \
             later: {in_force}",
            number.unwrap_or_else(|| "a find".to_owned())
        ));
    }
    Ok(conflicts)
}
