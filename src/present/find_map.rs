//! Draws a small map of one find: its 95 % circle, each piece of evidence, the position before a correction,
//! and the track nearby. Layer: `present`.

use super::fonts::{self, Face};
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
    let mut captions = Vec::new();
    if let Some((at, _)) = now {
        captions.push(Caption { at: sheet.at(at), words: number.to_owned(), colour: style::INK });
    }
    for anchor in anchors {
        map = map.with(evidence_mark(&sheet, anchor));
        captions.push(evidence_caption(&sheet, anchor));
    }
    if let Some(before) = before.filter(|before| Some(*before) != now) {
        let dashed = Stroke::new(style::ASIDE, line::FINE).dashed(3.0, 2.0);
        map = map.with(circle(&sheet, before, dashed));
        let words = "as imported".to_owned();
        captions.push(Caption { at: sheet.at(before.0), words, colour: style::INK });
    }
    if let Some(now) = now {
        map = map
            .with(circle(&sheet, now, Stroke::new(style::FIND, line::CURVE)))
            .with(svg::circle(sheet.at(now.0), 2.2).filled(style::FIND));
    }
    map = map.with_all(placed(&captions, sheet.frame));
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

/// Words at a mark.
struct Caption {
    at: Point,
    words: String,
    colour: style::Colour,
}

/// Distance of captions one below the other, points.
const LEADING: f64 = 9.5;

/// The captions beside their marks, none over another or beyond the frame; a line leads from a mark to one that
/// had to move.
fn placed(captions: &[Caption], frame: Frame) -> Vec<Element> {
    let mut taken: Vec<Frame> = Vec::new();
    let mut drawn = Vec::new();
    for caption in captions {
        let wide = fonts::width(&caption.words, Face::Regular, size::SMALL);
        let beside = caption.at.x + 5.0;
        let left = beside.min(frame.right() - wide - 3.0).max(frame.corner.x + 3.0);
        let box_at = |foot: f64| Frame::new(left - 1.0, foot - 7.0, wide + 2.0, LEADING - 0.5);
        let is_free = |foot: &f64| {
            let own = box_at(*foot);
            let within = own.corner.y > frame.corner.y && own.bottom() < frame.bottom();
            within && !taken.iter().any(|other| other.meets(own))
        };
        // beside the mark, else below or above it, the nearest first
        let first = caption.at.y + 2.5;
        let steps = (0..40).map(f64::from);
        let mut feet = steps.flat_map(|step| [first + step * 3.0, first - step * 3.0]);
        let foot = feet.find(is_free).unwrap_or(first);
        taken.push(box_at(foot));
        if (foot - first).abs() > LEADING || left < beside {
            let fine = Stroke::new(caption.colour, line::HAIR);
            drawn.push(svg::line(caption.at, Point::new(left - 1.0, foot - 2.5), fine));
        }
        let letters = Letters::new(size::SMALL).colour(caption.colour).rimmed();
        drawn.push(svg::text(Point::new(left, foot), &caption.words, letters));
    }
    drawn
}

fn evidence_caption(sheet: &MapSheet, anchor: &Anchor) -> Caption {
    let colour = if anchor.used { style::PHOTO } else { style::ASIDE };
    let kind = words::anchor(anchor.kind);
    let words = if anchor.used { kind.to_owned() } else { format!("{kind}, not used") };
    Caption { at: sheet.at(anchor.at), words, colour }
}

fn evidence_mark(sheet: &MapSheet, anchor: &Anchor) -> Element {
    let colour = if anchor.used { style::PHOTO } else { style::ASIDE };
    let middle = sheet.at(anchor.at);
    let stroke = Stroke::new(colour, line::CURVE);
    svg::group()
        .with(circle(sheet, (anchor.at, anchor.radius), Stroke::new(colour, line::HAIR)))
        .with(svg::line(middle.plus(-3.0, 0.0), middle.plus(3.0, 0.0), stroke))
        .with(svg::line(middle.plus(0.0, -3.0), middle.plus(0.0, 3.0), stroke))
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
    fn captions_of_marks_that_coincide_do_not_overlap() {
        let frame = Frame::new(0.0, 0.0, 200.0, 150.0);
        let caption = |x: f64, y: f64, words: &str| Caption {
            at: Point::new(x, y),
            words: words.to_owned(),
            colour: style::INK,
        };
        let captions = [
            caption(100.0, 70.0, "AQ-0042"),
            caption(100.0, 70.0, "photo time, not used"),
            caption(101.0, 72.0, "written time, not used"),
            caption(195.0, 149.0, "as imported"),
        ];
        let drawn: String = placed(&captions, frame).iter().map(ToString::to_string).collect();
        let mut feet: Vec<f64> = drawn
            .split("<text x=\"")
            .skip(1)
            .filter_map(|rest| rest.split(" y=\"").nth(1)?.split('"').next()?.parse().ok())
            .collect();
        // each caption has a halo below it
        feet.dedup();
        assert_eq!(feet.len(), captions.len(), "{drawn}");
        feet.sort_by(f64::total_cmp);
        assert!(feet.windows(2).all(|pair| pair[1] - pair[0] >= LEADING - 0.5), "{feet:?}");
        assert!(feet.iter().all(|foot| *foot < frame.bottom()), "{feet:?}");
    }

    #[test]
    fn map_shows_circle_and_evidence_and_nothing_without_a_position() {
        let mut find = fixture::kept_find("TH-0012");
        let svg = figure(&find, &[], &[]).unwrap();
        assert!(svg.contains("TH-0012") && svg.contains("<circle"), "{svg}");
        find.place = None;
        assert!(figure(&find, &[], &[]).is_none());
    }
}
