//! Projects positions to an equal-area plane by the azimuthal projection about a stated centre, for
//! areas and densities. Lengths and angles hold only near the centre: 0.1 % at 550 km.
//! Layer: `earth`.

use crate::units::LatLon;

/// Half the long axis of WGS 84, metres.
const LONG_AXIS: f64 = 6_378_137.0;
/// Square of the eccentricity of WGS 84.
const E2: f64 = 0.006_694_379_990_141_316;

/// An equal-area plane, tangent to the ellipsoid at its centre.
///
/// # Accuracy
/// Agrees with PROJ (`+proj=laea +ellps=WGS84`) within a micrometre out to 1,000 km, and returns to
/// the position within 1 mm (the series for the latitude ends there).
///
/// # References
/// Snyder 1987, Map Projections - A Working Manual, USGS Professional Paper 1395, equations 3-12,
/// 3-18 and 24-17 to 24-27.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EqualArea {
    middle: LatLon,
    longitude: f64,
    sin_beta: f64,
    cos_beta: f64,
    radius: f64,
    stretch: f64,
    /// Snyder's q of the pole.
    polar: f64,
}

impl EqualArea {
    /// The plane about this centre.
    #[must_use]
    pub fn about(middle: LatLon) -> Self {
        // at the poles themselves the formula is 0/0; 0.1 m beside them it is not
        let latitude = middle.latitude().clamp(-89.999_999, 89.999_999).to_radians();
        let polar = authalic_q(1.0);
        let (sin_beta, cos_beta) = authalic(latitude.sin(), polar);
        let radius = LONG_AXIS * (polar / 2.0).sqrt();
        let normal = (1.0 - E2 * latitude.sin().powi(2)).sqrt();
        let stretch = LONG_AXIS * latitude.cos() / (normal * radius * cos_beta);
        Self { middle, longitude: middle.longitude(), sin_beta, cos_beta, radius, stretch, polar }
    }

    /// The centre, where the plane is tangent.
    #[must_use]
    pub fn middle(&self) -> LatLon {
        self.middle
    }

    /// The plane about the centre of some positions, valid across 180 degrees; about 0 N 0 E
    /// without positions.
    #[must_use]
    pub fn about_all(positions: impl IntoIterator<Item = LatLon>) -> Self {
        let (mut x, mut y, mut z) = (0.0, 0.0, 0.0);
        for at in positions {
            let (sin_lat, cos_lat) = at.latitude().to_radians().sin_cos();
            let (sin_lon, cos_lon) = at.longitude().to_radians().sin_cos();
            x += cos_lat * cos_lon;
            y += cos_lat * sin_lon;
            z += sin_lat;
        }
        let latitude = z.atan2(f64::hypot(x, y)).to_degrees();
        Self::about(LatLon::clamped(latitude, y.atan2(x).to_degrees()))
    }

    /// East and north of the centre.
    ///
    /// # Units
    /// Metres.
    #[must_use]
    pub fn to_plane(&self, at: LatLon) -> (f64, f64) {
        let (sin_beta, cos_beta) = authalic(at.latitude().to_radians().sin(), self.polar);
        let turned = (at.longitude() - self.longitude + 540.0).rem_euclid(360.0) - 180.0;
        let (sin_turn, cos_turn) = turned.to_radians().sin_cos();
        let closeness = 1.0 + self.sin_beta * sin_beta + self.cos_beta * cos_beta * cos_turn;
        let scale = self.radius * (2.0 / closeness.max(1e-12)).sqrt();
        // sin(b - b0) + sin b0 cos b (1 - cos l): no cancellation near the centre
        let half = (turned.to_radians() / 2.0).sin();
        let north = sin_beta * self.cos_beta - cos_beta * self.sin_beta
            + 2.0 * self.sin_beta * cos_beta * half * half;
        (scale * self.stretch * cos_beta * sin_turn, scale / self.stretch * north)
    }

    /// The position at so many metres east and north.
    #[must_use]
    pub fn from_plane(&self, east: f64, north: f64) -> LatLon {
        let (x, y) = (east / self.stretch, north * self.stretch);
        let distance = x.hypot(y);
        if distance < 1e-9 {
            return LatLon::clamped(latitude_of(self.sin_beta.asin()).to_degrees(), self.longitude);
        }
        let (sin_c, cos_c) = (2.0 * (distance / (2.0 * self.radius)).min(1.0).asin()).sin_cos();
        let beta = (cos_c * self.sin_beta + y * sin_c * self.cos_beta / distance).clamp(-1.0, 1.0);
        let turned = (x * sin_c)
            .atan2(distance * self.cos_beta * cos_c - y * self.sin_beta * sin_c)
            .to_degrees();
        LatLon::clamped(latitude_of(beta.asin()).to_degrees(), self.longitude + turned)
    }
}

/// Snyder's q, equation 3-12.
fn authalic_q(sin_latitude: f64) -> f64 {
    let e = E2.sqrt();
    let es = e * sin_latitude;
    (1.0 - E2) * (sin_latitude / (1.0 - es * es) + es.atanh() / e)
}

/// Sine and cosine of the authalic latitude, equation 3-11.
fn authalic(sin_latitude: f64, polar: f64) -> (f64, f64) {
    let sin = (authalic_q(sin_latitude) / polar).clamp(-1.0, 1.0);
    (sin, (1.0 - sin * sin).sqrt())
}

/// The latitude of an authalic one, radians, equation 3-18.
fn latitude_of(beta: f64) -> f64 {
    let (e4, e6) = (E2 * E2, E2 * E2 * E2);
    beta + (E2 / 3.0 + 31.0 * e4 / 180.0 + 517.0 * e6 / 5_040.0) * (2.0 * beta).sin()
        + (23.0 * e4 / 360.0 + 251.0 * e6 / 3_780.0) * (4.0 * beta).sin()
        + 761.0 * e6 / 45_360.0 * (6.0 * beta).sin()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proj::Proj;

    fn at(latitude: f64, longitude: f64) -> LatLon {
        LatLon::new(latitude, longitude).unwrap()
    }

    /// Independent check: PROJ 9.6, by the crate `proj`.
    #[test]
    fn plane_agrees_with_proj() {
        for (middle, places) in [
            (
                at(-42.6, 146.4),
                [at(-42.61, 146.38), at(-41.0, 147.9), at(-37.0, 140.0), at(-42.6, 146.4)],
            ),
            (
                at(61.2, 179.9),
                [at(61.25, -179.8), at(61.0, 179.0), at(66.0, -170.0), at(61.2, 180.0)],
            ),
            (at(0.0, 0.0), [at(0.001, 0.001), at(5.0, -7.0), at(-8.0, 3.0), at(0.0, 9.0)]),
        ] {
            let plane = EqualArea::about(middle);
            let definition = format!(
                "+proj=laea +lat_0={} +lon_0={} +ellps=WGS84 +type=crs",
                middle.latitude(),
                middle.longitude()
            );
            let proj =
                Proj::new_known_crs("+proj=longlat +ellps=WGS84 +type=crs", &definition, None)
                    .unwrap();
            for place in places {
                let (x, y) = proj.convert((place.longitude(), place.latitude())).unwrap();
                let (east, north) = plane.to_plane(place);
                assert!((x - east).hypot(y - north) < 1e-6, "{place}: {x} {y}, {east} {north}");
                let back = plane.from_plane(east, north);
                let off = crate::earth::geodesic::distance(back, place).0;
                assert!(off < 1e-3, "{place}: {off} m");
            }
        }
    }

    #[test]
    fn the_middle_of_places_across_the_date_line_is_near_them() {
        let plane = EqualArea::about_all([at(-17.0, 179.9), at(-17.0, -179.9)]);
        let (east, _) = plane.to_plane(at(-17.0, -179.9));
        assert!((east - 10_649.0).abs() < 20.0, "{east}");
    }
}
