//! How do finds and ways look as GeoJSON (RFC 7946), with the names of Darwin Core? A find without a
//! position keeps its properties and has no geometry. Layer: `present`.

use geojson::{Feature, FeatureCollection, Geometry, JsonObject, JsonValue, feature};

use super::darwin_core::{self, Value};
use super::way::Way;
use crate::model::KeptFind;

/// The finds as one collection of points.
///
/// # Units
/// Degrees on WGS 84, longitude first as the format wants it, to seven decimals; metres.
///
/// # References
/// RFC 7946 (2016), The GeoJSON Format.
#[must_use]
pub fn finds(finds: &[KeptFind]) -> String {
    collection(finds.iter().map(find).collect())
}

/// The ways as one collection of lines, cut at gaps and at the 180th meridian.
#[must_use]
pub fn ways(ways: &[Way]) -> String {
    collection(ways.iter().map(way).collect())
}

/// Finds and ways in one collection.
#[must_use]
pub fn finds_and_ways(finds: &[KeptFind], ways: &[Way]) -> String {
    collection(finds.iter().map(find).chain(ways.iter().map(way)).collect())
}

fn collection(features: Vec<Feature>) -> String {
    let mut text = FeatureCollection { bbox: None, features, foreign_members: None }.to_string();
    text.push('\n');
    text
}

fn find(find: &KeptFind) -> Feature {
    let terms = darwin_core::occurrence(find);
    let geometry = find.place.as_ref().map(|place| {
        Geometry::new_point([rounded(place.at.longitude()), rounded(place.at.latitude())])
    });
    let properties = terms.into_iter().map(|(term, value)| (term.to_owned(), json(value)));
    feature(darwin_core::lasting_name(find.id), geometry, properties.collect())
}

fn way(way: &Way) -> Feature {
    let lines: Vec<Vec<[f64; 2]>> = way
        .lines()
        .into_iter()
        .map(|line| line.into_iter().map(|(x, y)| [rounded(x), rounded(y)]).collect())
        .collect();
    let geometry = (!lines.is_empty()).then(|| Geometry::new_multi_line_string(lines));
    let mut properties = JsonObject::new();
    let id = darwin_core::lasting_name(way.outing);
    properties.insert("eventID".into(), id.as_str().into());
    properties.insert("eventDate".into(), interval(way).into());
    if let Some(collector) = &way.collector {
        properties.insert("recordedBy".into(), collector.as_str().into());
    }
    feature(id, geometry, properties)
}

/// From the first to the last instant of a way, in UTC.
fn interval(way: &Way) -> String {
    match (way.points.first(), way.points.last()) {
        (Some(first), Some(last)) => {
            format!("{}/{}", whole_second(first.time), whole_second(last.time))
        }
        _ => way.date.to_string(),
    }
}

fn whole_second(time: crate::units::Timestamp) -> String {
    time.strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

fn feature(id: String, geometry: Option<Geometry>, properties: JsonObject) -> Feature {
    Feature {
        bbox: None,
        geometry,
        id: Some(feature::Id::String(id)),
        properties: Some(properties),
        foreign_members: None,
    }
}

fn json(value: Value) -> JsonValue {
    match value {
        Value::Text(text) => text.into(),
        // A whole number reads better without `.0`, and JSON knows no difference.
        #[allow(clippy::cast_possible_truncation, reason = "the guard says that it fits")]
        Value::Number(number) if number.fract() == 0.0 && number.abs() < 1e15 => {
            (number as i64).into()
        }
        Value::Number(number) => number.into(),
    }
}

fn rounded(degrees: f64) -> f64 {
    darwin_core::seven_decimals(degrees)
}
