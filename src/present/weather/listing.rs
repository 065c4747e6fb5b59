//! Lists weather stations with their spans and gaps, and what they give to the areas of outings. Layer:
//! `present`.

use std::fmt::Write as _;

use jiff::civil::Date;
use serde::Serialize;

use crate::analyse::weather::effect::{DAYS, days_needed};
use crate::analyse::weather::{Area, Gaps, Local, Served, gaps};
use crate::model::{StationSeries, WeatherStation};
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};
use crate::present::years::estimates::wrapped;
use crate::present::years::sites::rounded;
use crate::units::LatLon;

/// Stations and areas.
#[derive(Debug, Serialize)]
pub struct Lines {
    stations: Vec<StationLine>,
    areas: Vec<AreaLine>,
}

#[derive(Debug, Serialize)]
struct StationLine {
    station: String,
    name: Option<String>,
    #[serde(flatten)]
    position: Position,
    elevation_m: Option<f64>,
    rain: Gaps,
    temperature: Gaps,
}

#[derive(Debug, Serialize)]
struct AreaLine {
    #[serde(flatten)]
    position: Position,
    elevation_m: Option<f64>,
    outings: usize,
    /// Outings of which enough of the days before are known: for rain and for temperature.
    outings_with_rain: usize,
    outings_with_temperature: usize,
    served: Vec<Served>,
}

/// A position in the terms of Darwin Core.
#[derive(Clone, Copy, Debug, Serialize)]
#[allow(non_snake_case, reason = "terms of Darwin Core")]
struct Position {
    decimalLatitude: Option<f64>,
    decimalLongitude: Option<f64>,
    #[serde(skip)]
    at: Option<LatLon>,
}

impl Position {
    fn of(at: Option<LatLon>) -> Self {
        let degrees = |degrees: f64| (degrees * 1e5).round() / 1e5;
        Self {
            decimalLatitude: at.map(|at| degrees(at.latitude())),
            decimalLongitude: at.map(|at| degrees(at.longitude())),
            at,
        }
    }

    fn words(self) -> String {
        self.at.map_or_else(|| "not known".to_owned(), |at| at.to_string())
    }
}

/// From the stations, their weather, and the areas with theirs; `dates` are those of all outings.
#[must_use]
pub fn lines(
    stations: &[WeatherStation],
    series: &[StationSeries],
    (areas, dates): (&[(Area, Local)], &[Date]),
) -> Lines {
    let known = |area: &Area, local: &Local, pick: fn((usize, usize)) -> usize| {
        let dates = area.outings.iter().filter_map(|outing| dates.get(*outing));
        dates.filter(|date| pick(local.known_before(**date, DAYS)) >= days_needed()).count()
    };
    let stations = stations.iter().map(|station| {
        let own = series.iter().find(|series| series.station.code == station.code);
        let of = |known: fn(&crate::model::DailyWeather) -> bool| {
            own.map_or_else(Gaps::default, |own| gaps(own.first, own.days.iter().map(known)))
        };
        StationLine {
            station: station.code.clone(),
            name: station.name.clone(),
            position: Position::of(station.at),
            elevation_m: station.elevation.map(|metres| rounded(metres.0, 1)),
            rain: of(|day| day.rain.is_some()),
            temperature: of(|day| day.mean_temperature().is_some()),
        }
    });
    let areas = areas.iter().map(|(area, local)| AreaLine {
        position: Position::of(Some(area.at)),
        elevation_m: area.elevation.map(|metres| rounded(metres.0, 1)),
        outings: area.outings.len(),
        outings_with_rain: known(area, local, |days| days.0),
        outings_with_temperature: known(area, local, |days| days.1),
        served: local
            .served
            .iter()
            .filter(|served| served.rain_days + served.temperature_days > 0)
            .map(|served| Served {
                distance_m: rounded(served.distance_m, 0),
                correction_k: served.correction_k.map(|kelvin| rounded(kelvin, 2)),
                ..served.clone()
            })
            .collect(),
    });
    Lines { stations: stations.collect(), areas: areas.collect() }
}

/// For a terminal.
#[must_use]
pub fn text(lines: &Lines) -> String {
    let mut table = Table::new([
        Column::left("station"),
        Column::left("name"),
        Column::left("position"),
        Column::right("elevation"),
        Column::left("rain"),
        Column::left("gaps"),
        Column::left("temperature"),
        Column::left("gaps"),
    ]);
    for line in &lines.stations {
        table.row([
            line.station.clone(),
            line.name.clone().unwrap_or_default(),
            line.position.words(),
            metres(line.elevation_m),
            span(&line.rain),
            missing(&line.rain),
            span(&line.temperature),
            missing(&line.temperature),
        ]);
    }
    let mut text = format!("{}\n{table}", wrapped(&answer(lines)));
    for area in &lines.areas {
        let _ = writeln!(
            text,
            "\nArea about {} ({}), {}: rain of {}, temperature of {}",
            area.position.words(),
            area.elevation_m
                .map_or_else(|| "elevation not known".to_owned(), |m| format!("{m:.0} m")),
            counted(area.outings, "outing", "outings"),
            area.outings_with_rain,
            area.outings_with_temperature
        );
        if area.served.is_empty() {
            text.push_str("  no station near enough: 75 km for rain, 150 km for temperature\n");
        }
        for served in &area.served {
            let _ = writeln!(text, "  {}", served_words(served));
        }
    }
    text
}

/// How many outings have rain and temperatures of the days before, and how many a station near enough.
fn answer(lines: &Lines) -> String {
    let sum = |of: fn(&AreaLine) -> usize| -> usize { lines.areas.iter().map(of).sum() };
    let outings = sum(|area| area.outings);
    let near = sum(|area| if area.served.is_empty() { 0 } else { area.outings });
    format!(
        "Rain is known for {} and temperature for {} of {} ({} of the {DAYS} days up to each; a station is near enough to \
         {near}; {} in the store); whether weather matters to a taxon: `trug season --taxon T --weather`.",
        sum(|area| area.outings_with_rain),
        sum(|area| area.outings_with_temperature),
        counted(outings, "outing", "outings"),
        days_needed(),
        counted(lines.stations.len(), "station", "stations")
    )
}

/// The sentence of one station of an area.
fn served_words(served: &Served) -> String {
    let correction = match served.correction_k.filter(|_| served.temperature_days > 0) {
        None if served.temperature_days == 0 => return rain_words(served),
        Some(kelvin) => format!("temperature corrected by {kelvin:+.1} K for its elevation"),
        None => "temperature as measured: an elevation is not known".to_owned(),
    };
    format!(
        "{}, {:.1} km away: rain of {}, temperature of {}; {correction}",
        served.station,
        served.distance_m / 1e3,
        counted(served.rain_days, "day", "days"),
        counted(served.temperature_days, "day", "days")
    )
}

fn rain_words(served: &Served) -> String {
    let (distance, days) = (served.distance_m / 1e3, counted(served.rain_days, "day", "days"));
    format!("{}, {distance:.1} km away: rain of {days}, no temperature", served.station)
}

fn metres(metres: Option<f64>) -> String {
    metres.map_or_else(|| "not known".to_owned(), |metres| format!("{metres:.0} m"))
}

fn span(gaps: &Gaps) -> String {
    match (gaps.first, gaps.last) {
        (Some(first), Some(last)) => format!("{first} to {last}"),
        _ => "none".to_owned(),
    }
}

fn missing(gaps: &Gaps) -> String {
    match gaps.longest_from {
        None => String::new(),
        Some(from) => format!(
            "{} in {}, longest {} from {from}",
            counted(gaps.missing, "day", "days"),
            counted(gaps.gaps, "gap", "gaps"),
            gaps.longest
        ),
    }
}
