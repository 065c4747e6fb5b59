//! Splits a line at the 180th meridian. Layer: `earth`.

use crate::units::LatLon;

/// The line cut wherever it crosses the 180th meridian, each part as (longitude, latitude) in
/// degrees with 180 west reported as -180. A part of a single point is left out.
///
/// # References
/// RFC 7946 (2016), The GeoJSON Format, section 3.1.9: a line that crosses is cut in two so that no
/// part does.
#[must_use]
pub fn cut(line: &[LatLon]) -> Vec<Vec<(f64, f64)>> {
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut part: Vec<(f64, f64)> = Vec::new();
    for point in line {
        let (x, y) = (point.longitude(), point.latitude());
        match part.last().copied() {
            Some(before) if (x - before.0).abs() > 180.0 => {
                let side = 180_f64.copysign(before.0);
                let latitude = latitude_at_the_line(before, (x, y), side);
                push_unless_there(&mut part, (side, latitude));
                parts.push(std::mem::take(&mut part));
                part.push((-side, latitude));
                push_unless_there(&mut part, (x, y));
            }
            _ => part.push((x, y)),
        }
    }
    parts.push(part);
    parts.retain(|part| part.len() > 1);
    parts
}

fn latitude_at_the_line(from: (f64, f64), to: (f64, f64), side: f64) -> f64 {
    let unwrapped = to.0 + 2.0 * side;
    let whole = unwrapped - from.0;
    let share = if whole == 0.0 { 0.0 } else { (side - from.0) / whole };
    from.1 + share * (to.1 - from.1)
}

fn push_unless_there(part: &mut Vec<(f64, f64)>, point: (f64, f64)) {
    if part.last() != Some(&point) {
        part.push(point);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[(f64, f64)]) -> Vec<LatLon> {
        points.iter().map(|(lat, lon)| LatLon::new(*lat, *lon).unwrap()).collect()
    }

    #[test]
    fn a_line_that_does_not_cross_stays_whole() {
        let parts = cut(&line(&[(-42.0, 146.0), (-42.1, 146.1)]));
        assert_eq!(parts, [vec![(146.0, -42.0), (146.1, -42.1)]]);
    }

    #[test]
    fn a_crossing_is_cut_at_the_line_in_either_direction() {
        let east = cut(&line(&[(-17.0, 179.0), (-18.0, -179.0)]));
        assert_eq!(
            east,
            [vec![(179.0, -17.0), (180.0, -17.5)], vec![(-180.0, -17.5), (-179.0, -18.0)]]
        );
        let west = cut(&line(&[(-18.0, -179.0), (-17.0, 179.0)]));
        assert_eq!(
            west,
            [vec![(-179.0, -18.0), (-180.0, -17.5)], vec![(180.0, -17.5), (179.0, -17.0)]]
        );
    }

    #[test]
    fn point_on_the_date_line_is_not_doubled() {
        let parts = cut(&line(&[(0.0, 179.0), (0.0, 180.0), (0.0, -179.0)]));
        assert_eq!(parts, [vec![(179.0, 0.0), (180.0, 0.0)], vec![(-180.0, 0.0), (-179.0, 0.0)]]);
    }

    #[test]
    fn empty_and_single_points_give_no_line() {
        assert!(cut(&[]).is_empty());
        assert!(cut(&line(&[(0.0, 0.0)])).is_empty());
    }
}
