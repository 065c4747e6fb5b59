//! Places words along a line where it is nearly straight and free of other marks. Layer: `present`.

use crate::present::map::names::Obstacles;
use crate::present::svg::{Frame, Point};

/// Words placed along a line.
#[derive(Clone, Debug)]
pub struct AlongLine {
    /// The middle of the words.
    pub middle: Point,
    /// Clockwise, so that they read from the left, degrees.
    pub turn: f64,
    /// What they cover: squares along them.
    pub covered: Vec<Frame>,
}

/// Words of this extent.
#[derive(Clone, Copy, Debug)]
pub struct Extent {
    /// Along the line.
    pub wide: f64,
    /// Across.
    pub high: f64,
    /// How far their middle stands above the line.
    pub above: f64,
}

/// The step in which places are tried, points.
const STEP: f64 = 5.0;
/// The cost at which words are left out: six sampled points of lines.
const MOST_COVERED: f64 = 9.0;
/// The most places that are tried along one line.
const MOST_TRIES: usize = 400;

/// The best place; `None` where the line bends too much or everything is taken.
#[must_use]
pub fn place(
    line: &[Point],
    extent: Extent,
    within: Frame,
    obstacles: &Obstacles,
) -> Option<AlongLine> {
    let lengths = lengths(line);
    let long = *lengths.last()?;
    let mut best: Option<(f64, AlongLine)> = None;
    let mut start = 0.0;
    for _ in 0..MOST_TRIES {
        if start + extent.wide > long {
            break;
        }
        let at = |distance: f64| point(line, &lengths, distance);
        let (from, half, to) = (at(start), at(start + extent.wide / 2.0), at(start + extent.wide));
        let bend = 1.0 - from.distance(to) / extent.wide;
        let middle = Point::new(f64::midpoint(from.x, to.x), f64::midpoint(from.y, to.y));
        if bend < 0.06 && half.distance(middle) < 0.3 * extent.high {
            let placed = words(from, to, middle, extent);
            let inside = placed.covered.iter().all(|square| {
                within.holds(square.corner)
                    && within.holds(Point::new(square.right(), square.bottom()))
            });
            if inside && let Some(covering) = free(&placed.covered, obstacles) {
                let from_middle = (start + extent.wide / 2.0 - long / 2.0).abs() / long;
                let cost = covering + 40.0 * bend + 2.0 * from_middle;
                if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                    best = Some((cost, placed));
                }
            }
        }
        start += STEP.max(long / MOST_TRIES as f64);
    }
    best.map(|(_, placed)| placed)
}

/// The cost of covering all of these; `None` where one covers a mark.
fn free(covered: &[Frame], obstacles: &Obstacles) -> Option<f64> {
    let mut sum = 0.0;
    for square in covered {
        let cost = obstacles.cost(*square);
        sum += cost;
    }
    // a few points of a line that is crossed may be covered, a mark or another word never
    (sum < MOST_COVERED).then_some(sum)
}

fn words(from: Point, to: Point, middle: Point, extent: Extent) -> AlongLine {
    let (from, to) = if to.x < from.x { (to, from) } else { (from, to) };
    let angle = (to.y - from.y).atan2(to.x - from.x);
    let (sine, cosine) = angle.sin_cos();
    let middle = middle.plus(extent.above * sine, -extent.above * cosine);
    let count = (extent.wide / extent.high).ceil().max(1.0);
    let side = extent.high * (sine.abs() + cosine.abs());
    let covered = (0_u8..=200)
        .map(f64::from)
        .take_while(|index| *index < count)
        .map(|index| {
            let along = extent.wide * ((index + 0.5) / count - 0.5);
            let at = middle.plus(along * cosine, along * sine);
            Frame::new(at.x - side / 2.0, at.y - side / 2.0, side, side)
        })
        .collect();
    AlongLine { middle, turn: angle.to_degrees(), covered }
}

fn lengths(line: &[Point]) -> Vec<f64> {
    let mut sum = 0.0;
    let mut lengths = vec![0.0];
    for pair in line.windows(2) {
        sum += pair[0].distance(pair[1]);
        lengths.push(sum);
    }
    lengths
}

/// The point at this distance along a line.
fn point(line: &[Point], lengths: &[f64], distance: f64) -> Point {
    let after = lengths.partition_point(|length| *length < distance).clamp(1, line.len() - 1);
    let (from, to) = (line[after - 1], line[after]);
    let step = lengths[after] - lengths[after - 1];
    let share = if step > 0.0 { (distance - lengths[after - 1]) / step } else { 0.0 };
    from.plus(share * (to.x - from.x), share * (to.y - from.y))
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: Frame = Frame::new(0.0, 0.0, 300.0, 300.0);
    const WORDS: Extent = Extent { wide: 30.0, high: 6.0, above: 0.0 };

    #[test]
    fn words_stand_upright_on_a_straight_line() {
        let line = [Point::new(200.0, 100.0), Point::new(100.0, 200.0)];
        let placed = place(&line, WORDS, PAGE, &Obstacles::default()).unwrap();
        assert!((placed.turn + 45.0).abs() < 1e-9, "{}", placed.turn);
        assert!((placed.middle.x + placed.middle.y - 300.0).abs() < 1e-9);
    }

    #[test]
    fn words_avoid_marks_and_bends() {
        let line = [Point::new(20.0, 100.0), Point::new(280.0, 100.0)];
        let mut obstacles = Obstacles::default();
        obstacles.block(Frame::new(60.0, 80.0, 240.0, 40.0));
        let placed = place(&line, WORDS, PAGE, &obstacles).unwrap();
        assert!(placed.middle.x < 46.0, "{placed:?}");
        obstacles.block(Frame::new(0.0, 80.0, 100.0, 40.0));
        assert!(place(&line, WORDS, PAGE, &obstacles).is_none());
        let bent: Vec<Point> = (0..80)
            .map(|i| Point::new(100.0 + f64::from(i), 100.0 + f64::from(i % 2) * 9.0))
            .collect();
        assert!(place(&bent, WORDS, PAGE, &Obstacles::default()).is_none());
    }
}
