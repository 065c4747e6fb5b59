//! Geodesy and environment: distances and bearings on the ellipsoid, grids and datums, magnetic
//! declination, the sun, time zones, elevation. Reads elevation tiles and its own copy of the table
//! of reference systems, no other file. Layer: `earth`.
//!
//! | module | content |
//! |---|---|
//! | [`geodesic`] | distance, bearing and destination on the ellipsoid, exact at any distance |
//! | `local` | the same on a local plane, faster, for distances of a day's walk |
//! | [`grid`] | UTM and MGRS references, grid convergence |
//! | [`datum`] | conversion from other reference systems to WGS 84 |
//! | [`declination`] | magnetic declination |
//! | [`sun`] | sunrise, sunset, twilight, position of the sun |
//! | [`daylight`] | intervals of day, twilight and dark |
//! | [`elevation`] | elevation |
//! | `height_grid` | elevations on the grid of a map |
//! | `hillshade` | slope and hill shading |
//! | `contours` | contours and their interval |
//! | `equal_area` | equal-area projection |
//! | `dateline` | splitting lines at the 180th meridian |
//! | [`zone`] | time zone of a position |

pub(crate) mod cache;
#[doc(hidden)]
pub mod contours;
pub(crate) mod dateline;
pub mod datum;
pub mod daylight;
pub mod declination;
pub mod elevation;
#[doc(hidden)]
pub mod equal_area;
pub mod geodesic;
pub mod grid;
#[doc(hidden)]
pub mod height_grid;
#[doc(hidden)]
pub mod hillshade;
#[doc(hidden)]
pub mod local;
pub mod sun;
pub mod zone;
