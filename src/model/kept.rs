//! Represents a find as read from the store. Layer: `model`.

use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::{
    AmendedProperty, AnchorKind, Determination, Generalised, Located, NameCheck, Record, Taxon,
    WrittenTime,
};
use crate::units::{LatLon, Metres, Radius95, Seconds};

/// A find as the store keeps it.
///
/// What every output starts from. The record is the one in force: corrections of the user are already in it, and
/// `as_imported` and `amended` say what they replaced. For an output to others the position, texts and photographs
/// have been generalised before, and `generalised` says how.
#[derive(Clone, Debug)]
pub struct KeptFind {
    /// Its lasting identity.
    pub id: Uuid,
    /// The outing it belongs to.
    pub outing: Uuid,
    /// The local date of collecting.
    pub date: Date,
    /// When, as well as is known: the middle and the half width of a 95 % interval.
    pub when: Option<(Timestamp, Seconds)>,
    /// The zone of its local times, as [`super::ZoneChoice::name`].
    pub zone: String,
    /// Whether that zone is UTC only because nothing said where the outing was: its local times have no known offset.
    pub zone_assumed: bool,
    /// Who collected it.
    pub collector: Option<String>,
    /// What was written.
    pub record: Record,
    /// Its position; `None` where there is none.
    pub place: Option<Located>,
    /// Why it has no position.
    pub why_unlocated: Option<String>,
    /// What its position rests on, in words, most trusted first.
    pub anchors: Vec<(AnchorKind, String)>,
    /// Photographs that show it.
    pub photos: Vec<KeptPhoto>,
    /// Its conflicts, one sentence each.
    pub conflicts: Vec<String>,
    /// How often its record was corrected: 0 as first imported.
    pub revision: u32,
    /// When a corrected file of records left it out; such a find is shown only on request.
    pub withdrawn: Option<Timestamp>,
    /// Its name and position as imported, where the user amended it.
    pub as_imported: Option<AsImported>,
    /// The properties that the user amended, beside what was written.
    pub amended: Vec<AmendedProperty>,
    /// Its identifications, the oldest first; empty where only the record names it.
    pub determinations: Vec<Determination>,
    /// What the checklist of the store says of its name; `None` without a checklist or a name.
    pub checked: Option<Arc<NameCheck>>,
    /// The elevation of the ground at its position, where a command asked elevation tiles for it because the record
    /// has none.
    pub ground: Option<GroundElevation>,
    /// What was taken back before it was shown to others; `None` for what the collector sees.
    pub generalised: Option<Generalised>,
}

impl KeptFind {
    /// The accepted name, where the checklist takes the written one for a synonym.
    #[must_use]
    pub fn other_accepted(&self) -> Option<&Taxon> {
        self.checked.as_ref()?.other_accepted()
    }
}

impl KeptFind {
    /// Whether its time is an amended one, not the written one.
    #[must_use]
    pub fn is_retimed(&self) -> bool {
        self.amended.iter().any(|amended| amended.property == "time")
    }
}

/// The elevation of the ground at a find by an elevation model.
///
/// From a tile, not from the receiver; it is never written into the record.
#[derive(Clone, Debug, PartialEq)]
pub struct GroundElevation {
    /// Above mean sea level, as the model has it.
    pub elevation: Metres,
    /// Half the width of its 95 % interval.
    pub within: Metres,
    /// The file name of the tile.
    pub tile: String,
}

/// A photograph as the store keeps it: where it was and how to know it again.
///
/// The photograph itself stays where it is, and is neither copied nor changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptPhoto {
    /// Where it was when it was imported.
    pub path: String,
    /// Its hash, as [`super::SourceFile::hash`].
    pub hash: String,
    /// When it was taken, corrected.
    pub when: Option<Timestamp>,
}

/// What an import stated of a find that was amended since.
#[derive(Clone, Debug, PartialEq)]
pub struct AsImported {
    /// The name in the record.
    pub name: Option<String>,
    /// The position and its radius.
    pub place: Option<(LatLon, Radius95)>,
    /// The date as written.
    pub date: Option<Date>,
    /// The time as written.
    pub time: Option<WrittenTime>,
}
