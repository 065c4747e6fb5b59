//! What years of days say: sites, visits, effort, season, detection, density. Pure: no clock, no
//! disk, no printing. Layer: `analyse`.
//!
//! | question | where |
//! |---|---|
//! | which finds are one place? | [`sites`], by [`linkage`]; [`identity`] keeps a site's number |
//! | which sites lie near a place? | [`nearby`] |
//! | how often was it searched, and without a find? | [`visits`] |
//! | how long, how far, how much ground? | [`effort`], by [`strips`] |
//! | when does a taxon fruit? | [`season`] |
//! | is it there and was it overlooked? | [`detection`] |
//! | where to go next? | [`next`] |
//! | where are finds dense for the way searched? | [`density`] |

pub mod clustering;
pub mod density;
pub mod detection;
pub mod effort;
pub mod ground;
pub mod identity;
pub mod nearby;
pub mod next;
pub mod patches;
pub mod regions;
pub mod searched_area;
pub mod season;
pub mod sites;
pub mod spotted;
pub mod statistics;
pub mod visits;
pub mod walk;
