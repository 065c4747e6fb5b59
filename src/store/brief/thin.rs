//! Selects the points of a track from which the others can be interpolated: those where the
//! collector turned or changed speed or activity. Never bridges a gap. Layer: `store`.
//!
//! # Method
//! Between kept points the track is straight at constant speed. Every removed point must lie within
//! the tolerance of that line at its time, which allows a window of velocities; the windows of all
//! removed points must overlap.

use crate::model::TrackPoint;
use crate::units::{LatLon, Metres};

/// The largest distance between the full and the thinned track at the same time.
pub(super) const TOLERANCE: Metres = Metres(0.25);
/// The largest distance of neighbours, so that heights between them can be interpolated.
const LONGEST: f64 = 40.0;

/// A thinned track: indices in the full one, and the length of the full track from each to the
/// next.
pub(super) struct Thinned {
    pub(super) places: Vec<usize>,
    pub(super) lengths: Vec<f64>,
}

/// Thins a track.
pub(super) fn thinned(points: &[TrackPoint]) -> Thinned {
    let mut thinned = Thinned { places: Vec::new(), lengths: Vec::new() };
    let Some(first) = points.first() else { return thinned };
    let mut ground = LocalPlane::about(first.at);
    let mut window = Window::open();
    let (mut anchor, mut last, mut length) = (0, (0.0, 0.0), 0.0);
    for index in 1..points.len() {
        let here = ground.to_plane(points[index].at);
        let step = (here.0 - last.0).hypot(here.1 - last.1);
        let time = seconds(&points[anchor], &points[index]);
        // the previous point may be skipped only if this one can still be interpolated from the
        // anchor
        let passes = index - anchor < 2
            || (!must_stay(points, index - 1)
                && length + step <= LONGEST
                && window.narrowed(last, seconds(&points[anchor], &points[index - 1]))
                && window.holds(here, time));
        if passes {
            length += step;
            last = here;
        } else {
            thinned.keep(anchor, length);
            anchor = index - 1;
            ground = LocalPlane::about(points[anchor].at);
            window = Window::open();
            last = ground.to_plane(points[index].at);
            length = last.0.hypot(last.1);
        }
    }
    if points.len() > 1 {
        thinned.keep(anchor, length);
    }
    thinned.keep(points.len() - 1, 0.0);
    thinned
}

impl Thinned {
    fn keep(&mut self, place: usize, length: f64) {
        self.places.push(place);
        self.lengths.push(length);
    }
}

/// A point at which more than the position changes.
fn must_stay(points: &[TrackPoint], index: usize) -> bool {
    let (before, here) = (&points[index - 1], &points[index]);
    here.gap_after
        || before.gap_after
        || here.activity != before.activity
        || here.time <= before.time
        || points.get(index + 1).is_some_and(|next| next.time <= here.time)
        || here.height.is_some() != before.height.is_some()
}

fn seconds(from: &TrackPoint, to: &TrackPoint) -> f64 {
    to.time.duration_since(from.time).as_secs_f64()
}

/// The velocities, metres a second, that keep the tolerance: a square within each point's circle.
struct Window {
    low: (f64, f64),
    high: (f64, f64),
}

impl Window {
    fn open() -> Self {
        Self { low: (f64::NEG_INFINITY, f64::NEG_INFINITY), high: (f64::INFINITY, f64::INFINITY) }
    }

    /// Restricts the velocities to those that reach a place at its time; returns whether any is
    /// left.
    fn narrowed(&mut self, place: (f64, f64), time: f64) -> bool {
        let slack = TOLERANCE.0 * std::f64::consts::FRAC_1_SQRT_2;
        if time <= 0.0 {
            return false;
        }
        self.low.0 = self.low.0.max((place.0 - slack) / time);
        self.low.1 = self.low.1.max((place.1 - slack) / time);
        self.high.0 = self.high.0.min((place.0 + slack) / time);
        self.high.1 = self.high.1.min((place.1 + slack) / time);
        self.low.0 <= self.high.0 && self.low.1 <= self.high.1
    }

    fn holds(&self, place: (f64, f64), time: f64) -> bool {
        let velocity = (place.0 / time, place.1 / time);
        (self.low.0..=self.high.0).contains(&velocity.0)
            && (self.low.1..=self.high.1).contains(&velocity.1)
    }
}

/// Metres about a point: for some tens of metres, where a degree is as long as at the point itself.
struct LocalPlane {
    origin: LatLon,
    north: f64,
    east: f64,
}

impl LocalPlane {
    /// # References
    /// Radii of curvature of WGS 84: Snyder 1987, Map Projections: A Working Manual, equations 4-18
    /// and 4-20.
    fn about(origin: LatLon) -> Self {
        const LONG_AXIS: f64 = 6_378_137.0;
        const E2: f64 = 0.006_694_379_990_141_316;
        let (sine, cosine) = origin.latitude().to_radians().sin_cos();
        let root2 = 1.0 - E2 * sine * sine;
        let normal = LONG_AXIS / root2.sqrt();
        let meridian = normal * (1.0 - E2) / root2;
        let degree = std::f64::consts::PI / 180.0;
        Self { origin, north: meridian * degree, east: normal * cosine * degree }
    }

    fn to_plane(&self, at: LatLon) -> (f64, f64) {
        let turned = at.longitude() - self.origin.longitude();
        let turned =
            if turned.abs() > 180.0 { turned - 360.0_f64.copysign(turned) } else { turned };
        (turned * self.east, (at.latitude() - self.origin.latitude()) * self.north)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Activity;
    use crate::units::Radius95;
    use jiff::Timestamp;

    fn point(second: i64, north: f64, east: f64, activity: Activity) -> TrackPoint {
        TrackPoint {
            time: Timestamp::from_second(1_780_000_000 + second).unwrap(),
            at: LatLon::clamped(61.3 + north / 111_420.0, 179.999 + east / 53_600.0),
            height: None,
            radius: Radius95::new(Metres(6.0)).unwrap(),
            activity,
            gap_after: false,
        }
    }

    /// Back and forth with bends, at varying speed, across the 180th meridian.
    fn wandering(count: i64) -> Vec<TrackPoint> {
        (0..count)
            .map(|t| {
                let phase = t as f64 / 23.0;
                let (north, east) =
                    (40.0 * phase.sin(), 0.7 * t as f64 + 3.0 * (phase * 5.0).cos());
                point(
                    t,
                    north,
                    east,
                    if t % 90 < 60 { Activity::Searching } else { Activity::Stationary },
                )
            })
            .collect()
    }

    #[test]
    fn removed_points_are_within_tolerance_of_the_thinned_track() {
        let points = wandering(2_000);
        let thin = thinned(&points);
        assert!(thin.places.len() < points.len() / 2, "{} of 2000", thin.places.len());
        assert_eq!((thin.places[0], *thin.places.last().unwrap()), (0, 1_999));
        let mut worst = 0.0_f64;
        for ends in thin.places.windows(2) {
            let ground = LocalPlane::about(points[ends[0]].at);
            let end = ground.to_plane(points[ends[1]].at);
            let whole = seconds(&points[ends[0]], &points[ends[1]]);
            for passed in &points[ends[0]..ends[1]] {
                let share = seconds(&points[ends[0]], passed) / whole;
                let here = ground.to_plane(passed.at);
                worst = worst.max((here.0 - share * end.0).hypot(here.1 - share * end.1));
                assert_eq!(passed.activity, points[ends[0]].activity);
            }
        }
        assert!(worst <= TOLERANCE.0 + 1e-3, "{worst} m");
    }

    #[test]
    fn the_length_is_that_of_the_full_way() {
        let points = wandering(2_000);
        let full: f64 = points
            .windows(2)
            .map(|ends| crate::earth::geodesic::distance(ends[0].at, ends[1].at).0)
            .sum();
        let kept: f64 = thinned(&points).lengths.iter().sum();
        assert!((kept / full - 1.0).abs() < 1e-4, "{kept} of {full}");
    }

    #[test]
    fn gaps_changes_of_activity_and_faulty_times_stay() {
        let mut points: Vec<TrackPoint> =
            (0..40).map(|t| point(t, 0.0, t as f64, Activity::Walking)).collect();
        points[10].gap_after = true;
        for later in &mut points[20..] {
            later.activity = Activity::Searching;
        }
        points[30].time = points[29].time;
        let places = thinned(&points).places;
        for needed in [0, 10, 11, 20, 29, 30, 39] {
            assert!(places.contains(&needed), "{needed} of {places:?}");
        }
        assert!(places.len() < 16, "{places:?}");
        assert!(thinned(&[]).places.is_empty());
        assert_eq!(thinned(&points[..1]).places, [0]);
    }
}
