//! What did the user decide to keep quiet? Layer: `store`.

use rusqlite::Connection;
use uuid::Uuid;

use crate::error::Result;
use crate::model::{QuietRule, QuietSubject, SiteId};
use crate::store::fault::{Attempt, Fault};
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::store::{Store, words};

impl Store {
    /// All decisions to keep something quiet: kinds, then sites, then single finds.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn quiet_rules(&self) -> Result<Vec<QuietRule>> {
        rules(&self.connection).map_err(|fault| fault.tell(&self.path))
    }

    /// Keeps a decision, in place of an earlier one about the same.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn keep_quiet(&mut self, rule: &QuietRule) -> Result<()> {
        self.may_be_changed()?;
        keep(&self.connection, rule).map_err(|fault| fault.tell(&self.path))
    }

    /// Takes a decision back, and tells whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn open_up(&mut self, subject: &QuietSubject) -> Result<bool> {
        self.may_be_changed()?;
        let (subject, name) = columns(subject);
        self.connection
            .execute("DELETE FROM quiet_places WHERE subject = ?1 AND name = ?2", (subject, name))
            .map(|gone| gone > 0)
            .map_err(|error| Fault::from(error).tell(&self.path))
    }
}

/// A kind is one kind however its case and spacing are written.
fn columns(subject: &QuietSubject) -> (&'static str, String) {
    match subject {
        QuietSubject::Kind(name) => {
            let words: Vec<String> = name.split_whitespace().map(str::to_lowercase).collect();
            ("kind", words.join(" "))
        }
        QuietSubject::Site(id) => ("site", id.0.to_string()),
        QuietSubject::Find(id) => ("find", id.to_string()),
    }
}

fn keep(connection: &Connection, rule: &QuietRule) -> Attempt<()> {
    let (subject, name) = columns(&rule.subject);
    connection.execute(
        "INSERT INTO quiet_places (subject, name, level, reason, since) VALUES (?1, ?2, ?3, ?4, ?5)
         ON CONFLICT (subject, name) DO UPDATE SET level = ?3, reason = ?4, since = ?5",
        (subject, name, words::word(rule.level)?, &rule.reason, words::instant(rule.since)),
    )?;
    Ok(())
}

fn rules(connection: &Connection) -> Attempt<Vec<QuietRule>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, subject, name, level, reason, since FROM quiet_places
         ORDER BY subject = 'find', subject, name",
    )?;
    let mut rows = statement.query([])?;
    let mut rules = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "quiet_places", row: cells.next()? };
        let (subject, name): (String, String) = (cells.next()?, cells.next()?);
        rules.push(QuietRule {
            subject: read_subject(cell, &subject, &name)?,
            level: cell.word(&cells.next::<String>()?)?,
            reason: cells.next()?,
            since: cell.instant(&cells.next::<String>()?)?,
        });
    }
    Ok(rules)
}

fn read_subject(cell: Cell, subject: &str, name: &str) -> Attempt<QuietSubject> {
    let read = match subject {
        "kind" => Some(QuietSubject::Kind(name.to_owned())),
        "site" => name.parse().ok().map(|id| QuietSubject::Site(SiteId(id))),
        "find" => name.parse::<Uuid>().ok().map(QuietSubject::Find),
        _ => None,
    };
    read.ok_or_else(|| {
        Fault::damaged(
            cell.table,
            cell.row,
            format!("\"{subject} {name}\" is nothing to keep quiet"),
        )
    })
}
