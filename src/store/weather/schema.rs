//! The tables of daily weather. Layer: `store`.

use crate::store::layers::{Attributes, Layer};
use crate::store::migrate::Version;

pub(in crate::store) const VERSION: Version = Version {
    tables: include_str!("../schema/weather.sql"),
    layers: &[Layer { table: "weather_stations", shape: "POINT", description: "Weather stations" }],
    attributes: &[Attributes {
        table: "weather_days",
        description: "Daily weather of each station; an empty cell is a gap",
    }],
};
