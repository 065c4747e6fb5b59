//! Represents a site and its visits. Layer: `model`.
//!
//! Nobody states sites: they are computed from the finds ([`analyse::Survey`](crate::analyse::Survey)). The user
//! may name them, join them and keep them apart.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Activity;
use crate::units::{LatLon, Metres, Radius95, Seconds};

/// The lasting identity of a site.
///
/// Given by the store, so that a name that the user gave stays with the site while finds are added.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SiteId(pub i64);

/// Finds that cannot be distinguished by their positions.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// Its identity, kept while new days come in.
    pub id: SiteId,
    /// The user's name for it.
    pub name: Option<String>,
    /// Its middle.
    pub at: LatLon,
    /// The circle that holds its finds' own circles.
    pub radius: Radius95,
    /// Indices of its finds in the collection it was made from.
    pub finds: Vec<usize>,
}

/// One pass of a track by a site.
///
/// A visit needs no find: visits without a find are what makes a rate or a probability of detection possible.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// Which site.
    pub site: SiteId,
    /// On which outing.
    pub outing: Uuid,
    /// From.
    pub start: Timestamp,
    /// Until.
    pub end: Timestamp,
    /// Time within the searching distance, walking through included.
    pub spent: Seconds,
    /// Time that counts as search within the searching distance.
    pub searched: Seconds,
    /// Of that, time stationary.
    pub stopped: Seconds,
    /// Time at finds within the searching distance, which is no search.
    pub handled: Seconds,
    /// Length of the track within the searching distance.
    pub length: Metres,
    /// Of that, length while searching.
    pub searched_length: Metres,
    /// What the collector did most of the time.
    pub activity: Activity,
    /// The least distance from the site's middle; `None` where only a find tells of the visit.
    pub nearest: Option<Metres>,
    /// Indices of what was found; empty is a search without a find.
    pub finds: Vec<usize>,
}
