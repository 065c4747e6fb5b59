//! Defines daily weather: stations, values by day, and what a file of weather could not give. Layer:
//! `model`.

use std::path::PathBuf;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::units::{Celsius, LatLon, Metres, Millimetres};

/// What is measured. Values of [`WeatherElement::Other`] are kept as the file gives them.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WeatherElement {
    /// Rain and melted snow of the day, mm.
    Rain,
    /// The highest temperature, degrees Celsius.
    Maximum,
    /// The lowest temperature, degrees Celsius.
    Minimum,
    /// The mean temperature, degrees Celsius.
    Mean,
    /// Fresh snow, mm.
    Snowfall,
    /// Depth of lying snow, mm.
    SnowDepth,
    /// Anything else, by the name of the file.
    Other(Box<str>),
}

impl WeatherElement {
    /// Whether it is a temperature.
    #[must_use]
    pub fn is_temperature(&self) -> bool {
        matches!(self, Self::Maximum | Self::Minimum | Self::Mean)
    }
}

/// A weather station.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeatherStation {
    /// Its identifier, by which it is known.
    pub code: String,
    /// Its name.
    pub name: Option<String>,
    /// Where it is; `None` while unknown.
    pub at: Option<LatLon>,
    /// Its elevation above sea level.
    pub elevation: Option<Metres>,
}

/// One value of one day; no value where the file says that there is none, or where it is set aside.
#[derive(Clone, Debug, PartialEq)]
pub struct WeatherValue {
    /// The local day that the station states it for.
    pub date: Date,
    /// What.
    pub element: WeatherElement,
    /// In the unit of the element.
    pub value: Option<f64>,
}

/// All values of one station in one file, in order of date, each date and element once.
#[derive(Clone, Debug, PartialEq)]
pub struct StationValues {
    /// The identifier of the station.
    pub code: String,
    /// The values.
    pub values: Vec<WeatherValue>,
}

/// A file of weather as read.
///
/// One bad line loses itself; it is counted in `notes`.
#[derive(Clone, Debug)]
pub struct WeatherFile {
    /// Which file.
    pub path: PathBuf,
    /// Its form and units, in words.
    pub form: String,
    /// Stations that the file describes.
    pub stations: Vec<WeatherStation>,
    /// Values by station.
    pub series: Vec<StationValues>,
    /// What was set aside or interpreted.
    pub notes: Vec<WeatherNote>,
}

/// What a file of weather could not give, or how it was read.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WeatherNote {
    /// Values that failed a check of their publisher.
    Flagged {
        /// The flag.
        flag: String,
        /// How many.
        values: usize,
    },
    /// Values that the publisher presumes to be zero, not measured.
    PresumedZero {
        /// How many.
        values: usize,
    },
    /// Rain too little to be measured, read as 0 mm.
    Traces {
        /// How many.
        values: usize,
    },
    /// Values that cannot occur.
    Implausible {
        /// What.
        element: WeatherElement,
        /// How many.
        values: usize,
        /// The first line of one.
        line: u64,
        /// That value, in the unit of the element.
        value: f64,
    },
    /// Values of days that have not been yet.
    Future {
        /// How many.
        values: usize,
        /// The first of these days.
        date: Date,
    },
    /// Days whose highest temperature is below the lowest.
    Reversed {
        /// How many.
        days: usize,
        /// The first of them.
        date: Date,
    },
    /// Values given twice alike.
    Repeated {
        /// How many.
        values: usize,
    },
    /// Days with two different values: neither is used.
    Contradictory {
        /// How many.
        values: usize,
        /// The first line of one.
        line: u64,
    },
    /// Lines that could not be read.
    Unreadable {
        /// How many.
        lines: usize,
        /// The first of them.
        line: u64,
        /// Why not.
        why: String,
    },
    /// Columns that are not weather, or whose element is not known.
    Ignored {
        /// Their headings.
        columns: Vec<String>,
    },
    /// Temperatures that hardly vary: their unit may be wrong.
    Narrow {
        /// The station.
        station: String,
        /// The span of the middle 98 % of the highest temperatures, K.
        span: f64,
    },
}

/// The weather of one day at one station.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct DailyWeather {
    /// Rain and melted snow.
    pub rain: Option<Millimetres>,
    /// The highest temperature.
    pub maximum: Option<Celsius>,
    /// The lowest temperature.
    pub minimum: Option<Celsius>,
    /// The mean temperature, where it was given.
    pub mean: Option<Celsius>,
    /// Fresh snow.
    pub snowfall: Option<Millimetres>,
    /// Lying snow.
    pub snow_depth: Option<Millimetres>,
}

impl DailyWeather {
    /// The stated mean of the day; without it the middle between maximum and minimum (common practice), `None` unless
    /// both are there.
    #[must_use]
    pub fn mean_temperature(&self) -> Option<Celsius> {
        let middle = || Some(Celsius(f64::midpoint(self.maximum?.0, self.minimum?.0)));
        self.mean.or_else(middle)
    }
}

/// The daily weather of one station, without a missing date between its first and its last.
///
/// A day without values is a [`DailyWeather`] with nothing in it: a gap is never taken for a dry day.
#[derive(Clone, Debug, PartialEq)]
pub struct StationSeries {
    /// The station.
    pub station: WeatherStation,
    /// The date of the first day.
    pub first: Date,
    /// One entry for each day.
    pub days: Vec<DailyWeather>,
}
