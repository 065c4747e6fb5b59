//! Computes how much more probable a place is for a find of this outing, which the collector marked mostly at stops,
//! than for a waypoint of another outing in the same area. Layer: `join`.

use super::Scene;

/// How far a waypoint lies from the track at its time, metres per axis: errors of two fixes, some steps (common
/// practice).
const SCATTER: f64 = 15.0;
/// The share of waypoints marked at stops, and of those anywhere near: detours in gaps, poor fixes.
const AT_STOPS: f64 = 0.85;
const ANYWHERE: f64 = 0.05;
/// Waypoints of other outings lie in the area of the track, widened to so much at least, metres; a part of them on the
/// same paths.
const AREA: f64 = 500.0;
const SAME_PATHS: f64 = 0.2;
const PATHS: f64 = 40.0;
/// Places of the track that are compared, at most.
const ENOUGH: f64 = 3_000.0;

/// Where the collector was, and for how long.
pub(super) struct Occupancy {
    /// Metres east and north, the share of stops, the share of the time.
    places: Vec<(f64, f64, f64, f64)>,
    /// Square metres.
    area: f64,
}

impl Occupancy {
    pub(super) fn of(scene: &Scene) -> Option<Self> {
        let track = scene.estimated_track;
        let (start, end) = scene.span?;
        let (from, to) = (track.origin.seconds(start), track.origin.seconds(end));
        let step = ((to - from) / ENOUGH).max(5.0);
        let mut places = Vec::new();
        let mut time = from;
        while time <= to {
            if let Some(there) = track.at(time) {
                let stopped = track.activities.stationary(time).unwrap_or(0.0);
                places.push((there.east, there.north, stopped, 1.0));
            }
            time += step;
        }
        Self::of_places(places)
    }

    fn of_places(mut places: Vec<(f64, f64, f64, f64)>) -> Option<Self> {
        let count = places.len() as f64;
        let stopped: f64 = places.iter().map(|place| place.2).sum::<f64>().max(1e-6);
        let middle =
            |of: fn(&(f64, f64, f64, f64)) -> f64| places.iter().map(of).sum::<f64>() / count;
        let (east, north) = (middle(|place| place.0), middle(|place| place.1));
        let away = |place: &(f64, f64, f64, f64)| (place.0 - east).hypot(place.1 - north);
        let reach = places.iter().map(away).fold(0.0, f64::max) + AREA;
        for place in &mut places {
            (place.2, place.3) = (place.2 / stopped, 1.0 / count);
        }
        (!places.is_empty()).then_some(Self { places, area: std::f64::consts::PI * reach * reach })
    }

    /// The log ratio of the probability of a waypoint there, on this outing to on another.
    pub(super) fn log_factor(&self, (east, north): (f64, f64)) -> f64 {
        let (mut own, mut paths) = (0.0, 0.0);
        for &(x, y, stops, time) in &self.places {
            let apart2 = (x - east).powi(2) + (y - north).powi(2);
            own += (AT_STOPS * stops + (1.0 - AT_STOPS) * time) * density(apart2, SCATTER);
            paths += time * density(apart2, PATHS);
        }
        let flat = 1.0 / self.area;
        let own = (1.0 - ANYWHERE) * own + ANYWHERE * flat;
        (own / (SAME_PATHS * paths + (1.0 - SAME_PATHS) * flat)).ln()
    }
}

fn density(apart2: f64, scatter: f64) -> f64 {
    let variance = scatter * scatter;
    (-0.5 * apart2 / variance).exp() / (std::f64::consts::TAU * variance)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_at_a_stop_is_plausible_and_one_beside_the_track_is_not() {
        // a straight walk of a kilometre with a stop in the middle
        let walk = (0..200).map(|k| (5.0 * f64::from(k), 0.0, 0.0, 1.0));
        let stop = (0..40).map(|_| (500.0, 0.0, 1.0, 1.0));
        let occupancy = Occupancy::of_places(walk.chain(stop).collect()).unwrap();
        let log = |east, north| occupancy.log_factor((east, north));
        assert!(log(505.0, 4.0) > 2.0, "{}", log(505.0, 4.0));
        assert!(log(200.0, 0.0) < log(505.0, 4.0) - 1.0);
        assert!(log(200.0, 110.0) < -1.5 && log(900.0, 2_000.0) < -1.5);
        assert!(Occupancy::of_places(Vec::new()).is_none());
    }
}
