//! Writes weather stations and their days, in one transaction. Layer: `store`.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};

use super::{KeptWeather, read, unplaced};
use crate::model::{StationValues, WeatherElement, WeatherStation, WeatherValue};
use crate::store::fault::Attempt;
use crate::store::{geometry, layers, words};

type Other = BTreeMap<String, f64>;

/// The cells of one day.
#[derive(Clone, Debug, Default, PartialEq)]
pub(in crate::store) struct Day {
    /// Rain, highest, lowest and mean temperature, snowfall, depth of snow.
    pub(in crate::store) values: [Option<f64>; 6],
    pub(in crate::store) other: Other,
}

pub(super) fn keep(
    connection: &mut Connection,
    (stations, series): (&[WeatherStation], &[StationValues]),
    replace: bool,
    now: &str,
) -> Attempt<Vec<KeptWeather>> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let mut known: BTreeMap<String, (i64, WeatherStation)> =
        read::stations(&work)?.into_iter().map(|(key, s)| (s.code.clone(), (key, s))).collect();
    let mut kept = Vec::new();
    for station in stations {
        // a list of stations only matters for those with weather
        let has_values = series.iter().any(|values| values.code == station.code);
        if has_values || known.contains_key(&station.code) {
            let mut change =
                KeptWeather { station: station.code.clone(), ..KeptWeather::default() };
            change.station_changed = keep_station(&work, station, &mut known)?;
            if change.station_changed || has_values {
                kept.push(change);
            }
        }
    }
    for values in series {
        let Some((key, _)) = known.get(&values.code).filter(|(_, s)| s.at.is_some()) else {
            return Err(unplaced(&values.code).into());
        };
        let place = kept.iter().position(|change| change.station == values.code);
        let place = place.unwrap_or_else(|| {
            let station = values.code.clone();
            kept.push(KeptWeather { station, ..KeptWeather::default() });
            kept.len() - 1
        });
        keep_values(&work, *key, &values.values, replace, &mut kept[place])?;
    }
    if kept.iter().any(|change| !change.changed_nothing()) {
        layers::refresh(&work, now)?;
        work.commit()?;
    }
    Ok(kept)
}

/// Adds a station or completes it; what the new one does not state stays.
fn keep_station(
    work: &Transaction<'_>,
    station: &WeatherStation,
    known: &mut BTreeMap<String, (i64, WeatherStation)>,
) -> Attempt<bool> {
    let before = known.get(&station.code).cloned();
    let old = before.as_ref().map(|(_, old)| old);
    let merged = WeatherStation {
        code: station.code.clone(),
        name: station.name.clone().or_else(|| old.and_then(|old| old.name.clone())),
        at: station.at.or_else(|| old.and_then(|old| old.at)),
        elevation: station.elevation.or_else(|| old.and_then(|old| old.elevation)),
    };
    if old == Some(&merged) {
        return Ok(false);
    }
    let geom = merged.at.map(geometry::point);
    let elevation = merged.elevation.map(|metres| metres.0);
    let key = if let Some((key, _)) = before {
        work.execute(
            "UPDATE weather_stations SET geom = ?2, name = ?3, elevation_m = ?4 WHERE id = ?1",
            params![key, geom, merged.name, elevation],
        )?;
        key
    } else {
        work.execute(
            "INSERT INTO weather_stations (geom, code, name, elevation_m) VALUES (?1, ?2, ?3, ?4)",
            params![geom, merged.code, merged.name, elevation],
        )?;
        work.last_insert_rowid()
    };
    known.insert(merged.code.clone(), (key, merged));
    Ok(true)
}

fn keep_values(
    work: &Transaction<'_>,
    station: i64,
    values: &[WeatherValue],
    replace: bool,
    change: &mut KeptWeather,
) -> Attempt<()> {
    for day in values.chunk_by(|a, b| a.date == b.date) {
        keep_day(work, station, day, change)?;
    }
    let (Some(first), Some(last)) = (values.first(), values.last()) else { return Ok(()) };
    let stated: std::collections::BTreeSet<Date> = values.iter().map(|v| v.date).collect();
    let within: Vec<(i64, String)> = work
        .prepare_cached(
            "SELECT id, date FROM weather_days WHERE station_id = ?1 AND date BETWEEN ?2 AND ?3",
        )?
        .query_map(params![station, first.date.to_string(), last.date.to_string()], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })?
        .collect::<Result<_, _>>()?;
    for (row, date) in within {
        if date.parse::<Date>().is_ok_and(|date| stated.contains(&date)) {
            continue;
        }
        change.days_beside += 1;
        if replace {
            work.prepare_cached("DELETE FROM weather_days WHERE id = ?1")?.execute([row])?;
        }
    }
    change.beside_removed = replace;
    Ok(())
}

fn keep_day(
    work: &Transaction<'_>,
    station: i64,
    values: &[WeatherValue],
    change: &mut KeptWeather,
) -> Attempt<()> {
    let date = values[0].date.to_string();
    let kept = kept_day(work, station, &date)?;
    let mut day = kept.as_ref().map(|(_, day)| day.clone()).unwrap_or_default();
    for value in values {
        day.set(&value.element, value.value);
    }
    if kept.is_none() && day == Day::default() {
        return Ok(());
    }
    let counter = match &kept {
        Some((_, old)) if *old == day => &mut change.days_same,
        Some(_) => &mut change.days_changed,
        None => &mut change.days_new,
    };
    *counter += 1;
    if kept.as_ref().is_some_and(|(_, old)| *old == day) {
        return Ok(());
    }
    day.write(work, station, &date)
}

fn kept_day(work: &Transaction<'_>, station: i64, date: &str) -> Attempt<Option<(i64, Day)>> {
    let row = work
        .prepare_cached(
            "SELECT id, rain_mm, maximum_c, minimum_c, mean_c, snowfall_mm, snow_depth_mm, other
             FROM weather_days WHERE station_id = ?1 AND date = ?2",
        )?
        .query_row(params![station, date], |row| {
            let mut values = [None; 6];
            for (place, value) in values.iter_mut().enumerate() {
                *value = row.get(place + 1)?;
            }
            Ok((row.get::<_, i64>(0)?, values, row.get::<_, Option<String>>(7)?))
        })
        .optional()?;
    let Some((id, values, other)) = row else { return Ok(None) };
    let cell = words::Cell { table: "weather_days", row: id };
    let other: Other = other.map(|text| cell.json(&text)).transpose()?.unwrap_or_default();
    Ok(Some((id, Day { values, other })))
}

impl Day {
    /// Writes the day, over one that is there.
    pub(in crate::store) fn write(
        &self,
        work: &Connection,
        station: i64,
        date: &str,
    ) -> Attempt<()> {
        let other = (!self.other.is_empty()).then(|| words::json(&self.other)).transpose()?;
        let [rain, maximum, minimum, mean, snowfall, depth] = self.values;
        work.prepare_cached(
            "INSERT INTO weather_days (station_id, date, rain_mm, maximum_c, minimum_c, mean_c, snowfall_mm,
               snow_depth_mm, other) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
             ON CONFLICT (station_id, date) DO UPDATE SET rain_mm = ?3, maximum_c = ?4, minimum_c = ?5,
               mean_c = ?6, snowfall_mm = ?7, snow_depth_mm = ?8, other = ?9",
        )?
        .execute(params![station, date, rain, maximum, minimum, mean, snowfall, depth, other])?;
        Ok(())
    }

    fn set(&mut self, element: &WeatherElement, value: Option<f64>) {
        let place = match element {
            WeatherElement::Rain => 0,
            WeatherElement::Maximum => 1,
            WeatherElement::Minimum => 2,
            WeatherElement::Mean => 3,
            WeatherElement::Snowfall => 4,
            WeatherElement::SnowDepth => 5,
            WeatherElement::Other(name) => {
                match value {
                    Some(value) => self.other.insert(name.to_string(), value),
                    None => self.other.remove(&**name),
                };
                return;
            }
        };
        self.values[place] = value;
    }
}

pub(super) fn remove(connection: &mut Connection, code: &str, now: &str) -> Attempt<bool> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let gone = work.execute("DELETE FROM weather_stations WHERE code = ?1", [code])?;
    if gone > 0 {
        layers::refresh(&work, now)?;
        work.commit()?;
    }
    Ok(gone > 0)
}
