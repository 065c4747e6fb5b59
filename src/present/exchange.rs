//! Defines the interface of all exchange formats: finds, then tracks, are written one by one in
//! constant memory. Layer: `present`.
//!
//! A million finds fit into bounded memory: a form is begun, finds and tracks are passed to it one by one, and it
//! is completed.

use std::io::{self, Write};

use super::track_line::TrackLine;
use super::{csv, geojson, geoparquet, gpx, kml};
use crate::model::KeptFind;

/// A file that is written find by find, then track by track.
///
/// Not every format can hold everything: what one leaves out is stated in its module.
pub trait Exchange {
    /// Writes a find. All finds must come before the tracks.
    ///
    /// # Errors
    /// When the disk reports an error.
    fn find(&mut self, find: &KeptFind) -> io::Result<()>;

    /// Writes a track, where the format supports one.
    ///
    /// # Errors
    /// When the disk reports an error.
    fn track(&mut self, track: &TrackLine) -> io::Result<()>;

    /// Completes the file.
    ///
    /// # Errors
    /// When the disk reports an error.
    fn end(self: Box<Self>) -> io::Result<()>;
}

/// An exchange format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// RFC 7946.
    GeoJson,
    /// GPX 1.1.
    Gpx,
    /// KML 2.2.
    Kml,
    /// RFC 4180.
    Csv,
    /// GeoParquet 1.1.
    GeoParquet,
}

impl Form {
    /// Whether it supports tracks.
    #[must_use]
    pub fn holds_tracks(self) -> bool {
        !matches!(self, Self::Csv | Self::GeoParquet)
    }

    /// A file of this format, written into `out`.
    ///
    /// # Errors
    /// When the file header cannot be written.
    pub fn begin<'a>(self, out: impl Write + Send + 'a) -> io::Result<Box<dyn Exchange + 'a>> {
        Ok(match self {
            Self::GeoJson => Box::new(geojson::Collection::new(out)),
            Self::Gpx => Box::new(gpx::Document::new(out)),
            Self::Kml => Box::new(kml::Document::new(out)),
            Self::Csv => Box::new(csv::Table::new(out)),
            Self::GeoParquet => Box::new(geoparquet::Table::new(out)?),
        })
    }
}

/// The complete document as text, for a terminal or a test.
pub(super) fn into_text(
    begin: impl for<'a> FnOnce(&'a mut Vec<u8>) -> Box<dyn Exchange + 'a>,
    finds: &[KeptFind],
    tracks: &[TrackLine],
) -> String {
    let mut bytes = Vec::new();
    let mut file = begin(&mut bytes);
    // Writing into memory cannot fail.
    let _ = finds.iter().try_for_each(|find| file.find(find));
    let _ = tracks.iter().try_for_each(|track| file.track(track));
    let _ = file.end();
    String::from_utf8(bytes).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    fn written(form: Form, finds: usize, tracks: usize) -> String {
        let find = fixture::kept_find("AQ-1");
        let track = TrackLine {
            outing: find.outing,
            date: find.date,
            collector: None,
            points: fixture::day().track,
        };
        let mut bytes = Vec::new();
        let mut file = form.begin(&mut bytes).unwrap();
        (0..finds).for_each(|_| file.find(&find).unwrap());
        (0..tracks).for_each(|_| file.track(&track).unwrap());
        file.end().unwrap();
        String::from_utf8_lossy(&bytes).into_owned()
    }

    #[test]
    fn streamed_gpx_equals_one_document() {
        for (finds, tracks) in [(0, 0), (1, 0), (1_203, 2), (0, 1), (500, 0)] {
            let text = written(Form::Gpx, finds, tracks);
            let read = ::gpx::read(text.as_bytes()).unwrap();
            assert_eq!(text.matches("</gpx>").count(), 1);
            assert!(!text.contains("\" />\n</gpx>"), "closed twice: {text}");
            assert_eq!((read.waypoints.len(), read.tracks.len()), (finds, tracks));
            assert_eq!(text.matches("<gpx").count(), 1);
            assert_eq!(text.matches("<?xml").count(), 1);
        }
    }

    #[test]
    fn geojson_is_valid_for_any_number_of_features() {
        for (finds, tracks) in [(0, 0), (1, 0), (3, 2), (0, 1)] {
            let read: serde_json::Value =
                serde_json::from_str(&written(Form::GeoJson, finds, tracks)).unwrap();
            assert_eq!(read["features"].as_array().unwrap().len(), finds + tracks);
        }
    }

    #[test]
    fn kml_elements_are_balanced() {
        for (finds, tracks) in [(0, 0), (2, 0), (2, 3)] {
            let text = written(Form::Kml, finds, tracks);
            assert_eq!(text.matches("<Placemark").count(), finds + tracks);
            assert_eq!(text.matches("<Folder>").count(), usize::from(tracks > 0));
            assert_eq!(text.matches("</Folder>").count(), usize::from(tracks > 0));
            assert!(text.trim_end().ends_with("</kml>"));
        }
    }
}
