//! Reads the edits of one find by another program as amendments, and refuses values that no find can have.
//! Layer: `store`.
//!
//! What no find can have (a point on another continent, a radius of zero) is refused: the value before stays in
//! force, and the journal keeps the refused one with its reason. What may be a slip is taken over and reported.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::Connection;
use rusqlite::types::Value;

use super::far::Places;
use super::text;
use crate::earth::geodesic;
use crate::model::{Determination, Field, Patch, RADII, Refusal, TextProperty};
use crate::store::fault::Attempt;
use crate::store::geometry;
use crate::units::{LatLon, Metres, Seconds};

/// The first value before and the last one after the edits of one column.
pub(super) type Edit = (Value, Value);

/// The edits of one find.
pub(super) struct Edited<'a> {
    pub(super) work: &'a Connection,
    pub(super) find: i64,
    pub(super) columns: &'a BTreeMap<String, Edit>,
}

impl Edited<'_> {
    /// The amendments that the edits amount to; refused ones say why. The row holds the values before them.
    pub(super) fn patches(&self, places: &mut Places) -> Attempt<Vec<Patch>> {
        let mut patches = Vec::new();
        patches.extend(self.position(places)?);
        for (column, (before, after)) in self.columns {
            let (was, value) = (plain(before), plain(after));
            if was == value || ["geom", "radius95_m"].contains(&column.as_str()) {
                continue;
            }
            let property = match column.as_str() {
                "record_number" => TextProperty::Number,
                "place_name" => TextProperty::Place,
                "substrate" => TextProperty::Substrate,
                "host" => TextProperty::Host,
                "habitat" => TextProperty::Habitat,
                "container" => TextProperty::Container,
                "notes" => TextProperty::Field(Field::Notes),
                other => {
                    patches.extend(self.special(other, was.is_some(), value)?);
                    continue;
                }
            };
            patches.push(match value {
                None if property == TextProperty::Number => emptied("number"),
                value => Patch::Text { property, value },
            });
        }
        Ok(patches)
    }

    fn special(&self, column: &str, was: bool, value: Option<String>) -> Attempt<Option<Patch>> {
        Ok(match (column, value) {
            ("withdrawn", value) => withdrawn(was, value),
            ("collector", Some(name)) => Some(Patch::Collector(name)),
            ("collector", None) => Some(emptied("collector")),
            ("scientific_name", Some(name)) if !name.contains(char::is_alphabetic) => {
                Some(refused("determination", name, Refusal::NotAName))
            }
            ("scientific_name", name) => {
                let name = name.unwrap_or_default();
                let named = Determination { name, accepted: true, ..Determination::default() };
                Some(Patch::Determination(named))
            }
            ("found_time", Some(time)) => Some(self.time(time)?),
            ("found_time", None) => Some(emptied("time")),
            _ => None,
        })
    }

    fn time(&self, written: String) -> Attempt<Patch> {
        let Ok(when) = written.parse::<Timestamp>() else {
            return Ok(refused("time", written, Refusal::NotATime));
        };
        let row = text::row_of(self.work, self.find)?;
        let clock = text::zone_of(self.work, row.outing)?.to_datetime(when);
        let days = row.date.until(clock.date()).map_or(i32::MAX, |span| span.get_days().abs());
        if days > 1 {
            return Ok(refused("time", written, Refusal::AnotherDay { collected: row.date }));
        }
        let within = row.when.map_or(Seconds(30.0), |(_, within)| within);
        Ok(Patch::Time { clock, within })
    }

    /// A moved point keeps its radius unless that was edited too; a point whose radius was removed is no position.
    fn position(&self, places: &mut Places) -> Attempt<Option<Patch>> {
        let (outing, geom, radius): (i64, Value, Value) = self
            .work
            .prepare_cached("SELECT outing_id, geom, radius95_m FROM finds WHERE id = ?1")?
            .query_row([self.find], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
        let edited = |column: &str, now: &Value| {
            self.columns.get(column).cloned().unwrap_or_else(|| (now.clone(), now.clone()))
        };
        let ((was, shape), (was_radius, radius)) =
            (edited("geom", &geom), edited("radius95_m", &radius));
        let is_same = match (&was, &shape) {
            (Value::Blob(was), Value::Blob(is)) => {
                was == is || text::same_point(Some(was), Some(is))
            }
            (was, is) => was == is,
        };
        if is_same && was_radius == radius {
            return Ok(None);
        }
        let before = blob(&was).and_then(geometry::position);
        let was_located = before.is_some() && radius_of(&was_radius).is_some();
        if is_empty(&shape) || radius == Value::Null && was_located && is_same {
            return Ok(was_located.then_some(Patch::Unlocated));
        }
        let coordinates = blob(&shape).and_then(geometry::coordinates);
        let value = coordinates.map_or_else(String::new, |(x, y)| format!("{y} {x}"));
        let refused = |why| Ok(Some(refused("position", value.clone(), why)));
        let Some(at) = coordinates.and_then(|(x, y)| LatLon::new(y, x).ok()) else {
            return refused(Refusal::NotAPoint);
        };
        let Some(within_m) = radius_of(&radius) else {
            let is_missing = radius == Value::Null;
            return refused(if is_missing { Refusal::WithoutRadius } else { Refusal::NotARadius });
        };
        if before.is_none_or(|before| geodesic::distance(before, at) > NEAR)
            && let Some(why) = places.refusal(self.work, outing, at)?
        {
            return refused(why);
        }
        let (latitude, longitude) = (at.latitude(), at.longitude());
        Ok(Some(Patch::Position { latitude, longitude, within_m }))
    }
}

/// A point that was moved no farther is where it was, wherever the track is.
const NEAR: Metres = Metres(1_000.0);

fn blob(value: &Value) -> Option<&[u8]> {
    match value {
        Value::Blob(bytes) => Some(bytes),
        _ => None,
    }
}

/// No geometry, or one without a point.
fn is_empty(shape: &Value) -> bool {
    match shape {
        Value::Null => true,
        Value::Blob(bytes) => geometry::extent(bytes) == Some(geometry::Extent::Empty),
        _ => false,
    }
}

fn radius_of(value: &Value) -> Option<f64> {
    let metres = match value {
        Value::Real(metres) => *metres,
        // a column of the store holds no radius beyond
        Value::Integer(metres) => f64::from(i32::try_from(*metres).ok()?),
        _ => return None,
    };
    RADII.contains(&metres).then_some(metres)
}

fn refused(property: &str, value: String, why: Refusal) -> Patch {
    Patch::Refused { property: property.to_owned(), value, why }
}

fn emptied(property: &str) -> Patch {
    refused(property, String::new(), Refusal::Emptied)
}

/// A moment or yes withdraws; no, or nothing, restores.
fn withdrawn(was: bool, value: Option<String>) -> Option<Patch> {
    let lower = value.as_deref().unwrap_or("no").to_lowercase();
    let is = match lower.as_str() {
        "0" | "false" | "f" | "no" | "n" => false,
        "1" | "true" | "t" | "yes" | "y" => true,
        _ if lower.parse::<Timestamp>().is_ok() || lower.parse::<Date>().is_ok() => true,
        _ => return Some(refused("withdrawn", value.unwrap_or_default(), Refusal::NotYesOrNo)),
    };
    (is != was).then_some(Patch::Withdrawn(is))
}

/// Text without blanks at its ends; `None` for nothing.
fn plain(value: &Value) -> Option<String> {
    let text = match value {
        Value::Text(text) => text.trim().to_owned(),
        Value::Integer(number) => number.to_string(),
        Value::Real(number) => number.to_string(),
        Value::Null | Value::Blob(_) => return None,
    };
    (!text.is_empty()).then_some(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_withdraws_is_a_moment_or_yes() {
        let text = |text: &str| Some(text.to_owned());
        assert_eq!(withdrawn(false, text("2026-06-01T12:00:00Z")), Some(Patch::Withdrawn(true)));
        assert_eq!(withdrawn(false, text("1")), Some(Patch::Withdrawn(true)));
        assert_eq!(withdrawn(true, None), Some(Patch::Withdrawn(false)));
        assert_eq!(withdrawn(false, text("false")), None);
        assert!(matches!(
            withdrawn(false, text("perhaps")),
            Some(Patch::Refused { why: Refusal::NotYesOrNo, .. })
        ));
    }

    #[test]
    fn radii_are_those_of_surveys() {
        assert_eq!(radius_of(&Value::Integer(7)), Some(7.0));
        for value in [0.0, -3.0, f64::NAN, f64::INFINITY, 1e6] {
            assert_eq!(radius_of(&Value::Real(value)), None, "{value}");
        }
        assert_eq!(radius_of(&Value::Integer(i64::MAX)), None);
    }
}
