//! Weather at the places of outings: which stations serve which area, and (in the modules below) what
//! rain and warmth did to the rate of finds. Layer: `analyse`.

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
