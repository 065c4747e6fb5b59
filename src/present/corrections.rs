//! Formats the journal of changes and replaced versions of a find. Layer: `present`.

use std::fmt::Write as _;

use jiff::Timestamp;

use super::summary::words::counted;
use crate::model::{
    Change, ChangeKind, ChangeLine, ChangedOuting, RADII, Refusal, TaxonName, identification,
};
use crate::store::FindRevision;
use crate::units::Metres;

/// One change: a line for itself and one for each thing that it changes.
#[must_use]
pub fn change(change: &Change, undone_by: Option<i64>) -> String {
    let mut text = format!("{} {}", change.id, moment(change.authored.made));
    let what = match (change.kind, change.reverses) {
        (ChangeKind::Amendment, _) => "amendment".to_owned(),
        (ChangeKind::Gis, _) => "edits".to_owned(),
        (ChangeKind::Import, _) => "import".to_owned(),
        (ChangeKind::Removal, _) => "removal".to_owned(),
        (ChangeKind::Undo, Some(reversed)) => format!("undo of {reversed}"),
        (ChangeKind::Undo, None) => "undo".to_owned(),
    };
    // writing to a string cannot fail
    let _ = write!(text, " {what}");
    if let Some(who) = &change.authored.who {
        let _ = write!(text, " by {who}");
    }
    if let Some(reason) = &change.authored.reason {
        let _ = write!(text, ": {reason}");
    }
    match undone_by {
        Some(undo) => {
            let _ = write!(text, " (not in force: undone by {undo})");
        }
        None if !change.active => text.push_str(" (not in force)"),
        None => {}
    }
    text.push('\n');
    for line in &change.amendments {
        let _ = writeln!(text, "  {}", amended(line));
    }
    for outing in &change.outings {
        let _ = writeln!(text, "  {}", outing_line(change.kind, outing));
    }
    text
}

/// The change that reversed one, among these.
#[must_use]
pub fn undone_by(change: &Change, changes: &[Change]) -> Option<i64> {
    let undo = |other: &&Change| other.reverses == Some(change.id) && other.active;
    if change.active { None } else { changes.iter().rev().find(undo).map(|undo| undo.id) }
}

fn moment(when: Timestamp) -> String {
    when.strftime("%Y-%m-%d %H:%M UTC").to_string()
}

fn amended(line: &ChangeLine) -> String {
    let of = match (&line.number, &line.camera, line.find) {
        (Some(number), ..) => number.clone(),
        (None, Some(camera), _) => camera.clone(),
        (None, None, Some(find)) => format!("find {find}"),
        (None, None, None) => String::new(),
    };
    let shown = |text: &str| if text.is_empty() { "nothing".to_owned() } else { text.to_owned() };
    if let Some(why) = line.refused {
        let value = shown(&line.after);
        return format!("{of} {}: {value} refused, because {}", line.property, refusal(why));
    }
    let before = shown(line.before.as_deref().unwrap_or_default());
    format!("{of} {}: {before} -> {}", line.property, shown(&line.after))
}

/// Why an edit or a correction was refused.
#[must_use]
pub fn refusal(why: Refusal) -> String {
    match why {
        Refusal::FarFromTrack { away_m } => {
            format!("it is {} from the track of the outing", Metres(away_m))
        }
        Refusal::FarFromFinds { away_m } => {
            format!(
                "it is {} from the other finds of the outing, which has no track",
                Metres(away_m)
            )
        }
        Refusal::NotAPoint => {
            "it is not a point in degrees of latitude, to 90, and longitude, to 180".to_owned()
        }
        Refusal::WithoutRadius => {
            "a position needs its 95 % radius in the column radius95_m".to_owned()
        }
        Refusal::NotARadius => {
            format!("its radius is not between {} m and {}", RADII.start(), Metres(*RADII.end()))
        }
        Refusal::NotATime => "it is not a moment in UTC such as 2026-05-03T04:10:00Z".to_owned(),
        Refusal::AnotherDay { collected } => {
            format!("it is not on the day of the find, {collected}")
        }
        Refusal::Emptied => "a find cannot be without it".to_owned(),
        Refusal::NotAName => "it is not a name".to_owned(),
        Refusal::NotYesOrNo => "it is neither a moment nor yes or no".to_owned(),
        // the enumeration may grow
        #[allow(unreachable_patterns, reason = "of another version")]
        _ => "no find can have this value".to_owned(),
    }
}

/// The edits by another program of one change, one line each: refused ones, those in doubt with the reason, and
/// the others.
#[derive(Debug, Default)]
pub struct TakenIn {
    /// What was not taken over.
    pub refused: Vec<String>,
    /// What was taken over and may be a slip.
    pub doubtful: Vec<String>,
    /// All the rest.
    pub other: Vec<String>,
}

impl TakenIn {
    /// Sorts the lines of a change.
    #[must_use]
    pub fn of(change: &Change) -> Self {
        let mut sorted = Self::default();
        for line in &change.amendments {
            let text = amended(line);
            match (line.refused, doubt(line)) {
                (Some(_), _) => sorted.refused.push(text),
                (None, Some(why)) => sorted.doubtful.push(format!("{text} ({why})")),
                (None, None) => sorted.other.push(text),
            }
        }
        sorted
    }
}

/// What a text is that no scientific name is written like.
pub const NO_NAME: &str = "this has not the form of a scientific name";

/// Whether a text begins as a scientific name does, its qualifier aside.
#[must_use]
pub fn is_name(text: &str) -> bool {
    TaxonName::read(&identification(text).name.unwrap_or_default()).is_some()
}

/// What makes an edit that was taken over look like a slip.
fn doubt(line: &ChangeLine) -> Option<&'static str> {
    match line.property.as_str() {
        "position" if line.after == "not located" => Some("it has no position any more"),
        "withdrawn" if line.after == "withdrawn" => Some("it is left out of all lists"),
        "determination" if line.after.trim().is_empty() => Some("it has no name any more"),
        "determination" if !is_name(&line.after) => Some(NO_NAME),
        _ => None,
    }
}

fn outing_line(kind: ChangeKind, outing: &ChangedOuting) -> String {
    let whose = outing.collector.as_deref().map(|name| format!(", {name}")).unwrap_or_default();
    let date = outing.date;
    match (kind, outing.finds_before) {
        (ChangeKind::Removal, Some(finds)) => {
            format!("{date}{whose}: removed with {}", finds_in_words(finds))
        }
        (ChangeKind::Import, None) => format!("{date}{whose}: new"),
        (ChangeKind::Import, Some(finds)) => {
            format!("{date}{whose}: updated, {} before", finds_in_words(finds))
        }
        (_, None) => format!("{date}{whose}: was not in the store"),
        (_, Some(finds)) => format!("{date}{whose}: had {}", finds_in_words(finds)),
    }
}

fn finds_in_words(finds: u64) -> String {
    counted(usize::try_from(finds).unwrap_or(usize::MAX), "find", "finds")
}

/// A version of a record that a corrected notebook replaced.
#[must_use]
pub fn revision(revision: &FindRevision) -> String {
    let record = &revision.record;
    let number = record.number.as_ref().map_or("no number", |number| number.0.as_str());
    let name = record.name.as_deref().unwrap_or("no name");
    format!(
        "version {} until {}: {number}, {name}; then changed: {}\n",
        revision.revision,
        moment(revision.replaced),
        revision.what_changed
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Authored;
    use uuid::Uuid;

    #[test]
    fn change_is_formatted_with_its_reason_and_values() {
        let line = ChangeLine {
            find: Some(Uuid::nil()),
            number: Some("TH-0012".into()),
            date: None,
            camera: None,
            property: "host".into(),
            before: None,
            after: "Nothofagus".into(),
            refused: None,
        };
        let made = "2026-06-01T12:00:00Z".parse().unwrap();
        let one = Change {
            id: 4,
            uuid: Uuid::nil(),
            kind: ChangeKind::Amendment,
            authored: Authored {
                who: Some("Tamsin Hale".into()),
                made,
                reason: Some("seen".into()),
            },
            reverses: None,
            active: true,
            amendments: vec![line],
            outings: Vec::new(),
        };
        assert_eq!(
            change(&one, None),
            "4 2026-06-01 12:00 UTC amendment by Tamsin Hale: seen\n  TH-0012 host: nothing -> Nothofagus\n"
        );
    }
}
