//! Selects the goals of the way out: stored trailheads, a given position, or the place where the
//! day's track left the road. Layer: `wayout`.

use serde::Serialize;

use crate::earth::local;
use crate::model::{TrackGoal, TrackPoint};
use crate::units::{LatLon, MetresPerSecond, Seconds};

/// Speed above which the track is in a vehicle or on a bicycle (project choice).
const DRIVING: MetresPerSecond = MetresPerSecond(4.0);
/// The first part of the track that is searched for a ride.
const BEGINNING: f64 = 0.4;
/// Speeds are averaged over this time, so that one position jump is not a ride.
const OVER: Seconds = Seconds(30.0);

/// A goal of the way out.
///
/// A trailhead, a car, a road: what a person wants to reach, under the name that messages use for it. The position
/// is taken as exact.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Goal {
    /// What it is called.
    pub name: String,
    /// Where it is.
    pub at: LatLon,
}

/// The place where the track left the road: the end of the ride at its beginning, otherwise its
/// first point; with which of them it is. `None` without a track.
///
/// A ride is a stretch within the first 40 % of the track that is faster than 4 m/s on the average of 30 s (project
/// choices). A recording that was begun late, on foot, has no ride, and its first point can lie far from the car.
#[must_use]
pub fn left_the_road(track: &[TrackPoint]) -> Option<(TrackGoal, LatLon)> {
    let first = track.first()?;
    let length = Seconds::between(first.time, track.last()?.time).0;
    let mut rode_until = None;
    let mut ahead = 0;
    for (index, point) in track.iter().enumerate() {
        if Seconds::between(first.time, point.time).0 > length * BEGINNING {
            break;
        }
        while ahead + 1 < track.len() && Seconds::between(point.time, track[ahead].time).0 < OVER.0
        {
            ahead += 1;
        }
        let took = Seconds::between(point.time, track[ahead].time);
        let speed = local::distance(point.at, track[ahead].at) / took;
        if ahead > index && took.0 >= OVER.0 && speed.0 > DRIVING.0 {
            rode_until = Some(ahead);
        }
    }
    Some(match rode_until.and_then(|index| track.get(index)) {
        Some(point) => (TrackGoal::LeftTheRoad, point.at),
        None => (TrackGoal::Start, first.at),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::earth::local::Plane;
    use crate::model::Activity;
    use crate::units::{Metres, Radius95, Timestamp};

    fn track(speeds: &[(f64, usize)]) -> (Plane, Vec<TrackPoint>) {
        let plane = Plane::about(LatLon::new(-42.0, 146.0).unwrap());
        let (mut east, mut time, mut track) = (0.0, 0.0, Vec::new());
        for (speed, count) in speeds {
            for _ in 0..*count {
                track.push(TrackPoint {
                    time: Seconds(time).after(Timestamp::UNIX_EPOCH),
                    at: plane.from_plane(east, 0.0),
                    height: None,
                    radius: Radius95::new(Metres(8.0)).unwrap(),
                    activity: Activity::Walking,
                    gap_after: false,
                });
                (east, time) = (east + speed * 10.0, time + 10.0);
            }
        }
        (plane, track)
    }

    #[test]
    fn initial_ride_is_not_part_of_the_route() {
        let (plane, points) = track(&[(15.0, 60), (0.8, 400)]);
        let (kind, at) = left_the_road(&points).unwrap();
        let (east, _) = plane.to_plane(at);
        assert!((8_900.0..9_200.0).contains(&east), "{east}");
        assert_eq!(kind, TrackGoal::LeftTheRoad);
    }

    #[test]
    fn without_a_ride_it_is_the_first_point() {
        let (plane, points) = track(&[(0.8, 400)]);
        assert_eq!(plane.to_plane(left_the_road(&points).unwrap().1), (0.0, 0.0));
        assert!(left_the_road(&points[..1]).is_some());
        assert_eq!(left_the_road(&[]), None);
    }
}
