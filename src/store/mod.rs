//! Stores all outings in one GeoPackage: finds, tracks, outings, photographs and stops as layers
//! for any GIS, and everything else that an import computed.
//!
//! An import is one transaction; importing a day again changes nothing; a corrected file of records
//! updates its finds and keeps the replaced versions. Photographs, tracks and notebooks are neither
//! copied nor changed: their paths and hashes are kept. Layer: `store`.

mod amend;
mod brief;
mod check;
mod checklist;
mod columns;
mod copy;
mod fault;
mod geometry;
mod import;
mod layers;
mod maps;
mod merge;
mod migrate;
mod open;
mod pack;
mod read;
mod row;
mod sensitivity;
mod weather;
mod words;

use std::path::{Path, PathBuf};

use rusqlite::Connection;

pub use amend::{NumberQuery, Undone};
#[doc(hidden)]
pub use brief::{BriefFind, BriefTrack, PackedBriefTrack};
pub use check::Inspected;
pub use checklist::{EachName, KeptChecklist};
pub use import::{Imported, ImportedDay, Outcome};
pub use maps::KeptTile;
pub use merge::{Merged, NamedSite};
#[doc(hidden)]
pub use read::SiteMembers;
pub use read::{FindQuery, FindRevision, KeptOuting, KeptSite, NotedFind, Trailhead};
pub use weather::KeptWeather;

/// A store of all days in one GeoPackage file.
///
/// # References
/// OGC 12-128r17, GeoPackage Encoding Standard 1.3.1, with the extension `gpkg_rtree_index`.
pub struct Store {
    connection: Connection,
    path: PathBuf,
    /// The temporary copy of a read-only file.
    copy: Option<copy::Copy>,
    /// The change that opening made of edits by another program.
    taken_in: Option<i64>,
}

impl Store {
    /// Where the file is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The number of the change that opening this store made of edits by another program, if there were any.
    #[must_use]
    pub fn taken_in(&self) -> Option<i64> {
        self.taken_in
    }
}

impl std::fmt::Debug for Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Store").field("path", &self.path).finish_non_exhaustive()
    }
}
