//! Draws chart panels with two axes, round ticks and units, for curves, bands and bars. Layer:
//! `present`.

use super::fonts::Face;
use super::markup::{Element, Elements};
use super::style::{self, line, size};
use super::svg::{self, Anchor, Frame, Letters, Point, Stroke};

/// One axis: its ends in its own unit, and what it counts.
#[derive(Clone, Debug)]
pub struct Axis {
    /// The value at the left or lower end.
    pub from: f64,
    /// The value at the right or upper end.
    pub to: f64,
    /// What is counted, with the unit in brackets.
    pub title: String,
    /// Tick positions and labels.
    pub ticks: Vec<(f64, String)>,
}

impl Axis {
    /// An axis with round ticks, about as many as stated.
    #[must_use]
    pub fn new(from: f64, to: f64, about: usize, title: &str) -> Self {
        let step = round_step((to - from).abs() / about.max(1) as f64);
        let decimals = decimals(step);
        let mut ticks = Vec::new();
        let mut value = (from.min(to) / step).ceil() * step;
        while from.is_finite() && value <= from.max(to) + step * 1e-9 && ticks.len() < 100 {
            ticks.push((value, number(value, decimals)));
            value += step;
        }
        Self { from, to, title: title.to_owned(), ticks }
    }

    /// The relative position of a value on the axis: 0 at its start, 1 at its end.
    #[must_use]
    pub fn share(&self, value: f64) -> f64 {
        if self.to == self.from { 0.5 } else { (value - self.from) / (self.to - self.from) }
    }
}

/// A number as an axis label: an en dash for minus, since a hyphen is too short to be visible.
#[must_use]
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", value.abs());
    let nothing = text.chars().all(|letter| matches!(letter, '0' | '.'));
    if value < 0.0 && !nothing { format!("\u{2013}{text}") } else { text }
}

/// The smallest of 1, 2, 2.5 and 5 times a power of ten that is not below.
#[must_use]
pub fn round_step(at_least: f64) -> f64 {
    if !(at_least.is_finite() && at_least > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(at_least.log10().floor());
    let factor = [1.0, 2.0, 2.5, 5.0, 10.0]
        .into_iter()
        .find(|factor| factor * power >= at_least * (1.0 - 1e-9))
        .unwrap_or(10.0);
    factor * power
}

fn decimals(step: f64) -> usize {
    (0..6)
        .find(|places| ((step * 10_f64.powi(*places)).fract()).abs() < 1e-9)
        .map_or(6, |places| usize::try_from(places).unwrap_or(0))
}

/// A frame with two axes.
#[derive(Clone, Debug)]
pub struct Panel {
    /// The frame of the data; labels and titles are outside of it.
    pub frame: Frame,
    /// To the right.
    pub across: Axis,
    /// Upwards.
    pub up: Axis,
}

impl Panel {
    /// The point of a pair of values.
    #[must_use]
    pub fn at(&self, across: f64, up: f64) -> Point {
        Point::new(
            self.frame.corner.x + self.across.share(across) * self.frame.wide,
            self.frame.bottom() - self.up.share(up) * self.frame.high,
        )
    }

    /// Grid, frame, numbers and titles.
    #[must_use]
    pub fn axes(&self) -> Elements {
        let mut drawn = Elements::default();
        let hair = Stroke::new(style::FAINT, line::HAIR);
        let small = Letters::new(size::SMALL).colour(style::SOFT_INK);
        for (value, words) in &self.across.ticks {
            let x = self.at(*value, self.up.from).x;
            let (top, foot) = (self.frame.corner.y, self.frame.bottom());
            drawn.push(svg::line(Point::new(x, top), Point::new(x, foot), hair));
            let at = Point::new(x, foot + size::SMALL + 3.0);
            drawn.push(svg::text(at, words, small.anchor(Anchor::Middle)));
        }
        for (value, words) in &self.up.ticks {
            let y = self.at(self.across.from, *value).y;
            let (left, right) = (self.frame.corner.x, self.frame.right());
            drawn.push(svg::line(Point::new(left, y), Point::new(right, y), hair));
            let at = Point::new(left - 4.0, y + 0.35 * size::SMALL);
            drawn.push(svg::text(at, words, small.anchor(Anchor::End)));
        }
        let edge = Stroke::new(style::SOFT_INK, line::FINE);
        drawn.push(svg::rectangle(self.frame).set("fill", "none").stroked(edge));
        drawn.extend(self.titles());
        drawn
    }

    fn titles(&self) -> [Element; 2] {
        let letters = Letters::new(size::SMALL).anchor(Anchor::Middle);
        let middle = self.frame.middle();
        let below = Point::new(middle.x, self.frame.bottom() + 2.0 * size::SMALL + 6.0);
        let longest = self
            .up
            .ticks
            .iter()
            .map(|(_, words)| super::fonts::width(words, Face::Regular, size::SMALL))
            .fold(0.0, f64::max);
        let left = self.frame.corner.x - longest - 9.0;
        [
            svg::text(below, &self.across.title, letters),
            svg::text(Point::new(left, middle.y), &self.up.title, letters).set(
                "transform",
                format_args!("rotate(-90 {} {})", svg::short(left), svg::short(middle.y)),
            ),
        ]
    }

    /// A line through pairs of values. Cut off at the frame by [`svg::clip`], if that is wanted.
    pub fn curve(&self, pairs: impl IntoIterator<Item = (f64, f64)>, stroke: Stroke) -> Element {
        svg::polyline(&self.points(pairs), stroke)
    }

    /// The area between a curve and the value at the lower end.
    pub fn area(&self, pairs: impl IntoIterator<Item = (f64, f64)>) -> Element {
        let mut points = self.points(pairs);
        if let (Some(first), Some(last)) = (points.first().copied(), points.last().copied()) {
            points.push(Point::new(last.x, self.frame.bottom()));
            points.push(Point::new(first.x, self.frame.bottom()));
        }
        Element::new("path").set("d", format_args!("{}Z", svg::path(&points)))
    }

    /// An upright stripe between two values of the lower axis, held within the frame.
    pub fn stripe(&self, from: f64, to: f64) -> Element {
        let held = |value| self.at(value, 0.0).x.clamp(self.frame.corner.x, self.frame.right());
        let (left, right) = (held(from), held(to));
        let (left, right) = (left.min(right), left.max(right));
        svg::rectangle(Frame::new(left, self.frame.corner.y, right - left, self.frame.high))
    }

    fn points(&self, pairs: impl IntoIterator<Item = (f64, f64)>) -> Vec<Point> {
        pairs.into_iter().map(|(across, up)| self.at(across, up)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_lie_on_the_axis() {
        let axis = Axis::new(-3.2, 7.9, 5, "time (min)");
        let words: Vec<&str> = axis.ticks.iter().map(|(_, words)| words.as_str()).collect();
        assert_eq!(words, ["\u{2013}2.5", "0.0", "2.5", "5.0", "7.5"]);
        let axis = Axis::new(0.0, 0.4, 4, "share");
        assert_eq!(axis.ticks.last().unwrap().1, "0.4");
        assert!(Axis::new(1.0, 1.0, 4, "nothing").ticks.len() <= 2);
        assert!(Axis::new(f64::NAN, 1.0, 4, "nothing").ticks.is_empty());
    }

    #[test]
    fn steps_are_1_2_2_5_or_5_times_a_power_of_ten() {
        for (at_least, step) in
            [(0.9, 1.0), (1.0, 1.0), (1.1, 2.0), (2.2, 2.5), (30.0, 50.0), (0.07, 0.1)]
        {
            assert!(
                (round_step(at_least) - step).abs() < 1e-12,
                "{at_least}: {}",
                round_step(at_least)
            );
        }
        assert_eq!(round_step(0.0), 1.0);
        assert_eq!(round_step(f64::INFINITY), 1.0);
    }

    #[test]
    fn panel_maps_axis_ends_to_its_corners() {
        let panel = Panel {
            frame: Frame::new(10.0, 20.0, 100.0, 50.0),
            across: Axis::new(0.0, 10.0, 5, "x (m)"),
            up: Axis::new(-1.0, 1.0, 4, "y (m)"),
        };
        assert_eq!(panel.at(0.0, -1.0), Point::new(10.0, 70.0));
        assert_eq!(panel.at(10.0, 1.0), Point::new(110.0, 20.0));
        let stripe = panel.stripe(-100.0, 5.0).to_string();
        assert!(stripe.contains("x=\"10\"") && stripe.contains("width=\"50\""), "{stripe}");
    }
}
