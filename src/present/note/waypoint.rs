//! Words what speaks against a waypoint of a find. Layer: `present`.

use std::fmt;

use crate::model::{FindReference, WaypointDoubt, WaypointDoubtReason};
use crate::units::Metres;

impl fmt::Display for WaypointDoubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = name(self.waypoint.as_deref());
        let away = self.from_track.unwrap_or(Metres(0.0));
        match &self.reason {
            WaypointDoubtReason::NumberOfAnotherDay { marked } => {
                write!(f, "waypoint {name} has its number but was marked on {marked}")
            }
            WaypointDoubtReason::MarkedOnAnotherDay { marked, found, off_track } => {
                write!(f, "waypoint {name} was marked on {marked}, not on {found}")?;
                if *off_track {
                    write!(f, ", and lies {away} from the track")?;
                }
                Ok(())
            }
            WaypointDoubtReason::UndatedFarFromTrack => write!(
                f,
                "waypoint {name} lies {away} from the track, and no time shows that it was marked on this outing"
            ),
            WaypointDoubtReason::FileContradicted { differ, compared } => write!(
                f,
                "{differ} of {compared} waypoints of the file of {name} lie far from where the track was at the \
                 times of their finds"
            ),
            WaypointDoubtReason::UndatedImprobable { probability } => write!(
                f,
                "waypoint {name} has its number but no time, and lies {away} from the track; by where the undated \
                 waypoints lie, the probability that it was marked on this outing is {:.0} %",
                (100.0 * probability).floor()
            ),
        }
    }
}

/// The name of a waypoint.
pub(super) fn name(name: Option<&str>) -> &str {
    name.unwrap_or("without a name")
}

/// What, why and hint about a waypoint in doubt.
pub(super) fn in_doubt(
    find: &FindReference,
    named: bool,
    used: bool,
    doubt: &WaypointDoubt,
) -> (String, String, String) {
    let what = match (named, used) {
        (_, true) => format!("{find}: its waypoint was marked on another day"),
        (true, false) => format!("{find}: the waypoint that it names is not used"),
        (false, false) => format!("{find}: a waypoint of its number is not used"),
    };
    let meant = if named {
        "write its coordinates in the record if it is meant"
    } else {
        "write its exact name under waypoint if it is meant"
    };
    (what, doubt.to_string(), format!("see whether it is a waypoint of another outing; {meant}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn doubts_about_waypoints_state_dates_distances_and_probabilities() {
        let words = |from_track: Option<f64>, reason| {
            let (waypoint, from_track) = (Some("012".to_owned()), from_track.map(Metres));
            WaypointDoubt { waypoint, from_track, reason }.to_string()
        };
        let (marked, found) = (date(2026, 4, 30), date(2026, 5, 2));
        assert_eq!(
            words(Some(12.0), WaypointDoubtReason::NumberOfAnotherDay { marked }),
            "waypoint 012 has its number but was marked on 2026-04-30"
        );
        let other_day =
            |off_track| WaypointDoubtReason::MarkedOnAnotherDay { marked, found, off_track };
        assert_eq!(
            words(None, other_day(false)),
            "waypoint 012 was marked on 2026-04-30, not on 2026-05-02"
        );
        assert_eq!(
            words(Some(640.0), other_day(true)),
            "waypoint 012 was marked on 2026-04-30, not on 2026-05-02, and lies 640 m from the track"
        );
        assert_eq!(
            words(Some(640.0), WaypointDoubtReason::UndatedFarFromTrack),
            "waypoint 012 lies 640 m from the track, and no time shows that it was marked on this outing"
        );
        assert_eq!(
            words(Some(210.0), WaypointDoubtReason::UndatedImprobable { probability: 0.918 }),
            "waypoint 012 has its number but no time, and lies 210 m from the track; by where the undated \
             waypoints lie, the probability that it was marked on this outing is 91 %"
        );
        assert_eq!(
            words(None, WaypointDoubtReason::FileContradicted { differ: 4, compared: 5 }),
            "4 of 5 waypoints of the file of 012 lie far from where the track was at the times of their finds"
        );
        let reason = WaypointDoubtReason::UndatedFarFromTrack;
        let nameless = WaypointDoubt { waypoint: None, from_track: None, reason };
        assert!(nameless.to_string().starts_with("waypoint without a name lies"), "{nameless}");
    }
}
