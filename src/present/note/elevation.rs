//! Words the findings about elevations that were open. Layer: `present`.

use super::worded;
use crate::error::Error;
use crate::model::{
    DigitMark, ElevationManner, ElevationNote, ElevationReason, ElevationUnit, OpenElevation,
    OpenElevations,
};
use crate::units::Metres;

const HINT: &str =
    "write the unit in the heading, as Elevation (m) or Elevation (ft), and 1350 without a mark";

impl From<ElevationNote> for Error {
    fn from(note: ElevationNote) -> Self {
        match &note {
            ElevationNote::ElevationsRead { elevations, manner, reason } => {
                let cells = match elevations {
                    1 => "1 elevation was".to_owned(),
                    several => format!("{several} elevations were"),
                };
                let what = format!("{cells} read {}", assumed(*manner));
                worded(&note, what, decided(reason), HINT)
            }
            ElevationNote::ElevationsOpen { written, rows, readings, reason, of_ground } => {
                let what = match rows {
                    1 => format!("the elevation \"{written}\" cannot be read"),
                    _ => {
                        format!("the elevation of {rows} rows cannot be read, first \"{written}\"")
                    }
                };
                let readings: Vec<String> = readings.iter().map(shown).collect();
                let why = open(*reason, heights(*of_ground));
                worded(&note, what, format!("it is {}; {why}", readings.join(", ")), HINT)
            }
        }
    }
}

fn decided(reason: &ElevationReason) -> String {
    match reason {
        ElevationReason::HeightsAgree { median, others, of_ground } => {
            let others: Vec<String> = others
                .iter()
                .map(|other| format!("{} {}", assumed(other.manner), metres(other.median)))
                .collect();
            format!(
                "so they differ by {} from the {} (median), {}",
                metres(*median),
                heights(*of_ground),
                others.join(", ")
            )
        }
        ElevationReason::UsualAtPlace => {
            "no unit is stated, no height is known to compare them with, and metres are usual at the place \
             (common practice)"
                .to_owned()
        }
        ElevationReason::OnlyPossible => {
            "any other reading is higher than vegetation grows or lower than land lies".to_owned()
        }
    }
}

fn open(reason: OpenElevations, heights: &str) -> String {
    match reason {
        OpenElevations::NothingKnown => {
            "no track and no elevation tile has heights to compare them with".to_owned()
        }
        OpenElevations::Several => format!("the {heights} agree with more than one reading"),
        OpenElevations::None => format!("the {heights} agree with no reading"),
    }
}

fn heights(of_ground: bool) -> &'static str {
    if of_ground { "heights of the ground" } else { "heights of the track" }
}

fn shown(reading: &OpenElevation) -> String {
    let (low, high) = (metres(reading.low), metres(reading.high));
    let length = if reading.low == reading.high { low } else { format!("{low} to {high}") };
    format!("{length} {}", assumed(reading.manner))
}

/// Whole metres; below ten with the digits that were written.
fn metres(Metres(length): Metres) -> String {
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
