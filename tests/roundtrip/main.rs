//! What is written and read again is the same.

#![allow(clippy::unwrap_used)]

mod brief;
mod damaged;
mod exchange;
mod for_others;
mod gpx;
mod interrupted;
mod killed;
mod sensitive;
mod some_day;
mod stamped;
mod store;
