//! Represents the ways in which a written elevation can be read. Layer: `model`.

use serde::Serialize;

use super::{Field, Record};
use crate::units::Metres;

/// A unit in which elevations are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ElevationUnit {
    /// Metres.
    Metre,
    /// International feet.
    Foot,
}

/// The meaning of a mark before three digits: `1.120`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DigitMark {
    /// It separates decimals.
    Decimals,
    /// It separates thousands.
    Thousands,
}

/// What a reading assumes that the table does not state.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct ElevationManner {
    /// The unit; `None` where it is stated.
    pub unit: Option<ElevationUnit>,
    /// The mark; `None` where the column decides it, or where there is none.
    pub mark: Option<DigitMark>,
}

impl ElevationManner {
    /// Whether a reading of this manner follows from these assumptions.
    #[must_use]
    pub fn follows(self, assumed: Self) -> bool {
        let unit = self.unit.is_none() || self.unit == assumed.unit;
        unit && (self.mark.is_none() || self.mark == assumed.mark)
    }
}

/// One way to read a written elevation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ElevationReading {
    /// What it assumes.
    pub manner: ElevationManner,
    /// The elevation; of a range its lower end.
    #[serde(rename = "low_m")]
    pub low: Metres,
    /// The upper end of a range, otherwise the same.
    #[serde(rename = "high_m")]
    pub high: Metres,
}

impl ElevationReading {
    /// Makes it the elevation of the record.
    pub fn set(&self, record: &mut Record) {
        record.elevation = Some(self.low);
        if self.high != self.low {
            let highest = Field::Other(Record::HIGHEST.to_owned());
            record.fields.insert(highest, self.high.0.to_string());
        }
    }
}
