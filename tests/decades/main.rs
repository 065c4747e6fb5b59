//! Measures the season on simulated decades with known truth: three styles of searching, time at finds,
//! a path to get there, taxa with a season and without. Numbers of the docs come from here.
//!
//! Seeds below 1,000 were used while the method was made; tests use seeds from 1,000 on. The long runs
//! are ignored: `CARGO_PROFILE_DEV_OPT_LEVEL=2 cargo test --test decades -- --ignored --nocapture`.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod collector;
mod detection;
mod hosts;
mod lists;
mod measured;
mod season;
mod truth;
mod unsearched;
mod weather;
mod years;
