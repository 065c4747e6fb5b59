//! Keeps daily weather: stations, and their values by day. A file replaces what it states, be it a value
//! or that there is none; other days stay. Layer: `store`.

mod read;
mod schema;
mod write;

use jiff::Timestamp;
use serde::Serialize;

use super::{Store, words};
use crate::error::{ChangeFault, Error, Result};
use crate::model::{StationSeries, StationValues, WeatherStation};

pub(super) use schema::VERSION;
pub(super) use write::Day;

/// What keeping the weather of one station changed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct KeptWeather {
    /// The identifier of the station.
    pub station: String,
    /// Whether the station, its name, position or elevation is new.
    pub station_changed: bool,
    /// Days that the store did not have.
    pub days_new: usize,
    /// Days of which a value changed.
    pub days_changed: usize,
    /// Days as they were.
    pub days_same: usize,
    /// Days in the store within the span of the values, which these do not mention.
    pub days_beside: usize,
    /// Whether those were removed.
    pub beside_removed: bool,
}

impl KeptWeather {
    /// Whether the store is as it was.
    #[must_use]
    pub fn changed_nothing(&self) -> bool {
        let removed = self.beside_removed && self.days_beside > 0;
        !self.station_changed && self.days_new + self.days_changed == 0 && !removed
    }
}

impl Store {
    /// All weather stations in order of identifier.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn weather_stations(&self) -> Result<Vec<WeatherStation>> {
        read::stations(&self.connection)
            .map(|all| all.into_iter().map(|(_, station)| station).collect())
            .map_err(|fault| fault.tell(&self.path))
    }

    /// The daily weather of all stations that have any.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn weather(&self) -> Result<Vec<StationSeries>> {
        read::series(&self.connection).map_err(|fault| fault.tell(&self.path))
    }

    /// Keeps stations and their values, all or none. With `replace`, days within the span of the values
    /// that these do not mention are removed.
    ///
    /// A day that the values mention is replaced, be it by a value or by the statement that there is none; other days
    /// stay.
    ///
    /// # Errors
    /// When a station has no position, or when the store cannot be written.
    pub fn keep_weather(
        &mut self,
        stations: &[WeatherStation],
        series: &[StationValues],
        replace: bool,
        now: Timestamp,
    ) -> Result<Vec<KeptWeather>> {
        self.may_be_changed()?;
        let path = self.path.clone();
        write::keep(&mut self.connection, (stations, series), replace, &words::instant(now))
            .map_err(|fault| fault.tell(&path))
    }

    /// Removes a station with its weather; returns whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn remove_weather(&mut self, code: &str, now: Timestamp) -> Result<bool> {
        self.may_be_changed()?;
        let path = self.path.clone();
        write::remove(&mut self.connection, code, &words::instant(now))
            .map_err(|fault| fault.tell(&path))
    }
}

/// A station that nobody has placed.
fn unplaced(code: &str) -> Error {
    ChangeFault::StationPosition { station: code.to_owned() }.into()
}
