//! Reads and writes results and settings kept from one run to the next. Layer: `store`.

use std::path::Path;

use rusqlite::{Connection, OpenFlags, OptionalExtension};

use crate::error::Result;
use crate::store::Store;
use crate::store::columns::{sealed, unsealed};
use crate::store::fault::Attempt;

impl Store {
    /// A cached result of this name for exactly these inputs (by their hash).
    ///
    /// Damaged bytes count as no result.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn derived(&self, name: &str, inputs: &str) -> Result<Option<Vec<u8>>> {
        let kept =
            derived(&self.connection, name, inputs).map_err(|fault| fault.tell(&self.path))?;
        // an empty result says that it was made; a damaged one is computed again
        Ok(kept.and_then(|value| match value.as_slice() {
            [] => Some(value),
            sealed => unsealed(sealed).map(<[u8]>::to_vec),
        }))
    }

    /// Caches a result under this name, replacing one for other inputs.
    ///
    /// Only results that can be computed again are cached, so that losing them costs time alone.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn keep_derived(&mut self, name: &str, inputs: &str, value: &[u8]) -> Result<()> {
        let kept = self.connection.execute(
            "INSERT INTO derived (name, inputs, value) VALUES (?1, ?2, ?3)
             ON CONFLICT (name) DO UPDATE SET inputs = ?2, value = ?3",
            (name, inputs, sealed(value)),
        );
        kept.map(|_| ()).map_err(|error| super::super::fault::Fault::from(error).tell(&self.path))
    }

    /// A setting of this store.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn setting(&self, name: &str) -> Result<Option<String>> {
        setting(&self.connection, name).map_err(|fault| fault.tell(&self.path))
    }

    /// A setting of the store at this path, which is neither created, changed nor migrated; `None`
    /// where there is none.
    #[must_use]
    pub fn setting_of(path: &Path, name: &str) -> Option<String> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let path = std::path::absolute(path).ok().filter(|path| path.is_file())?;
        setting(&Connection::open_with_flags(path, flags).ok()?, name).ok()?
    }

    /// Writes a setting of this store.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn keep_setting(&mut self, name: &str, value: &str) -> Result<()> {
        let kept = self.connection.execute(
            "INSERT INTO settings (name, value) VALUES ('user:' || ?1, ?2)
             ON CONFLICT (name) DO UPDATE SET value = ?2",
            (name, value),
        );
        kept.map(|_| ()).map_err(|error| super::super::fault::Fault::from(error).tell(&self.path))
    }
}

fn derived(connection: &Connection, name: &str, inputs: &str) -> Attempt<Option<Vec<u8>>> {
    Ok(connection
        .prepare_cached("SELECT value FROM derived WHERE name = ?1 AND inputs = ?2")?
        .query_row([name, inputs], |row| row.get(0))
        .optional()?)
}

/// The user's settings have a prefix, so that none can be named `schema_version`.
fn setting(connection: &Connection, name: &str) -> Attempt<Option<String>> {
    Ok(connection
        .prepare_cached("SELECT value FROM settings WHERE name = 'user:' || ?1")?
        .query_row([name], |row| row.get(0))
        .optional()?)
}
