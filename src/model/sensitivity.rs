//! Represents levels of sensitivity, rules that assign them, and what is withheld of a find. Layer:
//! `model`.
//!
//! Positions of rare fungi do harm in wrong hands. A rule names a taxon, a site or a find; what it was made for is
//! bound to it, so that it still protects after sites split, finds move or names change. `docs/sensitive-places.md`
//! has the method.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::SiteId;
use crate::units::{LatLon, Metres, Radius95};

/// How much harm could come of an exact position, on the published four-step scale.
///
/// The order is that of harm: `Low` is the least.
///
/// | level | published step | shortest side of a cell |
/// |---|---|---|
/// | low | 0.001 degree | 100 m |
/// | medium | 0.01 degree | 1 km |
/// | high | 0.1 degree | 10 km |
/// | extreme | no coordinates | - |
///
/// # Examples
/// ```
/// use trug::model::Sensitivity;
///
/// assert!(Sensitivity::Low < Sensitivity::Extreme);
/// assert_eq!(Sensitivity::Medium.decimals(), Some(2));
/// assert_eq!(Sensitivity::Extreme.grid(), None);
/// ```
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
    /// All levels, the mildest first.
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

    /// The step of the decimal grid in latitude, degrees; in longitude it is wider where meridians
    /// converge.
    #[must_use]
    pub fn grid(self) -> Option<f64> {
        self.decimals().map(|decimals| 1.0 / 10_f64.powi(i32::from(decimals)))
    }

    /// No side of a published cell is shorter than this, metres; `None` where no coordinates are published.
    #[must_use]
    pub fn least_side(self) -> Option<f64> {
        match self {
            Self::Low => Some(100.0),
            Self::Medium => Some(1_000.0),
            Self::High => Some(10_000.0),
            Self::Extreme => None,
        }
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
    /// Every find of a taxon: names that begin with its words.
    Taxon(String),
    /// Every find of a site.
    Site(SiteId),
    /// One find.
    Find(Uuid),
}

impl RuleSubject {
    /// The same for the same subject, however a taxon's case and spacing are written: `taxon`, `site` or
    /// `find`, and the name.
    #[must_use]
    pub fn key(&self) -> (&'static str, String) {
        match self {
            Self::Taxon(name) => {
                let words: Vec<String> = name.split_whitespace().map(str::to_lowercase).collect();
                ("taxon", words.join(" "))
            }
            Self::Site(id) => ("site", id.0.to_string()),
            Self::Find(id) => ("find", id.to_string()),
        }
    }

    /// The key as one text, by which published cells refer to a rule.
    #[must_use]
    pub fn mark(&self) -> String {
        let (kind, name) = self.key();
        format!("{kind} {name}")
    }
}

/// A rule that makes something sensitive.
///
/// Bindings are added to at each change and never taken from: a rule that was right once stays in force until the
/// user removes it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SensitivityRule {
    /// What.
    pub subject: RuleSubject,
    /// The level.
    pub level: Sensitivity,
    /// Why, in the user's words.
    pub reason: Option<String>,
    /// When it was decided.
    pub since: Timestamp,
    /// Whether it was made for something not yet found.
    pub in_advance: bool,
    /// What it was meant for: finds and places, added to as sites and positions change, never taken away.
    pub bound: Vec<BoundPlace>,
}

impl SensitivityRule {
    /// A rule that is bound to nothing yet.
    #[must_use]
    pub fn new(subject: RuleSubject, level: Sensitivity, since: Timestamp) -> Self {
        Self { subject, level, reason: None, since, in_advance: false, bound: Vec::new() }
    }
}

/// A find or a place that a rule was meant for, as it was when the rule met it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BoundPlace {
    /// The find; `None` for the circle of a whole site.
    pub find: Option<Uuid>,
    /// Its determined name then.
    pub taxon: Option<String>,
    /// Its position and 95 % radius then.
    pub place: Option<(LatLon, Radius95)>,
}

/// What was done to a find before it was shown to others.
///
/// Outputs write it into `dataGeneralizations` and `informationWithheld`.
///
/// # References
/// Chapman 2020, Current Best Practices for Generalizing Sensitive Species Occurrence Data: generalise to a grid,
/// never randomise, and record what was done.
#[derive(Clone, Debug, PartialEq)]
pub struct Generalised {
    /// Its level.
    pub level: Sensitivity,
    /// Whether a rule decided so; otherwise it is the care that everything gets.
    pub decided: bool,
    /// The cell of the grid; `None` where no coordinates are given.
    pub cell: Option<GridCell>,
    /// What others do not get to see, in words.
    pub withheld: Vec<&'static str>,
}

/// A cell of a decimal grid, wider in longitude where meridians converge.
///
/// Cells are fixed to the globe, not centred on the find: a cell around a find would give the find away.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct GridCell {
    /// Its middle, which is what is published.
    pub at: LatLon,
    /// Its side north to south, degrees.
    pub latitude_step: f64,
    /// Its side west to east, degrees.
    pub longitude_step: f64,
}

impl GridCell {
    /// Whether the position lies within the cell, its edge included.
    #[must_use]
    pub fn holds(&self, at: LatLon) -> bool {
        let (north, east) = self.offset(at);
        north.abs() <= self.latitude_step / 2.0 + EDGE
            && east.abs() <= self.longitude_step / 2.0 + EDGE
    }

    /// Whether another cell lies wholly within this one.
    #[must_use]
    pub fn encloses(&self, other: &Self) -> bool {
        let (north, east) = self.offset(other.at);
        north.abs() + other.latitude_step / 2.0 <= self.latitude_step / 2.0 + EDGE
            && (self.longitude_step >= 360.0
                || east.abs() + other.longitude_step / 2.0 <= self.longitude_step / 2.0 + EDGE)
    }

    /// Degrees north and east of the middle, the short way round.
    fn offset(&self, at: LatLon) -> (f64, f64) {
        let east = (at.longitude() - self.at.longitude() + 540.0).rem_euclid(360.0) - 180.0;
        (at.latitude() - self.at.latitude(), east)
    }
}

/// Rounding of machine numbers, far below any grid, degrees.
const EDGE: f64 = 1e-9;

/// What an earlier output said of a find.
///
/// Later outputs follow from it: the intersection of two cells, or a find that turns exact, discloses more than
/// each output alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Published {
    /// Which find.
    pub find: Uuid,
    /// The level; `None` where it was given exactly.
    pub level: Option<Sensitivity>,
    /// The cell; `None` where no coordinates were given, or exact ones.
    pub cell: Option<GridCell>,
    /// The rule that was the cause, as [`RuleSubject::mark`].
    pub rule: Option<String>,
}

/// A position that a part of a text can mean.
///
/// A note "at 42.9 S 146.1 E" in a text discloses as much as coordinates do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mentioned {
    /// The position.
    pub at: LatLon,
    /// The largest distance that its last digit leaves open.
    pub precision: Metres,
    /// Whether nothing but its closeness to a known place says that it is one.
    pub bare: bool,
    /// What the text states.
    pub form: MentionedForm,
}

/// How a text states where something is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum MentionedForm {
    /// Both coordinates.
    #[default]
    Position,
    /// A code of a position.
    Code,
    /// One of two coordinates; the other one of the position is that of the known place.
    Coordinate,
    /// Words that stand for a position and cannot be read: the position is that of the known place.
    Words,
}

impl MentionedForm {
    /// Whether the text states both coordinates, so that the position is one without a known place.
    #[must_use]
    pub fn is_whole(self) -> bool {
        matches!(self, Self::Position | Self::Code)
    }
}

/// Lists the positions that parts of a text can mean, given the place that it is about.
pub type ReadPositions = fn(&str, Option<LatLon>) -> Vec<Mentioned>;

/// What a user should know of rules and levels before an output leaves.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum SensitivityNotice {
    /// A rule matches no find.
    MatchesNothing {
        /// The rule, in words.
        rule: String,
        /// Whether it was made in advance.
        in_advance: bool,
        /// Places that it was made for and still withholds: those of finds that are gone.
        places: usize,
        /// Finds that it makes sensitive though no name or number of them is its own.
        finds: usize,
    },
    /// A name that is written almost like a sensitive taxon is treated as that taxon.
    SimilarName {
        /// The name as it stands in the records.
        name: String,
        /// The taxon of the rule.
        taxon: String,
        /// How many finds.
        finds: usize,
    },
    /// A name that may stand for a sensitive taxon, such as one with an abbreviated genus, is treated as that
    /// taxon.
    PossibleName {
        /// The name as it stands in the records.
        name: String,
        /// The taxon of the rule.
        taxon: String,
        /// How many finds.
        finds: usize,
    },
    /// Finds had the name of a sensitive taxon when its rule met them, and are named otherwise now.
    NamedBefore {
        /// How many finds.
        finds: usize,
    },
    /// Finds lie at a place that a rule was meant for, or near a sensitive find as imported, though they are none
    /// of its finds.
    AtBoundPlace {
        /// How many finds.
        finds: usize,
    },
    /// Finds of the same taxon lie within the uncertainty circle of a sensitive find.
    WithinCircle {
        /// How many finds.
        finds: usize,
    },
    /// Finds keep the level at which they were published before.
    PublishedBefore {
        /// How many finds.
        finds: usize,
    },
    /// A finer cell would, with a cell published before, locate finds too closely: the coarser one stops.
    CoarserCellKept {
        /// How many finds.
        finds: usize,
    },
    /// Sensitive finds were published exactly before they became sensitive.
    PublishedExactly {
        /// How many finds.
        finds: usize,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_match_the_published_table() {
        let grids = Sensitivity::ALL.map(Sensitivity::grid);
        assert_eq!(grids, [Some(0.001), Some(0.01), Some(0.1), None]);
        assert!(Sensitivity::Low < Sensitivity::Extreme);
    }
}
