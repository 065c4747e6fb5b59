//! Analyses of all outings together: sites, visits, effort, season, detection, density. Pure: no
//! clock, no disk, no printing. Layer: `analyse`.
//!
//! | content | module |
//! |---|---|
//! | sites from finds | [`Sites`], by `clustering`; `identity` keeps a site's number |
//! | sites near a place | `nearby` |
//! | visits, with and without a find | [`VisitRule`] |
//! | search time, length and area | `effort`, by `searched_area` |
//! | whose effort finds count with | `counted_with`, who carried a receiver by `carriers` |
//! | people who walked together, as one unit | `parties`, their visits `together` |
//! | fruiting season | [`season`] |
//! | weather of outings, and its effect | `weather` |
//! | seasons compared from year to year | `years` |
//! | occupancy and detection probability | `detection` |
//! | hosts, substrates and habitats of taxa | `hosts` |
//! | species lists and their completeness | `lists`, names by `taxon_name` |
//! | ranking of sites and round trips | `next` |
//! | areas that nobody searched, by their elevation | `unsearched` |
//! | density of finds per searched length | [`DensityMap`] |
//! | finds and walks of all days, for one call a question | [`Survey`] |
//!
//! # Three rules
//! - **Effort is the denominator.** A rate is finds over time or length that was searched, outings without a find
//!   included. Counts alone show where and when somebody walked. Where nobody searched the answer is "unknown",
//!   never zero.
//! - **The outing is the unit**, of one person or of people who walked together. Its finds share weather, place and
//!   collector: resampling, permutations and cross-validation take whole outings (or whole years), never single finds.
//! - **Too few data are refused**, with what is missing, instead of answered with a wide curve.
//!
//! Random numbers have a fixed seed, so that the same store gives the same interval on every machine.
//!
//! Values marked "project choice" in the code are neither published nor fitted; `docs/sites-and-visits.md`,
//! `docs/effort.md`, `docs/season.md`, `docs/density.md`, `docs/weather.md`, `docs/years.md`, `docs/lists.md`,
//! `docs/hosts.md` and `docs/next.md` have the methods, their checks and their limits.
//!
//! # Examples
//! Sites of three finds, of which two cannot be distinguished by their positions:
//!
//! ```
//! use jiff::civil::date;
//! use trug::analyse::{Known, SiteRule, SpottedFind, find_sites};
//! use trug::units::{LatLon, Metres, Radius95};
//!
//! let find = |number: u128, latitude: f64| -> Result<SpottedFind, Box<dyn std::error::Error>> {
//!     Ok(SpottedFind {
//!         id: uuid::Uuid::from_u128(number),
//!         label: format!("TH-{number:04}").into(),
//!         at: LatLon::new(latitude, 146.1)?,
//!         radius: Radius95::new(Metres(10.0)).ok_or("no radius")?,
//!         date: date(2026, 5, 2),
//!         when: None,
//!         taxon: Some("Mycena interrupta".into()),
//!         outing: uuid::Uuid::nil(),
//!         height: None,
//!     })
//! };
//! // 5 m and some 550 m apart
//! let finds = [find(1, -42.600_000)?, find(2, -42.600_045)?, find(3, -42.605)?];
//! let sites = find_sites(&finds, SiteRule::default(), &Known::default());
//! assert_eq!(sites.sites.len(), 2);
//! assert_eq!(sites.of_find[0], sites.of_find[1]);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub(crate) mod carriers;
#[doc(hidden)]
pub mod clustering;
pub(crate) mod counted_with;
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
pub(crate) mod parties;
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
pub(crate) mod together;
#[doc(hidden)]
pub mod unsearched;
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
