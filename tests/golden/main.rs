//! Whole commands as a user runs them: what they print, how they exit, what they leave behind.

#![allow(clippy::unwrap_used)]

mod bad_input;
mod desk;
mod files;
mod leaving;
mod premises;
mod run;
mod stores;
mod suggested;
mod terminal;
mod vanishing;
mod wayout;
mod years;
