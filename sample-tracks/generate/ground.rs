//! The invented reserve: shape, elevations, places. The truth is in metres east and north of the
//! car park and converted to degrees once.

use std::f64::consts::PI;

/// A spot in metres east and north of the car park.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PlanePoint {
    pub(crate) east: f64,
    pub(crate) north: f64,
}

/// The car park: latitude and longitude of the origin, decimal degrees on WGS 84.
pub(crate) const CAR_PARK: (f64, f64) = (-42.617_300, 146.091_400);

impl PlanePoint {
    pub(crate) const fn new(east: f64, north: f64) -> Self {
        Self { east, north }
    }

    pub(crate) fn distance(self, other: Self) -> f64 {
        (self.east - other.east).hypot(self.north - other.north)
    }

    /// The spot this far away in a direction, radians from east towards north.
    pub(crate) fn moved(self, direction: f64, metres: f64) -> Self {
        Self::new(self.east + metres * direction.cos(), self.north + metres * direction.sin())
    }

    /// Latitude and longitude. A degree's length at the car park's latitude, from the meridian and
    /// prime vertical radii of the WGS 84 ellipsoid, holds over the two kilometres of the reserve.
    pub(crate) fn degrees(self) -> (f64, f64) {
        let (axis, square) = (6_378_137.0, 0.006_694_379_990_14);
        let sine = CAR_PARK.0.to_radians().sin();
        let w = (1.0 - square * sine * sine).sqrt();
        let meridian = axis * (1.0 - square) / w.powi(3);
        let parallel = axis / w * CAR_PARK.0.to_radians().cos();
        (
            CAR_PARK.0 + (self.north / meridian).to_degrees(),
            CAR_PARK.1 + (self.east / parallel).to_degrees(),
        )
    }

    /// Height above sea level in metres: a valley that falls to the west between two spurs.
    pub(crate) fn height(self) -> f64 {
        let creek = 120.0 + 90.0 * (self.east / 420.0).sin();
        let across = (self.north - creek) / 260.0;
        let valley = 62.0 * (1.0 - (-across * across).exp());
        let spur = 55.0 * (-((self.east - 760.0) / 330.0).powi(2)).exp();
        let knoll = 24.0 * (self.east / 190.0 * PI / 2.0).sin() * (self.north / 230.0).cos();
        431.0 + 0.055 * self.east + valley + spur + 0.35 * knoll
    }

    /// The ratio of receiver error to that in the open: closed canopy, strongest in the gully.
    pub(crate) fn canopy(self) -> f64 {
        let creek = 120.0 + 90.0 * (self.east / 420.0).sin();
        let depth = (self.north - creek) / 150.0;
        1.0 + 0.55 * (-depth * depth).exp()
            - 0.35 * (-(self.distance(PlanePoint::new(0.0, 0.0)) / 70.0)).exp()
    }
}
