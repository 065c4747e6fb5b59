//! Draws the years of each taxon as small multiples: for each year the season from onset to end with its
//! peak, and the amount beside it. Layer: `present`.

use super::{answer, named_words};
use crate::analyse::season::{DayEstimate, MONTHS};
use crate::analyse::years::{YearLine, YearsOf};
use crate::present::fonts::Face;
use crate::present::markup::Elements;
use crate::present::paragraph::Paragraph;
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};

const WIDE: f64 = 482.0;
const MARGIN: f64 = 14.0;
/// Two columns of panels.
const COLUMNS: usize = 2;
const GAP: f64 = 22.0;
/// The height of a year.
const ROW: f64 = 11.0;
/// Room for the years at the left of a panel, and for amounts at its right.
const YEARS: f64 = 26.0;
const AMOUNTS: f64 = 58.0;
/// Room for the name above a panel, and for the months below.
const HEAD: f64 = 15.0;
const FOOT: f64 = 17.0;

/// The figure, for print at 170 mm.
#[must_use]
pub fn figure(all: &[YearsOf]) -> String {
    let sentence = Paragraph::default()
        .then(&answer(all), Face::Regular, style::SOFT_INK)
        .lines(size::BODY, WIDE - 2.0 * MARGIN);
    let columns = if all.len() > 1 { COLUMNS } else { 1 };
    let top = 32.0 + 10.5 * sentence.len() as f64 + 4.0;
    let high_of = |row: &[YearsOf]| {
        let years = row.iter().map(|of| of.years.len()).max().unwrap_or(0);
        HEAD + ROW * years as f64 + FOOT + 10.0
    };
    let high = top + all.chunks(columns).map(high_of).sum::<f64>() + 22.0;
    let title = Letters::new(size::TITLE).face(Face::Bold);
    let mut drawing = svg::drawing(WIDE, high, "Seasons by year")
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, high)).filled(style::PAPER))
        .with(svg::text(Point::new(MARGIN, 20.0), "Seasons by year", title));
    for (number, words) in sentence.iter().enumerate() {
        let at = Point::new(MARGIN, 32.0 + 10.5 * number as f64);
        drawing = drawing.with(words.draw(at, size::BODY));
    }
    let wide = (WIDE - 2.0 * MARGIN - GAP * (columns as f64 - 1.0)) / columns as f64;
    let mut y = top;
    for row in all.chunks(columns) {
        for (place, of) in row.iter().enumerate() {
            let corner = Point::new(MARGIN + place as f64 * (wide + GAP), y);
            drawing = drawing.with(panel(of, corner, wide));
        }
        y += high_of(row);
    }
    let key = "bar: onset to end; whiskers and thin bar: 95 % intervals; dot: peak; right: amount, mean \
               1, logarithmic; ring: nobody searched then";
    let soft = Letters::new(size::SMALL).colour(style::SOFT_INK);
    drawing.with(svg::text(Point::new(MARGIN, high - 8.0), key, soft)).to_string()
}

/// Where days and amounts lie in a panel.
struct Scale {
    frame: Frame,
    begins: f64,
    /// Days from the beginning at the left and right edge.
    span: (f64, f64),
    amounts: Frame,
    /// The largest logarithm of an amount.
    most: f64,
}

impl Scale {
    fn of(of: &YearsOf, corner: Point, wide: f64) -> Self {
        let high = ROW * of.years.len() as f64;
        let top = corner.y + HEAD;
        let frame = Frame::new(corner.x + YEARS, top, wide - YEARS - AMOUNTS - 6.0, high);
        let amounts = Frame::new(frame.right() + 6.0, top, AMOUNTS, high);
        let after = |day: f64| (day - of.begins).rem_euclid(365.0);
        let low =
            of.years.iter().map(|year| after(year.onset.low95)).fold(after(of.onset.day), f64::min);
        let far =
            of.years.iter().map(|year| after(year.end.high95)).fold(after(of.end.day), f64::max);
        let logs = of.years.iter().flat_map(|year| [year.amount.low95, year.amount.high95]);
        let most = logs.map(|factor| factor.ln().abs()).fold(0.3, f64::max).min(3.0);
        Self { frame, begins: of.begins, span: (low - 4.0, far + 4.0), amounts, most }
    }

    fn x(&self, day: f64) -> f64 {
        let after = (day - self.begins).rem_euclid(365.0);
        let share = (after - self.span.0) / (self.span.1 - self.span.0).max(1.0);
        self.frame.corner.x + self.frame.wide * share.clamp(0.0, 1.0)
    }

    fn amount(&self, factor: f64) -> f64 {
        let share = (factor.max(1e-9).ln() / self.most).clamp(-1.0, 1.0);
        self.amounts.corner.x + self.amounts.wide * (0.5 + 0.5 * share)
    }
}

fn panel(of: &YearsOf, corner: Point, wide: f64) -> Elements {
    let scale = Scale::of(of, corner, wide);
    let mut drawn = Elements::default();
    let name = Letters::new(size::BODY).face(Face::Bold);
    drawn.push(svg::text(Point::new(corner.x, corner.y + 8.0), &of.taxon, name));
    drawn.push(months(&scale));
    let edge = Stroke::new(style::SOFT_INK, line::FINE);
    for frame in [scale.frame, scale.amounts] {
        drawn.push(svg::rectangle(frame).set("fill", "none").stroked(edge));
    }
    let (middle, top, foot) = (scale.amount(1.0), scale.frame.corner.y, scale.frame.bottom());
    drawn.push(svg::line(Point::new(middle, top), Point::new(middle, foot), edge));
    if let Some(typical) = of.peak {
        let x = scale.x(typical.day);
        let down = svg::line(Point::new(x, top), Point::new(x, foot), edge);
        drawn.push(down.set("stroke-dasharray", "3 2"));
    }
    for (number, year) in of.years.iter().enumerate() {
        let y = top + ROW * (number as f64 + 0.5);
        drawn.push(row(year, &scale, y));
    }
    drawn
}

fn months(scale: &Scale) -> Elements {
    let mut drawn = Elements::default();
    let hair = Stroke::new(style::FAINT, line::HAIR);
    let soft = Letters::new(size::SMALL).colour(style::SOFT_INK).anchor(Anchor::Middle);
    let at_foot = scale.frame.bottom() + size::SMALL + 2.0;
    let mut last = f64::NEG_INFINITY;
    let mut ticks: Vec<(f64, &str)> = MONTHS
        .iter()
        .map(|(name, first)| ((f64::from(*first) - scale.begins).rem_euclid(365.0), *name))
        .filter(|(after, _)| (scale.span.0..=scale.span.1).contains(after))
        .collect();
    ticks.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (after, name) in ticks {
        let x = scale.x(scale.begins + after);
        let (top, foot) = (scale.frame.corner.y, scale.frame.bottom());
        drawn.push(svg::line(Point::new(x, top), Point::new(x, foot), hair));
        if x - last > 18.0 {
            drawn.push(svg::text(Point::new(x, at_foot), name, soft));
            last = x;
        }
    }
    let end = scale.most.exp();
    let decimals = usize::from(end < 3.0);
    for (factor, words) in [(1.0, "1".to_owned()), (end, format!("\u{d7}{end:.decimals$}"))] {
        drawn.push(svg::text(Point::new(scale.amount(factor), at_foot), &words, soft));
    }
    drawn
}

fn row(year: &YearLine, scale: &Scale, y: f64) -> Elements {
    let mut drawn = Elements::default();
    let stands_out = !year.named.is_empty();
    let colour = if stands_out { style::FIND } else { style::SEARCH };
    let small = Letters::new(size::SMALL).anchor(Anchor::End);
    let letters = if stands_out { small.face(Face::Bold) } else { small };
    let at = Point::new(scale.frame.corner.x - 4.0, y + 2.4);
    drawn.push(svg::text(at, &year.year.to_string(), letters));
    let thin = Stroke::new(colour, line::FINE);
    let span = |from: f64, to: f64, stroke: Stroke| {
        svg::line(Point::new(scale.x(from), y), Point::new(scale.x(to), y), stroke)
    };
    drawn.push(span(year.onset.low95, year.end.high95, thin));
    let bar = Frame::new(
        scale.x(year.onset.day),
        y - 2.2,
        (scale.x(year.end.day) - scale.x(year.onset.day)).max(0.5),
        4.4,
    );
    drawn.push(svg::rectangle(bar).filled(colour).set("fill-opacity", 0.3));
    for (day, open) in [(year.onset, year.onset_unsearched), (year.end, year.end_unsearched)] {
        drawn.push(whiskers(scale, day, open, y, thin));
    }
    if let Some(peak) = year.peak {
        drawn.push(span(peak.low95, peak.high95, Stroke::new(colour, line::STRONG)));
        let dot = svg::circle(Point::new(scale.x(peak.day), y), 2.1);
        drawn.push(if year.peak_unsearched {
            dot.filled(style::PAPER).stroked(thin)
        } else {
            dot.filled(style::INK)
        });
    }
    let of = year.amount;
    let (low, high) = (scale.amount(of.low95), scale.amount(of.high95));
    drawn.push(svg::line(
        Point::new(low, y),
        Point::new(high, y),
        Stroke::new(colour, line::CURVE),
    ));
    drawn.push(svg::circle(Point::new(scale.amount(of.factor), y), 1.9).filled(style::INK));
    if stands_out {
        let words = named_words(year);
        let left = scale.frame.corner.x + 3.0;
        let at = Point::new(left, y + 2.4);
        drawn.push(svg::text(at, &words, Letters::new(size::SMALL).rimmed()));
    }
    drawn
}

/// The ends of an interval; a ring at its date where nobody searched then.
fn whiskers(scale: &Scale, day: DayEstimate, open: bool, y: f64, stroke: Stroke) -> Elements {
    let mut drawn = Elements::default();
    for end in [day.low95, day.high95] {
        let x = scale.x(end);
        drawn.push(svg::line(Point::new(x, y - 1.6), Point::new(x, y + 1.6), stroke));
    }
    if open {
        let ring = svg::circle(Point::new(scale.x(day.day), y), 2.0);
        drawn.push(ring.filled(style::PAPER).stroked(stroke));
    }
    drawn
}
