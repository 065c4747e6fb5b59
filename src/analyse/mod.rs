//! Analyses of all outings together: sites, visits, effort, season, detection, density. Pure: no
//! clock, no disk, no printing. Layer: `analyse`.
//!
//! | content | module |
//! |---|---|
//! | sites from finds | [`sites`], by [`clustering`]; [`identity`] keeps a site's number |
//! | sites near a place | [`nearby`] |
//! | visits, with and without a find | [`visits`] |
//! | search time, length and area | [`effort`], by [`searched_area`] |
//! | fruiting season | [`season`] |
//! | occupancy and detection probability | [`detection`] |
//! | ranking of sites and round trips | [`next`] |
//! | density of finds per searched length | [`density`] |

pub mod clustering;
pub mod density;
pub mod detection;
pub mod effort;
pub mod identity;
pub mod nearby;
pub mod next;
pub mod patches;
pub mod regions;
pub mod searched_area;
pub mod season;
pub mod sites;
pub mod sizes;
pub mod spatial_index;
pub mod spotted;
pub mod statistics;
pub mod visits;
pub mod walk;
