//! Collects the values of one point: coordinates from the start tag, then each child element.
//! Layer: `ingest`.

use quick_xml::events::BytesStart;

use super::element::{Field, PointKind};
use crate::ingest::track::fault::Fault;
use crate::ingest::track::{time, value};
use crate::model::{Fix, Waypoint};
use crate::units::{GpsHeight, LatLon, Metres};

/// A point between its start tag and its end tag.
#[derive(Clone, Debug)]
pub(super) struct OpenPoint {
    pub(super) kind: PointKind,
    /// `None` where its coordinates are invalid, so that the rest is not used.
    pub(super) fix: Option<Fix>,
    pub(super) name: Option<String>,
    pub(super) description: Option<String>,
    pub(super) comment: Option<String>,
    pub(super) symbol: Option<String>,
    pub(super) averaged: Option<u32>,
}

/// Coordinates from a start tag.
pub(super) struct ReadPlace {
    pub(super) at: LatLon,
    pub(super) comma: bool,
}

/// The place that a start tag states.
pub(super) fn place(tag: &BytesStart) -> Result<ReadPlace, Fault> {
    let (mut latitude, mut longitude) = (None, None);
    for attribute in tag.html_attributes().with_checks(false).flatten() {
        match attribute.key.into_inner() {
            "lat" => latitude = Some(attribute.value),
            "lon" => longitude = Some(attribute.value),
            _ => {}
        }
    }
    let (Some(latitude), Some(longitude)) = (latitude, longitude) else {
        return Err(Fault::NoCoordinates);
    };
    if latitude.trim().is_empty() || longitude.trim().is_empty() {
        return Err(Fault::NoCoordinates);
    }
    let (Some(latitude), Some(longitude)) = (degrees(&latitude), degrees(&longitude)) else {
        return Err(Fault::CoordinatesUnreadable);
    };
    let at = LatLon::new(latitude.value, longitude.value).map_err(|_| Fault::OffTheGlobe)?;
    Ok(ReadPlace { at, comma: latitude.comma || longitude.comma })
}

fn degrees(text: &str) -> Option<value::ReadNumber> {
    if text.contains('&') {
        return value::coordinate(&quick_xml::escape::unescape(text).ok()?);
    }
    value::coordinate(text)
}

impl OpenPoint {
    /// A point with coordinates only.
    pub(super) fn new(kind: PointKind, fix: Option<Fix>) -> Self {
        Self {
            kind,
            fix,
            name: None,
            description: None,
            comment: None,
            symbol: None,
            averaged: None,
        }
    }

    /// Sets one value. Returns the fault or assumption, if any.
    pub(super) fn take(&mut self, field: Field, text: &str, commas: bool) -> Option<Fault> {
        let fix = self.fix.as_mut()?;
        match field {
            Field::Time => return take_time(fix, text),
            Field::Height => return take_height(fix, text, commas),
            Field::Hdop => return take_dilution(&mut fix.hdop, text),
            Field::Vdop => return take_dilution(&mut fix.vdop, text),
            Field::Pdop => return take_dilution(&mut fix.pdop, text),
            Field::Satellites => match value::satellites(text) {
                None => return Some(Fault::SatellitesUnreadable),
                read => fix.satellites = read,
            },
            Field::FixKind => match value::fix_kind(text) {
                None => return Some(Fault::FixUnreadable),
                read => fix.kind = read,
            },
            // fixes of a track carry no text, to save memory
            _ if self.kind == PointKind::Track => {}
            Field::Name => self.name = Some(text.to_owned()),
            Field::Description => self.description = Some(text.to_owned()),
            Field::Comment => self.comment = Some(text.to_owned()),
            Field::Symbol => self.symbol = Some(text.to_owned()),
        }
        None
    }

    /// The point as a waypoint; `None` where its place is lost.
    pub(super) fn into_waypoint(self) -> Option<Waypoint> {
        Some(Waypoint {
            fix: self.fix?,
            name: self.name,
            description: self.description,
            comment: self.comment,
            symbol: self.symbol,
            averaged: self.averaged,
        })
    }
}

fn take_time(fix: &mut Fix, text: &str) -> Option<Fault> {
    let Some(read) = time::read(text) else { return Some(Fault::TimeUnreadable) };
    fix.time = Some(read.instant);
    read.zone_assumed.then_some(Fault::ZoneAssumed)
}

/// Plausible heights of a receiver on foot.
const HIGHEST: f64 = 100_000.0;

fn take_height(fix: &mut Fix, text: &str, commas: bool) -> Option<Fault> {
    let read = value::height(text, commas).filter(|read| read.value.abs() <= HIGHEST);
    let Some(read) = read else { return Some(Fault::HeightUnreadable) };
    fix.height = Some(GpsHeight(Metres(read.value)));
    if read.comma {
        return Some(Fault::DecimalComma);
    }
    read.unit.then_some(Fault::UnitDropped)
}

fn take_dilution(into: &mut Option<f32>, text: &str) -> Option<Fault> {
    let Some(read) = value::dilution(text) else { return Some(Fault::DilutionUnreadable) };
    #[allow(clippy::cast_possible_truncation, reason = "a rough figure below a million")]
    {
        *into = Some(read.value as f32);
    }
    read.comma.then_some(Fault::DecimalComma)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(attributes: &str) -> Result<(f64, f64), Fault> {
        let tag = format!("trkpt {attributes}");
        place(&BytesStart::from_content(tag.as_str(), 5))
            .map(|place| (place.at.latitude(), place.at.longitude()))
    }

    #[test]
    fn places_are_read_from_sloppy_tags() {
        assert_eq!(read(r#"lat="-42.5" lon="146.25""#), Ok((-42.5, 146.25)));
        assert_eq!(read(r"lon='146.25'  lat = ' -42.5 '"), Ok((-42.5, 146.25)));
        assert_eq!(read("lat=-42.5 lon=146.25"), Ok((-42.5, 146.25)));
        assert_eq!(read(r#"lat="-42,5" lon="146,25""#), Ok((-42.5, 146.25)));
        assert_eq!(read(r#"lat="&#52;2.5" lon="1""#), Ok((42.5, 1.0)));
        assert_eq!(read(r#"lat="0" lon="180""#), Ok((0.0, 180.0)));
        assert_eq!(read(r#"lat="0" lon="-180.0""#), Ok((0.0, 180.0)));
    }

    #[test]
    fn invalid_positions_state_the_reason() {
        assert_eq!(read(r#"lat="91" lon="1""#), Err(Fault::OffTheGlobe));
        assert_eq!(read(r#"lat="1""#), Err(Fault::NoCoordinates));
        assert_eq!(read(r#"lat="" lon="1""#), Err(Fault::NoCoordinates));
        assert_eq!(read(r#"lat="nan" lon="1""#), Err(Fault::CoordinatesUnreadable));
        assert_eq!(read(r#"lat="42&nbsp;" lon="1""#), Err(Fault::CoordinatesUnreadable));
    }
}
