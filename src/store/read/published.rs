//! Reads and writes what outputs for others have disclosed about each find, so that several outputs
//! together disclose no more than each may alone. Layer: `store`.

use std::collections::HashMap;

use jiff::Timestamp;
use rusqlite::{Connection, TransactionBehavior};
use uuid::Uuid;

use crate::error::{Result, StoreFault};
use crate::model::{GridCell, Published, Sensitivity};
use crate::store::fault::Attempt;
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::store::{Store, words};
use crate::units::LatLon;

/// The word for a find that was given exactly.
const EXACT: &str = "exact";

impl Store {
    /// Everything published, by find, the earliest first.
    ///
    /// Every output for others reads it first: a later cell must not narrow down an earlier one.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn published(&self) -> Result<HashMap<Uuid, Vec<Published>>> {
        published(&self.connection).map_err(|fault| fault.tell(&self.path))
    }

    /// Adds records of what is about to be published.
    ///
    /// Called before the output is written: what is not recorded must not leave.
    ///
    /// # Errors
    /// When there is something new and the store cannot be written.
    pub fn record_published(&mut self, published: &[Published], now: Timestamp) -> Result<()> {
        let path = self.path.clone();
        let known = self.published()?;
        let is_known = |one: &Published| known.get(&one.find).is_some_and(|all| all.contains(one));
        if published.iter().all(is_known) {
            return Ok(());
        }
        self.may_be_changed().map_err(|_| StoreFault::OutputNotRecorded.at(&path))?;
        record(&mut self.connection, published, &words::instant(now))
            .map_err(|fault| fault.tell(&path))
    }

    /// Releases a find from the level at which it was published and from rules for taxa whose names it no longer
    /// has, and returns whether there was any.
    ///
    /// The next output may then state it more exactly. Its cells stay recorded. A rule that matches its present
    /// name applies on.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn release_published(&mut self, find: Uuid) -> Result<bool> {
        self.may_be_changed()?;
        release(&mut self.connection, find).map_err(|fault| fault.tell(&self.path))
    }
}

fn release(connection: &mut Connection, find: Uuid) -> Attempt<bool> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let find = find.to_string();
    let published = work.execute(
        "UPDATE OR REPLACE published SET rule = '' WHERE find_uuid = ?1 AND rule != ''",
        [&find],
    )?;
    let bound = work.execute(
        "DELETE FROM sensitivity_bound WHERE find_uuid = ?1
         AND rule_id IN (SELECT id FROM sensitivity_rules WHERE subject = 'taxon')",
        [&find],
    )?;
    work.commit()?;
    Ok(published + bound > 0)
}

fn published(connection: &Connection) -> Attempt<HashMap<Uuid, Vec<Published>>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, find_uuid, level, latitude, longitude, latitude_step, longitude_step, rule
         FROM published ORDER BY id",
    )?;
    let mut rows = statement.query([])?;
    let mut published: HashMap<Uuid, Vec<Published>> = HashMap::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "published", row: cells.next()? };
        let find = cell.uuid(&cells.next::<String>()?)?;
        let level = level(cell, &cells.next::<String>()?)?;
        let (latitude, longitude) = (cells.next()?, cells.next()?);
        let (latitude_step, longitude_step): (f64, f64) = (cells.next()?, cells.next()?);
        let rule = Some(cells.next::<String>()?).filter(|rule| !rule.is_empty());
        let at = LatLon::clamped(latitude, longitude);
        let square =
            (latitude_step > 0.0).then_some(GridCell { at, latitude_step, longitude_step });
        published.entry(find).or_default().push(Published { find, level, cell: square, rule });
    }
    Ok(published)
}

fn level(cell: Cell, word: &str) -> Attempt<Option<Sensitivity>> {
    if word == EXACT { Ok(None) } else { cell.word(word).map(Some) }
}

fn record(connection: &mut Connection, published: &[Published], now: &str) -> Attempt<()> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    {
        let mut insert = work.prepare_cached(
            "INSERT OR IGNORE INTO published
             (find_uuid, level, latitude, longitude, latitude_step, longitude_step, rule, first_time)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        )?;
        for one in published {
            let level = one.level.map_or(EXACT, Sensitivity::word);
            let at = one.cell.map_or((0.0, 0.0), |c| (c.at.latitude(), c.at.longitude()));
            let steps = one.cell.map_or((0.0, 0.0), |c| (c.latitude_step, c.longitude_step));
            insert.execute((
                one.find.to_string(),
                level,
                at.0,
                at.1,
                steps.0,
                steps.1,
                one.rule.as_deref().unwrap_or_default(),
                now,
            ))?;
        }
    }
    work.commit()?;
    Ok(())
}
