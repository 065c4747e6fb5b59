//! Reads earlier versions of a find. Layer: `store`.

use jiff::Timestamp;
use rusqlite::Connection;
use serde::Serialize;
use uuid::Uuid;

use crate::error::Result;
use crate::model::Record;
use crate::store::Store;
use crate::store::fault::Attempt;
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::units::{LatLon, Metres, Radius95};

/// A version of a find that was replaced.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct FindRevision {
    /// How often its record had been corrected until then: 0 is as first imported.
    pub revision: u32,
    /// When it was replaced.
    pub replaced: Timestamp,
    /// What differs in the version that followed: `name, host, position`.
    pub what_changed: String,
    /// What was written.
    pub record: Record,
    /// Its position then.
    pub place: Option<(LatLon, Radius95)>,
    /// The file it came from, as a path, and that file's hash.
    pub source: Option<(String, String)>,
}

impl Store {
    /// The versions of a find that were replaced, the oldest first; empty when it never changed.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn history(&self, find: Uuid) -> Result<Vec<FindRevision>> {
        history(&self.connection, find).map_err(|fault| fault.tell(&self.path))
    }
}

fn history(connection: &Connection, find: Uuid) -> Attempt<Vec<FindRevision>> {
    let mut statement = connection.prepare_cached(
        "SELECT h.id, h.revision, h.replaced, h.what_changed, h.record, h.latitude, h.longitude,
            h.radius95_m, h.source_name, h.source_hash
         FROM find_history h JOIN finds f ON f.id = h.find_id WHERE f.uuid = ?1 ORDER BY h.id",
    )?;
    let mut rows = statement.query([find.to_string()])?;
    let mut versions = Vec::new();
    while let Some(row) = rows.next()? {
        versions.push(revision(&mut Cells::of(row))?);
    }
    Ok(versions)
}

fn revision(cells: &mut Cells<'_>) -> Attempt<FindRevision> {
    let cell = Cell { table: "find_history", row: cells.next()? };
    let revision = cells.next()?;
    let replaced = cell.instant(&cells.next::<String>()?)?;
    let what_changed = cells.next()?;
    let record = cell.json(&cells.next::<String>()?)?;
    let (latitude, longitude): (Option<f64>, Option<f64>) = (cells.next()?, cells.next()?);
    let radius = cells.next::<Option<f64>>()?.and_then(|radius| Radius95::new(Metres(radius)));
    let at = latitude.zip(longitude).and_then(|(lat, lon)| LatLon::new(lat, lon).ok());
    let source = cells.next::<Option<String>>()?.zip(cells.next::<Option<String>>()?);
    Ok(FindRevision { revision, replaced, what_changed, record, place: at.zip(radius), source })
}
