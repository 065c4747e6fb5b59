//! Reads the CSV of GHCN-Daily with one value a line: identifier, date, element, value, flags, with or
//! without headings. Layer: `ingest`.

use super::Parts;
use super::collect::Collector;
use super::fixed::{element, flagged, is_code};
use super::table::{Table, date};

/// Where the columns are.
pub(super) struct Places {
    headed: bool,
    code: usize,
    date: usize,
    element: usize,
    value: usize,
    measurement: Option<usize>,
    quality: Option<usize>,
}

impl Places {
    pub(super) const HEADLESS: Self = Self {
        headed: false,
        code: 0,
        date: 1,
        element: 2,
        value: 3,
        measurement: Some(4),
        quality: Some(5),
    };
}

/// Whether the first row is one of values already.
pub(super) fn is_headless(table: &Table) -> bool {
    let Some((_, row)) = table.rows.first() else { return false };
    row.len() >= 4 && is_code(row[0].trim()) && date(&row[1]).is_some() && row[2].trim().len() == 4
}

/// The columns of a table with these headings.
pub(super) fn places(table: &Table) -> Option<Places> {
    Some(Places {
        headed: true,
        code: table.place(&["ID", "STATION"])?,
        date: table.place(&["DATE"])?,
        element: table.place(&["ELEMENT"])?,
        value: table.place(&["VALUE", "DATA_VALUE", "DATA VALUE"])?,
        measurement: table.place(&["M", "M_FLAG", "MFLAG", "M-FLAG"]),
        quality: table.place(&["Q", "Q_FLAG", "QFLAG", "Q-FLAG"]),
    })
}

pub(super) fn read(table: &Table, places: &Places) -> Parts {
    let mut all = Collector::default();
    for (line, row) in table.rows.iter().skip(usize::from(places.headed)) {
        let cell = |place: usize| row.get(place).map_or("", str::trim);
        let flag = |place: Option<usize>| place.and_then(|p| cell(p).chars().next()).unwrap_or(' ');
        let code = cell(places.code);
        let Some(day) = date(cell(places.date)).filter(|_| !code.is_empty()) else {
            let written = cell(places.date).to_owned();
            all.unreadable(*line, || format!("no station, or \"{written}\" is no date"));
            continue;
        };
        let Ok(value) = cell(places.value).parse::<f64>() else {
            let written = cell(places.value).to_owned();
            all.unreadable(*line, || format!("\"{written}\" is no number"));
            continue;
        };
        let (element, scale) = element(cell(places.element));
        let reading = flagged(value, scale, flag(places.measurement), flag(places.quality));
        all.add(code, day, &element, reading, *line);
    }
    let (series, notes) = all.finished();
    let form = "GHCN-Daily CSV, one value a line, tenths of mm and of °C".to_owned();
    Parts { form, stations: Vec::new(), series, notes }
}
