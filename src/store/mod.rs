//! Stores all outings in one GeoPackage: finds, tracks, outings, photographs and stops as layers
//! for any GIS, and everything else that an import computed.
//!
//! An import is one transaction; importing a day again changes nothing; a corrected file of records
//! updates its finds and keeps the replaced versions. Photographs, tracks and notebooks are neither
//! copied nor changed: their paths and hashes are kept. Layer: `store`.
//!
//! # What the store promises
//! - **All or nothing.** Every change is one SQLite transaction: an import of a hundred days, a merge, an undo. After a
//!   failure, a full disk or a killed process the file is as it was before; a journal beside it (`NAME-journal`) is
//!   rolled back by the next opening. A test kills imports at thirty moments and finds no partial day.
//! - **Nothing is lost.** A corrected find keeps its replaced versions ([`Store::history`]), an amended one its row as
//!   imported, a removed outing can be restored ([`Store::undo`]) until [`Store::compact`] is called.
//! - **Identities last.** A find is known by its collector, number and day; its identifier survives corrections, later
//!   imports and merges. Sites keep their numbers ([`KeptSite`]).
//! - **Any GIS may edit.** Moved points, edited attributes and deleted finds are recorded by triggers in the file and
//!   become amendments when the store is next opened ([`Store::taken_in`]).
//! - **Old and new.** An older store is migrated when it is opened, in one transaction; a store of a newer version,
//!   a file of another program and a damaged file are refused and not touched.
//! - **Damage is noticed.** Packed tracks and fixes carry checksums; tables do not, since a GIS edits them
//!   ([`Store::inspect`]).
//!
//! # What it does not do
//! It is not encrypted and holds exact positions: whoever has the file has them all. One process writes at a time;
//! another one waits ten seconds and then reports that the store is in use.
//!
//! # Layers and tables
//! `docs/store.md` describes every layer, table and column as a GIS shows them. Times that end in `_time` are UTC,
//! lengths end in `_m`, spans in `_s`.
//!
//! # Examples
//! ```
//! use trug::store::{FindQuery, Store, Trailhead};
//! use trug::units::{LatLon, Timestamp};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let folder = tempfile::tempdir()?;
//! let path = folder.path().join("my.gpkg");
//! let gate = Trailhead {
//!     name: "Sawmill gate".into(),
//!     at: LatLon::new(-42.6110, 146.1010)?,
//!     notes: None,
//! };
//! {
//!     let mut store = Store::create_or_open(&path)?;
//!     store.keep_trailhead(&gate, Timestamp::now())?;
//! }
//! let store = Store::open(&path)?;
//! assert_eq!(store.trailheads()?, [gate]);
//! assert!(store.finds(&FindQuery::default())?.is_empty());
//! store.verify()?;
//! # Ok(())
//! # }
//! ```

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
/// Holds one connection; to use it from several threads, open it in each. Methods that take `&self` read; some of
/// them write results that can be computed again. Methods that take `&mut self` change what the store states, and
/// begin with [`Store::may_be_changed`].
///
/// # Speed and memory
/// Ten years of 2,000 days, 40 million points and a million finds are a file of 1.7 GB; figures for each analysis
/// are in `docs/store.md`. [`Store::each_find`], [`Store::tracks`] and [`Store::brief_ways`] hold one part in
/// memory at a time.
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
    ///
    /// Of a read-only store its own path, not that of the temporary copy.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The number of the change that opening this store made of edits by another program, if there were any.
    ///
    /// Read the change with [`Store::change`]: refused edits are in it with their reasons, and have to be reported.
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
