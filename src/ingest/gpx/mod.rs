//! Reads what the receiver recorded. Reads GPX 1.0 and 1.1 as it streams by: every good point is kept,
//! each kind of fault is counted with its first line, and no file, however hostile, makes it hold more
//! than its fixes. Refuses a file that is no GPX. Layer: `ingest`.

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
