//! Draws the effect of rain and of temperature by lag, and of the single measures. Layer: `present`.

use super::effect::{answer, holds, measure};
use crate::analyse::weather::WeatherEffect;
use crate::analyse::weather::effect::{Factor, LagEffect, LagFactor, MeasureEffect};
use crate::analyse::weather::lags::LONGEST;
use crate::present::chart::{self, Axis, Panel, WIDE};
use crate::present::fonts::Face;
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
    let top = chart::head(LEFT, taxon, &sentence, &mut drawn) + 14.0;
    let foot = top + 2.0 * (PANEL + 36.0) + 8.0;
    let rain = ("a day with 10 mm of rain", style::SEARCH, "rain");
    let warmth = ("a day 1 K warmer than usual", style::FIND, "warmth");
    drawn.push(lags(&effect.rain, top, rain, false));
    drawn.push(lags(&effect.warmth, top + PANEL + 36.0, warmth, true));
    drawn.push(measures(&effect.measures, foot));
    let mut high = foot + ROW * effect.measures.len() as f64 + 50.0;
    if drawn.to_string().contains("class=\"beyond\"") {
        let soft = Letters::new(size::SMALL).colour(style::SOFT_INK);
        let words = "Arrowhead: the interval continues beyond the axis.";
        high = chart::text(words, Point::new(LEFT, high - 6.0), soft, &mut drawn);
    }
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
    let at = panel.frame.corner.plus(0.0, -4.0);
    drawn.push(svg::text(at, &words, Letters::new(size::BODY).face(Face::Bold)));
    drawn.push(cuts(effect, &panel, colour));
    drawn
}

/// Arrowheads where the band leaves the panel, in the middle of each such run of lags.
fn cuts(effect: &LagEffect, panel: &Panel, colour: Colour) -> Elements {
    let mut drawn = Elements::default();
    let limit = panel.up.to;
    for (sign, pick) in
        [(1.0, (|of: &Factor| of.high95) as fn(&Factor) -> f64), (-1.0, |of: &Factor| of.low95)]
    {
        let cut = |of: &LagFactor| sign * pick(&of.factor).ln() > limit;
        for run in effect.curve.chunk_by(|a, b| cut(a) == cut(b)).filter(|run| cut(&run[0])) {
            let middle = panel.at(run[run.len() / 2].lag as f64, sign * limit);
            let (left, right) = (panel.frame.corner.x + 4.0, panel.frame.right() - 4.0);
            let at = Point::new(middle.x.clamp(left, right), middle.y);
            drawn.push(chart::beyond(at, (0.0, -sign), colour));
        }
    }
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
    drawn.push(interval(effect.factor, panel, y, holds(effect)));
    let q = effect.q.map_or_else(
        || "not tested".to_owned(),
        |q| {
            if q < 0.001 { "q < 0.001".to_owned() } else { format!("q = {q:.2}") }
        },
    );
    drawn.push(svg::text(Point::new(panel.frame.right() + 5.0, y + 2.4), &q, soft));
    drawn
}

/// A factor with its interval, and arrowheads where the axis ends before it.
fn interval(of: Factor, panel: &Panel, y: f64, holds: bool) -> Elements {
    let mut drawn = Elements::default();
    let limit = panel.across.to;
    let x = |factor: f64| panel.at(factor.ln().clamp(-limit, limit), 0.0).x;
    let Factor { factor, low95, high95 } = of;
    let colour = if holds { style::INK } else { style::SOFT_INK };
    let stroke = Stroke::new(colour, line::CURVE);
    drawn.push(svg::line(Point::new(x(low95), y), Point::new(x(high95), y), stroke));
    for (end, sign) in [(low95, -1.0), (high95, 1.0)] {
        if sign * end.ln() > limit {
            drawn.push(chart::beyond(Point::new(x(end), y), (sign, 0.0), colour));
        }
    }
    // a factor beyond the axis has no place on it
    if factor.ln().abs() <= limit {
        let dot = svg::circle(Point::new(x(factor), y), 2.2);
        drawn.push(if holds {
            dot.filled(colour)
        } else {
            dot.filled(style::PAPER).stroked(Stroke::new(colour, line::FINE))
        });
    }
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::weather::effect::Factor;

    fn row(factor: f64, low95: f64, high95: f64) -> String {
        let across = factors(2.2, "factor");
        let up = Axis::categories(["rain".to_owned()]);
        let panel = Panel { frame: Frame::new(50.0, 50.0, 300.0, ROW), across, up };
        interval(Factor { factor, low95, high95 }, &panel, panel.row(0), true).to_string()
    }

    #[test]
    fn interval_beyond_the_axis_ends_in_an_arrowhead_and_no_dot_stands_at_its_edge() {
        let within = row(1.2, 0.8, 1.9);
        assert!(!within.contains("beyond") && within.contains("<circle"));
        let one = row(0.15, 0.02, 0.6);
        assert_eq!(one.matches("class=\"beyond\"").count(), 1, "{one}");
        assert!(one.contains("<circle"));
        let both = row(40.0, 0.001, 1e9);
        assert_eq!(both.matches("class=\"beyond\"").count(), 2);
        assert!(!both.contains("<circle"), "{both}");
    }
}
