//! Draws the years of each taxon as small multiples: for each year the season from onset to end with its
//! peak, and the amount beside it. Layer: `present`.

use super::{ALL_FINDS, answer, named_words, season};
use crate::analyse::season::{DayEstimate, MONTHS};
use crate::analyse::years::{YearLine, YearsOf};
use crate::present::chart::{self, Axis, Panel, WIDE};
use crate::present::fonts::Face;
use crate::present::markup::Elements;
use crate::present::style::{self, Colour, line, size};
use crate::present::svg::{self, Frame, Letters, Point, Stroke};

const MARGIN: f64 = 14.0;
/// Two columns of panels.
const COLUMNS: usize = 2;
const GAP: f64 = 22.0;
/// The height of a year.
const ROW: f64 = 11.0;
/// Room for the years at the left of a panel, and for amounts at its right.
const YEARS: f64 = 26.0;
const AMOUNTS: f64 = 58.0;
/// Room for the name above a panel, and for the months below the last.
const HEAD: f64 = 15.0;
const FOOT: f64 = 12.0;
/// The distance between rows of panels, and the room for the figures of the axes and the key.
const BETWEEN: f64 = 8.0;
const BELOW: f64 = 50.0;
const TITLE: &str = "Seasons by year";

/// The height of a page, with the margins of A4 around it: 257 mm.
const HIGHEST: f64 = 257.0 * svg::POINTS_PER_MILLIMETRE;

/// The figure for print at 170 mm, in pages no higher than A4 can print.
#[must_use]
pub fn pages(all: &[YearsOf]) -> Vec<String> {
    let sentence = answer(all);
    let columns = if all.len() > 1 { COLUMNS } else { 1 };
    let rows: Vec<&[YearsOf]> = all.chunks(columns).collect();
    let axes = Axes::of(all);
    let mut top = chart::head(MARGIN, TITLE, &sentence, &mut Elements::default()) + 10.0;
    // "page 1 of 2" has a line of its own
    let mut pages = filled(&rows, HIGHEST - top - BELOW);
    if pages.len() > 1 {
        top += 11.0;
        pages = filled(&rows, HIGHEST - top - BELOW);
    }
    let count = pages.len();
    let drawn = |(place, rows): (usize, Vec<&[YearsOf]>)| {
        let page = (count > 1).then(|| format!("page {} of {count}", place + 1));
        drawn_page(&rows, &axes, (&sentence, page), (columns, top))
    };
    pages.into_iter().enumerate().map(drawn).collect()
}

/// A taxon in italics; all finds together are no name.
fn heading(taxon: &str, at: Point) -> crate::present::markup::Element {
    let letters = Letters::new(size::BODY + 0.5);
    if taxon == ALL_FINDS {
        svg::text(at, taxon, letters.face(Face::Bold))
    } else {
        svg::name(at, taxon, letters)
    }
}

/// Rows of panels onto pages of this height; a row has a page at least.
fn filled<'a>(rows: &[&'a [YearsOf]], room: f64) -> Vec<Vec<&'a [YearsOf]>> {
    let mut pages: Vec<Vec<&[YearsOf]>> = Vec::new();
    let mut left = 0.0;
    for row in rows {
        let high = row_height(row);
        if pages.is_empty() || high > left {
            pages.push(Vec::new());
            left = room;
        }
        left -= high;
        if let Some(page) = pages.last_mut() {
            page.push(row);
        }
    }
    pages
}

/// The height of a year: lower where otherwise the years of one taxon would not fit a page.
fn step(years: usize) -> f64 {
    ROW.min((HIGHEST - 160.0) / years.max(1) as f64)
}

fn row_height(row: &[YearsOf]) -> f64 {
    let years = row.iter().map(|of| of.years.len()).max().unwrap_or(0);
    HEAD + step(years) * years as f64 + BETWEEN
}

fn drawn_page(
    rows: &[&[YearsOf]],
    axes: &Axes,
    (sentence, page): (&str, Option<String>),
    (columns, top): (usize, f64),
) -> String {
    let mut drawn = Elements::default();
    chart::head(MARGIN, TITLE, sentence, &mut drawn);
    if let Some(page) = page {
        let soft = Letters::new(size::SMALL).colour(style::SOFT_INK);
        drawn.push(svg::text(Point::new(MARGIN, top - 12.0), &page, soft));
    }
    let wide = (WIDE - 2.0 * MARGIN - GAP * (columns as f64 - 1.0)) / columns as f64;
    let shown: usize = rows.iter().map(|row| row.len()).sum();
    let mut number = 0;
    let mut y = top;
    for row in rows {
        for (place, of) in row.iter().enumerate() {
            let corner = Point::new(MARGIN + place as f64 * (wide + GAP), y);
            drawn.push(heading(&of.taxon, corner.plus(0.0, 8.0)));
            // the figures of the axes stand once below each column
            let last = number + columns >= shown;
            drawn.push(Panels::of(of, axes, (corner, wide), last).draw(of));
            number += 1;
        }
        y += row_height(row);
    }
    let mut key =
        "bar: onset to end; whiskers and thin bar: 95 % intervals; dot: peak; right: amount, median \
                   1, logarithmic; ring: nobody searched then"
            .to_owned();
    if drawn.to_string().contains("class=\"beyond\"") {
        key.push_str("; arrowhead: the interval continues beyond the axis");
    }
    let soft = Letters::new(size::SMALL).colour(style::SOFT_INK);
    let foot = chart::text(&key, Point::new(MARGIN, y + FOOT + 8.0), soft, &mut drawn);
    chart::page(foot, TITLE, sentence, &drawn)
}

/// The axes of all panels: seasons and amounts are compared between taxa as well.
struct Axes {
    begins: f64,
    days: Axis,
    factors: Axis,
}

impl Axes {
    fn of(all: &[YearsOf]) -> Self {
        let begins = all.first().map_or(0.0, |of| of.begins);
        let years = || all.iter().flat_map(|of| &of.years);
        let first = years().map(|year| span(year.onset, begins).0);
        let last = years().map(|year| span(year.end, begins).2);
        let low = first.fold(365.0, f64::min).clamp(0.0, 364.0);
        let high = last.fold(0.0, f64::max).clamp(low + 1.0, 365.0);
        let mut days = Axis::bare(low - 4.0, high + 4.0);
        let at = |day: f64| (day - begins).rem_euclid(365.0);
        let months = MONTHS.iter().map(|(name, day)| (at(f64::from(*day)), (*name).to_owned()));
        days.ticks = months.filter(|(at, _)| (days.from..=days.to).contains(at)).collect();
        days.ticks.sort_by(|a, b| a.0.total_cmp(&b.0));
        let logs = years().flat_map(|year| [year.amount.low95, year.amount.high95]);
        let most = logs.map(|factor| factor.ln().abs()).fold(0.3, f64::max).min(3.0);
        let mut factors = Axis::bare(-most, most);
        let decimals = usize::from(most.exp() < 3.0);
        factors.ticks =
            vec![(0.0, "1".to_owned()), (most, format!("\u{d7}{:.decimals$}", most.exp()))];
        Self { begins, days, factors }
    }
}

/// Low end, day and high end on the axis of a year that begins on this day.
fn span(day: DayEstimate, begins: f64) -> (f64, f64, f64) {
    let middle = (day.day - begins).rem_euclid(365.0);
    let before = (day.day - day.low95).rem_euclid(365.0);
    let after = (day.high95 - day.day).rem_euclid(365.0);
    (middle - before, middle, middle + after)
}

/// The seasons and the amounts of a taxon, with a row for each year.
struct Panels {
    begins: f64,
    seasons: Panel,
    amounts: Panel,
}

impl Panels {
    fn of(of: &YearsOf, axes: &Axes, (corner, wide): (Point, f64), last: bool) -> Self {
        let bare = |axis: &Axis| {
            let mut axis = axis.clone();
            if !last {
                axis.ticks.iter_mut().for_each(|tick| tick.1.clear());
            }
            axis
        };
        let up = Axis::categories(of.years.iter().map(season));
        let beside = Axis { ticks: Vec::new(), ..up.clone() };
        let frame = Frame::new(
            corner.x + YEARS,
            corner.y + HEAD,
            wide - YEARS - AMOUNTS - 6.0,
            step(of.years.len()) * of.years.len() as f64,
        );
        let right = Frame::new(frame.right() + 6.0, frame.corner.y, AMOUNTS, frame.high);
        Self {
            begins: axes.begins,
            seasons: Panel { frame, across: bare(&axes.days), up },
            amounts: Panel { frame: right, across: bare(&axes.factors), up: beside },
        }
    }

    /// A place on the axis of days, held within it.
    fn on_axis(&self, after: f64) -> f64 {
        let Axis { from, to, .. } = self.seasons.across;
        self.seasons.at(after.clamp(from, to), 0.0).x
    }

    fn x(&self, day: f64) -> f64 {
        self.on_axis((day - self.begins).rem_euclid(365.0))
    }

    fn amount(&self, factor: f64) -> f64 {
        let most = self.amounts.across.to;
        self.amounts.at(factor.max(1e-9).ln().clamp(-most, most), 0.0).x
    }

    /// Arrowheads at the ends of an axis beyond which an interval continues.
    fn cuts(panel: &Panel, (low, high): (f64, f64), y: f64, colour: Colour) -> Elements {
        let mut drawn = Elements::default();
        let Axis { from, to, .. } = panel.across;
        for (cut, end, direction) in [(low < from, from, -1.0), (high > to, to, 1.0)] {
            if cut {
                let at = Point::new(panel.at(end, 0.0).x, y);
                drawn.push(chart::beyond(at, (direction, 0.0), colour));
            }
        }
        drawn
    }

    fn draw(&self, of: &YearsOf) -> Elements {
        let mut drawn = self.seasons.axes();
        drawn.push(self.amounts.axes());
        let Frame { corner, .. } = self.seasons.frame;
        let foot = self.seasons.frame.bottom();
        let edge = Stroke::new(style::SOFT_INK, line::FINE);
        // the mean amount, and the peak of all years
        let peak = of.peak.map(|peak| (self.x(peak.day), edge.dashed(3.0, 2.0)));
        for (x, stroke) in std::iter::once((self.amount(1.0), edge)).chain(peak) {
            drawn.push(svg::line(Point::new(x, corner.y), Point::new(x, foot), stroke));
        }
        for (number, year) in of.years.iter().enumerate() {
            drawn.push(row(year, self, self.seasons.row(number)));
        }
        drawn
    }
}

fn row(year: &YearLine, panels: &Panels, y: f64) -> Elements {
    let mut drawn = Elements::default();
    let colour = if year.named.is_empty() { style::SEARCH } else { style::FIND };
    let thin = Stroke::new(colour, line::FINE);
    let level = |from: f64, to: f64, stroke: Stroke| {
        svg::line(Point::new(from, y), Point::new(to, y), stroke)
    };
    let (first, last) = (span(year.onset, panels.begins), span(year.end, panels.begins));
    let along =
        |from: f64, to: f64, stroke| level(panels.on_axis(from), panels.on_axis(to), stroke);
    drawn.push(along(first.0, last.2, thin));
    drawn.push(Panels::cuts(&panels.seasons, (first.0, last.2), y, colour));
    let (onset, end) = (panels.x(year.onset.day), panels.x(year.end.day));
    let bar = Frame::new(onset, y - 2.2, (end - onset).max(0.5), 4.4);
    drawn.push(svg::rectangle(bar).washed(colour, 0.3));
    for (day, open) in [(year.onset, year.onset_unsearched), (year.end, year.end_unsearched)] {
        drawn.push(whiskers(panels, day, open, y, colour));
    }
    if let Some(peak) = year.peak {
        let (low, _, high) = span(peak, panels.begins);
        drawn.push(along(low, high, Stroke::new(colour, line::STRONG)));
        drawn.push(Panels::cuts(&panels.seasons, (low, high), y, colour));
        let dot = svg::circle(Point::new(panels.x(peak.day), y), 2.1);
        drawn.push(if year.peak_unsearched {
            dot.filled(style::PAPER).stroked(thin)
        } else {
            dot.filled(style::INK)
        });
    }
    let of = year.amount;
    let ends = (panels.amount(of.low95), panels.amount(of.high95));
    drawn.push(level(ends.0, ends.1, Stroke::new(colour, line::CURVE)));
    let logs = (of.low95.max(1e-9).ln(), of.high95.max(1e-9).ln());
    drawn.push(Panels::cuts(&panels.amounts, logs, y, colour));
    drawn.push(svg::circle(Point::new(panels.amount(of.factor), y), 1.9).filled(style::INK));
    if !year.named.is_empty() {
        let at = Point::new(panels.seasons.frame.corner.x + 3.0, y + 2.4);
        drawn.push(svg::text(at, &named_words(year), Letters::new(size::SMALL).rimmed()));
    }
    drawn
}

/// The ends of an interval; a ring at its date where nobody searched then.
fn whiskers(panels: &Panels, day: DayEstimate, open: bool, y: f64, colour: Colour) -> Elements {
    let mut drawn = Elements::default();
    let stroke = Stroke::new(colour, line::FINE);
    let (low, _, high) = span(day, panels.begins);
    let Axis { from, to, .. } = panels.seasons.across;
    // an end beyond the axis has an arrowhead instead
    for end in [low, high].into_iter().filter(|end| (from..=to).contains(end)) {
        let x = panels.on_axis(end);
        drawn.push(svg::line(Point::new(x, y - 1.6), Point::new(x, y + 1.6), stroke));
    }
    if open {
        let ring = svg::circle(Point::new(panels.x(day.day), y), 2.0);
        drawn.push(ring.filled(style::PAPER).stroked(stroke));
    }
    drawn
}

#[cfg(test)]
mod tests;
