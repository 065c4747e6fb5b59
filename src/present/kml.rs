//! Writes finds and tracks as KML 2.2, with Darwin Core terms as extended data. Layer: `present`.

use std::io::{self, Write};

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use super::darwin_core::{self, Value};
use super::derived_time::{self, OneTime};
use super::exchange::{self, Exchange};
use super::track_line::TrackLine;
use crate::error::replaced;
use crate::model::KeptFind;

/// The finds as placemarks, with Darwin Core terms as extended data.
///
/// A find without a position is a placemark without a point.
///
/// # Units
/// Degrees on WGS 84, longitude first as the format requires, to seven decimals.
///
/// # References
/// OGC 07-147r2 (2008), KML 2.2.
#[must_use]
pub fn finds(finds: &[KeptFind]) -> String {
    finds_and_tracks(finds, &[])
}

/// The finds and, in a separate folder, the tracks.
#[must_use]
pub fn finds_and_tracks(finds: &[KeptFind], tracks: &[TrackLine]) -> String {
    exchange::into_text(|bytes| Box::new(Document::new(bytes)), finds, tracks)
}

/// A document that is written placemark by placemark.
pub struct Document<W: Write> {
    writer: Writer<W>,
    begun: bool,
    in_folder: bool,
}

type Written = io::Result<()>;

impl<W: Write> Exchange for Document<W> {
    fn find(&mut self, find: &KeptFind) -> Written {
        self.begin()?;
        self.placemark(find)
    }

    fn track(&mut self, track: &TrackLine) -> Written {
        self.begin()?;
        if !self.in_folder {
            self.in_folder = true;
            self.start("Folder", &[])?;
            self.text("name", "Tracks")?;
        }
        self.line(track)
    }

    fn end(mut self: Box<Self>) -> Written {
        self.begin()?;
        if self.in_folder {
            self.close("Folder")?;
        }
        self.close("Document")?;
        self.close("kml")?;
        let out = self.writer.get_mut();
        out.write_all(b"\n")?;
        out.flush()
    }
}

impl<W: Write> Document<W> {
    /// Creates an empty document.
    pub fn new(out: W) -> Self {
        Self { writer: Writer::new_with_indent(out, b' ', 1), begun: false, in_folder: false }
    }

    fn begin(&mut self) -> Written {
        if self.begun {
            return Ok(());
        }
        self.begun = true;
        self.writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
        self.start("kml", &[("xmlns", "http://www.opengis.net/kml/2.2")])?;
        self.start("Document", &[])?;
        self.text("name", "Finds")?;
        self.text("description", concat!("written by trug ", env!("CARGO_PKG_VERSION")))
    }

    fn placemark(&mut self, find: &KeptFind) -> Written {
        let terms = darwin_core::occurrence(find);
        let id = format!("find-{}", find.id);
        self.inside("Placemark", &[("id", &id)], |mark| {
            mark.text("name", &heading(find))?;
            let when = derived_time::one_time(find).map(|time| match time {
                OneTime::Instant(when) => when.strftime("%Y-%m-%dT%H:%M:%SZ").to_string(),
                OneTime::Date(date) => date.to_string(),
            });
            if let Some(when) = when {
                mark.inside("TimeStamp", &[], |stamp| stamp.text("when", &when))?;
            }
            mark.inside("ExtendedData", &[], |data| {
                terms.iter().try_for_each(|(term, value)| data.datum(term, value))
            })?;
            let Some(place) = &find.place else { return Ok(()) };
            let at = coordinates(&[(place.at.longitude(), place.at.latitude())]);
            mark.inside("Point", &[], |point| point.text("coordinates", &at))
        })
    }

    fn datum(&mut self, term: &str, value: &Value) -> Written {
        self.inside("Data", &[("name", term)], |datum| datum.text("value", &value.to_string()))
    }

    fn line(&mut self, track: &TrackLine) -> Written {
        let id = format!("way-{}", track.outing);
        self.inside("Placemark", &[("id", &id)], |mark| {
            mark.text("name", &track.name())?;
            mark.inside("MultiGeometry", &[], |lines| {
                track.lines().iter().try_for_each(|line| {
                    lines.inside("LineString", &[], |one| {
                        one.text("tessellate", "1")?;
                        one.text("coordinates", &coordinates(line))
                    })
                })
            })
        })
    }

    fn inside(
        &mut self,
        name: &str,
        attributes: &[(&str, &str)],
        content: impl FnOnce(&mut Self) -> Written,
    ) -> Written {
        self.start(name, attributes)?;
        content(self)?;
        self.close(name)
    }

    fn start(&mut self, name: &str, attributes: &[(&str, &str)]) -> Written {
        let mut start = BytesStart::new(name);
        for attribute in attributes {
            start.push_attribute(*attribute);
        }
        self.writer.write_event(Event::Start(start))
    }

    fn close(&mut self, name: &str) -> Written {
        self.writer.write_event(Event::End(BytesEnd::new(name)))
    }

    fn text(&mut self, name: &str, text: &str) -> Written {
        let text = replaced(text);
        self.inside(name, &[], |element| {
            element.writer.write_event(Event::Text(BytesText::new(&text)))?;
            Ok(())
        })
    }
}

/// Number and name, where present.
fn heading(find: &KeptFind) -> String {
    let number = find.record.number.as_ref().map(|number| number.0.clone());
    let parts: Vec<String> = number.into_iter().chain(find.record.name.clone()).collect();
    if parts.is_empty() { find.date.to_string() } else { parts.join(" ") }
}

fn coordinates(line: &[(f64, f64)]) -> String {
    let mut text = Vec::new();
    for (place, (x, y)) in line.iter().enumerate() {
        let space = if place == 0 { "" } else { " " };
        let (x, y) = (darwin_core::seven_decimals(*x), darwin_core::seven_decimals(*y));
        let _ = write!(text, "{space}{x},{y}");
    }
    String::from_utf8(text).unwrap_or_default()
}
