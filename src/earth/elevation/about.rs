//! Computes the elevation of the ground at an uncertain position, with its uncertainty: how the ground varies
//! within the radius of the position, and the error of the elevation model. Layer: `earth`.
//!
//! Used for a find whose record has no elevation: the position is known to a radius only, and on a slope of 30 degrees
//! ten metres aside are almost six metres up or down.

use super::Ground;
use crate::earth::local::Plane;
use crate::model::GroundElevation;
use crate::units::{LatLon, Metres, Radius95};

/// Rings of places within the circle, and places on each.
const RINGS: u32 = 4;
const DIRECTIONS: u32 = 16;
/// The largest error of a model, 95 %: the specification of SRTM is 16 m at the 90 % level (Farr et al. 2007,
/// The Shuttle Radar Topography Mission, doi:10.1029/2005RG000183), which is 19 m at 95 % for normal errors.
const LARGEST_ERROR: f64 = 19.0;
/// The smallest one (chosen).
const LEAST_ERROR: f64 = 1.0;

impl Ground {
    /// The elevation at a position; `None` where no tile lies and at a void.
    ///
    /// The half width adds two parts in quadrature: the largest difference of the ground within the circle from the
    /// ground at its centre, and the assumed error of the model.
    ///
    /// # Accuracy
    /// The half width holds the true elevation with at least 95 % probability, if the position is in its circle and
    /// the error of the model is as assumed: no tile states it, so it is taken as the distance between posts, from
    /// 1 to 19 m (common practice for the fine ones). The ground is looked at in 64 places of the circle.
    #[must_use]
    pub fn about(&self, at: LatLon, radius: Radius95) -> Option<GroundElevation> {
        let (height, patch) = self.found(at)?;
        let plane = Plane::about(at);
        let mut varies = 0.0_f64;
        for ring in 1..=RINGS {
            let away = radius.metres().0 * f64::from(ring) / f64::from(RINGS);
            for direction in 0..DIRECTIONS {
                let turn = std::f64::consts::TAU * f64::from(direction) / f64::from(DIRECTIONS);
                let place = plane.from_plane(away * turn.sin(), away * turn.cos());
                varies =
                    self.height(place).map_or(varies, |own| varies.max((own.0.0 - height).abs()));
            }
        }
        let error = patch.spacing(at).0.clamp(LEAST_ERROR, LARGEST_ERROR);
        Some(GroundElevation {
            elevation: Metres(height),
            within: Metres(varies.hypot(error)),
            tile: patch.name.clone(),
        })
    }
}
