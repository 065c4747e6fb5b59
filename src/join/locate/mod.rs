//! Estimates the position of a find from its anchors. Each anchor gives one distribution; those that agree
//! are combined, with shared errors counted once; those that do not are reported as a conflict and the most
//! trusted is used. Layer: `join`.

mod anchor;
mod circle;
mod combine;
mod coordinates;
mod detour;
mod gap;
mod half;
mod meet;
mod position_posterior;

pub(crate) use anchor::{
    Draft, Moments, from_photo_position, from_times, from_waypoint, stated_radius,
};
pub(crate) use combine::{Combined, Disagreement, combine, stop};
pub(crate) use coordinates::{Decided, decide, from_reading, off_track};
pub(crate) use detour::pace;
pub(crate) use position_posterior::{BEYOND, TrackModel};
