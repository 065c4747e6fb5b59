//! Looks up the names of many finds, each different name once. Layer: `store`.

use std::collections::HashMap;
use std::sync::Arc;

use rusqlite::Connection;

use super::lookup;
use super::nearest::{self, Genera};
use crate::model::{NameCheck, TaxonName, identification};
use crate::store::fault::Attempt;

/// The names that were looked up.
pub(in crate::store) struct Names<'c> {
    connection: &'c Connection,
    known: HashMap<String, Option<Arc<NameCheck>>>,
    /// Whether there is a checklist; asked once.
    kept: Option<bool>,
    with_nearest: bool,
    genera: Option<Genera>,
}

impl<'c> Names<'c> {
    /// Looks names up without suggestions for unknown ones.
    pub(in crate::store) fn new(connection: &'c Connection) -> Self {
        Self { connection, known: HashMap::new(), kept: None, with_nearest: false, genera: None }
    }

    /// Suggests the nearest names for unknown ones.
    pub(super) fn with_nearest(connection: &'c Connection) -> Self {
        Self { with_nearest: true, ..Self::new(connection) }
    }

    /// Whether the store has a checklist.
    pub(in crate::store) fn are_kept(&mut self) -> Attempt<bool> {
        if let Some(kept) = self.kept {
            return Ok(kept);
        }
        let kept = self
            .connection
            .prepare_cached("SELECT EXISTS (SELECT 1 FROM checklist)")?
            .query_row([], |row| row.get(0))?;
        self.kept = Some(kept);
        Ok(kept)
    }

    /// What the checklist says of a written name; `None` without a checklist or anything certain.
    pub(in crate::store) fn check(&mut self, written: &str) -> Attempt<Option<Arc<NameCheck>>> {
        if !self.are_kept()? {
            return Ok(None);
        }
        if let Some(known) = self.known.get(written) {
            return Ok(known.clone());
        }
        let certain = identification(written).name;
        let check = match certain.as_deref().and_then(TaxonName::read) {
            Some(name) => Some(Arc::new(self.looked_up(&name)?)),
            None => None,
        };
        self.known.insert(written.to_owned(), check.clone());
        Ok(check)
    }

    /// The accepted name in place of a certain synonym; `None` where what is written stays.
    pub(in crate::store) fn accepted(&mut self, written: &str) -> Attempt<Option<String>> {
        let Some(check) = self.check(written)? else { return Ok(None) };
        let certain = identification(written).qualifier.is_none();
        Ok(check.other_accepted().filter(|_| certain).map(|taxon| taxon.name.clone()))
    }

    fn looked_up(&mut self, name: &TaxonName) -> Attempt<NameCheck> {
        if let Some(found) = lookup::of(self.connection, name)? {
            return Ok(found);
        }
        if !self.with_nearest {
            return Ok(NameCheck::Unknown { nearest: Vec::new() });
        }
        if self.genera.is_none() {
            self.genera = Some(Genera::read(self.connection)?);
        }
        let nearest = match &self.genera {
            Some(genera) => nearest::names(self.connection, genera, name)?,
            None => Vec::new(),
        };
        Ok(NameCheck::Unknown { nearest })
    }
}
