//! Makes sentences of what a file of weather gave and of what the store keeps. Layer: `present`.

use std::fmt::Write as _;

use serde::Serialize;

use crate::model::{StationValues, WeatherElement, WeatherFile, WeatherNote};
use crate::present::summary::words::counted;
use crate::store::KeptWeather;

/// The result of an addition.
#[derive(Debug, Serialize)]
pub struct Report<'a> {
    files: Vec<FileReport<'a>>,
    stations: &'a [KeptWeather],
}

#[derive(Debug, Serialize)]
struct FileReport<'a> {
    path: String,
    form: &'a str,
    stations: Vec<&'a str>,
    notes: Vec<NoteReport<'a>>,
}

#[derive(Debug, Serialize)]
struct NoteReport<'a> {
    #[serde(flatten)]
    note: &'a WeatherNote,
    sentence: String,
}

impl<'a> Report<'a> {
    /// From the files and what they changed.
    #[must_use]
    pub fn of(files: &'a [WeatherFile], kept: &'a [KeptWeather]) -> Self {
        let of_file = |file: &'a WeatherFile| FileReport {
            path: file.path.display().to_string(),
            form: &file.form,
            stations: file.series.iter().map(|series| series.code.as_str()).collect(),
            notes: file
                .notes
                .iter()
                .map(|note| NoteReport { note, sentence: sentence(note) })
                .collect(),
        };
        Self { files: files.iter().map(of_file).collect(), stations: kept }
    }
}

/// Whether something of a file was set aside that its reader should know of.
#[must_use]
pub fn set_aside(file: &WeatherFile) -> bool {
    file.notes.iter().any(|note| {
        matches!(
            note,
            WeatherNote::Implausible { .. }
                | WeatherNote::Reversed { .. }
                | WeatherNote::Future { .. }
                | WeatherNote::Contradictory { .. }
                | WeatherNote::Unreadable { .. }
        )
    })
}

/// The file, its form, and a line for each note.
#[must_use]
pub fn of_file(file: &WeatherFile) -> String {
    let mut text = format!("{}: {}\n", file.path.display(), file.form);
    for note in &file.notes {
        let _ = writeln!(text, "  - {}", sentence(note));
    }
    text
}

/// What of a station was kept.
#[must_use]
pub fn kept(change: &KeptWeather, values: Option<&StationValues>) -> String {
    let span = values
        .and_then(|values| Some((values.values.first()?.date, values.values.last()?.date)))
        .map_or_else(String::new, |(first, last)| format!(", {first} to {last}"));
    let mut text = format!("{}{span}: ", change.station);
    if change.changed_nothing() {
        text.push_str("already in the store, no changes");
    } else if change.days_new + change.days_changed + change.days_same == 0 {
        text.push_str("name, position or elevation updated");
    } else {
        let _ = write!(
            text,
            "{} added, {} changed, {} as they were",
            counted(change.days_new, "day", "days"),
            change.days_changed,
            change.days_same
        );
    }
    match (change.days_beside, change.beside_removed) {
        (0, _) => {}
        (days, true) => {
            let _ = write!(text, "; {} not in the files removed", counted(days, "day", "days"));
        }
        (days, false) => {
            let _ = write!(
                text,
                "; {} within that span not in the files stay (--replace removes them)",
                counted(days, "day", "days")
            );
        }
    }
    text.push('\n');
    text
}

/// The name of an element with its unit.
#[must_use]
pub fn named(element: &WeatherElement) -> (String, &'static str) {
    let (name, unit) = match element {
        WeatherElement::Rain => ("rain", "mm"),
        WeatherElement::Maximum => ("maximum temperature", "\u{b0}C"),
        WeatherElement::Minimum => ("minimum temperature", "\u{b0}C"),
        WeatherElement::Mean => ("mean temperature", "\u{b0}C"),
        WeatherElement::Snowfall => ("snowfall", "mm"),
        WeatherElement::SnowDepth => ("snow depth", "mm"),
        WeatherElement::Other(name) => return (name.to_string(), ""),
    };
    (name.to_owned(), unit)
}

/// One sentence.
#[must_use]
pub fn sentence(note: &WeatherNote) -> String {
    let values = |number: usize| counted(number, "value", "values");
    match note {
        WeatherNote::Flagged { flag, values: number } => {
            format!("{} set aside: the publisher's check {flag} failed", values(*number))
        }
        WeatherNote::PresumedZero { values: number } => format!(
            "{} set aside: presumed to be zero by the publisher, not measured",
            values(*number)
        ),
        WeatherNote::Traces { values: number } => {
            format!("{} of rain too little to be measured: read as 0 mm", values(*number))
        }
        WeatherNote::Implausible { element, values: number, line, value } => {
            let (name, unit) = named(element);
            format!(
                "{} of {name} set aside as impossible: the first is {value:.1} {unit} on line {line}; \
                 check the units",
                values(*number)
            )
        }
        WeatherNote::Future { values: number, date } => format!(
            "{} set aside: the day is in the future, first {date}; check the dates",
            values(*number)
        ),
        WeatherNote::Reversed { days, date } => format!(
            "temperatures of {} set aside: the maximum is below the minimum, first on {date}",
            counted(*days, "day", "days")
        ),
        WeatherNote::Repeated { values: number } => {
            format!("{} given more than once alike", values(*number))
        }
        WeatherNote::Contradictory { values: number, line } => format!(
            "{} set aside: given twice with different values, first on line {line}",
            values(*number)
        ),
        WeatherNote::Unreadable { lines, line, why } => format!(
            "{} set aside, first on line {line}: {why}",
            counted(*lines, "line or cell", "lines or cells")
        ),
        WeatherNote::Ignored { columns } => format!("columns not used: {}", columns.join(", ")),
        WeatherNote::Narrow { station, span } => {
            format!("the maximum temperatures of {station} span {span:.1} K only: check the units")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_file_again_says_so() {
        let change =
            KeptWeather { station: "G".to_owned(), days_same: 9, ..KeptWeather::default() };
        assert_eq!(kept(&change, None), "G: already in the store, no changes\n");
        let change = KeptWeather { days_new: 1, days_beside: 2, ..change };
        let text = kept(&change, None);
        assert!(text.contains("1 day added, 0 changed, 9 as they were; 2 days within"), "{text}");
    }

    #[test]
    fn impossible_values_are_shown_with_their_unit_and_line() {
        let note = WeatherNote::Implausible {
            element: WeatherElement::Maximum,
            values: 2,
            line: 7,
            value: 310.0,
        };
        assert!(sentence(&note).contains("310.0 \u{b0}C on line 7"), "{}", sentence(&note));
    }
}
