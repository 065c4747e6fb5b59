//! Checks a whole store: SQLite integrity, references, geometries and their spatial indexes,
//! counts, and every packed track and record. Layer: `store`.

use rusqlite::Connection;
use serde::Serialize;

use super::tables;
use crate::error::{Defect, Error, ShapeDefect};
use crate::store::fault::Attempt;
use crate::store::geometry::{self, Extent};
use crate::store::{FindQuery, Store};

/// The most findings reported of one kind.
const REPORTED: usize = 20;

/// The result of a full check: what was read, and what is wrong with it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Inspected {
    /// Outings that were unpacked.
    pub outings: usize,
    /// Finds that were read, withdrawn ones among them.
    pub finds: usize,
    /// Fixes that were unpacked.
    pub fixes: usize,
    /// Photographs that were read.
    pub photographs: usize,
    /// Geometries compared with the spatial index.
    pub shapes: usize,
    /// The defects; empty for an intact store.
    pub findings: Vec<Defect>,
}

/// Checks everything; unreadable parts are findings.
pub(super) fn all(store: &Store) -> Inspected {
    let mut seen = Inspected::default();
    let reported = |findings: Attempt<Vec<Defect>>| {
        findings.unwrap_or_else(|fault| vec![fault.tell(store.path()).into()])
    };
    let connection = &store.connection;
    seen.findings.extend(reported(of_database(connection)));
    match layers(connection) {
        Ok(layers) => {
            for layer in layers {
                let mut shapes = 0;
                seen.findings.extend(reported(of_layer(connection, &layer, &mut shapes)));
                seen.shapes += shapes;
            }
        }
        Err(fault) => seen.findings.push(fault.tell(store.path()).into()),
    }
    seen.findings.extend(reported(of_counts(connection)));
    outings(store, &mut seen);
    finds(store, &mut seen);
    others(store, &mut seen);
    seen.findings.dedup();
    seen
}

/// The check of the database itself, and rows that refer to missing ones.
pub(super) fn of_database(connection: &Connection) -> Attempt<Vec<Defect>> {
    let mut messages: Vec<String> = connection
        .prepare(&format!("PRAGMA integrity_check({REPORTED})"))?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    messages.retain(|message| message != "ok");
    let mut findings: Vec<Defect> =
        messages.into_iter().map(|message| Defect::Database { message }).collect();
    let mut statement = connection.prepare("PRAGMA foreign_key_check")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (table, key, of): (String, Option<i64>, String) =
            (row.get(0)?, row.get(1)?, row.get(2)?);
        findings.push(Defect::MissingRow { table, row: key.unwrap_or_default(), of });
        if findings.len() >= 2 * REPORTED {
            break;
        }
    }
    Ok(findings)
}

fn layers(connection: &Connection) -> Attempt<Vec<String>> {
    Ok(connection
        .prepare("SELECT table_name FROM gpkg_geometry_columns ORDER BY table_name")?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?)
}

/// Single precision of the index, rounded outward, at 180 degrees.
const ROUNDED: f64 = 4e-5;

/// Every geometry of a layer against its box in the spatial index.
fn of_layer(connection: &Connection, layer: &str, shapes: &mut usize) -> Attempt<Vec<Defect>> {
    let quoted = layer.replace('"', "\"\"");
    let mut findings = Vec::new();
    let mut statement = connection.prepare(&format!(
        "SELECT t.id, t.geom, r.minx, r.maxx, r.miny, r.maxy FROM \"{quoted}\" t
         LEFT JOIN \"rtree_{quoted}_geom\" r ON r.id = t.id"
    ))?;
    let mut rows = statement.query([])?;
    let mut indexed = 0;
    while let Some(row) = rows.next()? {
        let key: i64 = row.get(0)?;
        let shape = row.get_ref(1)?.as_blob_or_null().ok().flatten();
        let sides: [Option<f64>; 4] = [row.get(2)?, row.get(3)?, row.get(4)?, row.get(5)?];
        indexed += i64::from(sides[0].is_some());
        *shapes += usize::from(shape.is_some());
        if let Some(defect) = wrong_with(shape, sides)
            && findings.len() < REPORTED
        {
            findings.push(Defect::Shape { table: layer.to_owned(), row: key, defect });
        }
    }
    let in_index: i64 = connection.query_row(
        &format!("SELECT count(*) FROM \"rtree_{quoted}_geom\""),
        [],
        |row| row.get(0),
    )?;
    if in_index != indexed {
        let more = in_index - indexed;
        findings.push(Defect::IndexEntries { table: layer.to_owned(), more });
    }
    Ok(findings)
}

fn wrong_with(shape: Option<&[u8]>, sides: [Option<f64>; 4]) -> Option<ShapeDefect> {
    let extent = match shape {
        None => Extent::Empty,
        Some(shape) => match geometry::extent(shape) {
            Some(extent) => extent,
            None => return Some(ShapeDefect::Unreadable),
        },
    };
    match (extent.envelope(), sides) {
        (None, [None, ..]) => None,
        (None, _) => Some(ShapeDefect::Absent),
        (Some(is), [Some(min_x), Some(max_x), Some(min_y), Some(max_y)]) => {
            let apart = [is.min_x - min_x, is.max_x - max_x, is.min_y - min_y, is.max_y - max_y];
            let off = apart.iter().any(|apart| apart.is_nan() || apart.abs() > ROUNDED);
            off.then_some(ShapeDefect::ElsewhereInIndex)
        }
        (Some(_), _) => Some(ShapeDefect::NotInIndex),
    }
}

/// The tables of contents and stored counts.
fn of_counts(connection: &Connection) -> Attempt<Vec<Defect>> {
    let mut findings = Vec::new();
    let known = tables(connection)?;
    let contents: Vec<String> = connection
        .prepare("SELECT table_name FROM gpkg_contents")?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    findings.extend(
        contents
            .into_iter()
            .filter(|table| !known.contains(table))
            .map(|table| Defect::MissingTable { table }),
    );
    // sites of other finds than those of now wait for the next command that reads them
    let mut statement = connection.prepare(
        "SELECT s.id, s.find_count, count(m.id) FROM sites s
         LEFT JOIN site_finds m ON m.site_id = s.id
         WHERE EXISTS (SELECT 1 FROM derived WHERE name = 'sites')
         GROUP BY s.id HAVING s.find_count != count(m.id)",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (site, stated, counted): (i64, i64, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
        findings.push(Defect::SiteCount { site, stated, counted });
    }
    Ok(findings)
}

fn outings(store: &Store, seen: &mut Inspected) {
    let outings = match store.outings() {
        Ok(outings) => outings,
        Err(error) => return seen.findings.push(error.into()),
    };
    for outing in outings {
        match store.day(outing.id) {
            Ok(day) => {
                seen.outings += 1;
                seen.fixes += day.fixes.len();
                seen.photographs += day.photos.len();
                if day.finds.len() != outing.finds {
                    let (stated, counted) = (outing.finds, day.finds.len());
                    seen.findings.push(Defect::OutingCount { date: outing.date, stated, counted });
                }
            }
            Err(error) => seen.findings.push(error.into()),
        }
    }
}

fn finds(store: &Store, seen: &mut Inspected) {
    let everything = FindQuery { withdrawn: true, ..FindQuery::default() };
    let mut ids = Vec::new();
    let read = store.each_find(&everything, |find| {
        ids.push(find.id);
        Ok(())
    });
    seen.finds = ids.len();
    seen.findings.extend(read.err().map(Defect::from));
    for id in ids {
        seen.findings.extend(store.history(id).err().map(Defect::from));
    }
}

/// The summaries, and the user's places and decisions.
fn others(store: &Store, seen: &mut Inspected) {
    let mut take = |failed: Option<Error>| seen.findings.extend(failed.map(Defect::from));
    take(store.brief_finds().err());
    match store.brief_ways() {
        Ok(ways) => {
            for way in ways {
                take(way.and_then(|way| way.unpack().map(drop)).err());
            }
        }
        Err(error) => take(Some(error)),
    }
    take(store.trailheads().err());
    take(store.sites().err());
    take(store.site_members().err());
    take(store.sensitivity_rules().err());
}
