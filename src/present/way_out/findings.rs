//! Words the findings about a way out. Layer: `present`.

use crate::error::Error;
use crate::model::{
    Activity, Caution, Landmark, NoRoute, OffsetLine, RankReason, RouteNote, StartOrigin,
    TrackGoal, WayOutWarning,
};
use crate::wayout::Offset;
use crate::wayout::legs::RouteKind;
use crate::wayout::light::{Advice, span};

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
        RouteNote::MappedNotWalked { length } => format!(
            "{:.0} m of it only mapped, not walked by you: whether a path is there and open to you is not known",
            length.0
        ),
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
        RouteKind::MappedPaths => "mapped, not walked by you",
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

/// The name of a kind of route.
#[must_use]
pub fn route_kind(kind: RouteKind) -> &'static str {
    match kind {
        RouteKind::Direct => "straight line",
        RouteKind::Retrace => "back along today's track",
        RouteKind::KnownPaths => "along tracks of earlier outings",
        RouteKind::MappedPaths => "along mapped paths",
        RouteKind::Terrain => "across open ground",
    }
}

/// The name of an advice.
#[must_use]
pub fn advice(advice: Advice) -> &'static str {
    match advice {
        Advice::Comfortable => "comfortable",
        Advice::Tight => "tight",
        Advice::DoNotSetOut => "do not set out",
    }
}

/// Why there is no route of a kind: what, why and what to do.
#[must_use]
pub fn no_route(reason: &NoRoute) -> Error {
    let elsewhere = "you or the goal are more than 500 m from it, or its parts are not connected";
    let (what, why) = match reason {
        NoRoute::TracksDoNotLead => {
            ("no track of an earlier outing leads there", elsewhere.to_owned())
        }
        NoRoute::TrackDoesNotLead => ("today's track does not lead there", elsewhere.to_owned()),
        across => ("no route across open ground was found", across_ground(across)),
    };
    let hint = match reason {
        NoRoute::TracksDoNotLead | NoRoute::TrackDoesNotLead => "take another route",
        _ => "give the tiles with start and goal with --elevation, or take another route",
    };
    Error::input(what).because(why).hint(hint).of(reason)
}

fn across_ground(reason: &NoRoute) -> String {
    match reason {
        NoRoute::NoElevationAtStart { at } => format!("the elevation tile has no data at {at}"),
        NoRoute::NoElevationAtGoal => "the elevation tile has no data at the goal".to_owned(),
        NoRoute::NoGoal => "there is no goal".to_owned(),
        NoRoute::NoStart => "there is no place to start from".to_owned(),
        _ => "voids, steep ground or closed areas surround it".to_owned(),
    }
}

/// Where the position comes from that the way out starts at.
#[must_use]
pub fn origin(origin: &StartOrigin) -> String {
    match origin {
        StartOrigin::Stated => "position as stated".to_owned(),
        StartOrigin::Planned => "planned".to_owned(),
        StartOrigin::LastFix { age, radius_grown } => {
            let grown = if *radius_grown { ", radius grown with the time since" } else { "" };
            format!("last fix, {age} old{grown}")
        }
        StartOrigin::DeadReckoning { from, legs, distance } => {
            let unit = if *legs == 1 { "leg" } else { "legs" };
            format!("{}, then {legs} {unit} of dead reckoning, {distance}", self::origin(from))
        }
    }
}

/// The name of a goal that was taken from the day's track.
#[must_use]
pub fn track_goal(goal: TrackGoal) -> &'static str {
    match goal {
        TrackGoal::LeftTheRoad => "where the track left the road",
        TrackGoal::Start => "start of the track",
    }
}

/// The sentence of a general caution.
#[must_use]
pub fn caution(caution: Caution) -> &'static str {
    match caution {
        Caution::ComputedOnly => {
            "Map, compass and your own eyes come first: this is computed, obstacles are not known."
        }
        Caution::TellSomebody => "Tell somebody your route and the time you will be back.",
        Caution::WhenLost => {
            "Lost? Stop. Hurt, exhausted or dark: stay put, keep warm, make yourself seen."
        }
        Caution::EmergencyCall => {
            "Emergency call 112 (EU and most GSM networks) or the local number."
        }
        Caution::DistressSignal => {
            "Signal: six blasts or flashes in a minute, then a minute's pause (Alpine, UK); three in North America."
        }
        Caution::LocalAdvice => {
            "Local advice first: closures, hunting, weather, rules on collecting and protected species."
        }
    }
}

/// All general cautions, one line each.
#[must_use]
pub fn cautions() -> String {
    Caution::ALL.map(|one| format!("* {}\n", caution(one))).concat()
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

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::present::coded::with_sentence;
    use crate::units::{Degrees, Metres, Radius95, Seconds};

    #[test]
    fn json_holds_code_values_and_sentence() {
        let radius = Radius95::new(Metres(120.0)).unwrap();
        let found = WayOutWarning::PositionUncertain { radius };
        let object = with_sentence(&found, &warning(&found));
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
