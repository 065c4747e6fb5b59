//! Finds the path of the store: `--store`, else `TRUG_STORE`, else `trug.gpkg` in the current folder.
//! Layer: `commands`.

use std::path::PathBuf;

use clap::Args;

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
}
