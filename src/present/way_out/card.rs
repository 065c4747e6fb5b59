//! Draws the way-out card, A6: first bearing in large type, the light, a sketch, the legs, emergency
//! instructions, space for notes. Layer: `present`.

use super::{findings, light, sketch};
use crate::earth::height_grid::GroundArea;
use crate::present::fonts::{self, Face};
use crate::present::map::ground::MapGround;
use crate::present::markup::{Element, Elements};
use crate::present::round::walked;
use crate::present::style::{self, line};
use crate::present::svg::{self, Anchor, Frame, Letters, POINTS_PER_MILLIMETRE, Point, Stroke};
use crate::wayout::legs::{Leg, Route};
use crate::wayout::light::{Advice, clock, span};
use crate::wayout::report::WayOut;
use crate::wayout::start::LegPrecision;

/// The paper: A6.
const PAPER_WIDE: f64 = 105.0 * POINTS_PER_MILLIMETRE;
const PAPER_HIGH: f64 = 148.0 * POINTS_PER_MILLIMETRE;
/// Ink stays this far from the edge, which every printer reaches.
const PRINTABLE: f64 = 12.0 * POINTS_PER_MILLIMETRE;
/// The card is laid out larger and drawn at this scale.
const SCALE: f64 = 0.84;
const MARGIN: f64 = 12.0;
const WIDE: f64 = (PAPER_WIDE - 2.0 * PRINTABLE) / SCALE + 2.0 * MARGIN;
const HIGH: f64 = (PAPER_HIGH - 2.0 * PRINTABLE) / SCALE + 2.0 * MARGIN;
/// The smallest type, 6 points on paper.
const SMALLEST: f64 = 7.2;
/// The number of rows for legs. More legs are set in two columns without their descriptions; further
/// legs are counted in a line.
const MOST_ROWS: usize = 8;
const FOOT_HIGH: f64 = 77.0;

/// The rows of the legs, and the frame of the map above them.
struct Layout {
    shown: usize,
    rows: usize,
    row: f64,
    frame: Frame,
}

fn layout(answer: &WayOut, below_steer: f64) -> Layout {
    let legs = answer.best().map_or(0, |best| best.way.legs.len());
    let shown = legs.min(2 * MOST_ROWS);
    let rows = if shown > MOST_ROWS { shown.div_ceil(2) } else { shown };
    let row = row_height(rows);
    let table = 13.0 + row * rows as f64 + if legs > shown { 10.0 } else { 0.0 };
    let map_high = HIGH - MARGIN - FOOT_HIGH - table - 6.0 - below_steer;
    let frame = Frame::new(MARGIN, below_steer, WIDE - 2.0 * MARGIN, map_high);
    Layout { shown, rows, row, frame }
}

/// The ground within the frame of the card's map; `None` without a route.
#[must_use]
pub fn ground_of(answer: &WayOut) -> Option<GroundArea> {
    let mut unused = Elements::default();
    let below_head = head(&mut unused, answer);
    let below_steer = steer(&mut unused, answer, below_head);
    sketch::sheet(answer, layout(answer, below_steer).frame).map(|sheet| sheet.area())
}

/// The card as SVG, on the ground of [`ground_of`].
///
/// A6, drawn at its size; all ink is at least 12 mm from the edge, no letter below 6 points.
#[must_use]
pub fn drawing(answer: &WayOut, ground: &MapGround) -> String {
    let legs = answer.best().map_or(&[][..], |best| &best.way.legs);
    let mut page = Elements::default();
    let below_head = head(&mut page, answer);
    let below_steer = steer(&mut page, answer, below_head);
    let Layout { shown, rows, row, frame } = layout(answer, below_steer);
    page.push(sketch::map(answer, frame, ground));
    let rest = legs.len() - shown;
    let top = frame.bottom() + 11.0;
    let first = answer.best().and_then(|best| answer.first_leg(&best.way));
    if shown > rows {
        legs_in_two_columns(&mut page, &legs[..shown], first, top);
    } else {
        table_of_legs(&mut page, &legs[..shown], first, (top, row));
    }
    if rest > 0 {
        let words = format!("{rest} more legs: see the list or the receiver");
        let at = Point::new(MARGIN, top + row * rows as f64 + 10.0);
        page.push(svg::text(at, &words, Letters::new(SMALLEST)));
    }
    foot(&mut page, answer, HIGH - MARGIN - FOOT_HIGH + 4.0);
    let inset = PRINTABLE - SCALE * MARGIN;
    let place = format!("translate({0} {0}) scale({1})", svg::short(inset), svg::short(SCALE));
    svg::drawing(PAPER_WIDE, PAPER_HIGH, &format!("Way out to {}", answer.to.name))
        .with(svg::rectangle(Frame::new(0.0, 0.0, PAPER_WIDE, PAPER_HIGH)).filled(style::PAPER))
        .with(svg::group().set("transform", place).with(page))
        .to_string()
}

/// Destination and verdict. Returns the lower edge.
fn head(page: &mut Elements, answer: &WayOut) -> f64 {
    let width = WIDE - 2.0 * MARGIN;
    let title = format!("Way out to {}", answer.to.name);
    page.push(fitting(
        Point::new(MARGIN, 26.0),
        &title,
        Letters::new(15.0).face(Face::Bold),
        width,
    ));
    let Some(best) = answer.best() else { return 34.0 };
    let words = light::headline(best, &answer.zone);
    let lines = fonts::lines(&words, Face::Bold, 8.5, width - 12.0);
    let high = 6.0 + 10.5 * lines.len() as f64;
    let band = Frame::new(MARGIN, 33.0, width, high);
    let alarm = best.verdict.advice == Advice::DoNotSetOut;
    let (ground, ink) = if alarm { (style::INK, style::PAPER) } else { (style::PAPER, style::INK) };
    page.push(svg::rectangle(band).filled(ground).stroked(Stroke::new(style::INK, line::CURVE)));
    for (index, line) in lines.iter().enumerate() {
        let at = Point::new(MARGIN + 6.0, 33.0 + 10.5 * (index + 1) as f64 + 0.5);
        page.push(svg::text(at, line, Letters::new(8.5).face(Face::Bold).colour(ink)));
    }
    band.bottom() + 4.0
}

/// The first bearing in the largest type, distance and paces, and the light. Where the verdict is
/// not to set out, that is in the largest type, and the bearing applies by daylight.
fn steer(page: &mut Elements, answer: &WayOut, top: f64) -> f64 {
    let Some(best) = answer.best() else { return top };
    let Some(leg) = best.way.legs.first() else { return top };
    let stay = best.verdict.advice == Advice::DoNotSetOut;
    let (far, paces) = first_leg(leg, &best.way, answer);
    let range = answer.first_leg(&best.way).map_or(0.0, |precision| precision.range.0);
    let (large, size, above, bold) = if stay {
        ("STAY".to_owned(), 34.0, "by daylight", format!("{} {far}", degrees(leg)))
    } else if range >= 180.0 {
        ("LOOK".to_owned(), 34.0, "around you, first", far)
    } else {
        (degrees(leg), 44.0, "by compass, first", far)
    };
    let baseline = top + 37.0;
    page.push(svg::text(Point::new(MARGIN, baseline), &large, Letters::new(size).face(Face::Bold)));
    let right = MARGIN + fonts::width(&large, Face::Bold, size) + 8.0;
    let small = Letters::new(8.5);
    page.push(svg::text(Point::new(right, top + 13.0), above, small));
    let heavy = Letters::new(14.0).face(Face::Bold);
    let room = WIDE - MARGIN - 82.0 - right;
    page.push(fitting(Point::new(right, top + 27.0), &bold, heavy, room));
    let edge = WIDE - MARGIN;
    let end = |letters: Letters| letters.anchor(Anchor::End);
    let (sun, dark) = light::corner(&answer.light, &answer.zone);
    page.push(svg::text(Point::new(edge, top + 13.0), &sun, end(small)));
    page.push(fitting(Point::new(edge, top + 27.0), &dark, end(heavy), 74.0));
    let all = (walked(best.way.distance), span(best.way.duration.careful()));
    let (size, paces, total) = beside(&paces, all, 8.5, edge - right);
    page.push(svg::text(Point::new(right, top + 37.0), &paces, Letters::new(size)));
    page.push(svg::text(Point::new(edge, top + 37.0), &total, end(Letters::new(size))));
    baseline + 7.0
}

/// Distance and paces of the first leg, to the precision of the position.
fn first_leg(leg: &Leg, way: &Route, answer: &WayOut) -> (String, String) {
    let precision = answer.first_leg(way);
    let (_, distance, paces) = super::text::first_leg(leg, precision);
    let bearing = precision.map_or_else(String::new, |precision| match precision.range.0 {
        range if range >= 180.0 => "direction uncertain: any side".to_owned(),
        range => format!("{paces} paces, bearing +-{:.0}\u{b0}", range.ceil()),
    });
    (distance, bearing)
}

/// The row height: fewer legs are set larger.
fn row_height(legs: usize) -> f64 {
    match legs {
        0..=4 => 20.0,
        5 | 6 => 17.0,
        _ => 14.0,
    }
}

fn table_of_legs(
    page: &mut Elements,
    legs: &[Leg],
    first: Option<LegPrecision>,
    (top, row): (f64, f64),
) {
    let larger = row / 14.0;
    let columns = [
        MARGIN + 10.0,
        MARGIN + 12.0 + 46.0 * larger.min(1.3),
        MARGIN + 16.0 + 84.0 * larger.min(1.25),
        MARGIN + 18.0 + 116.0 * larger.min(1.2),
    ];
    let heading = Letters::new(SMALLEST).colour(style::SOFT_INK);
    for (x, words, anchor) in [
        (columns[0], "leg", Anchor::End),
        (columns[1], "compass", Anchor::End),
        (columns[2], "distance", Anchor::End),
        (columns[3], "paces", Anchor::End),
        (columns[3] + 8.0, "at its end", Anchor::Start),
    ] {
        page.push(svg::text(Point::new(x, top), words, heading.anchor(anchor)));
    }
    let plain = Letters::new((9.0 * larger).min(11.5)).anchor(Anchor::End);
    let bold = Letters::new(12.5 * larger).face(Face::Bold).anchor(Anchor::End);
    for (index, leg) in legs.iter().enumerate() {
        let foot = top + row * (index + 1) as f64;
        let rule = foot - row + 3.0;
        page.push(svg::line(
            Point::new(MARGIN, rule),
            Point::new(WIDE - MARGIN, rule),
            Stroke::new(style::FAINT, line::HAIR),
        ));
        let (distance, paces) = measured(leg, first.filter(|_| index == 0));
        let texts = [
            ((index + 1).to_string(), plain),
            (degrees(leg), bold),
            (distance, plain),
            (paces, plain),
        ];
        for (x, (words, letters)) in columns.iter().zip(texts) {
            page.push(svg::text(Point::new(*x, foot), &words, letters));
        }
        let size = (SMALLEST * larger).min(8.6);
        page.push(expectation(leg, Point::new(columns[3] + 8.0, foot), size));
    }
}

/// Distance and paces of a leg, to the precision of the position where it begins there.
fn measured(leg: &Leg, precision: Option<LegPrecision>) -> (String, String) {
    let precision = precision.filter(|precision| !precision.any_side());
    let distance = precision.map_or(leg.distance, |precision| precision.rounded(leg.distance));
    (walked(distance), super::text::paces(leg.paces, leg.distance, precision))
}

/// Bearing, distance and paces of many legs, down the left column and on down the right.
fn legs_in_two_columns(page: &mut Elements, legs: &[Leg], first: Option<LegPrecision>, top: f64) {
    let rows = legs.len().div_ceil(2);
    let row = row_height(rows);
    let wide = (WIDE - 2.0 * MARGIN) / 2.0;
    let ends = [12.0, 48.0, 90.0, 124.0];
    let heading = Letters::new(SMALLEST).colour(style::SOFT_INK).anchor(Anchor::End);
    let plain = Letters::new(9.0).anchor(Anchor::End);
    let bold = Letters::new(12.5).face(Face::Bold).anchor(Anchor::End);
    for (column, legs) in legs.chunks(rows).enumerate() {
        let left = MARGIN + (wide + 6.0) * column as f64;
        for (end, words) in ends.iter().zip(["leg", "compass", "distance", "paces"]) {
            page.push(svg::text(Point::new(left + end, top), words, heading));
        }
        for (index, leg) in legs.iter().enumerate() {
            let foot = top + row * (index + 1) as f64;
            let rule = foot - row + 3.0;
            page.push(svg::line(
                Point::new(left, rule),
                Point::new(left + wide - 6.0, rule),
                Stroke::new(style::FAINT, line::HAIR),
            ));
            let of_first = first.filter(|_| column == 0 && index == 0);
            let (distance, paces) = measured(leg, of_first);
            let texts = [
                ((column * rows + index + 1).to_string(), plain),
                (degrees(leg), bold),
                (distance, plain),
                (paces, plain),
            ];
            for (end, (words, letters)) in ends.iter().zip(texts) {
                page.push(svg::text(Point::new(left + end, foot), &words, letters));
            }
            if leg.steep.is_some() {
                let at = Point::new(left + wide - 6.0, foot);
                page.push(svg::text(at, "!", bold));
            }
        }
    }
}

/// The description of the end of a leg, in one or two small lines.
fn expectation(leg: &Leg, at: Point, size: f64) -> Element {
    let steep = leg.steep.map_or_else(String::new, |slope| format!("STEEP {:.0}\u{b0}! ", slope.0));
    let words = format!("{steep}{}", findings::landmarks(&leg.expect));
    let room = WIDE - MARGIN - at.x;
    let mut lines = fonts::lines(&words, Face::Regular, size, room);
    if lines.len() > 2 {
        lines.truncate(2);
        if let Some(last) = lines.last_mut() {
            last.push('\u{2026}');
        }
    }
    let first = if lines.len() > 1 { 1.0 - size } else { -1.0 };
    let drawn = lines.iter().enumerate().map(|(index, line)| {
        svg::text(at.plus(0.0, first + size * index as f64), line, Letters::new(size))
    });
    svg::group().with_all(drawn)
}

/// Position to read out, emergency facts, room for notes.
fn foot(page: &mut Elements, answer: &WayOut, top: f64) {
    let rule =
        |y: f64, stroke| svg::line(Point::new(MARGIN, y), Point::new(WIDE - MARGIN, y), stroke);
    page.push(rule(top - 8.0, Stroke::new(style::INK, line::CURVE)));
    let calls = [
        "Call 112 or the local emergency number and say where you are:".to_owned(),
        format!("{}  ({})", answer.from.at, answer.direct.mgrs[0]),
    ];
    for (index, words) in calls.iter().enumerate() {
        let letters = Letters::new(if index == 0 { 7.8 } else { 10.5 }).face(Face::Bold);
        let at = Point::new(MARGIN, top + 2.0 + 11.5 * index as f64);
        page.push(fitting(at, words, letters, WIDE - 2.0 * MARGIN));
    }
    let facts = [
        "Lost? Stop. Hurt, exhausted or dark: stay put, keep warm, be seen.",
        "Six blasts or flashes a minute, pause a minute (three in North America).",
        "Map, compass and what you see come first; this route was not checked.",
    ];
    for (index, fact) in facts.iter().enumerate() {
        let at = Point::new(MARGIN, top + 23.5 + 8.6 * index as f64);
        page.push(fitting(at, fact, Letters::new(7.6), WIDE - 2.0 * MARGIN));
    }
    let declination = &answer.direct.declination;
    let half = if declination.east.0 < 0.0 { "W" } else { "E" };
    let made = format!(
        "made {} for {}{}; position within {}; declination {:.0}\u{b0} {half}",
        answer.zone.to_datetime(answer.now).date(),
        clock(answer.now, &answer.zone),
        super::text::utc(&answer.zone),
        answer.from.radius,
        declination.east.0.abs()
    );
    let soft = Letters::new(SMALLEST).colour(style::SOFT_INK);
    page.push(fitting(Point::new(MARGIN, top + 50.5), &made, soft, WIDE - 2.0 * MARGIN));
    let notes = Letters::new(SMALLEST).colour(style::SOFT_INK);
    page.push(svg::text(Point::new(MARGIN, top + 61.0), "notes", notes));
    page.push(rule(top + 63.0, Stroke::new(style::FAINT, line::FINE)));
    page.push(rule(top + 74.0, Stroke::new(style::FAINT, line::FINE)));
}

fn degrees(leg: &Leg) -> String {
    format!("{:03.0}\u{b0}", leg.magnetic_bearing.degrees().0.round() % 360.0)
}

/// Two texts that stand on one line without touching, and their size: the second loses words, then the first
/// letters, before they are smaller than the smallest type.
fn beside(
    left: &str,
    (distance, time): (String, String),
    most: f64,
    width: f64,
) -> (f64, String, String) {
    const BETWEEN: f64 = 8.0;
    let needed = |words: &str| fonts::width(words, Face::Regular, most);
    let size = |right: &str| most * (width - BETWEEN) / (needed(left) + needed(right));
    let long = format!("{distance} in all, {time}");
    if size(&long) >= SMALLEST {
        return (most.min(size(&long)), left.to_owned(), long);
    }
    let short = format!("{distance}, {time}");
    if size(&short) >= SMALLEST {
        return (most.min(size(&short)), left.to_owned(), short);
    }
    let room = width - BETWEEN - fonts::width(&short, Face::Regular, SMALLEST);
    (SMALLEST, fonts::shortened(left, Face::Regular, SMALLEST, room), short)
}

/// A line that fits: smaller where it must be, and shortened with an ellipsis below the smallest type.
fn fitting(at: Point, words: &str, letters: Letters, width: f64) -> Element {
    let (size, words) = fitted(words, letters.face, letters.size, width);
    svg::text(at, &words, Letters { size, ..letters })
}

/// The largest size up to `most` at which a line fits, and its words.
fn fitted(words: &str, face: Face, most: f64, width: f64) -> (f64, String) {
    let size = most.min(most * width / fonts::width(words, face, most).max(1e-9)).max(SMALLEST);
    if fonts::width(words, face, size) <= width + 1e-6 {
        return (size, words.to_owned());
    }
    (size, fonts::shortened(words, face, size, width))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_texts_on_one_line_never_touch_nor_are_too_small() {
        for (left, distance, time) in [
            ("3490 paces, bearing +-1\u{b0}", "2.36 km", "47 min"),
            ("13490 paces, bearing +-12\u{b0}", "12.76 km", "13 h 55 min"),
            ("direction uncertain: any side", "95.76 km", "23 h 55 min"),
            ("it may lie on any side", "61 m", "1 min"),
        ] {
            for width in [120.0, 163.0] {
                let all = (distance.to_owned(), time.to_owned());
                let (size, left, right) = beside(left, all, 8.5, width);
                let taken = fonts::width(&left, Face::Regular, size)
                    + fonts::width(&right, Face::Regular, size);
                assert!(taken < width - 7.9, "{left} {right} at {size}");
                assert!((SMALLEST..=8.5).contains(&size), "{left} {right} at {size}");
                assert!(right.contains(distance) && right.contains(time), "{right}");
            }
        }
    }

    #[test]
    fn a_long_name_is_shortened_and_never_below_six_points() {
        const { assert!(SMALLEST * SCALE >= 6.0) };
        let width = WIDE - 2.0 * MARGIN;
        let name =
            "Way out to the car park at the lower end of the old tramway beside the second sawmill";
        let (size, words) = fitted(name, Face::Bold, 15.0, width);
        assert!(size * SCALE >= 6.0 && fonts::width(&words, Face::Bold, size) <= width, "{words}");
        assert!(
            words.ends_with('\u{2026}') && words.starts_with("Way out to the car park"),
            "{words}"
        );
        let (size, words) = fitted("Way out to Gate", Face::Bold, 15.0, width);
        assert_eq!((size, words.as_str()), (15.0, "Way out to Gate"));
    }
}
