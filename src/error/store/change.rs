//! Represents the reasons why something in a store cannot be changed, undone or kept, each with its
//! quantities and a code, and words them. Layer: `error`.

use serde::Serialize;
use uuid::Uuid;

use crate::error::Error;

/// Why something in a store cannot be changed, undone or kept.
#[derive(Debug, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
pub(crate) enum ChangeFault {
    /// The store has no outing of this identifier.
    NoOuting { outing: Uuid },
    /// The store has no day of an outing of this identifier.
    NoDay { outing: Uuid },
    /// The store has no find of this identifier.
    NoFind { find: Uuid },
    /// The journal has no change in force.
    NothingToUndo,
    /// The journal has no change of this number.
    NoChange { change: i64 },
    /// The change is reversed already.
    UndoneAlready { change: i64, by: i64 },
    /// What the store had before the change was deleted.
    Compacted { change: i64 },
    /// A later change of the same outing must be undone first.
    LaterChange { change: i64, later: i64 },
    /// A trailhead has no name.
    NoTrailheadName,
    /// A site refers to a find that is not in the store.
    FindOfSite { site: i64, find: Uuid },
    /// A site shares its number, its name or a find with another.
    SiteNotUnique { site: i64, name: Option<String>, cause: String },
    /// The position of a weather station is not known.
    StationPosition { station: String },
    /// An outing could not be packed.
    NotArchived { cause: String },
    /// A checklist could not be written.
    ChecklistNotWritten,
    /// The description of a checklist has no form.
    ChecklistDescriptionNotKept { cause: String },
    /// A value has no form.
    ValueNotKept { cause: String },
    /// A choice has no keyword.
    NoKeyword { value: String },
}

impl From<ChangeFault> for Error {
    fn from(fault: ChangeFault) -> Self {
        let error = match &fault {
            ChangeFault::NotArchived { .. } | ChangeFault::ChecklistNotWritten => {
                Self::machine(what(&fault))
            }
            ChangeFault::ChecklistDescriptionNotKept { .. }
            | ChangeFault::ValueNotKept { .. }
            | ChangeFault::NoKeyword { .. } => Self::program(what(&fault)),
            _ => Self::input(what(&fault)),
        };
        let error = match why(&fault) {
            Some(why) => error.because(why),
            None => error,
        };
        let error = match advice(&fault) {
            Some(hint) => error.hint(hint),
            None => error,
        };
        error.of(&fault)
    }
}

fn what(fault: &ChangeFault) -> String {
    match fault {
        ChangeFault::NoOuting { .. } | ChangeFault::NoDay { .. } => {
            "the store has no such outing".to_owned()
        }
        ChangeFault::NoFind { .. } => "the store has no such find".to_owned(),
        ChangeFault::NothingToUndo => "there is nothing to undo".to_owned(),
        ChangeFault::NoChange { change } => format!("there is no change {change}"),
        ChangeFault::UndoneAlready { change, .. } => format!("change {change} is undone already"),
        ChangeFault::Compacted { change } => format!("change {change} can no longer be undone"),
        ChangeFault::LaterChange { change, .. } => format!("change {change} cannot be undone yet"),
        ChangeFault::NoTrailheadName => "a trailhead needs a name".to_owned(),
        ChangeFault::FindOfSite { site, .. } => {
            format!("site {site} refers to a find that is not in the store")
        }
        ChangeFault::SiteNotUnique { site, name, .. } => {
            let name = name.as_deref().unwrap_or("without a name");
            format!("site {site} ({name}) cannot be kept")
        }
        ChangeFault::StationPosition { station } => {
            format!("the position of the weather station {station} is not known")
        }
        ChangeFault::NotArchived { .. } => "an outing could not be archived".to_owned(),
        ChangeFault::ChecklistNotWritten => "the checklist cannot be written".to_owned(),
        ChangeFault::ChecklistDescriptionNotKept { .. } => {
            "the description of a checklist cannot be kept".to_owned()
        }
        ChangeFault::ValueNotKept { .. } => "cannot keep a value".to_owned(),
        ChangeFault::NoKeyword { .. } => "a choice has no keyword".to_owned(),
    }
}

fn why(fault: &ChangeFault) -> Option<String> {
    Some(match fault {
        ChangeFault::NoOuting { outing } | ChangeFault::NoDay { outing } => {
            format!("no outing has the identifier {outing}")
        }
        ChangeFault::NoFind { find } | ChangeFault::FindOfSite { find, .. } => {
            format!("no find has the identifier {find}")
        }
        ChangeFault::NothingToUndo => "the journal has no change that is in force".to_owned(),
        ChangeFault::NoChange { .. } => "the journal has none with this number".to_owned(),
        ChangeFault::UndoneAlready { by, .. } => format!("change {by} reversed it"),
        ChangeFault::Compacted { .. } => {
            "trug compact deleted what the store had before it".to_owned()
        }
        ChangeFault::LaterChange { later, .. } => {
            format!("change {later} is a later one of the same outing")
        }
        ChangeFault::NoTrailheadName => "the name given is empty".to_owned(),
        ChangeFault::SiteNotUnique { cause, .. } => {
            format!("it shares its number, its name or a find with another site ({cause})")
        }
        ChangeFault::StationPosition { .. } => {
            "neither the file nor the store states it".to_owned()
        }
        ChangeFault::NotArchived { cause }
        | ChangeFault::ChecklistDescriptionNotKept { cause }
        | ChangeFault::ValueNotKept { cause } => cause.clone(),
        ChangeFault::NoKeyword { value } => value.clone(),
        ChangeFault::ChecklistNotWritten => return None,
    })
}

fn advice(fault: &ChangeFault) -> Option<String> {
    Some(match fault {
        ChangeFault::NoDay { .. } => "list the dates with `trug effort --by day`".to_owned(),
        ChangeFault::NoFind { .. } => "list the finds with trug finds".to_owned(),
        ChangeFault::NothingToUndo | ChangeFault::NoChange { .. } => {
            "list the changes with trug history".to_owned()
        }
        ChangeFault::UndoneAlready { by, .. } => {
            format!("to put it in force again: trug undo {by}")
        }
        ChangeFault::Compacted { .. } => {
            "import the original files again; they are unchanged".to_owned()
        }
        ChangeFault::LaterChange { later, .. } => format!("undo that one first: trug undo {later}"),
        ChangeFault::NoTrailheadName => "give it a name".to_owned(),
        ChangeFault::FindOfSite { .. } => {
            "compute the sites again from the finds of this store".to_owned()
        }
        ChangeFault::SiteNotUnique { .. } => "give each site a name of its own".to_owned(),
        ChangeFault::StationPosition { .. } => {
            "state it: --at \"LATITUDE LONGITUDE\" --elevation METRES, or give the list of stations in the \
             same command"
                .to_owned()
        }
        _ => return None,
    })
}
