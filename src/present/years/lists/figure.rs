//! Draws the accumulation of species over outings and hours, with its band and the estimated least
//! number. Layer: `present`.

use super::Report;
use super::text::answer;
use crate::analyse::lists::Accumulated;
use crate::present::chart::{self, Axis, Panel, WIDE, number};
use crate::present::markup::Elements;
use crate::present::style::{self, line, size};
use crate::present::summary::words::counted;
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};

const HIGH: f64 = 300.0;
const LEFT: f64 = 46.0;

/// The figure, for print at 170 mm.
#[must_use]
pub fn figure(report: &Report) -> String {
    let name = if report.of.is_empty() { "All finds" } else { &report.of };
    let title = format!("Species accumulation: {name}");
    let result = match &report.richness {
        Some(richness) => format!(
            "{} on {}; at least {:.0} expected (Chao2, 95 %: {:.0} to {:.0})",
            counted(richness.observed, "species", "species"),
            counted(richness.outings, "outing", "outings"),
            richness.chao2.value,
            richness.chao2.low95,
            richness.chao2.high95
        ),
        None => answer(report),
    };
    let mut drawn = Elements::default();
    let foot = chart::head(LEFT, &title, &result, &mut drawn);
    drawn.push(panel(report, foot + 26.0));
    chart::page(HIGH, &title, &result, &drawn)
}

fn panel(report: &Report, top_edge: f64) -> Elements {
    let outings = report.lists.all.outings.max(1) as f64;
    let observed = report.lists.all.species.len() as f64;
    let top_of_band = report.curve.iter().map(|point| point.high95).fold(observed, f64::max);
    let least = report.richness.as_ref().map(|richness| richness.chao2);
    // far ends of intervals are cut with a mark, not squeezed in
    let top = least
        .map_or(top_of_band, |chao2| chao2.high95.max(top_of_band))
        .min(2.0 * observed.max(1.0));
    let panel = Panel {
        frame: Frame::new(LEFT, top_edge, WIDE - LEFT - 70.0, HIGH - top_edge - 32.0),
        across: whole_numbers(Axis::new(0.0, outings, 6, "outings, in any order")),
        up: whole_numbers(Axis::new(0.0, 1.05 * top.max(1.0), 5, "species")),
    };
    let mut drawn = Elements::default();
    drawn.push(svg::clip("accumulation-frame", panel.frame));
    drawn.push(panel.axes());
    drawn.push(hours(report, &panel));
    let mut inside = svg::group().set("clip-path", "url(#accumulation-frame)");
    inside = inside.with_all([curve(&report.curve, &panel)]);
    if let Some(chao2) = least {
        let stroke = Stroke::new(style::FIND, line::CURVE).dashed(5.0, 3.0);
        let level = |value: f64| [(0.0, value), (outings, value)];
        inside = inside.with(panel.curve(level(chao2.value), stroke));
    }
    drawn.push(inside);
    if let Some(chao2) = least {
        drawn.push(whisker(&panel, outings, chao2, top));
    }
    drawn
}

/// Ticks at whole numbers only.
fn whole_numbers(mut axis: Axis) -> Axis {
    axis.ticks.retain(|(value, _)| value.fract().abs() < 1e-9);
    for (value, words) in &mut axis.ticks {
        *words = number(*value, 0);
    }
    axis
}

fn curve(points: &[Accumulated], panel: &Panel) -> Elements {
    let mut drawn = Elements::default();
    let from = std::iter::once((0.0, 0.0));
    let upper = from.clone().chain(points.iter().map(|p| (p.outings as f64, p.high95)));
    let lower = points.iter().rev().map(|p| (p.outings as f64, p.low95));
    let edge: Vec<Point> = upper.chain(lower).map(|(x, y)| panel.at(x, y)).collect();
    drawn.push(svg::polygon(&edge, style::SEARCH).set("fill-opacity", 0.2));
    let middle = from.chain(points.iter().map(|p| (p.outings as f64, p.species)));
    drawn.push(panel.curve(middle, Stroke::new(style::SEARCH, line::STRONG)));
    drawn
}

/// The estimate beside the frame, with an arrow where its interval is cut.
fn whisker(
    panel: &Panel,
    outings: f64,
    chao2: crate::analyse::intervals::Interval,
    top: f64,
) -> Elements {
    let mut drawn = Elements::default();
    let x = panel.at(outings, 0.0).x + 9.0;
    let y = |value: f64| panel.at(0.0, value).y;
    let stroke = Stroke::new(style::FIND, line::CURVE);
    let (low, high) = (y(chao2.low95), y(chao2.high95.min(top)));
    drawn.push(svg::line(Point::new(x, low), Point::new(x, high), stroke));
    let cut = chao2.high95 > top;
    for (end, back) in [(low, 0.0), (high, if cut { 4.0 } else { 0.0 })] {
        for side in [-3.0, 3.0] {
            drawn.push(svg::line(Point::new(x, end), Point::new(x + side, end + back), stroke));
        }
    }
    drawn.push(svg::circle(Point::new(x, y(chao2.value)), 2.4).filled(style::FIND));
    let letters = Letters::new(size::SMALL);
    let at = Point::new(x + 6.0, y(chao2.value) - 1.0);
    drawn.push(svg::text(at, "at least", letters));
    drawn.push(svg::text(at.plus(0.0, 8.0), &format!("{:.0} (Chao2)", chao2.value), letters));
    drawn
}

/// Hours above the frame, in proportion to outings.
fn hours(report: &Report, panel: &Panel) -> Elements {
    let mut drawn = Elements::default();
    let Some(hours) = report.hours.filter(|hours| *hours > 0.0) else { return drawn };
    let small = Letters::new(size::SMALL).colour(style::SOFT_INK).anchor(Anchor::Middle);
    let axis = Axis::new(0.0, hours, 6, "");
    let y = panel.frame.corner.y;
    for (value, words) in &axis.ticks {
        let x = panel.frame.corner.x + axis.share(*value) * panel.frame.wide;
        let tick = Stroke::new(style::SOFT_INK, line::FINE);
        drawn.push(svg::line(Point::new(x, y), Point::new(x, y - 3.0), tick));
        drawn.push(svg::text(Point::new(x, y - 5.0), words, small));
    }
    let title = Letters::new(size::SMALL).anchor(Anchor::Middle);
    let at = Point::new(panel.frame.middle().x, y - 14.5);
    drawn.push(svg::text(at, "hours searched, in the mean", title));
    drawn
}
