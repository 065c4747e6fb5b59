//! Words the findings about elevations that a table leaves open. Layer: `present`.

use super::worded;
use crate::error::Error;
use crate::model::{
    DigitMark, ElevationDistance, ElevationDoubt, ElevationManner, ElevationNote, ElevationReading,
    ElevationUnit,
};

const HINT: &str =
    "write the unit in the heading, as Elevation (m) or Elevation (ft), and 1350 without a mark";

impl From<ElevationNote> for Error {
    fn from(note: ElevationNote) -> Self {
        let (what, why) = match &note {
            ElevationNote::ElevationsRead { elevations, assumed, distances, of_ground, usual } => {
                let cells = match elevations {
                    1 => "1 elevation was".to_owned(),
                    several => format!("{several} elevations were"),
                };
                let what = format!("{cells} read {}", in_words(*assumed));
                (what, why_read(*assumed, distances, *of_ground, *usual))
            }
            ElevationNote::ElevationsOpen { written, rows, readings, reason, of_ground } => {
                let what = match rows {
                    1 => format!("the elevation \"{written}\" cannot be read"),
                    _ => {
                        format!("the elevation of {rows} rows cannot be read, first \"{written}\"")
                    }
                };
                (what, why_open(readings, *reason, *of_ground))
            }
            ElevationNote::OtherUnitElevations {
                written,
                elevations,
                read_m,
                other_m,
                other,
                height_m,
            } => {
                let what = match elevations {
                    1 => format!("the elevation \"{written}\" may be in {}", name(*other)),
                    several => format!(
                        "{several} elevations may be in {}, first \"{written}\"",
                        name(*other)
                    ),
                };
                let (read, height) = (metres(*read_m), metres(*height_m));
                let why = format!(
                    "it was read as {read}; in {} it is {}, and the track is at {height} there",
                    name(*other),
                    metres(*other_m)
                );
                return worded(&note, what, why, "write the unit behind the number, as 2340 ft");
            }
        };
        worded(&note, what, why, HINT)
    }
}

fn why_read(
    assumed: ElevationManner,
    distances: &[ElevationDistance],
    of_ground: bool,
    usual: bool,
) -> String {
    let (own, others): (Vec<_>, Vec<_>) = distances.iter().partition(|one| one.manner == assumed);
    if let Some(own) = own.first() {
        let other =
            |one: &&ElevationDistance| format!("{} {}", in_words(one.manner), metres(one.distance));
        let others: Vec<String> = others.iter().map(other).collect();
        let (own, heights) = (metres(own.distance), heights(of_ground));
        return format!(
            "so they differ by {own} from the {heights} (median), {}",
            others.join(", ")
        );
    }
    if usual {
        "no unit is stated, no height is known to compare them with, and metres are usual at the place (common \
         practice)"
            .to_owned()
    } else {
        "any other reading is higher than vegetation grows or lower than land lies".to_owned()
    }
}

fn why_open(readings: &[ElevationReading], reason: ElevationDoubt, of_ground: bool) -> String {
    let shown = |one: &ElevationReading| format!("{} {}", range(one), in_words(one.manner));
    let readings: Vec<String> = readings.iter().map(shown).collect();
    let heights = heights(of_ground);
    let reason = match reason {
        ElevationDoubt::NothingKnown => {
            "no track and no elevation tile has heights to compare them with".to_owned()
        }
        ElevationDoubt::Several => format!("the {heights} agree with more than one reading"),
        ElevationDoubt::NoneAgrees => format!("the {heights} agree with no reading"),
    };
    format!("it is {}; {reason}", readings.join(", "))
}

fn heights(of_ground: bool) -> &'static str {
    if of_ground { "heights of the ground" } else { "heights of the track" }
}

fn range(reading: &ElevationReading) -> String {
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

fn name(unit: ElevationUnit) -> &'static str {
    match unit {
        ElevationUnit::Metre => "metres",
        ElevationUnit::Foot => "feet",
    }
}

fn in_words(manner: ElevationManner) -> String {
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
