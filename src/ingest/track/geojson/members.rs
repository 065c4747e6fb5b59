//! Recognises GeoJSON by the members of its outermost object, wherever they stand in it. Layer: `ingest`.

use std::fmt;

use serde::de::{Deserializer, IgnoredAny, MapAccess, Visitor};
use serde_json::Value;

use super::TYPES;

/// Whether the first object of a text has a type of GeoJSON and a member with its places; what follows damage or
/// the end is not asked for.
pub(super) fn show_geojson(text: &str) -> bool {
    let text = text.trim_start_matches(|c: char| c.is_whitespace() || c == '\u{1e}');
    let mut members = Members::default();
    // what was seen before a fault counts
    let _ = serde_json::Deserializer::from_str(text).deserialize_map(&mut members);
    members.typed && members.placed
}

/// What the outermost object has.
#[derive(Default)]
struct Members {
    typed: bool,
    placed: bool,
}

impl<'de> Visitor<'de> for &mut Members {
    type Value = ();

    fn expecting(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
        formatter.write_str("an object of GeoJSON")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        while let Some(key) = map.next_key::<String>()? {
            match key.as_str() {
                "type" => {
                    let kind: Value = map.next_value()?;
                    self.typed |= kind.as_str().is_some_and(|kind| TYPES.contains(&kind));
                }
                "features" | "geometry" | "coordinates" | "geometries" => {
                    self.placed = true;
                    map.next_value::<IgnoredAny>()?;
                }
                _ => {
                    map.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(())
    }
}
