//! Levels of sensitivity, rules that set them, and what is withheld of a find for others. Layer: `model`.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::SiteId;

/// How much harm could come of an exact position, on the published four-step scale.
///
/// # References
/// Chapman 2020, Current Best Practices for Generalizing Sensitive Species Occurrence Data.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sensitivity {
    /// Published to 0.001 degree, about a hundred metres.
    Low,
    /// Published to 0.01 degree, about a kilometre.
    Medium,
    /// Published to 0.1 degree, about ten kilometres.
    High,
    /// Published without coordinates.
    Extreme,
}

impl Sensitivity {
    /// All steps, the mildest first.
    pub const ALL: [Self; 4] = [Self::Low, Self::Medium, Self::High, Self::Extreme];

    /// The step of the decimal grid in figures after the point; `None` where no coordinates are
    /// published.
    #[must_use]
    pub fn decimals(self) -> Option<u8> {
        match self {
            Self::Low => Some(3),
            Self::Medium => Some(2),
            Self::High => Some(1),
            Self::Extreme => None,
        }
    }

    /// The step of the decimal grid in degrees.
    #[must_use]
    pub fn grid(self) -> Option<f64> {
        self.decimals().map(|decimals| 1.0 / 10_f64.powi(i32::from(decimals)))
    }

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
            Self::Extreme => "extreme",
        }
    }
}

impl fmt::Display for Sensitivity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// What a rule makes sensitive.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RuleSubject {
    /// Every find of a name, or of names that begin with its words.
    Taxon(String),
    /// Every find of a site.
    Site(SiteId),
    /// One find.
    Find(Uuid),
}

/// A rule that makes something sensitive.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SensitivityRule {
    /// What.
    pub subject: RuleSubject,
    /// The level.
    pub level: Sensitivity,
    /// Why, in the user's words.
    pub reason: Option<String>,
    /// When it was decided.
    pub since: Timestamp,
}

/// What was done to a find before it was shown to others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Generalised {
    /// Its level.
    pub level: Sensitivity,
    /// Whether somebody decided so; otherwise it is the care that everything gets.
    pub decided: bool,
    /// What others do not get to see, in words.
    pub withheld: Vec<&'static str>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_steps_are_those_of_the_published_table() {
        let grids = Sensitivity::ALL.map(Sensitivity::grid);
        assert_eq!(grids, [Some(0.001), Some(0.01), Some(0.1), None]);
        assert!(Sensitivity::Low < Sensitivity::Extreme);
    }
}
