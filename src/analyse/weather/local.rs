//! Weather of each day at a place: from the nearest station that has a value for that day, temperatures
//! corrected for the difference in elevation. Layer: `analyse`.
//!
//! # References
//! ICAO 1993, Manual of the ICAO Standard Atmosphere, Doc 7488, 3rd ed., table C: the temperature falls by
//! 6.5 K for each kilometre up to 11 km (geopotential).

use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;

use crate::analyse::spatial_index::Ecef;
use crate::model::{DailyWeather, StationSeries};
use crate::units::{LatLon, Metres};

/// How much colder a higher place is, K for each metre (ICAO standard atmosphere).
pub const LAPSE: f64 = 0.0065;
/// Rain of stations farther away is not used (project choice).
pub const FARTHEST_RAIN: Metres = Metres(75_000.0);
/// Temperatures of stations farther away are not used (project choice).
pub const FARTHEST_TEMPERATURE: Metres = Metres(150_000.0);

/// The weather of one day at a place.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LocalDay {
    /// Rain, mm.
    pub rain: Option<f64>,
    /// Mean temperature, degrees Celsius.
    pub mean: Option<f64>,
    /// Lowest temperature, degrees Celsius.
    pub minimum: Option<f64>,
}

/// How much of the weather of a place a station gave.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Served {
    /// The identifier of the station.
    pub station: String,
    /// How far away it is, metres.
    pub distance_m: f64,
    /// What was added to its temperatures, K; none where an elevation is not known.
    pub correction_k: Option<f64>,
    /// Days with its rain.
    pub rain_days: usize,
    /// Days with its temperature.
    pub temperature_days: usize,
}

/// The weather of a place.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Local {
    /// The first day; none without any station near enough.
    pub first: Option<Date>,
    /// One entry for each day.
    pub days: Vec<LocalDay>,
    /// The stations, nearest first.
    pub served: Vec<Served>,
}

impl Local {
    /// The place of a date in `days`; none outside.
    #[must_use]
    pub fn place(&self, date: Date) -> Option<usize> {
        let place = usize::try_from((date - self.first?).get_days()).ok()?;
        (place < self.days.len()).then_some(place)
    }

    /// How many of so many days up to a date, that day included, have rain, and how many a mean temperature.
    #[must_use]
    pub fn known_before(&self, date: Date, days: usize) -> (usize, usize) {
        let before = (0..days).filter_map(|back| {
            let day = date.checked_sub(i64::try_from(back).ok()?.days()).ok()?;
            self.days.get(self.place(day)?)
        });
        before.fold((0, 0), |(rain, mean), day| {
            (rain + usize::from(day.rain.is_some()), mean + usize::from(day.mean.is_some()))
        })
    }

    /// The last day with rain or a temperature.
    #[must_use]
    pub fn last(&self) -> Option<Date> {
        let known = |day: &LocalDay| day.rain.is_some() || day.mean.is_some();
        let place = self.days.iter().rposition(known)?;
        self.first?.checked_add(i64::try_from(place).ok()?.days()).ok()
    }
}

/// A station with its distance.
struct Near<'a> {
    series: &'a StationSeries,
    distance: f64,
    correction: Option<f64>,
    /// Days between the first day of all and of this one.
    offset: usize,
}

/// The weather at a place.
///
/// Rain is taken as measured, from at most 75 km; temperatures from at most 150 km, by 6.5 K for each kilometre of
/// difference in elevation where both elevations are known. Day by day: a gap of the nearest station is filled by
/// the next.
#[must_use]
pub fn local(series: &[StationSeries], at: LatLon, elevation: Option<Metres>) -> Local {
    let spot = Ecef::of(at);
    let mut near: Vec<Near<'_>> = series
        .iter()
        .filter_map(|series| {
            let distance = Ecef::of(series.station.at?).distance(spot).0;
            let correction = series
                .station
                .elevation
                .zip(elevation)
                .map(|(station, here)| LAPSE * (station.0 - here.0));
            Some(Near { series, distance, correction, offset: 0 })
        })
        .filter(|near| near.distance <= FARTHEST_TEMPERATURE.0)
        .collect();
    near.sort_by(|a, b| a.distance.total_cmp(&b.distance));
    let Some(first) = near.iter().map(|near| near.series.first).min() else {
        return Local::default();
    };
    for near in &mut near {
        near.offset = usize::try_from((near.series.first - first).get_days()).unwrap_or(0);
    }
    let length = near.iter().map(|near| near.offset + near.series.days.len()).max().unwrap_or(0);
    let mut served: Vec<Served> = near.iter().map(Near::unused).collect();
    let days = (0..length).map(|place| day(&near, place, &mut served)).collect();
    Local { first: Some(first), days, served }
}

impl Near<'_> {
    fn unused(&self) -> Served {
        Served {
            station: self.series.station.code.clone(),
            distance_m: self.distance,
            correction_k: self.correction,
            rain_days: 0,
            temperature_days: 0,
        }
    }

    fn at(&self, place: usize) -> Option<&DailyWeather> {
        self.series.days.get(place.checked_sub(self.offset)?)
    }

    fn corrected(&self, celsius: f64) -> f64 {
        celsius + self.correction.unwrap_or(0.0)
    }
}

fn day(near: &[Near<'_>], place: usize, served: &mut [Served]) -> LocalDay {
    let rain = near.iter().zip(0..).find_map(|(near, number): (_, usize)| {
        let rain = near.at(place)?.rain.filter(|_| near.distance <= FARTHEST_RAIN.0)?;
        Some((number, rain.0))
    });
    let mean = near.iter().zip(0..).find_map(|(near, number): (_, usize)| {
        Some((number, near.corrected(near.at(place)?.mean_temperature()?.0)))
    });
    let minimum = near.iter().find_map(|near| Some(near.corrected(near.at(place)?.minimum?.0)));
    if let Some((number, _)) = rain {
        served[number].rain_days += 1;
    }
    if let Some((number, _)) = mean {
        served[number].temperature_days += 1;
    }
    LocalDay { rain: rain.map(|(_, mm)| mm), mean: mean.map(|(_, c)| c), minimum }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::WeatherStation;
    use crate::units::{Celsius, Millimetres};
    use jiff::civil::date;

    fn station(code: &str, latitude: f64, height: f64, rain: &[Option<f64>]) -> StationSeries {
        let day = |rain: &Option<f64>| DailyWeather {
            rain: rain.map(Millimetres),
            maximum: Some(Celsius(20.0)),
            minimum: Some(Celsius(10.0)),
            ..DailyWeather::default()
        };
        StationSeries {
            station: WeatherStation {
                code: code.to_owned(),
                name: None,
                at: Some(LatLon::new(latitude, 146.0).unwrap()),
                elevation: Some(Metres(height)),
            },
            first: date(2026, 5, 1),
            days: rain.iter().map(day).collect(),
        }
    }

    /// A station near by has no weather of the days before it began.
    #[test]
    fn days_before_a_date_count_where_they_have_values() {
        let near = station("A", -42.0, 300.0, &[Some(1.0), None, Some(0.0)]);
        let local = local(&[near], LatLon::new(-42.01, 146.0).unwrap(), None);
        assert_eq!(local.known_before(date(2026, 5, 3), 3), (2, 3));
        assert_eq!(local.known_before(date(2026, 5, 4), 3), (1, 2));
        assert_eq!(local.known_before(date(2026, 4, 30), 61), (0, 0));
        assert_eq!(Local::default().known_before(date(2026, 5, 3), 61), (0, 0));
    }

    #[test]
    fn the_nearest_station_with_a_value_serves_each_day() {
        let near = station("near", -42.0, 100.0, &[Some(1.0), None, None]);
        let mut far = station("far", -42.3, 500.0, &[Some(9.0), Some(2.0)]);
        far.first = date(2026, 5, 1);
        let at = LatLon::new(-42.01, 146.0).unwrap();
        let local = local(&[far, near], at, Some(Metres(600.0)));
        let rain: Vec<Option<f64>> = local.days.iter().map(|day| day.rain).collect();
        assert_eq!(rain, [Some(1.0), Some(2.0), None], "a gap is no zero");
        // 500 m higher: 3.25 K colder
        assert!((local.days[0].mean.unwrap() - 11.75).abs() < 1e-9);
        assert!((local.days[0].minimum.unwrap() - 6.75).abs() < 1e-9);
        assert_eq!((local.served[0].rain_days, local.served[1].rain_days), (1, 1));
        assert_eq!(local.served[0].correction_k.map(|k| (k * 100.0).round()), Some(-325.0));
        assert_eq!(local.place(date(2026, 5, 3)), Some(2));
        assert_eq!(local.place(date(2026, 4, 30)), None);
        assert_eq!(local.last(), Some(date(2026, 5, 3)));
    }

    #[test]
    fn stations_too_far_away_are_not_used() {
        let far = station("far", -42.0, 100.0, &[Some(1.0)]);
        let middle = local(std::slice::from_ref(&far), LatLon::new(-43.0, 146.0).unwrap(), None);
        assert_eq!((middle.days[0].rain, middle.days[0].mean), (None, Some(15.0)));
        assert_eq!(local(&[far], LatLon::new(-44.0, 146.0).unwrap(), None), Local::default());
    }
}
