//! Draws a numbered field slip. One half is photographed beside the find, with a 5 cm scale and a grey
//! scale; the other is written on and stays with the specimen. Layer: `present`.

use super::Cut;
use crate::model::RecordNumber;
use crate::present::fonts::{self, Face};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, Colour, line};
use crate::present::svg::{self, Anchor, Frame, Letters, POINTS_PER_MILLIMETRE, Point, Stroke};

const MARGIN: f64 = 8.0;
/// Fields to fill in, and the share of a line each takes.
const BLANKS: [(&str, f64); 8] = [
    ("time", 0.3),
    ("place", 0.7),
    ("substrate", 0.5),
    ("host", 0.5),
    ("smell", 0.34),
    ("colour, bruising, latex", 0.66),
    ("photographs", 0.5),
    ("container", 0.5),
];

pub(super) fn cut(number: &RecordNumber, (wide, high): (f64, f64)) -> Cut {
    let mut drawn = Elements::default();
    let fold = 0.46 * high;
    drawn.extend(shown(&number.0, wide, fold));
    let dashed = Stroke::new(style::SOFT_INK, line::HAIR).dashed(3.0, 3.0);
    drawn.push(svg::line(Point::new(0.0, fold), Point::new(wide, fold), dashed));
    drawn.extend(written(&number.0, wide, fold, high));
    Cut { drawn }
}

/// The half that is photographed.
fn shown(number: &str, wide: f64, high: f64) -> Vec<Element> {
    let room = wide - 2.0 * MARGIN - 62.0;
    let natural = fonts::width(number, Face::Bold, 30.0);
    let size = if natural > room { 30.0 * room / natural } else { 30.0 };
    let large = Letters::new(size).face(Face::Bold);
    let mut drawn = vec![svg::text(Point::new(MARGIN, MARGIN + 26.0), number, large)];
    drawn.extend(greys(Point::new(wide - MARGIN - 56.0, MARGIN + 2.0)));
    drawn.extend(rule(Point::new(MARGIN, high - 20.0)));
    drawn
}

/// Five centimetres in halves and millimetres.
fn rule(corner: Point) -> Vec<Element> {
    let millimetre = POINTS_PER_MILLIMETRE;
    let fine = Stroke::new(style::INK, line::HAIR);
    let mut drawn = vec![
        svg::rectangle(Frame::new(corner.x, corner.y, 50.0 * millimetre, 8.0))
            .set("fill", "none")
            .stroked(fine),
    ];
    for centimetre in 0..5_u8 {
        let x = corner.x + f64::from(centimetre) * 10.0 * millimetre;
        if centimetre % 2 == 0 {
            drawn.push(
                svg::rectangle(Frame::new(x, corner.y + 4.0, 10.0 * millimetre, 4.0))
                    .filled(style::INK),
            );
        }
        for tick in 1..10_u8 {
            let x = x + f64::from(tick) * millimetre;
            let foot = corner.y + if tick == 5 { 3.6 } else { 2.0 };
            drawn.push(svg::line(Point::new(x, corner.y), Point::new(x, foot), fine));
        }
    }
    let small = Letters::new(6.5);
    let at = Point::new(corner.x + 50.0 * millimetre + 4.0, corner.y + 7.0);
    drawn.push(svg::text(at, "5 cm (check with a ruler)", small));
    drawn
}

/// A grey scale, to judge the exposure of a photograph.
fn greys(corner: Point) -> Vec<Element> {
    ["#ffffff", "#bfbfbf", "#808080", "#404040", "#000000"]
        .into_iter()
        .zip(0_u8..)
        .map(|(grey, place)| {
            svg::rectangle(Frame::new(corner.x + 11.0 * f64::from(place), corner.y, 11.0, 14.0))
                .filled(Colour(grey))
                .stroked(Stroke::new(style::INK, line::HAIR))
        })
        .collect()
}

/// The half that stays with the specimen.
fn written(number: &str, wide: f64, top: f64, high: f64) -> Vec<Element> {
    let size = 11.0;
    let room = 0.42 * (wide - 2.0 * MARGIN);
    let natural = fonts::width(number, Face::Bold, size);
    let fitted = if natural > room { size * room / natural } else { size };
    let bold = Letters::new(fitted).face(Face::Bold);
    let mut drawn = vec![svg::text(Point::new(MARGIN, top + 15.0), number, bold)];
    let soft = Letters::new(6.5).colour(style::SOFT_INK);
    drawn.extend(blank("date", 0.5, 0.5, top + 15.0, wide, soft));
    let step = (high - top - 15.0 - MARGIN) / 4.0;
    let (mut x, mut foot) = (0.0, top + 15.0 + step);
    for (caption, share) in BLANKS {
        drawn.extend(blank(caption, x, share, foot, wide, soft));
        x += share;
        if x > 0.99 {
            x = 0.0;
            foot += step;
        }
    }
    drawn
}

/// A caption with a line to write on.
fn blank(
    caption: &str,
    from: f64,
    share: f64,
    foot: f64,
    wide: f64,
    soft: Letters,
) -> [Element; 2] {
    let room = wide - 2.0 * MARGIN;
    let left = MARGIN + from * room;
    let start = left + fonts::width(caption, Face::Regular, soft.size) + 3.0;
    let end = left + share * room - 4.0;
    let hair = Stroke::new(style::SOFT_INK, line::HAIR);
    [
        svg::text(Point::new(left, foot), caption, soft.anchor(Anchor::Start)),
        svg::line(Point::new(start, foot + 1.0), Point::new(end.max(start), foot + 1.0), hair),
    ]
}
