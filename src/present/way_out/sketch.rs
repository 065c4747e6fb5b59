//! Draws the sketch map of a card on its ground: the route with all legs numbered, start, destination,
//! scale, true and magnetic north. Layer: `present`.

use crate::present::fonts::{self, Face};
use crate::present::map::ground::{self, MapGround};
use crate::present::map::names::{self, Obstacles, Wish};
use crate::present::map::{MapSheet, furniture};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};
use crate::units::Metres;
use crate::wayout::report::WayOut;

/// The length of the scale bar, about, points.
const BAR: f64 = 80.0;
/// The size of the numbers of legs, points.
const NUMBER: f64 = 8.5;

/// The sheet of the route within a frame; `None` without a route.
pub(super) fn sheet(answer: &WayOut, frame: Frame) -> Option<MapSheet> {
    let legs = &answer.best()?.way.legs;
    let circles: Vec<_> = legs
        .iter()
        .flat_map(|leg| [(leg.from, Metres(1.0)), (leg.to, Metres(1.0))])
        .chain([(answer.from.at, Metres(1.0)), (answer.to.at, Metres(1.0))])
        .collect();
    MapSheet::fit(&circles, frame, 24.0, frame.high)
}

/// The map within a frame.
pub(super) fn map(answer: &WayOut, frame: Frame, under: &MapGround) -> Element {
    let edge =
        svg::rectangle(frame).set("fill", "none").stroked(Stroke::new(style::INK, line::FINE));
    let drawn = svg::group().with(svg::rectangle(frame).filled(style::PAPER));
    let (Some(best), Some(sheet)) = (answer.best(), sheet(answer, frame)) else {
        return drawn.with(edge);
    };
    let ends = [sheet.at(answer.from.at), sheet.at(answer.to.at)];
    let way: Vec<Point> = best
        .way
        .legs
        .first()
        .map(|leg| sheet.at(leg.from))
        .into_iter()
        .chain(best.way.legs.iter().map(|leg| sheet.at(leg.to)))
        .collect();
    let mut obstacles = Obstacles::default();
    obstacles.line(&way);
    let mut above = Elements::default();
    for (at, other, word) in [(ends[0], ends[1], "YOU"), (ends[1], ends[0], "OUT")] {
        obstacles.mark(at, 4.5);
        above.push(label(at, other, word, &mut obstacles));
    }
    let bar = bar(&sheet, &mut obstacles);
    above.push(north(answer, &sheet, &mut obstacles));
    above.push(numbers(&way, frame, &mut obstacles));
    let ground = ground::draw(under, &sheet);
    let words = ground.words(&sheet, &mut obstacles);
    let radius = sheet.points(answer.from.radius.metres()).min(frame.high / 2.0);
    let inside = svg::group()
        .set("clip-path", "url(#sketch)")
        .with(ground.group())
        .with(words)
        .with(svg::polyline(&ends, Stroke::new(style::SOFT_INK, line::FINE).dashed(3.0, 2.5)))
        .with(svg::circle(ends[0], radius.max(2.5)).washed(style::SEARCH, 0.18))
        .with(svg::polyline(&way, Stroke::new(style::PAPER, line::STRONG + 2.4)))
        .with(svg::polyline(&way, Stroke::new(style::INK, line::STRONG + 0.6)))
        .with(corners(&way))
        .with(svg::circle(ends[0], 3.6).filled(style::PAPER).stroked(Stroke::new(style::INK, 1.6)))
        .with(flag(ends[1]))
        .with(above)
        .with(furniture::scale_bar(&sheet, bar, BAR));
    drawn.with(svg::clip("sketch", frame)).with(inside).with(edge)
}

/// The left end of the scale bar, in the emptier of the lower corners.
fn bar(sheet: &MapSheet, obstacles: &mut Obstacles) -> Point {
    let frame = sheet.frame;
    let wide = furniture::scale_bar_long(sheet, BAR) + 14.0;
    let corners = [frame.corner.x + 2.0, frame.right() - wide - 2.0]
        .map(|x| Frame::new(x, frame.bottom() - 19.0, wide, 17.0));
    let emptiest = if obstacles.cost(corners[0]) <= obstacles.cost(corners[1]) {
        corners[0]
    } else {
        corners[1]
    };
    obstacles.block(emptiest);
    emptiest.corner.plus(7.0, 12.0)
}

/// The ends of legs, so that each leg is seen.
fn corners(way: &[Point]) -> Elements {
    let inner = way.iter().skip(1).take(way.len().saturating_sub(2));
    let edge = Stroke::new(style::INK, 1.0);
    inner.map(|at| svg::circle(*at, 1.7).filled(style::PAPER).stroked(edge)).collect()
}

/// The number of each leg beside its middle.
fn numbers(way: &[Point], frame: Frame, obstacles: &mut Obstacles) -> Elements {
    let wishes: Vec<Wish> = way
        .windows(2)
        .enumerate()
        .map(|(index, ends)| Wish {
            mark: Point::new(
                f64::midpoint(ends[0].x, ends[1].x),
                f64::midpoint(ends[0].y, ends[1].y),
            ),
            reach: 1.2,
            words: (index + 1).to_string(),
        })
        .collect();
    let mut drawn = Elements::default();
    let placed = names::place(&wishes, obstacles, frame.inset(2.0), NUMBER);
    for (wish, placed) in wishes.iter().zip(placed) {
        let Some(placed) = placed else { continue };
        if placed.leader {
            let fine = Stroke::new(style::SOFT_INK, line::HAIR);
            drawn.push(svg::line(wish.mark, placed.frame.middle(), fine));
        }
        let long = fonts::width(&wish.words, Face::Bold, NUMBER);
        let letters = Letters::new(NUMBER).face(Face::Bold).long(long).rimmed();
        drawn.push(svg::text(placed.at, &wish.words, letters));
    }
    drawn
}

/// North in the emptiest of the upper corners.
fn north(answer: &WayOut, sheet: &MapSheet, obstacles: &mut Obstacles) -> Element {
    let declination = Some(&answer.direct.declination);
    let (wide, high) = furniture::arrow_room(declination);
    let frame = sheet.frame.inset(3.0);
    let corners = [frame.right() - wide, frame.corner.x]
        .map(|x| Frame::new(x, frame.corner.y, wide, high.min(frame.high)));
    let emptiest = if obstacles.cost(corners[0]) <= obstacles.cost(corners[1]) {
        corners[0]
    } else {
        corners[1]
    };
    obstacles.block(emptiest);
    furniture::north_arrow(furniture::arrow_foot(emptiest, declination), declination)
}

/// The destination: a filled square, distinguished from the start by its shape.
fn flag(at: Point) -> Element {
    svg::rectangle(Frame::new(at.x - 4.0, at.y - 4.0, 8.0, 8.0)).filled(style::INK)
}

/// A label on the side of a mark away from the other end.
fn label(at: Point, other: Point, word: &str, obstacles: &mut Obstacles) -> Element {
    let below = if at.y >= other.y { 14.0 } else { -7.0 };
    let letters = Letters::new(7.5).face(Face::Bold).anchor(Anchor::Middle).rimmed();
    let wide = fonts::width(word, Face::Bold, 7.5);
    obstacles.block(Frame::new(at.x - wide / 2.0, at.y + below - 6.5, wide, 8.0));
    svg::text(at.plus(0.0, below), word, letters)
}
