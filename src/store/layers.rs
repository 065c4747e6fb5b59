//! Registers tables as layers for a GIS: contents, geometry columns, extensions and spatial indexes
//! of the GeoPackage. Layer: `store`.

use rusqlite::functions::{Context, FunctionFlags};
use rusqlite::{Connection, OptionalExtension};

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
        let [min_x, min_y, max_x, max_y] = extent(connection, &table)?;
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

/// West, south, east and north of a layer, from the root of its spatial index: its entries enclose all
/// others, so that the cost does not grow with the number of rows.
///
/// # References
/// `SQLite`, The R*Tree Module, section 3.1 and the comment on the format of nodes in `rtree.c`: depth and
/// count of entries in two bytes each, then for each entry a number of eight bytes and minimum and maximum
/// of each axis in four, all with the high byte first.
fn extent(connection: &Connection, table: &str) -> Attempt<[Option<f64>; 4]> {
    let root: Option<Vec<u8>> = connection
        .prepare_cached(&format!("SELECT data FROM rtree_{table}_geom_node WHERE nodeno = 1"))?
        .query_row([], |row| row.get(0))
        .optional()?;
    let root = root.unwrap_or_default();
    let count = root.get(2..4).map_or(0, |two| usize::from(u16::from_be_bytes([two[0], two[1]])));
    let mut sides: Option<[f64; 4]> = None;
    for entry in root.get(4..).unwrap_or_default().chunks_exact(24).take(count) {
        let side = |axis: usize| {
            let bytes = entry[8 + 4 * axis..12 + 4 * axis].try_into().unwrap_or_default();
            f64::from(f32::from_be_bytes(bytes))
        };
        let [west, east, south, north] = [side(0), side(1), side(2), side(3)];
        let [w, s, e, n] = sides.unwrap_or([west, south, east, north]);
        sides = Some([w.min(west), s.min(south), e.max(east), n.max(north)]);
    }
    Ok(sides.map_or([None; 4], |sides| sides.map(Some)))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_extent_is_that_of_all_rows() {
        let connection = Connection::open_in_memory().unwrap();
        connection
            .execute_batch(
                "CREATE VIRTUAL TABLE rtree_x_geom USING rtree(id, minx, maxx, miny, maxy)",
            )
            .unwrap();
        assert_eq!(extent(&connection, "x").unwrap(), [None; 4]);
        for id in 0..3_000_i64 {
            let (x, y) = (146.0 + (1.7 * id as f64).sin(), -42.0 + (2.3 * id as f64).cos());
            connection
                .execute(
                    "INSERT INTO rtree_x_geom VALUES (?1, ?2, ?3, ?4, ?5)",
                    (id, x, x + 0.001, y, y + 0.002),
                )
                .unwrap();
            if id % 7 == 0 {
                let other = id * 31 % (id + 1);
                connection.execute("DELETE FROM rtree_x_geom WHERE id = ?1", [other]).unwrap();
            }
            if [0, 1, 40, 70, 400, 2_999].contains(&id) {
                let all: [Option<f64>; 4] = connection
                    .query_row(
                        "SELECT min(minx), min(miny), max(maxx), max(maxy) FROM rtree_x_geom",
                        [],
                        |row| Ok([row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?]),
                    )
                    .unwrap();
                assert_eq!(extent(&connection, "x").unwrap(), all, "{id}");
            }
        }
    }
}
