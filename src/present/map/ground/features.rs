//! Draws the features of base maps and the tracks of other days by their class. Layer: `present`.

use std::collections::HashSet;

use super::labels::{Label, PointLabel};
use super::outline::{self, TOLERANCE};
use super::style::{self, width};
use super::{DrawnGround, GroundKind};
use crate::model::{BaseClass, BaseFeature, BaseShape};
use crate::present::fonts::Face;
use crate::present::map::MapSheet;
use crate::present::markup::Element;
use crate::present::style::{self as palette, Colour};
use crate::present::svg::{self, Anchor, Letters, Point, Stroke};
use crate::units::LatLon;

/// Vertices of one class at the most; more are simplified further.
const MOST_VERTICES: usize = 12_000;
/// Lines of one class in their order, from below.
const ORDER: [BaseClass; 9] = [
    BaseClass::Other,
    BaseClass::Boundary,
    BaseClass::Water,
    BaseClass::Stream,
    BaseClass::Path,
    BaseClass::Road,
    BaseClass::Parking,
    BaseClass::Summit,
    BaseClass::Place,
];

/// Areas of water, filled, and outlines of other areas.
pub(super) fn areas(
    features: &[BaseFeature],
    sheet: &MapSheet,
    filled: bool,
    drawn: &mut DrawnGround,
) {
    for class in ORDER {
        let mut path = String::new();
        let mut edges = Vec::new();
        for feature in features.iter().filter(|feature| feature.class == class) {
            let BaseShape::Area(rings) = &feature.shape else { continue };
            let Some(label) = area(rings, sheet, &mut path, &mut edges) else { continue };
            // of an area around the whole frame nothing is seen but water
            if class == BaseClass::Water && filled || is_seen(&edges, sheet) {
                drawn.kinds.push(GroundKind::Base(class));
            }
            let Some(name) = &feature.name else { continue };
            if class == BaseClass::Boundary {
                let edge = rings.first().into_iter().flatten().map(|place| sheet.at(*place));
                for line in outline::within(&edge.collect::<Vec<_>>(), sheet.frame) {
                    drawn.labels.lines.push((class, Label { words: name.clone(), line }));
                }
            } else {
                let words = name.clone();
                drawn.labels.points.push(PointLabel { class, at: label, words, reach: 0.0 });
            }
        }
        if path.is_empty() {
            continue;
        }
        if class == BaseClass::Water && filled {
            let fill = Element::new("path").set("d", path).set("fill-rule", "evenodd");
            drawn.drawn.push(fill.filled(style::WATER_FILL));
        }
        drawn.drawn.push(stroked(&joined(&edges), class));
    }
}

/// Adds the rings within the frame; returns the place of the name, where any are.
fn area(
    rings: &[Vec<LatLon>],
    sheet: &MapSheet,
    path: &mut String,
    edges: &mut Vec<Vec<Point>>,
) -> Option<Point> {
    let frame = sheet.frame.inset(-1.0);
    let mut label = None;
    for (index, ring) in rings.iter().enumerate() {
        let points: Vec<Point> = ring.iter().map(|place| sheet.at(*place)).collect();
        let inside = outline::simplified(&outline::ring_within(&points, frame), TOLERANCE);
        if outline::double_area(&inside).abs() < 1.0 {
            if index == 0 {
                return None;
            }
            continue;
        }
        if index == 0 {
            label = Some(middle(&inside));
        }
        path.push_str(&outline::path(&inside, true));
        edges.extend(outline::within(&points, frame));
    }
    label
}

/// The mean of the corners, weighted by the sides that meet there.
fn middle(ring: &[Point]) -> Point {
    let (mut x, mut y, mut long) = (0.0, 0.0, 0.0);
    for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
        let side = a.distance(*b);
        x += side * f64::midpoint(a.x, b.x);
        y += side * f64::midpoint(a.y, b.y);
        long += side;
    }
    Point::new(x / long.max(1e-9), y / long.max(1e-9))
}

/// The side of a cell that one track fills, points.
const WALKED_CELL: f64 = 3.5;
/// Pieces of tracks shorter than this are left out, points.
const WALKED_SHORTEST: f64 = 26.0;

/// The parts of lines that are not beside an earlier one: many walks of one path are drawn once.
fn not_beside_earlier(lines: &[Vec<Point>]) -> Vec<Vec<Point>> {
    #[allow(clippy::cast_possible_truncation, reason = "a place on paper")]
    let cell =
        |at: Point| ((at.x / WALKED_CELL).floor() as i32, (at.y / WALKED_CELL).floor() as i32);
    let mut filled: HashSet<(i32, i32)> = HashSet::new();
    let mut kept = Vec::new();
    for line in lines {
        let dense = densified(line);
        let free = |at: &Point| {
            let (x, y) = cell(*at);
            !(-1..=1).any(|dx| (-1..=1).any(|dy| filled.contains(&(x + dx, y + dy))))
        };
        let parts: Vec<Vec<Point>> = dense
            .chunk_by(|a, b| free(a) == free(b))
            .filter(|part| free(&part[0]))
            .map(<[Point]>::to_vec)
            .filter(|part| part.len() as f64 > WALKED_SHORTEST)
            .collect();
        filled.extend(parts.iter().flatten().map(|at| cell(*at)));
        kept.extend(parts);
    }
    kept
}

/// The line with a vertex every point of paper.
fn densified(line: &[Point]) -> Vec<Point> {
    let mut dense: Vec<Point> = line.first().copied().into_iter().collect();
    for pair in line.windows(2) {
        let steps = pair[0].distance(pair[1]).ceil().clamp(1.0, 5_000.0);
        let mut step = 1.0;
        while step <= steps {
            let share = step / steps;
            let across = (pair[1].x - pair[0].x, pair[1].y - pair[0].y);
            dense.push(pair[0].plus(share * across.0, share * across.1));
            step += 1.0;
        }
    }
    dense
}

/// Tracks of other days.
pub(super) fn walked(tracks: &[Vec<LatLon>], sheet: &MapSheet, drawn: &mut DrawnGround) {
    let lines: Vec<Vec<Point>> =
        tracks.iter().map(|track| track.iter().map(|place| sheet.at(*place)).collect()).collect();
    let within: Vec<Vec<Point>> = lines
        .iter()
        .flat_map(|line| outline::within(&outline::simplified(line, 1.0), sheet.frame.inset(-2.0)))
        .collect();
    let parts = parts(&not_beside_earlier(&within), sheet);
    if !parts.is_empty() {
        let stroke = Stroke::new(style::WALKED, 0.5);
        drawn.drawn.push(plain(&joined(&parts), stroke));
        if is_seen(&parts, sheet) {
            drawn.kinds.push(GroundKind::Walked);
        }
    }
}

/// Lines of base maps.
pub(super) fn lines(features: &[BaseFeature], sheet: &MapSheet, drawn: &mut DrawnGround) {
    for class in ORDER {
        let mut lines = Vec::new();
        for feature in features.iter().filter(|feature| feature.class == class) {
            let BaseShape::Line(line) = &feature.shape else { continue };
            let line: Vec<Point> = line.iter().map(|place| sheet.at(*place)).collect();
            if let Some(name) = &feature.name {
                for part in outline::within(&line, sheet.frame) {
                    drawn.labels.lines.push((class, Label { words: name.clone(), line: part }));
                }
            }
            lines.push(line);
        }
        let parts = parts(&lines, sheet);
        if !parts.is_empty() {
            drawn.drawn.push(stroked(&joined(&parts), class));
            if is_seen(&parts, sheet) {
                drawn.kinds.push(GroundKind::Base(class));
            }
        }
    }
}

/// The parts within the frame, simplified until they are few enough.
fn parts(lines: &[Vec<Point>], sheet: &MapSheet) -> Vec<Vec<Point>> {
    let frame = sheet.frame.inset(-2.0);
    let within: Vec<Vec<Point>> =
        lines.iter().flat_map(|line| outline::within(line, frame)).collect();
    let mut tolerance = TOLERANCE;
    loop {
        let parts: Vec<Vec<Point>> =
            within.iter().map(|part| outline::simplified(part, tolerance)).collect();
        if parts.iter().map(Vec::len).sum::<usize>() <= MOST_VERTICES || tolerance > 4.0 {
            return parts;
        }
        tolerance *= 1.7;
    }
}

/// Whether some of the lines is seen within the frame, not only half of its width at the edge.
fn is_seen(parts: &[Vec<Point>], sheet: &MapSheet) -> bool {
    let frame = sheet.frame.inset(1.0);
    parts.iter().any(|part| !outline::within(part, frame).is_empty())
}

fn joined(parts: &[Vec<Point>]) -> String {
    parts.iter().map(|part| outline::path(part, false)).collect()
}

fn plain(path: &str, stroke: Stroke) -> Element {
    Element::new("path")
        .set("d", path)
        .set("fill", "none")
        .stroked(stroke)
        .set("stroke-linejoin", "round")
}

/// Lines in the style of their class.
pub(super) fn stroked(path: &str, class: BaseClass) -> Element {
    let line = |colour: Colour, wide: f64| plain(path, Stroke::new(colour, wide));
    match class {
        BaseClass::Stream => line(style::WATER, width::LINE),
        BaseClass::Water => line(style::WATER, 0.5),
        BaseClass::Road => svg::group()
            .with(line(style::ROAD, width::ROAD))
            .with(line(palette::PAPER, width::ROAD_INSIDE)),
        BaseClass::Path => plain(path, Stroke::new(style::PATH, width::LINE).dashed(4.5, 1.5)),
        BaseClass::Boundary => {
            line(style::BOUNDARY, width::LINE).set("stroke-dasharray", "6 1.8 0.8 1.8")
        }
        BaseClass::Parking | BaseClass::Summit | BaseClass::Place | BaseClass::Other => {
            line(style::OTHER, 0.45)
        }
    }
}

/// Places of base maps.
pub(super) fn points(features: &[BaseFeature], sheet: &MapSheet, drawn: &mut DrawnGround) {
    let frame = sheet.frame.inset(2.0);
    let mut marks = Vec::new();
    for feature in features {
        let BaseShape::Point(place) = &feature.shape else { continue };
        let at = sheet.at(*place);
        if !frame.holds(at) {
            continue;
        }
        drawn.kinds.push(GroundKind::Base(feature.class));
        marks.push(at);
        drawn.drawn.push(svg::pin(at, mark(feature.class)));
        let (class, reach) = (feature.class, reach(feature.class));
        let words = feature.name.clone().unwrap_or_default();
        drawn.labels.points.push(PointLabel { class, at, words, reach });
    }
}

fn reach(class: BaseClass) -> f64 {
    match class {
        BaseClass::Parking => 4.0,
        BaseClass::Summit => 2.8,
        _ => 1.4,
    }
}

/// The mark of a place about its own origin.
pub(super) fn mark(class: BaseClass) -> Element {
    let edge = Stroke::new(palette::SOFT_INK, 0.5);
    match class {
        BaseClass::Parking => {
            let frame = svg::Frame::new(-3.6, -3.6, 7.2, 7.2);
            let letters = Letters::new(6.0).face(Face::Bold).colour(palette::SOFT_INK);
            svg::group()
                .with(svg::rectangle(frame).set("rx", 1.2).filled(palette::PAPER).stroked(edge))
                .with(svg::text(Point::new(0.0, 2.15), "P", letters.anchor(Anchor::Middle)))
        }
        BaseClass::Summit => {
            let corners = [(0.0, -2.8), (2.6, 1.8), (-2.6, 1.8)].map(|(x, y)| Point::new(x, y));
            svg::polygon(&corners, palette::SOFT_INK)
        }
        _ => svg::circle(Point::default(), 1.3).filled(palette::PAPER).stroked(edge),
    }
}
