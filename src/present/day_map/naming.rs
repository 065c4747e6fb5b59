//! Labels the day map: numbers of finds, keys of crowds that a list below the map resolves, times along
//! the track. Layer: `present`.

use super::crowds::{self, Label, Settled, Spot};
use super::layers::{self, FIND_REACH};
use super::{numbers, times};
use crate::model::{Day, Find};
use crate::present::fonts::{self, Face};
use crate::present::map::MapSheet;
use crate::present::map::names::{self, Obstacles, Placed, Reach, Wish};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Frame, Letters, Point, Stroke};

/// The labels on the map.
pub(in crate::present) struct Named {
    pub(in crate::present) drawn: Elements,
    /// What the list below the map names: the key on the map and the numbers there.
    pub(in crate::present) listed: Vec<Listed>,
}

/// Finds that a list names instead of a label.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::present) struct Listed {
    /// The key on the map; `None` where not even a key has room.
    pub(in crate::present) key: Option<String>,
    /// The numbers, consecutive ones as ranges.
    pub(in crate::present) numbers: String,
}

/// Where the labels of a map go.
pub(in crate::present) struct Labels<'a> {
    numbers: Vec<Label>,
    keys: Vec<(Label, Vec<&'a Find>)>,
    /// Finds with neither label nor key.
    bare: Vec<&'a Find>,
    times: Vec<(Wish, Option<Placed>)>,
    /// Where finds have no label of their own.
    unlabelled: Vec<Spot<'a>>,
}

/// Labels: find numbers first, then times along the track.
pub(in crate::present) fn names(day: &Day, sheet: &MapSheet, obstacles: &mut Obstacles) -> Named {
    Labels::of(day, sheet, obstacles).draw()
}

impl<'a> Labels<'a> {
    /// Chooses the labels of a map and takes their places among the obstacles.
    pub(in crate::present) fn of(
        day: &'a Day,
        sheet: &MapSheet,
        obstacles: &mut Obstacles,
    ) -> Self {
        let spots = crowds::spots(day, sheet);
        for spot in &spots {
            obstacles.mark(spot.at, FIND_REACH);
        }
        let times = times::of(day, sheet, |at| {
            // a find mark has priority over a time mark
            spots.iter().any(|spot| spot.at.distance(at) < FIND_REACH + 0.6)
        });
        for time in &times {
            obstacles.mark(time.mark, time.reach);
        }
        let within = sheet.frame.inset(1.5);
        let settled = crowds::settle(&spots, obstacles, within);
        let mut labels = Self::gather(&spots, &settled);
        let places = names::place_among(&times, obstacles, within, size::SMALL, Reach::Near);
        labels.times = times.into_iter().zip(places).collect();
        let named: Vec<bool> = settled.numbers.iter().map(Option::is_some).collect();
        let spots = spots.into_iter().zip(named);
        labels.unlabelled = spots.filter(|(_, named)| !named).map(|(spot, _)| spot).collect();
        labels
    }

    /// Numbers, keys, and finds with neither.
    fn gather(spots: &[Spot<'a>], settled: &Settled) -> Self {
        let mut labels = Self {
            numbers: settled.numbers.iter().flatten().cloned().collect(),
            keys: Vec::new(),
            bare: Vec::new(),
            times: Vec::new(),
            unlabelled: Vec::new(),
        };
        for (label, members) in &settled.keys {
            let finds = members.iter().flat_map(|index| &spots[*index].finds).copied();
            match label {
                Some(label) => {
                    let words = key(labels.keys.len());
                    labels.keys.push((Label { words, ..label.clone() }, finds.collect()));
                }
                None => labels.bare.extend(finds),
            }
        }
        labels.bare.extend(settled.bare.iter().flat_map(|index| &spots[*index].finds).copied());
        labels
    }

    /// What the list below the map names.
    pub(in crate::present) fn listed(&self) -> Vec<Listed> {
        let keyed = self.keys.iter().map(|(label, finds)| Listed {
            key: Some(label.words.clone()),
            numbers: numbers::sorted(finds),
        });
        let bare = (!self.bare.is_empty())
            .then(|| Listed { key: None, numbers: numbers::sorted(&self.bare) });
        keyed.chain(bare).collect()
    }

    /// Labels for finds that have none of their own at this scale, beside their marks.
    pub(in crate::present) fn others(&self) -> Vec<(Point, String)> {
        let short = |spot: &Spot<'_>| {
            numbers::label(&spot.finds).unwrap_or_else(|| {
                let first: String = layers::number(spot.finds[0]).chars().take(24).collect();
                match spot.finds.len() {
                    1 => first,
                    several => format!("{first} + {}", several - 1),
                }
            })
        };
        self.unlabelled.iter().map(|spot| (spot.at, short(spot))).collect()
    }

    pub(in crate::present) fn draw(&self) -> Named {
        let mut drawn = Elements::default();
        let edge = Stroke::new(style::INK, line::FINE);
        for (time, _) in &self.times {
            let dot = svg::circle(Point::default(), 1.6).filled(style::PAPER).stroked(edge);
            drawn.push(svg::pin(time.mark, dot));
        }
        let bold = Letters::new(size::SMALL).face(Face::Bold).rimmed();
        for label in &self.numbers {
            drawn.push(lettering(label.mark, &label.words, &label.placed, bold));
        }
        for (label, _) in &self.keys {
            drawn.push(key_mark(label));
        }
        let soft = Letters::new(size::SMALL).colour(style::SOFT_INK).rimmed();
        for (time, placed) in &self.times {
            if let Some(placed) = placed {
                drawn.push(lettering(time.mark, &time.words, placed, soft));
            }
        }
        Named { drawn, listed: self.listed() }
    }
}

/// A, B, … Z, AA, AB, …
fn key(place: usize) -> String {
    let letter = |at: usize| char::from(b'A' + u8::try_from(at % 26).unwrap_or(0));
    match place / 26 {
        0 => letter(place).to_string(),
        before => format!("{}{}", letter(before - 1), letter(place)),
    }
}

/// A text at its place, with a leader where it is away from its mark.
fn lettering(mark: Point, words: &str, placed: &Placed, letters: Letters) -> Element {
    let from = |at: Point| at.plus(-mark.x, -mark.y);
    let letters = letters.long(fonts::width(words, letters.face, letters.size));
    svg::pin(mark, leader(mark, placed).with(svg::text(from(placed.at), words, letters)))
}

/// A key: light letters on a dark plate, unlike any number.
fn key_mark(label: &Label) -> Element {
    let (mark, frame) = (label.mark, label.placed.frame);
    let plate =
        Frame::new(frame.corner.x - mark.x, frame.corner.y - mark.y, frame.wide, frame.high);
    let letters = Letters::new(size::SMALL - 0.6)
        .face(Face::Bold)
        .colour(style::PAPER)
        .anchor(svg::Anchor::Middle);
    let at = plate.middle().plus(0.0, 0.36 * letters.size);
    let drawn = leader(mark, &label.placed)
        .with(svg::rectangle(plate).filled(style::INK).set("rx", 1.2))
        .with(svg::text(at, &label.words, letters));
    svg::pin(mark, drawn.set("class", "key"))
}

fn leader(mark: Point, placed: &Placed) -> Element {
    if !placed.leader {
        return svg::group();
    }
    let end = placed.leader_end(mark).plus(-mark.x, -mark.y);
    let fine = Stroke::new(style::SOFT_INK, line::HAIR);
    svg::group().with(svg::line(Point::default(), end, fine))
}

#[cfg(test)]
#[path = "hard_days.rs"]
mod hard_days;
