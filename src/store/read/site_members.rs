//! Reads and writes the finds of each site incrementally, for very large stores, with the settings
//! that the sites were computed for. Layer: `store`.

use std::collections::HashMap;

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};
use uuid::Uuid;

use super::places::{each_site, refuse};
use crate::error::Result;
use crate::model::SiteId;
use crate::store::fault::{Attempt, Fault};
use crate::store::row::Row;
use crate::store::words::Cell;
use crate::store::{Store, geometry, layers, sensitivity, words};
use crate::units::{LatLon, Radius95};

/// A site with the rows of its finds.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteMembers {
    /// Its permanent number.
    pub id: SiteId,
    /// The user's name for it.
    pub name: Option<String>,
    /// Its centre.
    pub at: LatLon,
    /// The radius that covers the circles of its finds.
    pub radius: Radius95,
    /// The rows of its finds ([`crate::store::BriefFind::key`]), the smallest first.
    pub finds: Vec<i64>,
}

/// The name of the cached result with the inputs of the stored sites.
const MADE_FOR: &str = "sites";

impl Store {
    /// The stored sites, in order of their numbers.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn site_members(&self) -> Result<Vec<SiteMembers>> {
        all(&self.connection).map_err(|fault| fault.tell(&self.path))
    }

    /// Whether the stored sites are those of exactly these inputs and unedited since, and state as many finds
    /// as they have.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn sites_made_for(&self, inputs: &str) -> Result<bool> {
        let made = self.derived(MADE_FOR, inputs)?.is_some();
        Ok(made && !miscounted(&self.connection).map_err(|fault| fault.tell(&self.path))?)
    }

    /// Writes changed and new sites, deletes removed ones, and records the inputs of all sites; all
    /// or nothing.
    ///
    /// # Errors
    /// When two sites have one name or share a find, or when the store cannot be written.
    pub fn change_sites(
        &mut self,
        changed: &[SiteMembers],
        gone: &[SiteId],
        inputs: &str,
        now: Timestamp,
    ) -> Result<()> {
        let path = self.path.clone();
        change(&mut self.connection, changed, gone, inputs, &words::instant(now))
            .map_err(|fault| fault.tell(&path))
    }

    /// Sets or removes the name of a site.
    ///
    /// # Errors
    /// When another site has the name, or when the store cannot be written.
    pub fn name_site(&mut self, id: SiteId, name: Option<&str>) -> Result<()> {
        self.may_be_changed()?;
        self.connection
            .execute("UPDATE sites SET name = ?2 WHERE id = ?1", (id.0, name))
            .map(|_| ())
            .map_err(|error| {
                let known = refuse(&error, id, name);
                known.unwrap_or_else(|| Fault::from(error)).tell(&self.path)
            })
    }

    /// The permanent identifier of the find in a row, withdrawn or not.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn find_in_row(&self, key: i64) -> Result<Option<Uuid>> {
        identity(&self.connection, key).map_err(|fault| fault.tell(&self.path))
    }
}

/// The sites that state another number of finds than they have: finds go with their outing.
const MISCOUNTED: &str =
    "find_count != (SELECT count(*) FROM site_finds m WHERE m.site_id = sites.id)";

fn miscounted(connection: &Connection) -> Attempt<bool> {
    let select = format!("SELECT EXISTS (SELECT 1 FROM sites WHERE {MISCOUNTED})");
    Ok(connection.prepare_cached(&select)?.query_row([], |row| row.get(0))?)
}

/// Corrects the numbers of finds of sites that lost some and are otherwise unchanged; returns how many.
fn recount(work: &Connection, now: &str) -> Attempt<usize> {
    let update = format!(
        "UPDATE sites SET changed = ?1,
           find_count = (SELECT count(*) FROM site_finds m WHERE m.site_id = sites.id)
         WHERE {MISCOUNTED}"
    );
    Ok(work.prepare_cached(&update)?.execute([now])?)
}

fn identity(connection: &Connection, key: i64) -> Attempt<Option<Uuid>> {
    let text: Option<String> = connection
        .prepare_cached("SELECT uuid FROM finds WHERE id = ?1")?
        .query_row([key], |row| row.get(0))
        .optional()?;
    text.map(|text| Cell { table: "finds", row: key }.uuid(&text)).transpose()
}

fn all(connection: &Connection) -> Attempt<Vec<SiteMembers>> {
    let mut members: HashMap<i64, Vec<i64>> = HashMap::new();
    let mut statement = connection.prepare_cached("SELECT site_id, find_id FROM site_finds")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        members.entry(row.get(0)?).or_default().push(row.get(1)?);
    }
    each_site(connection, |id, name, at, radius| {
        let mut finds = members.remove(&id.0).unwrap_or_default();
        finds.sort_unstable();
        SiteMembers { id, name, at, radius, finds }
    })
}

fn change(
    connection: &mut Connection,
    changed: &[SiteMembers],
    gone: &[SiteId],
    inputs: &str,
    now: &str,
) -> Attempt<()> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    sensitivity::bind(&work)?;
    // deletions first, since names and finds may move between sites
    for id in gone.iter().chain(changed.iter().map(|site| &site.id)) {
        work.prepare_cached("DELETE FROM sites WHERE id = ?1")?.execute([id.0])?;
    }
    for site in changed {
        add(&work, site, now)?;
    }
    let recounted = recount(&work, now)?;
    sensitivity::bind(&work)?;
    if !changed.is_empty() || !gone.is_empty() || recounted > 0 {
        layers::refresh(&work, now)?;
    }
    work.execute(
        "INSERT INTO derived (name, inputs, value) VALUES (?1, ?2, x'')
         ON CONFLICT (name) DO UPDATE SET inputs = ?2, value = x''",
        (MADE_FOR, inputs),
    )?;
    work.commit()?;
    Ok(())
}

fn add(work: &Connection, site: &SiteMembers, now: &str) -> Attempt<()> {
    let reported = |error: rusqlite::Error| {
        refuse(&error, site.id, site.name.as_deref()).unwrap_or_else(|| error.into())
    };
    let mut row = Row::new();
    row.set("id", site.id.0)
        .set("geom", geometry::point(site.at))
        .set("name", site.name.clone())
        .set("radius95_m", site.radius.metres().0)
        .set("find_count", i64::try_from(site.finds.len()).unwrap_or(i64::MAX))
        .set("changed", now.to_owned());
    row.insert(work, "sites").map_err(reported)?;
    let mut insert =
        work.prepare_cached("INSERT INTO site_finds (site_id, find_id) VALUES (?1, ?2)")?;
    for find in &site.finds {
        insert.execute((site.id.0, find)).map_err(reported)?;
    }
    Ok(())
}
