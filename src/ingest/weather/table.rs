//! Splits a CSV of weather into cells, finds its separator, and reads dates, numbers and tables of
//! stations. Layer: `ingest`.

use jiff::civil::Date;

use super::Parts;
use super::collect::Collector;
use crate::model::WeatherStation;
use crate::units::{LatLon, Metres};

/// Years that daily weather can be of: GHCN-Daily begins in 1763.
pub(super) const YEARS: std::ops::RangeInclusive<i16> = 1750..=2200;

/// The records of a table with their lines.
pub(super) struct Table {
    pub(super) separator: char,
    pub(super) rows: Vec<(u64, csv::StringRecord)>,
}

impl Table {
    pub(super) fn of(text: &str) -> Self {
        let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
        let count = |separator: char| first.matches(separator).count();
        let separator =
            [',', ';', '\t'].into_iter().max_by_key(|c| (count(*c), *c == ',')).unwrap_or(',');
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(u8::try_from(separator).unwrap_or(b','))
            .from_reader(text.as_bytes());
        let rows = reader
            .records()
            .filter_map(Result::ok)
            .filter(|record| record.iter().any(|cell| !cell.trim().is_empty()))
            .map(|record| (record.position().map_or(0, csv::Position::line), record))
            .collect();
        Self { separator, rows }
    }

    /// The cells of the first row.
    pub(super) fn headings(&self) -> Vec<String> {
        let first = self.rows.first();
        first.map_or_else(Vec::new, |(_, row)| row.iter().map(|c| c.trim().to_owned()).collect())
    }

    /// The place of the first of these headings, without case.
    pub(super) fn place(&self, names: &[&str]) -> Option<usize> {
        let headings = self.headings();
        names.iter().find_map(|name| headings.iter().position(|h| h.eq_ignore_ascii_case(name)))
    }

    /// The rows below the headings.
    pub(super) fn body(&self) -> impl Iterator<Item = &(u64, csv::StringRecord)> {
        self.rows.iter().skip(1)
    }

    /// A number; with a decimal comma where commas do not separate cells.
    pub(super) fn number(&self, cell: &str) -> Option<f64> {
        let cell = cell.trim();
        let plain = cell.parse::<f64>().ok().filter(|number| number.is_finite());
        let written = || cell.replace(['\u{2212}', '\u{2013}'], "-");
        plain.or_else(|| written().parse::<f64>().ok().filter(|number| number.is_finite())).or_else(
            || {
                let dotted = (self.separator != ',').then(|| written().replacen(',', ".", 1))?;
                dotted.parse::<f64>().ok().filter(|number| number.is_finite())
            },
        )
    }
}

/// A date as `2026-05-02` or `20260502`.
pub(super) fn date(cell: &str) -> Option<Date> {
    let cell = cell.trim();
    let figures = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let dashed = cell.len() == 10 && cell.as_bytes().get(4) == Some(&b'-');
    let date = if dashed && figures(&cell.replace('-', "")) {
        cell.parse::<Date>().ok()
    } else if cell.len() == 8 && figures(cell) {
        let number = |from: usize, to: usize| cell[from..to].parse::<i16>().ok();
        Date::new(
            number(0, 4)?,
            i8::try_from(number(4, 6)?).ok()?,
            i8::try_from(number(6, 8)?).ok()?,
        )
        .ok()
    } else {
        None
    };
    date.filter(|date| YEARS.contains(&date.year()))
}

/// Whether a cell says that there is no value.
pub(super) fn is_missing(cell: &str) -> bool {
    let cell = cell.trim();
    let none = ["na", "n/a", "nan", "null", "none", "-", "--", "\u{2013}", "m", "...", "?"];
    cell.is_empty()
        || none.iter().any(|word| cell.eq_ignore_ascii_case(word))
        || cell
            .parse::<f64>()
            .is_ok_and(|v| [-9999.0, -999.0, -99.9, 9999.9, 99_999.0].contains(&v))
}

/// The columns that describe a station.
pub(super) struct StationColumns {
    code: usize,
    at: (usize, usize),
    elevation: Option<usize>,
    name: Option<usize>,
}

impl StationColumns {
    pub(super) fn of(table: &Table) -> Option<Self> {
        Some(Self {
            code: table.place(&["STATION", "ID", "CODE", "STATION_ID"])?,
            at: (table.place(&["LATITUDE", "LAT"])?, table.place(&["LONGITUDE", "LON", "LONG"])?),
            elevation: table.place(&["ELEVATION", "ELEVATION_M", "ELEV"]),
            name: table.place(&["NAME", "STATION_NAME"]),
        })
    }

    pub(super) fn station(&self, row: &csv::StringRecord, table: &Table) -> Option<WeatherStation> {
        let cell = |place: usize| row.get(place).map_or("", str::trim);
        let number = |place: usize| table.number(cell(place));
        let elevation = self.elevation.and_then(number).filter(|m| (-500.0..9_000.0).contains(m));
        let name = self.name.map(cell).filter(|name| !name.is_empty());
        Some(WeatherStation {
            code: Some(cell(self.code)).filter(|code| !code.is_empty())?.to_owned(),
            name: name.map(ToOwned::to_owned),
            at: Some(LatLon::new(number(self.at.0)?, number(self.at.1)?).ok()?),
            elevation: elevation.map(Metres),
        })
    }
}

/// A table of stations: no column of dates.
pub(super) fn stations(table: &Table) -> Option<Parts> {
    let columns = StationColumns::of(table)?;
    if table.place(&["DATE"]).is_some() {
        return None;
    }
    let mut all = Collector::default();
    let mut stations = Vec::new();
    for (line, row) in table.body() {
        match columns.station(row, table) {
            Some(station) => stations.push(station),
            None => all.unreadable(*line, || "no identifier or no position".to_owned()),
        }
    }
    let notes = all.finished().1;
    Some(Parts { form: "list of stations".to_owned(), stations, series: Vec::new(), notes })
}
