//! Reads finds by name, date and place, their history, outings, tracks, whole days, trailheads and
//! sites. Layer: `store`.
//!
//! Everything here leaves the store as it is, except that results which can be computed again may be kept.

pub(super) mod day;
pub(super) mod find_row;
pub(super) mod finds;
mod headings;
mod history;
mod identified;
mod kept_results;
mod near;
mod noted;
mod outing_files;
mod outings;
mod places;
mod published;
mod sensitivity;
mod site_members;
mod text_match;
pub(super) mod tracks;

pub use finds::FindQuery;
pub use history::FindRevision;
pub use noted::NotedFind;
pub use outings::KeptOuting;
pub use places::{KeptSite, Trailhead};
pub use site_members::SiteMembers;

pub(super) use tracks::{packed as packed_track, track};
