//! Runs whole commands: output, exit status, files written.

#![allow(clippy::unwrap_used)]

mod bad_input;
mod desk;
mod files;
mod leaving;
mod leftovers;
mod options;
mod premises;
mod run;
mod stores;
mod suggested;
mod terminal;
mod vanishing;
mod wayout;
mod years;
