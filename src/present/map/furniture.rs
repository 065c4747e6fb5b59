//! Draws the scale bar and the north arrow of every map. Layer: `present`.

use super::MapSheet;
use crate::present::chart::round_step;
use crate::present::fonts::{self, Face};
use crate::present::markup::Element;
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};
use crate::units::{Declination, Metres};

/// A bar of a round length, two halves, with the scale below. `at` is its left end.
pub fn scale_bar(sheet: &MapSheet, at: Point, about: f64) -> Element {
    let half = half_length(sheet, about);
    let wide = sheet.points(half);
    let high = 3.2;
    let letters = Letters::new(size::SMALL).anchor(Anchor::Middle).rimmed();
    let edge = Stroke::new(style::INK, line::FINE);
    let halves = [(0.0, style::INK), (wide, style::PAPER)].map(|(offset, fill)| {
        svg::rectangle(Frame::new(at.x + offset, at.y, wide, high)).filled(fill).stroked(edge)
    });
    let ends = [0.0, 1.0, 2.0].map(|halves| {
        let words = if halves == 0.0 { "0".to_owned() } else { words(half * halves) };
        svg::text(at.plus(wide * halves, -3.0), &words, letters)
    });
    svg::group().set("class", "scale-bar").with_all(halves).with_all(ends)
}

/// A bar of one round length with that length above it, for a map too small for two halves.
pub fn short_scale_bar(sheet: &MapSheet, at: Point, about: f64) -> Element {
    let length = half_length(sheet, 2.0 * about);
    let wide = sheet.points(length);
    let edge = Stroke::new(style::INK, line::FINE);
    let letters = Letters::new(size::SMALL).rimmed();
    svg::group()
        .set("class", "scale-bar")
        .with(svg::rectangle(Frame::new(at.x, at.y, wide, 2.4)).filled(style::INK).stroked(edge))
        .with(svg::text(at.plus(0.0, -3.0), &words(length), letters))
}

/// How long a bar is on paper, with the half of its last figure.
#[must_use]
pub fn scale_bar_long(sheet: &MapSheet, about: f64) -> f64 {
    2.0 * sheet.points(half_length(sheet, about)) + 14.0
}

/// Half the length of a bar about `about` points long.
fn half_length(sheet: &MapSheet, about: f64) -> Metres {
    let wished = sheet.metres(about / 2.0).0;
    let step = round_step(wished);
    // the step below is nearer where the one above is much too long
    Metres(if step > 1.45 * wished { round_step(step / 2.6) } else { step })
}

fn words(length: Metres) -> String {
    if length.0 >= 1_000.0 {
        format!("{} km", svg::short(length.0 / 1_000.0))
    } else {
        format!("{} m", svg::short(length.0))
    }
}

/// The length of an arrow, and the room around its foot for the letter above and the head beside it, points.
const LONG: f64 = 27.0;
const HALF: f64 = 14.0;
const HIGH: f64 = 46.0;

/// The width and the height of an arrow with its words, points. Where magnetic north is far from true north
/// the needle and its words reach farther.
#[must_use]
pub fn arrow_room(declination: Option<&Declination>) -> (f64, f64) {
    let Some(declination) = declination else { return (2.0 * HALF, HIGH + 4.0) };
    let tip = needle_tip(declination);
    let words = tip.x.abs() + 2.5 + fonts::width("magnetic", Face::Regular, size::SMALL) + 1.5;
    (HALF + words.max(HALF), HIGH + 4.0 + tip.y.max(0.0))
}

/// The foot of an arrow in such a room: the words are on the side of the needle.
#[must_use]
pub fn arrow_foot(room: Frame, declination: Option<&Declination>) -> Point {
    let west = declination.is_some_and(|declination| declination.east.0 < 0.0);
    let across = if west { room.wide - HALF } else { HALF };
    room.corner.plus(across, HIGH.min(room.high - 4.0))
}

/// The tip of the needle, from the foot of its arrow.
fn needle_tip(declination: &Declination) -> Point {
    let (sine, cosine) = declination.east.radians().sin_cos();
    Point::new(LONG * sine, -LONG * cosine)
}

/// An arrow to true north with its foot at the place, and a thin needle to magnetic north where the
/// declination is known.
pub fn north_arrow(foot: Point, declination: Option<&Declination>) -> Element {
    let long = LONG;
    let tip = foot.plus(0.0, -long);
    let head = [tip, tip.plus(4.2, 13.0), tip.plus(0.0, 10.2), tip.plus(-4.2, 13.0)];
    let letters = Letters::new(size::BODY).face(Face::Bold).anchor(Anchor::Middle).rimmed();
    let mut arrow = svg::group().set("class", "north");
    if let Some(declination) = declination {
        arrow = arrow.with(needle(foot, long, declination));
    }
    arrow
        .with(svg::line(foot, tip.plus(0.0, 9.0), Stroke::new(style::INK, line::CURVE)))
        .with(svg::polygon(&head, style::INK))
        .with(svg::text(tip.plus(0.0, -3.0), "N", letters))
}

fn needle(foot: Point, long: f64, declination: &Declination) -> Element {
    let (sine, cosine) = declination.east.radians().sin_cos();
    let tip = foot.plus(needle_tip(declination).x, needle_tip(declination).y);
    let side = if sine < 0.0 { -1.0 } else { 1.0 };
    let barb = foot.plus(
        (long - 7.0) * sine + 2.6 * side * cosine,
        -(long - 7.0) * cosine + 2.6 * side * sine,
    );
    let letters = Letters::new(size::SMALL)
        .colour(style::SOFT_INK)
        .anchor(if side > 0.0 { Anchor::Start } else { Anchor::End })
        .rimmed();
    let half = if declination.east.0 < 0.0 { "W" } else { "E" };
    let words = format!("{:.0}\u{b0} {half}", declination.east.0.abs());
    let fine = Stroke::new(style::SOFT_INK, line::FINE);
    let at = tip.plus(2.5 * side, -1.0);
    svg::group()
        .with(svg::polyline(&[foot, tip, barb], fine))
        .with(svg::text(at.plus(0.0, -1.1 * size::SMALL), "magnetic", letters))
        .with(svg::text(at, &words, letters))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Degrees, LatLon, MagneticModel};

    #[test]
    fn needle_and_words_stay_in_the_room_of_the_arrow_at_any_declination() {
        for east in [-179.0, -120.0, -90.0, -60.0, -14.0, 0.0, 3.0, 15.0, 45.0, 88.0, 135.0, 180.0]
        {
            let declination = Declination {
                east: Degrees(east),
                uncertainty: Degrees(0.4),
                model: MagneticModel::Stated,
                date: jiff::civil::date(2026, 5, 1),
                place: LatLon::new(89.5, 20.0).unwrap(),
            };
            let (wide, high) = arrow_room(Some(&declination));
            let room = Frame::new(100.0, 100.0, wide, high);
            let foot = arrow_foot(room, Some(&declination));
            let tip = foot.plus(needle_tip(&declination).x, needle_tip(&declination).y);
            let side = if declination.east.radians().sin() < 0.0 { -1.0 } else { 1.0 };
            let end = tip.x + side * (2.5 + fonts::width("magnetic", Face::Regular, size::SMALL));
            let words = Point::new(end, tip.y - 1.0 - 1.1 * size::SMALL - 0.8 * size::SMALL);
            for at in [tip, words, foot.plus(0.0, -LONG - 3.0 - 0.8 * size::BODY)] {
                assert!(room.inset(-0.01).holds(at), "{east}: {at:?} in {room:?}");
            }
        }
    }

    #[test]
    fn scale_bar_is_round_and_near_the_requested_length() {
        for radius in [10.0, 60.0, 170.0, 433.0, 900.0, 7_000.0, 123_456.0] {
            let circle = [(LatLon::new(-42.0, 146.0).unwrap(), Metres(radius))];
            let sheet =
                MapSheet::fit(&circle, Frame::new(0.0, 0.0, 500.0, 400.0), 10.0, 400.0).unwrap();
            let half = half_length(&sheet, 100.0);
            let drawn = 2.0 * sheet.points(half);
            assert!((48.0..=146.0).contains(&drawn), "{radius}: {drawn}");
            assert!((round_step(half.0) - half.0).abs() < 1e-9 * half.0);
        }
    }
}
