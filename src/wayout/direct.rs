//! Computes the straight line to the goal: distance, the three bearings, map references and the
//! effect of a small compass error. Layer: `wayout`.
//!
//! It is reported with every route, for checking: a compass and a count of paces follow it, obstacles permitting.

use serde::Serialize;

use super::legs::Paces;
use super::start::missed_by;
use crate::earth::{declination, geodesic, grid};
use crate::units::{
    Declination, Degrees, GridBearing, GridConvergence, LatLon, MagneticBearing, Metres,
    TrueBearing,
};

/// The errors of bearing that are reported.
const ERRORS: [f64; 3] = [1.0, 3.0, 5.0];

/// The straight line.
///
/// All bearings are those at the start. Over a walk of some kilometres they change by a small part of a degree,
/// except near a pole, where declination and convergence change quickly.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Direct {
    /// Along the ellipsoid.
    pub distance: Metres,
    /// The true bearing.
    pub true_bearing: TrueBearing,
    /// The magnetic bearing.
    pub magnetic_bearing: MagneticBearing,
    /// The UTM grid bearing.
    pub grid_bearing: GridBearing,
    /// The compass reading towards the start, seen from the goal.
    pub back_bearing: MagneticBearing,
    /// The declination at the start.
    pub declination: Declination,
    /// The angle from true to grid north at the start.
    pub convergence: GridConvergence,
    /// In paces.
    pub paces: u32,
    /// Start and goal as UTM positions, in words.
    pub utm: [String; 2],
    /// Start and goal as MGRS references of 10 m.
    pub mgrs: [String; 2],
    /// The lateral error after a constant bearing error of so many degrees.
    pub missed_by: Vec<(Degrees, Metres)>,
}

/// The straight line from one place to another.
///
/// `missed_by` shows what a constant error of 1, 3 and 5 degrees does over the distance: one degree is 17.5 m for
/// each kilometre.
///
/// # References
/// Karney 2013, Algorithms for geodesics, J. Geodesy 87, 43-55, doi:10.1007/s00190-012-0578-z.
#[must_use]
pub fn line(from: LatLon, to: LatLon, declination: Declination, paces: Paces) -> Direct {
    let (distance, true_bearing) = geodesic::leg(from, to);
    let convergence = grid::convergence(from);
    // the azimuth changes along a geodesic; the reverse azimuth is that at the goal
    let back = geodesic::bearing(to, from);
    Direct {
        distance,
        true_bearing,
        magnetic_bearing: declination.to_magnetic(true_bearing),
        grid_bearing: convergence.to_grid(true_bearing),
        back_bearing: declination::nearby(&declination, to).to_magnetic(back),
        declination,
        convergence,
        paces: paces.over(distance),
        utm: [from, to].map(|place| grid::utm(place).to_string()),
        mgrs: [from, to].map(|place| grid::mgrs(place, Metres(10.0))),
        missed_by: ERRORS
            .iter()
            .map(|error| (Degrees(*error), missed_by(distance, Degrees(*error))))
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::MagneticModel;

    fn declination(place: LatLon) -> Declination {
        Declination {
            east: Degrees(14.0),
            uncertainty: Degrees(0.4),
            model: MagneticModel::Stated,
            date: jiff::civil::date(2026, 5, 1),
            place,
        }
    }

    #[test]
    fn the_three_bearings_differ_by_declination_and_convergence() {
        let from = LatLon::new(-42.0, 146.0).unwrap();
        let to = LatLon::new(-42.01, 146.01).unwrap();
        let direct = line(from, to, declination(from), Paces::ACROSS_COUNTRY);
        assert!(
            (direct.true_bearing.degrees().0 - direct.magnetic_bearing.degrees().0 - 14.0).abs()
                < 1e-9
        );
        let grid = direct.true_bearing.degrees().0 - direct.grid_bearing.degrees().0;
        assert!((grid - direct.convergence.0.0).abs() < 1e-9);
        let back = direct.back_bearing.turn_to(direct.magnetic_bearing.back()).abs();
        assert!(back.0 < 0.02, "{back:?}");
        assert!((direct.missed_by[0].1.0 / direct.distance.0 - 0.017_453).abs() < 1e-6);
    }

    #[test]
    fn near_a_pole_the_way_back_is_still_the_opposite() {
        // the true bearings differ by 50 degrees there, and so do the declinations
        let from = LatLon::new(89.95, 10.0).unwrap();
        let to = LatLon::new(89.97, 60.0).unwrap();
        let day = jiff::civil::date(2026, 5, 1);
        let direct = line(from, to, declination::at(from, day).unwrap(), Paces::LEVEL);
        let off = direct.back_bearing.turn_to(direct.magnetic_bearing.back()).abs();
        assert!(off.0 < 1.0, "{off:?}");
    }

    #[test]
    fn zero_distance_poles_and_the_date_line_are_handled() {
        for (a, b) in [
            ((0.0, 0.0), (0.0, 0.0)),
            ((90.0, 0.0), (89.99, 10.0)),
            ((-90.0, 0.0), (-90.0, 90.0)),
            ((-17.0, 179.999), (-17.0, -179.999)),
        ] {
            let from = LatLon::new(a.0, a.1).unwrap();
            let to = LatLon::new(b.0, b.1).unwrap();
            let direct = line(from, to, declination(from), Paces::LEVEL);
            assert!(direct.distance.0.is_finite() && direct.grid_bearing.degrees().0.is_finite());
        }
    }
}
