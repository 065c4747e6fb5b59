//! Writes the names of a checklist into the tables of the store. Layer: `store`.

use std::collections::{HashMap, HashSet};

use rusqlite::{Connection, Statement};

use super::EachName;
use crate::model::{ChecklistCounts, ChecklistEntry, Lineage, OpenSynonym};
use crate::store::fault::{Attempt, Fault};
use crate::store::words;

/// Removes the names that are kept.
pub(super) const EMPTY: &str =
    "DELETE FROM checklist; DELETE FROM checklist_lineages; DELETE FROM checklist_genera;";

/// Replaces what is kept by these names.
pub(super) fn all(work: &Connection, each: &mut EachName<'_>) -> Attempt<ChecklistCounts> {
    work.execute_batch(EMPTY)?;
    // an index that is made at the end is made at once
    work.execute_batch("DROP INDEX checklist_by_key")?;
    let mut tables = Tables::of(work)?;
    let mut fault = None;
    let counts = each(&mut |entry| {
        tables.add(&entry).map_err(|error| {
            fault = Some(error);
            crate::error::ChangeFault::ChecklistNotWritten.into()
        })
    });
    if let Some(fault) = fault {
        return Err(fault);
    }
    let counts = counts.map_err(Fault::from)?;
    work.execute_batch("CREATE INDEX checklist_by_key ON checklist(key)")?;
    Ok(counts)
}

/// Statements, and what is already written.
struct Tables<'c> {
    names: Statement<'c>,
    lineages: Statement<'c>,
    genera: Statement<'c>,
    keys: HashMap<Lineage, i64>,
    known_genera: HashSet<String>,
}

impl<'c> Tables<'c> {
    fn of(work: &'c Connection) -> Attempt<Self> {
        Ok(Self {
            names: work.prepare(
                "INSERT INTO checklist
                 (id, key, name, author, rank, status, accepted_id, unresolved, lineage_id)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            )?,
            lineages: work.prepare(
                "INSERT INTO checklist_lineages
                 (id, kingdom, phylum, class, order_name, family, genus)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            )?,
            genera: work.prepare("INSERT INTO checklist_genera (name) VALUES (?1)")?,
            keys: HashMap::new(),
            known_genera: HashSet::new(),
        })
    }

    fn add(&mut self, entry: &ChecklistEntry) -> Attempt<()> {
        let lineage = self.lineage(&entry.lineage)?;
        let first = entry.key.split(' ').next().unwrap_or_default();
        if !self.known_genera.contains(first) {
            self.genera.execute([first])?;
            self.known_genera.insert(first.to_owned());
        }
        let open = entry.open.map(words::word::<OpenSynonym>).transpose()?;
        self.names.execute((
            entry.row,
            &entry.key,
            &entry.name,
            &entry.author,
            &entry.rank,
            &entry.status,
            entry.accepted,
            open,
            lineage,
        ))?;
        Ok(())
    }

    fn lineage(&mut self, lineage: &Lineage) -> Attempt<i64> {
        if let Some(key) = self.keys.get(lineage) {
            return Ok(*key);
        }
        let key = i64::try_from(self.keys.len()).unwrap_or(i64::MAX) + 1;
        let [kingdom, phylum, class, order, family, genus] = lineage.ranks();
        self.lineages.execute((key, kingdom, phylum, class, order, family, genus))?;
        self.keys.insert(lineage.clone(), key);
        Ok(key)
    }
}
