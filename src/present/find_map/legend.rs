//! Writes what the marks of the map of a find mean, and the description of the map. Layer: `present`.

use super::{AS_IMPORTED, WIDE, cross, evidence_words, moved_from, now, title};
use crate::earth::geodesic;
use crate::model::{Anchor, KeptFind, TrackPoint};
use crate::present::fonts::{self, Face};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Letters, Point, Stroke};

/// The marks that the map has, from a place on in lines. Returns the lower edge.
pub(super) fn draw(
    find: &KeptFind,
    (anchors, track): (&[Anchor], &[TrackPoint]),
    from: Point,
    drawn: &mut Elements,
) -> f64 {
    let letters = Letters::new(size::SMALL);
    let mut at = from;
    for (words, mark) in marks(find, anchors, track) {
        let long = 20.0 + fonts::width(words, Face::Regular, size::SMALL);
        if at.x > from.x && at.x + long > WIDE - 8.0 {
            at = Point::new(from.x, at.y + 12.0);
        }
        drawn.push(svg::pin(at, mark));
        drawn.push(svg::text(at.plus(20.0, 2.5), words, letters));
        at = at.plus(long + 10.0, 0.0);
    }
    at.y + 4.0
}

/// Each mark about the middle left of its words.
fn marks(
    find: &KeptFind,
    anchors: &[Anchor],
    track: &[TrackPoint],
) -> Vec<(&'static str, Element)> {
    let middle = Point::new(7.5, 0.0);
    let circle = |stroke| svg::circle(middle, 4.6).set("fill", "none").stroked(stroke);
    let mut marks = Vec::new();
    if now(find).is_some() {
        let find = svg::group()
            .with(circle(Stroke::new(style::FIND, line::CURVE)))
            .with(svg::circle(middle, 2.2).filled(style::FIND));
        marks.push(("find with its 95 % circle", find));
    }
    for (used, words, colour) in [
        (true, "evidence with its 95 % circle", style::PHOTO),
        (false, "evidence not used", style::ASIDE),
    ] {
        if anchors.iter().any(|anchor| anchor.used == used) {
            let circle = circle(Stroke::new(colour, line::HAIR));
            marks.push((words, svg::group().with(circle).with(cross(middle, used))));
        }
    }
    if moved_from(find).is_some() {
        marks.push(("as imported", circle(AS_IMPORTED)));
    }
    if track.len() > 1 {
        let stroke = Stroke::new(style::WALK, line::FINE);
        let track = svg::line(Point::default(), Point::new(15.0, 0.0), stroke);
        marks.push(("track of the day", track));
    }
    marks
}

/// What the map shows: the position, what it rests on, and how far it was moved.
pub(super) fn description(find: &KeptFind, number: &str, anchors: &[Anchor]) -> String {
    let mut words = format!("{}.", title(find, number));
    let evidence: Vec<String> = anchors.iter().map(|anchor| evidence_words(find, anchor)).collect();
    if !evidence.is_empty() {
        words = format!("{words} Evidence: {}.", evidence.join("; "));
    }
    if let (Some(now), Some(before)) = (now(find), moved_from(find)) {
        let moved = geodesic::distance(now.0, before.0);
        words = format!("{words} As imported it was {:.0} m away.", moved.0);
    }
    words
}
