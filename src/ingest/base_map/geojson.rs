//! Reads the features of GeoJSON one after the other; memory holds one feature beside the text. A
//! damaged file gives the features before the damage. Layer: `ingest`.

use std::fmt;
use std::path::Path;

use serde::de::{DeserializeSeed, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};

use super::collected::{Collected, Properties, area, line};
use crate::error::{Error, Result};
use crate::model::{BaseShape, name_of};
use crate::units::LatLon;

/// Collections in collections are followed to this depth.
const DEEPEST: u8 = 8;

pub(super) fn read(path: &Path, bytes: &[u8], collected: &mut Collected) -> Result<()> {
    let text = String::from_utf8_lossy(bytes);
    let text = text.trim_start_matches('\u{feff}');
    let mut system = None;
    let mut json = serde_json::Deserializer::from_str(text);
    let read = Root { collected, system: &mut system }.deserialize(&mut json);
    if let Some(system) = system.filter(|system| other_than_wgs84(system)) {
        return Err(Error::input(format!("{} is not in degrees on WGS 84", name_of(path)))
            .because(format!("it states the reference system {system}"))
            .hint("convert it to EPSG:4326, or give it as a GeoPackage layer")
            .in_file(path));
    }
    if let Err(fault) = read {
        collected.damage = Some(format!("damaged in line {}: {fault}", fault.line()));
    }
    Ok(())
}

fn other_than_wgs84(system: &str) -> bool {
    !(system.contains("CRS84") || system.contains("4326"))
}

struct Root<'a> {
    collected: &'a mut Collected,
    system: &'a mut Option<String>,
}

impl<'de> DeserializeSeed<'de> for Root<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> std::result::Result<(), D::Error> {
        from.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for Root<'_> {
    type Value = ();

    fn expecting(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
        formatter.write_str("an object of GeoJSON")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> std::result::Result<(), A::Error> {
        let mut rest = Map::new();
        let mut layer: Option<String> = None;
        while let Some(key) = map.next_key::<String>()? {
            match key.as_str() {
                "features" => map.next_value_seed(Features {
                    collected: &mut *self.collected,
                    layer: layer.as_deref(),
                })?,
                "crs" => {
                    let crs: Value = map.next_value()?;
                    let name = crs.pointer("/properties/name").and_then(Value::as_str);
                    *self.system = name.map(str::to_owned);
                }
                "name" => layer = map.next_value::<Value>()?.as_str().map(str::to_owned),
                "type" | "geometry" | "properties" | "coordinates" | "geometries" => {
                    rest.insert(key, map.next_value()?);
                }
                _ => {
                    map.next_value::<IgnoredAny>()?;
                }
            }
        }
        if rest.contains_key("geometry") {
            take(self.collected, &Value::Object(rest), layer.as_deref());
        } else if rest.contains_key("coordinates") || rest.contains_key("geometries") {
            let shapes = shapes(&Value::Object(rest), DEEPEST);
            self.collected.add(&Properties::new(), layer.as_deref(), shapes);
        }
        Ok(())
    }
}

struct Features<'a> {
    collected: &'a mut Collected,
    layer: Option<&'a str>,
}

impl<'de> DeserializeSeed<'de> for Features<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> std::result::Result<(), D::Error> {
        from.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Features<'_> {
    type Value = ();

    fn expecting(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
        formatter.write_str("a list of features")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> std::result::Result<(), A::Error> {
        while let Some(feature) = list.next_element::<Value>()? {
            take(self.collected, &feature, self.layer);
        }
        Ok(())
    }
}

fn take(collected: &mut Collected, feature: &Value, layer: Option<&str>) {
    let properties = feature.get("properties").and_then(Value::as_object);
    let properties: Properties =
        properties.into_iter().flatten().filter_map(|(key, value)| property(key, value)).collect();
    let shapes = feature.get("geometry").map_or_else(Vec::new, |shape| shapes(shape, DEEPEST));
    collected.add(&properties, layer, shapes);
}

fn property(key: &str, value: &Value) -> Option<(String, String)> {
    let value = match value {
        Value::String(text) => text.clone(),
        Value::Number(number) => number.to_string(),
        Value::Bool(true) => "yes".to_owned(),
        _ => return None,
    };
    Some((key.to_lowercase(), value))
}

fn shapes(geometry: &Value, depth: u8) -> Vec<BaseShape> {
    let kind = geometry.get("type").and_then(Value::as_str).unwrap_or_default();
    let coordinates = geometry.get("coordinates").unwrap_or(&Value::Null);
    let each = |value: &Value| value.as_array().cloned().unwrap_or_default();
    match kind {
        "Point" => place(coordinates).map(BaseShape::Point).into_iter().collect(),
        "MultiPoint" => places(coordinates).into_iter().map(BaseShape::Point).collect(),
        "LineString" => line(places(coordinates)).into_iter().collect(),
        "MultiLineString" => {
            each(coordinates).iter().filter_map(|part| line(places(part))).collect()
        }
        "Polygon" => rings(coordinates).into_iter().collect(),
        "MultiPolygon" => each(coordinates).iter().filter_map(rings).collect(),
        "GeometryCollection" if depth > 0 => {
            each(geometry.get("geometries").unwrap_or(&Value::Null))
                .iter()
                .flat_map(|part| shapes(part, depth - 1))
                .collect()
        }
        _ => Vec::new(),
    }
}

fn rings(coordinates: &Value) -> Option<BaseShape> {
    area(coordinates.as_array()?.iter().map(places).collect())
}

/// The usable positions of a list.
fn places(coordinates: &Value) -> Vec<LatLon> {
    coordinates.as_array().into_iter().flatten().filter_map(place).collect()
}

fn place(position: &Value) -> Option<LatLon> {
    let number = |index: usize| position.get(index).and_then(Value::as_f64);
    LatLon::new(number(1)?, number(0)?).ok()
}
