//! Reads where the track of each outing came from, and which outings an import declined to associate with a track.
//! Layer: `store`.

use std::collections::{HashMap, HashSet};
use std::path::PathBuf;

use uuid::Uuid;

use crate::error::Result;
use crate::store::Store;
use crate::store::fault::Attempt;
use crate::store::words::Cell;

const FILES: &str = "SELECT o.id, o.uuid, s.path FROM fixes x JOIN sources s ON s.id = x.source_id
    JOIN outings o ON o.id = s.outing_id ORDER BY o.id, s.place DESC";
const REFUSED: &str =
    "SELECT DISTINCT o.id, o.uuid, NULL FROM reports r JOIN outings o ON o.id = r.outing_id
    WHERE r.kind = 'association'";

impl Store {
    /// The first file of the track of each outing that has one.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn track_files(&self) -> Result<HashMap<Uuid, PathBuf>> {
        let rows = self.by_outing(FILES).map_err(|fault| fault.tell(&self.path))?;
        Ok(rows.into_iter().filter_map(|(id, path)| Some((id, PathBuf::from(path?)))).collect())
    }

    /// The outings of which an import declined to associate records or photographs with a track.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn not_associated(&self) -> Result<HashSet<Uuid>> {
        let rows = self.by_outing(REFUSED).map_err(|fault| fault.tell(&self.path))?;
        Ok(rows.into_iter().map(|(id, _)| id).collect())
    }

    fn by_outing(&self, select: &str) -> Attempt<Vec<(Uuid, Option<String>)>> {
        let mut statement = self.connection.prepare_cached(select)?;
        let mut rows = statement.query([])?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            let cell = Cell { table: "outings", row: row.get(0)? };
            found.push((cell.uuid(&row.get::<_, String>(1)?)?, row.get(2)?));
        }
        Ok(found)
    }
}
