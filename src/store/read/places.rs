//! Reads and writes trailheads and sites. Layer: `store`.

use std::collections::HashMap;

use jiff::Timestamp;
use rusqlite::{Connection, TransactionBehavior};
use serde::Serialize;
use uuid::Uuid;

use crate::error::{ChangeFault, Error, Result, RowDamage};
use crate::model::SiteId;
use crate::store::fault::{Attempt, Fault};
use crate::store::row::{Cells, Row};
use crate::store::words::Cell;
use crate::store::{Store, geometry, layers, sensitivity, words};
use crate::units::{LatLon, Metres, Radius95};

/// A trailhead.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trailhead {
    /// Its name, by which it is known.
    pub name: String,
    /// Where it is.
    pub at: LatLon,
    /// Notes.
    pub notes: Option<String>,
}

/// A site in the store: its permanent number, its name and its finds.
///
/// The number is never used for another site, even after the site has gone.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptSite {
    /// Its permanent number.
    pub id: SiteId,
    /// The user's name for it.
    pub name: Option<String>,
    /// Its centre.
    pub at: LatLon,
    /// The radius that covers the circles of its finds.
    pub radius: Radius95,
    /// Its finds.
    pub finds: Vec<Uuid>,
}

impl Store {
    /// All trailheads in order of name.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn trailheads(&self) -> Result<Vec<Trailhead>> {
        trailheads(&self.connection).map_err(|fault| fault.tell(&self.path))
    }

    /// Writes a trailhead, replacing one of the same name.
    ///
    /// # Errors
    /// When the name is empty or the store cannot be written.
    pub fn keep_trailhead(&mut self, trailhead: &Trailhead, now: Timestamp) -> Result<()> {
        self.may_be_changed()?;
        if trailhead.name.trim().is_empty() {
            return Err(ChangeFault::NoTrailheadName.into());
        }
        let path = self.path.clone();
        keep_trailhead(&mut self.connection, trailhead, &words::instant(now))
            .map_err(|fault| fault.tell(&path))
    }

    /// Deletes the trailhead of this name, and returns whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn forget_trailhead(&mut self, name: &str, now: Timestamp) -> Result<bool> {
        self.may_be_changed()?;
        let path = self.path.clone();
        forget_trailhead(&mut self.connection, name, &words::instant(now))
            .map_err(|fault| fault.tell(&path))
    }

    /// The stored sites, in order of their numbers.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn sites(&self) -> Result<Vec<KeptSite>> {
        sites(&self.connection).map_err(|fault| fault.tell(&self.path))
    }

    /// Replaces the stored sites with these, all or none.
    ///
    /// Rules that protect a site keep the circle and the finds that they were bound to.
    ///
    /// # Errors
    /// When two sites have one name, share a find or name a find that the store does not have, or
    /// when the store cannot be written.
    pub fn keep_sites(&mut self, sites: &[KeptSite], now: Timestamp) -> Result<()> {
        let path = self.path.clone();
        keep_sites(&mut self.connection, sites, &words::instant(now))
            .map_err(|fault| fault.tell(&path))
    }
}

fn trailheads(connection: &Connection) -> Attempt<Vec<Trailhead>> {
    let mut statement = connection
        .prepare_cached("SELECT id, name, geom, notes FROM trailheads ORDER BY name, id")?;
    let mut rows = statement.query([])?;
    let mut trailheads = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let key = cells.next()?;
        let name = cells.next()?;
        let at = cells.bytes()?.and_then(geometry::position);
        let at = at.ok_or_else(|| Fault::damaged("trailheads", key, RowDamage::NoPosition))?;
        trailheads.push(Trailhead { name, at, notes: cells.next()? });
    }
    Ok(trailheads)
}

fn keep_trailhead(connection: &mut Connection, trailhead: &Trailhead, now: &str) -> Attempt<()> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    work.execute("DELETE FROM trailheads WHERE name = ?1", [&trailhead.name])?;
    let mut row = Row::new();
    row.set("name", trailhead.name.clone())
        .set("geom", geometry::point(trailhead.at))
        .set("notes", trailhead.notes.clone());
    row.insert(&work, "trailheads")?;
    layers::refresh(&work, now)?;
    work.commit()?;
    Ok(())
}

fn forget_trailhead(connection: &mut Connection, name: &str, now: &str) -> Attempt<bool> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let gone = work.execute("DELETE FROM trailheads WHERE name = ?1", [name])?;
    layers::refresh(&work, now)?;
    work.commit()?;
    Ok(gone > 0)
}

fn sites(connection: &Connection) -> Attempt<Vec<KeptSite>> {
    let mut members: HashMap<i64, Vec<Uuid>> = HashMap::new();
    let mut statement = connection.prepare_cached(
        "SELECT m.site_id, f.id, f.uuid FROM site_finds m JOIN finds f ON f.id = m.find_id ORDER BY m.id",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let uuid = Cell { table: "finds", row: row.get(1)? }.uuid(&row.get::<_, String>(2)?)?;
        members.entry(row.get(0)?).or_default().push(uuid);
    }
    each_site(connection, |id, name, at, radius| {
        let finds = members.remove(&id.0).unwrap_or_default();
        KeptSite { id, name, at, radius, finds }
    })
}

/// All sites by number, each made from its number, name, position and radius.
pub(super) fn each_site<Site>(
    connection: &Connection,
    mut make: impl FnMut(SiteId, Option<String>, LatLon, Radius95) -> Site,
) -> Attempt<Vec<Site>> {
    let mut statement =
        connection.prepare_cached("SELECT id, name, geom, radius95_m FROM sites ORDER BY id")?;
    let mut rows = statement.query([])?;
    let mut sites = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let key: i64 = cells.next()?;
        let name = cells.next()?;
        let at = cells.bytes()?.and_then(geometry::position);
        let radius = Radius95::new(Metres(cells.next()?));
        let (Some(at), Some(radius)) = (at, radius) else {
            return Err(Fault::damaged("sites", key, RowDamage::NoPositionOrRadius));
        };
        sites.push(make(SiteId(key), name, at, radius));
    }
    Ok(sites)
}

fn keep_sites(connection: &mut Connection, sites: &[KeptSite], now: &str) -> Attempt<()> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    sensitivity::bind(&work)?;
    work.execute("DELETE FROM sites", [])?;
    for site in sites {
        let mut row = Row::new();
        row.set("id", site.id.0)
            .set("geom", geometry::point(site.at))
            .set("name", site.name.clone())
            .set("radius95_m", site.radius.metres().0)
            .set("find_count", i64::try_from(site.finds.len()).unwrap_or(i64::MAX))
            .set("changed", now.to_owned());
        row.insert(&work, "sites").map_err(|error| {
            refuse(&error, site.id, site.name.as_deref()).unwrap_or(error.into())
        })?;
        for find in &site.finds {
            let added = work
                .prepare_cached(
                    "INSERT INTO site_finds (site_id, find_id) SELECT ?1, id FROM finds WHERE uuid = ?2",
                )?
                .execute((site.id.0, find.to_string()))
                .map_err(|error| refuse(&error, site.id, site.name.as_deref()).unwrap_or(error.into()))?;
            if added == 0 {
                let fault = ChangeFault::FindOfSite { site: site.id.0, find: *find };
                return Err(Error::from(fault).into());
            }
        }
    }
    sensitivity::bind(&work)?;
    layers::refresh(&work, now)?;
    work.commit()?;
    Ok(())
}

/// A name or a find that two sites would share.
pub(super) fn refuse(error: &rusqlite::Error, site: SiteId, name: Option<&str>) -> Option<Fault> {
    if error.sqlite_error_code() != Some(rusqlite::ErrorCode::ConstraintViolation) {
        return None;
    }
    let fault = ChangeFault::SiteNotUnique {
        site: site.0,
        name: name.map(str::to_owned),
        cause: error.to_string(),
    };
    Some(Error::from(fault).into())
}
