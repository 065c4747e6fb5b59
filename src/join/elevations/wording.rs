//! The notes on elevations that were open. Layer: `join`.

use crate::error::Error;
use crate::model::{DigitMark, ElevationManner, ElevationReading, ElevationUnit, Record};

use super::column::{Column, Open};
use super::under;

const HINT: &str =
    "write the unit in the heading, as Elevation (m) or Elevation (ft), and 1350 without a mark";

/// The note on an assumption that was made; `None` where the usual one agrees with the heights.
pub(super) fn decided(column: &Column, manner: ElevationManner, count: usize) -> Option<Error> {
    let own = column.median_distance(manner);
    let usual = manner.mark.is_none() && manner.unit == Some(ElevationUnit::Metre);
    if usual && own.is_some() {
        return None;
    }
    let cells =
        if count == 1 { "1 elevation was".into() } else { format!("{count} elevations were") };
    let note = Error::input(format!("{cells} read {}", assumed(manner)));
    let heights = heights(column);
    let why = match own {
        Some(own) => {
            let others = column.manners().into_iter().filter(|other| *other != manner);
            let others: Vec<String> = others
                .filter_map(|other| Some((other, column.median_distance(other)?)))
                .map(|(other, away)| format!("{} {}", assumed(other), metres(away)))
                .collect();
            format!(
                "so they differ by {} from the {heights} (median), {}",
                metres(own),
                others.join(", ")
            )
        }
        None if usual && !column.feet_usual() => {
            "no unit is stated, no height is known to compare them with, and metres are usual at the \
             place (common practice)"
                .to_owned()
        }
        None => "any other reading is higher than vegetation grows or lower than land lies".to_owned(),
    };
    Some(note.because(why).hint(HINT))
}

/// The refusal of a column.
pub(super) fn undecided(column: &Column, why: Open, record: &Record, count: usize) -> Error {
    let written = record.written_elevation().unwrap_or_default();
    let what = match count {
        1 => format!("the elevation \"{written}\" cannot be read"),
        _ => format!("the elevation of {count} rows cannot be read, first \"{written}\""),
    };
    let readings: Vec<String> = column
        .manners()
        .into_iter()
        .filter_map(|manner| Some((manner, under(&record.elevation_readings, manner)?)))
        .map(|(manner, reading)| format!("{} {}", shown(reading), assumed(manner)))
        .collect();
    let heights = heights(column);
    let why = match why {
        Open::NothingKnown => {
            "no track and no elevation tile has heights to compare them with".to_owned()
        }
        Open::Several => format!("the {heights} agree with more than one reading"),
        Open::None => format!("the {heights} agree with no reading"),
    };
    Error::input(what)
        .because(format!("it is {}; {why}", readings.join(", ")))
        .hint(HINT)
        .at_line(record.line)
}

fn heights(column: &Column) -> &'static str {
    if column.of_ground() { "heights of the ground" } else { "heights of the track" }
}

fn shown(reading: ElevationReading) -> String {
    let (low, high) = (metres(reading.low.0), metres(reading.high.0));
    if reading.low == reading.high { low } else { format!("{low} to {high}") }
}

/// Whole metres; below ten with the digits that were written.
fn metres(length: f64) -> String {
    if length.abs() < 10.0 {
        format!("{} m", (length * 100.0).round() / 100.0)
    } else {
        format!("{length:.0} m")
    }
}

fn assumed(manner: ElevationManner) -> String {
    let unit = manner.unit.map(|unit| match unit {
        ElevationUnit::Metre => "as metres",
        ElevationUnit::Foot => "as feet",
    });
    let mark = manner.mark.map(|mark| match mark {
        DigitMark::Decimals => "with a mark before decimals",
        DigitMark::Thousands => "with a mark between thousands",
    });
    unit.into_iter().chain(mark).collect::<Vec<_>>().join(" ")
}
