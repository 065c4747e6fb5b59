//! Summarises an import: outing, track, cameras, finds, conflicts and rejected inputs; as text and as
//! JSON. Layer: `present`.
//!
//! What a person reads after an import: first what is not right (pairings in doubt, conflicts, finds without a
//! position), then what was found. Every item says what happened, why it matters and one thing to do. [`object`]
//! has the same in JSON with codes. Positions are exact.

mod association;
mod json;
mod overview;
mod passed_over;
mod photo_groups;
mod text;
mod unlocated;
pub(crate) mod words;

pub use association::associations;
pub(super) use association::report as association;
pub use json::object;
pub(crate) use json::report as error_object;
pub use overview::overview;
pub use passed_over::passed_over;
use passed_over::passed_over_json;
pub use text::day;
