//! Keeps a checklist of taxa in the store and looks up the names of finds in it. What was written is
//! never changed. Layer: `store`.

mod keep;
mod lookup;
mod names;
mod nearest;

use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

pub(super) use names::Names;

use super::Store;
use super::fault::Fault;
use crate::error::{ChangeFault, Error, Result, StoreFault};
use crate::model::{ChecklistCounts, ChecklistEntry, NameCheck};

/// Passes every name of a checklist on, and counts them.
pub type EachName<'a> =
    dyn FnMut(&mut dyn FnMut(ChecklistEntry) -> Result<()>) -> Result<ChecklistCounts> + 'a;

/// The setting that describes the checklist.
const ABOUT: &str = "checklist";

/// The checklist that a store keeps.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct KeptChecklist {
    /// The name of its file.
    pub file: String,
    /// When it was taken.
    pub since: Timestamp,
    /// Its names.
    pub names: usize,
    /// Its accepted names.
    pub accepted: usize,
    /// Its synonyms with an accepted name.
    pub synonyms: usize,
}

impl Store {
    /// Keeps a checklist in place of an earlier one: the names that `each` passes on.
    ///
    /// What was written in notebooks never changes by it.
    ///
    /// # Errors
    /// What `each` returns, and when the store cannot be written; the earlier one is kept then.
    pub fn keep_checklist(
        &mut self,
        file: &Path,
        now: Timestamp,
        each: &mut EachName<'_>,
    ) -> Result<ChecklistCounts> {
        self.may_be_changed()?;
        let work = self.connection.transaction().map_err(|e| Fault::from(e).tell(&self.path))?;
        let counts = keep::all(&work, each).map_err(|fault| fault.tell(&self.path))?;
        let file = file.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        let (names, accepted, synonyms) = (counts.names, counts.accepted, counts.synonyms);
        let since = now.round(jiff::Unit::Second).unwrap_or(now);
        let about = KeptChecklist { file, since, names, accepted, synonyms };
        let about = serde_json::to_string(&about).map_err(|error| {
            Error::from(ChangeFault::ChecklistDescriptionNotKept { cause: error.to_string() })
        })?;
        work.execute(
            "INSERT INTO settings (name, value) VALUES ('user:' || ?1, ?2)
             ON CONFLICT (name) DO UPDATE SET value = ?2",
            (ABOUT, &about),
        )
        .and_then(|_| work.commit())
        .map_err(|error| Fault::from(error).tell(&self.path))?;
        Ok(counts)
    }

    /// Removes the checklist; whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn remove_checklist(&mut self) -> Result<bool> {
        self.may_be_changed()?;
        if self.checklist()?.is_none() {
            return Ok(false);
        }
        let removed = self.connection.transaction().and_then(|work| {
            work.execute_batch(keep::EMPTY)?;
            work.execute("DELETE FROM settings WHERE name = 'user:' || ?1", [ABOUT])?;
            work.commit()
        });
        removed.map_err(|error| Fault::from(error).tell(&self.path))?;
        Ok(true)
    }

    /// The checklist that is kept; `None` without one.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn checklist(&self) -> Result<Option<KeptChecklist>> {
        let about = self.setting(ABOUT)?;
        about
            .map(|text| {
                serde_json::from_str(&text).map_err(|error| {
                    StoreFault::ChecklistDescription { cause: error.to_string() }.at(&self.path)
                })
            })
            .transpose()
    }

    /// What the checklist says of a written name, with the nearest names where it does not have it;
    /// `None` without a checklist, or where nothing certain is written.
    ///
    /// Compared without case, accents, hyphens, ranks and authors; where several taxa remain, fungi come before plants
    /// and animals, and correct use before misapplied use. `docs/checklist.md` has the rules.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn lookup(&self, written: &str) -> Result<Option<Arc<NameCheck>>> {
        let mut names = Names::with_nearest(&self.connection);
        names.check(written).map_err(|fault| fault.tell(&self.path))
    }

    /// Changes these names to those that the checklist accepts; certain names only, all others stay as
    /// written.
    ///
    /// # Errors
    /// When the store cannot be read.
    #[doc(hidden)]
    pub fn name_as_accepted<'n>(
        &self,
        written: impl Iterator<Item = &'n mut Option<Arc<str>>>,
    ) -> Result<()> {
        let mut names = Names::new(&self.connection);
        let mut shared: HashMap<Arc<str>, Option<Arc<str>>> = HashMap::new();
        if !names.are_kept().map_err(|fault| fault.tell(&self.path))? {
            return Ok(());
        }
        for own in written {
            let Some(name) = &own else { continue };
            let accepted = if let Some(known) = shared.get(name) {
                known.clone()
            } else {
                let accepted = names.accepted(name).map_err(|fault| fault.tell(&self.path))?;
                let accepted = accepted.map(Arc::from);
                shared.insert(name.clone(), accepted.clone());
                accepted
            };
            *own = accepted.or(own.take());
        }
        Ok(())
    }

    /// [`Self::lookup`] for several names, each looked up once.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn lookup_all<'n>(
        &self,
        written: impl Iterator<Item = &'n str>,
    ) -> Result<Vec<Option<Arc<NameCheck>>>> {
        let mut names = Names::with_nearest(&self.connection);
        written.map(|name| names.check(name).map_err(|fault| fault.tell(&self.path))).collect()
    }
}
