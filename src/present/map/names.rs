//! Places map labels so that they cover neither each other nor the marks. Tries positions around each
//! mark, near ones first, and omits a label that does not fit. Layer: `present`.

use crate::present::fonts::{self, Face};
use crate::present::svg::{Frame, Point};

/// A label to place.
#[derive(Clone, Debug)]
pub struct Wish {
    /// The labelled point.
    pub mark: Point,
    /// The radius of the mark, points.
    pub reach: f64,
    /// The text.
    pub words: String,
}

/// A placed label.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// The left end of its baseline.
    pub at: Point,
    /// Whether it needs a leader line to its mark.
    pub leader: bool,
    /// Its extent.
    pub frame: Frame,
}

/// Areas that labels avoid, with their costs.
#[derive(Clone, Debug, Default)]
pub struct Obstacles {
    marks: Vec<Frame>,
    lines: Vec<Point>,
}

/// Cost of covering a sampled point of a line; distance from the mark costs 1 per point.
const LINE: f64 = 1.5;
/// The least distance between two labels, points.
const APART: f64 = 1.6;
/// A label at this cost or more is omitted.
const MARK: f64 = 1_000.0;

impl Obstacles {
    /// Labels must not cover this mark.
    pub fn mark(&mut self, middle: Point, reach: f64) {
        let side = 2.0 * reach;
        self.marks.push(Frame::new(middle.x - reach, middle.y - reach, side, side));
    }

    /// Labels must not cover this rectangle.
    pub fn block(&mut self, frame: Frame) {
        self.marks.push(frame);
    }

    /// Labels avoid this line.
    pub fn line(&mut self, points: &[Point]) {
        for pair in points.windows(2) {
            let steps = (pair[0].distance(pair[1]) / 4.0).ceil().clamp(1.0, 200.0);
            let mut step = 0.0;
            while step < steps {
                let share = step / steps;
                self.lines.push(
                    pair[0].plus(share * (pair[1].x - pair[0].x), share * (pair[1].y - pair[0].y)),
                );
                step += 1.0;
            }
        }
    }

    /// The cost of covering a rectangle.
    #[must_use]
    pub fn cost(&self, frame: Frame) -> f64 {
        let marks = self.marks.iter().filter(|mark| mark.meets(frame)).count() as f64;
        let lines = self.lines.iter().filter(|point| frame.holds(**point)).count() as f64;
        MARK * marks + LINE * lines
    }
}

/// A position for each label, in their order; `None` for an omitted one.
#[must_use]
pub fn place(
    wishes: &[Wish],
    obstacles: &mut Obstacles,
    within: Frame,
    size: f64,
) -> Vec<Option<Placed>> {
    for wish in wishes {
        obstacles.mark(wish.mark, wish.reach);
    }
    let places: Vec<Option<Placed>> = wishes
        .iter()
        .map(|wish| {
            let placed = best(wish, obstacles, within, size)?;
            obstacles.block(placed.frame.inset(-APART));
            Some(placed)
        })
        .collect();
    places
}

fn best(wish: &Wish, obstacles: &Obstacles, within: Frame, size: f64) -> Option<Placed> {
    let (wide, high) = (fonts::width(&wish.words, Face::Bold, size), size);
    let mut best: Option<(f64, Placed)> = None;
    for ring in [1.5, 6.0, 13.0, 22.0, 34.0] {
        let away = wish.reach + ring;
        for turn in 0..16_u8 {
            let (sine, cosine) = (f64::from(turn) * std::f64::consts::TAU / 16.0).sin_cos();
            let middle = wish.mark.plus(cosine * (away + wide / 2.0), -sine * (away + high / 2.0));
            let frame = Frame::new(middle.x - wide / 2.0, middle.y - high / 2.0, wide, high);
            if !(within.holds(frame.corner)
                && within.holds(Point::new(frame.right(), frame.bottom())))
            {
                continue;
            }
            // the right side is preferred
            let habit = 0.8 * (1.0 - cosine) + 0.3 * (1.0 - sine);
            let cost = obstacles.cost(frame) + 1.2 * ring + habit;
            if cost < MARK && best.as_ref().is_none_or(|(least, _)| cost < *least) {
                let at = Point::new(frame.corner.x, frame.bottom() - 0.22 * size);
                best = Some((cost, Placed { at, leader: ring > 5.0, frame }));
            }
        }
    }
    best.map(|(_, placed)| placed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn crowd(count: u32, apart: f64) -> Vec<Wish> {
        (0..count)
            .map(|number| Wish {
                mark: Point::new(
                    60.0 + apart * f64::from(number % 5),
                    60.0 + apart * f64::from(number / 5),
                ),
                reach: 3.0,
                words: format!("AQ-{number:04}"),
            })
            .collect()
    }

    #[test]
    fn labels_do_not_overlap_labels_or_marks() {
        for apart in [2.0, 9.0, 30.0] {
            let wishes = crowd(25, apart);
            let within = Frame::new(0.0, 0.0, 260.0, 260.0);
            let placed = place(&wishes, &mut Obstacles::default(), within, 7.0);
            let frames: Vec<Frame> = placed.iter().flatten().map(|placed| placed.frame).collect();
            for (index, frame) in frames.iter().enumerate() {
                assert!(within.holds(frame.corner));
                assert!(frames[index + 1..].iter().all(|other| !frame.meets(*other)));
                for wish in &wishes {
                    assert!(!frame.holds(wish.mark), "{apart}");
                }
            }
            assert!(frames.len() >= 10, "{apart}: {}", frames.len());
        }
    }

    #[test]
    fn single_label_is_to_the_right_without_a_leader() {
        let placed = place(
            &crowd(1, 1.0),
            &mut Obstacles::default(),
            Frame::new(0.0, 0.0, 200.0, 200.0),
            7.0,
        );
        let placed = placed[0].clone().unwrap();
        assert!(!placed.leader && placed.at.x > 62.0);
    }
}
