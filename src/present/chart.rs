//! Draws chart panels with two axes, round ticks and units, for curves, bands and bars: plotters chooses
//! ticks and lays out grid, numbers and titles, a canvas of ours draws them. Layer: `present`.
//!
//! Curves of several panels share one axis where they are to be compared. Colours are those of `style`, distinguished
//! by dash and width as well.

use std::convert::Infallible;
use std::ops::Range;

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::coord::ranged1d::{
    BoldPoints, KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter,
};
use plotters::coord::types::RangedCoordf64;
use plotters::drawing::{DrawingAreaErrorKind, IntoDrawingArea};
use plotters::style::{Color, FontStyle, IntoFont, RGBColor, TRANSPARENT};

use super::fonts::{Face, width};
use super::markup::{Element, Elements};
use super::style::{self, Colour, line, size};
use super::svg::{self, Frame, Point, Stroke};
use canvas::Canvas;

mod canvas;
mod page;

pub use page::{WIDE, beyond, head, page, text};

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
    /// Whether the labels are scientific names, in italics.
    pub names: bool,
}

impl Axis {
    /// An axis with round ticks, about as many as stated.
    #[must_use]
    pub fn new(from: f64, to: f64, about: usize, title: &str) -> Self {
        // closer ends than these have no round numbers between them
        let known = (to - from).is_finite() && (to - from).abs() > 1e-9 * from.abs().max(1.0);
        let scale = RangedCoordf64::from(from.min(to)..from.max(to));
        let values = if known { scale.key_points(BoldPoints(about + 1)) } else { Vec::new() };
        let decimals = decimals(values.windows(2).map(|pair| pair[1] - pair[0]).next());
        let ticks = values.into_iter().map(|value| (value, number(value, decimals))).collect();
        Self { title: title.to_owned(), ticks, ..Self::bare(from, to) }
    }

    /// An upward axis of categories, one row each, the first one at the top.
    #[must_use]
    pub fn categories(names: impl IntoIterator<Item = String>) -> Self {
        let ticks = names.into_iter().enumerate().map(|(row, name)| (row as f64 + 0.5, name));
        let ticks: Vec<(f64, String)> = ticks.collect();
        let rows = ticks.len();
        Self { ticks, ..Self::bare(rows as f64, 0.0) }
    }

    /// The same for taxa.
    #[must_use]
    pub fn names(names: impl IntoIterator<Item = String>) -> Self {
        Self { names: true, ..Self::categories(names) }
    }

    /// The same axis over this many points, without the labels that would meet the one before.
    fn thinned(&self, wide: f64) -> Self {
        let mut axis = self.clone();
        let mut edge = f64::NEG_INFINITY;
        for (value, words) in axis.ticks.iter_mut().filter(|(_, words)| !words.is_empty()) {
            let half = 0.5 * width(words, Face::Regular, size::SMALL);
            let middle = wide * self.share(*value);
            if middle - half < edge {
                words.clear();
            } else {
                edge = middle + half + 3.0;
            }
        }
        axis
    }

    /// The width of the widest label, points.
    #[must_use]
    pub fn longest(&self) -> f64 {
        let wide = |(_, words): &(f64, String)| width(words, Face::Regular, size::SMALL);
        self.ticks.iter().map(wide).fold(0.0, f64::max)
    }

    /// An axis without ticks and title.
    #[must_use]
    pub fn bare(from: f64, to: f64) -> Self {
        Self { from, to, title: String::new(), ticks: Vec::new(), names: false }
    }

    /// The relative position of a value on the axis: 0 at its start, 1 at its end.
    #[must_use]
    pub fn share(&self, value: f64) -> f64 {
        if self.to == self.from { 0.5 } else { (value - self.from) / (self.to - self.from) }
    }
}

impl Ranged for Axis {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    #[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
    fn map(&self, value: &f64, (from, to): (i32, i32)) -> i32 {
        let (from, to) = (f64::from(from), f64::from(to));
        (from + self.share(*value) * (to - from)).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        if hint.weight().allow_light_points() {
            return Vec::new();
        }
        self.ticks.iter().map(|(value, _)| *value).collect()
    }

    fn range(&self) -> Range<f64> {
        self.from..self.to
    }
}

impl ValueFormatter<f64> for Axis {
    fn format_ext(&self, value: &f64) -> String {
        let tick = self.ticks.iter().find(|(at, _)| at == value);
        tick.map_or_else(String::new, |(_, words)| words.clone())
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

/// The decimals that tell ticks of this step apart.
fn decimals(step: Option<f64>) -> usize {
    let whole = |places: &usize| {
        let scaled = step.unwrap_or(1.0) * libm::pow(10.0, *places as f64);
        (scaled - scaled.round()).abs() < 1e-6
    };
    (0..6).find(whole).unwrap_or(6)
}

fn hue(colour: Colour) -> RGBColor {
    let (red, green, blue) = colour.rgb();
    RGBColor(red, green, blue)
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
        let (wide, high) = (canvas::units(self.frame.wide), canvas::units(self.frame.high));
        let x = self.across.map(&across, (0, wide));
        let y = self.up.map(&up, (high, 0));
        self.frame.corner.plus(f64::from(x) / canvas::UNITS, f64::from(y) / canvas::UNITS)
    }

    /// The middle of a row of an axis of categories.
    #[must_use]
    pub fn row(&self, place: usize) -> f64 {
        self.at(self.across.from, place as f64 + 0.5).y
    }

    /// Grid, frame, numbers and titles.
    #[must_use]
    pub fn axes(&self) -> Elements {
        let mut drawn = Elements::default();
        // nothing that the canvas does can fail
        if self.mesh(&mut drawn).is_err() {
            return Elements::default();
        }
        let edge = Stroke::new(style::SOFT_INK, line::FINE);
        drawn.push(svg::rectangle(self.frame).set("fill", "none").stroked(edge));
        drawn
    }

    fn mesh(&self, drawn: &mut Elements) -> Result<(), DrawingAreaErrorKind<Infallible>> {
        let (left, foot) = (self.up.longest() + 9.0 + size::SMALL, 2.25 * size::SMALL + 6.0);
        let (corner, wide, high) = (self.frame.corner, self.frame.wide, self.frame.high);
        let outer = Frame::new(corner.x - left, corner.y, wide + left, high + foot);
        let area = Canvas::new(outer, drawn).into_drawing_area();
        let mut chart = ChartBuilder::on(&area)
            .set_label_area_size(LabelAreaPosition::Left, canvas::units(left))
            .set_label_area_size(LabelAreaPosition::Bottom, canvas::units(foot))
            .build_cartesian_2d(self.across.thinned(wide), self.up.clone())?;
        let text = |colour: Colour, face: FontStyle| {
            let font = (style::FAMILY, canvas::UNITS * size::SMALL).into_font();
            font.style(face).color(&hue(colour))
        };
        let hair = hue(style::FAINT).stroke_width(canvas::units(line::HAIR).unsigned_abs());
        let soft = text(style::SOFT_INK, FontStyle::Normal);
        let italic = text(style::INK, FontStyle::Italic);
        chart
            .configure_mesh()
            // the frame is drawn instead
            .axis_style(TRANSPARENT)
            .bold_line_style(hair)
            .y_label_style(if self.up.names { italic } else { soft.clone() })
            .x_label_style(soft)
            .axis_desc_style(text(style::INK, FontStyle::Normal))
            // labels are twice as far away as a tick is long
            .set_tick_mark_size(LabelAreaPosition::Bottom, canvas::units(1.5))
            .set_tick_mark_size(LabelAreaPosition::Left, canvas::units(2.0))
            .x_desc(&self.across.title)
            .y_desc(&self.up.title)
            .draw()
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
        assert_eq!(words, ["\u{2013}2", "0", "2", "4", "6"]);
        let axis = Axis::new(0.0, 0.4, 4, "share");
        assert_eq!(axis.ticks.last().unwrap().1, "0.4");
        assert!(Axis::new(1.0, 1.0, 4, "nothing").ticks.len() <= 2);
        assert!(Axis::new(f64::NAN, 1.0, 4, "nothing").ticks.is_empty());
        assert!(Axis::new(1e17, 1e17 + 64.0, 4, "nothing").ticks.is_empty());
    }

    #[test]
    fn labels_that_would_meet_the_one_before_are_left_out() {
        let ticks = (0..10).map(|day| (f64::from(day), format!("day {day}")));
        let axis = Axis { ticks: ticks.collect(), ..Axis::bare(0.0, 10.0) };
        let kept = |wide| axis.thinned(wide).ticks.iter().filter(|tick| !tick.1.is_empty()).count();
        assert_eq!((kept(400.0), kept(120.0)), (10, 5));
    }

    #[test]
    fn categories_are_rows_from_the_top_with_their_names() {
        let panel = Panel {
            frame: Frame::new(60.0, 0.0, 100.0, 30.0),
            across: Axis::new(0.0, 10.0, 5, "hours"),
            up: Axis::names(["Mycena interrupta", "Leotia cf."].map(str::to_owned)),
        };
        assert_eq!((panel.row(0), panel.row(1)), (7.5, 22.5));
        let drawn = panel.axes().to_string();
        assert!(drawn.contains("font-style=\"italic\" text-anchor=\"end\">Mycena"), "{drawn}");
        assert!(drawn.contains(">hours</text>") && drawn.contains(">10</text>"), "{drawn}");
        assert!(!drawn.contains("NaN"));
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
