//! Finds the path of the store: `--store`, else `TRUG_STORE`, else `trug.gpkg` in the current folder.
//! Layer: `commands`.

use std::path::PathBuf;

use clap::Args;

use super::console::Console;
use super::taken_in::list_taken_in;
use super::years::Years;
use crate::error::Result;
use crate::store::Store;

/// Which store.
#[derive(Clone, Debug, Args)]
pub(super) struct StoreArgument {
    /// The store, a GeoPackage.
    #[arg(
        long,
        global = true,
        value_name = "FILE",
        env = "TRUG_STORE",
        default_value = "trug.gpkg"
    )]
    store: PathBuf,
}

impl StoreArgument {
    /// Its path.
    pub(super) fn path(&self) -> PathBuf {
        self.store.clone()
    }

    /// Opens the store. Edits by another program that it takes in are listed.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub(super) fn open(&self, console: &mut Console) -> Result<Store> {
        let store = Store::open(&self.store)?;
        list_taken_in(&store, console)?;
        Ok(store)
    }

    /// Opens the store and reads its outings and finds, as [`StoreArgument::open`].
    ///
    /// # Errors
    /// As [`Years::open`].
    pub(super) fn years(&self, console: &mut Console) -> Result<Years> {
        let years = Years::open(&self.store)?;
        list_taken_in(&years.store, console)?;
        Ok(years)
    }

    /// Opens the store or creates it. Edits by another program that it takes in are listed.
    ///
    /// # Errors
    /// As [`Store::create_or_open`].
    pub(super) fn create_or_open(&self, console: &mut Console) -> Result<Store> {
        let store = Store::create_or_open(&self.store)?;
        list_taken_in(&store, console)?;
        Ok(store)
    }
}
