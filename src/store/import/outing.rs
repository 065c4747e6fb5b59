//! Writes an outing and detects one that the store already holds. Layer: `store`.
//!
//! A day is one that the store has if it has the same outing, shares a track with it, or has the same finds; so a
//! day is recognised although its collector was named only later or its track came after its records.

use rusqlite::{Connection, OptionalExtension, params};
use uuid::Uuid;

use super::{Session, track};
use crate::model::Day;
use crate::store::fault::Attempt;
use crate::store::row::Row;
use crate::store::words::Cell;
use crate::store::{geometry, words};

/// An outing that the store has.
pub(super) struct Known {
    pub(super) key: i64,
    pub(super) uuid: Uuid,
    pub(super) fingerprint: String,
}

impl Session {
    /// The stored outing that this day is: by its identity, by a track of the same content at the
    /// same time, or, where either has no track, by the finds themselves.
    pub(super) fn recognise(&self, work: &Connection, day: &Day) -> Attempt<Option<Known>> {
        let by_identity: Option<i64> = work
            .prepare_cached("SELECT id FROM outings WHERE uuid = ?1")?
            .query_row([day.outing.id.to_string()], |row| row.get(0))
            .optional()?;
        let key = match by_identity {
            Some(key) => Some(key),
            None => match self.by_track(work, day)? {
                Some(key) => Some(key),
                None => self.by_finds(work, day)?,
            },
        };
        key.map(|key| known(work, key)).transpose()
    }

    /// The collector's name is part of an outing's identity and may have been given only now.
    fn by_track(&self, work: &Connection, day: &Day) -> Attempt<Option<i64>> {
        let (Some(start), Some(end)) = (day.outing.start, day.outing.end) else { return Ok(None) };
        for source in day.sources.iter().filter(|source| source.kind.is_track()) {
            let mut statement = work.prepare_cached(
                "SELECT o.id, o.uuid FROM sources s JOIN outings o ON o.id = s.outing_id
                 WHERE s.hash = ?1 AND s.kind = 'gpx' AND o.start_time <= ?3 AND o.end_time >= ?2
                 ORDER BY o.id",
            )?;
            let times = params![source.hash, words::instant(start), words::instant(end)];
            let mut rows = statement.query(times)?;
            while let Some(row) = rows.next()? {
                let (key, uuid): (i64, String) = (row.get(0)?, row.get(1)?);
                if self.is_free(key, &uuid) {
                    return Ok(Some(key));
                }
            }
        }
        Ok(None)
    }

    fn by_finds(&self, work: &Connection, day: &Day) -> Attempt<Option<i64>> {
        let mut found = None;
        for find in &day.finds {
            let home: Option<(i64, String)> = work
                .prepare_cached(
                    "SELECT o.id, o.uuid FROM finds f JOIN outings o ON o.id = f.outing_id
                     WHERE f.uuid = ?1",
                )?
                .query_row([find.id.to_string()], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()?;
            let Some((key, uuid)) = home else { continue };
            if !self.is_free(key, &uuid) || found.is_some_and(|other| other != key) {
                return Ok(None);
            }
            found = Some(key);
        }
        // finds stored without a track get theirs; those on another track are of another day
        match found {
            Some(key) if !day.track.is_empty() && track::has_track(work, key)? => Ok(None),
            found => Ok(found),
        }
    }

    /// Whether no other day of this import is that outing.
    fn is_free(&self, key: i64, uuid: &str) -> bool {
        let given = uuid.parse().is_ok_and(|uuid: Uuid| self.given.contains(&uuid));
        !given && !self.taken.contains(&key)
    }
}

fn known(work: &Connection, key: i64) -> Attempt<Known> {
    let (uuid, fingerprint): (String, String) = work
        .prepare_cached("SELECT uuid, fingerprint FROM outings WHERE id = ?1")?
        .query_row([key], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let uuid = Cell { table: "outings", row: key }.uuid(&uuid)?;
    Ok(Known { key, uuid, fingerprint })
}

/// Adds the outing, or changes the known one; where only records came, its times stay.
pub(super) fn write(
    work: &Connection,
    known: Option<(&Known, bool)>,
    day: &Day,
    fingerprint: &str,
    now: &str,
) -> Attempt<i64> {
    let outing = &day.outing;
    let mut row = Row::new();
    row.set("fingerprint", fingerprint.to_owned()).set("changed", now.to_owned());
    if !matches!(known, Some((_, true))) {
        let began = day.track.first().map(|point| point.at);
        let began = began.or_else(|| {
            day.finds.iter().find_map(|find| find.place.as_ref().ok()).map(|place| place.at)
        });
        row.set("geom", began.map(geometry::point))
            .set("date", outing.date.to_string())
            .set("start_time", outing.start.map(words::instant))
            .set("end_time", outing.end.map(words::instant))
            .set("zone", outing.zone.name.clone())
            .set("zone_source", words::word(outing.zone.source)?)
            .set("collector", outing.collector.clone());
    }
    if let Some((known, _)) = known {
        row.update(work, "outings", known.key)?;
        return Ok(known.key);
    }
    row.set("uuid", outing.id.to_string()).set("imported", now.to_owned());
    Ok(row.insert(work, "outings")?)
}
