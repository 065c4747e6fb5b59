//! Copies weather stations and their days from another store: a gap here is filled, a value that both have
//! differently stays as it is here and is listed. Layer: `store`.

use rusqlite::types::Value;
use rusqlite::{Connection, params};

use super::Merged;
use crate::model::{MergeConflict, StationProperty};
use crate::store::fault::Attempt;
use crate::store::weather::Day;
use crate::store::words::Cell;

struct Station {
    key: i64,
    code: String,
    /// Position, name, elevation.
    cells: [Value; 3],
}

pub(super) fn add(work: &Connection, other: &Connection, merged: &mut Merged) -> Attempt<()> {
    for station in stations(other)? {
        let key = add_station(work, &station, merged)?;
        let mut different = 0;
        for (date, day) in days(other, station.key, None)? {
            add_day(work, key, &date, &day, (merged, &mut different))?;
        }
        if different > 0 {
            let (station, days) = (station.code.clone(), different);
            merged.conflicts.push(MergeConflict::WeatherDays { station, days });
        }
    }
    Ok(())
}

fn stations(connection: &Connection) -> Attempt<Vec<Station>> {
    let mut statement = connection
        .prepare("SELECT id, code, geom, name, elevation_m FROM weather_stations ORDER BY id")?;
    let stations = statement.query_map([], |row| {
        let cells = [row.get(2)?, row.get(3)?, row.get(4)?];
        Ok(Station { key: row.get(0)?, code: row.get(1)?, cells })
    })?;
    Ok(stations.collect::<rusqlite::Result<_>>()?)
}

/// Adds the station, or states here what only the other store states of it; returns its key here.
fn add_station(work: &Connection, station: &Station, merged: &mut Merged) -> Attempt<i64> {
    const WHAT: [StationProperty; 3] =
        [StationProperty::Position, StationProperty::Name, StationProperty::Elevation];
    let ours = stations(work)?.into_iter().find(|ours| ours.code == station.code);
    let Some(mut ours) = ours else {
        merged.stations_added += 1;
        let [at, name, elevation] = &station.cells;
        return Ok(work
            .prepare_cached(
                "INSERT INTO weather_stations (geom, code, name, elevation_m) VALUES (?1, ?2, ?3, ?4)",
            )?
            .insert(params![at, station.code, name, elevation])?);
    };
    for ((own, their), property) in ours.cells.iter_mut().zip(&station.cells).zip(WHAT) {
        if *own == Value::Null {
            own.clone_from(their);
        } else if *their != Value::Null && own != their {
            let station = station.code.clone();
            merged.conflicts.push(MergeConflict::Station { station, property });
        }
    }
    let [at, name, elevation] = &ours.cells;
    work.execute(
        "UPDATE weather_stations SET geom = ?2, name = ?3, elevation_m = ?4 WHERE id = ?1
         AND (geom IS NOT ?2 OR name IS NOT ?3 OR elevation_m IS NOT ?4)",
        params![ours.key, at, name, elevation],
    )?;
    Ok(ours.key)
}

/// The days of a station, all or the one of a date.
fn days(connection: &Connection, station: i64, date: Option<&str>) -> Attempt<Vec<(String, Day)>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, date, other, rain_mm, maximum_c, minimum_c, mean_c, snowfall_mm, snow_depth_mm
         FROM weather_days WHERE station_id = ?1 AND date = coalesce(?2, date) ORDER BY date",
    )?;
    let mut rows = statement.query(params![station, date])?;
    let mut days = Vec::new();
    while let Some(row) = rows.next()? {
        let cell = Cell { table: "weather_days", row: row.get(0)? };
        let other: Option<String> = row.get(2)?;
        let other = other.map(|text| cell.json(&text)).transpose()?.unwrap_or_default();
        let mut day = Day { values: [None; 6], other };
        for (place, value) in day.values.iter_mut().enumerate() {
            *value = row.get(place + 3)?;
        }
        days.push((row.get(1)?, day));
    }
    Ok(days)
}

fn add_day(
    work: &Connection,
    station: i64,
    date: &str,
    theirs: &Day,
    (merged, different): (&mut Merged, &mut usize),
) -> Attempt<()> {
    let ours = days(work, station, Some(date))?.pop().map(|(_, day)| day);
    let (filled, conflict) = filled(ours.clone().unwrap_or_default(), theirs);
    *different += usize::from(conflict);
    if ours.as_ref() == Some(&filled) {
        return Ok(());
    }
    merged.weather_days_added += 1;
    filled.write(work, station, date)
}

/// Our day with the gaps filled from theirs, and whether any value differs.
#[allow(clippy::float_cmp, reason = "a copied value is the same to the bit")]
fn filled(mut ours: Day, theirs: &Day) -> (Day, bool) {
    let mut conflict = false;
    for (own, their) in ours.values.iter_mut().zip(&theirs.values) {
        conflict |= own.is_some() && their.is_some() && own != their;
        *own = own.or(*their);
    }
    for (name, their) in &theirs.other {
        conflict |= ours.other.entry(name.clone()).or_insert(*their) != their;
    }
    (ours, conflict)
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;

    use crate::model::Authored;
    use crate::store::Store;

    fn store(folder: &std::path::Path, name: &str, sql: &str) -> Store {
        let store = Store::create_or_open(&folder.join(name)).unwrap();
        store.connection.execute_batch(sql).unwrap();
        store
    }

    type Cells = (String, Option<f64>, Option<f64>, Option<String>);

    fn cells(store: &Store) -> Vec<Cells> {
        let mut statement = store
            .connection
            .prepare("SELECT date, rain_mm, mean_c, other FROM weather_days ORDER BY date")
            .unwrap();
        let rows = statement
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))
            .unwrap();
        rows.collect::<rusqlite::Result<_>>().unwrap()
    }

    #[test]
    fn gaps_are_filled_and_different_values_stay() {
        let folder = tempfile::tempdir().unwrap();
        let mut ours = store(
            folder.path(),
            "a.gpkg",
            "INSERT INTO weather_stations (id, code, elevation_m) VALUES (7, 'X1', 210);
             INSERT INTO weather_days (station_id, date, rain_mm, other) VALUES
               (7, '2026-10-01', 2.5, NULL), (7, '2026-10-02', NULL, '{\"A\":1.0}');",
        );
        let theirs = store(
            folder.path(),
            "b.gpkg",
            "INSERT INTO weather_stations (id, code, name, elevation_m) VALUES
               (1, 'X2', 'Low', 90), (2, 'X1', 'High', 215);
             INSERT INTO weather_days (station_id, date, rain_mm, mean_c, other) VALUES
               (2, '2026-10-01', 3.5, 8.0, NULL), (2, '2026-10-02', 0.0, NULL, '{\"A\":1.0,\"B\":2.0}'),
               (1, '2026-10-03', 1.0, NULL, NULL);",
        );
        let other = theirs.path.clone();
        drop(theirs);
        let authored = Authored { who: None, made: Timestamp::UNIX_EPOCH, reason: None };
        let merged = ours.merge(&other, &authored).unwrap();
        assert_eq!((merged.stations_added, merged.weather_days_added), (1, 3));
        assert_eq!(merged.conflicts.len(), 2, "{:?}", merged.conflicts);
        let expected = vec![
            ("2026-10-01".into(), Some(2.5), Some(8.0), None),
            ("2026-10-02".into(), Some(0.0), None, Some("{\"A\":1.0,\"B\":2.0}".into())),
            ("2026-10-03".into(), Some(1.0), None, None),
        ];
        assert_eq!(cells(&ours), expected);
        let again = ours.merge(&other, &authored).unwrap();
        assert_eq!((again.stations_added, again.weather_days_added), (0, 0));
        assert_eq!(cells(&ours), expected);
    }
}
