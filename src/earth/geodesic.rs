//! Solves the direct and the inverse geodesic problem on the WGS 84 ellipsoid, at any distance,
//! including poles and antipodes. Lengths are on the ellipsoid and ignore relief. Layer: `earth`.
//!
//! The Earth is the ellipsoid, a line is the shortest one on it. A walk is longer than the line between its ends by
//! its bends and by relief: 100 m along a slope of 20 degrees are 94 m here. For many short distances within a day's
//! walk the local plane of this layer is some twenty times faster.
//!
//! | function | question |
//! |---|---|
//! | [`distance`] | how far is it? |
//! | [`bearing`] | in which direction does the line begin? |
//! | [`leg`] | both at once |
//! | [`destination`] | where do I get to? |
//! | [`interpolate`] | which point is at this share of the line? |
//! | [`nearest`] | how far is the nearest of several? |

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

use crate::units::{Degrees, LatLon, Metres, TrueBearing};

/// The length of the shortest line between two positions.
///
/// Symmetric, zero for the same position, at most 20,003.9 km. Converges for every pair, antipodes included.
///
/// # Accuracy
/// 10 nanometres against the published rows of `GeographicLib`.
///
/// # Examples
/// ```
/// use trug::{earth::geodesic, units::LatLon};
/// let quarter = geodesic::distance(LatLon::new(0.0, 0.0)?, LatLon::new(90.0, 0.0)?);
/// assert!((quarter.0 - 10_001_965.729).abs() < 1e-3);
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
///
/// # References
/// Karney 2013, Algorithms for geodesics, J. Geodesy 87, 43-55, doi:10.1007/s00190-012-0578-z.
#[must_use]
pub fn distance(from: LatLon, to: LatLon) -> Metres {
    let length: f64 =
        Geodesic::wgs84().inverse(from.latitude(), from.longitude(), to.latitude(), to.longitude());
    Metres(length)
}

/// The distance to the nearest of several positions; `None` without any. Which is the nearest is decided on the
/// sphere, so that of two that differ by less than half a percent either may be measured.
///
/// Takes time in proportion to the number of positions, with one geodesic in all.
///
/// # Examples
/// ```
/// use trug::{earth::geodesic, units::LatLon};
/// let hut = LatLon::new(-42.88, 146.12)?;
/// let finds = [LatLon::new(-42.87, 146.12)?, LatLon::new(-42.90, 146.15)?];
/// let away = geodesic::nearest(hut, finds).ok_or("no find")?;
/// assert_eq!(away.to_string(), "1.11 km");
/// assert!(geodesic::nearest(hut, []).is_none());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn nearest(from: LatLon, positions: impl IntoIterator<Item = LatLon>) -> Option<Metres> {
    let vector = |at: LatLon| {
        let (north, east) = (at.latitude().to_radians(), at.longitude().to_radians());
        [north.cos() * east.cos(), north.cos() * east.sin(), north.sin()]
    };
    let own = vector(from);
    let chord = |at: LatLon| -> f64 {
        vector(at).iter().zip(&own).map(|(a, b)| (a - b).powi(2)).sum::<f64>()
    };
    let candidates = positions.into_iter().map(|at| (chord(at), at));
    let (_, nearest) = candidates.min_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(distance(from, nearest))
}

/// The bearing at `from` of the shortest line to `to`; north where both are the same place.
///
/// Along a geodesic the bearing changes: it holds at `from`, and over a day's walk everywhere within a small part of
/// a degree except near a pole. The bearing back is that of `bearing(to, from)`, not exactly the opposite.
///
/// # Accuracy
/// 1e-9 degree against the published rows of `GeographicLib`.
///
/// # Examples
/// ```
/// use trug::{earth::geodesic, units::LatLon};
/// let car = LatLon::new(-42.90, 146.10)?;
/// let hut = LatLon::new(-42.88, 146.10)?;
/// assert_eq!(geodesic::bearing(car, hut).to_string(), "000°T");
/// assert_eq!(geodesic::bearing(hut, car).to_string(), "180°T");
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
#[must_use]
pub fn bearing(from: LatLon, to: LatLon) -> TrueBearing {
    leg(from, to).1
}

/// Distance and bearing together, cheaper than two calls.
///
/// The bearing is north where both are the same position.
#[must_use]
pub fn leg(from: LatLon, to: LatLon) -> (Metres, TrueBearing) {
    if from == to {
        return (Metres(0.0), TrueBearing::new(Degrees(0.0)));
    }
    let (length, azimuth, _, _): (f64, f64, f64, f64) =
        Geodesic::wgs84().inverse(from.latitude(), from.longitude(), to.latitude(), to.longitude());
    (Metres(length), TrueBearing::new(Degrees(azimuth)))
}

/// The destination after this distance along the geodesic that starts with this bearing.
///
/// A bearing or distance of NaN returns the start.
///
/// A negative distance goes backwards along the same line.
///
/// # Examples
/// ```
/// use trug::{earth::geodesic, units::{Degrees, LatLon, Metres, TrueBearing}};
/// let start = LatLon::new(-42.90, 146.10)?;
/// let end = geodesic::destination(start, TrueBearing::new(Degrees(45.0)), Metres(2_000.0));
/// let (back, bearing) = geodesic::leg(start, end);
/// assert!((back.0 - 2_000.0).abs() < 1e-6 && (bearing.degrees().0 - 45.0).abs() < 1e-9);
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
#[must_use]
pub fn destination(from: LatLon, bearing: TrueBearing, distance: Metres) -> LatLon {
    let azimuth = bearing.degrees().0;
    if !azimuth.is_finite() || !distance.0.is_finite() || distance.0 == 0.0 {
        return from;
    }
    let (latitude, longitude): (f64, f64) =
        Geodesic::wgs84().direct(from.latitude(), from.longitude(), azimuth, distance.0);
    LatLon::clamped(latitude, longitude)
}

/// The point at this share of the way: 0 is `from`, 1 is `to`, outside of that the line is
/// extrapolated.
#[must_use]
pub fn interpolate(from: LatLon, to: LatLon, fraction: f64) -> LatLon {
    if fraction == 0.0 {
        return from;
    }
    if fraction == 1.0 {
        return to;
    }
    let (length, bearing) = leg(from, to);
    destination(from, bearing, length * fraction)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(latitude: f64, longitude: f64) -> LatLon {
        LatLon::new(latitude, longitude).unwrap()
    }

    #[test]
    fn zero_distance_has_a_bearing() {
        let here = place(-42.0, 146.0);
        assert_eq!(leg(here, here), (Metres(0.0), TrueBearing::new(Degrees(0.0))));
        assert_eq!(destination(here, TrueBearing::new(Degrees(77.0)), Metres(0.0)), here);
        assert_eq!(interpolate(here, here, 0.4), here);
    }

    #[test]
    fn routes_cross_the_date_line() {
        let (length, bearing) = leg(place(-17.0, 179.999), place(-17.0, -179.999));
        assert!((length.0 - 212.97).abs() < 0.1, "{length}");
        assert!((bearing.degrees().0 - 90.0).abs() < 0.01);
        let beyond = destination(place(-17.0, 179.999), bearing, length);
        assert!((beyond.longitude() + 179.999).abs() < 1e-9);
    }

    #[test]
    fn midpoint_is_equidistant_from_both_ends() {
        let (from, to) = (place(60.0, 10.0), place(60.1, 10.3));
        let middle = interpolate(from, to, 0.5);
        assert!((distance(from, middle).0 - distance(middle, to).0).abs() < 1e-6);
    }

    #[test]
    fn from_a_pole_every_bearing_leads_away() {
        let pole = place(90.0, 0.0);
        let there = destination(pole, TrueBearing::new(Degrees(123.0)), Metres(1000.0));
        assert!((distance(pole, there).0 - 1000.0).abs() < 1e-6);
        assert!(there.latitude() < 90.0);
        assert!(bearing(there, pole).degrees().shortest_turn().abs().0 < 1e-6);
    }

    #[test]
    fn nan_does_not_move_the_position() {
        let here = place(1.0, 2.0);
        assert_eq!(destination(here, TrueBearing::new(Degrees(f64::NAN)), Metres(5.0)), here);
        assert_eq!(destination(here, TrueBearing::new(Degrees(5.0)), Metres(f64::INFINITY)), here);
    }
}
