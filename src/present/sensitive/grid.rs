//! Assigns positions to cells of a decimal grid whose sides are never shorter than the least length of
//! the level: beyond 26 degrees of latitude a cell of 0.001 degree is narrower than 100 m, so it is
//! widened in longitude. Layer: `present`.

use crate::earth::geodesic;
use crate::model::{GridCell, Sensitivity};
use crate::units::{LatLon, Metres};

/// Multiples of the grid's step by which a cell may be wider in longitude; each divides 360 degrees into
/// whole cells, so that the grid closes at the 180th meridian.
const MULTIPLES: [f64; 3] = [1.0, 2.0, 5.0];
/// The widest steps in longitude, degrees.
const WIDE: [f64; 5] = [36.0, 60.0, 90.0, 180.0, 360.0];
/// Metres in a degree of longitude at the equator of WGS 84: pi times 6,378,137 m over 180.
const EQUATOR: f64 = 111_319.49;

/// The cell of a position; `None` where the level withholds coordinates.
///
/// The step in longitude follows from the row of cells alone, never from the position itself.
pub(super) fn cell(at: LatLon, level: Sensitivity) -> Option<GridCell> {
    let step = level.grid()?;
    let decimals = usize::from(level.decimals()?);
    let latitude = rounded(at.latitude(), step, decimals);
    let longitude_step = longitude_step(latitude, step, level.least_side()?);
    let longitude = if longitude_step >= 360.0 {
        0.0
    } else {
        rounded(at.longitude(), longitude_step, decimals)
    };
    Some(GridCell { at: LatLon::clamped(latitude, longitude), latitude_step: step, longitude_step })
}

/// The cell of a position on the grid to which another cell belongs; that cell itself where it is of no level.
pub(super) fn cell_like(at: LatLon, other: &GridCell) -> GridCell {
    let of_grid = |level: &Sensitivity| {
        level.grid().is_some_and(|step| (step - other.latitude_step).abs() < step / 2.0)
    };
    Sensitivity::ALL.into_iter().find(of_grid).and_then(|level| cell(at, level)).unwrap_or(*other)
}

/// The region of a position whose coordinates are withheld: one degree, and 100 km at least (Chapman 2020).
pub(super) fn region(at: LatLon) -> GridCell {
    let latitude = rounded(at.latitude(), 1.0, 0);
    let longitude_step = longitude_step(latitude, 1.0, 100_000.0);
    let longitude =
        if longitude_step >= 360.0 { 0.0 } else { rounded(at.longitude(), longitude_step, 0) };
    GridCell { at: LatLon::clamped(latitude, longitude), latitude_step: 1.0, longitude_step }
}

/// The least step in longitude with which a cell of this row is nowhere narrower than the least side.
fn longitude_step(latitude: f64, step: f64, least: f64) -> f64 {
    let poleward = (latitude.abs() + step / 2.0).min(90.0).to_radians();
    let wide_enough = |candidate: &f64| candidate * EQUATOR * poleward.cos() >= least;
    let decades = (0..6).map(|power| step * 10_f64.powi(power));
    decades
        .flat_map(|decade| MULTIPLES.map(|multiple| multiple * decade))
        .filter(|candidate| *candidate <= 20.0 + 1e-9)
        .chain(WIDE)
        .find(wide_enough)
        .unwrap_or(360.0)
}

/// The nearest multiple of the step, without floating-point rounding digits.
fn rounded(degrees: f64, step: f64, decimals: usize) -> f64 {
    let nearest = (degrees / step).round() * step;
    format!("{nearest:.decimals$}").parse::<f64>().unwrap_or(nearest) + 0.0
}

/// The distance from the centre of a cell to its farthest corner.
pub(super) fn far_corner(cell: &GridCell) -> Metres {
    let (north, east) = (cell.latitude_step / 2.0, cell.longitude_step / 2.0);
    [(-north, -east), (-north, east), (north, -east), (north, east)]
        .into_iter()
        .map(|(north, east)| {
            LatLon::clamped(cell.at.latitude() + north, cell.at.longitude() + east)
        })
        .map(|corner| geodesic::distance(cell.at, corner))
        .fold(Metres(0.0), Metres::max)
}

/// A cell's sides on the ground: north to south, and west to east where it is narrowest.
///
/// # Accuracy
/// Along the parallel: a geodesic is shorter for wide cells.
#[must_use]
pub fn sides(cell: &GridCell) -> (Metres, Metres) {
    let (low, high) = (
        (cell.at.latitude() - cell.latitude_step / 2.0).max(-90.0),
        (cell.at.latitude() + cell.latitude_step / 2.0).min(90.0),
    );
    let north = geodesic::distance(LatLon::clamped(low, 0.0), LatLon::clamped(high, 0.0));
    let poleward = low.abs().max(high.abs()).min(90.0);
    // a hundredth of a degree at a time: the parallel is then no longer than the geodesic by 1e-9
    let piece = 0.01_f64.min(cell.longitude_step);
    let along =
        geodesic::distance(LatLon::clamped(poleward, 0.0), LatLon::clamped(poleward, piece));
    (north, Metres(along.0 * cell.longitude_step / piece))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(latitude: f64, longitude: f64) -> LatLon {
        LatLon::new(latitude, longitude).unwrap()
    }

    /// Chapman & Wieczorek 2020, Georeferencing Best Practices, table of the uncertainty of written
    /// coordinates at the equator: 15,691, 1,570 and 157 m for the full diagonal of a cell; from its
    /// middle to a corner it is half of that.
    #[test]
    fn cell_corner_distance_matches_published_diagonal() {
        let levels = [Sensitivity::High, Sensitivity::Medium, Sensitivity::Low];
        for (level, diagonal) in levels.into_iter().zip([15_691.0, 1_570.0, 157.0]) {
            let corner = far_corner(&cell(at(0.0, 0.0), level).unwrap()).0;
            assert!((corner * 2.0 - diagonal).abs() < 1.0, "{level}: {corner}");
        }
    }

    #[test]
    fn the_grid_is_decimal_and_has_no_minus_zero() {
        let middle = |latitude, longitude, level| {
            let at = cell(at(latitude, longitude), level).unwrap().at;
            (at.latitude(), at.longitude())
        };
        assert_eq!(middle(-12.618_37, 146.096_5, Sensitivity::Medium), (-12.62, 146.1));
        assert_eq!(middle(-42.618_37, 146.091_5, Sensitivity::Low), (-42.618, 146.092));
        let zero = middle(-0.000_1, -0.000_1, Sensitivity::Low);
        assert_eq!((zero.0.to_bits(), zero.1.to_bits()), (0, 0));
        assert_eq!(cell(at(1.0, 1.0), Sensitivity::Extreme), None);
    }

    #[test]
    fn cell_sides_reach_the_level_minimum_at_all_latitudes() {
        for tenth in -900..=900 {
            for level in [Sensitivity::Low, Sensitivity::Medium, Sensitivity::High] {
                let cell = cell(at(f64::from(tenth) / 10.0, 25.123_456), level).unwrap();
                let (north, east) = sides(&cell);
                let least = level.least_side().unwrap();
                let polar = cell.longitude_step >= 360.0;
                assert!(north.0 >= least * if polar { 0.5 } else { 1.0 }, "{cell:?}: {north}");
                assert!(polar || east.0 >= least, "{cell:?}: {east}");
                assert!(polar || east.0 < 3.0 * north.0, "{cell:?}: {east} is needlessly wide");
                assert!(cell.holds(at(f64::from(tenth) / 10.0, 25.123_456)), "{cell:?}");
                let whole = 360.0 / cell.longitude_step;
                assert!((whole - whole.round()).abs() < 1e-6, "{cell:?} does not close");
            }
        }
    }

    #[test]
    fn a_cell_at_the_date_line_and_at_a_pole_is_one_cell() {
        for (a, b) in [
            (at(-16.8, 179.999_9), at(-16.8, -179.999_9)),
            (at(68.2, 179.999_9), at(68.2, -179.999_9)),
            (at(89.999_9, 10.0), at(89.999_9, -170.0)),
        ] {
            for level in [Sensitivity::Low, Sensitivity::High] {
                assert_eq!(cell(a, level), cell(b, level), "{a} {b}");
            }
        }
    }
}
