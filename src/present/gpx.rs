//! Writes finds, tracks and routes as GPX 1.1, valid against its schema. Finds without a position are
//! omitted, since GPX cannot represent them. Layer: `present`.

use std::io::{self, Write};

use geo::Point;
use gpx::{Gpx, GpxVersion};
use time::OffsetDateTime;

use super::derived_time::{self, OneTime};
use super::exchange::Exchange;
use super::track_line::TrackLine;
use crate::error::replaced;
use crate::model::{KeptFind, Located, Route, TrackPoint, Waypoint};
use crate::units::{GpsHeight, LatLon, Timestamp};

/// A recorded or estimated track with its name.
///
/// The estimated track or a recorded one: whatever points it is given.
#[derive(Clone, Copy, Debug)]
pub struct NamedTrack<'a> {
    /// Its name on the receiver.
    pub name: &'a str,
    /// Its description.
    pub description: Option<&'a str>,
    /// Its points; a new segment begins after each gap.
    pub points: &'a [TrackPoint],
}

/// Finds as waypoints, each under its number, with its name and its 95 % radius as a comment.
///
/// GPX has no element for an uncertainty, hence the comment. Finds without a position are left out.
///
/// # Accuracy
/// Positions are written to 1e-8 degree, about a millimetre, heights to a centimetre.
///
/// # Examples
/// ```
/// use trug::present::gpx;
///
/// let empty = gpx::finds(&[]);
/// assert!(empty.starts_with("<?xml") && empty.contains("<gpx") && !empty.contains("<wpt"));
/// ```
#[must_use]
pub fn finds(finds: &[KeptFind]) -> String {
    let waypoints = finds.iter().filter_map(|find| {
        let place = find.place.as_ref()?;
        Some(find_waypoint(find, place))
    });
    written(&Gpx { waypoints: waypoints.collect(), ..document() })
}

/// Estimated tracks, split at gaps.
///
/// # Accuracy
/// As [`finds`].
#[must_use]
pub fn tracks(tracks: &[NamedTrack]) -> String {
    finds_and_tracks(&[], tracks)
}

/// Finds as waypoints and tracks, in one document.
///
/// # Accuracy
/// As [`finds`].
#[must_use]
pub fn finds_and_tracks(finds: &[KeptFind], tracks: &[NamedTrack]) -> String {
    let waypoints = finds.iter().filter_map(|find| Some(find_waypoint(find, find.place.as_ref()?)));
    let tracks = tracks.iter().map(|track| gpx::Track {
        name: Some(printable(track.name)),
        description: track.description.map(printable),
        segments: segments(track.points),
        ..gpx::Track::default()
    });
    written(&Gpx { waypoints: waypoints.collect(), tracks: tracks.collect(), ..document() })
}

/// A document that is written in pieces: waypoints first, then tracks, as the schema requires.
#[derive(Debug)]
pub struct Document<W> {
    out: W,
    begun: bool,
    waiting: Vec<gpx::Waypoint>,
}

/// The number of waypoints written together.
const TOGETHER: usize = 500;

impl<W: Write> Document<W> {
    /// Creates an empty document.
    pub fn new(out: W) -> Self {
        Self { out, begun: false, waiting: Vec::new() }
    }

    /// Writes the content between the root tags of a separate document.
    fn piece(&mut self, piece: &Gpx) -> io::Result<()> {
        const END: &str = "</gpx>";
        let whole = written(&document());
        let head = whole.rfind(END).map_or(whole.as_str(), |end| &whole[..end]);
        let text = written(piece);
        let from = if self.begun { head.len() } else { 0 };
        let to = text.rfind(END).unwrap_or(text.len());
        self.begun = true;
        self.out.write_all(text.get(from..to).unwrap_or_default().as_bytes())
    }

    fn flush(&mut self) -> io::Result<()> {
        let waypoints = std::mem::take(&mut self.waiting);
        if waypoints.is_empty() { Ok(()) } else { self.piece(&Gpx { waypoints, ..document() }) }
    }
}

impl<W: Write> Exchange for Document<W> {
    fn find(&mut self, find: &KeptFind) -> io::Result<()> {
        self.waiting.extend(find.place.as_ref().map(|place| find_waypoint(find, place)));
        if self.waiting.len() < TOGETHER { Ok(()) } else { self.flush() }
    }

    fn track(&mut self, track: &TrackLine) -> io::Result<()> {
        self.flush()?;
        let track = gpx::Track {
            name: Some(printable(&track.name())),
            segments: segments(&track.points),
            ..gpx::Track::default()
        };
        self.piece(&Gpx { tracks: vec![track], ..document() })
    }

    fn end(mut self: Box<Self>) -> io::Result<()> {
        self.flush()?;
        if !self.begun {
            self.piece(&document())?;
        }
        self.out.write_all(b"</gpx>\n")?;
        self.out.flush()
    }
}

/// Routes to follow, with the waypoints that belong to them.
///
/// For a receiver to lead along: [`way_out::route`](super::way_out::route) makes one of a way out.
///
/// # Accuracy
/// As [`finds`].
#[must_use]
pub fn routes(routes: &[Route], waypoints: &[Waypoint]) -> String {
    let routes = routes.iter().map(|route| gpx::Route {
        name: route.name.as_deref().map(printable),
        points: route.points.iter().map(waypoint).collect(),
        ..gpx::Route::default()
    });
    let waypoints = waypoints.iter().map(waypoint).collect();
    written(&Gpx { routes: routes.collect(), waypoints, ..document() })
}

fn document() -> Gpx {
    Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(concat!("trug ", env!("CARGO_PKG_VERSION")).to_owned()),
        ..Gpx::default()
    }
}

/// Writes into memory with a known version and four-digit years, so that the writer cannot fail.
fn written(document: &Gpx) -> String {
    let mut bytes = Vec::new();
    let outcome = gpx::write(document, &mut bytes);
    debug_assert!(outcome.is_ok(), "{outcome:?}");
    let text = String::from_utf8(bytes).unwrap_or_default();
    // an empty document is a single tag that must be split
    match text.trim_end().strip_suffix("/>") {
        Some(open) if !text.contains("</gpx>") => format!("{}>\n</gpx>\n", open.trim_end()),
        _ => text + "\n",
    }
}

fn find_waypoint(find: &KeptFind, place: &Located) -> gpx::Waypoint {
    let record = &find.record;
    let number = record.number.as_ref().map(|number| number.0.clone());
    let species = record.name.as_deref().unwrap_or("not determined");
    let comment = format!("{species}; 95 % radius {}", place.radius);
    let mut written = point(place.at);
    written.elevation = elevation(place.height);
    written.time = match derived_time::one_time(find) {
        Some(OneTime::Instant(instant)) => time(instant),
        // the format has no date without a time
        Some(OneTime::Date(_)) | None => None,
    };
    written.name = Some(printable(&number.unwrap_or_else(|| find.id.to_string())));
    written.comment = Some(printable(&comment));
    written.description = Some(description(find)).filter(|text| !text.is_empty());
    written.type_ = Some("find".to_owned());
    written
}

fn description(find: &KeptFind) -> String {
    let record = &find.record;
    let fields = [
        ("place", &record.place),
        ("substrate", &record.substrate),
        ("host", &record.host),
        ("habitat", &record.habitat),
    ];
    let mut parts: Vec<String> = fields
        .iter()
        .filter_map(|(heading, value)| value.as_ref().map(|value| format!("{heading}: {value}")))
        .collect();
    if let Some(derived) = derived_time::beside_written(find) {
        let written = [
            find.record.date.map(|date| date.to_string()),
            find.record.time.map(|time| time.clock.strftime("%H:%M").to_string()),
        ];
        let written: Vec<String> = written.into_iter().flatten().collect();
        parts.push(format!("written: {}; derived: {derived}", written.join(" ")));
    }
    parts.extend(find.conflicts.iter().map(|conflict| format!("conflict: {conflict}")));
    printable(&parts.join("; "))
}

fn segments(points: &[TrackPoint]) -> Vec<gpx::TrackSegment> {
    points
        .split_inclusive(|point| point.gap_after)
        .map(|run| gpx::TrackSegment { points: run.iter().map(track_point).collect() })
        .collect()
}

fn track_point(fix: &TrackPoint) -> gpx::Waypoint {
    let mut written = point(fix.at);
    written.elevation = elevation(fix.height);
    written.time = time(fix.time);
    written
}

fn waypoint(waypoint: &Waypoint) -> gpx::Waypoint {
    let mut written = point(waypoint.fix.at);
    written.elevation = elevation(waypoint.fix.height);
    written.time = waypoint.fix.time.and_then(time);
    written.name = waypoint.name.as_deref().map(printable);
    written.comment = waypoint.comment.as_deref().map(printable);
    written.description = waypoint.description.as_deref().map(printable);
    written.symbol = waypoint.symbol.as_deref().map(printable);
    written
}

/// The schema's longitudes end below 180, so that the date line is written as 180 west.
fn point(at: LatLon) -> gpx::Waypoint {
    let longitude = rounded(at.longitude(), 1e8);
    let longitude = if longitude >= 180.0 { -180.0 } else { longitude };
    gpx::Waypoint::new(Point::new(longitude, rounded(at.latitude(), 1e8)))
}

fn elevation(height: Option<GpsHeight>) -> Option<f64> {
    height.map(|height| rounded(height.0.0, 1e2)).filter(|metres| metres.is_finite())
}

fn rounded(value: f64, scale: f64) -> f64 {
    (value * scale).round() / scale
}

/// A time that the schema can represent: four-digit years.
fn time(instant: Timestamp) -> Option<gpx::Time> {
    let time = OffsetDateTime::from_unix_timestamp_nanos(instant.as_nanosecond()).ok()?;
    (1..=9999).contains(&time.year()).then(|| time.into())
}

/// XML 1.0 forbids most control characters, even escaped; a line break of old machines is a space.
fn printable(text: &str) -> String {
    replaced(text).replace('\r', " ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Fix;
    use crate::units::{Metres, Radius95};

    fn fix(seconds: i64, longitude: f64, gap_after: bool) -> TrackPoint {
        TrackPoint {
            time: Timestamp::from_second(1_777_777_777 + seconds).unwrap(),
            at: LatLon::new(-42.123_456_789_1, longitude).unwrap(),
            height: Some(GpsHeight(Metres(12.3456))),
            radius: Radius95::new(Metres(8.0)).unwrap(),
            activity: crate::model::Activity::Walking,
            gap_after,
        }
    }

    #[test]
    fn gap_begins_a_new_segment() {
        let points = [fix(0, 1.0, false), fix(1, 1.0, true), fix(2, 1.0, false)];
        let text = tracks(&[NamedTrack { name: "a & b", description: None, points: &points }]);
        assert_eq!(text.matches("<trkseg>").count(), 2);
        assert!(text.contains("<name>a &amp; b</name>"));
        assert!(text.contains(r#"lat="-42.12345679" lon="1""#));
        assert!(text.contains("<ele>12.35</ele>"));
    }

    #[test]
    fn longitude_180_is_written_as_minus_180() {
        let text = tracks(&[NamedTrack {
            name: "x",
            description: Some("\u{1b}\u{0}y\u{ffff}"),
            points: &[fix(0, 180.0, false), fix(1, 179.999_999_999, false)],
        }]);
        assert_eq!(text.matches(r#"lon="-180""#).count(), 2);
        assert!(text.contains("<desc>\u{fffd}\u{fffd}y\u{fffd}</desc>"));
    }

    #[test]
    fn times_with_five_digit_years_are_omitted() {
        assert!(time(Timestamp::MIN).is_none());
        assert!(time(Timestamp::UNIX_EPOCH).is_some());
        let waypoint = Waypoint {
            fix: Fix::bare(LatLon::new(1.0, 2.0).unwrap(), Some(Timestamp::MIN)),
            name: Some("gate".into()),
            description: None,
            comment: None,
            symbol: None,
            averaged: None,
        };
        let route = Route { name: Some("out".into()), points: vec![waypoint.clone()] };
        let text = routes(&[route], &[waypoint]);
        assert_eq!(text.matches("<name>gate</name>").count(), 2);
        assert!(!text.contains("<time>"));
        assert!(text.find("<wpt").unwrap() < text.find("<rte").unwrap());
    }

    #[test]
    fn no_finds_give_an_empty_document() {
        assert!(finds(&[]).contains("<gpx version=\"1.1\""));
    }
}
