//! Determines the starting position and its uncertainty: the last fix, with a radius that grows
//! with its age, a given position, or either continued by dead reckoning. Refuses a fix that is too
//! old for a bearing. Layer: `wayout`.

use serde::Serialize;

use crate::earth::geodesic;
use crate::earth::local::Plane;
use crate::error::{Result, WayOutFault};
use crate::model::{StartOrigin, TrackPoint};
use crate::units::{Degrees, LatLon, Metres, Radius95, Seconds, Timestamp, TrueBearing};

/// The age up to which a fix is used unchanged.
const FRESH: Seconds = Seconds(120.0);
/// The age from which a fix is too old.
const STALE: Seconds = Seconds(3_600.0);
/// Growth of the radius in between: a collector covers about a kilometre in an hour (common
/// practice; from memory).
const DRIFT: f64 = 0.3;
/// One standard deviation of a bearing walked by compass, and of a paced distance.
pub const COMPASS_SIGMA: Degrees = Degrees(3.0);
/// As a share of the distance.
pub const PACING_SIGMA: f64 = 0.05;

/// The start of the way out.
///
/// # Examples
/// ```
/// use trug::units::{Degrees, LatLon, Metres, Radius95, TrueBearing};
/// use trug::wayout::{Start, Walked};
///
/// let radius = Radius95::new(Metres(15.0)).ok_or("no radius")?;
/// let fix = Start::stated(LatLon::new(-42.62, 146.09)?, radius);
/// let leg = Walked { bearing: TrueBearing::new(Degrees(60.0)), distance: Metres(1_000.0) };
/// let now = fix.carried_on(&[leg]);
/// let ellipse = now.ellipse.ok_or("no ellipse")?;
/// // 3 degrees across are a little more than 5 % along
/// assert_eq!(ellipse.along.to_string(), "330°T");
/// assert_eq!(ellipse.major.to_string(), "129 m");
/// assert_eq!(ellipse.minor.to_string(), "123 m");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Start {
    /// The point.
    pub at: LatLon,
    /// The 95 % radius.
    pub radius: Radius95,
    /// The 95 % error ellipse, where the walk since is known.
    pub ellipse: Option<Ellipse>,
    /// When the walker was there.
    pub when: Option<Timestamp>,
    /// Where it comes from.
    pub origin: StartOrigin,
}

/// A 95 % error ellipse.
///
/// A walk by compass and paces is uncertain along and across by different amounts. Where only one radius is
/// possible the larger half axis is used.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Ellipse {
    /// Half of its length.
    pub major: Metres,
    /// Half of its width.
    pub minor: Metres,
    /// The bearing of its major axis.
    pub along: TrueBearing,
}

/// A leg walked since the last position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Walked {
    /// Its bearing.
    pub bearing: TrueBearing,
    /// How far.
    pub distance: Metres,
}

impl Start {
    /// A position as somebody stated it.
    ///
    /// Its age is unknown, so that the radius does not grow.
    #[must_use]
    pub fn stated(at: LatLon, radius: Radius95) -> Self {
        Self { at, radius, ellipse: None, when: None, origin: StartOrigin::Stated }
    }

    /// The farthest point of a plan.
    #[must_use]
    pub fn planned(at: LatLon, radius: Radius95) -> Self {
        Self { origin: StartOrigin::Planned, ..Self::stated(at, radius) }
    }

    /// The last point of the day's track before `now`. With `walked_since` the walk since is known
    /// and the age does not matter.
    ///
    /// After two minutes the radius grows by 0.3 m for each second, in quadrature (project choice: a collector covers
    /// about a kilometre an hour).
    ///
    /// # Errors
    /// When there is no point, or it is more than an hour old and no walk since is given.
    pub fn last_fix(track: &[TrackPoint], now: Timestamp, walked_since: bool) -> Result<Self> {
        let last = track.iter().rev().find(|point| point.time <= now).ok_or_else(|| {
            let begins = track.first().map(|point| point.time);
            WayOutFault::NoFixBefore { now, begins }
        })?;
        let age = Seconds::between(last.time, now);
        if age.0 > STALE.0 && !walked_since {
            return Err(WayOutFault::StaleFix { fix: last.time, age, now }.into());
        }
        let grown = if walked_since { 0.0 } else { (age.0 - FRESH.0).max(0.0) * DRIFT };
        let radius =
            Radius95::new(last.radius.metres().hypot(Metres(grown))).unwrap_or(last.radius);
        let origin = StartOrigin::LastFix { age, radius_grown: grown > 0.0 };
        Ok(Self { at: last.at, radius, ellipse: None, when: Some(last.time), origin })
    }

    /// Continued by dead reckoning, with a growing error ellipse.
    ///
    /// Errors of compass and pacing are partly constant over the day and partly independent for
    /// each leg; each has half of the variance (project choice). A single leg of 1 km with 3
    /// degrees and 5 % is uncertain by 72 m (one standard deviation of the distance between the two
    /// points).
    #[must_use]
    pub fn carried_on(&self, walked: &[Walked]) -> Self {
        if walked.is_empty() {
            return self.clone();
        }
        let plane = Plane::about(self.at);
        let (mut east, mut north) = (0.0, 0.0);
        let sigma = self.radius.sigma().0;
        let mut spread = Spread { east: sigma * sigma, north: sigma * sigma, both: 0.0 };
        for leg in walked {
            let (sine, cosine) = leg.bearing.degrees().radians().sin_cos();
            let (x, y) = (leg.distance.0 * sine, leg.distance.0 * cosine);
            (east, north) = (east + x, north + y);
            spread.add(x, y, 0.5);
        }
        spread.add(east, north, 0.5);
        let ellipse = spread.ellipse();
        let origin = StartOrigin::DeadReckoning {
            from: Box::new(self.origin.clone()),
            legs: walked.len(),
            distance: walked.iter().map(|leg| leg.distance).sum(),
        };
        Self {
            at: plane.from_plane(east, north),
            radius: Radius95::new(ellipse.major).unwrap_or(self.radius),
            ellipse: Some(ellipse),
            when: self.when,
            origin,
        }
    }
}

/// The covariance of a position, square metres.
struct Spread {
    east: f64,
    north: f64,
    both: f64,
}

impl Spread {
    /// The errors of bearing (across) and distance (along) over a displacement.
    fn add(&mut self, east: f64, north: f64, share: f64) {
        let turn = COMPASS_SIGMA.radians().powi(2) * share;
        let stretch = PACING_SIGMA * PACING_SIGMA * share;
        self.east += turn * north * north + stretch * east * east;
        self.north += turn * east * east + stretch * north * north;
        self.both += (stretch - turn) * east * north;
    }

    fn ellipse(&self) -> Ellipse {
        let middle = f64::midpoint(self.east, self.north);
        let off = ((self.east - self.north) / 2.0).hypot(self.both);
        let along = 0.5 * (2.0 * self.both).atan2(self.north - self.east);
        let half = |variance: f64| Metres(variance.max(0.0).sqrt() * Radius95::PER_SIGMA);
        Ellipse {
            major: half(middle + off),
            minor: half(middle - off),
            along: TrueBearing::new(Degrees::from_radians(along)),
        }
    }
}

/// The lateral error after a leg walked with this bearing error.
///
/// The chord between the two ends, so that it stays right for large errors too.
///
/// # Examples
/// ```
/// use trug::{units::{Degrees, Metres}, wayout::start::missed_by};
/// assert!((missed_by(Metres(1_000.0), Degrees(1.0)).0 - 17.5).abs() < 0.05);
/// ```
#[must_use]
pub fn missed_by(leg: Metres, error: Degrees) -> Metres {
    leg * (2.0 * (error.radians() / 2.0).sin()).abs()
}

/// The uncertainty of a bearing to each side from the radius of the position; 180 degrees where the
/// goal lies within it.
///
/// # Examples
/// ```
/// use trug::{units::{Metres, Radius95}, wayout::start::bearing_range};
/// let range = bearing_range(Radius95::new(Metres(500.0)).unwrap(), Metres(1_000.0));
/// assert!((range.0 - 30.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn bearing_range(radius: Radius95, distance: Metres) -> Degrees {
    let sine = radius.metres().0 / distance.0;
    if sine < 1.0 { Degrees(sine.asin().to_degrees()) } else { Degrees(180.0) }
}

/// The longest walk: 24 hours at 4 km/h (project choice).
const FARTHEST: Metres = Metres(96_000.0);

/// Refuses a goal beyond walking distance, since one of the two positions must be wrong.
///
/// # Errors
/// When the goal is more than 96 km away.
pub fn near_enough(start: &Start, goal: LatLon, name: &str) -> Result<()> {
    let distance = geodesic::distance(start.at, goal);
    if distance.0 <= FARTHEST.0 {
        return Ok(());
    }
    let swapped = |place: LatLon| LatLon::new(place.longitude(), place.latitude()).ok();
    let nearer = [(swapped(start.at), Some(goal)), (Some(start.at), swapped(goal))]
        .into_iter()
        .filter_map(|(from, to)| Some(geodesic::distance(from?, to?)))
        .find(|other| other.0 <= FARTHEST.0);
    let (goal, from) = (name.to_owned(), start.at);
    Err(WayOutFault::GoalTooFar { goal, distance, from, swapped: nearer }.into())
}

/// The precision of the first leg, given the radius of the position.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LegPrecision {
    /// The uncertainty of the bearing to each side; 180 degrees where the end of the leg lies
    /// within the radius.
    #[serde(rename = "bearing_range_deg")]
    pub range: Degrees,
    /// The uncertainty of the distance.
    #[serde(rename = "distance_radius95_m")]
    pub distance: Metres,
}

impl LegPrecision {
    /// That of a leg of this length.
    #[must_use]
    pub fn of(start: &Start, length: Metres) -> Self {
        let radius = start.radius;
        Self { range: bearing_range(radius, length), distance: radius.metres() }
    }

    /// Whether the end of the leg may be in any direction.
    #[must_use]
    pub fn any_side(self) -> bool {
        self.range.0 >= 180.0
    }

    /// The distance without digits that the radius does not support.
    #[must_use]
    pub fn rounded(self, length: Metres) -> Metres {
        let step = 10_f64.powf(self.distance.0.max(1.0).log10().floor());
        Metres((length.0 / step).round() * step)
    }
}

/// Refuses a bearing where the goal lies within the radius of the position.
///
/// # Errors
/// When the radius is not smaller than the distance.
pub fn far_enough(start: &Start, goal: LatLon, name: &str) -> Result<Metres> {
    let distance = geodesic::distance(start.at, goal);
    if start.radius.metres().0 < distance.0 {
        return Ok(distance);
    }
    let (goal, radius) = (name.to_owned(), start.radius);
    Err(WayOutFault::GoalWithinRadius { goal, distance, radius }.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Activity;

    fn place(latitude: f64, longitude: f64) -> LatLon {
        LatLon::new(latitude, longitude).unwrap()
    }

    fn point(time: &str) -> TrackPoint {
        TrackPoint {
            time: time.parse().unwrap(),
            at: place(-42.0, 146.0),
            height: None,
            radius: Radius95::new(Metres(10.0)).unwrap(),
            activity: Activity::Searching,
            gap_after: false,
        }
    }

    #[test]
    fn an_old_fix_grows_and_a_stale_one_is_refused() {
        let track = [point("2026-05-03T04:00:00Z")];
        let at = |time: &str, walked| Start::last_fix(&track, time.parse().unwrap(), walked);
        assert_eq!(at("2026-05-03T04:01:00Z", false).unwrap().radius.metres(), Metres(10.0));
        assert!(at("2026-05-03T04:20:00Z", false).unwrap().radius.metres().0 > 300.0);
        let refused = at("2026-05-03T06:00:00Z", false).unwrap_err().to_string();
        assert!(refused.contains("2 h 00 min"), "{refused}");
        assert!(at("2026-05-03T06:00:00Z", true).is_ok());
        assert!(at("2026-05-03T03:00:00Z", false).is_err());
        assert!(Start::last_fix(&[], "2026-05-03T06:00:00Z".parse().unwrap(), true).is_err());
    }

    #[test]
    fn one_leg_of_a_kilometre_is_uncertain_by_72_metres() {
        let sure = Start::stated(place(-42.0, 146.0), Radius95::new(Metres(1e-6)).unwrap());
        let walked = Walked { bearing: TrueBearing::new(Degrees(70.0)), distance: Metres(1_000.0) };
        let there = sure.carried_on(&[walked]);
        let ellipse = there.ellipse.unwrap();
        let both = ellipse.major.hypot(ellipse.minor).0 / Radius95::PER_SIGMA;
        assert!((both - 72.4).abs() < 0.2, "{both}");
        // 3 degrees are more than 5 %: long across the bearing
        assert!(
            (ellipse.along.turn_to(TrueBearing::new(Degrees(160.0))).0.rem_euclid(180.0)).min(1.0)
                < 1e-6
                || (ellipse.along.degrees().0 - 160.0).abs() < 1e-6
                || (ellipse.along.degrees().0 - 340.0).abs() < 1e-6,
            "{ellipse:?}"
        );
        let gone = geodesic::leg(sure.at, there.at);
        assert!((gone.0.0 - 1_000.0).abs() < 1e-3 && (gone.1.degrees().0 - 70.0).abs() < 1e-6);
    }

    #[test]
    fn closed_dead_reckoning_keeps_its_uncertainty() {
        let sure = Start::stated(place(80.0, 179.99), Radius95::new(Metres(5.0)).unwrap());
        let square: Vec<Walked> = [0.0, 90.0, 180.0, 270.0]
            .map(|bearing| Walked {
                bearing: TrueBearing::new(Degrees(bearing)),
                distance: Metres(500.0),
            })
            .to_vec();
        let end = sure.carried_on(&square);
        assert!(geodesic::distance(end.at, sure.at).0 < 0.01);
        assert!(end.radius.metres().0 > 60.0);
    }

    #[test]
    fn positions_beyond_walking_distance_are_refused() {
        let start = Start::stated(place(42.5, 11.2), Radius95::new(Metres(50.0)).unwrap());
        assert!(near_enough(&start, place(42.6, 11.3), "the gate").is_ok());
        let refused = near_enough(&start, place(11.3, 42.6), "the gate").unwrap_err().to_string();
        assert!(refused.contains("too far") && refused.contains("swapped"), "{refused}");
        let refused = near_enough(&start, place(-42.5, 11.2), "the gate").unwrap_err().to_string();
        assert!(!refused.contains("swapped"), "{refused}");
        let east = Start { at: place(-17.0, 179.99), ..start };
        assert!(near_enough(&east, place(-17.0, -179.99), "the gate").is_ok());
    }

    #[test]
    fn the_first_leg_is_no_more_exact_than_the_position() {
        let start = Start::stated(place(-42.0, 146.0), Radius95::new(Metres(44.0)).unwrap());
        let precision = LegPrecision::of(&start, Metres(1_187.0));
        assert_eq!(precision.rounded(Metres(1_187.0)), Metres(1_190.0));
        assert!((precision.range.0 - 2.12).abs() < 0.01 && !precision.any_side());
        assert!(LegPrecision::of(&start, Metres(30.0)).any_side());
    }

    #[test]
    fn radius_larger_than_the_distance_is_refused() {
        let start = Start::stated(place(-42.0, 146.0), Radius95::new(Metres(50.0)).unwrap());
        assert!(far_enough(&start, place(-42.0, 146.0), "the gate").is_err());
        assert!(far_enough(&start, place(-42.01, 146.0), "the gate").is_ok());
    }
}
