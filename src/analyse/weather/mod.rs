//! Weather at the places of outings: which stations serve which area, and (in the modules below) what
//! rain and warmth did to the rate of finds. Layer: `analyse`.
//!
//! # Method
//! Weather of a place is that of the nearest station with a value for the day (`local`), less what is usual on that
//! day of the year (`anomaly`), so that the season is not mistaken for weather. Its effect is a smooth distributed
//! lag over 60 days (`effect`, `lags`). It counts only where two tests agree: giving outings the weather of other
//! years destroys it (`exchange`), and it predicts years that were left out (`cross`).
//!
//! With a few years of data the usual answer is that nothing can be shown, and that is then the answer.
//! `docs/weather.md` has the checks.

mod anomaly;
mod areas;
mod cases;
mod chance;
mod cross;
pub mod effect;
mod exchange;
mod gaps;
pub mod lags;
mod local;
mod measures;
mod yearly;

pub use areas::{Area, Sought, areas};
pub use cases::rain_scale;
pub use chance::Chance;
pub use cross::Gain;
pub use effect::{WeatherEffect, estimate, estimate_series};
pub use gaps::{Gaps, gaps};
pub use local::{FARTHEST_RAIN, FARTHEST_TEMPERATURE, LAPSE, Local, LocalDay, Served, local};
pub use measures::{BASE, Measure, SOAKING};
