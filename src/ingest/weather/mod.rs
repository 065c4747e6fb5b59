//! Reads daily weather: GHCN-Daily text (`.dly`), its CSV forms (one value a line, one day a line), CSV
//! with ISO dates and headings in words, and lists of stations. Values without a unit, flagged values and
//! implausible ones are never guessed. Layer: `ingest`.
//!
//! Impossible values (rain above 1,825 mm a day, temperatures beyond the extremes ever measured, a maximum below the
//! minimum) are set aside and counted. A gap is never zero: neither an empty cell nor a zero that nobody measured.
//!
//! # References
//! Menne, Durre, Vose, Gleason & Houston 2012, An overview of the Global Historical Climatology
//! Network-Daily database, Journal of Atmospheric and Oceanic Technology 29:897,
//! doi:10.1175/JTECH-D-11-00103.1; NOAA, readme.txt of GHCN-Daily, sections III (data) and IV (stations).

mod collect;
mod fixed;
mod heading;
mod long;
mod plain;
mod table;
mod wide;

#[cfg(test)]
mod tests;

use std::path::Path;

use jiff::civil::Date;

use crate::error::{Error, Result, read_regular};
use crate::model::{StationValues, WeatherFile, WeatherNote, WeatherStation};
use crate::units::{LatLon, Metres};

use super::record::text::decoded;

/// Units of a file that does not state them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Units {
    /// Tenths of mm and of degrees Celsius, mm of snow: as GHCN-Daily keeps them.
    Tenths,
    /// mm and degrees Celsius.
    Metric,
    /// Inches and degrees Fahrenheit.
    Inches,
}

/// What the user states beside the file.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// The identifier of the station, for files that name none.
    pub station: Option<String>,
    /// Where that station is.
    pub at: Option<LatLon>,
    /// Its elevation.
    pub elevation: Option<Metres>,
    /// Units of values in columns that GHCN-Daily names.
    pub units: Option<Units>,
    /// The last day that can have been observed; `None` where that is not checked.
    pub latest: Option<Date>,
    /// Meanings of headings: the heading, and what to read it as (`rain mm`).
    pub columns: Vec<(String, String)>,
}

/// The largest file, bytes: half a century of some hundred stations.
const LARGEST: usize = 256 << 20;

/// What one reader gives.
struct Parts {
    form: String,
    stations: Vec<WeatherStation>,
    series: Vec<StationValues>,
    notes: Vec<WeatherNote>,
}

impl Parts {
    /// Takes out values of days after the latest one, which nobody has observed.
    fn set_aside_after(&mut self, latest: Date) {
        let (mut values, mut first) = (0, None::<Date>);
        for series in &mut self.series {
            for future in series.values.iter().filter(|v| v.date > latest && v.value.is_some()) {
                values += 1;
                first = Some(first.map_or(future.date, |first| first.min(future.date)));
            }
            series.values.retain(|value| value.date <= latest);
        }
        self.series.retain(|series| !series.values.is_empty());
        if let Some(date) = first {
            self.notes.push(WeatherNote::Future { values, date });
        }
    }
}

/// Reads one file.
///
/// # Errors
/// When it cannot be opened, is not weather, states no unit, or has no value at all.
///
/// # Examples
/// ```
/// use trug::ingest::weather::{self, Options};
/// use trug::units::LatLon;
///
/// let folder = tempfile::tempdir()?;
/// let path = folder.path().join("gate.csv");
/// std::fs::write(&path, "date,rain mm,min temp C\n2026-05-01,4.2,3.5\n2026-05-02,,1.0\n")?;
/// let options = Options {
///     station: Some("gate".into()),
///     at: Some(LatLon::new(-42.61, 146.10)?),
///     ..Options::default()
/// };
/// let file = weather::read(&path, &options)?;
/// assert_eq!(file.series.len(), 1);
/// // the empty cell is a gap, not a dry day
/// assert_eq!(file.series[0].values.iter().filter(|value| value.value == Some(0.0)).count(), 0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read(path: &Path, options: &Options) -> Result<WeatherFile> {
    let bytes = read_regular(path).map_err(|error| Error::file("read", path, &error))?;
    if bytes.len() > LARGEST {
        return Err(Error::input(format!("{} is too large", path.display()))
            .because(format!("it has {} MiB; the limit is {}", bytes.len() >> 20, LARGEST >> 20))
            .hint("give files of single stations")
            .in_file(path));
    }
    let Some(text) = decoded(&bytes) else {
        return Err(strange(path, "it is not text"));
    };
    drop(bytes);
    let mut parts = parts(&text, path, options).map_err(|error| error.in_file(path))?;
    if let Some(latest) = options.latest {
        parts.set_aside_after(latest);
    }
    Ok(WeatherFile {
        path: path.to_owned(),
        form: parts.form,
        stations: parts.stations,
        series: parts.series,
        notes: parts.notes,
    })
}

fn parts(text: &str, path: &Path, options: &Options) -> Result<Parts> {
    let Some(first) = text.lines().find(|line| !line.trim().is_empty()) else {
        return Err(strange(path, "it is empty"));
    };
    if fixed::is_daily(first) {
        return Ok(fixed::daily(text));
    }
    if fixed::is_station(first) {
        return Ok(fixed::stations(text));
    }
    let table = table::Table::of(text);
    if long::is_headless(&table) {
        return Ok(long::read(&table, &long::Places::HEADLESS));
    }
    if let Some(places) = long::places(&table) {
        return Ok(long::read(&table, &places));
    }
    if let Some(columns) = wide::columns(&table) {
        return wide::read(&table, &columns, options);
    }
    if let Some(listed) = table::stations(&table) {
        return Ok(listed);
    }
    plain::read(&table, &station_of(path, options), options)
}

fn station_of(path: &Path, options: &Options) -> String {
    let stem = || path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    options.station.clone().unwrap_or_else(stem)
}

/// The file is not weather.
fn strange(path: &Path, why: &str) -> Error {
    Error::input(format!("{} is not daily weather", path.display())).because(why).hint(
        "give GHCN-Daily files (.dly or CSV), a list of stations, or a table with a column of ISO dates \
         and headings such as \"rain mm\"",
    )
}
