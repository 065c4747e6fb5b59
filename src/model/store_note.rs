//! Findings about changes of a store: notes on an import, conflicts of two stores that are merged.
//! Quantities and a code each; sentences are made in `present`. Layer: `model`.

use serde::Serialize;
use uuid::Uuid;

use super::SiteId;

/// A note on the import of an outing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum ImportNote {
    /// The inputs now state what an amendment states.
    InputsAgreeWithAmendment {
        /// The number, the name or the place in the store of the find.
        find: String,
        /// The amended property.
        property: String,
        /// The number of the change.
        amendment: i64,
        /// The value; `None` where there is none.
        value: Option<String>,
    },
    /// The inputs now state something else than before; the amendment stays in force.
    InputsDifferFromAmendment {
        /// The number, the name or the place in the store of the find.
        find: String,
        /// The amended property.
        property: String,
        /// The number of the change.
        amendment: i64,
        /// The value in force.
        value: Option<String>,
        /// What the inputs state now.
        stated: Option<String>,
        /// What they stated before.
        stated_before: Option<String>,
    },
    /// Measured coordinates stay, although a row of another file lacks them or has others.
    MeasuredCoordinatesKept {
        /// The find.
        find: String,
        /// The coordinates as written.
        coordinates: String,
        /// The file of the row that does not replace them.
        row_in: String,
        /// The file that states them.
        stated_in: String,
    },
    /// A find that had been withdrawn is in the inputs again.
    Restored {
        /// The find.
        find: String,
    },
    /// A find keeps its position, since the import had no track.
    PositionKept {
        /// The find.
        find: String,
    },
    /// Track files of the outing were not part of this import.
    TracksLeftOut {
        /// Their names.
        files: Vec<String>,
    },
    /// The import had some of the files of the outing only: nothing was changed.
    PartOfOuting {
        /// Other files of the outing, up to three.
        files: Vec<String>,
        /// The number of files beyond these.
        more: usize,
    },
    /// The track shows a walk that a track of the store shows as well.
    TrackOfSameWalk {
        /// The outing of the other track.
        outing: Uuid,
        /// Its date.
        date: String,
        /// The share of the new track's time that both show, percent.
        percent: u8,
    },
    /// Numbers of new finds are used on another day.
    NumbersUsed {
        /// The other day.
        date: String,
        /// The numbers.
        numbers: Vec<String>,
    },
}

/// A disagreement of two stores that were merged.
///
/// Nothing is lost by a merge: where two stores disagree one value is in force and the other stays in the journal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum MergeConflict {
    /// An outing has different content in the two stores.
    OutingDiffers {
        /// The date of the outing.
        date: String,
        /// Its collector.
        collector: Option<String>,
    },
    /// An outing of the other store was removed here.
    OutingRemoved {
        /// The date of the outing.
        date: String,
        /// Its collector.
        collector: Option<String>,
        /// The change that removed it.
        change: i64,
    },
    /// The finds of an outing belong to another one here.
    FindsInAnotherOuting {
        /// The date of the outing.
        date: String,
        /// Its collector.
        collector: Option<String>,
        /// The date of the other one.
        other_date: String,
    },
    /// Both stores amend a property differently; the later change is in force.
    Amendments(AmendmentConflict),
    /// A trailhead has different positions in the two stores.
    TrailheadPosition {
        /// Its name.
        name: String,
    },
    /// A weather station has different values on some days.
    WeatherDays {
        /// Its code.
        station: String,
        /// The number of days.
        days: usize,
    },
    /// A weather station has another position, name or elevation.
    Station {
        /// Its code.
        station: String,
        /// What differs.
        property: StationProperty,
    },
    /// A base map has different contents in the two stores.
    BaseMap {
        /// Its path.
        path: String,
    },
    /// The finds of a named site are in no site or in several here.
    SiteNotMatched {
        /// The name there.
        name: String,
    },
    /// A site has another name here.
    SiteName {
        /// The site here.
        site: SiteId,
        /// Its name here.
        here: String,
        /// Its name there.
        there: String,
    },
    /// Another site has the name here.
    SiteNameTaken {
        /// The site here.
        site: SiteId,
        /// The name.
        name: String,
    },
}

/// A property that two stores amend differently.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct AmendmentConflict {
    /// The number of the find, or the camera.
    pub subject: Option<String>,
    /// The property.
    pub property: String,
    /// The value here.
    pub here: String,
    /// The number of the change here.
    pub here_change: i64,
    /// The value there.
    pub there: String,
    /// The number of the change there.
    pub there_change: i64,
    /// Whether the change here is the later one.
    pub here_is_later: bool,
}

/// A property of a weather station.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum StationProperty {
    /// Its position.
    Position,
    /// Its name.
    Name,
    /// Its elevation.
    Elevation,
}
