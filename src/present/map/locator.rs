//! Draws a locator inset: where a map lies among the places of all outings. Layer: `present`.

use super::MapSheet;
use super::furniture;
use super::names::Obstacles;
use crate::earth::local::Plane;
use crate::present::markup::Element;
use crate::present::style::{self, line};
use crate::present::svg::{self, Frame, Point, Stroke};
use crate::units::{LatLon, Metres};

/// Its extent on paper, points.
const WIDE: f64 = 66.0;
const HIGH: f64 = 58.0;
/// Places farther from the map than this are not on it.
const FARTHEST: f64 = 300_000.0;
/// It is drawn where places lie so many times farther than the edge of the map.
const BEYOND: f64 = 1.6;

/// The inset in the emptiest corner of the map; `None` where all outings are on the map or near it.
pub fn inset(sheet: &MapSheet, places: &[LatLon], obstacles: &mut Obstacles) -> Option<Element> {
    let plane = Plane::about(sheet.middle());
    let spots: Vec<(f64, f64)> = places
        .iter()
        .map(|place| plane.to_plane(*place))
        .filter(|(east, north)| east.hypot(*north) < FARTHEST)
        .collect();
    let edge = (sheet.metres(sheet.frame.wide / 2.0).0, sheet.metres(sheet.frame.high / 2.0).0);
    let farthest = spots.iter().map(|(x, y)| x.hypot(*y)).fold(0.0, f64::max);
    if farthest < BEYOND * edge.0.hypot(edge.1) || sheet.frame.wide < 4.0 * WIDE {
        return None;
    }
    let frame = corner(sheet, obstacles)?;
    obstacles.block(frame.inset(-1.0));
    let circles: Vec<(LatLon, Metres)> = places
        .iter()
        .filter(|place| {
            let (east, north) = plane.to_plane(**place);
            east.hypot(north) < FARTHEST
        })
        .map(|place| (*place, Metres(1.0)))
        .chain([(sheet.middle(), Metres(edge.0.max(edge.1)))])
        .collect();
    let room = Frame::new(frame.corner.x, frame.corner.y, WIDE, HIGH - 12.0);
    let small = MapSheet::fit(&circles, room, 5.0, room.high)?;
    let dots = places.iter().map(|place| small.at(*place)).filter(|at| room.inset(2.0).holds(*at));
    let dots = thinned(dots).into_iter().map(|at| svg::circle(at, 0.9).filled(style::SOFT_INK));
    let middle = small.at(sheet.middle());
    let (wide, high) = (small.points(Metres(2.0 * edge.0)), small.points(Metres(2.0 * edge.1)));
    let (wide, high) = (wide.max(3.6), high.max(3.6));
    let here = Frame::new(middle.x - wide / 2.0, middle.y - high / 2.0, wide, high);
    let bar = Point::new(frame.corner.x + 7.0, frame.bottom() - 4.5);
    Some(
        svg::group()
            .set("class", "locator")
            .with(
                svg::rectangle(frame)
                    .filled(style::PAPER)
                    .stroked(Stroke::new(style::SOFT_INK, line::FINE)),
            )
            .with_all(dots)
            .with(svg::rectangle(here).set("fill", "none").stroked(Stroke::new(style::FIND, 1.2)))
            .with(furniture::short_scale_bar(&small, bar, 26.0)),
    )
}

/// The emptiest corner that covers no mark.
fn corner(sheet: &MapSheet, obstacles: &Obstacles) -> Option<Frame> {
    let inner = sheet.frame.inset(4.0);
    let (right, foot) = (inner.right() - WIDE, inner.bottom() - HIGH);
    let (left, top) = (inner.corner.x, inner.corner.y);
    [(right, foot), (left, foot), (left, top), (right, top)]
        .map(|(x, y)| Frame::new(x, y, WIDE, HIGH))
        .into_iter()
        .map(|frame| (obstacles.cost(frame), frame))
        .filter(|(cost, _)| *cost < 200.0)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, frame)| frame)
}

/// Dots that are distinguished.
fn thinned(dots: impl Iterator<Item = Point>) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::new();
    for at in dots {
        if kept.len() < 300 && kept.iter().all(|other| other.distance(at) > 1.2) {
            kept.push(at);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> MapSheet {
        let circle = [(LatLon::new(47.0, 11.0).unwrap(), Metres(500.0))];
        MapSheet::fit(&circle, Frame::new(0.0, 0.0, 480.0, 300.0), 10.0, 300.0).unwrap()
    }

    #[test]
    fn inset_shows_outings_elsewhere_and_nothing_for_a_single_area() {
        let near = LatLon::new(47.001, 11.002).unwrap();
        let far = LatLon::new(47.3, 11.4).unwrap();
        assert!(inset(&sheet(), &[near], &mut Obstacles::default()).is_none());
        let drawn = inset(&sheet(), &[near, far], &mut Obstacles::default()).unwrap().to_string();
        assert!(drawn.matches("<circle").count() >= 1 && drawn.contains(" km"), "{drawn}");
        assert!(!drawn.contains("NaN"));
    }

    #[test]
    fn words_of_the_scale_stay_apart_at_any_scale() {
        for far in [47.03, 47.1, 47.7, 48.6, 49.5] {
            let places = [LatLon::new(far, 11.0).unwrap()];
            let drawn = inset(&sheet(), &places, &mut Obstacles::default()).unwrap().to_string();
            let texts = drawn.matches("</text>").count();
            assert_eq!(texts, 2, "one figure with its halo: {drawn}");
        }
    }

    #[test]
    fn inset_covers_no_find() {
        let mut obstacles = Obstacles::default();
        for (x, y) in [(20.0, 20.0), (460.0, 20.0), (20.0, 280.0), (460.0, 280.0)] {
            obstacles.mark(Point::new(x, y), 3.0);
        }
        let far = LatLon::new(47.3, 11.4).unwrap();
        assert!(inset(&sheet(), &[far], &mut obstacles).is_none());
    }
}
