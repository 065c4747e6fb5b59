//! Runs `trug weather [add|remove]`: keeps daily weather of stations and lists what is there. Layer:
//! `commands`.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};
use jiff::Timestamp;
use jiff::civil::Date;

use super::console::Console;
use super::exit::Exit;
use super::finds::one_position;
use super::store_path::StoreArgument;
use super::without_effect::needs;
use super::years::json;
use crate::earth::geodesic;
use crate::error::{Error, Result};
use crate::ingest::weather::{self, Options, Units};
use crate::model::{StationValues, WeatherFile, WeatherStation, WeatherValue};
use crate::present::weather::{listing, notes};
use crate::store::KeptWeather;
use crate::units::{LatLon, Metres};

/// List the daily weather in the store, or add some: rain and temperature for `trug season --weather`.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// Print the result as JSON.
    #[arg(long, global = true)]
    json: bool,

    #[command(subcommand)]
    action: Option<Action>,
}

#[derive(Debug, Subcommand)]
enum Action {
    /// Add daily weather: GHCN-Daily (.dly, CSV, list of stations), or a table with ISO dates and
    /// headings such as "rain mm".
    Add(Box<AddArguments>),
    /// Remove a station with its weather.
    Remove {
        /// Its identifier.
        station: String,
    },
}

#[derive(Debug, Args)]
struct AddArguments {
    /// The files.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,

    /// Where the station is, in any common notation.
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    at: Option<String>,

    /// The elevation of the station above sea level, metres.
    #[arg(long, value_name = "METRES", requires = "at", allow_hyphen_values = true, value_parser = crate::commands::numbers::finite)]
    elevation: Option<f64>,

    /// The name of the station of a table that names none; by default the file name.
    #[arg(long, value_name = "NAME")]
    station: Option<String>,

    /// The units of a GHCN-Daily CSV with one day a line, which does not state them.
    #[arg(long, value_enum)]
    units: Option<UnitsChoice>,

    /// What a heading means: --column "RR=rain mm".
    #[arg(long, value_name = "HEADING=MEANING", value_parser = heading)]
    column: Vec<(String, String)>,

    /// Remove days within the span of the files that these do not mention.
    #[arg(long)]
    replace: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum UnitsChoice {
    /// Tenths of mm and of degrees Celsius.
    Tenths,
    /// mm and degrees Celsius.
    Metric,
    /// Inches and degrees Fahrenheit.
    Inches,
}

fn heading(text: &str) -> std::result::Result<(String, String), String> {
    let (heading, meaning) = text.split_once('=').ok_or("write it as HEADING=MEANING")?;
    Ok((heading.trim().to_owned(), meaning.trim().to_owned()))
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    match &arguments.action {
        None => list(arguments, console),
        Some(Action::Add(add)) => self::add(&arguments.store, add, arguments.json, console),
        Some(Action::Remove { station }) => {
            let mut store = arguments.store.open(console)?;
            if !store.remove_weather(station, Timestamp::now())? {
                return Err(Error::input(format!("there is no weather station {station}"))
                    .because("no station in the store has exactly that identifier")
                    .hint("`trug weather` lists them"));
            }
            if arguments.json {
                console.print(&json(&serde_json::json!({ "removed": station }))?)?;
            } else {
                console.note(&format!("Removed: weather of {station}"));
            }
            Ok(Exit::Done)
        }
    }
}

fn list(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let years = arguments.store.years(console)?;
    let stations = years.store.weather_stations()?;
    let series = years.store.weather()?;
    let weathers = years.weathers()?;
    let dates: Vec<Date> = years.outings.iter().map(|outing| outing.date).collect();
    let lines = listing::lines(&stations, &series, (&weathers.areas, &dates));
    if arguments.json {
        console.print(&json(&lines)?)?;
    } else if stations.is_empty() {
        console.note("No weather in the store. `trug weather add FILE...` adds some.");
    } else {
        console.print(&listing::text(&lines))?;
    }
    Ok(Exit::Done)
}

fn add(
    store: &StoreArgument,
    arguments: &AddArguments,
    as_json: bool,
    console: &mut Console,
) -> Result<Exit> {
    let at = arguments.at.as_deref().map(one_position).transpose()?;
    let options = arguments.options(at)?;
    let (mut files, mut refused) = (Vec::new(), Vec::new());
    for path in &arguments.files {
        match weather::read(path, &options) {
            Ok(file) => files.push(file),
            Err(error) => refused.push(error),
        }
    }
    if files.is_empty() {
        let last = refused.pop();
        warn(&refused, console);
        return Err(last.unwrap_or_else(|| Error::input("no file was given")));
    }
    let series = by_station(&files);
    arguments.has_effect(&files, &series)?;
    let mut store = store.create_or_open(console)?;
    let stations = placed(&files, &series, &options, &store.weather_stations()?)?;
    let kept = store.keep_weather(&stations, &series, arguments.replace, Timestamp::now())?;
    report(&files, &kept, &series, as_json, console)?;
    warn(&refused, console);
    let set_aside = !refused.is_empty() || files.iter().any(notes::set_aside);
    Ok(if set_aside { Exit::SomeSetAside } else { Exit::Done })
}

impl AddArguments {
    /// # Errors
    /// When an option is meant for a form that none of the files has.
    fn has_effect(&self, files: &[WeatherFile], series: &[StationValues]) -> Result<()> {
        let any = |words: &str| files.iter().any(|file| file.form.contains(words));
        needs(
            "--units",
            self.units.is_some(),
            "a GHCN-Daily CSV with one day a line",
            any("one day a line"),
        )?;
        needs(
            "--column",
            !self.column.is_empty(),
            "a table with headings in words",
            any("table with"),
        )?;
        let Some(name) = &self.station else { return Ok(()) };
        if series.iter().any(|series| series.code == *name) {
            return Ok(());
        }
        let codes: Vec<&str> = series.iter().map(|series| series.code.as_str()).collect();
        Err(Error::input(format!("no file is of the station {name}"))
            .because(format!("the files name their stations themselves: {}", codes.join(", ")))
            .hint("leave --station out, or name one of these"))
    }

    fn options(&self, at: Option<LatLon>) -> Result<Options> {
        if let Some(metres) = self.elevation.filter(|m| !(-500.0..=9_000.0).contains(m)) {
            return Err(Error::input(format!("--elevation {metres} is no elevation of a station"))
                .because("stations are between -500 and 9000 m")
                .hint("give metres above sea level"));
        }
        let units = self.units.map(|units| match units {
            UnitsChoice::Tenths => Units::Tenths,
            UnitsChoice::Metric => Units::Metric,
            UnitsChoice::Inches => Units::Inches,
        });
        Ok(Options {
            station: self.station.clone(),
            at,
            elevation: self.elevation.map(Metres),
            latest: latest(Timestamp::now()),
            units,
            columns: self.column.clone(),
        })
    }
}

/// The last date that has begun anywhere on the Earth: the earliest clocks are 14 hours ahead of UTC.
fn latest(now: Timestamp) -> Option<Date> {
    let ahead = now.checked_add(jiff::SignedDuration::from_hours(14)).ok()?;
    Some(jiff::tz::TimeZone::UTC.to_datetime(ahead).date())
}

fn warn(refused: &[Error], console: &mut Console) {
    for error in refused {
        console.warning(error);
    }
}

/// The values of all files by station; of two files the later one is right.
fn by_station(files: &[WeatherFile]) -> Vec<StationValues> {
    let mut all: BTreeMap<&str, BTreeMap<_, Option<f64>>> = BTreeMap::new();
    for series in files.iter().flat_map(|file| &file.series) {
        let own = all.entry(&series.code).or_default();
        for value in &series.values {
            own.insert((value.date, value.element.clone()), value.value);
        }
    }
    all.into_iter()
        .map(|(code, values)| StationValues {
            code: code.to_owned(),
            values: values
                .into_iter()
                .map(|((date, element), value)| WeatherValue { date, element, value })
                .collect(),
        })
        .collect()
}

/// The stations that files, options and store know, the position of the options given to the one that it
/// is meant for.
fn placed(
    files: &[WeatherFile],
    series: &[StationValues],
    options: &Options,
    known: &[WeatherStation],
) -> Result<Vec<WeatherStation>> {
    let mut stations: BTreeMap<String, WeatherStation> = files
        .iter()
        .flat_map(|file| file.stations.iter().cloned())
        .map(|station| (station.code.clone(), station))
        .collect();
    let Some(at) = options.at else { return Ok(stations.into_values().collect()) };
    let is_placed = |code: &str| {
        stations.contains_key(code) || known.iter().any(|s| s.code == code && s.at.is_some())
    };
    let codes: BTreeSet<&str> = series.iter().map(|series| series.code.as_str()).collect();
    let open: Vec<&str> = codes.iter().copied().filter(|code| !is_placed(code)).collect();
    let named = options.station.as_deref().filter(|name| codes.contains(name));
    let meant = match (named, &open[..], codes.len()) {
        (Some(name), ..) => name,
        (None, [only], _) => *only,
        (None, _, 1) => codes.first().copied().unwrap_or_default(),
        _ => return Err(several(&open, codes.len())),
    };
    let stated = stations.get(meant);
    if let Some(own) = stated.and_then(|station| station.at) {
        agrees(meant, own, at)?;
    }
    let station = WeatherStation {
        code: meant.to_owned(),
        name: stated.and_then(|station| station.name.clone()),
        at: Some(at),
        elevation: options.elevation.or_else(|| stated.and_then(|station| station.elevation)),
    };
    stations.insert(meant.to_owned(), station);
    Ok(stations.into_values().collect())
}

/// So far apart two positions are not the same station, however roughly one is given (project choice).
const SAME_PLACE: Metres = Metres(1_000.0);

/// # Errors
/// When --at is not where the file says that its station is.
fn agrees(code: &str, stated: LatLon, given: LatLon) -> Result<()> {
    let apart = geodesic::distance(stated, given);
    if apart.0 <= SAME_PLACE.0 {
        return Ok(());
    }
    Err(Error::input(format!("--at is not where the file places the station {code}"))
        .because(format!("the file states {stated}; --at {given} is {apart} away"))
        .hint("omit --at, or give the file of the station that is there"))
}

fn several(open: &[&str], all: usize) -> Error {
    let why = if open.is_empty() {
        format!("the files have {all} stations, all with a position")
    } else {
        format!("these have no position: {}", open.join(", "))
    };
    Error::input("--at could be meant for several stations")
        .because(why)
        .hint("add the file of one station at a time, or give the list of stations instead")
}

fn report(
    files: &[WeatherFile],
    kept: &[KeptWeather],
    series: &[StationValues],
    as_json: bool,
    console: &mut Console,
) -> Result<()> {
    if as_json {
        return console.print(&json(&notes::Report::of(files, kept))?);
    }
    for file in files {
        console.print(&notes::of_file(file))?;
    }
    for change in kept {
        let values = series.iter().find(|series| series.code == change.station);
        console.print(&notes::kept(change, values))?;
    }
    if kept.is_empty() {
        console.note("Nothing was kept: no values, and no station of the list is in the store.");
    }
    Ok(())
}
