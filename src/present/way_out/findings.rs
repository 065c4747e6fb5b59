//! Words the findings about a way out. Layer: `present`.

use serde::Serialize;
use serde_json::{Value, json};

use crate::model::{Activity, Landmark, OffsetLine, RankReason, RouteNote, WayOutWarning};
use crate::wayout::Offset;
use crate::wayout::legs::RouteKind;
use crate::wayout::light::span;

/// The sentence of a warning, without a full stop.
#[must_use]
pub fn warning(warning: &WayOutWarning) -> String {
    match warning {
        WayOutWarning::CompassUnreliable => {
            "a compass is unreliable here, near the magnetic pole: check bearings by the sun and the map"
                .to_owned()
        }
        WayOutWarning::CompassUnusable => {
            "a compass is unusable here, near the magnetic pole: use the true bearing and the sun"
                .to_owned()
        }
        WayOutWarning::DeclinationUncertain { sigma } => format!(
            "the declination is only known within {:.1}\u{b0} (one standard deviation)",
            sigma.0
        ),
        WayOutWarning::NoOffset { line } => format!("no offset was computed: {}", no_offset(*line)),
        WayOutWarning::LongerByRadius { radius, allowed } => format!(
            "the arrival and the latest time to set out allow {} for your position: the goal may lie {radius} farther away",
            span(*allowed)
        ),
        WayOutWarning::BearingRange { goal, radius, nearest, farthest, from, to } => format!(
            "your position is only known within {radius} (95 %): {goal} is {nearest} to {farthest} away, between {from} and {to} by compass"
        ),
        WayOutWarning::PositionUncertain { radius } => {
            format!("your position is only known within {radius}")
        }
    }
}

fn no_offset(line: OffsetLine) -> &'static str {
    match line {
        OffsetLine::Given => "the line does not pass the goal, or ends too soon on both sides",
        OffsetLine::KnownPath => {
            "no path used on three outings or more passes the goal, or it ends too soon on both sides"
        }
    }
}

/// The sentence of a note on a route.
#[must_use]
pub fn note(note: RouteNote) -> String {
    match note {
        RouteNote::SteepSlopes { steepest } => {
            format!("crosses slopes of {:.0}\u{b0}: risk of falling", steepest.0)
        }
        RouteNote::NoElevations => "no elevations known: the times are for level ground".to_owned(),
        RouteNote::ObstaclesUnknown => "obstacles on it are not known".to_owned(),
        RouteNote::CrossesClosedArea => {
            "crosses an area that you marked as closed: do not follow it as shown".to_owned()
        }
        RouteNote::CrossesGap => "crosses a gap in the track".to_owned(),
        RouteNote::FromElevations { spacing } => format!(
            "from elevations every {spacing}: smaller streams, cliffs and thickets are not included"
        ),
    }
}

/// The reason for the rank of a route.
#[must_use]
pub fn rank(kind: RouteKind, reason: RankReason) -> String {
    let ground = match kind {
        RouteKind::Retrace => "you walked it today",
        RouteKind::KnownPaths => "walked on earlier outings",
        RouteKind::Terrain => "passable by elevation only, never walked",
        RouteKind::Direct => "for checking only: obstacles are not known",
    };
    let pace = reason.slower.map_or_else(
        || "the quickest".to_owned(),
        |slower| format!("{} slower than the quickest", span(slower)),
    );
    let steep = if reason.steep { ", with steep ground" } else { "" };
    let gap = if reason.crosses_gap { ", across a gap in the track" } else { "" };
    let closed = if reason.crosses_closed { ", ACROSS CLOSED GROUND" } else { "" };
    format!("{pace}; {ground}{steep}{gap}{closed}")
}

/// The instruction of a deliberate offset, without a full stop.
#[must_use]
pub fn offset(offset: &Offset) -> String {
    let to = match offset.line {
        OffsetLine::Given => "",
        OffsetLine::KnownPath => "to the path past it that you walked before, ",
    };
    let Offset { side, turn, distance, paces, along, too_far_paces, .. } = offset;
    let magnetic = offset.magnetic_bearing;
    format!(
        "{to}aim {:.0}\u{b0} to the {side} of it: steer {magnetic} for {distance} ({paces} paces); on the line turn {turn} and follow it {along} to the goal. If the line has not come after {too_far_paces} paces, stop: you have crossed it or drifted past its end; go back on {} and take a new fix",
        offset.degrees.0,
        magnetic.back(),
    )
}

/// What to expect at the end of a leg.
#[must_use]
pub fn landmarks(landmarks: &[Landmark]) -> String {
    landmarks.iter().map(landmark).collect::<Vec<_>>().join("; ")
}

fn landmark(landmark: &Landmark) -> String {
    match landmark {
        Landmark::Goal { name: Some(name) } => name.clone(),
        Landmark::Goal { name: None } => "you are at the goal".to_owned(),
        Landmark::Gap => "through a gap in the track: the ground between is not known".to_owned(),
        Landmark::TrackReached => "you reach the track".to_owned(),
        Landmark::BeenThere { activity, time } => {
            let did = match activity {
                Activity::Walking => "you passed",
                Activity::Searching => "you searched",
                Activity::Stationary => "you stopped",
            };
            format!("{did} here at {:02}:{:02}", time.hour(), time.minute())
        }
        Landmark::KeepOn => "keep on".to_owned(),
        Landmark::Bear { side } => format!("bear {side}"),
        Landmark::Turn { side } => format!("turn {side}"),
        Landmark::TurnBack { side } => format!("turn back {side}"),
    }
}

/// A finding as JSON: its code, its values and its sentence.
pub(super) fn object(finding: &impl Serialize, sentence: String) -> Value {
    let mut object = json!(finding);
    object["sentence"] = json!(sentence);
    object
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Degrees, Metres, Radius95, Seconds};

    #[test]
    fn json_holds_code_values_and_sentence() {
        let radius = Radius95::new(Metres(120.0)).unwrap();
        let found = WayOutWarning::PositionUncertain { radius };
        let object = object(&found, warning(&found));
        assert_eq!(
            object,
            json!({
                "code": "position-uncertain",
                "radius95_m": 120.0,
                "sentence": "your position is only known within 120 m",
            })
        );
    }

    #[test]
    fn rank_names_pace_ground_and_dangers() {
        let mut reason = RankReason::default();
        assert_eq!(rank(RouteKind::Retrace, reason), "the quickest; you walked it today");
        reason.slower = Some(Seconds(600.0));
        reason.steep = true;
        reason.crosses_closed = true;
        let words = rank(RouteKind::Terrain, reason);
        assert!(words.starts_with("10 min slower than the quickest; passable"), "{words}");
        assert!(words.ends_with(", with steep ground, ACROSS CLOSED GROUND"), "{words}");
    }

    #[test]
    fn notes_state_their_quantity() {
        let steep = note(RouteNote::SteepSlopes { steepest: Degrees(41.4) });
        assert_eq!(steep, "crosses slopes of 41\u{b0}: risk of falling");
    }
}
