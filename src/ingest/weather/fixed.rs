//! Reads the fixed-width text of GHCN-Daily: one month of one element a line, and lists of stations.
//! Layer: `ingest`.

use jiff::civil::Date;

use super::Parts;
use super::collect::{Collector, Reading};
use crate::model::{WeatherElement, WeatherNote, WeatherStation};
use crate::units::{LatLon, Metres};

/// Columns of one day: value, measurement flag, quality flag, source flag.
const DAY: usize = 8;
/// The columns before the first day.
const HEAD: usize = 21;
/// No value.
const NONE: i64 = -9999;

/// The element of a GHCN-Daily name, and how many of its units make one of the file's.
pub(super) fn element(name: &str) -> (WeatherElement, f64) {
    match name {
        "PRCP" => (WeatherElement::Rain, 0.1),
        "TMAX" => (WeatherElement::Maximum, 0.1),
        "TMIN" => (WeatherElement::Minimum, 0.1),
        "TAVG" => (WeatherElement::Mean, 0.1),
        "SNOW" => (WeatherElement::Snowfall, 1.0),
        "SNWD" => (WeatherElement::SnowDepth, 1.0),
        other => (WeatherElement::Other(Box::from(other)), 1.0),
    }
}

/// What the flags leave of a value: `-9999` is none, a quality flag sets it aside, `P` is a zero that
/// nobody measured, `T` a trace.
pub(super) fn flagged(value: f64, scale: f64, measurement: char, quality: char) -> Reading {
    if value == NONE as f64 {
        Reading::Missing
    } else if quality != ' ' {
        Reading::Flagged(quality)
    } else if measurement == 'P' {
        Reading::PresumedZero
    } else if measurement == 'T' && value == 0.0 {
        Reading::Trace
    } else {
        Reading::Value(scaled(value, scale))
    }
}

/// A number of tenths as the nearest decimal number.
pub(super) fn scaled(value: f64, scale: f64) -> f64 {
    if scale == 0.1 { value / 10.0 } else { value * scale }
}

/// The part of a line between two columns, counted from 0; empty where the line is shorter.
fn part(line: &str, from: usize, to: usize) -> &str {
    line.get(from.min(line.len())..to.min(line.len())).unwrap_or("")
}

pub(super) fn is_daily(line: &str) -> bool {
    let letters = |text: &str| {
        text.len() == 4 && text.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit())
    };
    line.is_ascii()
        && is_code(part(line, 0, 11))
        && part(line, 11, 17).len() == 6
        && part(line, 11, 17).bytes().all(|b| b.is_ascii_digit())
        && letters(part(line, 17, 21))
        && part(line, 21, 26).trim().parse::<i64>().is_ok()
}

/// An identifier of 11 letters and digits.
pub(super) fn is_code(text: &str) -> bool {
    text.len() == 11
        && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
        && text.as_bytes()[0].is_ascii_alphabetic()
}

pub(super) fn daily(text: &str) -> Parts {
    let mut all = Collector::default();
    for (line, number) in text.lines().zip(1_u64..) {
        if line.trim().is_empty() {
            continue;
        }
        if !is_daily(line) {
            all.unreadable(number, || "not a month of one element".to_owned());
            continue;
        }
        month(line, number, &mut all);
    }
    let (series, notes) = all.finished();
    let form = "GHCN-Daily text, tenths of mm and of °C".to_owned();
    Parts { form, stations: Vec::new(), series, notes }
}

fn month(line: &str, number: u64, all: &mut Collector) {
    let code = part(line, 0, 11);
    let figures = (part(line, 11, 15).parse::<i16>(), part(line, 15, 17).parse::<i8>());
    let first = match figures {
        (Ok(year), Ok(month)) if crate::ingest::weather::table::YEARS.contains(&year) => {
            Date::new(year, month, 1).ok()
        }
        _ => None,
    };
    let Some(first) = first else {
        return all.unreadable(number, || format!("{} is no month", part(line, 11, 17)));
    };
    let (element, scale) = element(part(line, 17, 21));
    for (day, place) in (1..=first.days_in_month()).zip((HEAD..).step_by(DAY)) {
        let written = part(line, place, place + 5).trim();
        if written.is_empty() {
            continue;
        }
        let flag =
            |at: usize| line.as_bytes().get(place + at).map_or(' ', |byte| char::from(*byte));
        let (Ok(value), Ok(date)) =
            (written.parse::<i64>(), Date::new(first.year(), first.month(), day))
        else {
            all.unreadable(number, || format!("day {day}: \"{written}\" is no number"));
            continue;
        };
        let reading = flagged(value as f64, scale, flag(5), flag(6));
        all.add(code, date, &element, reading, number);
    }
}

pub(super) fn is_station(line: &str) -> bool {
    station(line).is_some()
}

/// A line of the list of stations: identifier, latitude, longitude, elevation, state, name.
fn station(line: &str) -> Option<WeatherStation> {
    let code = part(line, 0, 11);
    if !is_code(code) || !part(line, 11, 12).trim().is_empty() {
        return None;
    }
    let number = |from, to| part(line, from, to).trim().parse::<f64>().ok();
    let at = LatLon::new(number(12, 20)?, number(21, 30)?).ok()?;
    let name = part(line, 41, 71).trim();
    Some(WeatherStation {
        code: code.to_owned(),
        name: (!name.is_empty()).then(|| name.to_owned()),
        at: Some(at),
        elevation: number(31, 37).filter(|metres| *metres > -900.0).map(Metres),
    })
}

pub(super) fn stations(text: &str) -> Parts {
    let mut all = Collector::default();
    let mut stations = Vec::new();
    for (line, number) in text.lines().zip(1_u64..).filter(|(line, _)| !line.trim().is_empty()) {
        match station(line) {
            Some(station) => stations.push(station),
            None => all.unreadable(number, || "not a station".to_owned()),
        }
    }
    let notes: Vec<WeatherNote> = all.finished().1;
    Parts { form: "list of stations".to_owned(), stations, series: Vec::new(), notes }
}
