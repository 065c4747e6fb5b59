//! trug locates, checks and keeps a day's fungus finds.
//!
//! A collector comes home with a GPX track, photographs and field records. trug joins them: every
//! find gets a position with an honest 95 % radius, whatever contradicts itself is named, and all of
//! it lands in one GeoPackage that any GIS opens.
//!
//! # The map of the program
//! Imports point down this list, never up; `tests/layers` enforces it.
//!
//! | layer | question |
//! |---|---|
//! | [`units`] | what kind of quantity is it? |
//! | [`error`] | what went wrong, where, why, what to do? |
//! | [`model`] | what did the collector bring home, what became of it? |
//! | [`earth`] | how far, which way, which grid, where is north, when does the sun set? |
//! | [`ingest`] | what does this file say? |
//! | [`join`] | where was each find, and how sure is that? |
//! | [`store`] | what do we know from all days? |
//! | [`analyse`] | which sites, how often searched, when and where do things fruit? |
//! | [`wayout`] | how do we get back before dark? |
//! | [`present`] | how does it look on paper, on screen, in an exchange file? |
//! | [`commands`] | what did the user ask for? |

pub mod analyse;
pub mod commands;
pub mod earth;
pub mod error;
pub mod ingest;
pub mod join;
pub mod model;
pub mod present;
pub mod store;
pub mod units;
pub mod wayout;
