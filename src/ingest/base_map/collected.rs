//! Collects the features of a base map within the limits of one file. Layer: `ingest`.

use std::collections::HashMap;
use std::path::Path;

use super::class;
use crate::model::{BaseClass, BaseFeature, BaseMap, BaseShape};
use crate::units::LatLon;

/// The most positions of one file.
pub(super) const MOST_POSITIONS: usize = 2_000_000;
/// Unknown kinds that are distinguished.
const MOST_KINDS: usize = 200;

#[derive(Debug, Default)]
pub(super) struct Collected {
    pub(super) features: Vec<BaseFeature>,
    pub(super) without_place: usize,
    pub(super) damage: Option<String>,
    beyond: usize,
    positions: usize,
    unknown: HashMap<String, usize>,
}

/// The properties of a feature, keys in lower case.
pub(super) type Properties = Vec<(String, String)>;

impl Collected {
    /// Takes a feature with all of its shapes.
    pub(super) fn add(
        &mut self,
        properties: &Properties,
        layer: Option<&str>,
        shapes: Vec<BaseShape>,
    ) {
        if shapes.is_empty() {
            self.without_place += 1;
            return;
        }
        let (class, kind) = class::classify(properties, layer);
        if let Some(kind) = kind {
            self.count(&kind);
        }
        self.put(class, class::name(properties).as_deref(), shapes);
    }

    /// Takes shapes whose class is known.
    pub(super) fn put(&mut self, class: BaseClass, name: Option<&str>, shapes: Vec<BaseShape>) {
        for shape in shapes {
            let count = shape.places().count();
            if self.positions + count > MOST_POSITIONS {
                self.beyond += count;
                continue;
            }
            self.positions += count;
            self.features.push(BaseFeature { class, name: name.map(str::to_owned), shape });
        }
    }

    fn count(&mut self, kind: &str) {
        let kind: String = kind.chars().filter(|c| !c.is_control()).take(40).collect();
        if self.unknown.len() < MOST_KINDS || self.unknown.contains_key(&kind) {
            *self.unknown.entry(kind).or_default() += 1;
        } else {
            *self.unknown.entry("other kinds".to_owned()).or_default() += 1;
        }
    }

    pub(super) fn into_map(self, path: &Path, hash: String) -> BaseMap {
        let mut unknown: Vec<(String, usize)> = self.unknown.into_iter().collect();
        unknown.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        BaseMap {
            path: path.to_owned(),
            hash,
            features: self.features,
            unknown,
            without_place: self.without_place,
            beyond: self.beyond,
            damage: self.damage,
        }
    }
}

/// A line of at least two different places; `None` otherwise.
pub(super) fn line(places: Vec<LatLon>) -> Option<BaseShape> {
    let moves = places.iter().any(|place| Some(place) != places.first());
    moves.then_some(BaseShape::Line(places))
}

/// An area: its first ring is the outline; rings with fewer than three corners are left out, open ones
/// closed.
pub(super) fn area(rings: Vec<Vec<LatLon>>) -> Option<BaseShape> {
    let mut closed = Vec::with_capacity(rings.len());
    for (index, mut ring) in rings.into_iter().enumerate() {
        if let (Some(first), true) = (ring.first().copied(), ring.first() != ring.last()) {
            ring.push(first);
        }
        if ring.len() >= 4 {
            closed.push(ring);
        } else if index == 0 {
            return None;
        }
    }
    (!closed.is_empty()).then_some(BaseShape::Area(closed))
}
