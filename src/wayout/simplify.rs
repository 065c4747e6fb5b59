//! Simplifies a line within its uncertainty (Douglas-Peucker). Layer: `wayout`.
//!
//! Fewer corners make a route that can be followed: a compass resolves no leg that is shorter than the uncertainty
//! of its ends.

use crate::earth::geodesic;
use crate::earth::local::Plane;
use crate::units::{LatLon, Metres};

/// Indices of the corners to keep, so that every point left out lies within `tolerance` of the line
/// through those kept.
///
/// # References
/// Douglas & Peucker 1973, Algorithms for the reduction of the number of points required to
/// represent a digitized line or its caricature, Cartographica 10, 112-122,
/// doi:10.3138/FM57-6770-U75U-7727.
#[must_use]
pub fn corners(line: &[LatLon], tolerance: Metres) -> Vec<usize> {
    let (Some(first), true) = (line.first(), line.len() > 1) else {
        return (0..line.len()).collect();
    };
    let plane = Plane::about(*first);
    let points: Vec<(f64, f64)> = line.iter().map(|place| plane.to_plane(*place)).collect();
    let mut keep = vec![false; points.len()];
    let last = points.len() - 1;
    (keep[0], keep[last]) = (true, true);
    let mut open = vec![(0, last)];
    while let Some((from, to)) = open.pop() {
        let farthest = (from + 1..to)
            .map(|index| (index, aside(points[index], points[from], points[to])))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((index, off)) = farthest
            && off > tolerance.0
        {
            keep[index] = true;
            open.extend([(from, index), (index, to)]);
        }
    }
    keep.iter().enumerate().filter(|(_, kept)| **kept).map(|(index, _)| index).collect()
}

/// These corners without legs shorter than the uncertainty of their ends, which no compass can follow: the
/// corner after a short leg is left out, the last one before a short last leg. The first and the last place
/// stay.
#[must_use]
pub fn merged(line: &[LatLon], corners: &[usize], least: Metres) -> Vec<usize> {
    let apart = |a: usize, b: usize| match (line.get(a), line.get(b)) {
        (Some(from), Some(to)) => geodesic::distance(*from, *to),
        _ => Metres(0.0),
    };
    let Some((last, before)) = corners.split_last() else { return Vec::new() };
    let mut kept: Vec<usize> = Vec::with_capacity(corners.len());
    for corner in before {
        if kept.last().is_none_or(|previous| apart(*previous, *corner) >= least) {
            kept.push(*corner);
        }
    }
    while kept.len() > 1 && kept.last().is_some_and(|previous| apart(*previous, *last) < least) {
        kept.pop();
    }
    kept.push(*last);
    kept
}

/// The distance of a point from a piece of line.
pub(super) fn aside(point: (f64, f64), from: (f64, f64), to: (f64, f64)) -> f64 {
    let foot = foot(point, from, to);
    (point.0 - foot.0).hypot(point.1 - foot.1)
}

/// The nearest point of a piece of line.
pub(super) fn foot(point: (f64, f64), from: (f64, f64), to: (f64, f64)) -> (f64, f64) {
    let (x, y) = (to.0 - from.0, to.1 - from.1);
    let length2 = x * x + y * y;
    let share = if length2 > 0.0 {
        (((point.0 - from.0) * x + (point.1 - from.1) * y) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (from.0 + x * share, from.1 + y * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn legs_below_the_uncertainty_are_merged() {
        let plane = Plane::about(LatLon::new(50.0, 8.0).unwrap());
        let at = [0.0, 100.0, 106.0, 112.0, 200.0, 204.0];
        let line: Vec<LatLon> = at.iter().map(|x| plane.from_plane(*x, 0.0)).collect();
        let all: Vec<usize> = (0..6).collect();
        assert_eq!(merged(&line, &all, Metres(10.0)), [0, 1, 3, 5]);
        assert_eq!(merged(&line, &all, Metres(500.0)), [0, 5]);
        assert_eq!(merged(&line, &all, Metres(0.0)), all);
        assert_eq!(merged(&line, &[0], Metres(10.0)), [0]);
        assert_eq!(merged(&[], &[], Metres(10.0)), [0_usize; 0]);
    }

    #[test]
    fn the_published_line_loses_the_one_corner() {
        // docs of crate geo, Simplify: tolerance 1 drops only (17.3, 3.2)
        let plane = Plane::about(LatLon::new(50.0, 8.0).unwrap());
        let line: Vec<LatLon> = [(0.0, 0.0), (5.0, 4.0), (11.0, 5.5), (17.3, 3.2), (27.8, 0.1)]
            .map(|(x, y)| plane.from_plane(x, y))
            .to_vec();
        assert_eq!(corners(&line, Metres(1.0)), [0, 1, 2, 4]);
        assert_eq!(corners(&line, Metres(100.0)), [0, 4]);
        assert_eq!(corners(&line[..1], Metres(1.0)), [0]);
        assert_eq!(corners(&[], Metres(1.0)), [0_usize; 0]);
    }
}
