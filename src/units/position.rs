//! A place on the Earth. Layer: `units`.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A position on WGS 84, latitude first, in decimal degrees.
///
/// Latitude is -90 to 90, longitude above -180 up to 180 (180 west is written as 180 east).
///
/// The two numbers are private, so that a value that exists is a position: no NaN, no latitude beyond a pole. Formats
/// that write the longitude first (GeoJSON, KML, WKB) swap the two where they are written, nowhere else. It has no
/// height; heights are [`GpsHeight`](crate::units::GpsHeight) or [`SeaLevelHeight`](crate::units::SeaLevelHeight).
///
/// Distances and bearings between positions are in [`earth::geodesic`](crate::earth::geodesic), other
/// reference systems in [`earth::datum`](crate::earth::datum).
///
/// # Accuracy
/// The realisations of WGS 84 and national systems tied to a plate (GDA94, ETRS89) drift apart by centimetres a year.
/// trug takes all of WGS 84 as one system; receivers in the field err by metres.
///
/// # Examples
/// ```
/// use trug::units::LatLon;
///
/// let hut = LatLon::new(-42.876_54, 146.123_45)?;
/// assert_eq!(hut.to_string(), "42.87654 S 146.12345 E");
/// // a receiver that counts eastward all the way round
/// assert_eq!(LatLon::new(10.0, 350.0)?.longitude(), -10.0);
/// assert!(LatLon::new(146.123_45, -42.876_54).is_err());
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "(f64, f64)", into = "(f64, f64)")]
pub struct LatLon {
    latitude: f64,
    longitude: f64,
}

/// A pair of numbers that is no position.
///
/// Most often latitude and longitude were swapped, a decimal point was lost, or the numbers are metres of a grid.
/// Readers report it beside their result; it carries the numbers as given, so that the message can quote them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OffTheGlobe {
    /// As given, degrees.
    pub latitude: f64,
    /// As given, degrees.
    pub longitude: f64,
}

impl LatLon {
    /// The position at this latitude and longitude.
    ///
    /// # Units
    /// Decimal degrees on WGS 84. Longitudes from -180 to 360 are taken, since some receivers count
    /// eastward all the way round.
    ///
    /// # Errors
    /// When a number is not finite or out of range.
    pub fn new(latitude: f64, longitude: f64) -> Result<Self, OffTheGlobe> {
        if !(-90.0..=90.0).contains(&latitude) || !(-180.0..=360.0).contains(&longitude) {
            return Err(OffTheGlobe { latitude, longitude });
        }
        let longitude = if longitude > 180.0 {
            longitude - 360.0
        } else if longitude <= -180.0 {
            180.0
        } else {
            longitude
        };
        Ok(Self { latitude, longitude })
    }

    /// The position nearest to these numbers: latitude held at the poles, longitude brought into
    /// range. For results of arithmetic, never for input.
    ///
    /// NaN becomes 0: arithmetic that can give NaN has to be checked before. For input use [`LatLon::new`], which
    /// refuses instead of moving a position to where nobody was.
    #[must_use]
    pub fn clamped(latitude: f64, longitude: f64) -> Self {
        let latitude = if latitude.is_nan() { 0.0 } else { latitude.clamp(-90.0, 90.0) };
        let turned = if longitude.is_finite() { longitude.rem_euclid(360.0) } else { 0.0 };
        let longitude = if turned > 180.0 { turned - 360.0 } else { turned };
        Self { latitude, longitude }
    }

    /// Degrees, north positive.
    #[must_use]
    pub fn latitude(self) -> f64 {
        self.latitude
    }

    /// Degrees, east positive, above -180 up to 180.
    #[must_use]
    pub fn longitude(self) -> f64 {
        self.longitude
    }
}

impl TryFrom<(f64, f64)> for LatLon {
    type Error = OffTheGlobe;
    fn try_from((latitude, longitude): (f64, f64)) -> Result<Self, OffTheGlobe> {
        Self::new(latitude, longitude)
    }
}

impl From<LatLon> for (f64, f64) {
    fn from(place: LatLon) -> Self {
        (place.latitude, place.longitude)
    }
}

impl fmt::Display for LatLon {
    /// `42.87654 S 146.12345 E`, five decimals (about a metre).
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let north = if self.latitude < 0.0 { 'S' } else { 'N' };
        let east = if self.longitude < 0.0 { 'W' } else { 'E' };
        f.pad(&format!("{:.5} {north} {:.5} {east}", self.latitude.abs(), self.longitude.abs()))
    }
}

impl fmt::Display for OffTheGlobe {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "latitude {} and longitude {} are out of range (latitude is -90 to 90, longitude -180 to 180)",
            self.latitude, self.longitude
        )
    }
}

impl std::error::Error for OffTheGlobe {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_date_line_has_one_name() {
        assert_eq!(LatLon::new(0.0, -180.0), LatLon::new(0.0, 180.0));
        assert_eq!(LatLon::new(0.0, 190.0).unwrap().longitude(), -170.0);
        assert_eq!(LatLon::clamped(91.0, 540.0), LatLon::new(90.0, 180.0).unwrap());
    }

    #[test]
    fn coordinates_out_of_range_are_refused() {
        assert!(LatLon::new(91.0, 0.0).is_err());
        assert!(LatLon::new(f64::NAN, 0.0).is_err());
        assert!(LatLon::new(0.0, 361.0).is_err());
    }

    #[test]
    fn position_is_formatted_as_on_a_label() {
        assert_eq!(LatLon::new(-42.5, 146.25).unwrap().to_string(), "42.50000 S 146.25000 E");
    }
}
