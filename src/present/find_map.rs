//! Draws a small map of one find: its 95 % circle, each piece of evidence, the position before a correction,
//! and the track nearby. Layer: `present`.

mod legend;

use super::fonts::{self, Face};
use super::map::MapSheet;
use super::map::frame::{self, MapBase};
use super::map::ground::MapGround;
use super::map::names::Obstacles;
use super::markup::{Element, Elements};
use super::one_find;
use super::style::{self, line, size};
use super::svg::{self, Frame, Letters, Point, Stroke};
use crate::earth::height_grid::GroundArea;
use crate::model::{Anchor, KeptFind, TrackPoint};
use crate::units::{LatLon, Metres, Radius95};

const WIDE: f64 = 260.0;
/// The surroundings are shown to this distance at least, metres.
const AROUND: f64 = 20.0;

const AS_IMPORTED: Stroke = Stroke::new(style::ASIDE, line::FINE).dashed(3.0, 2.0);

/// The frame of the map.
const FRAME: Frame = Frame::new(18.0, 24.0, WIDE - 26.0, 200.0);

/// The ground within the frame; `None` where there is no map.
#[must_use]
pub fn area(find: &KeptFind, anchors: &[Anchor]) -> Option<GroundArea> {
    fit(find, anchors).map(|sheet| sheet.area())
}

fn fit(find: &KeptFind, anchors: &[Anchor]) -> Option<MapSheet> {
    let evidence = anchors.iter().map(|anchor| (anchor.at, anchor.radius));
    let circles: Vec<(LatLon, Metres)> = now(find)
        .into_iter()
        .chain(before(find))
        .chain(evidence)
        .map(|(at, radius)| (at, Metres(radius.metres().0.max(AROUND))))
        .collect();
    MapSheet::fit(&circles, FRAME, 6.0, FRAME.high)
}

/// Its position as imported, where that differs.
fn moved_from(find: &KeptFind) -> Option<(LatLon, Radius95)> {
    before(find).filter(|before| Some(*before) != now(find))
}

/// Its position.
fn now(find: &KeptFind) -> Option<(LatLon, Radius95)> {
    find.place.as_ref().map(|place| (place.at, place.radius))
}

/// Its position as imported.
fn before(find: &KeptFind) -> Option<(LatLon, Radius95)> {
    find.as_imported.as_ref().and_then(|imported| imported.place)
}

/// The map as SVG; `None` where nothing of the find has a position.
#[must_use]
pub fn figure(
    find: &KeptFind,
    anchors: &[Anchor],
    track: &[TrackPoint],
    ground: &MapGround,
) -> Option<String> {
    let sheet = fit(find, anchors)?;
    let number = find.record.number.as_ref().map_or("find", |number| number.0.as_str());
    let mut obstacles = Obstacles::default();
    let marks = marks(find, number, (anchors, track), &sheet, &mut obstacles);
    let (arrow, _) = frame::arrow(&sheet, find.record.date, &mut obstacles);
    let base = MapBase::new(ground, &sheet);
    let locator = base.locator(&sheet, &mut obstacles);
    let inside = svg::group()
        .set("clip-path", "url(#map)")
        .with(base.below(&sheet, &mut obstacles))
        .with(marks)
        .with(arrow)
        .with(locator);
    let mut drawn = Elements::default();
    drawn.push(svg::clip("map", sheet.frame));
    let letters = Letters::new(size::BODY);
    drawn.push(svg::text(Point::new(8.0, 16.0), &title(find, number), letters));
    drawn.push(inside);
    let foot = base.around(&sheet, WIDE - 8.0, &mut drawn);
    let foot = legend::draw(find, (anchors, track), Point::new(8.0, foot + 10.0), &mut drawn);
    let high = base.legend(Point::new(8.0, foot + 9.0), WIDE - 8.0, &mut drawn) + 6.0;
    let description = legend::description(find, number, anchors);
    let drawing = svg::described(WIDE, high, &format!("Map of {number}"), &description)
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, high)).filled(style::PAPER))
        .with(drawn);
    Some(drawing.to_string())
}

/// Track, evidence, positions and their words.
fn marks(
    find: &KeptFind,
    number: &str,
    (anchors, track): (&[Anchor], &[TrackPoint]),
    sheet: &MapSheet,
    obstacles: &mut Obstacles,
) -> Elements {
    let mut drawn = Elements::default();
    for piece in tracks(sheet, track) {
        obstacles.line(&piece);
        drawn.push(svg::polyline(&piece, Stroke::new(style::WALK, line::FINE)));
    }
    let mut take = |at: LatLon, words: &str| {
        let at = sheet.at(at);
        obstacles.mark(at, 3.5);
        let wide = fonts::width(words, Face::Regular, size::SMALL);
        obstacles.block(Frame::new(at.x + 4.0, at.y - 11.0, wide + 2.0, 22.0));
    };
    let mut words_at = Vec::new();
    for anchor in anchors {
        take(anchor.at, &evidence_words(find, anchor));
        drawn.push(evidence_mark(sheet, find, anchor, &mut words_at));
    }
    if let Some(before) = moved_from(find) {
        let dashed = AS_IMPORTED;
        take(before.0, "as imported");
        drawn.push(circle(sheet, before, dashed));
        drawn.push(label(sheet, before.0, "as imported"));
    }
    if let Some(now) = now(find) {
        take(now.0, number);
        drawn.push(circle(sheet, now, Stroke::new(style::FIND, line::CURVE)));
        drawn.push(svg::circle(sheet.at(now.0), 2.2).filled(style::FIND));
        drawn.push(label(sheet, now.0, number));
    }
    drawn
}

fn title(find: &KeptFind, number: &str) -> String {
    match &find.place {
        Some(place) => format!("{number}: {}, within {} at 95 %", place.at, place.radius),
        None => format!("{number}: not located"),
    }
}

fn circle(sheet: &MapSheet, (at, radius): (LatLon, Radius95), stroke: Stroke) -> Element {
    svg::circle(sheet.at(at), sheet.points(radius.metres())).set("fill", "none").stroked(stroke)
}

fn label(sheet: &MapSheet, at: LatLon, words: &str) -> Element {
    svg::text(sheet.at(at).plus(5.0, -4.0), words, Letters::new(size::SMALL).rimmed())
}

/// The beginning of words below a place, a line lower for each of those that they would stand on.
fn free(at: Point, taken: &mut Vec<Point>) -> Point {
    const LONG: f64 = 110.0;
    const LINE: f64 = 8.0;
    let on =
        |at: Point, other: &Point| (at.x - other.x).abs() < LONG && (at.y - other.y).abs() < LINE;
    let mut at = at;
    while let Some(other) = taken.iter().find(|other| on(at, other)) {
        at.y = other.y + LINE;
    }
    taken.push(at);
    at
}

/// A position that one source gives; its words do not stand on those of the others.
fn evidence_mark(
    sheet: &MapSheet,
    find: &KeptFind,
    anchor: &Anchor,
    taken: &mut Vec<Point>,
) -> Element {
    let colour = if anchor.used { style::PHOTO } else { style::ASIDE };
    let middle = sheet.at(anchor.at);
    let words = evidence_words(find, anchor);
    let letters = Letters::new(size::SMALL).colour(colour).rimmed();
    svg::group()
        .with(circle(sheet, (anchor.at, anchor.radius), Stroke::new(colour, line::HAIR)))
        .with(cross(middle, anchor.used))
        .with(svg::text(free(middle.plus(5.0, 8.0), taken), &words, letters))
}

/// The mark of evidence: upright where it was used, turned where it was not.
fn cross(at: Point, used: bool) -> Element {
    let stroke = Stroke::new(if used { style::PHOTO } else { style::ASIDE }, line::CURVE);
    let (dx, dy) = if used { (3.0, 0.0) } else { (2.3, 2.3) };
    svg::group().with(svg::line(at.plus(-dx, -dy), at.plus(dx, dy), stroke)).with(svg::line(
        at.plus(dy, -dx),
        at.plus(-dy, dx),
        stroke,
    ))
}

fn evidence_words(find: &KeptFind, anchor: &Anchor) -> String {
    let kind = one_find::evidence_of(find, anchor.kind);
    if anchor.used { kind.to_owned() } else { format!("{kind}, not used") }
}

/// The track in pieces between gaps, as far as it comes near.
fn tracks(sheet: &MapSheet, track: &[TrackPoint]) -> Vec<Vec<Point>> {
    let near = sheet.frame.inset(-sheet.frame.wide);
    let (mut pieces, mut piece): (Vec<Vec<Point>>, Vec<Point>) = (Vec::new(), Vec::new());
    for point in track {
        let at = sheet.at(point.at);
        if near.holds(at) {
            piece.push(at);
        }
        if !near.holds(at) || point.gap_after {
            pieces.push(std::mem::take(&mut piece));
        }
    }
    pieces.push(piece);
    pieces.retain(|piece| piece.len() > 1);
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn map_shows_circle_and_evidence_and_nothing_without_a_position() {
        let mut find = fixture::kept_find("TH-0012");
        let svg = figure(&find, &[], &[], &MapGround::default()).unwrap();
        assert!(svg.contains("TH-0012") && svg.contains("<circle"), "{svg}");
        assert!(svg.contains("<desc>TH-0012") && svg.contains("find with its 95 % circle"));
        assert!(!svg.contains("not used") && !svg.contains("as imported"), "{svg}");
        find.place = None;
        assert!(figure(&find, &[], &[], &MapGround::default()).is_none());
    }

    #[test]
    fn words_of_near_positions_stand_below_each_other() {
        let mut taken = Vec::new();
        let places = [(50.0, 40.0), (52.0, 41.0), (51.0, 46.0), (300.0, 40.0)];
        let placed = places.map(|(x, y)| free(Point::new(x, y), &mut taken));
        assert_eq!(placed.map(|at| at.y), [40.0, 48.0, 56.0, 40.0]);
    }
}
