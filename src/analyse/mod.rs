//! Analyses of all outings together: sites, visits, effort, season, detection, density. Pure: no
//! clock, no disk, no printing. Layer: `analyse`.
//!
//! | content | module |
//! |---|---|
//! | sites from finds | [`Sites`], by `clustering`; `identity` keeps a site's number |
//! | sites near a place | `nearby` |
//! | visits, with and without a find | [`VisitRule`] |
//! | search time, length and area | `effort`, by `searched_area` |
//! | fruiting season | [`season`] |
//! | weather of outings, and its effect | `weather` |
//! | seasons compared from year to year | `years` |
//! | occupancy and detection probability | `detection` |
//! | hosts, substrates and habitats of taxa | `hosts` |
//! | species lists and their completeness | `lists`, names by `taxon_name` |
//! | ranking of sites and round trips | `next` |
//! | density of finds per searched length | [`DensityMap`] |
//! | finds and walks of all days, for one call a question | [`Survey`] |

#[doc(hidden)]
pub mod clustering;
#[doc(hidden)]
pub mod density;
#[doc(hidden)]
pub mod detection;
#[doc(hidden)]
pub mod effort;
#[doc(hidden)]
pub mod hosts;
pub(crate) mod identity;
#[doc(hidden)]
pub mod intervals;
#[doc(hidden)]
pub mod lists;
pub(crate) mod nearby;
#[doc(hidden)]
pub mod next;
pub(crate) mod patches;
#[doc(hidden)]
pub mod penalised;
pub(crate) mod regions;
pub(crate) mod searched_area;
pub mod season;
#[doc(hidden)]
pub mod sites;
#[doc(hidden)]
pub mod sizes;
pub(crate) mod spatial_index;
#[doc(hidden)]
pub mod spotted;
#[doc(hidden)]
pub mod statistics;
mod survey;
#[doc(hidden)]
pub mod taxon_name;
#[doc(hidden)]
pub mod visits;
#[doc(hidden)]
pub mod walk;
#[doc(hidden)]
pub mod weather;
#[doc(hidden)]
pub mod years;

pub use density::DensityMap;
pub use density::bandwidth::{Bandwidth, Choice as BandwidthChoice};
pub use sites::{Known, SiteRule, Sites, find_sites};
pub use spotted::SpottedFind;
pub use survey::Survey;
pub use visits::VisitRule;
pub use walk::Walk;
