//! Places the figures of contours and the names of the ground after everything that matters more has
//! its place. Layer: `present`.

use std::collections::HashSet;

use super::along::{self, AlongLine, Extent};
use super::style;
use crate::model::BaseClass;
use crate::present::fonts::{self, Face};
use crate::present::map::names::{self, Obstacles, Reach, Wish};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self as palette, Colour};
use crate::present::svg::{self, Anchor, Frame, Letters, Point};

/// Words along a line.
#[derive(Clone, Debug)]
pub(super) struct Label {
    pub(super) words: String,
    pub(super) line: Vec<Point>,
}

/// A name beside a mark or within an area.
#[derive(Clone, Debug)]
pub(super) struct PointLabel {
    pub(super) class: BaseClass,
    pub(super) at: Point,
    pub(super) words: String,
    pub(super) reach: f64,
}

/// The words that a map of the ground would like to have.
#[derive(Clone, Debug, Default)]
pub(super) struct Wanted {
    pub(super) contours: Vec<Label>,
    pub(super) lines: Vec<(BaseClass, Label)>,
    pub(super) points: Vec<PointLabel>,
}

/// The most figures of contours and names of lines on one map.
const MOST_FIGURES: usize = 48;
const MOST_NAMES: usize = 40;
/// Figures of contours keep this distance from each other, points.
const FIGURES_APART: f64 = 46.0;

/// Words at their place.
pub(super) struct PlacedWords {
    pub(super) drawn: Element,
    /// What they cover, for the count of collisions.
    #[cfg_attr(not(test), allow(dead_code, reason = "counted by tests"))]
    pub(super) covers: Vec<Frame>,
}

impl Wanted {
    pub(super) fn place(&self, frame: Frame, obstacles: &mut Obstacles) -> Elements {
        self.placed(frame, obstacles).into_iter().map(|words| words.drawn).collect()
    }

    /// All words that fit: names of places, names of lines, figures of contours.
    pub(super) fn placed(&self, frame: Frame, obstacles: &mut Obstacles) -> Vec<PlacedWords> {
        for point in self.points.iter().filter(|point| point.reach > 1.5) {
            obstacles.mark(point.at, point.reach);
        }
        let mut placed = Vec::new();
        self.place_points(frame, obstacles, &mut placed);
        self.place_lines(frame, obstacles, &mut placed);
        self.place_figures(frame, obstacles, &mut placed);
        placed
    }

    fn place_points(&self, frame: Frame, obstacles: &mut Obstacles, into: &mut Vec<PlacedWords>) {
        let mut said = HashSet::new();
        for point in self.points.iter().filter(|point| !point.words.is_empty()).take(MOST_NAMES) {
            if said.insert((point.class, point.words.as_str())) {
                into.extend(beside(point, frame, obstacles));
            }
        }
    }

    /// One label for each name, on the longest part of its lines where it fits.
    fn place_lines(&self, frame: Frame, obstacles: &mut Obstacles, into: &mut Vec<PlacedWords>) {
        let mut lines: Vec<&(BaseClass, Label)> = self.lines.iter().collect();
        let long = |label: &Label| label.line.windows(2).map(|p| p[0].distance(p[1])).sum::<f64>();
        lines.sort_by(|a, b| long(&b.1).total_cmp(&long(&a.1)));
        let mut said = HashSet::new();
        for (class, label) in lines {
            if said.len() >= MOST_NAMES || said.contains(&(*class, label.words.as_str())) {
                continue;
            }
            let wide = width(*class, &label.words);
            let extent = Extent { wide: wide + 2.0, high: style::NAME, above: 0.72 * style::NAME };
            if let Some(placed) = along::place(&label.line, extent, frame.inset(2.0), obstacles) {
                said.insert((*class, label.words.as_str()));
                into.push(turned(placed, &label.words, letters(*class).long(wide), obstacles));
            }
        }
    }

    fn place_figures(&self, frame: Frame, obstacles: &mut Obstacles, into: &mut Vec<PlacedWords>) {
        let mut placed_at: Vec<Point> = Vec::new();
        let mut labels: Vec<&Label> = self.contours.iter().collect();
        labels.sort_by_key(|label| std::cmp::Reverse(label.line.len()));
        let letters = Letters::new(style::FIGURE).colour(style::CONTOUR_FIGURE).rimmed();
        for label in labels {
            if placed_at.len() >= MOST_FIGURES {
                break;
            }
            let wide = fonts::width(&label.words, Face::Regular, style::FIGURE);
            let extent = Extent { wide: wide + 2.0, high: style::FIGURE, above: 0.0 };
            let found = along::place(&label.line, extent, frame.inset(2.0), obstacles);
            let far = |placed: &AlongLine| {
                placed_at.iter().all(|other| other.distance(placed.middle) >= FIGURES_APART)
            };
            if let Some(placed) = found.filter(far) {
                placed_at.push(placed.middle);
                into.push(turned(placed, &label.words, letters.long(wide), obstacles));
            }
        }
    }
}

/// A name beside its mark, or in the middle of its area.
fn beside(point: &PointLabel, frame: Frame, obstacles: &mut Obstacles) -> Option<PlacedWords> {
    let wide = width(point.class, &point.words);
    let letters = letters(point.class).long(wide);
    if point.reach > 0.0 {
        let wish = Wish { mark: point.at, reach: point.reach, words: point.words.clone() };
        obstacles.mark(point.at, point.reach);
        let room = frame.inset(1.5);
        let placed = names::place_among(&[wish], obstacles, room, style::NAME, Reach::Near);
        let placed = placed.into_iter().next()??;
        let drawn = svg::text(placed.at, &point.words, letters);
        return Some(PlacedWords { drawn, covers: vec![placed.frame] });
    }
    let high = style::NAME;
    let covers = Frame::new(point.at.x - wide / 2.0, point.at.y - high / 2.0, wide, high);
    let inside =
        frame.holds(covers.corner) && frame.holds(Point::new(covers.right(), covers.bottom()));
    if !inside || obstacles.cost(covers) >= 9.0 {
        return None;
    }
    obstacles.block(covers.inset(-1.5));
    let at = point.at.plus(0.0, 0.35 * high);
    let drawn = svg::text(at, &point.words, letters.anchor(Anchor::Middle));
    Some(PlacedWords { drawn, covers: vec![covers] })
}

fn turned(
    placed: AlongLine,
    words: &str,
    letters: Letters,
    obstacles: &mut Obstacles,
) -> PlacedWords {
    for square in &placed.covered {
        obstacles.block(*square);
    }
    let at = placed.middle;
    let turn =
        format!("rotate({} {} {})", svg::short(placed.turn), svg::short(at.x), svg::short(at.y));
    let foot = at.plus(0.0, 0.35 * letters.size);
    let drawn = svg::group().set("transform", turn).with(svg::text(
        foot,
        words,
        letters.anchor(Anchor::Middle),
    ));
    PlacedWords { drawn, covers: placed.covered }
}

fn width(class: BaseClass, words: &str) -> f64 {
    fonts::width(words, face(class), style::NAME)
}

/// Names of water are in italics, as on most maps.
fn face(class: BaseClass) -> Face {
    match class {
        BaseClass::Stream | BaseClass::Water => Face::Italic,
        _ => Face::Regular,
    }
}

fn letters(class: BaseClass) -> Letters {
    let colour: Colour = match class {
        BaseClass::Stream | BaseClass::Water => style::WATER_NAME,
        _ => palette::SOFT_INK,
    };
    Letters::new(style::NAME).face(face(class)).colour(colour).rimmed()
}
