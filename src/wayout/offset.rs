//! Computes the deliberate offset: the side of the goal to aim for and by how much, from the
//! position and bearing errors, so that on reaching a line (road, river, trail) the direction to
//! the goal is known. Layer: `wayout`.
//!
//! # Method
//! Two standard deviations of the lateral error at the goal, from the radius of the position, 3 degrees of compass
//! and the error of the declination; the aim lies where the line leaves the direct one by so much, on the side with
//! the shorter walk in all. After `too_far_paces` the line must have been crossed: three standard deviations of
//! pacing and a quarter of the way along the line.
//!
//! # References
//! Common practice of land navigation; the amount is computed instead of taken as ten degrees.

use serde::Serialize;

use super::legs::Paces;
use super::simplify::foot;
use super::start::{COMPASS_SIGMA, PACING_SIGMA, Start};
use crate::earth::local::Plane;
use crate::model::{OffsetLine, Side};
use crate::units::{Declination, Degrees, LatLon, MagneticBearing, Metres, TrueBearing};

/// The largest distance of the goal from the line.
const ON_THE_LINE: f64 = 100.0;

/// A deliberate offset.
///
/// On reaching the line, turn to the stated side and follow it: the goal is then ahead with about 97 % (two
/// standard deviations to one side).
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Offset {
    /// Which side of the goal, seen from the start.
    pub side: Side,
    /// The angle of the offset, degrees.
    pub degrees: Degrees,
    /// The point of the line to aim for.
    pub aim: LatLon,
    /// The bearing to steer.
    pub true_bearing: TrueBearing,
    /// The magnetic bearing.
    pub magnetic_bearing: MagneticBearing,
    /// The distance to the line along that bearing.
    pub distance: Metres,
    /// In paces.
    pub paces: u32,
    /// Which way to turn on reaching the line.
    pub turn: Side,
    /// The distance along the line from there to the goal.
    pub along: Metres,
    /// Paces after which the line must have been reached.
    pub too_far_paces: u32,
    /// The line that it aims at.
    pub line: OffsetLine,
}

/// The offset for a goal on a line; `None` where the goal does not lie on the line, or the line is
/// too short on both sides to be reached reliably.
#[must_use]
pub fn aim(
    start: &Start,
    goal: LatLon,
    line: &[LatLon],
    declination: &Declination,
    paces: Paces,
) -> Option<Offset> {
    let plane = Plane::about(start.at);
    let target = plane.to_plane(goal);
    let points: Vec<(f64, f64)> = line.iter().map(|place| plane.to_plane(*place)).collect();
    let (piece, on_line) = nearest(&points, target)?;
    let distance = target.0.hypot(target.1);
    if (on_line.0 - target.0).hypot(on_line.1 - target.1) > ON_THE_LINE || distance < 1.0 {
        return None;
    }
    let aside = lateral(start, distance, declination.uncertainty);
    let towards = (target.0 / distance, target.1 / distance);
    let ahead = beside(&points, on_line, piece, towards, aside, true);
    let behind = beside(&points, on_line, piece, towards, aside, false);
    let far = |found: &((f64, f64), f64)| found.0.0.hypot(found.0.1) + found.1;
    let (best, along) =
        [ahead, behind].into_iter().flatten().min_by(|a, b| far(a).total_cmp(&far(b)))?;
    Some(report(&plane, target, best, along, declination, paces))
}

/// Two standard deviations of the lateral error at this distance.
fn lateral(start: &Start, distance: f64, declination: Degrees) -> f64 {
    let bearing = COMPASS_SIGMA.radians().hypot(declination.radians());
    2.0 * start.radius.sigma().0.hypot(distance * bearing)
}

/// The offset towards a point of the line, with the turn on reaching it.
fn report(
    plane: &Plane,
    target: (f64, f64),
    aim: (f64, f64),
    along: f64,
    declination: &Declination,
    paces: Paces,
) -> Offset {
    let bearing = |at: (f64, f64)| TrueBearing::new(Degrees::from_radians(at.0.atan2(at.1)));
    let (to_goal, to_aim) = (bearing(target), bearing(aim));
    let turned = to_goal.turn_to(to_aim);
    let side = Side::of_turn(turned);
    let distance = Metres(aim.0.hypot(aim.1));
    let magnetic = declination.to_magnetic(to_aim);
    let too_far = paces.over(distance * (1.0 + 3.0 * PACING_SIGMA) + Metres(along * 0.25));
    Offset {
        side,
        degrees: turned.abs(),
        aim: plane.from_plane(aim.0, aim.1),
        true_bearing: to_aim,
        magnetic_bearing: magnetic,
        distance,
        paces: paces.over(distance),
        turn: side.other(),
        along: Metres(along),
        too_far_paces: too_far,
        line: OffsetLine::Given,
    }
}

/// The piece of the line nearest to a point, and the point on it.
fn nearest(points: &[(f64, f64)], target: (f64, f64)) -> Option<(usize, (f64, f64))> {
    points
        .windows(2)
        .enumerate()
        .map(|(index, ends)| (index, foot(target, ends[0], ends[1])))
        .min_by(|a, b| off(a.1, target).total_cmp(&off(b.1, target)))
}

fn off(a: (f64, f64), b: (f64, f64)) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

/// The point of the line, on from a point on one of its pieces, at this lateral offset from the
/// direct line to the goal, and its distance along the line. A line at an oblique angle must be
/// followed farther. `None` where it ends before.
fn beside(
    points: &[(f64, f64)],
    from: (f64, f64),
    piece: usize,
    towards: (f64, f64),
    aside: f64,
    forward: bool,
) -> Option<((f64, f64), f64)> {
    let off_way =
        |at: (f64, f64)| ((at.0 - from.0) * towards.1 - (at.1 - from.1) * towards.0).abs();
    let mut here = from;
    let mut walked = 0.0;
    let mut next = if forward { Some(piece + 1) } else { Some(piece) };
    while let Some(corner) = next.and_then(|index| points.get(index)) {
        let (before, after) = (off_way(here), off_way(*corner));
        let length = off(here, *corner);
        if after >= aside {
            let share = if after > before { (aside - before) / (after - before) } else { 0.0 };
            let at = (here.0 + (corner.0 - here.0) * share, here.1 + (corner.1 - here.1) * share);
            return Some((at, walked + length * share));
        }
        walked += length;
        here = *corner;
        next = next
            .and_then(|index| if forward { index.checked_add(1) } else { index.checked_sub(1) });
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{MagneticModel, Radius95};

    fn setting(radius: f64) -> (Plane, Start, Declination) {
        let at = LatLon::new(-42.0, 146.0).unwrap();
        let declination = Declination {
            east: Degrees(14.0),
            uncertainty: Degrees(0.4),
            model: MagneticModel::Stated,
            date: jiff::civil::date(2026, 5, 1),
            place: at,
        };
        let start = Start::stated(at, Radius95::new(Metres(radius)).unwrap());
        (Plane::about(at), start, declination)
    }

    #[test]
    fn it_is_as_large_as_the_errors_and_says_which_way_to_turn() {
        // a road from west to east, 1 km to the north, the car on it; it ends soon in the east
        let (plane, start, declination) = setting(10.0);
        let road = [plane.from_plane(-2_000.0, 1_000.0), plane.from_plane(50.0, 1_000.0)];
        let goal = plane.from_plane(0.0, 1_000.0);
        let offset = aim(&start, goal, &road, &declination, Paces::ACROSS_COUNTRY).unwrap();
        // 2 sigma of 3 degrees over 1 km and of a fix of 10 m: 106 m, that is 6 degrees
        assert!((offset.along.0 - 106.0).abs() < 1.0, "{offset:?}");
        assert!((offset.degrees.0 - 6.05).abs() < 0.1, "{offset:?}");
        assert_eq!((offset.side, offset.turn), (Side::Left, Side::Right));
    }

    #[test]
    fn worse_fix_needs_a_larger_offset() {
        let (plane, start, declination) = setting(120.0);
        let road = [plane.from_plane(-2_000.0, 400.0), plane.from_plane(2_000.0, 400.0)];
        let goal = plane.from_plane(0.0, 400.0);
        let offset = aim(&start, goal, &road, &declination, Paces::ACROSS_COUNTRY).unwrap();
        assert!(offset.degrees.0 > 13.0, "{offset:?}");
    }

    #[test]
    fn oblique_line_needs_a_farther_aim() {
        let (plane, start, declination) = setting(10.0);
        let road = [plane.from_plane(-2_000.0, -1_000.0), plane.from_plane(2_000.0, 3_000.0)];
        let goal = plane.from_plane(0.0, 1_000.0);
        let offset = aim(&start, goal, &road, &declination, Paces::ACROSS_COUNTRY).unwrap();
        assert!((offset.along.0 - 106.0 * std::f64::consts::SQRT_2).abs() < 1.0, "{offset:?}");
        assert!(offset.degrees.0 > 5.4, "{offset:?}");
    }

    #[test]
    fn line_away_from_the_goal_gives_no_offset() {
        let (plane, start, declination) = setting(10.0);
        let goal = plane.from_plane(0.0, 1_000.0);
        let far = [plane.from_plane(-500.0, 2_000.0), plane.from_plane(500.0, 2_000.0)];
        let short = [plane.from_plane(-10.0, 1_000.0), plane.from_plane(10.0, 1_000.0)];
        for line in [&far[..], &short[..], &far[..1], &[]] {
            assert_eq!(aim(&start, goal, line, &declination, Paces::LEVEL), None);
        }
    }
}
