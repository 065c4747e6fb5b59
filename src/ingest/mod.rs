//! Readers of tracks, photographs, field records and folders of them. They read one file each,
//! never write, and keep the valid part of a damaged file. Layer: `ingest`.
pub mod folder;
pub mod photo;
pub mod position;
pub mod record;
pub mod track;

pub use track::gpx;
