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
mod quiet;
mod tracks;

pub use finds::FindQuery;
pub use history::FindRevision;
pub use outings::KeptOuting;
pub use places::{KeptSite, Trailhead};
