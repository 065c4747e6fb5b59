//! Reads the outings. Layer: `store`.

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::Connection;
use serde::Serialize;
use uuid::Uuid;

use crate::error::Result;
use crate::model::ZoneSource;
use crate::store::fault::Attempt;
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::store::{Store, geometry};
use crate::units::{LatLon, Metres, Seconds};

/// An outing in the store.
///
/// An outing without a find is one as well: it counts as a search without a find.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct KeptOuting {
    /// Its permanent identifier.
    pub id: Uuid,
    /// The local date on which it began.
    pub date: Date,
    /// The first instant of its track, photographs or records.
    pub start: Option<Timestamp>,
    /// The last one.
    pub end: Option<Timestamp>,
    /// The zone of its notebook, as [`crate::model::ZoneChoice::name`].
    pub zone: String,
    /// The source of the zone.
    pub zone_source: ZoneSource,
    /// Who collected.
    pub collector: Option<String>,
    /// Where it began.
    pub began: Option<LatLon>,
    /// The length of its track without gaps; `None` without a track.
    pub length: Option<Metres>,
    /// Time searching or stationary; `None` without a track.
    pub searched: Option<Seconds>,
    /// How many finds it has, withdrawn ones left out.
    pub finds: usize,
    /// When it first came into the store.
    pub imported: Timestamp,
    /// When it last changed.
    pub changed: Timestamp,
}

const SELECT: &str = "SELECT o.id, o.uuid, o.date, o.start_time, o.end_time, o.zone, o.zone_source,
    o.collector, o.geom, t.length_m, t.searched_s,
    (SELECT count(*) FROM finds f WHERE f.outing_id = o.id AND f.withdrawn IS NULL),
    o.imported, o.changed
    FROM outings o LEFT JOIN tracks t ON t.outing_id = o.id";

impl Store {
    /// All outings in order of time.
    ///
    /// Tracks are not read; see [`Store::track`].
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn outings(&self) -> Result<Vec<KeptOuting>> {
        let order = "ORDER BY o.date, o.start_time, o.uuid";
        outings(&self.connection, &format!("{SELECT} {order}"), &[])
            .map_err(|fault| fault.tell(&self.path))
    }

    /// The outing with this identity.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn outing(&self, id: Uuid) -> Result<Option<KeptOuting>> {
        let found =
            outings(&self.connection, &format!("{SELECT} WHERE o.uuid = ?1"), &[id.to_string()])
                .map_err(|fault| fault.tell(&self.path))?;
        Ok(found.into_iter().next())
    }
}

fn outings(connection: &Connection, select: &str, values: &[String]) -> Attempt<Vec<KeptOuting>> {
    let mut statement = connection.prepare_cached(select)?;
    let mut rows = statement.query(rusqlite::params_from_iter(values))?;
    let mut outings = Vec::new();
    while let Some(row) = rows.next()? {
        outings.push(read(&mut Cells::of(row))?);
    }
    Ok(outings)
}

fn read(cells: &mut Cells<'_>) -> Attempt<KeptOuting> {
    let cell = Cell { table: "outings", row: cells.next()? };
    Ok(KeptOuting {
        id: cell.uuid(&cells.next::<String>()?)?,
        date: cell.date(&cells.next::<String>()?)?,
        start: cell.some(cells.text()?, Cell::instant)?,
        end: cell.some(cells.text()?, Cell::instant)?,
        zone: cells.next()?,
        zone_source: cell.word(&cells.next::<String>()?)?,
        collector: cells.next()?,
        began: cells.bytes()?.and_then(geometry::position),
        length: cells.next::<Option<f64>>()?.map(Metres),
        searched: cells.next::<Option<f64>>()?.map(Seconds),
        finds: cells.next()?,
        imported: cell.instant(&cells.next::<String>()?)?,
        changed: cell.instant(&cells.next::<String>()?)?,
    })
}
