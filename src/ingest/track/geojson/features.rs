//! Takes the objects of GeoJSON as they are parsed and collects tracks, routes and points. Layer:
//! `ingest`.

use std::fmt;
use std::path::Path;

use serde::de::{DeserializeSeed, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};

use super::shape::{Level, MOST, Position, Shape};
use super::times::{self, Entry, plain};
use crate::ingest::track::collected::{Collected, bare};
use crate::ingest::track::fault::{Fault, Tally};
use crate::ingest::track::words::without_controls;
use crate::model::{FileKind, Fix, TrackFile, Waypoint};
use crate::units::{GpsHeight, LatLon, Metres, Timestamp};

/// Everything that was read of a file.
#[derive(Debug, Default)]
pub(super) struct Features {
    pub(super) tally: Tally,
    /// Whether any object of GeoJSON was there.
    pub(super) any: bool,
    /// Whether the file is damaged, so that the last feature may lack its end.
    mended: bool,
    collected: Collected,
    positions: usize,
    number: u64,
    system: Option<String>,
    /// The last feature, which may be the damaged one.
    waiting: Option<Object>,
}

/// An object: a collection, a feature or a geometry.
#[derive(Debug, Default)]
pub(super) struct Object {
    kind: String,
    shape: Shape,
    geometry: Option<Box<Object>>,
    geometries: Vec<Object>,
    properties: Map<String, Value>,
    collection: bool,
}

impl Features {
    /// Nothing yet of a text whose end is damaged.
    pub(super) fn of_damaged() -> Self {
        Self { mended: true, ..Self::default() }
    }

    /// Reads the objects of a text, one or several.
    pub(super) fn read(&mut self, text: &str) -> serde_json::Result<()> {
        let mut json = serde_json::Deserializer::from_str(text);
        while json.end().is_err() {
            if let Some(object) = (Seed { features: self }).deserialize(&mut json)? {
                self.take(object);
            }
        }
        if let Some(last) = self.waiting.take() {
            self.file(last, self.mended);
        }
        Ok(())
    }
}

impl Object {
    fn holds_place(&self) -> bool {
        self.geometry.is_some() || !self.shape.positions.is_empty()
    }
}

/// Reads one object; the features of a collection are taken one by one.
struct Seed<'a> {
    features: &'a mut Features,
}

impl<'de> DeserializeSeed<'de> for Seed<'_> {
    type Value = Option<Object>;

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> Result<Self::Value, D::Error> {
        from.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Seed<'_> {
    type Value = Option<Object>;

    fn expecting(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
        formatter.write_str("an object of GeoJSON")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
        let mut object = Object::default();
        while let Some(key) = map.next_key::<String>()? {
            match key.as_str() {
                "type" => object.kind = text(&map.next_value()?),
                "coordinates" => {
                    let room = MOST.saturating_sub(self.features.positions);
                    object.shape = Shape { room, ..Shape::default() };
                    map.next_value_seed(Level(&mut object.shape))?;
                    self.features.positions += object.shape.positions.len();
                }
                "geometry" => {
                    let geometry = map.next_value_seed(Seed { features: self.features })?;
                    object.geometry = geometry.map(Box::new);
                }
                "geometries" => {
                    let into = &mut object.geometries;
                    map.next_value_seed(List { features: self.features, into: Some(into) })?;
                }
                "features" => {
                    object.collection = true;
                    map.next_value_seed(List { features: self.features, into: None })?;
                }
                "properties" => {
                    if let Value::Object(properties) = map.next_value()? {
                        object.properties = properties;
                    }
                }
                "crs" => self.features.system(&map.next_value()?),
                _ => {
                    map.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(Some(object))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
        while seq.next_element::<IgnoredAny>()?.is_some() {}
        Ok(None)
    }

    fn visit_unit<E>(self) -> Result<Self::Value, E> {
        Ok(None)
    }

    fn visit_bool<E>(self, _: bool) -> Result<Self::Value, E> {
        Ok(None)
    }

    fn visit_f64<E>(self, _: f64) -> Result<Self::Value, E> {
        Ok(None)
    }

    fn visit_u64<E>(self, _: u64) -> Result<Self::Value, E> {
        Ok(None)
    }

    fn visit_i64<E>(self, _: i64) -> Result<Self::Value, E> {
        Ok(None)
    }

    fn visit_str<E>(self, _: &str) -> Result<Self::Value, E> {
        Ok(None)
    }
}

/// Reads a list of objects: into a list, or taken as features at once.
struct List<'a> {
    features: &'a mut Features,
    into: Option<&'a mut Vec<Object>>,
}

impl<'de> DeserializeSeed<'de> for List<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> Result<(), D::Error> {
        from.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for List<'_> {
    type Value = ();

    fn expecting(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
        formatter.write_str("a list")
    }

    fn visit_seq<A: SeqAccess<'de>>(mut self, mut seq: A) -> Result<(), A::Error> {
        while let Some(object) = seq.next_element_seed(Seed { features: self.features })? {
            let Some(object) = object else { continue };
            match &mut self.into {
                Some(into) => into.push(object),
                None => self.features.take(object),
            }
        }
        Ok(())
    }
}

impl Features {
    /// A reference system that the file names and that is not WGS 84 in degrees.
    pub(super) fn other_system(&self) -> Option<&str> {
        self.system.as_deref()
    }

    fn system(&mut self, crs: &Value) {
        let name = crs.pointer("/properties/name").map_or_else(|| crs.to_string(), text);
        let usual = ["CRS84", "4326"].iter().any(|known| name.ends_with(known));
        if !usual && !crs.is_null() {
            self.system = Some(name);
        }
    }

    /// Takes an object; the one before it is complete then.
    fn take(&mut self, object: Object) {
        // the type of a damaged object may stand behind the damage
        let cut = self.mended && object.kind.is_empty();
        let known = super::TYPES.contains(&object.kind.as_str()) || (cut && object.holds_place());
        self.any |= known || object.collection;
        if object.collection || !known {
            return;
        }
        if let Some(complete) = self.waiting.replace(object) {
            self.file(complete, false);
        }
    }

    fn file(&mut self, mut object: Object, cut: bool) {
        self.number += 1;
        let properties = std::mem::take(&mut object.properties);
        let geometry = object.geometry.take().map_or(object, |geometry| *geometry);
        self.geometry(geometry, &properties, cut);
    }

    fn geometry(&mut self, object: Object, properties: &Map<String, Value>, cut: bool) {
        if object.shape.skipped > 0 {
            let example = format!("feature {}", self.number);
            self.tally.add_many(Fault::TooMany, object.shape.skipped, &example, || 0);
        }
        match object.kind.as_str() {
            "LineString" | "MultiLineString" => self.line(&object.shape, properties, cut),
            "MultiPoint" if !times::of_line(properties).is_empty() => {
                self.line(&object.shape, properties, cut);
            }
            "" if object.shape.positions.len() > 1 => self.line(&object.shape, properties, cut),
            "" | "Point" | "MultiPoint" => self.points(&object.shape, properties),
            "GeometryCollection" => {
                object.geometries.into_iter().for_each(|one| self.geometry(one, properties, cut));
            }
            "Polygon" | "MultiPolygon" => self.collected.areas += 1,
            _ => {}
        }
    }

    fn line(&mut self, shape: &Shape, properties: &Map<String, Value>, cut: bool) {
        let entries = times::of_line(properties);
        let (times, places) = (entries.len(), shape.positions.len());
        let matched = times == places || (cut && times > 0) || shape.skipped > 0;
        if !matched && times > 0 {
            let counts = format!("{times} times, {places} points (feature {})", self.number);
            self.tally.add(Fault::TimesUnmatched, &counts, || 0);
        }
        let mut entries = if matched { entries } else { Vec::new() }.into_iter();
        let parts = shape.lines().into_iter().map(|line| {
            let mut fixes = Vec::with_capacity(line.len());
            let positions = shape.positions[line].iter();
            fixes.extend(
                positions.filter_map(|position| self.fix(position, entries.next(), times > 0)),
            );
            fixes
        });
        let parts = parts.collect();
        let name = label(properties, &NAMES);
        self.collected.line(name.as_deref(), parts);
    }

    /// A fix of a position and the entry of its time; `listed` where times are listed apart.
    fn fix(&mut self, position: &Position, entry: Option<Entry>, listed: bool) -> Option<Fix> {
        let time = match entry {
            Some(entry) => self.time(entry),
            None if listed => None,
            None => self.fourth(position),
        };
        let place = |position: &Position| {
            let (latitude, longitude) = (position.latitude, position.longitude);
            if latitude.is_nan() || longitude.is_nan() {
                return Err(Fault::NoCoordinates);
            }
            LatLon::new(latitude, longitude).map_err(|_| Fault::OffTheGlobe)
        };
        match place(position) {
            Ok(at) => {
                let height = Some(position.height).filter(|height| height.abs() <= 1e5);
                let height = height.map(|height| GpsHeight(Metres(height)));
                Some(Fix { height, ..Fix::bare(at, time) })
            }
            Err(fault) => {
                let Position { longitude, latitude, .. } = position;
                let example = format!("[{longitude}, {latitude}] (feature {})", self.number);
                self.tally.add(fault, &example, || 0);
                None
            }
        }
    }

    fn time(&mut self, entry: Entry) -> Option<Timestamp> {
        match entry {
            Ok(read) => {
                let read = read?;
                if read.zone_assumed {
                    self.tally.add(Fault::ZoneAssumed, &read.instant.to_string(), || 0);
                }
                Some(read.instant)
            }
            Err(text) => {
                self.tally.add(Fault::TimeUnreadable, &text, || 0);
                None
            }
        }
    }

    fn fourth(&mut self, position: &Position) -> Option<Timestamp> {
        let read = times::since_1970(position.fourth)?;
        self.tally.add(Fault::FourthNumber, &position.fourth.to_string(), || 0);
        Some(read.instant)
    }

    fn points(&mut self, shape: &Shape, properties: &Map<String, Value>) {
        let time = times::of_point(properties).and_then(|entry| self.time(entry));
        for position in &shape.positions {
            let Some(fix) = self.fix(position, None, false) else { continue };
            let height = fix.height.or_else(|| {
                let written = HEIGHTS.iter().find_map(|name| value(properties, name)?.as_f64());
                written.map(|height| GpsHeight(Metres(height)))
            });
            let fix = Fix { time: time.or(fix.time), height, ..fix };
            let name = label(properties, &NAMES);
            let description = label(properties, &DESCRIPTIONS);
            self.collected.points.push(Waypoint { name, description, ..bare(fix) });
        }
    }

    pub(super) fn into_file(self, path: &Path, kind: FileKind, source: (String, u64)) -> TrackFile {
        self.collected.into_file(path, kind, source, self.tally)
    }
}

const NAMES: [&str; 4] = ["name", "title", "label", "number"];
const DESCRIPTIONS: [&str; 5] = ["description", "desc", "comment", "note", "notes"];
const HEIGHTS: [&str; 3] = ["ele", "elevation", "altitude"];

fn value<'a>(properties: &'a Map<String, Value>, name: &str) -> Option<&'a Value> {
    properties.iter().find(|(key, _)| plain(key) == name).map(|(_, value)| value)
}

fn label(properties: &Map<String, Value>, names: &[&str]) -> Option<String> {
    let written = names.iter().map(|name| value(properties, name).map(text).unwrap_or_default());

    written.map(|text| without_controls(text.trim())).find(|text| !text.is_empty())
}

/// Text or a number as text; empty for anything else.
fn text(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Number(number) => number.to_string(),
        _ => String::new(),
    }
}
