//! Draws the stops of a round with legs, times and chances as a table. Layer: `present`.

use super::{PlannedRound, walked};
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::style::{self, line};
use crate::present::svg::{self, Anchor, Letters, Point, Stroke};
use crate::wayout::light::{clock, span};

/// One column: its heading, its edge as a share of the width, and which edge that is.
const COLUMNS: [(&str, f64, Anchor); 7] = [
    ("", 0.035, Anchor::End),
    ("stop", 0.055, Anchor::Start),
    ("leg", 0.42, Anchor::End),
    ("walk", 0.52, Anchor::End),
    ("there", 0.685, Anchor::End),
    ("leave by", 0.79, Anchor::End),
    ("chance (95 %)", 1.0, Anchor::End),
];

/// Draws it from a place on over a width; returns the lower edge.
pub(super) fn draw(
    round: &PlannedRound,
    from: Point,
    (wide, size): (f64, f64),
    drawn: &mut Elements,
) -> f64 {
    let row = 1.75 * size;
    let mut foot = from.y + size;
    let heading = Letters::new(size - 0.8).colour(style::SOFT_INK);
    for (words, share, anchor) in COLUMNS {
        let at = Point::new(from.x + wide * share, foot);
        drawn.push(svg::text(at, words, heading.anchor(anchor)));
    }
    for cells in rows(round) {
        let rule = foot + 0.35 * size;
        drawn.push(svg::line(
            Point::new(from.x, rule),
            Point::new(from.x + wide, rule),
            Stroke::new(style::FAINT, line::FINE),
        ));
        foot += row;
        for (index, ((_, share, anchor), words)) in COLUMNS.iter().zip(&cells).enumerate() {
            let face = if index == 0 { Face::Bold } else { Face::Regular };
            let room = if index == 1 { 0.26 * wide } else { wide };
            let words =
                fonts::lines(words, face, size, room).into_iter().next().unwrap_or_default();
            let at = Point::new(from.x + wide * share, foot);
            drawn.push(svg::text(at, &words, Letters::new(size).face(face).anchor(*anchor)));
        }
    }
    foot + 0.4 * size
}

fn rows(round: &PlannedRound) -> Vec<[String; 7]> {
    let at = |instant| clock(instant, &round.zone);
    let percent = |share: f64| format!("{:.0}", 100.0 * share);
    let leg = |index: usize| {
        round.legs.get(index).map_or_else(
            || (String::new(), String::new()),
            |leg| {
                let open = if leg.known { "" } else { "across, " };
                (format!("{open}{}", walked(leg.distance)), span(leg.duration))
            },
        )
    };
    let mut rows: Vec<[String; 7]> = round
        .stops
        .iter()
        .enumerate()
        .map(|(index, stop)| {
            let (distance, walk) = leg(index);
            let (chance, low, high) = stop.chance;
            [
                (index + 1).to_string(),
                stop.name.clone(),
                distance,
                walk,
                format!("{} to {}", at(stop.arrive), at(stop.leave)),
                at(stop.leave_by),
                format!("{} % ({} to {})", percent(chance), percent(low), percent(high)),
            ]
        })
        .collect();
    let (distance, walk) = leg(round.stops.len());
    let back = format!("back at {}", round.from.1);
    let none = String::new;
    rows.push([none(), back, distance, walk, at(round.back), none(), none()]);
    rows
}
