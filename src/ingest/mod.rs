//! Readers of GPX tracks, photographs, field records and folders of them. They read one file each,
//! never write, and keep the valid part of a damaged file. Layer: `ingest`.
pub mod folder;
pub mod gpx;
pub mod photo;
pub mod position;
pub mod record;
