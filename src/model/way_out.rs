//! Findings about a way out: warnings, notes on a route, the reason of its rank, why there is none, where
//! it starts. Quantities and a code each; sentences are made in `present`. Layer: `model`.

use std::fmt;

use jiff::civil::Time;
use serde::Serialize;

use super::Activity;
use crate::units::{Degrees, LatLon, MagneticBearing, Metres, Radius95, Seconds};

/// A warning about a way out as a whole.
///
/// Each is a condition under which the bearing, the time or the position of the answer is worth less than it looks.
/// Codes and quantities are listed in `docs/way-out.md`, "Findings in JSON".
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum WayOutWarning {
    /// The horizontal field is weak: check bearings by other means.
    CompassUnreliable,
    /// The field is too weak for a compass.
    CompassUnusable,
    /// The declination is known to no better than this, one standard deviation.
    DeclinationUncertain {
        /// The standard deviation.
        #[serde(rename = "sigma_deg")]
        sigma: Degrees,
    },
    /// A deliberate offset was asked for and cannot be computed.
    NoOffset {
        /// Which line it was to use.
        line: OffsetLine,
    },
    /// Times allow for a goal that lies farther away by the radius of the position.
    LongerByRadius {
        /// The 95 % radius of the position.
        #[serde(rename = "radius95_m")]
        radius: Radius95,
        /// The time allowed for it.
        #[serde(rename = "allowed_s")]
        allowed: Seconds,
    },
    /// The bearing to the goal is a wide range.
    BearingRange {
        /// The name of the goal.
        goal: String,
        /// The 95 % radius of the position.
        #[serde(rename = "radius95_m")]
        radius: Radius95,
        /// The goal is at least that far away.
        #[serde(rename = "nearest_m")]
        nearest: Metres,
        /// And at most that far.
        #[serde(rename = "farthest_m")]
        farthest: Metres,
        /// The lowest bearing by compass.
        #[serde(rename = "from_magnetic_deg")]
        from: MagneticBearing,
        /// The highest.
        #[serde(rename = "to_magnetic_deg")]
        to: MagneticBearing,
    },
    /// The position is known to no better than this.
    PositionUncertain {
        /// The 95 % radius of the position.
        #[serde(rename = "radius95_m")]
        radius: Radius95,
    },
}

/// The line that a deliberate offset aims at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum OffsetLine {
    /// One that was given.
    Given,
    /// A path known from the tracks of several outings.
    KnownPath,
}

/// A note on one route.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum RouteNote {
    /// It crosses ground so steep that people fall.
    SteepSlopes {
        /// The steepest slope on it.
        #[serde(rename = "steepest_deg")]
        steepest: Degrees,
    },
    /// No elevation is known: its times are for level ground.
    NoElevations,
    /// What lies on it is not known.
    ObstaclesUnknown,
    /// It crosses an area that was marked as closed.
    CrossesClosedArea,
    /// It crosses a gap in the track.
    CrossesGap,
    /// It follows paths of a base map that no outing walked.
    MappedNotWalked {
        /// Their length.
        #[serde(rename = "length_m")]
        length: Metres,
    },
    /// It rests on elevations alone: anything smaller than their spacing is not known.
    FromElevations {
        /// The spacing of the elevations.
        #[serde(rename = "spacing_m")]
        spacing: Metres,
    },
}

/// Why there is no route of a kind.
///
/// A reason for one kind of route; others may still exist.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum NoRoute {
    /// The tracks of earlier outings do not lead to a goal: one of the two is too far from them, or they
    /// are in parts that are not connected.
    TracksDoNotLead,
    /// The same of the track of the day.
    TrackDoesNotLead,
    /// There is no goal.
    NoGoal,
    /// The elevation tiles have no data at the start.
    NoElevationAtStart {
        /// The start.
        at: LatLon,
    },
    /// The elevation tiles have no data at any goal.
    NoElevationAtGoal,
    /// There is no place to start from.
    NoStart,
    /// Voids, steep ground or closed areas surround the start or all goals.
    Enclosed,
}

/// Where the position comes from that a way out starts at.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum StartOrigin {
    /// Somebody stated it.
    Stated,
    /// It is the farthest point of a plan.
    Planned,
    /// The last fix before the time of departure.
    LastFix {
        /// Its age.
        #[serde(rename = "age_s")]
        age: Seconds,
        /// Whether the radius was increased with the age.
        radius_grown: bool,
    },
    /// Dead reckoning from another position.
    DeadReckoning {
        /// Where that position comes from.
        from: Box<StartOrigin>,
        /// The number of legs.
        legs: usize,
        /// Their length.
        #[serde(rename = "distance_m")]
        distance: Metres,
    },
}

/// Which point of the day's track is taken as a goal, where none is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum TrackGoal {
    /// The end of the ride at its beginning.
    LeftTheRoad,
    /// Its first point.
    Start,
}

/// A general caution, part of every result.
///
/// Part of every answer, whatever its verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Caution {
    /// Results are computed, obstacles are not known.
    ComputedOnly,
    /// Leave word of route and return.
    TellSomebody,
    /// What to do when lost, hurt, exhausted or in the dark.
    WhenLost,
    /// The emergency number.
    EmergencyCall,
    /// The distress signal.
    DistressSignal,
    /// Local advice and rules come first.
    LocalAdvice,
}

impl Caution {
    /// All of them, in the order in which they are printed.
    pub const ALL: [Self; 6] = [
        Self::ComputedOnly,
        Self::TellSomebody,
        Self::WhenLost,
        Self::EmergencyCall,
        Self::DistressSignal,
        Self::LocalAdvice,
    ];
}

/// What sets the rank of a route, beside its kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[non_exhaustive]
pub struct RankReason {
    /// How much slower than the quickest; `None` where it is the quickest to half a minute.
    #[serde(rename = "slower_s")]
    pub slower: Option<Seconds>,
    /// Whether it has steep ground.
    pub steep: bool,
    /// Whether it crosses a gap in the track.
    pub crosses_gap: bool,
    /// Whether it crosses a closed area.
    pub crosses_closed: bool,
}

/// What to expect at the end of a leg.
///
/// A leg can be left too early or too late; a landmark says where it ends.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum Landmark {
    /// The goal.
    Goal {
        /// Its name, where the route has no other landmark.
        name: Option<String>,
    },
    /// The leg leads through a gap in the track: the ground between is not known.
    Gap,
    /// The track begins there.
    TrackReached,
    /// The collector was there.
    BeenThere {
        /// What for.
        activity: Activity,
        /// The local time.
        time: Time,
    },
    /// The next leg goes on in about the same direction.
    KeepOn,
    /// The next leg turns by 20 to 60 degrees.
    Bear {
        /// Which way.
        side: Side,
    },
    /// The next leg turns by 60 to 135 degrees.
    Turn {
        /// Which way.
        side: Side,
    },
    /// The next leg turns by more than 135 degrees.
    TurnBack {
        /// Which way.
        side: Side,
    },
}

/// A side, seen in the direction of walking.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

impl Side {
    /// The other side.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }

    /// The side to which a turn leads; negative degrees are to the left.
    #[must_use]
    pub fn of_turn(turn: Degrees) -> Self {
        if turn.0 < 0.0 { Self::Left } else { Self::Right }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Left => "left",
            Self::Right => "right",
        })
    }
}
