//! Writes finds and tracks as GeoJSON (RFC 7946) with Darwin Core names. A find without a position
//! keeps its properties and has no geometry. Layer: `present`.

use std::io::{self, Write};

use geojson::{Feature, Geometry, JsonObject, JsonValue, feature};

use super::darwin_core::{self, Value};
use super::exchange::{self, Exchange};
use super::track_line::TrackLine;
use crate::model::KeptFind;

/// The finds as one collection of points.
///
/// Properties are Darwin Core terms; unknown values are omitted. The uncertainty is a property in metres, not a
/// circle.
///
/// # Units
/// Degrees on WGS 84, longitude first as the format requires, to seven decimals; metres.
///
/// # Examples
/// ```
/// use trug::present::geojson;
///
/// let empty: serde_json::Value = serde_json::from_str(&geojson::finds(&[]))?;
/// assert_eq!(empty["type"], "FeatureCollection");
/// assert_eq!(empty["features"], serde_json::json!([]));
/// # Ok::<(), serde_json::Error>(())
/// ```
///
/// # References
/// RFC 7946 (2016), The GeoJSON Format.
#[must_use]
pub fn finds(finds: &[KeptFind]) -> String {
    finds_and_tracks(finds, &[])
}

/// Any features as one collection, marked as written by trug in its first line, so that an import knows it.
#[must_use]
pub(crate) fn collection(members: &[(&str, &str)], features: &[JsonValue]) -> String {
    let generator = concat!("trug ", env!("CARGO_PKG_VERSION"));
    let quoted = |text: &str| JsonValue::from(text).to_string();
    let members: Vec<String> = members
        .iter()
        .map(|(name, value)| [&quoted(name), ":", &quoted(value), ","].concat())
        .collect();
    let features: Vec<String> = features.iter().map(ToString::to_string).collect();
    format!(
        "{{\"type\":\"FeatureCollection\",\"generator\":\"{generator}\",{}\"features\":[\n{}\n]}}\n",
        members.concat(),
        features.join(",\n")
    )
}

/// The tracks as one collection of lines, cut at gaps and at the 180th meridian.
///
/// The interval of each track is in its properties. A track shows where finds are: whoever leaves finds inexact
/// leaves the track of their outing out.
#[must_use]
pub fn tracks(tracks: &[TrackLine]) -> String {
    finds_and_tracks(&[], tracks)
}

/// Finds and tracks in one collection.
#[must_use]
pub fn finds_and_tracks(finds: &[KeptFind], tracks: &[TrackLine]) -> String {
    exchange::into_text(|bytes| Box::new(Collection::new(bytes)), finds, tracks)
}

/// A collection that is written feature by feature.
///
/// Streams: memory holds one feature.
#[derive(Debug)]
pub struct Collection<W> {
    out: W,
    begun: bool,
}

impl<W: Write> Collection<W> {
    /// Creates an empty document.
    pub fn new(out: W) -> Self {
        Self { out, begun: false }
    }

    fn begin(&mut self) -> io::Result<()> {
        let generator = concat!("trug ", env!("CARGO_PKG_VERSION"));
        self.begun = true;
        write!(
            self.out,
            "{{\"type\":\"FeatureCollection\",\"generator\":\"{generator}\",\"features\":["
        )
    }

    fn feature(&mut self, feature: &Feature) -> io::Result<()> {
        let separator = if self.begun { ",\n" } else { "\n" };
        if !self.begun {
            self.begin()?;
        }
        write!(self.out, "{separator}{feature}")
    }
}

impl<W: Write> Exchange for Collection<W> {
    fn find(&mut self, one: &KeptFind) -> io::Result<()> {
        self.feature(&find(one))
    }

    fn track(&mut self, one: &TrackLine) -> io::Result<()> {
        self.feature(&track(one))
    }

    fn end(mut self: Box<Self>) -> io::Result<()> {
        if !self.begun {
            self.begin()?;
        }
        self.out.write_all(b"\n]}\n")?;
        self.out.flush()
    }
}

fn find(find: &KeptFind) -> Feature {
    let terms = darwin_core::occurrence(find);
    let geometry = find.place.as_ref().map(|place| {
        Geometry::new_point([rounded(place.at.longitude()), rounded(place.at.latitude())])
    });
    let properties = terms.into_iter().map(|(term, value)| (term.to_owned(), json(value)));
    feature(darwin_core::urn(find.id), geometry, properties.collect())
}

fn track(track: &TrackLine) -> Feature {
    let lines: Vec<Vec<[f64; 2]>> = track
        .lines()
        .into_iter()
        .map(|line| line.into_iter().map(|(x, y)| [rounded(x), rounded(y)]).collect())
        .collect();
    let geometry = (!lines.is_empty()).then(|| Geometry::new_multi_line_string(lines));
    let mut properties = JsonObject::new();
    let id = darwin_core::urn(track.outing);
    properties.insert("eventID".into(), id.as_str().into());
    properties.insert("eventDate".into(), interval(track).into());
    if let Some(collector) = &track.collector {
        properties.insert("recordedBy".into(), collector.as_str().into());
    }
    feature(id, geometry, properties)
}

/// The time interval of a track, in UTC.
fn interval(track: &TrackLine) -> String {
    match (track.points.first(), track.points.last()) {
        (Some(first), Some(last)) => {
            format!("{}/{}", whole_second(first.time), whole_second(last.time))
        }
        _ => track.date.to_string(),
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
        // whole numbers are written without `.0`
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
