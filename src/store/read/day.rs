//! Reads everything that an import stored about an outing, as a joined day. Layer: `store`.

use std::collections::HashMap;

use jiff::fmt::temporal::DateTimeParser;
use jiff::tz::{Offset, TimeZone};
use rusqlite::Connection;
use uuid::Uuid;

use super::find_row::{COLUMNS, FindRow};
use super::outings::KeptOuting;
use super::tracks;
use crate::error::{ChangeFault, Error, Result, RowDamage, RowForm, Unpacked};
use crate::model::{
    Anchor, Association, Camera, CameraClock, Conflict, Day, FileKind, Find, JudgedFix, Outing,
    Photo, PhotoGps, PlacedPhoto, SourceFile, Unlocated, ZoneChoice,
};
use crate::store::columns::ColumnReader;
use crate::store::fault::{Attempt, Fault};
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::store::{Store, geometry, pack};
use crate::units::{LatLon, Metres, Radius95, Seconds};

impl Store {
    /// An outing with all its results, as joined; without withdrawn finds.
    ///
    /// Groups of photographs that no record names are not kept: [`Day::photo_groups`] is empty.
    ///
    /// # Accuracy
    /// Fixes are as recorded. Times of finds and photographs are rounded to the millisecond, the
    /// track to a tenth of a millimetre.
    ///
    /// # Errors
    /// When the store has no such outing or cannot be read.
    pub fn day(&self, outing: Uuid) -> Result<Day> {
        let Some(kept) = self.outing(outing)? else {
            return Err(Error::from(ChangeFault::NoDay { outing }).in_file(&self.path));
        };
        day(&self.connection, kept).map_err(|fault| fault.tell(&self.path))
    }
}

fn day(connection: &Connection, kept: KeptOuting) -> Attempt<Day> {
    let Some(key) = tracks::key(connection, kept.id)? else {
        return Err(Fault::damaged("outings", 0, RowDamage::Gone));
    };
    let (sources, source_places) = sources(connection, key)?;
    let (cameras, camera_places) = cameras(connection, key)?;
    let (mut photos, photo_places) = photos(connection, key, &camera_places)?;
    let (finds, find_places) = finds(connection, key, &source_places, &photo_places)?;
    for (place, find) in finds.iter().enumerate() {
        for photo in &find.photos {
            photos[*photo].finds.push(place);
        }
    }
    Ok(Day {
        fixes: fixes(connection, key, &source_places)?,
        track: tracks::track(connection, key)?,
        stops: tracks::stops(connection, key)?,
        photo_groups: Vec::new(),
        associations: associations(connection, key)?,
        conflicts: conflicts(connection, key, &find_places)?,
        set_aside: reports(connection, key, "set-aside")?,
        remarks: reports(connection, key, "remark")?,
        outing: outing(kept, key)?,
        sources,
        cameras,
        photos,
        finds,
    })
}

fn outing(kept: KeptOuting, key: i64) -> Attempt<Outing> {
    let zone = zone(&kept.zone).ok_or_else(|| {
        Fault::damaged(
            "outings",
            key,
            RowDamage::NotA { expected: RowForm::Zone, text: kept.zone.clone() },
        )
    })?;
    Ok(Outing {
        id: kept.id,
        date: kept.date,
        start: kept.start,
        end: kept.end,
        zone: ZoneChoice { zone, name: kept.zone, source: kept.zone_source },
        collector: kept.collector,
    })
}

/// A zone by its name or as an offset.
pub(in crate::store) fn zone(name: &str) -> Option<TimeZone> {
    DateTimeParser::new().parse_time_zone(name).ok()
}

/// Row keys and the corresponding indices in the day's lists.
type Places = HashMap<i64, usize>;

fn sources(connection: &Connection, outing: i64) -> Attempt<(Vec<SourceFile>, Places)> {
    let mut statement = connection.prepare_cached(
        "SELECT s.id, s.path, s.kind, s.size_bytes, s.hash FROM sources s
         WHERE s.outing_id = ?1 AND (s.left_out IS NULL OR EXISTS (
            SELECT 1 FROM finds f WHERE f.source_id = s.id AND f.withdrawn IS NULL))
         OR s.id IN (
            SELECT f.source_id FROM base_finds b JOIN finds f ON f.id = b.id
            WHERE f.outing_id = ?1 AND b.outing_id != ?1 AND f.withdrawn IS NULL)
         ORDER BY s.outing_id != ?1, s.left_out IS NOT NULL, s.place, s.id",
    )?;
    let mut rows = statement.query([outing])?;
    let (mut sources, mut places) = (Vec::new(), Places::new());
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "sources", row: cells.next()? };
        let path = cells.next::<String>()?.into();
        let kind: FileKind = cell.word(&cells.next::<String>()?)?;
        places.insert(cell.row, sources.len());
        sources.push(SourceFile { path, kind, bytes: cells.next()?, hash: cells.next()? });
    }
    Ok((sources, places))
}

fn fixes(connection: &Connection, outing: i64, sources: &Places) -> Attempt<Vec<JudgedFix>> {
    let mut statement = connection.prepare_cached(
        "SELECT x.id, x.source_id, x.packed FROM fixes x JOIN sources s ON s.id = x.source_id
         WHERE s.outing_id = ?1 AND s.left_out IS NULL ORDER BY x.id",
    )?;
    let mut rows = statement.query([outing])?;
    let mut fixes: Vec<(usize, JudgedFix)> = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let key: i64 = cells.next()?;
        let source = sources.get(&cells.next()?).and_then(|place| u16::try_from(*place).ok());
        let packed = cells.bytes()?.unwrap_or_default();
        let unpacked = source.and_then(|source| pack::unpack_fixes(packed, source));
        fixes.extend(unpacked.ok_or_else(|| {
            Fault::damaged("fixes", key, RowDamage::Packed { content: Unpacked::Fixes })
        })?);
    }
    fixes.sort_by_key(|(place, _)| *place);
    Ok(fixes.into_iter().map(|(_, fix)| fix).collect())
}

fn cameras(connection: &Connection, outing: i64) -> Attempt<(Vec<CameraClock>, Places)> {
    let mut statement = connection.prepare_cached(
        "SELECT id, details, profile FROM cameras WHERE outing_id = ?1 ORDER BY place, id",
    )?;
    let mut rows = statement.query([outing])?;
    let (mut cameras, mut places) = (Vec::new(), Places::new());
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "cameras", row: cells.next()? };
        let mut clock: CameraClock = cell.json(&cells.next::<String>()?)?;
        clock.profile = cells.bytes()?.and_then(profile).ok_or_else(|| {
            Fault::damaged("cameras", cell.row, RowDamage::Packed { content: Unpacked::Curve })
        })?;
        places.insert(cell.row, cameras.len());
        cameras.push(clock);
    }
    Ok((cameras, places))
}

fn profile(packed: &[u8]) -> Option<Vec<(Seconds, f64)>> {
    let mut reader = ColumnReader::new(packed);
    let count = usize::try_from(reader.unsigned()?).ok().filter(|count| *count <= 1_000_000)?;
    let at = reader.decimals(count)?;
    let heights = reader.decimals(count)?;
    Some(at.into_iter().map(Seconds).zip(heights).collect())
}

fn photos(
    connection: &Connection,
    outing: i64,
    cameras: &Places,
) -> Attempt<(Vec<PlacedPhoto>, Places)> {
    let mut statement = connection.prepare_cached(
        "SELECT id, camera_id, path, size_bytes, hash, camera_clock, taken_time, geom, radius95_m, details
         FROM photographs WHERE outing_id = ?1 ORDER BY place, id",
    )?;
    let mut rows = statement.query([outing])?;
    let (mut photos, mut places) = (Vec::new(), Places::new());
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let key = cells.next()?;
        places.insert(key, photos.len());
        photos.push(photo(key, &mut cells, cameras)?);
    }
    Ok((photos, places))
}

fn photo(key: i64, cells: &mut Cells<'_>, cameras: &Places) -> Attempt<PlacedPhoto> {
    let cell = Cell { table: "photographs", row: key };
    let camera_key: Option<i64> = cells.next()?;
    let source = SourceFile {
        path: cells.next::<String>()?.into(),
        kind: FileKind::Photo,
        bytes: cells.next()?,
        hash: cells.next()?,
    };
    let taken = cell.some(cells.text()?, Cell::wall_clock)?;
    let when = cell.some(cells.text()?, Cell::instant)?;
    let at: Option<LatLon> = cells.bytes()?.and_then(geometry::position);
    let radius = cells.next::<Option<f64>>()?.and_then(|radius| Radius95::new(Metres(radius)));
    let (camera, offset, gps, remarks): (Camera, Option<i32>, PhotoGps, Vec<String>) =
        cell.json(&cells.next::<String>()?)?;
    let offset = offset.and_then(|seconds| Offset::from_seconds(seconds).ok());
    Ok(PlacedPhoto {
        photo: Photo { source, camera, taken, offset, gps, remarks, damaged: false },
        camera: camera_key.and_then(|key| cameras.get(&key).copied()).unwrap_or(0),
        when,
        at: at.zip(radius),
        finds: Vec::new(),
    })
}

fn finds(
    connection: &Connection,
    outing: i64,
    sources: &Places,
    photos: &Places,
) -> Attempt<(Vec<Find>, Places)> {
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {COLUMNS} FROM finds f WHERE f.outing_id = ?1 AND f.withdrawn IS NULL
         ORDER BY f.place, f.id"
    ))?;
    let mut rows = statement.query([outing])?;
    let (mut finds, mut places) = (Vec::new(), Places::new());
    while let Some(row) = rows.next()? {
        let row = FindRow::read(row)?;
        places.insert(row.key, finds.len());
        let unlocated = row.unlocated.or_else(|| row.why_unlocated.map(Error::input));
        let why = unlocated.unwrap_or_else(|| Error::input(RowDamage::NoPosition.to_string()));
        finds.push(Find {
            id: row.uuid,
            record: row.record,
            source: row.source.and_then(|key| sources.get(&key).copied()).unwrap_or(0),
            when: row.when,
            photos: claims(connection, row.key, photos)?,
            anchors: anchors(connection, row.key)?,
            place: row.place.ok_or_else(|| Unlocated::from(why)),
        });
    }
    Ok((finds, places))
}

fn claims(connection: &Connection, find: i64, photos: &Places) -> Attempt<Vec<usize>> {
    let keys: Vec<i64> = connection
        .prepare_cached(
            "SELECT photograph_id FROM find_photographs WHERE find_id = ?1 ORDER BY id",
        )?
        .query_map([find], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    Ok(keys.iter().filter_map(|key| photos.get(key).copied()).collect())
}

pub(in crate::store) fn anchors(connection: &Connection, find: i64) -> Attempt<Vec<Anchor>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, kind, latitude, longitude, radius95_m, anchor_time, used, basis, radius_parts
         FROM anchors WHERE find_id = ?1 ORDER BY id",
    )?;
    let mut rows = statement.query([find])?;
    let mut anchors = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "anchors", row: cells.next()? };
        let kind = cell.word(&cells.next::<String>()?)?;
        let at = LatLon::new(cells.next()?, cells.next()?).map_err(|off| {
            Fault::damaged(cell.table, cell.row, RowDamage::Position { cause: off.to_string() })
        })?;
        let radius = Radius95::new(Metres(cells.next()?))
            .ok_or_else(|| Fault::damaged(cell.table, cell.row, RowDamage::Radius))?;
        let when = cell.some(cells.text()?, Cell::instant)?;
        let (used, basis) = (cells.next()?, cells.next::<String>()?.into());
        let parts = cell.json(&cells.next::<String>()?)?;
        anchors.push(Anchor { kind, at, radius, parts, when, used, basis });
    }
    Ok(anchors)
}

fn conflicts(connection: &Connection, outing: i64, finds: &Places) -> Attempt<Vec<Conflict>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, kind, size, chance, report FROM conflicts WHERE outing_id = ?1 ORDER BY id",
    )?;
    let mut rows = statement.query([outing])?;
    let mut conflicts = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "conflicts", row: cells.next()? };
        let concerned: Vec<i64> = connection
            .prepare_cached(
                "SELECT find_id FROM conflict_finds WHERE conflict_id = ?1 ORDER BY id",
            )?
            .query_map([cell.row], |row| row.get(0))?
            .collect::<rusqlite::Result<_>>()?;
        conflicts.push(Conflict {
            kind: cell.word(&cells.next::<String>()?)?,
            size: cell.json(&cells.next::<String>()?)?,
            chance: cells.next()?,
            finds: concerned.iter().filter_map(|key| finds.get(key).copied()).collect(),
            report: cell.report(&cells.next::<String>()?)?,
        });
    }
    Ok(conflicts)
}

fn associations(connection: &Connection, outing: i64) -> Attempt<Vec<Association>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, report FROM reports WHERE outing_id = ?1 AND kind = 'association' ORDER BY id",
    )?;
    let mut rows = statement.query([outing])?;
    let mut associations = Vec::new();
    while let Some(row) = rows.next()? {
        let cell = Cell { table: "reports", row: row.get(0)? };
        associations.push(cell.json(&row.get::<_, String>(1)?)?);
    }
    Ok(associations)
}

fn reports(connection: &Connection, outing: i64, kind: &str) -> Attempt<Vec<Error>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, report FROM reports WHERE outing_id = ?1 AND kind = ?2 ORDER BY id",
    )?;
    let mut rows = statement.query((outing, kind))?;
    let mut reports = Vec::new();
    while let Some(row) = rows.next()? {
        let cell = Cell { table: "reports", row: row.get(0)? };
        reports.push(cell.report(&row.get::<_, String>(1)?)?);
    }
    Ok(reports)
}
