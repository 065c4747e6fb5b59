//! Written data are read back unchanged.

#![allow(clippy::unwrap_used)]

mod amended;
mod brief;
mod damaged;
mod exchange;
mod for_others;
mod gpx;
mod interrupted;
mod killed;
mod killed_changes;
mod merged;
mod replayed;
mod sensitive;
mod some_day;
mod stamped;
mod store;
