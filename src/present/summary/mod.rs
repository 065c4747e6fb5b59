//! What an import says: the outing, its track, cameras, finds, contradictions and everything that was
//! set aside; as text for a person and as JSON for a script. Layer: `present`.

mod association;
mod json;
mod overview;
mod passed_over;
mod text;
mod unlocated;
pub(crate) mod words;

pub use json::object;
pub use overview::overview;
pub use passed_over::passed_over;
pub use text::day;
