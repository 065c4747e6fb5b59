//! Clips lines and rings to a frame, simplifies them to what a drawing shows, and writes them as short
//! paths. Layer: `present`.

use std::fmt::Write;

use geo::{LineString, Simplify};

use crate::present::svg::{Frame, Point};

/// Deviations below this are invisible, points: a twentieth of a millimetre.
pub const TOLERANCE: f64 = 0.15;

/// The parts of a line within a frame.
#[must_use]
pub fn within(line: &[Point], frame: Frame) -> Vec<Vec<Point>> {
    let mut parts: Vec<Vec<Point>> = Vec::new();
    for pair in line.windows(2) {
        let Some((from, to)) = cut(pair[0], pair[1], frame) else { continue };
        match parts.last_mut() {
            Some(part) if part.last() == Some(&from) => part.push(to),
            _ => parts.push(vec![from, to]),
        }
    }
    parts
}

/// The part of a straight line within a frame (Liang & Barsky 1984, A new concept and method for line
/// clipping, ACM Transactions on Graphics 3(1):1).
fn cut(from: Point, to: Point, frame: Frame) -> Option<(Point, Point)> {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (along, room) in [
        (-dx, from.x - frame.corner.x),
        (dx, frame.right() - from.x),
        (-dy, from.y - frame.corner.y),
        (dy, frame.bottom() - from.y),
    ] {
        if along == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if along < 0.0 {
            enter = enter.max(room / along);
        } else {
            leave = leave.min(room / along);
        }
    }
    let at = |share: f64| if share == 0.0 { from } else { from.plus(share * dx, share * dy) };
    let end = if leave == 1.0 { to } else { at(leave) };
    (enter <= leave && enter.is_finite()).then_some((at(enter), end))
}

/// A ring within a frame; its sides may run along the edge (Sutherland & Hodgman 1974, Reentrant polygon
/// clipping, Communications of the ACM 17(1):32).
#[must_use]
pub fn ring_within(ring: &[Point], frame: Frame) -> Vec<Point> {
    type Side = (fn(Point, Frame) -> f64, fn(Point, Point, f64) -> Point);
    let across = |a: Point, b: Point, share: f64| a.plus(share * (b.x - a.x), share * (b.y - a.y));
    let sides: [Side; 4] = [
        (|p, f| p.x - f.corner.x, across),
        (|p, f| f.right() - p.x, across),
        (|p, f| p.y - f.corner.y, across),
        (|p, f| f.bottom() - p.y, across),
    ];
    let mut kept = ring.to_vec();
    for (room, cross) in sides {
        let mut next = Vec::with_capacity(kept.len() + 4);
        for (index, to) in kept.iter().enumerate() {
            let from = kept[(index + kept.len() - 1) % kept.len()];
            let (a, b) = (room(from, frame), room(*to, frame));
            if (a < 0.0) != (b < 0.0) {
                next.push(cross(from, *to, a / (a - b)));
            }
            if b >= 0.0 {
                next.push(*to);
            }
        }
        kept = next;
    }
    kept
}

/// The line without vertices that the drawing does not show (Douglas & Peucker 1973).
#[must_use]
pub fn simplified(line: &[Point], tolerance: f64) -> Vec<Point> {
    let whole: LineString<f64> = line.iter().map(|point| (point.x, point.y)).collect();
    whole.simplify(tolerance).into_iter().map(|at| Point::new(at.x, at.y)).collect()
}

/// Twice the area of a ring, signed.
#[must_use]
pub fn double_area(ring: &[Point]) -> f64 {
    let next = ring.iter().cycle().skip(1);
    ring.iter().zip(next).map(|(a, b)| a.x * b.y - b.x * a.y).sum()
}

/// Path commands in steps of a tenth of a point, relative to the point before.
#[must_use]
pub fn path(line: &[Point], closed: bool) -> String {
    let mut commands = String::with_capacity(line.len() * 7);
    let mut last: Option<(i64, i64)> = None;
    for point in line {
        let here = (tenths(point.x), tenths(point.y));
        match last {
            None => {
                commands.push('M');
                number(&mut commands, here.0, false);
                number(&mut commands, here.1, true);
            }
            Some(before) if before == here => continue,
            Some(before) => {
                commands.push('l');
                number(&mut commands, here.0 - before.0, false);
                number(&mut commands, here.1 - before.1, true);
            }
        }
        last = Some(here);
    }
    if closed && !commands.is_empty() {
        commands.push('z');
    }
    commands
}

#[allow(clippy::cast_possible_truncation, reason = "saturates far outside of any page")]
fn tenths(length: f64) -> i64 {
    (length * 10.0).round() as i64
}

fn number(commands: &mut String, tenths: i64, follows: bool) {
    if follows && tenths >= 0 {
        commands.push(' ');
    }
    if tenths < 0 {
        commands.push('-');
    }
    let (whole, tenth) = (tenths.abs() / 10, tenths.abs() % 10);
    let _ = match (whole, tenth) {
        (whole, 0) => write!(commands, "{whole}"),
        (0, tenth) => write!(commands, ".{tenth}"),
        (whole, tenth) => write!(commands, "{whole}.{tenth}"),
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Frame = Frame::new(0.0, 0.0, 10.0, 10.0);

    fn points(numbers: &[(f64, f64)]) -> Vec<Point> {
        numbers.iter().map(|(x, y)| Point::new(*x, *y)).collect()
    }

    #[test]
    fn line_is_cut_at_the_frame() {
        let line = points(&[(-5.0, 5.0), (5.0, 5.0), (5.0, 15.0), (15.0, 5.0), (15.0, -5.0)]);
        let parts = within(&line, FRAME);
        assert_eq!(parts[0], points(&[(0.0, 5.0), (5.0, 5.0), (5.0, 10.0)]));
        assert_eq!(parts.len(), 2, "{parts:?}");
        assert_eq!(parts[1], points(&[(10.0, 10.0), (10.0, 10.0)]));
        assert!(within(&points(&[(20.0, 0.0), (30.0, 0.0)]), FRAME).is_empty());
    }

    #[test]
    fn ring_is_cut_at_the_frame() {
        let ring = points(&[(-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0)]);
        let cut = ring_within(&ring, FRAME);
        assert!((double_area(&cut).abs() - 50.0).abs() < 1e-9, "{cut:?}");
        let about = points(&[(-5.0, -5.0), (50.0, -5.0), (50.0, 50.0), (-5.0, 50.0)]);
        assert!((double_area(&ring_within(&about, FRAME)).abs() - 200.0).abs() < 1e-9);
        assert!(
            ring_within(&points(&[(20.0, 20.0), (30.0, 20.0), (30.0, 30.0)]), FRAME).is_empty()
        );
    }

    #[test]
    fn path_is_short_and_does_not_drift() {
        let line = points(&[(1.04, 2.0), (1.34, 1.6), (1.3, 1.6), (-0.5, 20.25)]);
        assert_eq!(path(&line, false), "M1 2l.3-.4l-1.8 18.7");
        assert_eq!(path(&points(&[(0.0, 0.0), (1.0, 0.0)]), true), "M0 0l1 0z");
        assert_eq!(path(&[], true), "");
    }

    #[test]
    fn simplified_line_stays_within_its_tolerance() {
        let line: Vec<Point> =
            (0..200).map(|i| Point::new(f64::from(i) * 0.5, (f64::from(i) * 0.1).sin())).collect();
        let short = simplified(&line, 0.15);
        assert!(short.len() < 60, "{}", short.len());
        assert_eq!((short.first(), short.last()), (line.first(), line.last()));
    }
}
