//! Stores a summary of each outing for analyses over all years: the turning points of its track and
//! short forms of its finds. Ten years are read in a second instead of a minute. Made at the import
//! or on first use; triggers in the database delete outdated ones. Layer: `store`.
//!
//! # Accuracy
//! Positions on the thinned track are within 0.26 m of the full one at every instant; times, activities and the
//! length of each segment are those of the full track, so that effort is unchanged. Finds are exact.

mod find;
mod keep;
mod thin;
mod track;

pub use find::BriefFind;
pub use track::{BriefTrack, PackedBriefTrack};

pub(super) use keep::renew;

use uuid::Uuid;

use super::Store;
use crate::error::Result;

impl Store {
    /// Builds the missing track summaries, some outings at a time, and reports how many are done.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn make_brief_ways(&self, mut done: impl FnMut(usize, usize)) -> Result<()> {
        keep::make(&self.connection, &keep::WAYS, &mut done).map_err(|fault| fault.tell(&self.path))
    }

    /// The packed track summaries of all outings that have one, in order of time, so that several
    /// can be unpacked in parallel. Those that are missing are left out: [`Store::make_brief_ways`]
    /// first.
    ///
    /// # Accuracy
    /// Positions are within 0.26 m of the full track at every instant; lengths, times and
    /// activities are those of the full track.
    ///
    /// # Errors
    /// When the store cannot be read; each track may fail separately.
    pub fn brief_ways(&self) -> Result<impl Iterator<Item = Result<PackedBriefTrack>> + '_> {
        self.brief_ways_of(|_| true)
    }

    /// Those of the wanted outings, as [`Store::brief_ways`].
    ///
    /// # Errors
    /// When the store cannot be read; each track may fail separately.
    pub fn brief_ways_of(
        &self,
        wanted: impl Fn(Uuid) -> bool,
    ) -> Result<impl Iterator<Item = Result<PackedBriefTrack>> + '_> {
        let mut keys = track::keys(&self.connection).map_err(|fault| fault.tell(&self.path))?;
        keys.retain(|(_, outing)| wanted(*outing));
        Ok(keys.into_iter().map(|(key, outing)| {
            track::read(&self.connection, key, outing).map_err(|fault| fault.tell(&self.path))
        }))
    }

    /// Summaries of all finds that are not withdrawn, in order of date and time, those of one
    /// outing as in [`Store::finds`]; with a mark that changes when any find changes.
    ///
    /// # Errors
    /// When the store cannot be read, or what is missing cannot be written.
    pub fn brief_finds(&self) -> Result<(Vec<BriefFind>, String)> {
        keep::make(&self.connection, &keep::FINDS, &mut |_, _| ())
            .and_then(|()| find::all(&self.connection))
            .map_err(|fault| fault.tell(&self.path))
    }
}
