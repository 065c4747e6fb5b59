//! The sample days, read and joined as a user's folders and compared with the truth.

#![allow(clippy::unwrap_used)]

mod autumns;
mod parties;
mod scoring;
mod truth;
mod visits;
