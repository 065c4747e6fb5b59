//! Reads the CSV of GHCN-Daily with one day a line and a column for each element. The form does not
//! state its units: they are those that all values allow, or the user says them. Layer: `ingest`.

use std::collections::BTreeMap;

use super::collect::{Collector, ODD, Reading, plausible};
use super::fixed::{element, scaled};
use super::table::{StationColumns, Table, date, is_missing};
use super::{Options, Parts, Units};
use crate::error::{Error, Result};
use crate::model::{WeatherElement, WeatherStation};
use crate::units::{Celsius, Millimetres};

/// Elements that decide about units.
const NAMED: [&str; 6] = ["PRCP", "TMAX", "TMIN", "TAVG", "SNOW", "SNWD"];

/// Where the columns are.
pub(super) struct Columns {
    code: usize,
    date: usize,
    stations: Option<StationColumns>,
    /// The place of each element and of its flags.
    elements: Vec<(String, usize, Option<usize>)>,
}

/// The columns, if this is the form.
pub(super) fn columns(table: &Table) -> Option<Columns> {
    let code = table.place(&["STATION", "ID"])?;
    let date = table.place(&["DATE"])?;
    let headings = table.headings();
    let is_element = |heading: &String| {
        heading.len() == 4
            && heading.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit())
            && !["DATE", "NAME", "ELEV", "CODE", "LONG"].contains(&heading.as_str())
    };
    let elements: Vec<_> = headings
        .iter()
        .enumerate()
        .filter(|(_, heading)| is_element(heading))
        .map(|(place, heading)| {
            let flags = table.place(&[&format!("{heading}_ATTRIBUTES")]);
            (heading.clone(), place, flags)
        })
        .collect();
    let any = elements.iter().any(|(name, ..)| NAMED.contains(&name.as_str()));
    any.then(|| Columns { code, date, stations: StationColumns::of(table), elements })
}

/// Reads all rows in the units that the user states, otherwise in the only ones that all values of the file allow.
pub(super) fn read(table: &Table, columns: &Columns, options: &Options) -> Result<Parts> {
    let units = match options.units {
        Some(units) => units,
        None => units(table, columns)?,
    };
    let mut all = Collector::default();
    let mut stations: BTreeMap<String, WeatherStation> = BTreeMap::new();
    for (line, row) in table.body() {
        let cell = |place: usize| row.get(place).map_or("", str::trim);
        let code = cell(columns.code);
        let Some(day) = date(cell(columns.date)).filter(|_| !code.is_empty()) else {
            let written = cell(columns.date).to_owned();
            all.unreadable(*line, || format!("no station, or \"{written}\" is no date"));
            continue;
        };
        if !stations.contains_key(code)
            && let Some(station) = columns.stations.as_ref().and_then(|c| c.station(row, table))
        {
            stations.insert(code.to_owned(), station);
        }
        for (name, place, flags) in &columns.elements {
            let flags = flags.map_or("", cell);
            match reading(name, cell(*place), flags, units) {
                Ok(reading) => all.add(code, day, &element(name).0, reading, *line),
                Err(why) => all.unreadable(*line, || format!("{name}: {why}")),
            }
        }
    }
    if let (Some(_), Some(misfit)) = (options.units, all.misfit()) {
        let hint = "omit --units: the values may decide; otherwise state the units in which they were ordered";
        return Err(misfit.refusal(&format!("--units ({})", words(units)), hint));
    }
    let (series, notes) = all.finished();
    let form = format!("GHCN-Daily CSV, one day a line, {}", words(units));
    Ok(Parts { form, stations: stations.into_values().collect(), series, notes })
}

fn words(units: Units) -> &'static str {
    match units {
        Units::Tenths => "tenths of mm and of °C",
        Units::Metric => "mm and °C",
        Units::Inches => "inches and °F",
    }
}

/// The value of a cell in the unit of its element; flags as `M,Q,S`.
fn reading(
    name: &str,
    cell: &str,
    flags: &str,
    units: Units,
) -> std::result::Result<Reading, String> {
    if is_missing(cell) {
        return Ok(Reading::Missing);
    }
    let value: f64 = cell.parse().map_err(|_| format!("\"{cell}\" is no number"))?;
    let mut flags = flags.split(',').map(|flag| flag.trim().chars().next());
    let (measurement, quality) = (flags.next().flatten(), flags.next().flatten());
    Ok(match (measurement, quality) {
        (_, Some(quality)) => Reading::Flagged(quality),
        (Some('P'), _) => Reading::PresumedZero,
        (Some('T'), _) if value == 0.0 => Reading::Trace,
        _ => Reading::Value(converted(name, value, units)),
    })
}

fn converted(name: &str, value: f64, units: Units) -> f64 {
    let (element, scale) = element(name);
    match (units, element) {
        (_, WeatherElement::Other(_)) | (Units::Metric, _) => value,
        (Units::Tenths, _) => scaled(value, scale),
        (Units::Inches, element) if element.is_temperature() => Celsius::from_fahrenheit(value).0,
        (Units::Inches, _) => Millimetres::from_inches(value).0,
    }
}

/// The only units that all values allow.
fn units(table: &Table, columns: &Columns) -> Result<Units> {
    let mut columns_of: Vec<(&str, Vec<&str>)> = Vec::new();
    for (name, place, flags) in &columns.elements {
        if !NAMED.contains(&name.as_str()) {
            continue;
        }
        let unflagged = |row: &csv::StringRecord| {
            let flags = flags.and_then(|place| row.get(place)).unwrap_or("");
            flags.split(',').nth(1).is_none_or(|quality| quality.trim().is_empty())
        };
        let cells = table.body().filter(|(_, row)| unflagged(row));
        let cells = cells.filter_map(|(_, row)| row.get(*place)).map(str::trim);
        columns_of.push((name, cells.filter(|cell| !is_missing(cell)).collect()));
    }
    let allowed: Vec<Units> = [Units::Tenths, Units::Metric, Units::Inches]
        .into_iter()
        .filter(|units| allows(&columns_of, *units))
        .collect();
    match allowed[..] {
        [only] => Ok(only),
        [] => Err(undecided("no units fit all values")),
        _ => {
            let names: Vec<&str> = allowed.iter().map(|units| words(*units)).collect();
            Err(undecided(&format!("the values may be {}", names.join(", or "))))
        }
    }
}

fn undecided(why: &str) -> Error {
    Error::input("the units of the columns PRCP, TMAX, TMIN cannot be determined")
        .because(why.to_owned())
        .hint(
            "state them: --units tenths (as the archive keeps them), --units metric or --units inches \
             (as ordered)",
        )
}

/// The least span of the temperatures of 60 days and more, K.
const LEAST_SPAN: f64 = 4.5;

fn allows(columns: &[(&str, Vec<&str>)], units: Units) -> bool {
    columns.iter().all(|(name, cells)| {
        let decimals = |cell: &str| {
            cell.split_once('.').map_or(0, |(_, digits)| digits.trim_end_matches('0').len())
        };
        let most = cells.iter().map(|cell| decimals(cell)).max().unwrap_or(0);
        let (kind, _) = element(name);
        let written = match units {
            Units::Tenths => most == 0,
            Units::Metric => most <= 1,
            // whole degrees, hundredths of an inch of rain, tenths of snow
            Units::Inches => most <= if kind.is_temperature() { 0 } else { 2 },
        };
        let values: Vec<f64> = cells
            .iter()
            .filter_map(|cell| cell.parse::<f64>().ok())
            .map(|value| converted(name, value, units))
            .collect();
        let odd = values.iter().filter(|value| !plausible(&kind, **value)).count();
        written && odd as f64 <= ODD * values.len() as f64 && varies(&kind, values)
    })
}

/// Whether temperatures vary as much as those of two months do.
fn varies(element: &WeatherElement, mut values: Vec<f64>) -> bool {
    if !element.is_temperature() || values.len() < 60 {
        return true;
    }
    values.sort_unstable_by(f64::total_cmp);
    let tail = values.len() / 100;
    values[values.len() - 1 - tail] - values[tail] >= LEAST_SPAN
}
