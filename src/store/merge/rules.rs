//! Copies sensitivity rules, what they are bound to, what was published, and trailheads from another store.
//! Of two levels the stricter one stays. Layer: `store`.

use rusqlite::{Connection, OptionalExtension};

use super::Merged;
use crate::model::{MergeConflict, Sensitivity};
use crate::store::fault::Attempt;
use crate::store::words::Cell;

pub(super) fn add(work: &Connection, other: &Connection, merged: &mut Merged) -> Attempt<()> {
    for rule in theirs(other)? {
        add_rule(work, other, &rule, merged)?;
    }
    published(work, other)?;
    trailheads(work, other, merged)
}

struct Rule {
    key: i64,
    subject: String,
    name: String,
    level: String,
    reason: Option<String>,
    since: String,
    in_advance: bool,
}

fn theirs(other: &Connection) -> Attempt<Vec<Rule>> {
    let mut statement = other.prepare(
        "SELECT id, subject, name, level, reason, since, in_advance FROM sensitivity_rules ORDER BY id",
    )?;
    let rules = statement.query_map([], |row| {
        Ok(Rule {
            key: row.get(0)?,
            subject: row.get(1)?,
            name: row.get(2)?,
            level: row.get(3)?,
            reason: row.get(4)?,
            since: row.get(5)?,
            in_advance: row.get(6)?,
        })
    })?;
    Ok(rules.collect::<rusqlite::Result<_>>()?)
}

/// Numbers of sites differ between stores: a rule for a site becomes one for each of its finds, bound to
/// the site's circle as before.
fn add_rule(
    work: &Connection,
    other: &Connection,
    rule: &Rule,
    merged: &mut Merged,
) -> Attempt<()> {
    if rule.subject != "site" {
        let key = keep(work, rule, &rule.subject, &rule.name, merged)?;
        return bind(work, other, rule.key, key);
    }
    let finds: Vec<String> = other
        .prepare_cached(
            "SELECT DISTINCT find_uuid FROM sensitivity_bound
             WHERE rule_id = ?1 AND find_uuid != '' ORDER BY find_uuid",
        )?
        .query_map([rule.key], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    for (place, find) in finds.iter().enumerate() {
        let key = keep(work, rule, "find", find, merged)?;
        if place == 0 {
            bind(work, other, rule.key, key)?;
        }
    }
    Ok(())
}

/// Adds the rule, or makes that of the same subject as strict.
fn keep(
    work: &Connection,
    rule: &Rule,
    subject: &str,
    name: &str,
    merged: &mut Merged,
) -> Attempt<i64> {
    let ours: Option<(i64, String)> = work
        .prepare_cached("SELECT id, level FROM sensitivity_rules WHERE subject = ?1 AND name = ?2")?
        .query_row([subject, name], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    let Some((key, level)) = ours else {
        merged.rules_changed += 1;
        return Ok(work
            .prepare_cached(
                "INSERT INTO sensitivity_rules (subject, name, level, reason, since, in_advance)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .insert((subject, name, &rule.level, &rule.reason, &rule.since, rule.in_advance))?);
    };
    let cell = Cell { table: "sensitivity_rules", row: key };
    let (own, other): (Sensitivity, Sensitivity) = (cell.word(&level)?, cell.word(&rule.level)?);
    if other > own {
        merged.rules_changed += 1;
        work.prepare_cached("UPDATE sensitivity_rules SET level = ?2 WHERE id = ?1")?
            .execute((key, &rule.level))?;
    }
    Ok(key)
}

fn bind(work: &Connection, other: &Connection, from: i64, to: i64) -> Attempt<()> {
    type Bound = (String, String, Vec<u8>, f64);
    let bound: Vec<Bound> = other
        .prepare_cached(
            "SELECT find_uuid, scientific_name, place, radius95_m FROM sensitivity_bound
             WHERE rule_id = ?1 ORDER BY id",
        )?
        .query_map([from], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?
        .collect::<rusqlite::Result<_>>()?;
    for (find, taxon, place, radius) in bound {
        work.prepare_cached(
            "INSERT OR IGNORE INTO sensitivity_bound
               (rule_id, find_uuid, scientific_name, place, radius95_m) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .execute((to, find, taxon, place, radius))?;
    }
    Ok(())
}

/// Outputs of either store count for both.
fn published(work: &Connection, other: &Connection) -> Attempt<()> {
    type Cells = (String, String, f64, f64, f64, f64, String, String);
    let published: Vec<Cells> = other
        .prepare(
            "SELECT find_uuid, level, latitude, longitude, latitude_step, longitude_step, rule, first_time
             FROM published ORDER BY id",
        )?
        .query_map([], |row| {
            Ok((
                row.get(0)?,
                row.get(1)?,
                row.get(2)?,
                row.get(3)?,
                row.get(4)?,
                row.get(5)?,
                row.get(6)?,
                row.get(7)?,
            ))
        })?
        .collect::<rusqlite::Result<_>>()?;
    for one in published {
        work.prepare_cached(
            "INSERT OR IGNORE INTO published (find_uuid, level, latitude, longitude, latitude_step,
               longitude_step, rule, first_time) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        )?
        .execute(one)?;
    }
    Ok(())
}

fn trailheads(work: &Connection, other: &Connection, merged: &mut Merged) -> Attempt<()> {
    type Trailhead = (Option<Vec<u8>>, String, Option<String>);
    let theirs: Vec<Trailhead> = other
        .prepare("SELECT geom, name, notes FROM trailheads ORDER BY id")?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
        .collect::<rusqlite::Result<_>>()?;
    for (at, name, notes) in theirs {
        let ours: Option<Option<Vec<u8>>> = work
            .prepare_cached("SELECT geom FROM trailheads WHERE name = ?1")?
            .query_row([&name], |row| row.get(0))
            .optional()?;
        match ours {
            Some(ours) if ours == at => {}
            Some(_) => merged.conflicts.push(MergeConflict::TrailheadPosition { name }),
            None => {
                work.prepare_cached(
                    "INSERT INTO trailheads (geom, name, notes) VALUES (?1, ?2, ?3)",
                )?
                .execute((at, &name, notes))?;
                merged.trailheads_added += 1;
            }
        }
    }
    Ok(())
}
