//! Computes routes from the last fix to a trailhead before dark. Pure: no clock, no disk, no
//! printing; "now" is an argument. Layer: `wayout`.
//!
//! | module | content |
//! |---|---|
//! | [`find`] | the report: routes in order, light, notes |
//! | [`Start`], `reckoning` | starting position and its uncertainty |
//! | [`Goal`] | goals |
//! | [`Direct`] | straight line |
//! | `retrace`, `paths` | routes along tracks |
//! | `across`, `terrain` | quickest route across open ground |
//! | [`Offset`] | deliberate offset |
//! | [`Route`] | legs for the compass |
//! | [`Duration`] | walking time |
//! | [`Daylight`], [`Verdict`] | daylight and verdict |
//! | `area` | page for the whole area |
//! | [`area_light`], [`land_field`] | light and least times of an area, for the page to carry |
//!
//! # Use
//! Fill a [`Request`] ([`Request::new`] for the least, then its public fields for tracks, elevations, closed areas
//! and a line to reach), and call [`find`]. The answer, a [`WayOut`], is data: sentences, cards, GPX and JSON are
//! made of it in `present`.
//!
//! # What it promises
//! - Every bearing is given true and magnetic, the direct line's also from grid north; none is given to a goal that
//!   lies within the radius of the position.
//! - Every time is the longer of two published rules; load, weather, injury and searching on the way are not in it.
//! - A verdict of *comfortable* is never given for a walk with twilight or darkness in it or its reserve, and one with
//!   darkness in it is always *do not set out*: checked against libastro (`docs/way-out.md`, "What was checked").
//!
//! # What it does not know
//! Streams, cliffs and thickets smaller than the posts of the tiles; whether a path is open today; what a person
//! can do. Map, compass and the walker's own eyes come first.
//!
//! # Examples
//! ```
//! use trug::units::{LatLon, Metres, Radius95, TimeZone};
//! use trug::wayout::{self, Advice, Goal, Request, Start};
//!
//! let here = Start::stated(
//!     LatLon::new(-42.6189, 146.0912)?,
//!     Radius95::new(Metres(20.0)).ok_or("no radius")?,
//! );
//! let gate = Goal { name: "Sawmill gate".into(), at: LatLon::new(-42.6110, 146.1010)? };
//! let now = "2026-05-16T05:20:00Z".parse()?;
//! let request = Request::new(here, gate, now, TimeZone::get("Australia/Hobart")?)?;
//!
//! let out = wayout::find(&request)?;
//! assert_eq!(out.direct.distance.to_string(), "1.19 km");
//! assert_eq!(out.direct.magnetic_bearing.to_string(), "028°M");
//! assert_eq!(out.best().ok_or("no route")?.verdict.advice, Advice::Comfortable);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # References
//! Those of each module; together with the tolerances of all checks in `docs/way-out.md`.

pub(crate) mod across;
pub(crate) mod area;
#[doc(hidden)]
pub mod area_light;
#[doc(hidden)]
pub mod daylight;
pub(crate) mod direct;
#[doc(hidden)]
pub mod goal;
#[doc(hidden)]
pub mod land_field;
#[doc(hidden)]
pub mod legs;
#[doc(hidden)]
pub mod light;
pub(crate) mod offset;
#[doc(hidden)]
pub mod pace;
#[doc(hidden)]
pub mod paths;
mod rank;
pub(crate) mod reckoning;
#[doc(hidden)]
pub mod report;
pub(crate) mod retrace;
pub(crate) mod simplify;
#[doc(hidden)]
pub mod start;
#[doc(hidden)]
pub mod terrain;

pub use daylight::Daylight;
pub use direct::Direct;
pub use goal::Goal;
pub use legs::{Leg, Paces, Route, RouteKind};
pub use light::{Advice, LatestStart, Reason, Verdict};
pub use offset::Offset;
pub use pace::{Duration, Surface};
pub use report::{Catching, Ranked, Request, WayOut, find};
pub use start::{Ellipse, Start, Walked};
