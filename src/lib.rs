//! trug locates, checks and stores a day's fungus finds.
//!
//! The inputs are a GPX track, photographs and field records. trug combines them: every find gets a
//! position with a 95 % radius, conflicts are reported, and all results are stored in one GeoPackage
//! that any GIS opens.
//!
//! # Layers
//! Imports point down this list, never up; `tests/layers` enforces it.
//!
//! | layer | content |
//! |---|---|
//! | [`units`] | types of quantities that cannot be mixed up |
//! | [`error`] | the error type: what failed, where, why, one hint |
//! | [`model`] | data of an outing: inputs and results |
//! | [`earth`] | geodesic, grids and datums, declination, sun, elevation |
//! | [`ingest`] | readers of GPX, photographs, field records, elevation |
//! | [`join`] | position and uncertainty of each find |
//! | [`store`] | the GeoPackage of all outings |
//! | [`analyse`] | sites, visits, effort, season, density |
//! | [`wayout`] | routes back and daylight |
//! | [`present`] | maps, charts, labels, exchange files, HTML |
//! | [`commands`] | the commands of the program |

pub mod analyse;
pub mod commands;
pub mod earth;
pub mod error;
pub mod ingest;
pub mod join;
pub mod model;
pub mod present;
pub mod store;
pub mod units;
pub mod wayout;
