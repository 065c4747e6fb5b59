//! Bounds the rounding error of a position by the diagonal of the cell that the last digit spans.
//! Covers truncated digits as well as rounded ones. Layer: `ingest`.

use crate::units::{LatLon, Metres};

/// WGS 84: semi-major axis in metres and squared eccentricity.
const AXIS: f64 = 6_378_137.0;
const ECCENTRICITY_SQUARED: f64 = 0.006_694_379_990_141_317;

/// The diagonal of a cell of this many degrees of latitude and longitude about a place.
///
/// # Accuracy
/// Agrees with the published table, for example 157 m for 0.001 degree at the equator (`tests/reference`).
///
/// # Examples
/// ```
/// use trug::ingest::position::cell_diagonal;
/// use trug::units::LatLon;
///
/// let at_the_equator = cell_diagonal(LatLon::new(0.0, 10.0)?, 0.001, 0.001);
/// assert_eq!(at_the_equator.to_string(), "157 m");
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
///
/// # References
/// Chapman & Wieczorek 2020, Georeferencing Best Practices, 3.4.6 (uncertainty from the precision
/// of coordinates), doi:10.15468/doc-gg7h-s853. Radii of curvature: Bomford 1980, Geodesy, appendix
/// A.
#[must_use]
pub fn cell_diagonal(at: LatLon, latitude_step: f64, longitude_step: f64) -> Metres {
    let (sine, cosine) = at.latitude().to_radians().sin_cos();
    let squeeze = 1.0 - ECCENTRICITY_SQUARED * sine * sine;
    let meridian = AXIS * (1.0 - ECCENTRICITY_SQUARED) / squeeze.powf(1.5);
    let parallel = AXIS / squeeze.sqrt() * cosine;
    Metres((latitude_step.to_radians() * meridian).hypot(longitude_step.to_radians() * parallel))
}

/// The diagonal of a square of a grid in metres.
pub(super) fn square_diagonal(side: f64) -> Metres {
    Metres(side * std::f64::consts::SQRT_2)
}
