//! Runs whole commands: output, exit status, files written.

#![allow(clippy::format_collect, reason = "readable rows of inputs")]
#![allow(clippy::unwrap_used)]

mod amending;
mod bad_input;
mod carry;
mod checklists;
mod desk;
mod files;
mod gallery;
mod leaving;
mod leftovers;
mod lists;
mod notebooks;
mod options;
mod premises;
mod run;
mod stores;
mod suggested;
mod terminal;
mod tracks;
mod unsearched;
mod vanishing;
mod wayout;
mod waypoints;
mod weather;
mod workbooks;
mod years;
