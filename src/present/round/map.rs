//! Draws the map of a round: legs with their direction, numbered stops, other sites. Layer: `present`.

use super::PlannedRound;
use crate::present::fonts::{self, Face};
use crate::present::map::MapSheet;
use crate::present::map::frame::{self, MapBase};
use crate::present::map::names::{self, Obstacles, Wish};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};
use crate::units::{LatLon, Metres};

/// The radius of a stop's mark, points.
const STOP: f64 = 5.6;
const KNOWN: Stroke = Stroke::new(style::SEARCH, line::STRONG);
const OPEN: Stroke = Stroke::new(style::SEARCH, line::CURVE + 0.2).dashed(4.0, 2.4);

/// A sheet that holds the round.
pub(super) fn fit(round: &PlannedRound, frame: Frame, lowest: f64) -> Option<MapSheet> {
    let stops = round.stops.iter().map(|stop| (stop.at, Metres(25.0)));
    let legs = round.legs.iter().flat_map(|leg| leg.line.iter().map(|at| (*at, Metres(10.0))));
    let circles: Vec<(LatLon, Metres)> =
        std::iter::once((round.from.0, Metres(40.0))).chain(stops).chain(legs).collect();
    MapSheet::fit(&circles, frame, 20.0, lowest)
}

/// Everything within the frame, clipped to it.
pub(super) fn inside(round: &PlannedRound, sheet: &MapSheet, base: &MapBase) -> Elements {
    let mut obstacles = Obstacles::default();
    let mut marks = Elements::default();
    let start = sheet.at(round.from.0);
    for place in &round.others {
        let at = sheet.at(*place);
        if sheet.frame.inset(3.0).holds(at) {
            obstacles.mark(at, 3.4);
            marks.push(svg::pin(at, other()));
        }
    }
    let legs = legs(round, sheet);
    for leg in &legs {
        obstacles.line(&leg.0);
    }
    marks.push(drawn_legs(&legs));
    obstacles.mark(start, 6.0);
    marks.push(svg::pin(start, start_mark()));
    let places = apart(round.stops.iter().map(|stop| sheet.at(stop.at)).collect(), start);
    for (stop, at) in round.stops.iter().zip(&places) {
        let own = sheet.at(stop.at);
        if own.distance(*at) > 0.5 {
            marks.push(svg::line(own, *at, Stroke::new(style::INK, line::FINE)));
            marks.push(svg::circle(own, 1.2).filled(style::INK));
        }
    }
    for (index, at) in places.iter().enumerate() {
        obstacles.mark(*at, STOP);
        marks.push(svg::pin(*at, stop_mark(index + 1)));
    }
    let (arrow, _) = frame::arrow(sheet, Some(round.date), &mut obstacles);
    let names = names(round, sheet, &places, &mut obstacles);
    let locator = base.locator(sheet, &mut obstacles);
    let inside = svg::group()
        .set("clip-path", "url(#map)")
        .with(base.below(sheet, &mut obstacles))
        .with(marks)
        .with(arrow)
        .with(names)
        .with(locator);
    let mut drawn = Elements::default();
    drawn.push(svg::clip("map", sheet.frame));
    drawn.push(inside);
    drawn
}

/// The places of the stops' marks, moved as little as is needed so that none covers another or the start.
fn apart(mut places: Vec<Point>, start: Point) -> Vec<Point> {
    const LEAST: f64 = 2.0 * STOP + 1.2;
    for _ in 0..200 {
        let mut moved = false;
        for index in 0..places.len() {
            for other in index..places.len() {
                // the start stays where it is
                let (to, shared) = if other == index { (start, 1.0) } else { (places[other], 0.5) };
                let from = places[index];
                let off = from.distance(to);
                if off >= LEAST - 1e-3 {
                    continue;
                }
                moved = true;
                let (x, y) = if off > 1e-6 {
                    ((from.x - to.x) / off, (from.y - to.y) / off)
                } else {
                    let (sine, cosine) = (index as f64).sin_cos();
                    (cosine, sine)
                };
                let by = shared * (LEAST - off);
                places[index] = from.plus(x * by, y * by);
                if other != index {
                    places[other] = to.plus(-x * by, -y * by);
                }
            }
        }
        if !moved {
            break;
        }
    }
    places
}

type DrawnLeg = (Vec<Point>, bool);

fn legs(round: &PlannedRound, sheet: &MapSheet) -> Vec<DrawnLeg> {
    let on_paper = |line: &[LatLon]| line.iter().map(|place| sheet.at(*place)).collect();
    round.legs.iter().map(|leg| (on_paper(&leg.line), leg.known)).collect()
}

fn drawn_legs(legs: &[DrawnLeg]) -> Elements {
    let mut drawn = Elements::default();
    for (line, _) in legs {
        drawn.push(svg::polyline(line, Stroke::new(style::PAPER, 4.0)));
    }
    for (line, known) in legs {
        drawn.push(svg::polyline(line, if *known { KNOWN } else { OPEN }));
    }
    for (line, _) in legs {
        drawn.push(direction(line));
    }
    drawn
}

/// An arrowhead in the middle of a leg.
fn direction(line: &[Point]) -> Elements {
    let mut drawn = Elements::default();
    let long: f64 = line.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
    if long < 4.0 * STOP {
        return drawn;
    }
    let mut left = long / 2.0;
    for pair in line.windows(2) {
        let step = pair[0].distance(pair[1]);
        if step < left || step == 0.0 {
            left -= step;
            continue;
        }
        let (dx, dy) = ((pair[1].x - pair[0].x) / step, (pair[1].y - pair[0].y) / step);
        let at = pair[0].plus(left * dx, left * dy);
        let point =
            |along: f64, aside: f64| at.plus(along * dx - aside * dy, along * dy + aside * dx);
        let head = [point(4.6, 0.0), point(-3.0, 3.6), point(-1.4, 0.0), point(-3.0, -3.6)];
        let edge = Stroke::new(style::PAPER, 0.8);
        drawn.push(svg::polygon(&head, style::SEARCH).stroked(edge));
        break;
    }
    drawn
}

fn stop_mark(number: usize) -> Element {
    let letters = Letters::new(7.0).face(Face::Bold).colour(style::PAPER).anchor(Anchor::Middle);
    svg::group()
        .with(
            svg::circle(Point::default(), STOP)
                .filled(style::INK)
                .stroked(Stroke::new(style::PAPER, 0.9)),
        )
        .with(svg::text(Point::new(0.0, 2.5), &number.to_string(), letters))
}

fn start_mark() -> Element {
    svg::rectangle(Frame::new(-4.6, -4.6, 9.2, 9.2))
        .filled(style::PAPER)
        .stroked(Stroke::new(style::INK, 2.0))
}

/// Another site.
fn other() -> Element {
    let corners = [(0.0, -2.9), (2.9, 0.0), (0.0, 2.9), (-2.9, 0.0)].map(|(x, y)| Point::new(x, y));
    svg::polygon(&corners, style::PAPER).stroked(Stroke::new(style::SOFT_INK, line::FINE + 0.2))
}

fn names(
    round: &PlannedRound,
    sheet: &MapSheet,
    marks: &[Point],
    obstacles: &mut Obstacles,
) -> Elements {
    let start = Wish { mark: sheet.at(round.from.0), reach: 5.0, words: round.from.1.clone() };
    let stops = round.stops.iter().enumerate().map(|(index, stop)| Wish {
        mark: marks[index],
        reach: STOP,
        // the number tells whose name it is where stops are close together
        words: format!("{}: {}", index + 1, stop.name),
    });
    let wishes: Vec<Wish> = std::iter::once(start).chain(stops).collect();
    let placed = names::place(&wishes, obstacles, sheet.frame.inset(1.5), size::SMALL);
    let fine = Stroke::new(style::SOFT_INK, line::HAIR);
    let mut drawn = Elements::default();
    for (wish, placed) in wishes.iter().zip(placed) {
        let Some(placed) = placed else { continue };
        if placed.leader {
            drawn.push(svg::line(wish.mark, placed.frame.middle(), fine));
        }
        let long = fonts::width(&wish.words, Face::Bold, size::SMALL);
        let letters = Letters::new(size::SMALL).face(Face::Bold).long(long).rimmed();
        drawn.push(svg::text(placed.at, &wish.words, letters));
    }
    drawn
}

/// What the marks of the round mean, from a place to a right edge. Returns the lower edge.
pub(super) fn legend(round: &PlannedRound, from: Point, right: f64, drawn: &mut Elements) -> f64 {
    let mut kinds: Vec<(&str, Element)> = vec![
        ("start and end", svg::pin(Point::new(7.0, 0.0), start_mark())),
        ("stop, by its number", svg::pin(Point::new(7.0, 0.0), stop_mark(1))),
    ];
    let sample = |stroke| svg::line(Point::default(), Point::new(15.0, 0.0), stroke);
    if round.legs.iter().any(|leg| leg.known) {
        kinds.push(("along tracks of earlier outings", sample(KNOWN)));
    }
    if round.legs.iter().any(|leg| !leg.known) {
        kinds.push(("across open ground: find your way", sample(OPEN)));
    }
    if !round.others.is_empty() {
        kinds.push(("other site", svg::pin(Point::new(7.0, 0.0), other())));
    }
    let letters = Letters::new(size::SMALL);
    let mut at = from;
    for (words, mark) in kinds {
        let long = 20.0 + fonts::width(words, Face::Regular, size::SMALL);
        if at.x > from.x && at.x + long > right {
            at = Point::new(from.x, at.y + 13.0);
        }
        drawn.push(svg::pin(at, mark));
        drawn.push(svg::text(at.plus(20.0, 2.5), words, letters));
        at = at.plus(long + 12.0, 0.0);
    }
    at.y + 6.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_of_near_stops_lie_apart() {
        let at = |x, y| Point::new(x, y);
        let start = at(50.0, 50.0);
        let own =
            vec![at(50.0, 50.0), at(52.0, 50.0), at(52.0, 50.0), at(60.0, 53.0), at(90.0, 9.0)];
        let placed = apart(own.clone(), start);
        for (index, mark) in placed.iter().enumerate() {
            assert!(mark.distance(start) >= 2.0 * STOP, "{placed:?}");
            for other in &placed[index + 1..] {
                assert!(mark.distance(*other) >= 2.0 * STOP, "{placed:?}");
            }
            assert!(mark.distance(own[index]) < 30.0, "{placed:?}");
        }
        assert_eq!(placed[4], own[4]);
    }
}
