//! Words the conflicts of a day. Layer: `present`.
//!
//! Both sources are quoted with their values; which of them is used, and why, comes before what to do.

use std::fmt::Display;

use super::waypoint::in_doubt;
use super::worded;
use crate::error::Error;
use crate::model::{
    AnchorKind, ConflictingPosition, CoordinatesApart, PositionConflict, ReadingFinding,
    RecordConflict,
};

impl From<PositionConflict> for Error {
    fn from(finding: PositionConflict) -> Self {
        let (what, why, hint) = of_positions(&finding);
        worded(&finding, what, why, hint)
    }
}

impl From<RecordConflict> for Error {
    fn from(finding: RecordConflict) -> Self {
        let (what, why, hint) = of_records(&finding);
        worded(&finding, what, why, hint)
    }
}

fn of_positions(finding: &PositionConflict) -> (String, String, String) {
    match finding {
        PositionConflict::PositionsApart { find, apart, used, other, chance } => (
            format!("{find}: two positions lie {apart} apart"),
            format!("{}; {}; {} if both were right", shown(used), shown(other), p_value(*chance)),
            format!(
                "the {} is used; check whether the other belongs to another find",
                kind(used.kind)
            ),
        ),
        PositionConflict::ReadingChosen { find, verbatim, manner, slip, readings } => (
            format!(
                "{find}: \"{verbatim}\" is read as {manner}{}",
                if *slip { ", with a writing error corrected" } else { "" }
            ),
            all_readings(readings),
            "only that reading lies near the track; correct the record if another is meant".into(),
        ),
        PositionConflict::ReadingOpen { find, verbatim, readings } => (
            format!("{find}: \"{verbatim}\" is not used"),
            all_readings(readings),
            "add the hemisphere letters, the datum or the grid to the record".into(),
        ),
        PositionConflict::CoordinatesApart(apart) => coordinates_apart(apart),
        PositionConflict::WaypointInDoubt { find, named, used, doubt } => {
            in_doubt(find, *named, *used, doubt)
        }
    }
}

/// What, why and hint of coordinates that do not fit those of other finds.
fn coordinates_apart(apart: &CoordinatesApart) -> (String, String, String) {
    let CoordinatesApart { find, verbatim, from, away, within, fits, outnumbered, used } = apart;
    let not_used = if *used { "" } else { ", and is not used" };
    let why = within.map_or_else(
        || "finds of one collector and date seldom lie so far apart".to_owned(),
        |within| {
            format!("by the written times that way takes {within}, faster than 120 km an hour")
        },
    );
    let fits = fits.as_ref().map_or_else(
        || "no common writing error explains it".to_owned(),
        |fits| format!("read as {} it is {}, beside other finds of the day", fits.manner, fits.at),
    );
    let open = if *outnumbered { "" } else { "; which of them is wrong cannot be determined" };
    let hint = "correct the coordinates that are wrong, or state \"position final: yes\" beside those that are right";
    (
        format!("{find}: \"{verbatim}\" lies {away} from {from} of the same day{not_used}"),
        format!("{why}; {fits}{open}"),
        hint.into(),
    )
}

fn of_records(finding: &RecordConflict) -> (String, String, String) {
    match finding {
        RecordConflict::PhotographShared { photograph, finds } => (
            format!("{photograph} is claimed by {}", joined(finds)),
            "one photograph rarely shows two finds; both positions use it".into(),
            "correct the photographs of one of them, unless both are shown in it".into(),
        ),
        RecordConflict::NumberRepeated { number, times, places, lines } => {
            let times = if *times == 2 { "twice".to_owned() } else { format!("{times} times") };
            let lines = if *lines { "lines " } else { "" };
            (
                format!("the number {number} is used {times}"),
                format!("it is on {lines}{}", joined(places)),
                "give one of them a different number; a number identifies one find".into(),
            )
        }
        RecordConflict::OtherDate { find, written, outing } => (
            format!("{find} is dated {written}"),
            format!("its photographs or its file belong to the outing of {outing}"),
            "correct the date, or import it with the track of its own day".into(),
        ),
        RecordConflict::NoStop { find, nearest } => {
            let away = nearest.map_or_else(
                || "no stop within half an hour".to_owned(),
                |away| format!("the nearest stop is {away} away"),
            );
            (
                format!("{find} is timed where the collector did not stop"),
                format!("the track has no stop at that time; {away}"),
                "check whether its photographs or its time belong to another find".into(),
            )
        }
        RecordConflict::OutOfOrder { find, earlier, neighbour } => {
            let side = if earlier.0 < 0.0 { "later than" } else { "earlier than" };
            (
                format!("{find} was found {} {side} {neighbour}", earlier.abs()),
                "numbers are usually given in the order of collection".into(),
                "check whether its number, time or photographs belong to another find".into(),
            )
        }
        RecordConflict::PlaceElsewhere { find, place, away, nearest, nearest_place } => (
            format!("{find} of {place} lies {away} from every other find of that name"),
            format!("the nearest find is {nearest} of {nearest_place}"),
            "check whether the place name or the photographs belong to another find".into(),
        ),
    }
}

fn joined(names: &[impl Display]) -> String {
    names.iter().map(ToString::to_string).collect::<Vec<_>>().join(" and ")
}

fn shown(position: &ConflictingPosition) -> String {
    let ConflictingPosition { radius, basis, .. } = position;
    format!("{} ({basis}, within {radius})", kind(position.kind))
}

fn kind(kind: AnchorKind) -> &'static str {
    match kind {
        AnchorKind::Correction => "corrected position",
        AnchorKind::Coordinates => "written position",
        AnchorKind::Waypoint => "waypoint",
        AnchorKind::PhotoPosition => "position in a photograph",
        AnchorKind::PhotoTime => "time of its photographs",
        AnchorKind::WrittenTime => "written time",
    }
}

/// `p = 0.0005`, at least `p < 0.000001`.
fn p_value(chance: f64) -> String {
    if chance < 1e-6 {
        return "p < 0.000001".into();
    }
    let figures = if chance < 0.001 { 6 } else { 3 };
    format!("p = {chance:.figures$}")
}

fn all_readings(readings: &[ReadingFinding]) -> String {
    let words = |reading: &ReadingFinding| {
        let away = reading.from_track.map_or_else(
            || "no track to compare it with".to_owned(),
            |away| format!("{away} from the track"),
        );
        format!("{} gives {}, {away}", reading.manner, reading.at)
    };
    readings.iter().map(words).collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn p_values_have_as_many_figures_as_they_need() {
        assert_eq!(p_value(1e-9), "p < 0.000001");
        assert_eq!(p_value(0.000_5), "p = 0.000500");
        assert_eq!(p_value(0.012_3), "p = 0.012");
    }
}
