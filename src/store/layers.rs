//! Registers tables as layers for a GIS: contents, geometry columns, extensions and spatial indexes
//! of the GeoPackage. Layer: `store`.

use rusqlite::Connection;
use rusqlite::functions::{Context, FunctionFlags};

use super::fault::Attempt;
use super::geometry::{self, Envelope, Extent};

/// A table with positions.
pub(super) struct Layer {
    pub(super) table: &'static str,
    pub(super) shape: &'static str,
    pub(super) description: &'static str,
}

/// A table without positions, registered for GIS users.
pub(super) struct Attributes {
    pub(super) table: &'static str,
    pub(super) description: &'static str,
}

const TEMPLATE: &str = include_str!("schema/rtree.sql");

/// Registers a layer and gives it its spatial index.
pub(super) fn add_layer(connection: &Connection, layer: &Layer) -> Attempt<()> {
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id)
         VALUES (?1, 'features', ?1, ?2, 4326)",
        (layer.table, layer.description),
    )?;
    connection.execute(
        "INSERT INTO gpkg_geometry_columns VALUES (?1, 'geom', ?2, 4326, 0, 0)",
        (layer.table, layer.shape),
    )?;
    connection.execute(
        "INSERT INTO gpkg_extensions VALUES (?1, 'geom', 'gpkg_rtree_index',
         'http://www.geopackage.org/spec130/#extension_rtree', 'write-only')",
        [layer.table],
    )?;
    let index = TEMPLATE.replace("{t}", layer.table).replace("{c}", "geom").replace("{i}", "id");
    connection.execute_batch(&index)?;
    // a renamed layer has rows already
    let table = layer.table;
    connection.execute_batch(&format!(
        "INSERT INTO rtree_{table}_geom
         SELECT id, ST_MinX(geom), ST_MaxX(geom), ST_MinY(geom), ST_MaxY(geom) FROM {table}
         WHERE geom NOT NULL AND NOT ST_IsEmpty(geom)"
    ))?;
    Ok(())
}

/// Registers a table without positions.
pub(super) fn add_attributes(connection: &Connection, table: &Attributes) -> Attempt<()> {
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description)
         VALUES (?1, 'attributes', ?1, ?2)",
        (table.table, table.description),
    )?;
    Ok(())
}

/// Updates the extents and the time of the last change.
///
/// # Accuracy
/// The extents come from the spatial index, which rounds outward to single precision: a metre or
/// two.
pub(super) fn refresh(connection: &Connection, now: &str) -> Attempt<()> {
    let tables: Vec<String> = connection
        .prepare_cached("SELECT table_name FROM gpkg_geometry_columns")?
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    for table in tables {
        let sides: [Option<f64>; 4] = connection.query_row(
            &format!("SELECT min(minx), min(miny), max(maxx), max(maxy) FROM rtree_{table}_geom"),
            [],
            |row| Ok([row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?]),
        )?;
        let [min_x, min_y, max_x, max_y] = sides;
        let within = |side: Option<f64>, limit: f64| side.map(|side| side.clamp(-limit, limit));
        connection
            .prepare_cached(
                "UPDATE gpkg_contents SET min_x = ?2, min_y = ?3, max_x = ?4, max_y = ?5
                 WHERE table_name = ?1",
            )?
            .execute((
                &table,
                within(min_x, 180.0),
                within(min_y, 90.0),
                within(max_x, 180.0),
                within(max_y, 90.0),
            ))?;
    }
    connection.execute("UPDATE gpkg_contents SET last_change = ?1", [now])?;
    Ok(())
}

/// Extends the extent of the finds to one of them: at once even in a very large store. It does not shrink
/// until the next import.
pub(super) fn extend_finds(connection: &Connection, find: i64) -> Attempt<()> {
    connection
        .prepare_cached(
            "UPDATE gpkg_contents SET
               min_x = min(coalesce(min_x, r.minx), r.minx), min_y = min(coalesce(min_y, r.miny), r.miny),
               max_x = max(coalesce(max_x, r.maxx), r.maxx), max_y = max(coalesce(max_y, r.maxy), r.maxy)
             FROM (SELECT minx, miny, maxx, maxy FROM rtree_finds_geom WHERE id = ?1) r
             WHERE table_name = 'finds'",
        )?
        .execute([find])?;
    Ok(())
}

/// Updates the time of the last change.
pub(super) fn touch(connection: &Connection, now: &str) -> Attempt<()> {
    connection
        .prepare_cached("UPDATE gpkg_contents SET last_change = ?1 WHERE table_name = 'finds'")?
        .execute([now])?;
    Ok(())
}

/// One side of a box.
type Side = fn(Envelope) -> f64;

/// The functions on geometries that the triggers of the spatial index call. A GIS brings its own.
pub(super) fn add_functions(connection: &Connection) -> rusqlite::Result<()> {
    let flags = FunctionFlags::SQLITE_UTF8
        | FunctionFlags::SQLITE_DETERMINISTIC
        | FunctionFlags::SQLITE_INNOCUOUS;
    connection.create_scalar_function("ST_IsEmpty", 1, flags, |context| {
        Ok(blob(context)?.and_then(geometry::extent).map(|extent| extent == Extent::Empty))
    })?;
    let sides: [(&str, Side); 4] = [
        ("ST_MinX", |found| found.min_x),
        ("ST_MaxX", |found| found.max_x),
        ("ST_MinY", |found| found.min_y),
        ("ST_MaxY", |found| found.max_y),
    ];
    for (name, side) in sides {
        connection.create_scalar_function(name, 1, flags, move |context| {
            let extent = blob(context)?.and_then(geometry::extent);
            Ok(extent.and_then(Extent::envelope).map(side))
        })?;
    }
    Ok(())
}

fn blob<'a>(context: &'a Context<'_>) -> rusqlite::Result<Option<&'a [u8]>> {
    Ok(context.get_raw(0).as_blob_or_null()?)
}
