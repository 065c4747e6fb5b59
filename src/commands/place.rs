//! Reads a position typed by a user: text, a `geo:` URI or a map link. Rejects input whose latitude and
//! longitude may be swapped. Layer: `commands`.

use crate::error::{Error, Result};
use crate::ingest::position::{self, link};
use crate::model::CoordinateReading;
use crate::units::{LatLon, Metres};

/// A position and its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    pub(super) at: LatLon,
    /// The uncertainty from the number of digits.
    pub(super) open: Metres,
    /// The uncertainty stated in the text.
    pub(super) stated: Option<Metres>,
}

/// Reads a position. Coordinates without a datum are on WGS 84, as receivers and messages send them.
pub(super) fn read(text: &str) -> Result<Place> {
    let linked = link::figures(text)?;
    let figures = linked.as_ref().map_or(text, |linked| linked.figures.as_str());
    let world = position::read(figures, Some("WGS 84"));
    let written = match world {
        Ok(written) if written.readings.len() == 1 => written,
        _ => position::read(figures, None)?,
    };
    match written.readings.as_slice() {
        [only] => {
            in_order(text, only)?;
            let stated = linked.and_then(|linked| linked.uncertainty);
            Ok(Place { at: only.at, open: only.precision + only.datum, stated })
        }
        [] => Err(impossible(text, &written.slips)),
        readings => Err(several(text, readings)),
    }
}

/// Rejects two plain numbers of which the first can only be a longitude: swapped, or wrong.
fn in_order(text: &str, reading: &CoordinateReading) -> Result<()> {
    if !reading.manner.contains("longitude first") {
        return Ok(());
    }
    Err(Error::input(format!("\"{text}\" does not begin with a latitude"))
        .because(format!(
            "the first number exceeds 90 degrees; with longitude first it would be {}",
            reading.at
        ))
        .hint("write latitude first, or mark both with N or S and E or W"))
}

fn impossible(text: &str, slips: &[CoordinateReading]) -> Error {
    let meant: Vec<String> =
        slips.iter().map(|slip| format!("{} ({})", slip.at, slip.manner)).collect();
    Error::input(format!("\"{text}\" is not a valid position"))
        .because(format!("possible readings: {}", meant.join("; ")))
        .hint("write it in decimal degrees, latitude first, with N or S and E or W")
}

fn several(text: &str, readings: &[CoordinateReading]) -> Error {
    let manners: Vec<String> =
        readings.iter().map(|reading| format!("{} ({})", reading.at, reading.manner)).collect();
    Error::input(format!("\"{text}\" can be read in {} ways", readings.len()))
        .because(manners.join("; "))
        .hint("write it in decimal degrees, latitude first, with N or S and E or W")
}
