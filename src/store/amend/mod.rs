//! Corrections by the user: amendments on top of imports, the journal of all changes, undo, removal.
//! Amendments are rows of their own; the rows that they change are kept as imported beside, so that
//! an amendment survives the next import and can be reversed exactly. Layer: `store`.
//!
//! # Order
//! The value in force is always the row as imported with the amendments in force applied in the order of the
//! journal: clocks of cameras; written values, identification and collector; outing, time and photographs; the
//! position; withdrawn or not. Of two amendments of one property the later one counts. `docs/corrections.md`
//! describes it for users.
//!
//! # What one transaction holds
//! Edits of other programs first, then the change with its amendments, the rows that follow from it, and the
//! bindings of sensitivity rules before and after: a find is as sensitive as the strictest of what it was and what
//! it is.
//!
//! # References
//! Order of changes: Kulkarni and others 2014 (see `docs/corrections.md`).

pub(super) mod archive;
mod base;
mod camera;
mod deleted;
mod edited;
mod evidence;
mod far;
mod fold;
mod gis;
pub(super) mod journal;
mod lay;
pub(in crate::store) mod number;
mod on_track;
mod text;
mod undo;

use std::collections::HashSet;

use jiff::Timestamp;
use jiff::tz::TimeZone;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};
use uuid::Uuid;

use super::fault::{Attempt, Fault};
use super::{Store, layers, sensitivity, words};
use crate::error::{ChangeFault, Result};
use crate::model::{AmendedSubject, Anchor, Authored, Change, ChangeKind, Patch};
use crate::units::Seconds;

pub(super) use base::{Lifted, lift_outing};
pub(super) use gis::{absorb, absorb_within};
pub(super) use journal::note_import;
pub(super) use lay::lay_outing;
pub use number::NumberQuery;
pub use undo::Undone;

impl Store {
    /// Writes amendments as one change and applies them at once; returns the number of the change.
    /// All or nothing.
    ///
    /// Does not judge whether a correction is sensible; the command does that before, with [`Store::too_far`] among
    /// others.
    ///
    /// # Errors
    /// When a subject is not in the store, or when the store cannot be written.
    ///
    /// # Examples
    /// ```no_run
    /// use trug::model::{AmendedSubject, Authored, Patch, TextProperty};
    /// use trug::store::{NumberQuery, Store};
    /// use trug::units::Timestamp;
    ///
    /// let mut store = Store::create_or_open("my.gpkg".as_ref())?;
    /// let query = NumberQuery { number: "TH-0017".into(), day: None, collector: None };
    /// let find = &store.finds_of_number(&query)?[0];
    /// let host = Some("Nothofagus cunninghamii".to_owned());
    /// let patch = Patch::Text { property: TextProperty::Host, value: host };
    /// let authored = Authored {
    ///     who: Some("T. Hale".into()),
    ///     made: Timestamp::now(),
    ///     reason: Some("misread".into()),
    /// };
    /// let change = store.amend(&[(AmendedSubject::Find(find.id), patch)], &authored)?;
    /// store.undo(Some(change), &authored)?;
    /// # Ok::<(), trug::error::Error>(())
    /// ```
    pub fn amend(
        &mut self,
        amendments: &[(AmendedSubject, Patch)],
        authored: &Authored,
    ) -> Result<i64> {
        self.may_be_changed()?;
        let path = self.path.clone();
        changing(&mut self.connection, authored.made, |work| {
            write(work, (Uuid::new_v4(), ChangeKind::Amendment), amendments, authored)
        })
        .map_err(|fault| fault.tell(&path))
    }

    /// Removes outings with all that belongs to them. They can be restored by undoing the change.
    ///
    /// Each is packed into the journal with all its rows first. Sensitivity rules, and what was published of its finds,
    /// stay.
    ///
    /// # Errors
    /// When an outing is not in the store, or when the store cannot be written.
    pub fn remove_outings(&mut self, outings: &[Uuid], authored: &Authored) -> Result<i64> {
        self.may_be_changed()?;
        let path = self.path.clone();
        changing(&mut self.connection, authored.made, |work| undo::remove(work, outings, authored))
            .map_err(|fault| fault.tell(&path))
    }

    /// Reverses a change, or the last one that can be reversed; see `docs/corrections.md`.
    ///
    /// Gives exactly the rows that there were. An undo is itself a change, and can be undone.
    ///
    /// # Errors
    /// When there is no such change, it is reversed already, a later import of the same outing must be
    /// reversed first, or the store cannot be written.
    pub fn undo(&mut self, change: Option<i64>, authored: &Authored) -> Result<Undone> {
        self.may_be_changed()?;
        let path = self.path.clone();
        changing(&mut self.connection, authored.made, |work| undo::undo(work, change, authored))
            .map_err(|fault| fault.tell(&path))
    }

    /// Deletes archived outings for good, so that the file shrinks; returns how many there were.
    ///
    /// Afterwards removals and imports before now can no longer be undone. Amendments and the journal stay.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn compact(&mut self) -> Result<usize> {
        self.may_be_changed()?;
        let path = self.path.clone();
        undo::compact(&mut self.connection).map_err(|fault| fault.tell(&path))
    }

    /// All changes of the journal in the order in which they count, which survives a clock that was set back.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn changes(&self) -> Result<Vec<Change>> {
        journal::read(&self.connection, &journal::Which::All)
            .map_err(|fault| fault.tell(&self.path))
    }

    /// The changes of a find and of its outing, and what reversed them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn changes_of(&self, find: Uuid, outing: Uuid) -> Result<Vec<Change>> {
        journal::read(&self.connection, &journal::Which::Of { find, outing })
            .map_err(|fault| fault.tell(&self.path))
    }

    /// The change with this number.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn change(&self, id: i64) -> Result<Option<Change>> {
        let found = journal::read(&self.connection, &journal::Which::One(id));
        Ok(found.map_err(|fault| fault.tell(&self.path))?.into_iter().next())
    }

    /// All evidence of a find's position, used or not.
    ///
    /// What disagreed with the position is kept as well, so that a doubt can be settled later.
    ///
    /// # Errors
    /// When the store has no such find or cannot be read.
    pub fn anchors(&self, find: Uuid) -> Result<Vec<Anchor>> {
        find_key(&self.connection, find)
            .and_then(|key| super::read::day::anchors(&self.connection, key))
            .map_err(|fault| fault.tell(&self.path))
    }

    /// The zone of an outing; UTC where the store does not have it.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn zone(&self, outing: Uuid) -> Result<TimeZone> {
        let zone = super::read::tracks::key(&self.connection, outing)
            .and_then(|key| text::zone_of(&self.connection, key.unwrap_or_default()));
        zone.map_err(|fault| fault.tell(&self.path))
    }

    /// The names of the photographs of an outing, and those that show a find.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn photograph_names(&self, outing: Uuid) -> Result<Vec<String>> {
        names(
            &self.connection,
            "SELECT p.name FROM photographs p JOIN outings o ON o.id = p.outing_id
             WHERE o.uuid = ?1 ORDER BY p.place, p.id",
            outing,
        )
        .map_err(|fault| fault.tell(&self.path))
    }

    /// The clock of a camera on an outing, the reading less local time, where an amendment states it.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn amended_clock(&self, outing: Uuid, camera: &str) -> Result<Option<Seconds>> {
        let patches = journal::patches_of_camera(&self.connection, &outing.to_string(), camera);
        let last = patches.map_err(|fault| fault.tell(&self.path))?.pop();
        Ok(last.and_then(|(_, patch)| match patch {
            Patch::CameraClock(ahead) => Some(ahead),
            _ => None,
        }))
    }

    /// The names of the cameras of an outing.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn camera_names(&self, outing: Uuid) -> Result<Vec<String>> {
        names(
            &self.connection,
            "SELECT c.camera FROM cameras c JOIN outings o ON o.id = c.outing_id
             WHERE o.uuid = ?1 ORDER BY c.place, c.id",
            outing,
        )
        .map_err(|fault| fault.tell(&self.path))
    }
}

fn names(connection: &Connection, select: &str, outing: Uuid) -> Attempt<Vec<String>> {
    let names = connection
        .prepare_cached(select)?
        .query_map([outing.to_string()], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    Ok(names)
}

/// One transaction: edits by other programs first, then the change; sensitivity rules are bound before
/// and after.
pub(super) fn changing<T>(
    connection: &mut Connection,
    now: Timestamp,
    change: impl FnOnce(&Connection) -> Attempt<T>,
) -> Attempt<T> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    absorb_within(&work)?;
    begin_own(&work)?;
    sensitivity::bind(&work)?;
    let done = change(&work)?;
    sensitivity::bind(&work)?;
    layers::touch(&work, &words::instant(now))?;
    end_own(&work)?;
    work.commit()?;
    Ok(done)
}

/// Until [`end_own`], within one transaction, edits are not those of another program.
pub(super) fn begin_own(work: &Connection) -> Attempt<()> {
    work.prepare_cached("INSERT OR IGNORE INTO own_change VALUES (1)")?.execute([])?;
    Ok(())
}

pub(super) fn end_own(work: &Connection) -> Attempt<()> {
    work.prepare_cached("DELETE FROM own_change")?.execute([])?;
    Ok(())
}

/// Writes a change and applies it.
fn write(
    work: &Connection,
    (uuid, kind): (Uuid, ChangeKind),
    amendments: &[(AmendedSubject, Patch)],
    authored: &Authored,
) -> Attempt<i64> {
    let change = journal::add_as(work, uuid, kind, authored, None)?;
    for (subject, patch) in amendments {
        let before = match subject {
            AmendedSubject::Find(find) => text::in_force(work, find_key(work, *find)?, patch)?,
            AmendedSubject::Camera { outing, camera } => clock_in_force(work, *outing, camera)?,
        };
        let after = text::of_patch(work, patch)?;
        journal::add_line(work, change, subject, patch, before.as_deref(), &after)?;
    }
    let subjects: Vec<&AmendedSubject> = amendments.iter().map(|(subject, _)| subject).collect();
    relay(work, &subjects)?;
    Ok(change)
}

/// Applies the amendments of these subjects again.
pub(super) fn relay(work: &Connection, subjects: &[&AmendedSubject]) -> Attempt<()> {
    let mut done = HashSet::new();
    for subject in subjects.iter().copied().filter(|subject| done.insert(*subject)) {
        match subject {
            AmendedSubject::Find(find) => {
                let key = find_key_if_there(work, *find)?;
                if let Some(key) = key {
                    lay::relay_find(work, key)?;
                    layers::extend_finds(work, key)?;
                }
            }
            AmendedSubject::Camera { outing, .. } => {
                if let Some(key) = super::read::tracks::key(work, *outing)? {
                    let lifted = lift_outing(work, key)?;
                    lay_outing(work, key, &lifted)?;
                    for find in &lifted.finds {
                        layers::extend_finds(work, *find)?;
                    }
                }
            }
        }
    }
    Ok(())
}

fn clock_in_force(work: &Connection, outing: Uuid, camera: &str) -> Attempt<Option<String>> {
    let ahead: Option<Option<f64>> = work
        .prepare_cached(
            "SELECT c.ahead_s FROM cameras c JOIN outings o ON o.id = c.outing_id
             WHERE o.uuid = ?1 AND c.camera = ?2",
        )?
        .query_row((outing.to_string(), camera), |row| row.get(0))
        .optional()?;
    Ok(ahead.flatten().map(text::ahead_text))
}

fn find_key(work: &Connection, find: Uuid) -> Attempt<i64> {
    find_key_if_there(work, find)?.ok_or_else(|| Fault::Ready(ChangeFault::NoFind { find }.into()))
}

fn find_key_if_there(work: &Connection, find: Uuid) -> Attempt<Option<i64>> {
    Ok(work
        .prepare_cached("SELECT id FROM finds WHERE uuid = ?1")?
        .query_row([find.to_string()], |row| row.get(0))
        .optional()?)
}

/// An outing in words.
fn outing_text(work: &Connection, uuid: &str) -> Attempt<Option<String>> {
    let key: Option<i64> = work
        .prepare_cached("SELECT id FROM outings WHERE uuid = ?1")?
        .query_row([uuid], |row| row.get(0))
        .optional()?;
    key.map_or(Ok(None), |key| outing_text_by_key(work, key))
}

fn outing_text_by_key(work: &Connection, key: i64) -> Attempt<Option<String>> {
    let found: Option<(String, Option<String>)> = work
        .prepare_cached("SELECT date, collector FROM outings WHERE id = ?1")?
        .query_row([key], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    Ok(found.map(|(date, collector)| match collector {
        Some(collector) => format!("{date}, {collector}"),
        None => date,
    }))
}
