//! Quantities that cannot be mixed up: lengths, angles, bearings, positions, heights, radii and the
//! offset of a clock. Knows nothing of files or of the shape of the Earth. Layer: `units`.
//!
//! Each type is a thin, `Copy` wrapper around an `f64`, so that it costs nothing at run time. Arithmetic is
//! defined where it has a meaning: lengths add, a length over a time is a speed, but a [`TrueBearing`] and a
//! [`MagneticBearing`] have no operation in common. What the compiler rules out:
//!
//! | confusion | instead |
//! |---|---|
//! | true, magnetic and grid north | three bearings; [`Declination`] and [`GridConvergence`] convert |
//! | a camera's reading and an instant | [`WallClock`] and [`Timestamp`]; only [`ClockOffset`] converts |
//! | latitude and longitude swapped, or out of range | [`LatLon`], checked when it is made |
//! | "accuracy" at an unstated level | [`Radius95`], always the 95 % level, never zero, never infinite |
//! | the height of a receiver and one above the sea | [`GpsHeight`] and [`SeaLevelHeight`], without a conversion |
//!
//! An instant, a wall clock and a zone are the three types of `jiff` ([`Timestamp`], [`WallClock`]
//! and [`TimeZone`]); the only bridge from a camera's wall clock to an instant is [`ClockOffset`].
//!
//! All quantities serialise as the bare number in the unit that their type names; [`LatLon`] as a pair with
//! the latitude first. `Display` rounds for people and always states the unit; it is not meant to be parsed.
//!
//! # Examples
//! A walk of 1.2 km in a quarter of an hour, along a compass bearing where the needle points 14 degrees east:
//!
//! ```
//! use trug::units::{Degrees, MagneticBearing, Metres, Seconds, TrueBearing};
//!
//! let speed = Metres(1_200.0) / Seconds(900.0);
//! assert_eq!((speed * Seconds(60.0)).to_string(), "80 m");
//!
//! let read = MagneticBearing::new(Degrees(350.0));
//! assert_eq!(read.turned(Degrees(20.0)).to_string(), "010°M");
//! assert_eq!(TrueBearing::new(Degrees(-90.0)).to_string(), "270°T");
//! ```

mod angle;
mod clock;
mod height;
mod length;
mod position;
mod radius;
mod weather;

pub use angle::{
    Declination, Degrees, GridBearing, GridConvergence, MagneticBearing, MagneticModel, TrueBearing,
};
pub use clock::{ClockOffset, Seconds};
pub use height::{GpsHeight, SeaLevelHeight};
pub use jiff::Timestamp;
pub use jiff::civil::DateTime as WallClock;
pub use jiff::tz::TimeZone;
pub use length::{Metres, MetresPerSecond};
pub use position::{LatLon, OffTheGlobe};
pub use radius::Radius95;
pub use weather::{Celsius, Millimetres};
