//! Reads the elevations and the uncertainty of a row. Layer: `ingest`.

use super::column::Column;
use super::length::Refusal;
use super::row::Reader;
use super::table::Row;
use super::unread::OPEN;
use crate::model::{ElevationReading, Field, Record};
use crate::units::Metres;

const HINT: &str = "write it like 412 m or 1350 ft";

impl Reader<'_> {
    /// The elevation, its upper end, and their text where that says more.
    pub(super) fn elevation(&mut self, row: &Row, record: &mut Record) {
        let written_high = self.layout.text(row, Column::Highest);
        let high = written_high.as_ref();
        let high = high.and_then(|text| self.readings(record, text, Column::Highest));
        let low = self.layout.text(row, Column::Elevation);
        let low =
            low.and_then(|text| Some((self.readings(record, &text, Column::Elevation)?, text)));
        let Some((mut readings, text)) = low else {
            // an upper end alone
            let kept = match (high.as_deref(), written_high) {
                (Some([high]), _) => Some((Record::HIGHEST, high.high.0.to_string())),
                // its unit is open
                (Some(_), Some(text)) => Some(("highest elevation as written", text)),
                _ => None,
            };
            if let Some((heading, text)) = kept {
                record.fields.insert(Field::Other(heading.to_owned()), text);
            }
            return;
        };
        let unit = self.elevations.unit_of_heading(&text);
        for reading in &mut readings {
            let alike = |other: &&ElevationReading| other.manner.follows(reading.manner);
            if let Some(other) = high.iter().flatten().find(alike) {
                reading.high = Metres(reading.high.0.max(other.high.0));
            }
        }
        let mut ends = vec![text];
        ends.extend(written_high.filter(|_| high.is_some()));
        ends.dedup();
        let text = ends.join("-");
        elevation_as_typed(record, &text, unit, &readings);
        match readings[..] {
            [one] => one.set(record),
            _ => record.elevation_readings = readings,
        }
    }

    /// The ways to read an elevation; none where there is no way, which is reported.
    fn readings(
        &mut self,
        record: &mut Record,
        text: &str,
        column: Column,
    ) -> Option<Vec<ElevationReading>> {
        let of_highest = column == Column::Highest;
        let habit = if of_highest { self.highest } else { self.elevations };
        let readings = habit.readings(text);
        if let Err(refusal) = &readings {
            self.unread(record, column.word(), text, &why_no_length(refusal), HINT);
        }
        readings.ok()
    }

    /// The uncertainty that the record states; zero means unknown.
    pub(super) fn uncertainty(&mut self, row: &Row, record: &mut Record) -> Option<Metres> {
        let text = self.layout.text(row, Column::Uncertainty)?;
        let read = self.uncertainties.read(&text);
        match read {
            // of a range the larger one
            Ok(range) if range.low.0 >= 0.0 => Some(range.high).filter(|length| length.0 > 0.0),
            Ok(_) => {
                self.unread(record, "uncertainty", &text, "it is negative", "write it in metres");
                None
            }
            Err(refusal) => {
                let why = why_no_length(&refusal);
                self.unread(record, "uncertainty", &text, &why, "write it in metres");
                None
            }
        }
    }
}

/// Keeps the text of an elevation that is more than a number of metres.
fn elevation_as_typed(
    record: &mut Record,
    text: &str,
    unit: Option<&str>,
    readings: &[ElevationReading],
) {
    let plain = match readings {
        [one] => {
            let metres = in_metres(one);
            let of_column = text == metres && unit.is_none_or(|unit| unit == "m");
            of_column || text == format!("{metres} m")
        }
        _ => false,
    };
    if !plain {
        let unit = unit.map_or(String::new(), |unit| format!(" {unit}"));
        let term = Field::Other(Record::VERBATIM_ELEVATION.to_owned());
        record.fields.entry(term).or_insert_with(|| format!("{text}{unit}"));
    }
}

fn in_metres(reading: &ElevationReading) -> String {
    let (low, high) = (reading.low.0, reading.high.0);
    if reading.low == reading.high { low.to_string() } else { format!("{low}-{high}") }
}

fn why_no_length(refusal: &Refusal) -> String {
    match refusal {
        Refusal::NoLength => "it is not a length".to_owned(),
        Refusal::Open(decimal, thousands) => format!(
            "it is {decimal} with a mark before decimals and {thousands} with a mark between thousands, \
             and no other cell {OPEN}"
        ),
    }
}
