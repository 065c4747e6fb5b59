//! Quantities that cannot be mixed up: lengths, angles, bearings, positions, heights, radii and the
//! offset of a clock. Knows nothing of files or of the shape of the Earth. Layer: `units`.
//!
//! An instant, a wall clock and a zone are the three types of `jiff` ([`Timestamp`], [`WallClock`]
//! and [`TimeZone`]); the only bridge from a camera's wall clock to an instant is [`ClockOffset`].

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
