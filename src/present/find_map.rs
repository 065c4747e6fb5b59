//! Draws a small map of one find: its 95 % circle, each piece of evidence, the position before a correction,
//! and the track nearby. Layer: `present`.

use super::map::MapSheet;
use super::map::furniture::{north_arrow, scale_bar};
use super::markup::Element;
use super::style::{self, line, size};
use super::summary::words;
use super::svg::{self, Frame, Letters, Point, Stroke};
use crate::model::{Anchor, KeptFind, TrackPoint};
use crate::units::{LatLon, Metres, Radius95};

const WIDE: f64 = 260.0;
const HIGH: f64 = 250.0;
/// The surroundings are shown to this distance at least, metres.
const AROUND: f64 = 20.0;

/// The map as SVG; `None` where nothing of the find has a position.
#[must_use]
pub fn figure(find: &KeptFind, anchors: &[Anchor], track: &[TrackPoint]) -> Option<String> {
    let before = find.as_imported.as_ref().and_then(|imported| imported.place);
    let now = find.place.as_ref().map(|place| (place.at, place.radius));
    let evidence = anchors.iter().map(|anchor| (anchor.at, anchor.radius));
    let circles: Vec<(LatLon, Metres)> = now
        .into_iter()
        .chain(before)
        .chain(evidence)
        .map(|(at, radius)| (at, Metres(radius.metres().0.max(AROUND))))
        .collect();
    let frame = Frame::new(8.0, 24.0, WIDE - 16.0, HIGH - 52.0);
    let sheet = MapSheet::fit(&circles, frame, 6.0, frame.high)?;
    let number = find.record.number.as_ref().map_or("find", |number| number.0.as_str());
    let mut map = svg::group().set("clip-path", "url(#map)");
    map = map.with_all(tracks(&sheet, track));
    for anchor in anchors {
        map = map.with(evidence_mark(&sheet, anchor));
    }
    if let Some(before) = before.filter(|before| Some(*before) != now) {
        let dashed = Stroke::new(style::ASIDE, line::FINE).dashed(3.0, 2.0);
        map = map.with(circle(&sheet, before, dashed)).with(label(&sheet, before.0, "as imported"));
    }
    if let Some(now) = now {
        let middle = sheet.at(now.0);
        map = map
            .with(circle(&sheet, now, Stroke::new(style::FIND, line::CURVE)))
            .with(svg::circle(middle, 2.2).filled(style::FIND))
            .with(label(&sheet, now.0, number));
    }
    let border = svg::rectangle(sheet.frame).set("fill", "none");
    let foot = Point::new(sheet.frame.corner.x + 6.0, HIGH - 12.0);
    let drawing = svg::drawing(WIDE, HIGH, &format!("Map of {number}"))
        .with(svg::clip("map", sheet.frame))
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, HIGH)).filled(style::PAPER))
        .with(svg::text(Point::new(8.0, 16.0), &title(find, number), Letters::new(size::BODY)))
        .with(map)
        .with(border.stroked(Stroke::new(style::INK, line::FINE)))
        .with(scale_bar(&sheet, foot, 90.0))
        .with(north_arrow(Point::new(WIDE - 22.0, sheet.frame.corner.y + 44.0), None));
    Some(drawing.to_string())
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

fn evidence_mark(sheet: &MapSheet, anchor: &Anchor) -> Element {
    let colour = if anchor.used { style::PHOTO } else { style::ASIDE };
    let middle = sheet.at(anchor.at);
    let stroke = Stroke::new(colour, line::CURVE);
    let kind = words::anchor(anchor.kind);
    let words = if anchor.used { kind.to_owned() } else { format!("{kind}, not used") };
    let letters = Letters::new(size::SMALL).colour(colour).rimmed();
    svg::group()
        .with(circle(sheet, (anchor.at, anchor.radius), Stroke::new(colour, line::HAIR)))
        .with(svg::line(middle.plus(-3.0, 0.0), middle.plus(3.0, 0.0), stroke))
        .with(svg::line(middle.plus(0.0, -3.0), middle.plus(0.0, 3.0), stroke))
        .with(svg::text(middle.plus(5.0, 8.0), &words, letters))
}

/// The track in pieces between gaps, as far as it comes near.
fn tracks(sheet: &MapSheet, track: &[TrackPoint]) -> Vec<Element> {
    let near = sheet.frame.inset(-sheet.frame.wide);
    let stroke = Stroke::new(style::WALK, line::FINE);
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
    pieces.iter().map(|piece| svg::polyline(piece, stroke)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn map_shows_circle_and_evidence_and_nothing_without_a_position() {
        let mut find = fixture::kept_find("TH-0012");
        let svg = figure(&find, &[], &[]).unwrap();
        assert!(svg.contains("TH-0012") && svg.contains("<circle"), "{svg}");
        find.place = None;
        assert!(figure(&find, &[], &[]).is_none());
    }
}
