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
//!
//! # What it does not know
//! Relief on the horizon, cloud and canopy; local magnetic anomalies; the drift of continental plates against WGS 84;
//! the vertical datum of an elevation tile.
//!
//! # Accuracy
//! Each function states its own figure and the published values that a test holds it to (`tests/reference`). In
//! short: geodesic 10 nm, UTM 1 mm, the projection of other systems 0.01 mm beside the shift of their datum,
//! declination 0.006 degree beside the model's own error of some tenths of a degree, sunset 60 s on a level horizon.
//!
//! # Examples
//! The bearing of a car on a compass and on a map, seen from a find:
//!
//! ```
//! use trug::earth::{declination, geodesic, grid};
//! use trug::units::LatLon;
//!
//! let (find, car) = (LatLon::new(-42.88, 146.10)?, LatLon::new(-42.90, 146.12)?);
//! let (distance, bearing) = geodesic::leg(find, car);
//! let needle = declination::at(find, jiff::civil::date(2026, 5, 2))?;
//! assert_eq!(distance.to_string(), "2.76 km");
//! println!("{distance}, {bearing} true, {} by compass", needle.to_magnetic(bearing));
//! println!("{} on the map's grid", grid::convergence(find).to_grid(bearing));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

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
