//! The sample days, read and joined as a user's folders, against what is true of them.

#![allow(clippy::unwrap_used)]

mod autumns;
mod parties;
mod scoring;
mod truth;
mod visits;
