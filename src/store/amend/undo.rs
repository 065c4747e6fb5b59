//! Reverses changes of the journal, removes outings so that they can be restored, and deletes archives
//! for good. Layer: `store`.
//!
//! Undoing an undo puts the change in force again. An import is undone by putting the archived outings back, which
//! is refused while a later import of the same outing is in force.

use rusqlite::Connection;
use uuid::Uuid;

use super::{archive, journal, lay, lift_outing, relay};
use crate::error::{ChangeFault, Error};
use crate::model::{AmendedSubject, Authored, Change, ChangeKind};
use crate::store::fault::{Attempt, Fault};
use crate::store::layers;
use crate::store::read::tracks;
use crate::store::words;

/// A reversed change.
#[derive(Clone, Debug)]
pub struct Undone {
    /// The number of the undo in the journal.
    pub id: i64,
    /// What it reversed.
    pub reversed: Change,
    /// Another undo, made in a store that was merged, for which the change that should be in force again stays
    /// reversed.
    pub still_reversed_by: Option<i64>,
}

/// Removes outings, keeping each as it is.
pub(super) fn remove(work: &Connection, outings: &[Uuid], authored: &Authored) -> Attempt<i64> {
    let change = journal::add(work, ChangeKind::Removal, authored, None)?;
    for outing in outings {
        let Some(key) = tracks::key(work, *outing)? else {
            return Err(Error::from(ChangeFault::NoOuting { outing: *outing }).into());
        };
        let lifted = lift_outing(work, key)?;
        archive::keep(work, change, key)?;
        archive::delete(work, key)?;
        relay_lifted(work, &lifted.finds)?;
    }
    layers::refresh(work, &words::instant(authored.made))?;
    Ok(change)
}

/// Finds of other outings that had been moved to one that is gone.
fn relay_lifted(work: &Connection, finds: &[i64]) -> Attempt<()> {
    for find in finds {
        let there: bool = work
            .prepare_cached("SELECT EXISTS (SELECT 1 FROM finds WHERE id = ?1)")?
            .query_row([find], |row| row.get(0))?;
        if there {
            lay::relay_find(work, *find)?;
        }
    }
    Ok(())
}

pub(super) fn undo(work: &Connection, change: Option<i64>, authored: &Authored) -> Attempt<Undone> {
    let reversed = target(work, change)?;
    let archives = archives(work, reversed.id)?;
    refuse_lost(&reversed, &archives)?;
    for archive in &archives {
        refuse_later(work, reversed.id, archive)?;
    }
    let id = journal::add(work, ChangeKind::Undo, authored, Some(reversed.id))?;
    journal::settle(work, id)?;
    for archive in &archives {
        swap(work, id, archive)?;
    }
    let subjects = journal::subjects(work, journal::root(work, reversed.id)?)?;
    relay(work, &subjects.iter().collect::<Vec<&AmendedSubject>>())?;
    if !archives.is_empty() {
        layers::refresh(work, &words::instant(authored.made))?;
    }
    let still_reversed_by = match reversed.reverses {
        Some(earlier) => reversing(work, earlier)?,
        None => None,
    };
    Ok(Undone { id, reversed, still_reversed_by })
}

/// The change to reverse.
fn target(work: &Connection, change: Option<i64>) -> Attempt<Change> {
    let id = match change {
        Some(id) => Some(id),
        None => work
            .prepare_cached("SELECT max(id) FROM journal WHERE active AND kind != 'undo'")?
            .query_row([], |row| row.get(0))?,
    };
    let Some(id) = id else {
        return Err(Error::from(ChangeFault::NothingToUndo).into());
    };
    let Some(found) = journal::read(work, &journal::Which::One(id))?.into_iter().next() else {
        return Err(Error::from(ChangeFault::NoChange { change: id }).into());
    };
    if found.active {
        return Ok(found);
    }
    let by = reversing(work, id)?.unwrap_or(id);
    Err(Error::from(ChangeFault::UndoneAlready { change: id, by }).into())
}

/// The last undo in force that reverses a change.
fn reversing(work: &Connection, change: i64) -> Attempt<Option<i64>> {
    Ok(work
        .prepare_cached("SELECT max(id) FROM journal WHERE reverses = ?1 AND active")?
        .query_row([change], |row| row.get(0))?)
}

/// An archived outing of a change.
struct Archive {
    key: i64,
    outing: Uuid,
    compacted: bool,
}

fn archives(work: &Connection, change: i64) -> Attempt<Vec<Archive>> {
    let mut statement = work.prepare_cached(
        "SELECT id, outing_uuid, packed IS NOT NULL AND length(packed) = 0
         FROM archived_outings WHERE change_id = ?1 ORDER BY id",
    )?;
    let mut rows = statement.query([change])?;
    let mut archives = Vec::new();
    while let Some(row) = rows.next()? {
        let key = row.get(0)?;
        let cell = words::Cell { table: "archived_outings", row: key };
        let outing = cell.uuid(&row.get::<_, String>(1)?)?;
        archives.push(Archive { key, outing, compacted: row.get(2)? });
    }
    Ok(archives)
}

fn refuse_lost(change: &Change, archives: &[Archive]) -> Attempt<()> {
    if archives.iter().any(|archive| archive.compacted) {
        return Err(Error::from(ChangeFault::Compacted { change: change.id }).into());
    }
    Ok(())
}

/// Later changes of the same outing must be reversed first; those that were, with what reversed them,
/// do not count.
fn refuse_later(work: &Connection, change: i64, archive: &Archive) -> Attempt<()> {
    let mut later: Vec<(i64, Option<i64>)> = work
        .prepare_cached(
            "SELECT j.id, j.reverses FROM archived_outings a JOIN journal j ON j.id = a.change_id
             WHERE a.outing_uuid = ?1 AND j.id > ?2 ORDER BY j.id",
        )?
        .query_map((archive.outing.to_string(), change), |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let mut blocking = None;
    while let Some((id, reverses)) = later.pop() {
        let pair = later.iter().position(|(other, _)| Some(*other) == reverses);
        match pair {
            Some(pair) => {
                later.remove(pair);
            }
            None => blocking = blocking.or(Some(id)),
        }
    }
    match blocking {
        None => Ok(()),
        Some(later) => Err(Error::from(ChangeFault::LaterChange { change, later }).into()),
    }
}

/// Puts an archived outing in the place of the present one, which is kept with the undo.
fn swap(work: &Connection, undo: i64, archive: &Archive) -> Attempt<()> {
    let lifted = if let Some(key) = tracks::key(work, archive.outing)? {
        let lifted = lift_outing(work, key)?;
        archive::keep(work, undo, key)?;
        archive::delete(work, key)?;
        lifted
    } else {
        archive::keep_absence(work, undo, archive.key)?;
        super::Lifted::default()
    };
    match archive::restore(work, archive.key)? {
        Some(key) => lay::lay_outing(work, key, &lifted).map(drop),
        None => relay_lifted(work, &lifted.finds),
    }
}

/// Deletes archived outings and gives the space back.
pub(super) fn compact(connection: &mut Connection) -> Attempt<usize> {
    let count = connection.execute(
        "UPDATE archived_outings SET packed = x'' WHERE packed IS NOT NULL AND length(packed) > 0",
        [],
    )?;
    connection.execute_batch("VACUUM").map_err(Fault::from)?;
    Ok(count)
}
