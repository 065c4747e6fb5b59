//! Summarises an import: outing, track, cameras, finds, conflicts and rejected inputs; as text and as
//! JSON. Layer: `present`.

mod association;
mod json;
mod overview;
mod passed_over;
mod text;
mod unlocated;
pub(crate) mod words;

pub use association::associations;
pub(super) use association::report as association;
pub use json::object;
pub use overview::overview;
pub use passed_over::passed_over;
pub use text::day;
