//! Represents corrections by the user: what is amended, the journal of changes, and identifications.
//! Layer: `model`.
//!
//! An amendment never replaces what was written: the store keeps both, recomputes the value in force from the
//! journal, and an undo restores exactly what there was. `docs/corrections.md` describes the use.

use std::ops::RangeInclusive;

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::taxon_name::with_author;
use super::{Field, Record};
use crate::units::Seconds;

/// What an amendment concerns.
///
/// A find is known by its permanent identifier, so that an amendment survives later imports and renumbering.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum AmendedSubject {
    /// A find.
    Find(Uuid),
    /// The clock of a camera on one outing.
    Camera {
        /// The outing.
        outing: Uuid,
        /// The camera, as [`super::Camera`] is displayed.
        camera: String,
    },
}

/// The new value of one property.
///
/// Of several patches for one property the latest in force counts; photographs and identifications accumulate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Patch {
    /// The position, with its 95 % radius in metres.
    Position {
        /// Latitude on WGS 84, degrees.
        latitude: f64,
        /// Longitude on WGS 84, degrees.
        longitude: f64,
        /// The radius of the circle that holds the true position with 95 % probability, metres.
        within_m: f64,
    },
    /// No position.
    Unlocated,
    /// The local time of collecting.
    Time {
        /// Date and time in the zone of the outing.
        clock: DateTime,
        /// Half the width of its 95 % interval.
        within: Seconds,
    },
    /// Photographs by their names: those that show the find, and those that do not.
    Photographs {
        /// Added.
        add: Vec<String>,
        /// Removed.
        remove: Vec<String>,
    },
    /// A written value; `None` for an empty one.
    Text {
        /// Which.
        property: TextProperty,
        /// The new text.
        value: Option<String>,
    },
    /// Who collected it.
    Collector(String),
    /// The outing it belongs to.
    Outing(Uuid),
    /// Whether it is withdrawn from lists and outputs.
    Withdrawn(bool),
    /// An identification; it becomes the accepted one if it says so.
    Determination(Determination),
    /// The camera's reading less local time.
    CameraClock(Seconds),
    /// An edit by another program that was refused; it changes nothing.
    Refused {
        /// The property that was edited.
        property: String,
        /// The value that was refused.
        value: String,
        /// Why.
        why: Refusal,
    },
}

/// Why an edit by another program was refused.
///
/// An edit in a GIS is not checked by anyone: what cannot be meant is refused and kept in the journal with this
/// reason, so that nothing that somebody did is lost.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Refusal {
    /// The position is far from the outing's track and from where the find was.
    FarFromTrack {
        /// From the nearest point of the track, metres.
        away_m: f64,
    },
    /// The outing has no track, and the position is far from its other finds and from where the find was.
    FarFromFinds {
        /// From the nearest of them, metres.
        away_m: f64,
    },
    /// The geometry is not a point in degrees on the globe.
    NotAPoint,
    /// A find that has no position was given one without a radius.
    WithoutRadius,
    /// The radius is not one of [`RADII`].
    NotARadius,
    /// The text is not a moment in UTC.
    NotATime,
    /// The time is on another day than the find.
    AnotherDay {
        /// The day of the find.
        collected: Date,
    },
    /// The value cannot be removed.
    Emptied,
    /// The name has no letter.
    NotAName,
    /// The value is neither a moment nor yes or no.
    NotYesOrNo,
}

/// The 95 % radii of stated positions, metres: from what a survey reaches (common practice) to 100 km.
///
/// Anything else is taken for a slip of the hand and refused.
pub const RADII: RangeInclusive<f64> = 0.01..=100_000.0;

/// A written value that can be amended as text.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TextProperty {
    /// The collector's number.
    Number,
    /// The place name.
    Place,
    /// The substrate.
    Substrate,
    /// The host.
    Host,
    /// The habitat.
    Habitat,
    /// The container.
    Container,
    /// Any other field.
    Field(Field),
}

impl TextProperty {
    /// The properties with columns of their own.
    pub const OWN: [Self; 6] =
        [Self::Number, Self::Place, Self::Substrate, Self::Host, Self::Habitat, Self::Container];

    /// Its heading.
    #[must_use]
    pub fn heading(&self) -> &str {
        match self {
            Self::Number => "number",
            Self::Place => "place",
            Self::Substrate => "substrate",
            Self::Host => "host",
            Self::Habitat => "habitat",
            Self::Container => "container",
            Self::Field(field) => field.heading(),
        }
    }

    /// The value of a record.
    #[must_use]
    pub fn value(&self, record: &Record) -> Option<String> {
        match self {
            Self::Number => record.number.as_ref().map(|number| number.0.clone()),
            Self::Place => record.place.clone(),
            Self::Substrate => record.substrate.clone(),
            Self::Host => record.host.clone(),
            Self::Habitat => record.habitat.clone(),
            Self::Container => record.container.clone(),
            Self::Field(field) => record.fields.get(field).cloned(),
        }
    }

    /// The property with this heading, whatever its case; any unknown heading is a field.
    #[must_use]
    pub fn of(heading: &str) -> Self {
        let heading = heading.trim();
        let lower = heading.to_lowercase();
        if let Some(own) = Self::OWN.into_iter().find(|own| own.heading() == lower) {
            return own;
        }
        let named = Field::NAMED.into_iter().find(|field| field.heading() == lower);
        Self::Field(named.unwrap_or_else(|| Field::Other(heading.to_owned())))
    }
}

impl Patch {
    /// The property of a refused edit.
    pub const REFUSED: &str = "refused edit";

    /// The property that it amends; of two with the same property the later one is in force,
    /// except that photographs and identifications accumulate.
    #[must_use]
    pub fn property(&self) -> &str {
        match self {
            Self::Position { .. } | Self::Unlocated => "position",
            Self::Time { .. } => "time",
            Self::Photographs { .. } => "photographs",
            Self::Text { property, .. } => property.heading(),
            Self::Collector(_) => "collector",
            Self::Outing(_) => "outing",
            Self::Withdrawn(_) => "withdrawn",
            Self::Determination(_) => "determination",
            Self::CameraClock(_) => "camera clock",
            Self::Refused { .. } => Self::REFUSED,
        }
    }
}

/// One identification of a find.
///
/// A find can have several, over the years; the record's own name is not one of them. At most one is accepted.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Determination {
    /// The name with its qualifier, with or without authors.
    pub name: String,
    /// The authors of the name, where not part of it.
    pub author: Option<String>,
    /// Who identified it.
    pub determiner: Option<String>,
    /// When.
    pub on: Option<Date>,
    /// By which method.
    pub method: Option<String>,
    /// Its status as a type specimen.
    pub type_status: Option<String>,
    /// Remarks.
    pub remarks: Option<String>,
    /// Whether it is the accepted one.
    pub accepted: bool,
}

impl Determination {
    /// The name with its authors.
    #[must_use]
    pub fn full_name(&self) -> String {
        match &self.author {
            Some(author) => with_author(&self.name, author),
            None => self.name.clone(),
        }
    }
}

/// An amended property of a find beside what was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct AmendedProperty {
    /// The property, as [`Patch::property`].
    pub property: String,
    /// What the inputs say.
    pub written: Option<String>,
    /// What is in force.
    pub value: Option<String>,
    /// The number of the change.
    pub change: i64,
}

/// The kinds of change in the journal.
///
/// Every write to the store that changes what it states is one of these; an import that changes nothing is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ChangeKind {
    /// A correction by the user.
    Amendment,
    /// Edits by a GIS or another program.
    Gis,
    /// An import.
    Import,
    /// A removed outing.
    Removal,
    /// A reversed change.
    Undo,
}

/// Who made a change, when and why.
///
/// The commands take the name of the computer's user where `--who` states no other.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Authored {
    /// Who.
    pub who: Option<String>,
    /// When.
    pub made: Timestamp,
    /// Why.
    pub reason: Option<String>,
}

/// One change of the journal.
///
/// The journal is the order of all changes. Its times never go back, even if a clock was set back; whether a change
/// is in force follows from the undos in force.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// Its number in this store.
    pub id: i64,
    /// Its permanent identifier.
    pub uuid: Uuid,
    /// What kind.
    pub kind: ChangeKind,
    /// Who, when, why.
    #[serde(flatten)]
    pub authored: Authored,
    /// The change that it reverses.
    pub reverses: Option<i64>,
    /// Whether it is in force: not reversed by a later change.
    pub active: bool,
    /// What it amends.
    pub amendments: Vec<ChangeLine>,
    /// The outings that it adds, changes or removes.
    pub outings: Vec<ChangedOuting>,
}

/// One amended property of a change.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChangeLine {
    /// The find; `None` for a camera.
    pub find: Option<Uuid>,
    /// The find's number as it is now, where the store has the find.
    pub number: Option<String>,
    /// The find's date, where the store has the find.
    pub date: Option<Date>,
    /// The camera.
    pub camera: Option<String>,
    /// The property.
    pub property: String,
    /// The value in force before.
    pub before: Option<String>,
    /// The value since.
    pub after: String,
    /// Why the value was refused: the one before is still in force.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refused: Option<Refusal>,
}

/// An outing that a change adds, changes or removes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChangedOuting {
    /// Which.
    pub outing: Uuid,
    /// Its date.
    pub date: Date,
    /// Its collector.
    pub collector: Option<String>,
    /// How many finds it had; `None` where the store did not have it before.
    pub finds_before: Option<u64>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_lead_to_properties() {
        assert_eq!(TextProperty::of(" Host "), TextProperty::Host);
        assert_eq!(TextProperty::of("Spore print"), TextProperty::Field(Field::SporePrint));
        let own = TextProperty::Field(Field::Other("Wetter".into()));
        assert_eq!(TextProperty::of("Wetter"), own);
    }

    #[test]
    fn patches_are_read_back_from_json() {
        let patches = [
            Patch::Position { latitude: -42.5, longitude: 146.25, within_m: 5.0 },
            Patch::Photographs { add: vec!["P1.JPG".into()], remove: Vec::new() },
            Patch::Text { property: TextProperty::of("smell"), value: None },
            Patch::Withdrawn(true),
            Patch::CameraClock(Seconds(3_600.0)),
            Patch::Refused {
                property: "position".into(),
                value: "0 0".into(),
                why: Refusal::FarFromTrack { away_m: 1.4e7 },
            },
        ];
        for patch in patches {
            let json = serde_json::to_string(&patch).unwrap();
            assert_eq!(serde_json::from_str::<Patch>(&json).unwrap(), patch, "{json}");
        }
    }

    #[test]
    fn authors_are_not_repeated() {
        let given = |name: &str| Determination {
            name: name.into(),
            author: Some("(Berk.) Sacc.".into()),
            ..Determination::default()
        };
        assert_eq!(given("Mycena interrupta").full_name(), "Mycena interrupta (Berk.) Sacc.");
        assert_eq!(
            given("Mycena interrupta (Berk.) Sacc.").full_name(),
            "Mycena interrupta (Berk.) Sacc."
        );
    }
}
