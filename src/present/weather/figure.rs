//! Draws the effect of rain and of temperature by lag, and of the single measures. Layer: `present`.

use super::effect::{answer, holds, measure};
use crate::analyse::weather::WeatherEffect;
use crate::analyse::weather::effect::{Factor, LagEffect, MeasureEffect};
use crate::analyse::weather::lags::LONGEST;
use crate::present::chart::{self, Axis, Panel, WIDE};
use crate::present::markup::Elements;
use crate::present::style::{self, Colour, line, size};
use crate::present::svg::{self, Frame, Letters, Point, Stroke};

const LEFT: f64 = 46.0;
const PANEL: f64 = 118.0;
const ROW: f64 = 13.0;

/// The figure, for print at 170 mm.
#[must_use]
pub fn figure(taxon: &str, effect: &WeatherEffect) -> String {
    let mut drawn = Elements::default();
    let sentence = answer(effect);
    let top = chart::head(LEFT, taxon, &sentence, &mut drawn) + 4.0;
    let foot = top + 2.0 * (PANEL + 36.0) + 8.0;
    let rain = ("a day with 10 mm of rain", style::SEARCH, "rain");
    let warmth = ("a day 1 K warmer than usual", style::FIND, "warmth");
    drawn.push(lags(&effect.rain, top, rain, false));
    drawn.push(lags(&effect.warmth, top + PANEL + 36.0, warmth, true));
    drawn.push(measures(&effect.measures, foot));
    let high = foot + ROW * effect.measures.len() as f64 + 50.0;
    chart::page(high, &format!("Weather and {taxon}"), &sentence, &drawn)
}

/// The factor by lag, on a logarithmic axis.
fn lags(
    effect: &LagEffect,
    top: f64,
    (what, colour, name): (&str, Colour, &str),
    titled: bool,
) -> Elements {
    let widest = effect
        .curve
        .iter()
        .flat_map(|of| [of.factor.low95, of.factor.high95])
        .map(|factor| factor.ln().abs())
        .fold(0.02, f64::max);
    let across =
        Axis::new(0.0, LONGEST as f64, 6, if titled { "days before the outing" } else { "" });
    let up = factors(1.1 * widest.min(2.0), "factor on the rate");
    let panel = Panel { frame: Frame::new(LEFT, top, WIDE - LEFT - 12.0, PANEL), across, up };
    let mut drawn = Elements::default();
    let clip = format!("{name}-frame");
    drawn.push(svg::clip(&clip, panel.frame));
    drawn.push(panel.axes());
    let at = |lag: usize, factor: f64| panel.at(lag as f64, factor.ln());
    let upper = effect.curve.iter().map(|of| at(of.lag, of.factor.high95));
    let lower = effect.curve.iter().rev().map(|of| at(of.lag, of.factor.low95));
    let edge: Vec<Point> = upper.chain(lower).collect();
    let curve: Vec<Point> = effect.curve.iter().map(|of| at(of.lag, of.factor.factor)).collect();
    let (from, to) = (panel.at(0.0, 0.0), panel.at(LONGEST as f64, 0.0));
    let inside = svg::group()
        .set("clip-path", format_args!("url(#{clip})"))
        .with(svg::line(from, to, Stroke::new(style::INK, line::FINE)))
        .with(svg::polygon(&edge, colour).set("fill-opacity", 0.2))
        .with(svg::polyline(&curve, Stroke::new(colour, line::STRONG)));
    drawn.push(inside);
    let words = if effect.included {
        what.to_owned()
    } else {
        format!("{what}: no effect that these data can show")
    };
    let at = Point::new(panel.frame.corner.x + 5.0, panel.frame.corner.y + 10.0);
    drawn.push(svg::text(at, &words, Letters::new(size::SMALL).rimmed()));
    drawn
}

/// An axis of factors: logarithms, with ticks at round factors.
fn factors(most: f64, title: &str) -> Axis {
    const COARSE: [f64; 9] = [0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0];
    const MIDDLE: [f64; 7] = [0.5, 0.67, 0.8, 1.0, 1.25, 1.5, 2.0];
    const CLOSE: [f64; 7] = [0.8, 0.9, 0.95, 1.0, 1.05, 1.1, 1.25];
    const FINE: [f64; 7] = [0.95, 0.97, 0.99, 1.0, 1.01, 1.03, 1.05];
    let list: &[f64] = match most {
        most if most < 0.07 => &FINE,
        most if most < 0.28 => &CLOSE,
        most if most < 0.8 => &MIDDLE,
        _ => &COARSE,
    };
    let ticks = list
        .iter()
        .filter(|factor| factor.ln().abs() <= most)
        .map(|factor| (factor.ln(), format!("{factor:.2}")))
        .collect();
    Axis { title: title.to_owned(), ticks, ..Axis::bare(-most, most) }
}

/// One row for each measure: its interval, its factor, its q.
fn measures(effects: &[MeasureEffect], top: f64) -> Elements {
    let mut drawn = Elements::default();
    if effects.is_empty() {
        return drawn;
    }
    let widest = effects
        .iter()
        .flat_map(|of| [of.factor.low95, of.factor.high95])
        .map(|factor| factor.ln().abs())
        .fold(0.05, f64::max);
    let up = Axis::categories(effects.iter().map(|effect| {
        let (name, step) = measure(effect.measure);
        format!("{name}, {step}")
    }));
    let left = up.longest() + 18.0;
    let frame = Frame::new(left, top, WIDE - left - 62.0, ROW * effects.len() as f64);
    let across = factors(1.1 * widest.min(2.0), "factor on the rate for the step");
    let panel = Panel { frame, across, up };
    drawn.push(panel.axes());
    let level = svg::line(
        panel.at(0.0, 0.0),
        panel.at(0.0, panel.up.from),
        Stroke::new(style::INK, line::FINE),
    );
    drawn.push(level);
    for (number, effect) in effects.iter().enumerate() {
        drawn.push(measure_row(effect, &panel, panel.row(number)));
    }
    drawn
}

fn measure_row(effect: &MeasureEffect, panel: &Panel, y: f64) -> Elements {
    let mut drawn = Elements::default();
    let soft = Letters::new(size::SMALL).colour(style::SOFT_INK);
    let limit = panel.across.to;
    let x = |factor: f64| panel.at(factor.ln().clamp(-limit, limit), 0.0).x;
    let Factor { factor, low95, high95 } = effect.factor;
    let colour = if holds(effect) { style::INK } else { style::SOFT_INK };
    let stroke = Stroke::new(colour, line::CURVE);
    drawn.push(svg::line(Point::new(x(low95), y), Point::new(x(high95), y), stroke));
    let dot = svg::circle(Point::new(x(factor), y), 2.2);
    drawn.push(if holds(effect) {
        dot.filled(colour)
    } else {
        dot.filled(style::PAPER).stroked(Stroke::new(colour, line::FINE))
    });
    let q = effect.q.map_or_else(
        || "not tested".to_owned(),
        |q| {
            if q < 0.001 { "q < 0.001".to_owned() } else { format!("q = {q:.2}") }
        },
    );
    drawn.push(svg::text(Point::new(panel.frame.right() + 5.0, y + 2.4), &q, soft));
    drawn
}
