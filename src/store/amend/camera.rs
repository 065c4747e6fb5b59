//! Applies the amended clock of a camera: the times of its photographs and where it was then.
//! Layer: `store`.
//!
//! Only photographs of one outing are concerned: the same camera on another day may have been set in between.

use jiff::tz::TimeZone;
use rusqlite::Connection;

use super::base;
use super::journal;
use super::on_track::{Moment, on_track};
use crate::model::{CameraClock, ClockEvidence, ClockMethod, PartKind, Patch, TrackPoint};
use crate::store::fault::Attempt;
use crate::store::read::tracks;
use crate::store::row::{Cells, Row};
use crate::store::words::{self, Cell};
use crate::store::{geometry, read};
use crate::units::Seconds;

/// Half the 95 % interval of a clock that was stated to the second.
const STATED: Seconds = Seconds(1.0);
/// Zones differ by multiples of this, seconds.
const QUARTER: f64 = 900.0;

/// Applies the amended clocks of an outing's cameras.
pub(super) fn lay(work: &Connection, outing: i64) -> Attempt<()> {
    let (uuid, zone): (String, String) = work
        .prepare_cached("SELECT uuid, zone FROM outings WHERE id = ?1")?
        .query_row([outing], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let cameras: Vec<(i64, String)> = work
        .prepare_cached("SELECT id, camera FROM cameras WHERE outing_id = ?1 ORDER BY id")?
        .query_map([outing], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    for (key, name) in cameras {
        let patches = journal::patches_of_camera(work, &uuid, &name)?;
        let Some((_, Patch::CameraClock(ahead))) = patches.last() else { continue };
        let zone = read::day::zone(&zone).unwrap_or(TimeZone::UTC);
        base::keep_camera(work, key)?;
        set_clock(work, key, *ahead)?;
        let track = tracks::track(work, outing)?;
        set_photographs(work, key, *ahead, &zone, &track)?;
    }
    Ok(())
}

fn set_clock(work: &Connection, key: i64, ahead: Seconds) -> Attempt<()> {
    let details: String = work
        .prepare_cached("SELECT details FROM cameras WHERE id = ?1")?
        .query_row([key], |row| row.get(0))?;
    let mut clock: CameraClock = Cell { table: "cameras", row: key }.json(&details)?;
    let zone_part = Seconds((ahead.0 / QUARTER).round() * QUARTER);
    clock.method = ClockMethod::Stated;
    clock.ahead = Some(ahead);
    clock.interval95 = Some((ahead - STATED, ahead + STATED));
    clock.zone_part = Some(zone_part);
    clock.error_part = Some(ahead - zone_part);
    clock.alternatives.clear();
    clock.basis = ClockEvidence::Amended.into();
    let mut row = Row::new();
    row.set("method", words::word(clock.method)?)
        .set("ahead_s", ahead.0)
        .set("low95_s", (ahead - STATED).0)
        .set("high95_s", (ahead + STATED).0)
        .set("zone_part_s", zone_part.0)
        .set("error_part_s", (ahead - zone_part).0)
        .set("details", words::json(&clock)?);
    row.update(work, "cameras", key)?;
    Ok(())
}

fn set_photographs(
    work: &Connection,
    camera: i64,
    ahead: Seconds,
    zone: &TimeZone,
    track: &[TrackPoint],
) -> Attempt<()> {
    let mut statement = work.prepare_cached(
        "SELECT id, camera_clock FROM photographs WHERE camera_id = ?1 AND camera_clock IS NOT NULL",
    )?;
    let mut rows = statement.query([camera])?;
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "photographs", row: cells.next()? };
        let Some(reading) = cell.some(cells.text()?, Cell::wall_clock)? else { continue };
        let as_if_utc = TimeZone::UTC.to_ambiguous_timestamp(reading).compatible().ok();
        let local = as_if_utc.map(|reading| TimeZone::UTC.to_datetime((-ahead).after(reading)));
        let when = local.and_then(|local| zone.to_ambiguous_timestamp(local).compatible().ok());
        let moments: Vec<Moment> =
            when.iter().map(|at| Moment { at: *at, within: STATED }).collect();
        let at = on_track(track, &moments, PartKind::Clock).ok();
        let mut row = Row::new();
        row.set("taken_time", when.map(words::instant))
            .set("geom", at.as_ref().map(|place| geometry::point(place.at)))
            .set("radius95_m", at.as_ref().map(|place| place.radius.metres().0));
        row.update(work, "photographs", cell.row)?;
    }
    Ok(())
}
