//! Reads weather stations and their days. Layer: `store`.

use jiff::civil::Date;
use rusqlite::Connection;

use crate::error::RowDamage;
use crate::model::{DailyWeather, StationSeries, WeatherStation};
use crate::store::fault::{Attempt, Fault};
use crate::store::geometry;
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::units::{Celsius, Metres, Millimetres};

/// The longest series, days: three centuries. A date beyond was not written by trug.
const LONGEST: i32 = 110_000;

pub(super) fn stations(connection: &Connection) -> Attempt<Vec<(i64, WeatherStation)>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, code, name, geom, elevation_m FROM weather_stations ORDER BY code",
    )?;
    let mut rows = statement.query([])?;
    let mut stations = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let key = cells.next()?;
        let (code, name) = (cells.next()?, cells.next()?);
        let at = cells.bytes()?.and_then(geometry::position);
        let elevation = cells.next::<Option<f64>>()?.map(Metres);
        stations.push((key, WeatherStation { code, name, at, elevation }));
    }
    Ok(stations)
}

pub(super) fn series(connection: &Connection) -> Attempt<Vec<StationSeries>> {
    let mut all = Vec::new();
    for (key, station) in stations(connection)? {
        let mut statement = connection.prepare_cached(
            "SELECT id, date, rain_mm, maximum_c, minimum_c, mean_c, snowfall_mm, snow_depth_mm
             FROM weather_days WHERE station_id = ?1 ORDER BY date",
        )?;
        let mut rows = statement.query([key])?;
        let mut first: Option<Date> = None;
        let mut days: Vec<DailyWeather> = Vec::new();
        while let Some(row) = rows.next()? {
            let mut cells = Cells::of(row);
            let id: i64 = cells.next()?;
            let written: String = cells.next()?;
            let date = Cell { table: "weather_days", row: id }.date(&written)?;
            let start = *first.get_or_insert(date);
            let place = (date - start).get_days();
            if !(0..LONGEST).contains(&place) {
                return Err(Fault::damaged(
                    "weather_days",
                    id,
                    RowDamage::NotInOrder { date: date.to_string() },
                ));
            }
            days.resize(usize::try_from(place).unwrap_or(0), DailyWeather::default());
            days.push(day(&mut cells)?);
        }
        if let Some(first) = first {
            all.push(StationSeries { station, first, days });
        }
    }
    Ok(all)
}

fn day(cells: &mut Cells<'_>) -> Attempt<DailyWeather> {
    let mut value = || cells.next::<Option<f64>>();
    Ok(DailyWeather {
        rain: value()?.map(Millimetres),
        maximum: value()?.map(Celsius),
        minimum: value()?.map(Celsius),
        mean: value()?.map(Celsius),
        snowfall: value()?.map(Millimetres),
        snow_depth: value()?.map(Millimetres),
    })
}
