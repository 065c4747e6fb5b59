//! How sites, visits, effort, seasons and densities are told: tables, JSON and figures.
//! Layer: `present`.

pub mod effort;
pub mod sites;
pub mod visits;
