//! Computes boxes of longitude and latitude that contain every point within a distance of a place.
//! Layer: `store`.

use crate::units::{LatLon, Metres};

/// The smallest length of a degree of latitude on WGS 84, metres (at the equator: 110,574).
const SHORTEST_DEGREE: f64 = 110_574.0;
/// Margin for the single precision of the spatial index, metres.
const MARGIN: f64 = 1e-4;

/// A condition on the key of the layer `finds`: in a box of the spatial index. Exact distances come
/// after it.
pub(super) fn condition(at: LatLon, within: Metres) -> String {
    let boxes: Vec<String> = boxes(at, within)
        .into_iter()
        .map(|(west, east, south, north)| {
            format!("(maxx >= {west} AND minx <= {east} AND maxy >= {south} AND miny <= {north})")
        })
        .collect();
    format!("f.id IN (SELECT id FROM rtree_finds_geom WHERE {})", boxes.join(" OR "))
}

/// Boxes as west, east, south, north in degrees: one, or two where it lies across the 180th
/// meridian.
fn boxes(at: LatLon, within: Metres) -> Vec<(f64, f64, f64, f64)> {
    let reach = within.0.max(0.0) / SHORTEST_DEGREE + MARGIN;
    let (south, north) = (at.latitude() - reach, at.latitude() + reach);
    let sine = reach.to_radians().sin() / at.latitude().to_radians().cos();
    if south <= -90.0 || north >= 90.0 || reach >= 90.0 || !(-1.0..=1.0).contains(&sine) {
        return vec![(-180.0, 180.0, south.max(-90.0), north.min(90.0))];
    }
    // The widest parallel that the circle touches lies towards the pole; on the ellipsoid a degree
    // of longitude is longer than on the sphere with the short degree, so this errs to the safe
    // side.
    let half = sine.asin().to_degrees() + MARGIN;
    let (west, east) = (at.longitude() - half, at.longitude() + half);
    if west < -180.0 {
        vec![(-180.0, east, south, north), (west + 360.0, 180.0, south, north)]
    } else if east > 180.0 {
        vec![(west, 180.0, south, north), (-180.0, east - 360.0, south, north)]
    } else {
        vec![(west, east, south, north)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::earth::geodesic;
    use crate::units::{Degrees, TrueBearing};

    #[test]
    fn every_point_of_the_circle_is_in_a_box() {
        let centres = [
            (0.0, 0.0),
            (-42.5, 146.2),
            (60.0, 179.99),
            (-17.0, -179.99),
            (89.5, 10.0),
            (-90.0, 0.0),
            (75.0, 180.0),
        ];
        for (lat, lon) in centres {
            let centre = LatLon::new(lat, lon).unwrap();
            for within in [0.0, 5.0, 1_000.0, 60_000.0, 900_000.0, 9_000_000.0, 20_003_000.0] {
                let boxes = boxes(centre, Metres(within));
                for turn in 0..72 {
                    let bearing = TrueBearing::new(Degrees(f64::from(turn) * 5.0));
                    let point = geodesic::destination(centre, bearing, Metres(within));
                    let (x, y) = (point.longitude(), point.latitude());
                    let held = boxes.iter().any(|(w, e, s, n)| {
                        // In the spatial index 180 east is the end of both boxes.
                        (*w..=*e).contains(&x) && (*s..=*n).contains(&y)
                    });
                    assert!(held, "{centre} {within} m at {bearing}: {point} outside {boxes:?}");
                }
            }
        }
    }
}
