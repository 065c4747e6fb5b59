//! What must hold for any input: nothing panics, nothing good is lost.

#![allow(clippy::unwrap_used)]

mod gpx;
mod message;
mod photo;
mod position;
mod privacy;
mod record;
