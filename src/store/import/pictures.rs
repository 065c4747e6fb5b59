//! Writes photographs (path and hash, not the file) and the clocks of their cameras.
//! Layer: `store`.

use std::collections::{HashMap, HashSet, VecDeque};

use rusqlite::Connection;

use crate::model::{CameraClock, Day, PlacedPhoto};
use crate::store::columns::ColumnWriter;
use crate::store::fault::Attempt;
use crate::store::row::Row;
use crate::store::{geometry, words};

/// Writes the day's photographs and returns their keys in the day's order. Those of an earlier
/// import are kept.
pub(super) fn write(work: &Connection, outing: i64, day: &Day) -> Attempt<Vec<i64>> {
    let cameras = write_cameras(work, outing, day)?;
    let mut known = known(work, outing)?;
    let mut keys = Vec::with_capacity(day.photos.len());
    for (place, placed) in day.photos.iter().enumerate() {
        let source = &placed.photo.source;
        let path = source.path.to_string_lossy();
        let stored = known.take(&source.hash, &path);
        let mut row = row(placed)?;
        row.set("place", i64::try_from(place).unwrap_or(i64::MAX))
            .set("camera_id", cameras.get(placed.camera).copied());
        keys.push(match stored {
            Some(key) => {
                row.update(work, "photographs", key)?;
                key
            }
            None => row.set("outing_id", outing).insert(work, "photographs")?,
        });
    }
    Ok(keys)
}

fn known(work: &Connection, outing: i64) -> Attempt<Known> {
    let mut statement = work.prepare_cached(
        "SELECT id, path, hash FROM photographs WHERE outing_id = ?1 ORDER BY id",
    )?;
    let mut known = Known::default();
    let mut rows = statement.query([outing])?;
    while let Some(row) = rows.next()? {
        let (key, path, hash): (i64, String, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
        known.by_both.entry((hash.clone(), path.clone())).or_default().push_back(key);
        known.by_hash.entry(hash).or_default().push_back(key);
        known.by_path.entry(path).or_default().push_back(key);
    }
    Ok(known)
}

/// The photographs of an earlier import by hash and path; each is taken once.
#[derive(Default)]
struct Known {
    by_both: HashMap<(String, String), VecDeque<i64>>,
    by_hash: HashMap<String, VecDeque<i64>>,
    by_path: HashMap<String, VecDeque<i64>>,
    taken: HashSet<i64>,
}

impl Known {
    /// The one with this hash and path, else with the hash, else with the path.
    fn take(&mut self, hash: &str, path: &str) -> Option<i64> {
        let both = (hash.to_owned(), path.to_owned());
        let taken = &self.taken;
        let key = first(self.by_both.get_mut(&both), taken)
            .or_else(|| first(self.by_hash.get_mut(hash), taken))
            .or_else(|| first(self.by_path.get_mut(path), taken))?;
        self.taken.insert(key);
        Some(key)
    }
}

fn first(keys: Option<&mut VecDeque<i64>>, taken: &HashSet<i64>) -> Option<i64> {
    let keys = keys?;
    while let Some(key) = keys.pop_front() {
        if !taken.contains(&key) {
            return Some(key);
        }
    }
    None
}

fn row(placed: &PlacedPhoto) -> Attempt<Row> {
    let photo = &placed.photo;
    let offset = photo.offset.map(jiff::tz::Offset::seconds);
    let mut row = Row::new();
    row.set("geom", placed.at.map(|(at, _)| geometry::point(at)))
        .set("path", photo.source.path.to_string_lossy().into_owned())
        .set("name", photo.name())
        .set("size_bytes", i64::try_from(photo.source.bytes).unwrap_or(i64::MAX))
        .set("hash", photo.source.hash.clone())
        .set("camera_clock", photo.taken.map(|taken| taken.to_string()))
        .set("taken_time", placed.when.map(words::instant))
        .set("radius95_m", placed.at.map(|(_, radius)| radius.metres().0))
        .set("details", words::json(&(&photo.camera, offset, photo.gps, &photo.remarks))?);
    Ok(row)
}

/// The cameras of the day; one that only photographs of an earlier import used stays.
fn write_cameras(work: &Connection, outing: i64, day: &Day) -> Attempt<Vec<i64>> {
    let known: HashMap<String, i64> = work
        .prepare_cached("SELECT camera, id FROM cameras WHERE outing_id = ?1")?
        .query_map([outing], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Result<_, _>>()?;
    let mut keys = Vec::with_capacity(day.cameras.len());
    for (place, clock) in day.cameras.iter().enumerate() {
        let name = clock.camera.to_string();
        let mut row = camera_row(clock, &name)?;
        row.set("place", i64::try_from(place).unwrap_or(i64::MAX));
        keys.push(match known.get(&name).filter(|key| !keys.contains(*key)) {
            Some(key) => {
                row.update(work, "cameras", *key)?;
                *key
            }
            None => row.set("outing_id", outing).insert(work, "cameras")?,
        });
    }
    Ok(keys)
}

fn camera_row(clock: &CameraClock, name: &str) -> Attempt<Row> {
    // The curve has two thousand numbers and is too large as JSON.
    let details = CameraClock { profile: Vec::new(), ..clock.clone() };
    let mut row = Row::new();
    row.set("camera", name.to_owned())
        .set("method", words::word(clock.method)?)
        .set("ahead_s", clock.ahead.map(|span| span.0))
        .set("low95_s", clock.interval95.map(|(low, _)| low.0))
        .set("high95_s", clock.interval95.map(|(_, high)| high.0))
        .set("zone_part_s", clock.zone_part.map(|span| span.0))
        .set("error_part_s", clock.error_part.map(|span| span.0))
        .set("details", words::json(&details)?)
        .set("profile", profile(clock));
    Ok(row)
}

fn profile(clock: &CameraClock) -> Vec<u8> {
    let thousandths = |number: f64| (number * 1e3).round() / 1e3;
    let mut writer = ColumnWriter::default();
    writer.unsigned(clock.profile.len() as u128);
    writer.decimals(&clock.profile.iter().map(|(at, _)| thousandths(at.0)).collect::<Vec<_>>());
    writer.decimals(
        &clock.profile.iter().map(|(_, height)| thousandths(*height)).collect::<Vec<_>>(),
    );
    writer.finish()
}
