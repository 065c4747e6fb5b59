//! Reads finds by name, date and place, their history, outings, tracks, whole days, trailheads and
//! sites. Layer: `store`.

mod day;
pub(super) mod find_row;
mod finds;
mod history;
mod kept_results;
mod near;
mod outings;
mod places;
mod published;
mod sensitivity;
mod site_members;
mod text_match;
mod tracks;

pub use finds::FindQuery;
pub use history::FindRevision;
pub use outings::KeptOuting;
pub use places::{KeptSite, Trailhead};
pub use site_members::SiteMembers;

pub(super) use tracks::packed as packed_track;
