//! Formats sites, visits, effort, seasons and densities as tables, JSON and figures. Layer: `present`.

pub mod calendar;
pub mod compared;
pub mod density;
pub mod detection;
pub mod effort;
pub mod effort_chart;
pub mod season;
pub mod shade;
pub mod sites;
pub mod visits;
