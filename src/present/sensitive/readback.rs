//! Reads finished outputs of every format back, find by find, as the input of the leak check. Layer:
//! `present`.

mod archive;
mod columns;
mod drawing;
mod markup;
mod page;

use std::io::{self, BufRead};

use uuid::Uuid;

use crate::present::exchange::Form;
use crate::units::LatLon;

pub use archive::archive;
pub use drawing::{Marks, marks};
pub use page::page;

/// One statement of an output: about a find, or something else such as a track.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Statement {
    /// The find, where the output names its identity.
    pub find: Option<Uuid>,
    /// The collector's number, where the output names a find by it.
    pub number: Option<String>,
    /// Positions stated as such.
    pub positions: Vec<LatLon>,
    /// Everything else, one text per line.
    pub text: String,
}

impl Statement {
    fn add_text(&mut self, text: &str) {
        self.text.push_str(text);
        self.text.push('\n');
    }

    fn place(&mut self, latitude: f64, longitude: f64) {
        self.positions.extend(LatLon::new(latitude, longitude).ok());
    }
}

/// Reads an exchange file and passes on each statement.
///
/// # Errors
/// When the file does not have this format.
pub fn exchange(
    form: Form,
    file: std::fs::File,
    each: &mut dyn FnMut(Statement),
) -> io::Result<()> {
    match form {
        Form::GeoJson => geojson(io::BufReader::new(file), each),
        Form::Kml => markup::kml(io::BufReader::new(file), each),
        Form::Gpx => markup::gpx(io::BufReader::new(file), each),
        Form::Csv => columns::csv(file, each),
        Form::GeoParquet => columns::geoparquet(file, each),
    }
}

/// The identifier in `urn:uuid:...`, or in a name that ends with it.
fn identity(text: &str) -> Option<Uuid> {
    let from = text.len().checked_sub(36)?;
    text.get(from..)?.parse().ok()
}

/// A collection with one feature per line, read in constant memory.
fn geojson(file: impl BufRead, each: &mut dyn FnMut(Statement)) -> io::Result<()> {
    for line in file.lines() {
        let line = line?;
        let line = line.trim().trim_end_matches(',');
        if line.is_empty() || line == "]}" || line.ends_with("\"features\":[") {
            continue;
        }
        let feature: serde_json::Value = serde_json::from_str(line)?;
        if feature["type"] != "Feature" {
            return Err(io::Error::other("a line is not a feature"));
        }
        let find = feature["properties"]["occurrenceID"].as_str().and_then(identity);
        let mut statement = Statement { find, ..Statement::default() };
        coordinates(&feature["geometry"], &mut statement);
        texts(&feature["properties"], &mut statement);
        each(statement);
    }
    Ok(())
}

/// All positions of a geometry at any depth, longitude first.
fn coordinates(value: &serde_json::Value, into: &mut Statement) {
    match value {
        serde_json::Value::Array(all) => {
            match (
                all.first().and_then(serde_json::Value::as_f64),
                all.get(1).and_then(serde_json::Value::as_f64),
            ) {
                (Some(x), Some(y)) => into.place(y, x),
                _ => all.iter().for_each(|one| coordinates(one, into)),
            }
        }
        serde_json::Value::Object(all) => all.values().for_each(|one| coordinates(one, into)),
        _ => {}
    }
}

fn texts(properties: &serde_json::Value, into: &mut Statement) {
    let Some(properties) = properties.as_object() else { return };
    let number = |term: &str| properties.get(term).and_then(serde_json::Value::as_f64);
    if let (Some(latitude), Some(longitude)) =
        (number("decimalLatitude"), number("decimalLongitude"))
    {
        into.place(latitude, longitude);
    }
    for (term, value) in properties {
        match value {
            serde_json::Value::String(text) => into.add_text(text),
            _ if is_position(term) => {}
            other => into.add_text(&other.to_string()),
        }
    }
}

/// Whether a term is part of a stated position or its precision, not text.
fn is_position(term: &str) -> bool {
    matches!(
        term,
        "decimalLatitude"
            | "decimalLongitude"
            | "coordinatePrecision"
            | "coordinateUncertaintyInMeters"
    )
}
