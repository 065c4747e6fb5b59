//! Represents the reasons why a way out cannot be computed, each with its quantities and a code, and words
//! them. Layer: `error`.

use serde::Serialize;

use super::Error;
use crate::units::{LatLon, Metres, Radius95, Seconds, Timestamp};

/// Why a way out, or the page of an area, cannot be computed.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
pub(crate) enum WayOutFault {
    /// Neither a goal nor a trailhead nor the start of a track is known.
    NoGoal,
    /// The track has no fix before the time of departure.
    NoFixBefore { now: Timestamp, begins: Option<Timestamp> },
    /// The last fix is too old.
    StaleFix {
        fix: Timestamp,
        #[serde(rename = "age_s")]
        age: Seconds,
        now: Timestamp,
    },
    /// Nobody walks that far: one of the positions must be wrong.
    GoalTooFar {
        goal: String,
        #[serde(rename = "distance_m")]
        distance: Metres,
        from: LatLon,
        /// The distance with latitude and longitude of one of them swapped, where that is a walk.
        #[serde(rename = "swapped_m")]
        swapped: Option<Metres>,
    },
    /// The goal lies within the radius of the position.
    GoalWithinRadius {
        goal: String,
        #[serde(rename = "distance_m")]
        distance: Metres,
        #[serde(rename = "radius95_m")]
        radius: Radius95,
    },
    /// A leg of dead reckoning cannot be read.
    Leg { leg: String, reason: LegFault },
    /// The network of paths in the store cannot be used.
    StoredPaths { bytes: usize },
    /// No place defines the area of a page.
    NoArea,
    /// The page of an area has nothing to lead to.
    AreaWithoutGoal,
    /// The area does not fit on a page.
    AreaTooWide {
        #[serde(rename = "most_m")]
        most: Metres,
    },
}

/// What is wrong with a leg of dead reckoning.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
pub(crate) enum LegFault {
    /// The leg has no bearing.
    Empty,
    /// The bearing cannot be read.
    Bearing { written: String },
    /// The distance cannot be read.
    Distance { written: String },
    /// The distance is negative or too long.
    Range {
        #[serde(rename = "distance_m")]
        distance: Metres,
        #[serde(rename = "most_m")]
        most: Metres,
    },
}

impl From<WayOutFault> for Error {
    fn from(fault: WayOutFault) -> Self {
        let (what, why, hint) = words(&fault);
        Self::input(what).because(why).hint(hint).of(&fault)
    }
}

fn words(fault: &WayOutFault) -> (String, String, &'static str) {
    match fault {
        WayOutFault::NoGoal => (
            "there is no goal for the way out".to_owned(),
            "no trailhead is stored, no track has a start and no goal was given".to_owned(),
            "add one with `trug trailhead add NAME \"POSITION\"`, or name a goal with --to",
        ),
        WayOutFault::NoFixBefore { now, begins } => (
            "the track has no position to start from".to_owned(),
            begins.map_or_else(
                || "the track has no points".to_owned(),
                |begins| format!("the track begins at {}, after {}", minute(begins), minute(*now)),
            ),
            "give your position with --from, or the time with --at",
        ),
        WayOutFault::StaleFix { fix, age, now } => (
            "the last fix is too old for a bearing".to_owned(),
            format!("it is of {}, {} before {}", minute(*fix), age.to_minutes(), minute(*now)),
            "give your position with --from, the legs walked since with --since, or another time \
             with --at",
        ),
        WayOutFault::GoalTooFar { goal, distance, from, swapped } => {
            too_far(goal, *distance, *from, *swapped)
        }
        WayOutFault::GoalWithinRadius { goal, distance, radius } => (
            format!("no bearing to {goal} can be given"),
            format!(
                "it is {distance} away, but your position is only known within {radius} (95 %): it \
                 may be in any direction"
            ),
            "look around, you may be at the goal; otherwise give a new fix with --from",
        ),
        WayOutFault::Leg { leg, reason } => (
            format!("the leg {leg:?} cannot be read"),
            leg_words(reason),
            "write bearing and distance, as --since \"240 350 m; NE 400 paces; 15T 1.2 km\"",
        ),
        WayOutFault::StoredPaths { bytes } => (
            "the stored path network cannot be used".to_owned(),
            format!("its {bytes} bytes are truncated or of another version"),
            "it will be rebuilt from the tracks",
        ),
        WayOutFault::NoArea => no_page("no track and no position defines the area".to_owned()),
        WayOutFault::AreaWithoutGoal => {
            no_page("there is no trailhead and no line as a goal".to_owned())
        }
        WayOutFault::AreaTooWide { most } => {
            no_page(format!("it is more than {most} across, the most that one page shows"))
        }
    }
}

fn too_far(
    goal: &str,
    distance: Metres,
    from: LatLon,
    swapped: Option<Metres>,
) -> (String, String, &'static str) {
    let doubt = swapped.map_or_else(String::new, |other| {
        format!("; with latitude and longitude of one of them swapped it would be {other}")
    });
    (
        format!("{goal} is too far away to walk to"),
        format!("it is {distance} from {from}{doubt}"),
        "check both positions (latitude first, south and west negative) and the store",
    )
}

fn no_page(why: String) -> (String, String, &'static str) {
    (
        "the page of the area cannot be made".to_owned(),
        why,
        "add trailheads with `trug trailhead add`, give a line with --line, or a centre with --from",
    )
}

fn leg_words(why: &LegFault) -> String {
    match why {
        LegFault::Empty => "it is empty".to_owned(),
        LegFault::Bearing { written } => {
            format!("{written:?} is neither a bearing from 0 to 360 nor a compass point")
        }
        LegFault::Distance { written } => {
            format!("{written:?} is not a distance in m, km or paces")
        }
        LegFault::Range { distance, most } => format!("{distance} is not between 0 and {most}"),
    }
}

/// An instant to the minute.
fn minute(instant: Timestamp) -> String {
    instant.strftime("%Y-%m-%d %H:%M UTC").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_holds_code_values_and_sentence() {
        let error = Error::from(WayOutFault::AreaTooWide { most: Metres(45_000.0) });
        let json = serde_json::to_value(&error).unwrap();
        assert_eq!(json["code"], "area-too-wide");
        assert_eq!(json["most_m"], 45_000.0);
        assert_eq!(json["what"], "the page of the area cannot be made");
        assert_eq!(error.code(), Some("area-too-wide"));
    }
}
