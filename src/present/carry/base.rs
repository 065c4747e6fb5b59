//! Packs the features of base maps for the page: cut at the edge of the area, simplified, in half metres east and
//! north of its middle. Layer: `present`.

use serde_json::{Value, json};

use super::pack;
use crate::earth::local::Plane;
use crate::model::{BaseFeature, BaseShape};
use crate::present::map::ground::outline;
use crate::present::svg::{Frame, Point};
use crate::units::{LatLon, Metres};

/// What the simplified line may differ by, metres: half a millimetre at 1:2 000.
const TOLERANCE: f64 = 1.0;
/// Vertices of all features at the most; more are simplified further.
const MOST_VERTICES: usize = 60_000;
/// Steps in a metre.
const STEPS: f64 = 2.0;

/// The features within the square, as JSON lists of class, name, shape (0 point, 1 lines, 2 rings) and lines of
/// differences from one vertex to the next; `None` where none lies in it.
pub(super) fn packed(features: &[BaseFeature], centre: LatLon, reach: Metres) -> Option<String> {
    let plane = Plane::about(centre);
    let frame = Frame::new(-reach.0, -reach.0, 2.0 * reach.0, 2.0 * reach.0);
    let cut: Vec<(&BaseFeature, Vec<Vec<Point>>)> = features
        .iter()
        .map(|feature| (feature, within(&feature.shape, &plane, frame)))
        .filter(|(_, lines)| !lines.is_empty())
        .collect();
    let mut tolerance = TOLERANCE;
    let lines = loop {
        let lines: Vec<Vec<Vec<Point>>> = cut
            .iter()
            .map(|(_, lines)| lines.iter().map(|one| outline::simplified(one, tolerance)).collect())
            .collect();
        let vertices: usize = lines.iter().flatten().map(Vec::len).sum();
        if vertices <= MOST_VERTICES || tolerance > 30.0 {
            break lines;
        }
        tolerance *= 1.6;
    };
    let rows: Vec<Value> =
        cut.iter().zip(&lines).map(|((feature, _), of)| row(feature, of)).collect();
    (!rows.is_empty()).then(|| pack::packed(Value::from(rows).to_string().as_bytes()))
}

fn within(shape: &BaseShape, plane: &Plane, frame: Frame) -> Vec<Vec<Point>> {
    let on_plane = |places: &[LatLon]| -> Vec<Point> {
        let point = |at: &LatLon| {
            let (east, north) = plane.to_plane(*at);
            Point::new(east, north)
        };
        places.iter().map(point).collect()
    };
    match shape {
        BaseShape::Point(at) => {
            let point = on_plane(&[*at]);
            if frame.holds(point[0]) { vec![point] } else { Vec::new() }
        }
        BaseShape::Line(line) => outline::within(&on_plane(line), frame),
        BaseShape::Area(rings) => {
            let ring = |ring: &Vec<LatLon>| outline::ring_within(&on_plane(ring), frame);
            rings.iter().map(ring).filter(|ring| ring.len() > 2).collect()
        }
    }
}

fn row(feature: &BaseFeature, lines: &[Vec<Point>]) -> Value {
    let shape = match feature.shape {
        BaseShape::Point(_) => 0,
        BaseShape::Line(_) => 1,
        BaseShape::Area(_) => 2,
    };
    let lines: Vec<Vec<i64>> = lines.iter().map(|line| steps(line)).collect();
    json!([feature.class, feature.name, shape, lines])
}

/// East and north of the first vertex, then of each from the one before.
#[allow(clippy::cast_possible_truncation, reason = "half metres of an area")]
fn steps(line: &[Point]) -> Vec<i64> {
    let mut before = (0, 0);
    let mut steps = Vec::with_capacity(2 * line.len());
    for point in line {
        let here = ((point.x * STEPS).round() as i64, (point.y * STEPS).round() as i64);
        steps.extend([here.0 - before.0, here.1 - before.1]);
        before = here;
    }
    steps
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use base64::Engine;
    use base64::engine::general_purpose::STANDARD;

    use super::*;
    use crate::model::BaseClass;

    fn unpacked(features: &[BaseFeature], reach: f64) -> Option<Value> {
        let packed = packed(features, centre(), Metres(reach))?;
        let bytes = STANDARD.decode(packed).unwrap();
        let mut text = String::new();
        flate2::read::ZlibDecoder::new(bytes.as_slice()).read_to_string(&mut text).unwrap();
        Some(serde_json::from_str(&text).unwrap())
    }

    fn centre() -> LatLon {
        LatLon::new(-42.61, 180.0).unwrap()
    }

    fn feature(class: BaseClass, places: &[(f64, f64)]) -> BaseFeature {
        let plane = Plane::about(centre());
        let places = places.iter().map(|(x, y)| plane.from_plane(*x, *y)).collect();
        BaseFeature { class, name: Some("Lantern Creek".into()), shape: BaseShape::Line(places) }
    }

    #[test]
    fn lines_are_cut_at_the_edge_and_hold_across_the_date_line() {
        let stream = feature(BaseClass::Stream, &[(-400.0, 10.0), (0.0, 20.0), (5_000.0, 20.0)]);
        let rows = unpacked(&[stream], 500.0).unwrap();
        assert_eq!(rows, json!([["stream", "Lantern Creek", 1, [[-800, 20, 800, 20, 1000, 0]]]]));
    }

    #[test]
    fn what_lies_outside_is_left_out() {
        let far = feature(BaseClass::Road, &[(2_000.0, 2_000.0), (3_000.0, 2_000.0)]);
        assert_eq!(unpacked(&[far], 500.0), None);
    }

    #[test]
    fn many_vertices_are_simplified_until_they_fit() {
        let wavy = |offset: f64| {
            let places: Vec<(f64, f64)> = (0..2_000)
                .map(|step| {
                    let x = f64::from(step) * 0.45 - 450.0;
                    (x, offset + 4.0 * (x / 1.5).sin())
                })
                .collect();
            feature(BaseClass::Path, &places)
        };
        let many: Vec<BaseFeature> = (0..60).map(|n| wavy(f64::from(n) * 14.0 - 420.0)).collect();
        let rows = unpacked(&many, 500.0).unwrap();
        let numbers = |row: &Value| row[3][0].as_array().unwrap().len();
        let vertices: usize = rows.as_array().unwrap().iter().map(numbers).sum::<usize>() / 2;
        assert!(rows.as_array().unwrap().len() == 60 && vertices <= MOST_VERTICES, "{vertices}");
    }
}
