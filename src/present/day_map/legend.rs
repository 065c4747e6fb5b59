//! Draws the legend of the day map and lists what the map omits. Layer: `present`.

use super::layers::{Kind, Layers, swatch};
use super::naming::{Listed, Named};
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::style::{self, size};
use crate::present::svg::{self, Letters, Point};

/// Draws the legend from `top` on and returns its lower edge.
pub(super) fn draw(
    layers: &Layers,
    named: &Named,
    top: f64,
    wide: f64,
    drawn: &mut Elements,
) -> f64 {
    let order = [
        Kind::Find,
        Kind::Stop,
        Kind::Photo,
        Kind::Walk,
        Kind::Search,
        Kind::Gap,
        Kind::Recorded,
        Kind::Aside,
        Kind::Conflict,
    ];
    let letters = Letters::new(size::SMALL + 0.4);
    let (mut x, mut y) = (0.0, top);
    for kind in order {
        let Some((_, remark)) = layers.kinds.iter().find(|(there, _)| *there == kind) else {
            continue;
        };
        let words = words(kind, remark);
        let needed = 20.0 + fonts::width(&words, Face::Regular, letters.size) + 13.0;
        if x > 0.0 && x + needed - 13.0 > wide {
            x = 0.0;
            y += 13.5;
        }
        let foot = y + 0.36 * letters.size;
        drawn.push(swatch(kind, Point::new(x, y)));
        drawn.push(svg::text(Point::new(x + 20.0, foot), &words, letters));
        x += needed;
    }
    let soft = Letters::new(size::SMALL).colour(style::SOFT_INK);
    for note in notes(layers, named) {
        for line in fonts::lines(&note, Face::Regular, soft.size, wide) {
            y += 12.0;
            drawn.push(svg::text(Point::new(0.0, y + 2.0), &line, soft));
        }
    }
    y + 6.0
}

fn words(kind: Kind, remark: &str) -> String {
    match kind {
        Kind::Find => "find with its 95 % circle".to_owned(),
        Kind::Stop => format!("stop ({remark})"),
        Kind::Photo => format!("photograph ({remark})"),
        Kind::Walk => "walking".to_owned(),
        Kind::Search => "searching".to_owned(),
        Kind::Gap => "gap in the track".to_owned(),
        Kind::Recorded => "as recorded".to_owned(),
        Kind::Aside => format!("fix set aside ({remark})"),
        Kind::Conflict => "conflicting position, not used".to_owned(),
    }
}

/// A line of the list of finds that the map shows by a key.
pub(in crate::present) fn listed(listed: &Listed) -> String {
    match &listed.key {
        Some(key) => format!("{key}: {}", listed.numbers),
        None => format!("On the map without a label: {}.", listed.numbers),
    }
}

fn notes(layers: &Layers, named: &Named) -> Vec<String> {
    let mut notes = Vec::new();
    notes.extend(named.listed.iter().map(listed));
    if !layers.off_the_map.is_empty() {
        notes.push(format!("Off this map: {}.", layers.off_the_map.join(", ")));
    }
    notes
}
