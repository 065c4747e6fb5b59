//! Reads one row of the layer `finds`. Layer: `store`.

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::Row;
use uuid::Uuid;

use crate::error::{Error, RowDamage};
use crate::model::{
    Field, Located, PhotoRef, Record, RecordNumber, TimePrecision, WrittenCoordinates, WrittenTime,
};
use crate::store::fault::{Attempt, Fault};
use crate::store::geometry;
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::units::{GpsHeight, LatLon, Metres, Radius95, Seconds};

/// The columns that [`FindRow::read`] wants, in its order; the table goes by the name `f`.
pub(in crate::store) const COLUMNS: &str = "f.id, f.uuid, f.outing_id, f.date, f.found_time, \
    f.found_within_s, f.collector, f.source_id, f.revision, f.withdrawn, f.why_unlocated, \
    f.unlocated_report, f.record_number, f.scientific_name, f.place_name, f.substrate, f.host, \
    f.habitat, f.container, f.written_collector, f.notes, f.other_fields, f.written_date, \
    f.written_time, f.written_time_precision, f.written_elevation_m, f.written_photographs, \
    f.written_waypoint, f.written_coordinates, f.coordinate_readings, f.source_line, f.geom, \
    f.radius95_m, f.radius_parts, f.gps_height_m, f.combination";

/// One row of the layer `finds`.
pub(in crate::store) struct FindRow {
    pub(in crate::store) key: i64,
    pub(in crate::store) uuid: Uuid,
    pub(in crate::store) outing: i64,
    pub(in crate::store) date: Date,
    pub(in crate::store) when: Option<(Timestamp, Seconds)>,
    pub(in crate::store) collector: Option<String>,
    pub(in crate::store) source: Option<i64>,
    pub(in crate::store) revision: u32,
    pub(in crate::store) withdrawn: Option<Timestamp>,
    pub(in crate::store) why_unlocated: Option<String>,
    pub(in crate::store) unlocated: Option<Error>,
    pub(in crate::store) record: Record,
    pub(in crate::store) place: Option<Located>,
}

impl FindRow {
    /// Reads a row of [`COLUMNS`].
    pub(in crate::store) fn read(row: &Row<'_>) -> Attempt<Self> {
        let mut cells = Cells::of(row);
        let key = cells.next()?;
        let cell = Cell { table: "finds", row: key };
        let uuid = cell.uuid(&cells.next::<String>()?)?;
        let outing = cells.next()?;
        let date = cell.date(&cells.next::<String>()?)?;
        let found = cell.some(cells.text()?, Cell::instant)?;
        let within: Option<f64> = cells.next()?;
        let collector = cells.next()?;
        let source = cells.next()?;
        let revision = cells.next()?;
        let withdrawn = cell.some(cells.text()?, Cell::instant)?;
        let why_unlocated = cells.next()?;
        let unlocated = cell.some(cells.text()?, Cell::report)?;
        Ok(Self {
            key,
            uuid,
            outing,
            date,
            when: found.map(|when| (when, Seconds(within.unwrap_or(0.0)))),
            collector,
            source,
            revision,
            withdrawn,
            why_unlocated,
            unlocated,
            record: record(cell, &mut cells)?,
            place: place(cell, &mut cells)?,
        })
    }
}

fn record(cell: Cell, cells: &mut Cells<'_>) -> Attempt<Record> {
    let mut record = Record {
        number: cells.next::<Option<String>>()?.map(RecordNumber),
        name: cells.next()?,
        place: cells.next()?,
        substrate: cells.next()?,
        host: cells.next()?,
        habitat: cells.next()?,
        container: cells.next()?,
        collector: cells.next()?,
        ..Record::default()
    };
    let notes: Option<String> = cells.next()?;
    record.fields = cell.some(cells.text()?, Cell::json)?.unwrap_or_default();
    record.fields.extend(notes.map(|notes| (Field::Notes, notes)));
    record.date = cell.some(cells.text()?, Cell::date)?;
    let clock = cell.some(cells.text()?, Cell::time)?;
    let precision = cell.some(cells.text()?, Cell::word::<TimePrecision>)?;
    record.time = clock
        .map(|clock| WrittenTime { clock, precision: precision.unwrap_or(TimePrecision::Minute) });
    record.elevation = cells.next::<Option<f64>>()?.map(Metres);
    record.photos = cell.some(cells.text()?, Cell::json::<Vec<PhotoRef>>)?.unwrap_or_default();
    record.waypoint = cells.next()?;
    record.coordinates = coordinates(cell, cells)?;
    record.line = cells.next()?;
    Ok(record)
}

/// The written text has its own column; its readings are JSON.
fn coordinates(cell: Cell, cells: &mut Cells<'_>) -> Attempt<Option<WrittenCoordinates>> {
    let verbatim: Option<String> = cells.next()?;
    let read: Option<WrittenCoordinates> = cell.some(cells.text()?, Cell::json)?;
    Ok(verbatim.zip(read).map(|(verbatim, read)| WrittenCoordinates { verbatim, ..read }))
}

fn place(cell: Cell, cells: &mut Cells<'_>) -> Attempt<Option<Located>> {
    let at: Option<LatLon> = match cells.bytes()? {
        None => None,
        Some(blob) => Some(
            geometry::position(blob)
                .ok_or_else(|| Fault::damaged(cell.table, cell.row, RowDamage::Geometry))?,
        ),
    };
    let radius = cells.next::<Option<f64>>()?.and_then(|radius| Radius95::new(Metres(radius)));
    let parts = cell.some(cells.text()?, Cell::json)?.unwrap_or_default();
    let height = cells.next::<Option<f64>>()?.map(|height| GpsHeight(Metres(height)));
    let combination = cell.some(cells.text()?, Cell::word)?;
    let (Some(at), Some(radius)) = (at, radius) else { return Ok(None) };
    let combination = combination.unwrap_or(crate::model::Combination::Single);
    Ok(Some(Located { at, radius, parts, height, combination }))
}
