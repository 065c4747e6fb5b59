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
