//! Draws the years of each taxon as small multiples: for each year the season from onset to end with its
//! peak, and the amount beside it. Layer: `present`.

use super::{answer, named_words, season};
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
/// Room for the name above a panel, and for the months below.
const HEAD: f64 = 15.0;
const FOOT: f64 = 17.0;

/// The figure, for print at 170 mm.
#[must_use]
pub fn figure(all: &[YearsOf]) -> String {
    let sentence = answer(all);
    let mut drawn = Elements::default();
    let mut y = chart::head(MARGIN, "Seasons by year", &sentence, &mut drawn) + 10.0;
    let columns = if all.len() > 1 { COLUMNS } else { 1 };
    let wide = (WIDE - 2.0 * MARGIN - GAP * (columns as f64 - 1.0)) / columns as f64;
    for row in all.chunks(columns) {
        for (place, of) in row.iter().enumerate() {
            let corner = Point::new(MARGIN + place as f64 * (wide + GAP), y);
            let name = Letters::new(size::BODY).face(Face::Bold);
            drawn.push(svg::text(corner.plus(0.0, 8.0), &of.taxon, name));
            drawn.push(Panels::of(of, corner, wide).draw(of));
        }
        let years = row.iter().map(|of| of.years.len()).max().unwrap_or(0);
        y += HEAD + ROW * years as f64 + FOOT + 10.0;
    }
    let key = "bar: onset to end; whiskers and thin bar: 95 % intervals; dot: peak; right: amount, mean \
               1, logarithmic; ring: nobody searched then";
    let soft = Letters::new(size::SMALL).colour(style::SOFT_INK);
    let foot = chart::text(key, Point::new(MARGIN, y + 6.0), soft, &mut drawn);
    chart::page(foot, "Seasons by year", &sentence, &drawn)
}

/// The seasons and the amounts of a taxon, with a row for each year.
struct Panels {
    begins: f64,
    seasons: Panel,
    amounts: Panel,
}

impl Panels {
    fn of(of: &YearsOf, corner: Point, wide: f64) -> Self {
        let after = |day: f64| (day - of.begins).rem_euclid(365.0);
        let first = of.years.iter().map(|year| after(year.onset.low95));
        let last = of.years.iter().map(|year| after(year.end.high95));
        let (low, high) =
            (first.fold(after(of.onset.day), f64::min), last.fold(after(of.end.day), f64::max));
        let mut across = Axis::bare(low - 4.0, high + 4.0);
        let months = MONTHS.iter().map(|(name, day)| (after(f64::from(*day)), (*name).to_owned()));
        across.ticks = months.filter(|(at, _)| (across.from..=across.to).contains(at)).collect();
        across.ticks.sort_by(|a, b| a.0.total_cmp(&b.0));
        let logs = of.years.iter().flat_map(|year| [year.amount.low95, year.amount.high95]);
        let most = logs.map(|factor| factor.ln().abs()).fold(0.3, f64::max).min(3.0);
        let mut factors = Axis::bare(-most, most);
        let decimals = usize::from(most.exp() < 3.0);
        factors.ticks =
            vec![(0.0, "1".to_owned()), (most, format!("\u{d7}{:.decimals$}", most.exp()))];
        let up = Axis::categories(of.years.iter().map(season));
        let beside = Axis { ticks: Vec::new(), ..up.clone() };
        let frame = Frame::new(
            corner.x + YEARS,
            corner.y + HEAD,
            wide - YEARS - AMOUNTS - 6.0,
            ROW * of.years.len() as f64,
        );
        let right = Frame::new(frame.right() + 6.0, frame.corner.y, AMOUNTS, frame.high);
        Self {
            begins: of.begins,
            seasons: Panel { frame, across, up },
            amounts: Panel { frame: right, across: factors, up: beside },
        }
    }

    fn x(&self, day: f64) -> f64 {
        let Axis { from, to, .. } = self.seasons.across;
        self.seasons.at((day - self.begins).rem_euclid(365.0).clamp(from, to), 0.0).x
    }

    fn amount(&self, factor: f64) -> f64 {
        let most = self.amounts.across.to;
        self.amounts.at(factor.max(1e-9).ln().clamp(-most, most), 0.0).x
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
    let span = |from: f64, to: f64, stroke| level(panels.x(from), panels.x(to), stroke);
    drawn.push(span(year.onset.low95, year.end.high95, thin));
    let (onset, end) = (panels.x(year.onset.day), panels.x(year.end.day));
    let bar = Frame::new(onset, y - 2.2, (end - onset).max(0.5), 4.4);
    drawn.push(svg::rectangle(bar).washed(colour, 0.3));
    for (day, open) in [(year.onset, year.onset_unsearched), (year.end, year.end_unsearched)] {
        drawn.push(whiskers(panels, day, open, y, colour));
    }
    if let Some(peak) = year.peak {
        drawn.push(span(peak.low95, peak.high95, Stroke::new(colour, line::STRONG)));
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
    for end in [day.low95, day.high95] {
        let x = panels.x(end);
        drawn.push(svg::line(Point::new(x, y - 1.6), Point::new(x, y + 1.6), stroke));
    }
    if open {
        let ring = svg::circle(Point::new(panels.x(day.day), y), 2.0);
        drawn.push(ring.filled(style::PAPER).stroked(stroke));
    }
    drawn
}
