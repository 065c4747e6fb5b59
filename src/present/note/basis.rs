//! Words what the offset of a camera's clock and the evidence for a position rest on. Layer: `present`.

use std::fmt;

use crate::error::Error;
use crate::model::{AmendedUnlocated, AnchorBasis, ClockBasis, ClockEvidence, NoEvidence};
use crate::units::{Seconds, Timestamp};

impl fmt::Display for ClockBasis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Known(evidence) => f.write_str(&words(evidence)),
            Self::Words(words) => f.write_str(words),
            Self::None => Ok(()),
        }
    }
}

fn words(evidence: &ClockEvidence) -> String {
    match evidence {
        ClockEvidence::Stated => "what was stated".into(),
        ClockEvidence::Amended => "stated in an amendment".into(),
        ClockEvidence::TakenAsRight => "being taken as right".into(),
        ClockEvidence::ShownClock { photograph } => format!("{photograph} shows a clock"),
        ClockEvidence::NoTimes => "none of its photographs has a time".into(),
        ClockEvidence::Estimated { gps_times, groups, written, other_camera, other_days } => {
            estimated(*gps_times, *groups, [*written, *other_camera, *other_days])
        }
        ClockEvidence::NoTrack => {
            declined("there is no track with times to compare its photographs with")
        }
        ClockEvidence::SeveralOffsets { groups, best } => declined(&format!(
            "{groups} groups of photographs fit several offsets; the best has {:.0} % of the probability",
            100.0 * best
        )),
        ClockEvidence::WideInterval { groups, width } => declined(&format!(
            "the 95 % interval from {groups} groups of photographs is {width} wide"
        )),
    }
}

fn declined(seen: &str) -> String {
    format!("{seen}; add a photograph of a clock, or a written time for one photograph")
}

fn estimated(gps_times: usize, groups: Option<usize>, others: [usize; 3]) -> String {
    const OTHERS: [[&str; 2]; 3] = [
        ["written time or waypoint", "written times and waypoints"],
        ["find that another camera shows", "finds that another camera shows"],
        ["other day of this camera", "other days of this camera"],
    ];
    let counted = |count: usize, [one, several]: [&str; 2]| {
        format!("{count} {}", if count == 1 { one } else { several })
    };
    let mut parts = Vec::new();
    if gps_times > 0 {
        let times = counted(gps_times, ["GPS time", "GPS times"]);
        parts.push(format!("{times} in its photographs"));
    }
    // without a track there are no stops
    if let Some(groups) = groups {
        let groups = counted(groups, ["group", "groups"]);
        parts.push(format!("{groups} of photographs matched to stops"));
    }
    let others = others.into_iter().zip(OTHERS).filter(|(count, _)| *count > 0);
    parts.extend(others.map(|(count, words)| counted(count, words)));
    if parts.is_empty() {
        "the usual distribution of clock offsets".to_owned()
    } else {
        parts.join(", ")
    }
}

impl fmt::Display for AnchorBasis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Amendment { change } => write!(f, "stated in amendment {change}"),
            Self::AmendedPhotographs { first, last } => {
                write!(f, "{}, amended", span("photographs", *first, *last))
            }
            Self::AmendedTime { at } => write!(f, "{}, amended", span("time", *at, *at)),
            Self::Words { words } => f.write_str(words),
        }
    }
}

fn span(what: &str, first: Timestamp, last: Timestamp) -> String {
    let clock = |when: Timestamp| when.strftime("%H:%M:%S").to_string();
    if Seconds::between(first, last).0 < 1.0 {
        format!("{what} {} UTC", clock(first))
    } else {
        format!("{what} {} to {} UTC", clock(first), clock(last))
    }
}

impl From<AmendedUnlocated> for Error {
    fn from(finding: AmendedUnlocated) -> Self {
        match &finding {
            AmendedUnlocated::PositionRemoved => {
                Self::input("an amendment removed its position").of(&finding)
            }
            AmendedUnlocated::NoEvidence { find, reasons } => {
                let reasons: Vec<String> =
                    reasons.iter().map(|reason| no_evidence(*reason)).collect();
                let find = find.as_deref().unwrap_or("it");
                Self::input(format!("{find} has no position"))
                    .because(reasons.join("; "))
                    .hint("state it with trug amend NUMBER --position \"LAT LON\" --within METRES")
                    .of(&finding)
            }
        }
    }
}

fn no_evidence(reason: NoEvidence) -> String {
    let clock = |when: Timestamp| when.strftime("%Y-%m-%d %H:%M:%S").to_string();
    match reason {
        NoEvidence::NoPhotographTime => "no photograph with a known time shows it".to_owned(),
        NoEvidence::NoTrack => "the outing has no track".to_owned(),
        NoEvidence::OutsideTrack { first, last } => {
            format!("its time is outside the track, {} to {} UTC", clock(first), clock(last))
        }
        NoEvidence::InGap { from, to } => {
            format!("its time is in a gap of the track, {} to {} UTC", clock(from), clock(to))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_a_track_the_basis_mentions_no_stops() {
        assert_eq!(estimated(0, None, [0, 0, 2]), "2 other days of this camera");
        let tracked = estimated(1, Some(19), [0, 1, 0]);
        let words = "1 GPS time in its photographs, 19 groups of photographs matched to stops, 1 find that \
                     another camera shows";
        assert_eq!(tracked, words);
        assert_eq!(estimated(0, None, [0; 3]), "the usual distribution of clock offsets");
    }
}
