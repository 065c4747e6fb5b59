//! Draws what surrounds every map alike: ground and grid below its marks, the frame with its figures,
//! north, scale and the meaning of the ground. Layer: `present`.

use jiff::civil::Date;

use super::ground::{self, DrawnGround, MapGround};
use super::names::Obstacles;
use super::{MapSheet, furniture, grid, locator};
use crate::earth::declination;
use crate::present::fonts::{self, Face};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};
use crate::units::LatLon;

/// The base of one map.
#[derive(Clone, Debug)]
pub struct MapBase {
    ground: DrawnGround,
    grid: Option<grid::Grid>,
    around: Vec<LatLon>,
}

impl MapBase {
    /// The base of a sheet.
    #[must_use]
    pub fn new(ground: &MapGround, sheet: &MapSheet) -> Self {
        let around = ground.around.clone();
        Self { ground: ground::draw(ground, sheet), grid: grid::grid(sheet), around }
    }

    /// The locator inset, where outings lie elsewhere: call it when all marks and labels are among the
    /// obstacles, before [`Self::below`], and draw it above them.
    pub fn locator(&self, sheet: &MapSheet, obstacles: &mut Obstacles) -> Elements {
        locator::inset(sheet, &self.around, obstacles).into_iter().collect()
    }

    /// Ground and grid lines, and the words of the ground where nothing else stands: call it when all
    /// marks and labels are among the obstacles, and draw it below them.
    #[must_use]
    pub fn below(&self, sheet: &MapSheet, obstacles: &mut Obstacles) -> Elements {
        let mut drawn = Elements::default();
        drawn.push(self.ground.group());
        if let Some(grid) = &self.grid {
            drawn.push(&grid.lines);
        }
        drawn.push(self.ground.words(sheet, obstacles));
        drawn
    }

    /// The frame, the figures of the grid and below them scale, grid and datum in words, to a right edge.
    /// Returns the lower edge.
    pub fn around(&self, sheet: &MapSheet, right: f64, drawn: &mut Elements) -> f64 {
        let edge = Stroke::new(style::SOFT_INK, line::FINE);
        drawn.push(svg::rectangle(sheet.frame).set("fill", "none").stroked(edge));
        let mut foot = sheet.frame.bottom() + 5.0;
        if let Some(grid) = &self.grid {
            drawn.push(&grid.figures);
            foot += size::SMALL;
        }
        foot += 13.0;
        self.scale_line(sheet, Point::new(right, foot), drawn)
    }

    /// What the marks of the ground mean, from a place to a right edge. Returns the lower edge.
    pub fn legend(&self, from: Point, right: f64, drawn: &mut Elements) -> f64 {
        let mut legend = Elements::default();
        let foot = ground::legend(&self.ground, from.y, right - from.x, &mut legend);
        let moved = format!("translate({} 0)", svg::short(from.x));
        drawn.push(svg::group().set("transform", moved).with(legend));
        foot
    }

    /// Scale bar and words; the words on a line of their own where they do not fit beside it.
    fn scale_line(&self, sheet: &MapSheet, mut at: Point, drawn: &mut Elements) -> f64 {
        let left = Point::new(sheet.frame.corner.x + 2.0, at.y);
        let about = (0.25 * sheet.frame.wide).clamp(60.0, 130.0);
        drawn.push(furniture::scale_bar(sheet, left, about));
        let mut words = vec![format!("{} at print size", sheet.scale())];
        words.extend(self.grid.as_ref().map(|grid| grid.words.clone()));
        words.push("WGS 84, true north up".to_owned());
        let letters = Letters::new(size::SMALL).colour(style::SOFT_INK).anchor(Anchor::End);
        let words = words.join("  \u{b7}  ");
        let bar = left.x + furniture::scale_bar_long(sheet, about) + 8.0;
        if bar + fonts::width(&words, Face::Regular, size::SMALL) > at.x {
            at = at.plus(0.0, 11.0);
        }
        for line in fonts::lines(&words, Face::Regular, size::SMALL, at.x - left.x + 2.0) {
            drawn.push(svg::text(at.plus(0.0, 2.0), &line, letters));
            at = at.plus(0.0, 9.0);
        }
        at.y - 5.0
    }
}

/// The north arrow in the corner of a map where it covers least, with the declination of a day, and the
/// room that it takes.
pub fn arrow(sheet: &MapSheet, date: Option<Date>, obstacles: &mut Obstacles) -> (Element, Frame) {
    let declination = date.and_then(|date| declination::at(sheet.middle(), date).ok());
    let (wide, high) = furniture::arrow_room(declination.as_ref());
    let frame = sheet.frame.inset(5.0);
    let left = frame.corner.x;
    let right = frame.right() - wide;
    let (top, foot) = (frame.corner.y, frame.bottom() - high);
    let corners = [(right, top), (left, top), (right, foot), (left, foot)];
    let emptiest = corners
        .map(|(x, y)| Frame::new(x, y, wide, high))
        .into_iter()
        .min_by(|a, b| obstacles.cost(*a).total_cmp(&obstacles.cost(*b)))
        .unwrap_or(frame);
    obstacles.block(emptiest);
    let foot = furniture::arrow_foot(emptiest, declination.as_ref());
    (furniture::north_arrow(foot, declination.as_ref()), emptiest)
}
