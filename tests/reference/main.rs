//! Checks against values published outside this project. Each module names its sources; the data
//! files name edition, page and licence.

#![allow(clippy::unwrap_used)]

mod darwin_core;
mod earth;
mod exif;
mod gpx;
mod lists;
mod occupancy;
mod position;
mod statistics;
mod tracks;
mod wayout;
mod workbooks;
