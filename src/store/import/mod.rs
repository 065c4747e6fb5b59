//! Imports a day into the store as new, unchanged or corrected, in one transaction. Earlier
//! versions of a find are kept; finds that an import no longer contains are marked as withdrawn,
//! not deleted. Layer: `store`.
//!
//! # What one transaction holds
//! Edits of other programs that are not yet taken in; the bindings of sensitivity rules before and after; every day
//! with its sources, fixes, track, stops, photographs, cameras, finds and reports; the journal's entry with an
//! archive of each outing as it was; the amendments applied again on top; the summaries for analyses over years;
//! extents and times of the layers. A failure in any of it leaves the file unchanged.
//!
//! # What decides whether something is written
//! A fingerprint over everything that an import would store. The same one: nothing but moved paths is written. A
//! part of the files of a day whose others still exist: nothing, with a note. Records without a track for an outing
//! that has one: the records are updated and the positions kept.

mod difference;
pub(in crate::store) mod find_row;
mod finds;
mod fingerprint;
mod outing;
mod pictures;
mod reports;
mod sources;
mod track;
mod used_numbers;

use std::collections::HashSet;

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, TransactionBehavior};
use serde::Serialize;
use uuid::Uuid;

use super::amend::{self, Lifted, archive, lay_outing, lift_outing};
use super::fault::Attempt;
use super::{Store, brief, layers, sensitivity, words};
use crate::error::Result;
use crate::model::{Day, ImportNote};

/// The result of an import.
///
/// Says for each outing what changed, find by find, so that a correction can be checked against the notebook.
/// Undated outings are not stored and not in it.
#[derive(Clone, Debug, Default, Serialize)]
#[non_exhaustive]
pub struct Imported {
    /// One for each outing, in the order given.
    pub days: Vec<ImportedDay>,
}

impl Imported {
    /// Whether the store is as it was before.
    #[must_use]
    pub fn changed_nothing(&self) -> bool {
        self.days.iter().all(|day| day.outcome == Outcome::Unchanged)
    }
}

/// The result of an import for one outing.
///
/// `finds_corrected` and `finds_moved` exclude each other: the first have another record, the second only another
/// position.
#[derive(Clone, Debug, Serialize)]
#[non_exhaustive]
pub struct ImportedDay {
    /// The outing, with its identifier in the store.
    pub outing: Uuid,
    /// The date on which it began.
    pub date: Date,
    /// In one word.
    pub outcome: Outcome,
    /// Finds that the store did not have.
    pub finds_new: usize,
    /// Finds that are as they were.
    pub finds_unchanged: usize,
    /// Finds whose record was corrected: which, and what changed.
    pub finds_corrected: Vec<Correction>,
    /// Finds with an unchanged record but a new position.
    pub finds_moved: Vec<String>,
    /// Finds that a corrected file of records no longer has.
    pub finds_withdrawn: Vec<String>,
    /// Notes.
    pub notes: Vec<ImportNote>,
}

/// A find whose record was corrected.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Correction {
    /// Its number, or its name, or its line.
    pub find: String,
    /// What changed: `scientific name`, `host`.
    pub changed: Vec<String>,
    /// How often it was corrected by now.
    pub revision: u32,
}

/// The result for an outing, in one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Outcome {
    /// It is new.
    New,
    /// It was already imported, without changes.
    Unchanged,
    /// It was updated.
    Updated,
}

impl ImportedDay {
    fn of(outing: Uuid, date: Date, outcome: Outcome) -> Self {
        Self {
            outing,
            date,
            outcome,
            finds_new: 0,
            finds_unchanged: 0,
            finds_corrected: Vec::new(),
            finds_moved: Vec::new(),
            finds_withdrawn: Vec::new(),
            notes: Vec::new(),
        }
    }

    fn unchanged(known: &outing::Known, day: &Day) -> Self {
        let mut reported = Self::of(known.uuid, day.outing.date, Outcome::Unchanged);
        reported.finds_unchanged = day.finds.len();
        reported
    }
}

impl Store {
    /// Imports these days: all of them or, on any failure, none. Undated ones are ignored, since a
    /// store is organised by date.
    ///
    /// A day that the store has already is recognised by its outing, by a track that both share, or
    /// by its finds; if nothing differs, nothing is written. Otherwise its finds are updated, each
    /// keeping the replaced version ([`Store::history`]); a find that a corrected file of records
    /// left out is marked as withdrawn.
    ///
    /// Edits that another program made meanwhile are taken in first. Amendments of the user stay in force on top of
    /// what the import states; where they disagree a note says so.
    ///
    /// # Errors
    /// When the store is in use, read-only or damaged, or the disk is full. Nothing is stored then.
    ///
    /// # Examples
    /// See the example of the [crate root](crate).
    pub fn import(&mut self, days: &[Day], now: Timestamp) -> Result<Imported> {
        self.may_be_changed()?;
        let path = self.path.clone();
        import(&mut self.connection, days, now).map_err(|fault| fault.tell(&path))
    }
}

fn import(connection: &mut Connection, days: &[Day], now: Timestamp) -> Attempt<Imported> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let mut session = Session {
        now: words::instant(now),
        given: days.iter().map(|day| day.outing.id).collect(),
        taken: HashSet::new(),
        change: None,
    };
    amend::absorb_within(&work)?;
    sensitivity::bind(&work)?;
    let mut imported = Imported::default();
    for day in days.iter().filter(|day| day.outing.dated().is_some()) {
        imported.days.push(session.keep(&work, day)?);
    }
    sensitivity::bind(&work)?;
    if imported.changed_nothing() {
        // Paths may have been updated; the layers are unchanged.
        work.commit()?;
        return Ok(imported);
    }
    layers::refresh(&work, &session.now)?;
    amend::end_own(&work)?;
    work.commit()?;
    Ok(imported)
}

/// One import.
struct Session {
    now: String,
    /// The outings that this import brings.
    given: HashSet<Uuid>,
    /// Outings of the store matched to a day of this import.
    taken: HashSet<i64>,
    /// The number of this import in the journal, once it changes something.
    change: Option<i64>,
}

impl Session {
    /// The number of this import in the journal, written when it first changes something.
    fn change(&mut self, work: &Connection) -> Attempt<i64> {
        if let Some(change) = self.change {
            return Ok(change);
        }
        amend::begin_own(work)?;
        let change = amend::note_import(work, &self.now)?;
        self.change = Some(change);
        Ok(change)
    }

    fn keep(&mut self, work: &Connection, day: &Day) -> Attempt<ImportedDay> {
        let fingerprint = fingerprint::of(day)?;
        let known = self.recognise(work, day)?;
        let Some(known) = known else {
            let change = self.change(work)?;
            archive::note_new(work, change, day)?;
            let key = outing::write(work, None, day, &fingerprint, &self.now)?;
            self.taken.insert(key);
            let reported = ImportedDay::of(day.outing.id, day.outing.date, Outcome::New);
            return Update {
                work,
                day,
                outing: key,
                now: &self.now,
                records_only: false,
                kept_places: HashSet::new(),
                lifted: Lifted::default(),
                reported,
            }
            .run();
        };
        self.taken.insert(known.key);
        if known.fingerprint == fingerprint {
            sources::refresh_paths(work, known.key, day)?;
            return Ok(ImportedDay::unchanged(&known, day));
        }
        if let Some(note) = sources::only_a_part(work, known.key, day)? {
            let mut reported = ImportedDay::unchanged(&known, day);
            reported.notes.push(note);
            return Ok(reported);
        }
        let records_only = day.track.is_empty() && track::has_track(work, known.key)?;
        let reported = ImportedDay::of(known.uuid, day.outing.date, Outcome::Updated);
        let change = self.change(work)?;
        let lifted = lift_outing(work, known.key)?;
        archive::keep(work, change, known.key)?;
        outing::write(work, Some((&known, records_only)), day, &fingerprint, &self.now)?;
        Update {
            work,
            day,
            outing: known.key,
            now: &self.now,
            records_only,
            kept_places: HashSet::new(),
            lifted,
            reported,
        }
        .run()
    }
}

/// One outing being imported.
struct Update<'a> {
    work: &'a Connection,
    day: &'a Day,
    outing: i64,
    now: &'a str,
    /// Whether the day has no track while the store has one: then that track and its positions are
    /// kept.
    records_only: bool,
    /// The keys of finds whose position is kept for that.
    kept_places: HashSet<i64>,
    /// What was amended before.
    lifted: Lifted,
    reported: ImportedDay,
}

impl Update<'_> {
    fn run(mut self) -> Attempt<ImportedDay> {
        let sources = sources::write(self.work, self.outing, self.day, self.now)?;
        if !self.records_only {
            track::write(self.work, self.outing, self.day, &sources.keys)?;
        }
        let photos = pictures::write(self.work, self.outing, self.day)?;
        let finds = self.write_finds(&sources, &photos)?;
        self.write_reports(&finds)?;
        let conflicts = lay_outing(self.work, self.outing, &self.lifted)?;
        self.reported.notes.extend(conflicts);
        brief::renew(self.work, self.outing)?;
        self.reported.notes.extend(sources.notes);
        Ok(self.reported)
    }
}
