//! How do finds and ways look as KML 2.2? Points on the ground with the terms of Darwin Core as their
//! data. Layer: `present`.

use std::io::Write as _;

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};

use super::darwin_core::{self, Value};
use super::way::Way;
use crate::model::KeptFind;

/// The finds as placemarks.
///
/// # Units
/// Degrees on WGS 84, longitude first as the format wants it, to seven decimals.
///
/// # References
/// OGC 07-147r2 (2008), KML 2.2.
#[must_use]
pub fn finds(finds: &[KeptFind]) -> String {
    finds_and_ways(finds, &[])
}

/// The finds and, in a folder of their own, the ways.
#[must_use]
pub fn finds_and_ways(finds: &[KeptFind], ways: &[Way]) -> String {
    let mut document = Document { writer: Writer::new_with_indent(Vec::new(), b' ', 1) };
    // Writing into memory cannot fail.
    let _ = document.write(finds, ways);
    let mut text = String::from_utf8(document.writer.into_inner()).unwrap_or_default();
    text.push('\n');
    text
}

struct Document {
    writer: Writer<Vec<u8>>,
}

type Written = std::io::Result<()>;

impl Document {
    fn write(&mut self, finds: &[KeptFind], ways: &[Way]) -> Written {
        self.writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
        self.inside("kml", &[("xmlns", "http://www.opengis.net/kml/2.2")], |kml| {
            kml.inside("Document", &[], |document| {
                document.text("name", "Finds")?;
                finds.iter().try_for_each(|find| document.find(find))?;
                if ways.is_empty() {
                    return Ok(());
                }
                document.inside("Folder", &[], |folder| {
                    folder.text("name", "Ways")?;
                    ways.iter().try_for_each(|way| folder.way(way))
                })
            })
        })
    }

    fn find(&mut self, find: &KeptFind) -> Written {
        let terms = darwin_core::occurrence(find);
        let id = format!("find-{}", find.id);
        self.inside("Placemark", &[("id", &id)], |mark| {
            mark.text("name", &heading(find))?;
            if let Some((when, _)) = find.when {
                let when = when.strftime("%Y-%m-%dT%H:%M:%SZ").to_string();
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

    fn way(&mut self, way: &Way) -> Written {
        let id = format!("way-{}", way.outing);
        self.inside("Placemark", &[("id", &id)], |mark| {
            mark.text("name", &way.name())?;
            mark.inside("MultiGeometry", &[], |lines| {
                way.lines().iter().try_for_each(|line| {
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
        let mut start = quick_xml::events::BytesStart::new(name);
        for attribute in attributes {
            start.push_attribute(*attribute);
        }
        let end = start.to_end().into_owned();
        self.writer.write_event(Event::Start(start.borrow()))?;
        content(self)?;
        self.writer.write_event(Event::End(end))?;
        Ok(())
    }

    fn text(&mut self, name: &str, text: &str) -> Written {
        let text = legal(text);
        self.inside(name, &[], |element| {
            element.writer.write_event(Event::Text(BytesText::new(&text)))?;
            Ok(())
        })
    }
}

/// Number and name, or whichever there is.
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

/// XML 1.0 has no place for most control characters, not even escaped.
fn legal(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\t' | '\n' | '\r' => c,
            c if c < ' ' || matches!(c, '\u{fffe}' | '\u{ffff}') => '\u{fffd}',
            c => c,
        })
        .collect()
}
