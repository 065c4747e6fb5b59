//! The Earth under the tracks: distances and bearings on the ellipsoid, grids and datums, magnetic
//! north, the sun, time zones, elevation. Touches no file but elevation tiles and its own copy of
//! the table of reference systems. Layer: `earth`.
//!
//! | module | question |
//! |---|---|
//! | [`geodesic`] | how far, which way, where do I end up? Exact, any distance |
//! | [`local`] | the same on a plane about one point, fast, for a day's ground |
//! | [`grid`] | which UTM and MGRS reference, where is grid north? |
//! | [`datum`] | where on WGS 84 is this position of another system? |
//! | [`declination`] | where does the compass point? |
//! | [`sun`] | when does the light go? |
//! | [`daylight`] | how light is it between two instants? |
//! | [`elevation`] | how high is the ground? |
//! | [`equal_area`] | where on a plane that keeps areas? |
//! | [`dateline`] | where does a line cross the 180th meridian? |
//! | [`zone`] | which clock do people keep here? |

pub(crate) mod cache;
pub mod dateline;
pub mod datum;
pub mod daylight;
pub mod declination;
pub mod elevation;
pub mod equal_area;
pub mod geodesic;
pub mod grid;
pub mod local;
pub mod sun;
pub mod zone;
