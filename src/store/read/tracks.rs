//! Reads the track and the stops of an outing, one track at a time in memory. Layer: `store`.

use rusqlite::{Connection, OptionalExtension};
use uuid::Uuid;

use crate::error::{Result, RowDamage, Unpacked};
use crate::model::{Stop, TrackPoint};
use crate::store::fault::{Attempt, Fault};
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::store::{Store, geometry, pack};
use crate::units::{Metres, Radius95};

impl Store {
    /// The track of an outing; empty where it has none.
    ///
    /// The smoothed one. Fixes as recorded are part of [`Store::day`].
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn track(&self, outing: Uuid) -> Result<Vec<TrackPoint>> {
        let found = key(&self.connection, outing)
            .and_then(|key| key.map_or(Ok(Vec::new()), |key| track(&self.connection, key)));
        found.map_err(|fault| fault.tell(&self.path))
    }

    /// The tracks of all outings that have one, in order of time, read one by one: memory holds
    /// only one track.
    ///
    /// # Errors
    /// When the store cannot be read; each track may fail separately.
    pub fn tracks(&self) -> Result<impl Iterator<Item = Result<(Uuid, Vec<TrackPoint>)>> + '_> {
        let keys = track_keys(&self.connection).map_err(|fault| fault.tell(&self.path))?;
        Ok(keys.into_iter().map(|(key, outing)| {
            let points = track(&self.connection, key).map_err(|fault| fault.tell(&self.path))?;
            Ok((outing, points))
        }))
    }

    /// The stops of an outing in order of time.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn stops(&self, outing: Uuid) -> Result<Vec<Stop>> {
        let found = key(&self.connection, outing)
            .and_then(|key| key.map_or(Ok(Vec::new()), |key| stops(&self.connection, key)));
        found.map_err(|fault| fault.tell(&self.path))
    }
}

pub(in crate::store) fn key(connection: &Connection, outing: Uuid) -> Attempt<Option<i64>> {
    Ok(connection
        .prepare_cached("SELECT id FROM outings WHERE uuid = ?1")?
        .query_row([outing.to_string()], |row| row.get(0))
        .optional()?)
}

fn track_keys(connection: &Connection) -> Attempt<Vec<(i64, Uuid)>> {
    let mut statement = connection.prepare_cached(
        "SELECT o.id, o.uuid FROM outings o JOIN track_points p ON p.outing_id = o.id
         ORDER BY o.date, o.start_time, o.uuid",
    )?;
    let mut rows = statement.query([])?;
    let mut keys = Vec::new();
    while let Some(row) = rows.next()? {
        let key = row.get(0)?;
        keys.push((key, Cell { table: "outings", row: key }.uuid(&row.get::<_, String>(1)?)?));
    }
    Ok(keys)
}

/// The row and the packed points of an outing's track.
pub(in crate::store) fn packed(
    connection: &Connection,
    outing: i64,
) -> Attempt<Option<(i64, Vec<u8>)>> {
    Ok(connection
        .prepare_cached("SELECT id, packed FROM track_points WHERE outing_id = ?1")?
        .query_row([outing], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?)
}

pub(in crate::store) fn track(connection: &Connection, outing: i64) -> Attempt<Vec<TrackPoint>> {
    let Some((row, packed)) = packed(connection, outing)? else { return Ok(Vec::new()) };
    pack::unpack_track(&packed).ok_or_else(|| {
        Fault::damaged("track_points", row, RowDamage::Packed { content: Unpacked::Points })
    })
}

pub(super) fn stops(connection: &Connection, outing: i64) -> Attempt<Vec<Stop>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, start_time, end_time, geom, radius95_m FROM stops WHERE outing_id = ?1
         ORDER BY start_time, id",
    )?;
    let mut rows = statement.query([outing])?;
    let mut stops = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "stops", row: cells.next()? };
        let start = cell.instant(&cells.next::<String>()?)?;
        let end = cell.instant(&cells.next::<String>()?)?;
        let at = cells.bytes()?.and_then(geometry::position);
        let radius = Radius95::new(Metres(cells.next()?));
        let (Some(at), Some(radius)) = (at, radius) else {
            return Err(Fault::damaged(cell.table, cell.row, RowDamage::NoPositionOrRadius));
        };
        stops.push(Stop { start, end, at, radius });
    }
    Ok(stops)
}
