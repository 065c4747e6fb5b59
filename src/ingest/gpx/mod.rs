//! Reads GPX 1.0 and 1.1 as a stream: keeps every valid point and counts each kind of fault with
//! its first line. Memory stays bounded by the fixes, for any file. Refuses files that are not GPX.
//! Layer: `ingest`.

mod assembly;
mod element;
mod encoding;
mod fault;
mod mending;
mod point;
mod reading;
mod refusal;
mod skipped;
mod source;
mod time;
mod value;

#[cfg(test)]
mod tests;

pub use reading::{read, read_from};
pub use refusal::{is_own_export, looks_like_gpx};
