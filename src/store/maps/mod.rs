//! Keeps what maps stand on: references to elevation tiles, features of base maps. Layer: `store`.
//!
//! Tiles are large and stay where they are: the store keeps path, length and hash. Features of base maps are
//! copied, so that a map can be drawn where their file is not.

mod packed;

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use rusqlite::{Connection, OpenFlags, TransactionBehavior, params};
use uuid::Uuid;

use super::Store;
use super::fault::{Attempt, Fault};
use super::{read, words};
use crate::earth::elevation::Bounds;
use crate::error::{Result, RowDamage, Unpacked};
use crate::model::{BaseFeature, BaseMap, TrackPoint};
use crate::units::Degrees;

/// An elevation tile that a store refers to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptTile {
    /// Where it is.
    pub path: PathBuf,
    /// Its reference system, where the user stated it.
    pub system: Option<String>,
    /// Its length.
    pub bytes: u64,
    /// BLAKE3 of its content in hexadecimal.
    pub hash: String,
}

/// The most tracks of other days under one map, the latest ones.
const MOST_TRACKS: usize = 150;
/// The most features under one map.
const MOST_FEATURES: usize = 50_000;

impl Store {
    /// The elevation tiles that maps use.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn elevation_tiles(&self) -> Result<Vec<KeptTile>> {
        tiles(&self.connection).map_err(|fault| fault.tell(&self.path))
    }

    /// The elevation tiles of the store at a path, which is only read; none where there is no such store or it
    /// cannot be read.
    #[must_use]
    pub fn elevation_tiles_of(path: &Path) -> Vec<KeptTile> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let path = std::path::absolute(path).ok().filter(|path| path.is_file());
        let connection = path.and_then(|path| Connection::open_with_flags(path, flags).ok());
        connection.and_then(|connection| tiles(&connection).ok()).unwrap_or_default()
    }

    /// The paths of the base maps whose features are kept, with the number of them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn base_maps(&self) -> Result<Vec<(PathBuf, usize)>> {
        base_maps(&self.connection).map_err(|fault| fault.tell(&self.path))
    }

    /// Keeps references to elevation tiles; one of the same path is replaced.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn keep_elevation_tiles(&mut self, tiles: &[KeptTile], now: Timestamp) -> Result<()> {
        let path = self.path.clone();
        keep_tiles(&mut self.connection, tiles, &words::instant(now))
            .map_err(|fault| fault.tell(&path))
    }

    /// Keeps the features of a base map; those of the same file are replaced.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn keep_base_map(&mut self, map: &BaseMap, bytes: u64, now: Timestamp) -> Result<()> {
        let path = self.path.clone();
        keep_base_map(&mut self.connection, map, bytes, &words::instant(now))
            .map_err(|fault| fault.tell(&path))
    }

    /// The features of all base maps that may meet the bounds.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn base_features(&self, bounds: &Bounds) -> Result<Vec<BaseFeature>> {
        base_features(&self.connection, bounds).map_err(|fault| fault.tell(&self.path))
    }

    /// The tracks that may meet the bounds, the latest first, except those of one outing.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn tracks_near(
        &self,
        bounds: &Bounds,
        except: Option<Uuid>,
    ) -> Result<Vec<Vec<TrackPoint>>> {
        tracks_near(&self.connection, bounds, except).map_err(|fault| fault.tell(&self.path))
    }
}

fn tiles(connection: &Connection) -> Attempt<Vec<KeptTile>> {
    let mut statement = connection.prepare_cached(
        "SELECT path, reference_system, bytes, hash FROM map_sources WHERE kind = 'elevation' ORDER BY id",
    )?;
    let tiles = statement.query_map([], |row| {
        Ok(KeptTile {
            path: row.get::<_, String>(0)?.into(),
            system: row.get(1)?,
            bytes: row.get::<_, i64>(2)?.try_into().unwrap_or(0),
            hash: row.get(3)?,
        })
    })?;
    Ok(tiles.collect::<rusqlite::Result<_>>()?)
}

fn base_maps(connection: &Connection) -> Attempt<Vec<(PathBuf, usize)>> {
    let mut statement = connection.prepare_cached(
        "SELECT s.path, count(f.id) FROM map_sources s LEFT JOIN base_features f ON f.source_id = s.id
         WHERE s.kind = 'base' GROUP BY s.id ORDER BY s.id",
    )?;
    let maps = statement.query_map([], |row| {
        Ok((row.get::<_, String>(0)?.into(), row.get::<_, i64>(1)?.try_into().unwrap_or(0)))
    })?;
    Ok(maps.collect::<rusqlite::Result<_>>()?)
}

const ADD_SOURCE: &str =
    "INSERT INTO map_sources (kind, path, reference_system, bytes, hash, added)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6)";

fn keep_tiles(connection: &mut Connection, tiles: &[KeptTile], now: &str) -> Attempt<()> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    for tile in tiles {
        let path = text(&tile.path);
        work.execute("DELETE FROM map_sources WHERE kind = 'elevation' AND path = ?1", [&path])?;
        let bytes = i64::try_from(tile.bytes).unwrap_or(i64::MAX);
        work.execute(ADD_SOURCE, params!["elevation", path, tile.system, bytes, tile.hash, now])?;
    }
    work.commit()?;
    Ok(())
}

fn keep_base_map(connection: &mut Connection, map: &BaseMap, bytes: u64, now: &str) -> Attempt<()> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let path = text(&map.path);
    work.execute(
        "DELETE FROM base_features WHERE source_id IN
         (SELECT id FROM map_sources WHERE kind = 'base' AND path = ?1)",
        [&path],
    )?;
    work.execute("DELETE FROM map_sources WHERE kind = 'base' AND path = ?1", [&path])?;
    let bytes = i64::try_from(bytes).unwrap_or(i64::MAX);
    work.execute(ADD_SOURCE, params!["base", path, None::<String>, bytes, map.hash, now])?;
    let source = work.last_insert_rowid();
    {
        let mut add = work.prepare(
            "INSERT INTO base_features (source_id, class, name, south, north, west, width, packed)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        )?;
        for feature in &map.features {
            let Some((south, north, west, width)) = sides(feature) else { continue };
            let class = packed::class_word(feature.class);
            let shape = packed::pack(&feature.shape);
            add.execute(params![source, class, feature.name, south, north, west, width, shape])?;
        }
    }
    work.commit()?;
    Ok(())
}

/// South, north, west, and the width eastward, across 180 degrees where that is narrower.
fn sides(feature: &BaseFeature) -> Option<(f64, f64, f64, f64)> {
    let first = feature.shape.places().next()?;
    let (mut south, mut north) = (first.latitude(), first.latitude());
    let (mut left, mut right) = (0.0_f64, 0.0_f64);
    for place in feature.shape.places() {
        south = south.min(place.latitude());
        north = north.max(place.latitude());
        let east = Degrees(place.longitude() - first.longitude()).shortest_turn().0;
        left = left.min(east);
        right = right.max(east);
    }
    Some((south, north, first.longitude() + left, right - left))
}

fn base_features(connection: &Connection, bounds: &Bounds) -> Attempt<Vec<BaseFeature>> {
    let (south, north, west, width) = bounds.sides();
    let mut statement = connection.prepare_cached(
        "SELECT id, class, name, west, width, packed FROM base_features
         WHERE south <= ?2 AND north >= ?1 ORDER BY id",
    )?;
    let mut rows = statement.query([south, north])?;
    let middle = west + width / 2.0;
    let mut features = Vec::new();
    while let Some(row) = rows.next()? {
        let (its_west, its_width): (f64, f64) = (row.get(3)?, row.get(4)?);
        let apart = Degrees(its_west + its_width / 2.0 - middle).shortest_turn().0.abs();
        if apart > f64::midpoint(width, its_width) {
            continue;
        }
        let class = packed::class_of(&row.get::<_, String>(1)?);
        let shape =
            packed::unpack(row.get_ref(5)?.as_blob().unwrap_or_default()).ok_or_else(|| {
                Fault::damaged(
                    "base_features",
                    row.get(0).unwrap_or(0),
                    RowDamage::Packed { content: Unpacked::Places },
                )
            })?;
        features.push(BaseFeature { class, name: row.get(2)?, shape });
        if features.len() >= MOST_FEATURES {
            break;
        }
    }
    Ok(features)
}

fn tracks_near(
    connection: &Connection,
    bounds: &Bounds,
    except: Option<Uuid>,
) -> Attempt<Vec<Vec<TrackPoint>>> {
    let (south, north, west, width) = bounds.sides();
    let across = !(-180.0..=180.0).contains(&west) || west + width > 180.0;
    let (west, east) = if across { (-180.0, 180.0) } else { (west, west + width) };
    let mut statement = connection.prepare_cached(
        "SELECT o.id, o.uuid FROM rtree_tracks_geom r JOIN tracks t ON t.id = r.id
         JOIN outings o ON o.id = t.outing_id
         WHERE r.miny <= ?2 AND r.maxy >= ?1 AND r.minx <= ?4 AND r.maxx >= ?3
         ORDER BY o.date DESC, o.id DESC",
    )?;
    let near = statement.query_map([south, north, west, east], |row| {
        Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?))
    })?;
    let except = except.map(|outing| outing.to_string());
    let mut tracks = Vec::new();
    for found in near {
        let (key, uuid) = found?;
        if except.as_ref() != Some(&uuid) && tracks.len() < MOST_TRACKS {
            tracks.push(read::track(connection, key)?);
        }
    }
    Ok(tracks)
}

fn text(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{BaseClass, BaseShape};
    use crate::units::{LatLon, Metres};

    fn at(latitude: f64, longitude: f64) -> LatLon {
        LatLon::new(latitude, longitude).unwrap()
    }

    fn map(features: Vec<BaseFeature>) -> BaseMap {
        BaseMap {
            path: "base.geojson".into(),
            hash: "ab".into(),
            features,
            unknown: Vec::new(),
            without_place: 0,
            beyond: 0,
            damage: None,
        }
    }

    #[test]
    fn features_are_kept_once_and_found_where_they_lie() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create_or_open(&folder.path().join("a.gpkg")).unwrap();
        let now = Timestamp::UNIX_EPOCH;
        let feature = |class, shape| BaseFeature { class, name: Some("A".into()), shape };
        let across = vec![at(-17.0, 179.9), at(-17.1, -179.9)];
        let features = vec![
            feature(BaseClass::Stream, BaseShape::Line(across)),
            feature(BaseClass::Place, BaseShape::Point(at(-42.0, 146.0))),
        ];
        for _ in 0..2 {
            store.keep_base_map(&map(features.clone()), 7, now).unwrap();
        }
        assert_eq!(store.base_maps().unwrap(), [(PathBuf::from("base.geojson"), 2)]);
        let near = |place| Bounds::about(&[place], Metres(5_000.0)).unwrap();
        let found = |place| store.base_features(&near(place)).unwrap();
        assert_eq!(found(at(-17.05, 180.0)), features[..1]);
        assert_eq!(found(at(-42.0, 146.0)), features[1..]);
        assert!(found(at(-17.05, 0.0)).is_empty() && found(at(50.0, 10.0)).is_empty());
    }

    #[test]
    fn tile_of_the_same_path_is_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create_or_open(&folder.path().join("a.gpkg")).unwrap();
        let tile = |hash: &str| KeptTile {
            path: "S43E146.hgt".into(),
            system: None,
            bytes: 9,
            hash: hash.into(),
        };
        for hash in ["a", "b"] {
            store.keep_elevation_tiles(&[tile(hash)], Timestamp::UNIX_EPOCH).unwrap();
        }
        assert_eq!(store.elevation_tiles().unwrap(), [tile("b")]);
    }
}
