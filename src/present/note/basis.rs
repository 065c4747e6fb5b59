//! Words what the offset of a camera's clock and the evidence for a position rest on. Layer: `present`.

use std::fmt;

use jiff::tz::TimeZone;

use super::waypoint;
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
        ClockEvidence::OtherDate => {
            "its date is not of the day, and its photographs do not show by how much; the times that are \
             written in the records are used instead"
                .into()
        }
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
        f.write_str(&anchor_words(self, None))
    }
}

/// What an anchor rests on; times in a zone, else in UTC, which is then named.
pub(crate) fn anchor_words(basis: &AnchorBasis, zone: Option<&TimeZone>) -> String {
    let span = |what: &str, first, last| span(what, first, last, zone);
    match basis {
        AnchorBasis::Coordinates { verbatim, manner } => {
            format!("\"{verbatim}\", read as {manner}")
        }
        AnchorBasis::Waypoint { name, averaged } => {
            let name = waypoint::name(name.as_deref());
            let averaged = averaged.filter(|fixes| *fixes > 1);
            let averaged = averaged.map(|fixes| format!(", {fixes} fixes averaged"));
            format!("waypoint {name}{}", averaged.unwrap_or_default())
        }
        AnchorBasis::PhotoPosition { photograph, stated_error: Some(error) } => {
            format!("position in {photograph}, stated error {error} at about 50 %")
        }
        AnchorBasis::PhotoPosition { photograph, stated_error: None } => {
            format!("position in {photograph}, no error recorded")
        }
        AnchorBasis::PhotographTimes { photographs, at, positions_of } => {
            let time = clock(*at, zone);
            format!("{photographs}, {time}{}", between(positions_of.as_deref()))
        }
        AnchorBasis::WrittenTime { at, watch, positions_of } => {
            let time = clock(*at, zone);
            let watch = watch.map(|watch| format!(", watch {watch}")).unwrap_or_default();
            format!("written time {time}{watch}{}", between(positions_of.as_deref()))
        }
        AnchorBasis::Amendment { change } => format!("stated in amendment {change}"),
        AnchorBasis::AmendedPhotographs { first, last } => {
            format!("{}, amended", span("photographs", *first, *last))
        }
        AnchorBasis::AmendedTime { at } => format!("{}, amended", span("time", *at, *at)),
        AnchorBasis::Words { words } => words.clone(),
    }
}

/// The camera whose positions stand in for a track.
fn between(positions_of: Option<&str>) -> String {
    let between = |camera| format!(", between positions of photographs ({camera})");
    positions_of.map(between).unwrap_or_default()
}

fn span(what: &str, first: Timestamp, last: Timestamp, zone: Option<&TimeZone>) -> String {
    if Seconds::between(first, last).0 < 1.0 {
        format!("{what} {}", clock(first, zone))
    } else {
        let (first, last) = (clock(first, zone), clock(last, zone));
        format!("{what} {} to {last}", first.trim_end_matches(" UTC"))
    }
}

/// `11:12:30` in a zone, else `09:12:30 UTC`.
fn clock(instant: Timestamp, zone: Option<&TimeZone>) -> String {
    match zone {
        Some(zone) => zone.to_datetime(instant).strftime("%H:%M:%S").to_string(),
        None => instant.strftime("%H:%M:%S UTC").to_string(),
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
    use crate::model::{PhotographRange, WatchOffset};
    use crate::units::Metres;

    #[test]
    fn without_a_track_the_basis_mentions_no_stops() {
        assert_eq!(estimated(0, None, [0, 0, 2]), "2 other days of this camera");
        let tracked = estimated(1, Some(19), [0, 1, 0]);
        let words = "1 GPS time in its photographs, 19 groups of photographs matched to stops, 1 find that \
                     another camera shows";
        assert_eq!(tracked, words);
        assert_eq!(estimated(0, None, [0; 3]), "the usual distribution of clock offsets");
    }

    #[test]
    fn anchors_state_what_they_rest_on_in_utc_and_in_local_time() {
        let at = |time: &str| -> Timestamp { format!("2026-10-17T{time}Z").parse().unwrap() };
        let photographs = |count: usize| PhotographRange {
            first: "P1.jpg".to_owned(),
            last: format!("P{count}.jpg"),
            count,
        };
        let watch = WatchOffset {
            ahead: Some(Seconds(-720.0)),
            low: Seconds(-840.0),
            high: Seconds(-560.0),
        };
        let (first, last) = (at("09:12:30.7"), at("09:13:05"));
        let camera = Some("QX5".to_owned());
        let waypoint = |averaged| AnchorBasis::Waypoint { name: Some("012".to_owned()), averaged };
        let position = |stated_error| AnchorBasis::PhotoPosition {
            photograph: "P1.jpg".to_owned(),
            stated_error,
        };
        let timed = |count, positions_of| AnchorBasis::PhotographTimes {
            photographs: photographs(count),
            at: first,
            positions_of,
        };
        let written =
            |watch, positions_of| AnchorBasis::WrittenTime { at: last, watch, positions_of };
        let coordinates = AnchorBasis::Coordinates {
            verbatim: "-42.6, 146.1".to_owned(),
            manner: "degrees".to_owned(),
        };
        let cases = [
            (coordinates, "\"-42.6, 146.1\", read as degrees"),
            (waypoint(None), "waypoint 012"),
            (waypoint(Some(1)), "waypoint 012"),
            (waypoint(Some(40)), "waypoint 012, 40 fixes averaged"),
            (AnchorBasis::Waypoint { name: None, averaged: None }, "waypoint without a name"),
            (position(None), "position in P1.jpg, no error recorded"),
            (position(Some(Metres(5.0))), "position in P1.jpg, stated error 5.0 m at about 50 %"),
            (timed(1, None), "photograph P1.jpg, 09:12:30 UTC"),
            (
                timed(3, camera.clone()),
                "photographs P1.jpg to P3.jpg, 09:12:30 UTC, between positions of photographs (QX5)",
            ),
            (written(None, None), "written time 09:13:05 UTC"),
            (written(Some(watch), None), "written time 09:13:05 UTC, watch 12 min slow (9 to 14)"),
            (
                written(None, camera),
                "written time 09:13:05 UTC, between positions of photographs (QX5)",
            ),
            (AnchorBasis::Amendment { change: 4 }, "stated in amendment 4"),
            (
                AnchorBasis::AmendedPhotographs { first, last },
                "photographs 09:12:30 to 09:13:05 UTC, amended",
            ),
            (AnchorBasis::AmendedTime { at: last }, "time 09:13:05 UTC, amended"),
            (
                "photograph P2.jpg, 09:00:00 UTC".to_owned().into(),
                "photograph P2.jpg, 09:00:00 UTC",
            ),
        ];
        let zone = TimeZone::fixed(jiff::tz::offset(2));
        for (basis, words) in cases {
            assert_eq!(basis.to_string(), words);
            let local = words.replace("09:1", "11:1");
            let local = if words.contains(":00:00") { local } else { local.replace(" UTC", "") };
            assert_eq!(anchor_words(&basis, Some(&zone)), local);
        }
    }
}
