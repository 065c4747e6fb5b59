//! Reads a table with a column of ISO dates and headings in words. Layer: `ingest`.

use super::collect::{Collector, Reading};
use super::heading::{Meaning, Values, meaning};
use super::table::{Table, date, is_missing};
use super::{Options, Parts};
use crate::error::{Error, Result};
use crate::model::WeatherNote;

/// Where the columns are.
struct Columns {
    date: usize,
    station: Option<usize>,
    values: Vec<(usize, String, Values)>,
    ignored: Vec<String>,
}

/// Reads all rows; one without a date, and a cell that is no number, lose themselves alone.
pub(super) fn read(table: &Table, station: &str, options: &Options) -> Result<Parts> {
    let columns = columns(table, options)?;
    let mut all = Collector::default();
    let (mut dated, mut timed) = (0_usize, 0_usize);
    for (line, row) in table.body() {
        let cell = |place: usize| row.get(place).map_or("", str::trim);
        let written = cell(columns.date);
        let Some(day) = date(written) else {
            timed += usize::from(written.len() > 10 && written.get(..10).and_then(date).is_some());
            all.unreadable(*line, || format!("\"{written}\" is no date such as 2026-05-02"));
            continue;
        };
        dated += 1;
        let code = columns.station.map(cell).filter(|code| !code.is_empty()).unwrap_or(station);
        for (place, heading, values) in &columns.values {
            match reading(table, cell(*place), values) {
                Some(reading) => all.add(code, day, &values.element, reading, *line),
                None => {
                    all.unreadable(*line, || {
                        format!("{heading}: \"{}\" is no number", cell(*place))
                    });
                }
            }
        }
    }
    if dated == 0 {
        return Err(undated(timed));
    }
    if let Some(misfit) = all.misfit() {
        let hint = "state the true unit, as --column \"HEADING=max temp F\", \"HEADING=max temp tenths of C\" or \
                    \"HEADING=rain inches\"";
        return Err(misfit.refusal("the unit of its heading", hint));
    }
    let (series, mut notes) = all.finished();
    if !columns.ignored.is_empty() {
        notes.push(WeatherNote::Ignored { columns: columns.ignored });
    }
    let form = "table with ISO dates, units from its headings".to_owned();
    Ok(Parts { form, stations: Vec::new(), series, notes })
}

fn undated(timed: usize) -> Error {
    let error = Error::input("no row has a date");
    if timed > 0 {
        return error
            .because(format!("{timed} rows have times of day; daily values are needed"))
            .hint("sum rain and take the extremes of temperature by day first");
    }
    error
        .because("dates are written as 2026-05-02 or 20260502; any other order could mean two days")
        .hint("write the dates of the table in that form")
}

fn reading(table: &Table, cell: &str, values: &Values) -> Option<Reading> {
    let wet = !values.element.is_temperature();
    if wet && ["t", "tr", "trace"].iter().any(|word| cell.eq_ignore_ascii_case(word)) {
        return Some(Reading::Trace);
    }
    if is_missing(cell) {
        return Some(Reading::Missing);
    }
    table.number(cell).map(|value| Reading::Value(values.unit.convert(value)))
}

fn columns(table: &Table, options: &Options) -> Result<Columns> {
    let mut found = (None, None, Vec::new());
    let (mut refused, mut ignored) = (Vec::new(), Vec::new());
    let headings = table.headings();
    for (place, heading) in headings.iter().enumerate() {
        let given = options.columns.iter().find(|(name, _)| name.eq_ignore_ascii_case(heading));
        match meaning(given.map_or(heading.as_str(), |(_, meaning)| meaning.as_str())) {
            Meaning::Date if found.0.is_none() => found.0 = Some(place),
            Meaning::Station if found.1.is_none() => found.1 = Some(place),
            Meaning::Values(values) => found.2.push((place, heading.clone(), values)),
            Meaning::Refused(why) => refused.push(format!("\"{heading}\": {why}")),
            _ => ignored.push(heading.clone()),
        }
    }
    if let Some((unknown, _)) = options
        .columns
        .iter()
        .find(|(name, _)| !headings.iter().any(|heading| name.eq_ignore_ascii_case(heading)))
    {
        return Err(Error::input(format!("no column is headed \"{unknown}\""))
            .because(format!("the headings are {}", headings.join(", ")))
            .hint("give --column the heading as it is in the file"));
    }
    if !refused.is_empty() {
        return Err(Error::input("a heading is ambiguous").because(refused.join("; ")).hint(
            "say what it means, as --column \"HEADING=rain mm\" or --column \"HEADING=max temp C\"",
        ));
    }
    let (Some(date), false) = (found.0, found.2.is_empty()) else {
        return Err(Error::input("it is not daily weather")
            .because(format!(
                "no heading is a {}; the headings are {}",
                if found.0.is_none() { "date" } else { "known element of weather" },
                headings.iter().take(12).cloned().collect::<Vec<_>>().join(", ")
            ))
            .hint(
                "give GHCN-Daily files, or a table headed such as date, rain mm, max temp C, min temp C",
            ));
    };
    twice(&found.2)?;
    Ok(Columns { date, station: found.1, values: found.2, ignored })
}

/// Two columns of one element would each be half of the truth.
fn twice(values: &[(usize, String, Values)]) -> Result<()> {
    for (index, (_, heading, one)) in values.iter().enumerate() {
        let same = |other: &&(usize, String, Values)| other.2.element == one.element;
        if let Some((_, other, _)) = values[index + 1..].iter().find(same) {
            return Err(Error::input("two columns give the same element")
                .because(format!("\"{heading}\" and \"{other}\""))
                .hint("remove one of them, or rename it to something else with --column"));
        }
    }
    Ok(())
}
