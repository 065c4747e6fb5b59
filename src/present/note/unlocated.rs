//! Words why finds, and photographs without a record, have no position. Layer: `present`.

use std::fmt;

use crate::error::Error;
use crate::model::{
    LocalInstant, NotLocated, OffTrack, PhotographRange, Unlocated, UnlocatedFinding,
    UnlocatedReason,
};

use super::notebook::early_or_late;

impl From<&Unlocated> for Error {
    fn from(unlocated: &Unlocated) -> Self {
        match unlocated {
            Unlocated::Known(known) => Self::from(&**known),
            Unlocated::Reported(report) => report.clone(),
        }
    }
}

impl From<&NotLocated> for Error {
    fn from(known: &NotLocated) -> Self {
        let NotLocated { finding, file, line, sheet } = known;
        let (what, hint) = match finding {
            UnlocatedFinding::FindNotLocated { find, .. } => {
                (format!("{find} has no position"), FIND_HINT)
            }
            UnlocatedFinding::PhotographsNotLocated { photographs, .. } => {
                let verb = if photographs.count == 1 { "has" } else { "have" };
                (format!("{photographs} {verb} no position"), "add the track of that time")
            }
        };
        let mut error = Self::input(what)
            .because(why(finding))
            .hint(hint)
            .in_sheet(sheet.as_deref())
            .of(finding);
        if let Some(file) = file {
            error = error.in_file(file);
        }
        match line {
            Some(line) => error.at_line(*line),
            None => error,
        }
    }
}

const FIND_HINT: &str = "add the track of that time, a time, or coordinates to the record";

impl fmt::Display for Unlocated {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Error::from(self).fmt(f)
    }
}

fn why(finding: &UnlocatedFinding) -> String {
    match finding {
        UnlocatedFinding::FindNotLocated { reasons, .. } if reasons.is_empty() => {
            "it has no coordinates, no waypoint, no photograph with a time and no time".to_owned()
        }
        UnlocatedFinding::PhotographsNotLocated { reasons, .. } if reasons.is_empty() => {
            "neither a position in the file nor a time on a track".to_owned()
        }
        finding => joined(finding.reasons().iter().map(ToString::to_string)),
    }
}

/// What a reason lacks, without the evidence of the single find: `there is no track with times`.
///
/// Finds that lack the same are listed together.
pub(crate) fn lacking(reason: &UnlocatedReason) -> String {
    match reason {
        UnlocatedReason::CameraOffsetUnknown { camera, .. } => {
            format!("the clock offset of {camera} is unknown")
        }
        UnlocatedReason::PhotographsOffTrack { track, .. }
        | UnlocatedReason::WrittenTimeOffTrack { track, .. } => track.to_string(),
        reason => reason.to_string(),
    }
}

/// Several reasons in one sentence.
pub(crate) fn joined(reasons: impl Iterator<Item = String>) -> String {
    reasons.collect::<Vec<_>>().join("; ")
}

impl fmt::Display for UnlocatedReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WrittenTimesOff { ahead, sure } => {
                let verb = if *sure { "are probably" } else { "may be" };
                let off = early_or_late(*ahead);
                write!(f, "the written times of this day {verb} {off}, so they are not used")
            }
            Self::DateNotKnown { date } => {
                write!(f, "its date \"{date}\" is not known, and so not the day of its time")
            }
            Self::CoordinatesOpen { verbatim } => {
                write!(f, "its coordinates \"{verbatim}\" have more than one possible reading")
            }
            Self::CoordinatesApart { verbatim, away } => write!(
                f,
                "its coordinates \"{verbatim}\" lie {away} from other finds of the day, so they are not used"
            ),
            Self::WaypointsAlike { waypoint, waypoints } => {
                write!(f, "{waypoints} waypoints that {waypoint} can mean lie in different places")
            }
            Self::NoSuchWaypoint { waypoint } => {
                write!(f, "none of the outing's waypoints is named {waypoint}")
            }
            Self::WaypointInDoubt { doubt } => write!(f, "{doubt}, so it is not used"),
            Self::CameraOffsetUnknown { photographs, .. } => {
                write!(f, "{photographs}: {}", lacking(self))
            }
            Self::PhotographsOffTrack { photographs, at, track } => {
                write!(f, "{photographs}, {}: {track}", clock(*at))
            }
            Self::WrittenTimeOffTrack { at, track } => {
                write!(f, "written time {}: {track}", clock(*at))
            }
        }
    }
}

impl fmt::Display for OffTrack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAssociated => {
                f.write_str("no track is associated with it with enough certainty")
            }
            Self::NoTrackOfDay => f.write_str("there is no track of that day"),
            Self::NoTrack => f.write_str("there is no track with usable times"),
            Self::PhotoPositionsOnly { from, to } => write!(
                f,
                "there is no track of that day with times, and the positions of photographs run from {} to {}",
                clock(*from),
                clock(*to)
            ),
            Self::OutsideTrack { from, to, beyond } => write!(
                f,
                "the track runs from {} to {}; no position is estimated more than {beyond} outside it",
                clock(*from),
                clock(*to)
            ),
        }
    }
}

impl fmt::Display for PhotographRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.count {
            1 => write!(f, "photograph {}", self.first),
            _ => write!(f, "photographs {} to {}", self.first, self.last),
        }
    }
}

/// `11:12:30`, in the zone of the outing.
fn clock(instant: LocalInstant) -> String {
    instant.clock().strftime("%H:%M:%S").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Camera, FindReference, WaypointDoubt, WaypointDoubtReason as DoubtReason};
    use crate::units::{Metres, Seconds};
    use jiff::tz::{TimeZone, offset};

    fn at(time: &str) -> LocalInstant {
        let time = format!("2026-10-17T{time}Z").parse().unwrap();
        LocalInstant::new(time, &TimeZone::fixed(offset(2)))
    }

    fn photographs(count: usize) -> PhotographRange {
        let name = |k: usize| format!("P{k}.jpg");
        PhotographRange { first: name(1), last: name(count), count }
    }

    fn find(reasons: Vec<UnlocatedReason>) -> Unlocated {
        let find = FindReference { number: Some("TH-7".to_owned()), line: 3, in_workbook: false };
        let finding = UnlocatedFinding::FindNotLocated { find, reasons };
        NotLocated { finding, file: Some("day/notes.csv".into()), line: Some(3), sheet: None }
            .into()
    }

    /// Each reason with its words.
    fn all() -> Vec<(UnlocatedReason, &'static str)> {
        use UnlocatedReason as Reason;
        let camera = Camera { model: Some("QX5".to_owned()), ..Camera::default() };
        let (from, to) = (at("07:00:00"), at("10:30:00"));
        let beyond = Seconds(1_800.0);
        let reason = DoubtReason::UndatedFarFromTrack;
        let doubt = WaypointDoubt {
            waypoint: Some("012".to_owned()),
            from_track: Some(Metres(512.0)),
            reason,
        };
        vec![
            (
                Reason::WrittenTimesOff { ahead: Seconds(-7_200.0), sure: true },
                "the written times of this day are probably 2 h 00 min early, so they are not used",
            ),
            (
                Reason::WrittenTimesOff { ahead: Seconds(3_600.0), sure: false },
                "the written times of this day may be 1 h 00 min late, so they are not used",
            ),
            (
                Reason::CoordinatesOpen { verbatim: "42 36 N".to_owned() },
                "its coordinates \"42 36 N\" have more than one possible reading",
            ),
            (
                Reason::WaypointsAlike { waypoint: "12".to_owned(), waypoints: 2 },
                "2 waypoints that 12 can mean lie in different places",
            ),
            (
                Reason::NoSuchWaypoint { waypoint: "12".to_owned() },
                "none of the outing's waypoints is named 12",
            ),
            (
                Reason::WaypointInDoubt { doubt },
                "waypoint 012 lies 512 m from the track, and no time shows that it was marked on this outing, so it \
                 is not used",
            ),
            (
                Reason::CameraOffsetUnknown { photographs: photographs(1), camera },
                "photograph P1.jpg: the clock offset of QX5 is unknown",
            ),
            (
                Reason::PhotographsOffTrack {
                    photographs: photographs(3),
                    at: at("09:12:30.9"),
                    track: OffTrack::NoTrack,
                },
                "photographs P1.jpg to P3.jpg, 11:12:30: there is no track with usable times",
            ),
            (
                Reason::WrittenTimeOffTrack { at: at("09:12:00"), track: OffTrack::NoTrackOfDay },
                "written time 11:12:00: there is no track of that day",
            ),
            (
                Reason::WrittenTimeOffTrack {
                    at: at("22:10:00"),
                    track: OffTrack::OutsideTrack { from, to, beyond },
                },
                "written time 00:10:00: the track runs from 09:00:00 to 12:30:00; no position is estimated more \
                 than 30 min 00 s outside it",
            ),
            (
                Reason::WrittenTimeOffTrack {
                    at: at("09:12:00"),
                    track: OffTrack::PhotoPositionsOnly { from, to },
                },
                "written time 11:12:00: there is no track of that day with times, and the positions of photographs run from \
                 09:00:00 to 12:30:00",
            ),
            (
                Reason::WrittenTimeOffTrack { at: at("09:12:00"), track: OffTrack::NotAssociated },
                "written time 11:12:00: no track is associated with it with enough certainty",
            ),
        ]
    }

    #[test]
    fn reasons_are_worded_with_their_values() {
        for (reason, words) in all() {
            assert_eq!(reason.to_string(), words);
        }
    }

    #[test]
    fn a_find_without_a_position_names_its_reasons_and_its_place() {
        let [_, two, three, ..] = &all()[..] else { panic!() };
        let error = Error::from(&find(vec![two.0.clone(), three.0.clone()]));
        assert_eq!(
            error.to_string(),
            format!(
                "find TH-7 has no position (notes.csv, line 3)\nbecause: {}; {}\nhint: {FIND_HINT}",
                two.1, three.1
            )
        );
        assert_eq!(error.code(), Some("find-not-located"));
        assert_eq!(
            Error::from(&find(Vec::new())).why(),
            Some("it has no coordinates, no waypoint, no photograph with a time and no time")
        );
        let finding = UnlocatedFinding::PhotographsNotLocated {
            photographs: photographs(2),
            reasons: Vec::new(),
        };
        let group = NotLocated { finding, file: None, line: None, sheet: None };
        assert_eq!(
            Error::from(&group).to_string(),
            "photographs P1.jpg to P2.jpg have no position\n\
             because: neither a position in the file nor a time on a track\n\
             hint: add the track of that time"
        );
    }

    #[test]
    fn what_a_store_keeps_is_read_with_its_values() {
        let reasons: Vec<UnlocatedReason> = all().into_iter().map(|(reason, _)| reason).collect();
        let unlocated = find(reasons.clone());
        let read =
            |json: &str| Unlocated::from(Error::of_json(serde_json::from_str(json).unwrap()));
        let kept = read(&serde_json::to_string(&Error::from(&unlocated)).unwrap());
        assert_eq!(kept.reasons(), reasons);
        assert_eq!(kept.to_string(), unlocated.to_string());
        let earlier = r#"{"file": "notes.csv", "line": 3, "what": "find 7 has no position", "why": "no track"}"#;
        let earlier = read(earlier);
        assert!(matches!(earlier, Unlocated::Reported(_)));
        assert_eq!(
            earlier.to_string(),
            "find 7 has no position (notes.csv, line 3)\nbecause: no track"
        );
    }
}
