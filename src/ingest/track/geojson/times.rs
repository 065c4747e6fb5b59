//! Finds the times of a line or a point among its properties. The names are common practice: no standard
//! defines any. Layer: `ingest`.

use serde_json::{Map, Value};

use crate::ingest::track::time;
use crate::units::Timestamp;

/// Names of a list of times, one for each position; small letters and digits only.
const LISTS: [&str; 8] = [
    "coordtimes",
    "times",
    "coordinatetimes",
    "coordstimes",
    "timestamps",
    "time",
    "timestamp",
    "datetimes",
];

/// Names of the time of a point.
const SINGLE: [&str; 14] = [
    "time",
    "timestamp",
    "datetime",
    "when",
    "utc",
    "utctime",
    "timeutc",
    "gpstime",
    "fixtime",
    "recordedat",
    "timestamputc",
    "datetimeutc",
    "eventdate",
    "date",
];

/// Properties that hold further properties of the coordinates.
const NESTED: [&str; 2] = ["coordinateproperties", "coordinatesproperties"];

/// A time as read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Read {
    pub(super) instant: Timestamp,
    pub(super) zone_assumed: bool,
}

/// Whether a property of this name is the time of a point.
pub(in crate::ingest::track) fn names_a_time(name: &str) -> bool {
    SINGLE.contains(&plain(name).as_str())
}

/// One entry of a list: a time, or text that is none.
pub(super) type Entry = Result<Option<Read>, String>;

/// The times beside a line, flattened; empty where there are none.
pub(super) fn of_line(properties: &Map<String, Value>) -> Vec<Entry> {
    let find = |names: &[&str]| {
        names.iter().find_map(|name| properties.iter().find(|(key, _)| plain(key) == **name))
    };
    for name in LISTS {
        if let Some((_, Value::Array(list))) = find(&[name]) {
            let mut times = Vec::with_capacity(list.len());
            flatten(list, &mut times);
            return times;
        }
    }
    match find(&NESTED) {
        Some((_, Value::Object(inner))) => {
            let nested = |key: &str| NESTED.contains(&plain(key).as_str());
            if inner.keys().any(|key| nested(key)) { Vec::new() } else { of_line(inner) }
        }
        _ => Vec::new(),
    }
}

fn flatten(list: &[Value], into: &mut Vec<Entry>) {
    for value in list {
        match value {
            Value::Array(inner) => flatten(inner, into),
            value => into.push(entry(value)),
        }
    }
}

/// The time of a point; `None` where no property names one.
pub(super) fn of_point(properties: &Map<String, Value>) -> Option<Entry> {
    SINGLE.iter().find_map(|name| {
        let (_, value) = properties.iter().find(|(key, _)| plain(key) == **name)?;
        // a bare date is not a time
        let dated = value.as_str().is_some_and(|text| !text.contains(':') && text.len() <= 10);
        (!value.is_null() && !dated).then(|| entry(value))
    })
}

fn entry(value: &Value) -> Entry {
    match value {
        Value::Null => Ok(None),
        Value::String(text) if text.trim().is_empty() => Ok(None),
        Value::String(text) => match time::read(text.trim()) {
            Some(read) => Ok(Some(Read { instant: read.instant, zone_assumed: read.zone_assumed })),
            None => text.trim().parse().ok().and_then(since_1970).map(Some).ok_or(text.clone()),
        },
        Value::Number(number) => {
            let read = number.as_f64().and_then(since_1970);
            read.map(Some).ok_or_else(|| number.to_string())
        }
        other => Err(other.to_string()),
    }
}

/// Seconds or milliseconds since 1970, distinguished by their size, from 1980 (when the satellites of the
/// first system had their epoch) to 2100.
pub(super) fn since_1970(number: f64) -> Option<Read> {
    const FIRST: f64 = 315_964_800.0;
    const LAST: f64 = 4_102_444_800.0;
    let seconds = if number >= 1e11 { number / 1000.0 } else { number };
    if !(FIRST..LAST).contains(&seconds) {
        return None;
    }
    #[allow(clippy::cast_possible_truncation, reason = "within range")]
    let instant = Timestamp::from_millisecond((seconds * 1000.0).round() as i64).ok()?;
    Some(Read { instant, zone_assumed: false })
}

/// A name for comparison: small letters and digits only.
pub(super) fn plain(name: &str) -> String {
    name.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}
