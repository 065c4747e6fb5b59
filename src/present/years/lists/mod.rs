//! Formats species lists as text, JSON and CSV, and accumulation as a figure. Layer: `present`.

mod csv;
mod figure;
mod json;
mod text;

use jiff::civil::Date;
use serde::Serialize;

pub use csv::csv;
pub use figure::figure;
pub use json::properties;
pub use text::text;

use crate::analyse::lists::{Accumulated, Alike, List, Lists, Pair, Richness};

/// What lists are grouped by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GroupedBy {
    /// Place name.
    Place,
    /// Site.
    Site,
    /// Calendar year.
    Year,
    /// Outing.
    Outing,
}

impl GroupedBy {
    /// The heading of the column, and the key of the JSON.
    #[must_use]
    pub fn heading(self) -> &'static str {
        match self {
            Self::Place => "place",
            Self::Site => "site",
            Self::Year => "year",
            Self::Outing => "outing",
        }
    }

    fn many(self) -> &'static str {
        match self {
            Self::Place => "places",
            Self::Site => "sites",
            Self::Year => "years",
            Self::Outing => "outings",
        }
    }
}

/// A species of the list that the checklist does not have.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotInChecklist {
    /// Genus and epithet.
    pub name: String,
    /// Finds.
    pub finds: usize,
    /// The nearest names that it has.
    pub nearest: Vec<String>,
}

/// Everything that is reported of lists.
#[derive(Debug)]
pub struct Report {
    /// The selection in words; empty for all finds.
    pub of: String,
    /// The lists.
    pub lists: Lists,
    /// What the groups are; none for one list.
    pub by: Option<GroupedBy>,
    /// The estimates for the list of all; none with too few outings.
    pub richness: Option<Richness>,
    /// The accumulation over outings.
    pub curve: Vec<Accumulated>,
    /// Hours searched on the outings of the list; none without tracks.
    pub hours: Option<f64>,
    /// Groups compared.
    pub pairs: Vec<Pair>,
    /// Whether outings without a find of the selection are known.
    pub whole_outings: bool,
    /// Species that the checklist of the store does not have; none without a checklist.
    pub not_in_checklist: Vec<NotInChecklist>,
    /// Names that may be one, misspelt.
    pub alike: Vec<Alike>,
    /// First and last date of the outings.
    pub dates: Option<(Date, Date)>,
}

/// The estimates of a group.
fn of_group(list: &List) -> Option<crate::analyse::intervals::Interval> {
    let enough = list.outings >= crate::analyse::lists::LEAST_OUTINGS && !list.species.is_empty();
    enough.then(|| crate::analyse::lists::richness::chao2(&list.incidences, true))
}
