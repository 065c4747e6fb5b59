//! Formats sites, visits, effort, seasons and densities as tables, JSON and figures. Layer: `present`.
//!
//! Each answer opens with one sentence that states the finding with its interval, and closes with how it was
//! computed and on what. JSON has the same values without rounding. Positions are exact, and the output says so.

pub mod answers;
pub mod calendar;
pub mod compared;
pub mod density;
pub mod detection;
pub mod effort;
pub mod effort_chart;
pub mod estimates;
pub mod hosts;
pub mod lists;
pub mod prospects;
pub mod season;
mod season_axis;
pub mod season_figure;
mod season_panel;
mod season_strips;
pub mod shade;
pub mod sites;
pub mod sites_map;
pub mod unsearched;
pub mod visits;
