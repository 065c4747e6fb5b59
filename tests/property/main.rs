//! Properties for any input: nothing panics, no valid data are lost.

#![allow(clippy::unwrap_used)]

mod gpx;
mod message;
mod photo;
mod position;
mod privacy;
mod record;
