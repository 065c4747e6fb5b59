//! Draws the sketch map of a card: the route with numbered legs, start, destination, scale, true and
//! magnetic north. Layer: `present`.

use crate::present::fonts::Face;
use crate::present::map::{MapSheet, furniture};
use crate::present::markup::Element;
use crate::present::style::{self, line};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};
use crate::units::Metres;
use crate::wayout::report::WayOut;

/// The least length on paper of a numbered leg, points.
const NUMBERED: f64 = 11.0;

/// The map within a frame.
pub(super) fn map(answer: &WayOut, frame: Frame) -> Element {
    let drawn = svg::group().with(
        svg::rectangle(frame).filled(style::PAPER).stroked(Stroke::new(style::FAINT, line::FINE)),
    );
    let Some(best) = answer.best() else { return drawn };
    let legs = &best.way.legs;
    let circles: Vec<_> = legs
        .iter()
        .flat_map(|leg| [(leg.from, Metres(1.0)), (leg.to, Metres(1.0))])
        .chain([(answer.from.at, Metres(1.0)), (answer.to.at, Metres(1.0))])
        .collect();
    // room at the right for the arrow and below for the bar
    let room = Frame { wide: frame.wide - 40.0, high: frame.high - 14.0, ..frame };
    let Some(sheet) = MapSheet::fit(&circles, room, 16.0, room.high) else { return drawn };
    let direct = [sheet.at(answer.from.at), sheet.at(answer.to.at)];
    let way: Vec<Point> = legs
        .first()
        .map(|leg| sheet.at(leg.from))
        .into_iter()
        .chain(legs.iter().map(|leg| sheet.at(leg.to)))
        .collect();
    let numbers =
        way.windows(2).enumerate().filter(|(_, ends)| ends[0].distance(ends[1]) > NUMBERED).map(
            |(index, ends)| {
                let middle = Point::new(
                    f64::midpoint(ends[0].x, ends[1].x),
                    f64::midpoint(ends[0].y, ends[1].y),
                );
                let letters = Letters::new(8.5).face(Face::Bold).anchor(Anchor::Middle).rimmed();
                svg::text(middle.plus(0.0, 3.2), &(index + 1).to_string(), letters)
            },
        );
    let radius = sheet.points(answer.from.radius.metres()).min(frame.high / 2.0);
    let foot = Point::new(frame.right() - 27.0, frame.corner.y + 46.0);
    drawn
        .with(svg::polyline(&direct, Stroke::new(style::SOFT_INK, line::FINE).dashed(3.0, 2.5)))
        .with(svg::circle(direct[0], radius.max(2.5)).washed(style::SEARCH, 0.18))
        .with(svg::polyline(&way, Stroke::new(style::INK, line::STRONG + 0.6)))
        .with_all(numbers)
        .with(
            svg::circle(direct[0], 3.6).filled(style::PAPER).stroked(Stroke::new(style::INK, 1.6)),
        )
        .with(flag(direct[1]))
        .with(label(direct[0], direct[1], "YOU"))
        .with(label(direct[1], direct[0], "OUT"))
        .with(furniture::north_arrow(foot, Some(&answer.direct.declination)))
        .with(furniture::scale_bar(
            &sheet,
            Point::new(frame.corner.x + 10.0, frame.bottom() - 8.0),
            90.0,
        ))
}

/// The destination: a filled square, distinguished from the start by its shape.
fn flag(at: Point) -> Element {
    svg::rectangle(Frame::new(at.x - 4.0, at.y - 4.0, 8.0, 8.0)).filled(style::INK)
}

/// A label on the side of a mark away from the other end.
fn label(at: Point, other: Point, word: &str) -> Element {
    let below = if at.y >= other.y { 14.0 } else { -7.0 };
    let letters = Letters::new(7.5).face(Face::Bold).anchor(Anchor::Middle).rimmed();
    svg::text(at.plus(0.0, below), word, letters)
}
