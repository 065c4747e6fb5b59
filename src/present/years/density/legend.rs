//! Draws the legend of density maps: the classes of the map, how evidence fades them, and the lines.
//! Layer: `present`.

use super::surface::{FADES, isopleth_strokes};
use super::{Area, Measure, NOT_FOUND, TIMES, few, surface};
use crate::present::fonts::Face;
use crate::present::markup::Elements;
use crate::present::style::{self, Colour, line, size};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};

const WIDE: f64 = 28.0;
const HIGH: f64 = 9.0;

/// The height of the whole.
pub(super) const TALL: f64 = 62.0;

/// The legend of a measure.
pub(super) fn legend(at: Point, measure: Measure, step: f64, areas: &[Area]) -> Elements {
    let mut drawn = Elements::default();
    let sheets = || areas.iter().flat_map(|area| &area.sheets);
    let scaled = sheets().any(|sheet| surface(sheet, measure));
    let title = if scaled { measure.band().0 } else { "too few finds for a surface: points only" };
    drawn.push(svg::text(at, title, Letters::new(size::BODY).face(Face::Bold)));
    let top = at.y + 6.0;
    if scaled {
        let ends = surface::classes_of(areas, measure, step);
        drawn.push(classes(Point::new(at.x, top), measure, step, ends));
    } else {
        drawn.push(swatch(Frame::new(at.x, top, 10.0, 8.0), NOT_FOUND));
        drawn.push(svg::text(Point::new(at.x + 14.0, top + 7.0), "searched", letters()));
    }
    let row = top + HIGH + 24.0;
    let mut x = at.x;
    let mut key = |drawn: &mut Elements, words: &str, mark: &dyn Fn(f64) -> Elements| {
        drawn.push(mark(x));
        drawn.push(svg::text(Point::new(x + 19.0, row + 3.0), words, letters()));
        x += 26.0 + crate::present::fonts::width(words, Face::Regular, size::SMALL);
    };
    let stroke = |stroke: Stroke| {
        move |x: f64| {
            let mut drawn = Elements::default();
            drawn.push(svg::line(Point::new(x, row), Point::new(x + 16.0, row), stroke));
            drawn
        }
    };
    key(
        &mut drawn,
        "edge of the searched ground; white: not searched",
        &stroke(Stroke::new(style::SOFT_INK, line::HAIR)),
    );
    if let Some(sheet) = sheets().find(|sheet| !sheet.finds.is_empty())
        && measure != Measure::Effort
    {
        let radius = surface::dot_radius(sheet);
        key(&mut drawn, "find", &|x: f64| {
            let at = Point::new(x + 12.0, row);
            let mut drawn = Elements::default();
            drawn.push(surface::dot(at, radius));
            drawn
        });
    }
    if !sheets().all(few) && measure != Measure::Effort {
        let [whole, half] = isopleth_strokes();
        key(&mut drawn, "holds 50 % of the finds", &stroke(half.1));
        key(&mut drawn, "95 %", &stroke(whole.1));
    }
    drawn
}

fn letters() -> Letters {
    Letters::new(size::SMALL)
}

fn swatch(frame: Frame, colour: Colour) -> crate::present::markup::Element {
    svg::rectangle(frame).filled(colour).stroked(Stroke::new(style::RAW, line::HAIR))
}

/// The classes of the map from the lowest to the highest that it has, each with its limits, and the fading.
pub(super) fn classes(
    at: Point,
    measure: Measure,
    step: f64,
    (low, high): (usize, usize),
) -> Elements {
    let mut drawn = Elements::default();
    let colours = measure.colours();
    let under = at.y + HIGH + 8.0;
    let middle = letters().anchor(Anchor::Middle);
    let relative = measure == Measure::Relative;
    // the class for next to nothing stands apart
    let left = |class: usize| {
        let apart = if relative || low > 0 || class == 0 { 0.0 } else { 8.0 };
        at.x + WIDE * (class as f64 - low as f64) + apart
    };
    for (class, colour) in colours.iter().enumerate().take(high + 1).skip(low) {
        drawn.push(swatch(Frame::new(left(class), at.y, WIDE, HIGH), *colour));
    }
    if relative {
        for (place, (_, words)) in TIMES.iter().enumerate().take(high + 1).skip(low.max(1) - 1) {
            drawn.push(svg::text(Point::new(left(place + 1), under), words, middle));
        }
        if (low..=high).contains(&3) {
            let words = "1: as on the whole map";
            drawn.push(svg::text(Point::new(left(3) + WIDE / 2.0, under + 8.0), words, middle));
        }
    } else {
        if low == 0 {
            let least = format!("< {}", Measure::words(step, 1));
            drawn.push(svg::text(Point::new(at.x + WIDE / 2.0, under), &least, middle));
        }
        for class in low.max(1)..=high {
            let words = Measure::words(step, class);
            drawn.push(svg::text(Point::new(left(class), under), &words, middle));
        }
        let open = high + 1 == colours.len();
        let end = if open { "and more".to_owned() } else { Measure::words(step, high + 1) };
        if high > 0 {
            drawn.push(svg::text(Point::new(left(high + 1), under), &end, middle));
        }
    }
    if !matches!(measure, Measure::Effort | Measure::Error) {
        drawn.push(fading(Point::new(left(high + 1) + 26.0, at.y), colours[5]));
    }
    drawn
}

/// What faded colours mean.
fn fading(at: Point, colour: Colour) -> Elements {
    let mut drawn = Elements::default();
    for (place, (_, opacity)) in FADES.iter().enumerate() {
        let frame = Frame::new(at.x + 14.0 * place as f64, at.y, 14.0, HIGH);
        drawn.push(swatch(frame, style::PAPER));
        drawn.push(svg::rectangle(frame).filled(colour).set("fill-opacity", opacity));
    }
    let words = "faded: fewer than 1 or 4 finds expected";
    drawn.push(svg::text(Point::new(at.x, at.y + HIGH + 8.0), words, letters()));
    drawn
}
