//! What files say: GPX, photographs, field records, folders of them. One file each; reads, never
//! writes, and never lets one bad part lose the rest. Layer: `ingest`.
pub mod folder;
pub mod gpx;
pub mod photo;
pub mod position;
pub mod record;
