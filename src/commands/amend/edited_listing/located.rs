//! Reads a changed position of a listed find from its columns. Layer: `commands`.

use super::cells::number_of;
use crate::error::{Error, Result};
use crate::ingest::position;
use crate::model::{KeptFind, Patch, RADII};
use crate::units::{LatLon, Metres};

/// Latitude, longitude and radius: those of the find where a cell was not changed.
pub(super) fn by_numbers(
    find: &KeptFind,
    cells: &[Option<String>; 3],
    headings: [&str; 3],
) -> Result<Option<Patch>> {
    if cells.iter().all(Option::is_none) {
        return Ok(None);
    }
    let own = find
        .place
        .as_ref()
        .map(|place| [place.at.latitude(), place.at.longitude(), place.radius.metres().0]);
    if cells.iter().flatten().all(String::is_empty) && cells.iter().flatten().count() >= 2 {
        return Ok(Some(Patch::Unlocated));
    }
    let mut values = [0.0; 3];
    for (place, (cell, heading)) in cells.iter().zip(headings).enumerate() {
        let number = match cell {
            Some(cell) => number_of(cell),
            None => own.map(|own| own[place]),
        };
        values[place] = number.ok_or_else(|| {
            Error::input(format!("{heading} is not a number"))
                .because(format!("\"{}\"", cell.as_deref().unwrap_or_default()))
                .hint("give latitude, longitude and uncertainty as decimal numbers")
        })?;
    }
    let [latitude, longitude, within_m] = values;
    let at = LatLon::new(latitude, longitude)
        .map_err(|off| Error::input("the position is not on the globe").because(off.to_string()))?;
    radius(within_m, headings[2])?;
    Ok(Some(Patch::Position { latitude: at.latitude(), longitude: at.longitude(), within_m }))
}

/// Coordinates as people write them, with a datum and a radius.
pub(super) fn as_written(text: &str, datum: Option<&str>, uncertainty: &str) -> Result<Patch> {
    let written = position::read(text, datum)?;
    let [reading] = &written.readings[..] else {
        let ways = written.readings.iter().map(|way| format!("{} ({})", way.at, way.manner));
        return Err(Error::input(format!("\"{text}\" is not one clear position"))
            .because(ways.collect::<Vec<_>>().join("; "))
            .hint("write it in decimal degrees, latitude first, with N or S and E or W"));
    };
    let Some(within_m) = number_of(uncertainty) else {
        return Err(Error::input("a position without its uncertainty")
            .because(format!(
                "the uncertainty is \"{}\", not a number of metres",
                uncertainty.trim()
            ))
            .hint("fill in the column \"uncertainty (m)\": the 95 % radius in metres"));
    };
    radius(within_m, "the uncertainty")?;
    let open = reading.precision + reading.datum;
    if open.0 > within_m {
        return Err(Error::input(format!("\"{text}\" is less exact than {}", Metres(within_m)))
            .because(format!("its digits and its datum leave {open} open"))
            .hint("write more decimals, the datum, or a larger uncertainty"));
    }
    let (latitude, longitude) = (reading.at.latitude(), reading.at.longitude());
    Ok(Patch::Position { latitude, longitude, within_m })
}

fn radius(within_m: f64, heading: &str) -> Result<()> {
    if RADII.contains(&within_m) {
        return Ok(());
    }
    Err(Error::input(format!("{heading} is not a radius"))
        .because(format!("{within_m} is not between 0.01 m and 100 km")))
}
