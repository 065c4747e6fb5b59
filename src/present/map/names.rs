//! Places map labels so that they cover neither each other nor the marks, and so that no leader line
//! crosses a label. Tries positions around each mark, near ones first; a label that does not fit is
//! left to the caller. Layer: `present`.

use std::collections::HashMap;

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

impl Placed {
    /// Where the leader line meets the label.
    #[must_use]
    pub fn leader_end(&self, mark: Point) -> Point {
        Point::new(
            mark.x.clamp(self.frame.corner.x, self.frame.right()),
            mark.y.clamp(self.frame.corner.y, self.frame.bottom()),
        )
    }
}

/// Areas that labels avoid, with their costs.
#[derive(Clone, Debug, Default)]
pub struct Obstacles {
    /// What must not be covered.
    marks: Near<Frame>,
    /// What is better not covered: samples of lines.
    lines: Near<Point>,
    /// Placed labels, which leaders must not cross.
    labels: Vec<Frame>,
}

/// Cost of covering a sampled point of a line; distance from the mark costs 1 per point.
const LINE: f64 = 1.5;
/// The least distance between two labels, points.
const APART: f64 = 1.6;
/// A label at this cost or more is omitted.
const MARK: f64 = 1_000.0;
/// The distance between samples of a line, points.
const SAMPLE: f64 = 4.0;

impl Obstacles {
    /// Labels must not cover this mark.
    pub fn mark(&mut self, middle: Point, reach: f64) {
        let side = 2.0 * reach;
        self.block(Frame::new(middle.x - reach, middle.y - reach, side, side));
    }

    /// Labels must not cover this rectangle.
    pub fn block(&mut self, frame: Frame) {
        self.marks.put(frame, frame);
    }

    /// Labels avoid this line.
    pub fn line(&mut self, points: &[Point]) {
        for pair in points.windows(2) {
            for at in samples(pair[0], pair[1]) {
                self.lines.put(Frame::new(at.x, at.y, 0.0, 0.0), at);
            }
        }
    }

    /// The cost of covering a rectangle.
    #[must_use]
    pub fn cost(&self, frame: Frame) -> f64 {
        MARK * self.blocking(frame) as f64
            + LINE * self.lines.count(frame, |at| frame.holds(*at)) as f64
    }

    fn blocking(&self, frame: Frame) -> usize {
        self.marks.count(frame, |mark| mark.meets(frame))
    }

    /// Whether a leader line would cross a placed label.
    fn crosses_label(&self, from: Point, to: Point) -> bool {
        self.labels.iter().any(|label| crosses(from, to, *label))
    }

    /// Takes the place of a label and of its leader.
    fn take(&mut self, mark: Point, placed: &Placed) {
        self.block(placed.frame.inset(-APART));
        self.labels.push(placed.frame.inset(-APART / 2.0));
        if placed.leader {
            for at in samples(mark, placed.leader_end(mark)) {
                self.mark(at, 0.6);
            }
        }
    }
}

fn samples(from: Point, to: Point) -> impl Iterator<Item = Point> {
    let steps = (from.distance(to) / SAMPLE).ceil().clamp(1.0, 200.0);
    std::iter::successors(Some(0.0), |step| Some(step + 1.0))
        .take_while(move |step| *step < steps)
        .map(move |step| from.plus(step / steps * (to.x - from.x), step / steps * (to.y - from.y)))
}

/// Whether a line between two points enters a rectangle (the method of Liang & Barsky 1984).
#[must_use]
pub fn crosses(from: Point, to: Point, frame: Frame) -> bool {
    let (along_x, along_y) = (to.x - from.x, to.y - from.y);
    let sides = [
        (-along_x, from.x - frame.corner.x),
        (along_x, frame.right() - from.x),
        (-along_y, from.y - frame.corner.y),
        (along_y, frame.bottom() - from.y),
    ];
    let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
    for (rate, room) in sides {
        if rate == 0.0 {
            if room < 0.0 {
                return false;
            }
        } else if rate < 0.0 {
            enters = enters.max(room / rate);
        } else {
            leaves = leaves.min(room / rate);
        }
    }
    enters < leaves
}

/// Things by the cells of a coarse grid, so that a crowd is searched near a label only.
#[derive(Clone, Debug)]
struct Near<T>(HashMap<(i32, i32), Vec<T>>);

impl<T> Default for Near<T> {
    fn default() -> Self {
        Self(HashMap::new())
    }
}

impl<T: Copy> Near<T> {
    const CELL: f64 = 24.0;
    /// More cells than any map has; what is larger is damaged input.
    const MOST: i32 = 400;

    #[allow(clippy::cast_possible_truncation, reason = "held within the cells of a large map")]
    fn cells(frame: Frame) -> impl Iterator<Item = (i32, i32)> {
        let cell = |at: f64| {
            (at / Self::CELL).floor().clamp(f64::from(-Self::MOST), f64::from(Self::MOST)) as i32
        };
        let (left, right) = (cell(frame.corner.x), cell(frame.right()));
        let (top, foot) = (cell(frame.corner.y), cell(frame.bottom()));
        (left..=right).flat_map(move |x| (top..=foot).map(move |y| (x, y)))
    }

    fn put(&mut self, extent: Frame, thing: T) {
        for cell in Self::cells(extent) {
            self.0.entry(cell).or_default().push(thing);
        }
    }

    /// How many in the cells of a rectangle; one that lies in several of them counts in each.
    fn count(&self, frame: Frame, wanted: impl Fn(&T) -> bool) -> usize {
        let found = Self::cells(frame).filter_map(|cell| self.0.get(&cell));
        found.flatten().filter(|thing| wanted(thing)).count()
    }
}

/// How far from its mark a label may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reach {
    /// Beside it: labels that a reader connects with their marks at once.
    Near,
    /// Anywhere on the map at the end of a leader line.
    Far,
}

impl Reach {
    /// Distances from the mark; from the second on there is a leader line.
    fn rings(self) -> &'static [f64] {
        const RINGS: [f64; 11] =
            [1.5, 6.0, 13.0, 22.0, 34.0, 48.0, 66.0, 90.0, 120.0, 160.0, 210.0];
        match self {
            Self::Near => &RINGS[..5],
            Self::Far => &RINGS,
        }
    }
}

/// The same as [`place_among`] anywhere on the map, for marks that are no obstacles yet.
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
    place_among(wishes, obstacles, within, size, Reach::Far)
}

/// A position for each label, in their order; `None` for one that has no room. The marks are among the
/// obstacles already.
#[must_use]
pub fn place_among(
    wishes: &[Wish],
    obstacles: &mut Obstacles,
    within: Frame,
    size: f64,
    reach: Reach,
) -> Vec<Option<Placed>> {
    let places: Vec<Option<Placed>> = wishes
        .iter()
        .map(|wish| {
            let placed = best(wish, obstacles, within, (size, reach))?;
            obstacles.take(wish.mark, &placed);
            Some(placed)
        })
        .collect();
    places
}

fn best(
    wish: &Wish,
    obstacles: &Obstacles,
    within: Frame,
    (size, reach): (f64, Reach),
) -> Option<Placed> {
    let (wide, high) = (fonts::width(&wish.words, Face::Bold, size), size);
    let mut best: Option<(f64, Placed)> = None;
    for ring in reach.rings() {
        // the nearest ring with room wins: costs of farther ones are higher
        if best.as_ref().is_some_and(|(least, _)| *least < 1.2 * ring) {
            break;
        }
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
            if cost >= MARK || best.as_ref().is_some_and(|(least, _)| cost >= *least) {
                continue;
            }
            let at = Point::new(frame.corner.x, frame.bottom() - 0.22 * size);
            let placed = Placed { at, leader: *ring > 5.0, frame };
            if placed.leader && obstacles.crosses_label(wish.mark, placed.leader_end(wish.mark)) {
                continue;
            }
            best = Some((cost, placed));
        }
    }
    best.map(|(_, placed)| placed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(wishes: &[Wish], within: Frame) -> Vec<Option<Placed>> {
        let mut obstacles = Obstacles::default();
        for wish in wishes {
            obstacles.mark(wish.mark, wish.reach);
        }
        place_among(wishes, &mut obstacles, within, 7.0, Reach::Near)
    }

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
            let placed = place(&wishes, within);
            let frames: Vec<Frame> = placed.iter().flatten().map(|placed| placed.frame).collect();
            for (index, frame) in frames.iter().enumerate() {
                assert!(within.holds(frame.corner));
                assert!(frames[index + 1..].iter().all(|other| !frame.meets(*other)));
                for wish in &wishes {
                    assert!(!frame.holds(wish.mark), "{apart}");
                }
            }
            assert!(frames.len() >= 8, "{apart}: {}", frames.len());
        }
    }

    #[test]
    fn leader_crosses_no_label() {
        let wishes = crowd(25, 9.0);
        let within = Frame::new(0.0, 0.0, 260.0, 260.0);
        let placed = place(&wishes, within);
        let frames: Vec<Frame> = placed.iter().flatten().map(|placed| placed.frame).collect();
        let mut leaders = 0;
        for (wish, placed) in wishes.iter().zip(&placed) {
            let Some(placed) = placed.as_ref().filter(|placed| placed.leader) else { continue };
            let end = placed.leader_end(wish.mark);
            let crossed = frames.iter().filter(|frame| crosses(wish.mark, end, **frame)).count();
            assert_eq!(crossed, 0, "{wish:?}");
            leaders += 1;
        }
        assert!(leaders > 3, "{leaders}");
    }

    #[test]
    fn line_enters_a_rectangle_only_where_it_has_a_length_inside() {
        let frame = Frame::new(10.0, 10.0, 20.0, 10.0);
        let at = Point::new;
        assert!(crosses(at(0.0, 0.0), at(40.0, 30.0), frame));
        assert!(crosses(at(15.0, 15.0), at(100.0, 15.0), frame));
        assert!(!crosses(at(0.0, 0.0), at(10.0, 15.0), frame));
        assert!(!crosses(at(0.0, 5.0), at(50.0, 5.0), frame));
        assert!(!crosses(at(5.0, 0.0), at(5.0, 50.0), frame));
    }

    #[test]
    fn single_label_is_to_the_right_without_a_leader() {
        let placed = place(&crowd(1, 1.0), Frame::new(0.0, 0.0, 200.0, 200.0));
        let placed = placed[0].clone().unwrap();
        assert!(!placed.leader && placed.at.x > 62.0);
    }
}
