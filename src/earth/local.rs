//! Converts positions to metres east and north of an origin, at a twentieth of the cost of the
//! geodesic. Beyond 20 km from the origin and near the poles it uses the geodesic, so the result is
//! valid everywhere. Layer: `earth`.

use super::geodesic;
use crate::units::{Degrees, LatLon, Metres, TrueBearing};

/// WGS 84, equatorial radius in metres.
const EQUATOR: f64 = 6_378_137.0;
/// WGS 84, first eccentricity squared.
const ECCENTRICITY2: f64 = 0.006_694_379_990_141_316_5;
/// The range of the series from the origin, metres.
const SERIES_REACH: f64 = 20_000.0;
/// The distance from a pole within which the series in longitude does not hold, degrees.
const SERIES_LATITUDE: f64 = 80.0;

/// A plane that touches the ellipsoid at its origin: the azimuthal equidistant projection.
///
/// # Units
/// Metres east and north of the origin.
///
/// # Accuracy
/// Distance and bearing from the origin are true to 0.1 mm up to 20 km; between any two points
/// within 10 km of it a length is true to 5 mm in 10 km (4e-7, the stretch of the projection).
///
/// # References
/// Snyder 1987, Map Projections: A Working Manual, USGS Professional Paper 1395, chapter 25; the
/// meridian and longitude series as for the transverse Mercator projection, chapter 8.
#[derive(Clone, Copy, Debug)]
pub struct Plane {
    origin: LatLon,
    latitude: f64,
    mean_radius: f64,
    series: bool,
}

impl Plane {
    /// The plane about this point.
    #[must_use]
    pub fn about(origin: LatLon) -> Self {
        let latitude = origin.latitude().to_radians();
        let (meridian, normal) = radii(latitude);
        Self {
            origin,
            latitude,
            mean_radius: (meridian * normal).sqrt(),
            series: origin.latitude().abs() < SERIES_LATITUDE,
        }
    }

    /// The point that it touches.
    #[must_use]
    pub fn origin(&self) -> LatLon {
        self.origin
    }

    /// Metres east and north of the origin.
    ///
    /// The series serves within 20 km of the origin, the geodesic beyond and near the poles.
    #[must_use]
    pub fn to_plane(&self, place: LatLon) -> (f64, f64) {
        if self.series {
            let (east, north) = self.by_series(place);
            if east.abs().max(north.abs()) < SERIES_REACH {
                return (east, north);
            }
        }
        let (length, bearing) = geodesic::leg(self.origin, place);
        let (sine, cosine) = bearing.degrees().radians().sin_cos();
        (length.0 * sine, length.0 * cosine)
    }

    /// The position this many metres east and north of the origin. NaN gives the origin.
    #[must_use]
    pub fn from_plane(&self, east: f64, north: f64) -> LatLon {
        let length = east.hypot(north);
        if self.series && length < SERIES_REACH * 0.99 {
            return self.invert_series(east, north);
        }
        let bearing = TrueBearing::new(Degrees::from_radians(east.atan2(north)));
        geodesic::destination(self.origin, bearing, Metres(length))
    }

    /// Transverse Mercator about the origin's meridian by its series, then the turn of the third
    /// order from there to true distances from the origin.
    fn by_series(&self, place: LatLon) -> (f64, f64) {
        let latitude = place.latitude().to_radians();
        let eastward =
            Degrees(place.longitude() - self.origin.longitude()).shortest_turn().radians();
        let (sine, cosine) = latitude.sin_cos();
        let (tangent2, normal) =
            ((sine / cosine).powi(2), EQUATOR / (1.0 - ECCENTRICITY2 * sine * sine).sqrt());
        let curve = ECCENTRICITY2 / (1.0 - ECCENTRICITY2) * cosine * cosine;
        let along = eastward * cosine;
        let along2 = along * along;
        let x = normal
            * along
            * (1.0
                + along2 / 6.0 * (1.0 - tangent2 + curve)
                + along2 * along2 / 120.0 * (5.0 - 18.0 * tangent2 + tangent2 * tangent2));
        let y = self.meridian_arc(latitude)
            + normal * sine / cosine * along2 / 2.0
                * (1.0 + along2 / 12.0 * (5.0 - tangent2 + 9.0 * curve));
        let (u, v) = (x / self.mean_radius, y / self.mean_radius);
        (x * (1.0 - (u * u - v * v) / 6.0), y * (1.0 - u * u / 3.0))
    }

    /// Metres along the meridian from the origin's latitude: Simpson's rule over its radius.
    fn meridian_arc(&self, latitude: f64) -> f64 {
        let middle = f64::midpoint(self.latitude, latitude);
        let mean = (radii(self.latitude).0 + 4.0 * radii(middle).0 + radii(latitude).0) / 6.0;
        (latitude - self.latitude) * mean
    }

    fn invert_series(&self, east: f64, north: f64) -> LatLon {
        let (mut latitude, mut longitude) = (self.origin.latitude(), self.origin.longitude());
        let (mut ahead_east, mut ahead_north) = (east, north);
        for _ in 0..5 {
            let (meridian, normal) = radii(latitude.to_radians());
            latitude += (ahead_north / meridian).to_degrees();
            longitude += (ahead_east / (normal * latitude.to_radians().cos())).to_degrees();
            let (got_east, got_north) = self.by_series(LatLon::clamped(latitude, longitude));
            (ahead_east, ahead_north) = (east - got_east, north - got_north);
            if ahead_east.abs() + ahead_north.abs() < 1e-9 {
                break;
            }
        }
        LatLon::clamped(latitude, longitude)
    }
}

/// The length of a short line, by the radii of curvature at its midpoint; beyond 20 km and near the
/// poles the exact line.
///
/// For the inner loops of this library, which compare millions of pairs: the geodesic takes some thirty times longer.
///
/// # Accuracy
/// 1 mm up to 2 km (13 micrometres in temperate latitudes), 0.2 m up to 20 km.
#[must_use]
pub fn distance(from: LatLon, to: LatLon) -> Metres {
    let middle = f64::midpoint(from.latitude(), to.latitude()).to_radians();
    let (meridian, normal) = radii(middle);
    let north = (to.latitude() - from.latitude()).to_radians() * meridian;
    let turn = Degrees(to.longitude() - from.longitude()).shortest_turn().radians();
    let length = north.hypot(turn * normal * middle.cos());
    if length < SERIES_REACH && middle.abs() < SERIES_LATITUDE.to_radians() {
        return Metres(length);
    }
    geodesic::distance(from, to)
}

/// The radii of curvature along the meridian and across it, metres.
fn radii(latitude: f64) -> (f64, f64) {
    let sine = latitude.sin();
    let squeeze = 1.0 - ECCENTRICITY2 * sine * sine;
    let normal = EQUATOR / squeeze.sqrt();
    (normal * (1.0 - ECCENTRICITY2) / squeeze, normal)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ORIGINS: [(f64, f64); 9] = [
        (0.0, 0.0),
        (-42.9, 146.3),
        (60.4, 5.3),
        (-17.0, 179.999),
        (45.0, -179.9999),
        (79.9, 15.0),
        (85.0, 10.0),
        (90.0, 0.0),
        (-89.999, 77.0),
    ];

    fn around(reach: f64) -> impl Iterator<Item = (LatLon, LatLon, f64, f64)> {
        ORIGINS.into_iter().flat_map(move |(latitude, longitude)| {
            let origin = LatLon::new(latitude, longitude).unwrap();
            (0..24).flat_map(move |hour| {
                [0.01, 0.2, 0.5, 1.0].into_iter().map(move |share| {
                    let bearing = TrueBearing::new(Degrees(f64::from(hour) * 15.0 + 0.3));
                    let place = geodesic::destination(origin, bearing, Metres(reach * share));
                    let (sine, cosine) = bearing.degrees().radians().sin_cos();
                    (origin, place, reach * share * sine, reach * share * cosine)
                })
            })
        })
    }

    #[test]
    fn distance_and_bearing_from_the_origin_are_those_of_the_exact_line() {
        let mut worst: f64 = 0.0;
        for (origin, place, east, north) in around(20_000.0) {
            let (x, y) = Plane::about(origin).to_plane(place);
            worst = worst.max((x - east).hypot(y - north));
        }
        assert!(worst < 1e-4, "{worst} m");
    }

    #[test]
    fn within_ten_kilometres_it_is_true_to_micrometres() {
        let mut worst: f64 = 0.0;
        for (origin, place, east, north) in around(10_000.0) {
            let (x, y) = Plane::about(origin).to_plane(place);
            worst = worst.max((x - east).hypot(y - north));
        }
        assert!(worst < 1e-5, "{worst} m");
    }

    #[test]
    fn there_and_back_is_the_same_place() {
        for reach in [10.0, 10_000.0, 20_000.0, 300_000.0] {
            for (origin, place, _, _) in around(reach) {
                let plane = Plane::about(origin);
                let (east, north) = plane.to_plane(place);
                let back = plane.from_plane(east, north);
                let off = geodesic::distance(place, back).0;
                assert!(off < 1e-6, "{origin} {place} {off} m");
            }
        }
    }

    #[test]
    fn lengths_between_points_of_the_plane_hold() {
        for (latitude, longitude) in ORIGINS {
            let origin = LatLon::new(latitude, longitude).unwrap();
            let plane = Plane::about(origin);
            for (a, b) in [((-7e3, 7e3), (7e3, 7e3)), ((9e3, -2e3), (9e3, 3e3))] {
                let flat = f64::hypot(a.0 - b.0, a.1 - b.1);
                let exact =
                    geodesic::distance(plane.from_plane(a.0, a.1), plane.from_plane(b.0, b.1));
                assert!((flat / exact.0 - 1.0).abs() < 4.5e-7, "{origin}: {flat} {}", exact.0);
            }
        }
    }

    #[test]
    fn short_lines_are_those_of_the_exact_one() {
        for (reach, allowed) in [(2_000.0, 1e-3), (20_000.0, 0.2)] {
            for (origin, place, _, _) in around(reach) {
                let off = (distance(origin, place).0 - geodesic::distance(origin, place).0).abs();
                assert!(off < allowed, "{origin} {place}: {off} m");
            }
        }
    }

    #[test]
    fn nan_gives_the_origin() {
        let plane = Plane::about(LatLon::new(50.0, 8.0).unwrap());
        assert_eq!(plane.from_plane(f64::NAN, 0.0), plane.origin());
        assert_eq!(plane.from_plane(f64::INFINITY, 1.0), plane.origin());
    }
}
