//! Reads and writes sensitivity rules and the finds and sites that they apply to. Layer: `store`.

use std::collections::HashMap;

use rusqlite::{Connection, TransactionBehavior};
use uuid::Uuid;

use crate::error::{Result, RowDamage};
use crate::model::{BoundPlace, RuleSubject, SensitivityRule, SiteId};
use crate::store::fault::{Attempt, Fault};
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::store::{Store, geometry, sensitivity, words};
use crate::units::{Metres, Radius95};

impl Store {
    /// All sensitivity rules: taxa, then sites, then single finds, each with what it is bound to.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn sensitivity_rules(&self) -> Result<Vec<SensitivityRule>> {
        rules(&self.connection).map_err(|fault| fault.tell(&self.path))
    }

    /// Writes a rule, replacing an earlier one for the same subject, and binds it to its current
    /// finds and circles.
    ///
    /// The bindings are renewed at every later change of the store, and only ever grow.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn keep_sensitivity_rule(&mut self, rule: &SensitivityRule) -> Result<()> {
        self.may_be_changed()?;
        keep(&mut self.connection, rule).map_err(|fault| fault.tell(&self.path))
    }

    /// Deletes a rule with its bindings, and returns whether there was one.
    ///
    /// What was published under it stays recorded at its level, so that later outputs do not become more exact by
    /// themselves.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn drop_sensitivity_rule(&mut self, subject: &RuleSubject) -> Result<bool> {
        self.may_be_changed()?;
        self.connection
            .execute(
                "DELETE FROM sensitivity_rules WHERE subject = ?1 AND name = ?2",
                subject.key(),
            )
            .map(|gone| gone > 0)
            .map_err(|error| Fault::from(error).tell(&self.path))
    }
}

fn keep(connection: &mut Connection, rule: &SensitivityRule) -> Attempt<()> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let (subject, name) = rule.subject.key();
    work.execute(
        "INSERT INTO sensitivity_rules (subject, name, level, reason, since, in_advance)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6)
         ON CONFLICT (subject, name)
         DO UPDATE SET level = ?3, reason = ?4, since = ?5, in_advance = ?6",
        (
            subject,
            name,
            words::word(rule.level)?,
            &rule.reason,
            words::instant(rule.since),
            rule.in_advance,
        ),
    )?;
    sensitivity::bind(&work)?;
    work.commit()?;
    Ok(())
}

fn rules(connection: &Connection) -> Attempt<Vec<SensitivityRule>> {
    let mut bound = bound(connection)?;
    let mut statement = connection.prepare_cached(
        "SELECT id, subject, name, level, reason, since, in_advance FROM sensitivity_rules
         ORDER BY subject = 'find', subject = 'site', subject, name",
    )?;
    let mut rows = statement.query([])?;
    let mut rules = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "sensitivity_rules", row: cells.next()? };
        let (subject, name): (String, String) = (cells.next()?, cells.next()?);
        rules.push(SensitivityRule {
            subject: read_subject(cell, &subject, &name)?,
            level: cell.word(&cells.next::<String>()?)?,
            reason: cells.next()?,
            since: cell.instant(&cells.next::<String>()?)?,
            in_advance: cells.next()?,
            bound: bound.remove(&cell.row).unwrap_or_default(),
        });
    }
    Ok(rules)
}

/// The bindings of each rule, in order of insertion.
fn bound(connection: &Connection) -> Attempt<HashMap<i64, Vec<BoundPlace>>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, rule_id, find_uuid, scientific_name, place, radius95_m
         FROM sensitivity_bound ORDER BY id",
    )?;
    let mut rows = statement.query([])?;
    let mut bound: HashMap<i64, Vec<BoundPlace>> = HashMap::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "sensitivity_bound", row: cells.next()? };
        let rule = cells.next()?;
        let (find, taxon): (String, String) = (cells.next()?, cells.next()?);
        let at = cells.bytes()?.and_then(geometry::position);
        let radius = Radius95::new(Metres(cells.next()?));
        let find = if find.is_empty() { None } else { Some(cell.uuid(&find)?) };
        let taxon = Some(taxon).filter(|taxon| !taxon.trim().is_empty());
        bound.entry(rule).or_default().push(BoundPlace { find, taxon, place: at.zip(radius) });
    }
    Ok(bound)
}

fn read_subject(cell: Cell, subject: &str, name: &str) -> Attempt<RuleSubject> {
    let read = match subject {
        "taxon" => Some(RuleSubject::Taxon(name.to_owned())),
        "site" => name.parse().ok().map(|id| RuleSubject::Site(SiteId(id))),
        "find" => name.parse::<Uuid>().ok().map(RuleSubject::Find),
        _ => None,
    };
    read.ok_or_else(|| {
        Fault::damaged(
            cell.table,
            cell.row,
            RowDamage::Subject { subject: subject.to_owned(), name: name.to_owned() },
        )
    })
}
