//! Represents the ways in which a written elevation can be read. Layer: `model`.
//!
//! Where a table does not say whether 1350 is in metres or feet, the whole column is compared with the heights
//! where its finds are; below 99 % the elevations stay open. `docs/reading-records.md` has the method.

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

impl Record {
    /// The elevation as typed, where that names feet.
    #[must_use]
    pub fn written_in_feet(&self) -> Option<&str> {
        const FEET: [&str; 11] = [
            "ft", "feet", "foot", "'", "\u{2032}", "\u{2019}", "fu", "pied", "pies", "p\u{e9}s",
            "voet",
        ];
        let typed = self.other(Self::VERBATIM_ELEVATION)?;
        let small = typed.to_lowercase();
        // an apostrophe between digits separates thousands
        let after = |at: usize| small[at..].chars().nth(1).is_some_and(|c| c.is_ascii_digit());
        let named = FEET.iter().any(|word| small.rfind(word).is_some_and(|at| !after(at)));
        named.then_some(typed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn feet_are_known_by_their_words_and_marks() {
        let typed = |text: &str| {
            let term = Field::Other(Record::VERBATIM_ELEVATION.into());
            let fields = [(term, text.to_owned())].into();
            Record { fields, ..Record::default() }.written_in_feet().is_some()
        };
        for feet in ["2340 ft", "2,340'", "2340 Fuss", "ca 2340 pieds"] {
            assert!(typed(feet), "{feet}");
        }
        for metres in ["713", "1'350 m", "1\u{2019}350", "713 m a.s.l."] {
            assert!(!typed(metres), "{metres}");
        }
    }
}
