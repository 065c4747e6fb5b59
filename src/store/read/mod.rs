//! What does the store know? Finds by name, day and place, their history, outings, ways, whole days,
//! trailheads, sites. Layer: `store`.

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
mod tracks;

pub use finds::FindQuery;
pub use history::FindRevision;
pub use outings::KeptOuting;
pub use places::{KeptSite, Trailhead};
pub use site_members::SiteMembers;

pub(super) use tracks::packed as packed_track;
