//! Reads the feature layers of a GeoPackage, in any reference system that PROJ knows. The file is
//! opened for reading only, through a copy where reading would leave files beside it. Layer: `ingest`.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use rusqlite::types::ValueRef;
use rusqlite::{Connection, OpenFlags, Row};
use tempfile::TempDir;

use super::collected::{Collected, Properties};
use super::wkb;
use crate::earth::datum;
use crate::error::{Error, Result, open_regular};
use crate::model::name_of;
use crate::units::LatLon;

struct Layer {
    table: String,
    geometry: String,
    /// `None` is WGS 84.
    system: Option<String>,
}

/// Reads every feature layer; one that is damaged, or on a system that PROJ does not know, loses itself. A store of
/// trug is refused, since its tracks are drawn anyway.
pub(super) fn read(path: &Path, collected: &mut Collected) -> Result<()> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let fault = |fault: rusqlite::Error| {
        Error::input(format!("{} cannot be read as a GeoPackage", name_of(path)))
            .because(fault.to_string())
            .hint("give a GeoPackage with layers of points, lines or areas")
            .in_file(path)
    };
    let copy = copy_of_open(path).map_err(|error| Error::file("read", path, &error))?;
    let readable = copy.as_ref().map_or(path.to_owned(), |copy| copy.path().join(COPY));
    let connection = Connection::open_with_flags(readable, flags).map_err(fault)?;
    if is_a_store(&connection) {
        return Err(Error::input(format!("{} is a store of trug", name_of(path)))
            .because(
                "a base map holds streams, roads and paths; the tracks of a store are drawn anyway",
            )
            .hint("give a GeoPackage of another source")
            .in_file(path));
    }
    for layer in layers(&connection).map_err(fault)? {
        if let Err(damage) = read_layer(&connection, &layer, collected) {
            collected.damage = Some(format!("layer {}: {damage}", layer.table));
        }
    }
    Ok(())
}

const COPY: &str = "copy.gpkg";

/// A copy of a file that a GIS keeps with a write-ahead log, in which even reading leaves files beside it; `None`
/// for any other. The log is that of the `SQLite` file format, 1.3.3 (read version 2).
fn copy_of_open(path: &Path) -> io::Result<Option<TempDir>> {
    let mut head = [0; 20];
    let mut file = open_regular(path)?;
    if file.read_exact(&mut head).is_err() || head[19] != 2 {
        return Ok(None);
    }
    let folder = tempfile::Builder::new().prefix("trug-").tempdir()?;
    for end in ["", "-wal"] {
        let mut from = path.as_os_str().to_owned();
        from.push(end);
        match open_regular(Path::new(&from)) {
            Ok(mut from) => {
                let to = folder.path().join(format!("{COPY}{end}"));
                io::copy(&mut from, &mut File::create(to)?)?;
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound && !end.is_empty() => {}
            Err(error) => return Err(error),
        }
    }
    Ok(Some(folder))
}

fn is_a_store(connection: &Connection) -> bool {
    let sql = "SELECT count(*) FROM sqlite_master WHERE name IN ('settings', 'finds', 'outings')";
    connection.query_row(sql, [], |row| row.get::<_, i64>(0)).is_ok_and(|count| count == 3)
}

fn layers(connection: &Connection) -> rusqlite::Result<Vec<Layer>> {
    let mut statement = connection.prepare(
        "SELECT g.table_name, g.column_name, s.organization, s.organization_coordsys_id, g.srs_id
         FROM gpkg_geometry_columns g JOIN gpkg_contents c ON c.table_name = g.table_name
         LEFT JOIN gpkg_spatial_ref_sys s ON s.srs_id = g.srs_id
         WHERE c.data_type = 'features' ORDER BY g.table_name",
    )?;
    let layers = statement.query_map([], |row| {
        let authority: Option<String> = row.get(2)?;
        let code: i64 = row.get::<_, Option<i64>>(3)?.unwrap_or(row.get(4)?);
        let authority = authority.map_or_else(|| "EPSG".to_owned(), |name| name.to_uppercase());
        let system = (code != 4326 && code > 0).then(|| format!("{authority}:{code}"));
        Ok(Layer { table: row.get(0)?, geometry: row.get(1)?, system })
    })?;
    layers.collect()
}

fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

/// Converts each vertex to WGS 84. A system that is not known fails once, before the first row.
fn read_layer(
    connection: &Connection,
    layer: &Layer,
    collected: &mut Collected,
) -> std::result::Result<(), String> {
    let words = |fault: rusqlite::Error| fault.to_string();
    let sql = format!("SELECT {}, * FROM {}", quoted(&layer.geometry), quoted(&layer.table));
    let mut statement = connection.prepare(&sql).map_err(words)?;
    let names: Vec<String> =
        statement.column_names().iter().map(|name| name.to_lowercase()).collect();
    let place = |x: f64, y: f64| match &layer.system {
        None => LatLon::new(y, x).ok(),
        Some(system) => datum::to_wgs84(system, x, y).ok().map(|(place, _)| place),
    };
    // a system that PROJ does not know fails here once, not for each vertex
    if let Some(system) = &layer.system {
        datum::name(system).map_err(|unknown| unknown.to_string())?;
    }
    let mut rows = statement.query([]).map_err(words)?;
    while let Some(row) = rows.next().map_err(words)? {
        let blob = row.get_ref(0).map_err(words)?.as_blob().unwrap_or_default();
        let shapes = wkb::shapes(blob, &place).unwrap_or_default();
        collected.add(&properties(row, &names), Some(&layer.table), shapes);
    }
    Ok(())
}

fn properties(row: &Row, names: &[String]) -> Properties {
    let text = |index: usize| match row.get_ref(index) {
        Ok(ValueRef::Text(text)) => Some(String::from_utf8_lossy(text).into_owned()),
        Ok(ValueRef::Integer(number)) => Some(number.to_string()),
        _ => None,
    };
    let named = names.iter().enumerate().skip(1);
    named.filter_map(|(index, name)| Some((name.clone(), text(index)?))).collect()
}
