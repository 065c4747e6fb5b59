//! Reads KML and GPX back. Layer: `present`.

use std::io::{self, BufRead};

use quick_xml::Reader;
use quick_xml::escape::resolve_predefined_entity;
use quick_xml::events::{BytesStart, Event};

use super::{Statement, identity};

/// How a format interprets elements and text.
trait Form {
    /// The element that begins a statement.
    const OWN: &'static str;

    fn start(&mut self, name: &str, tag: &BytesStart<'_>, into: &mut Statement);

    fn text(&mut self, element: &str, text: &str, into: &mut Statement);
}

/// Placemarks of finds and of tracks.
struct Kml;

impl Form for Kml {
    const OWN: &'static str = "Placemark";

    fn start(&mut self, name: &str, tag: &BytesStart<'_>, into: &mut Statement) {
        if name == Self::OWN {
            let id = attribute(tag, "id").unwrap_or_default();
            into.find = id.strip_prefix("find-").and_then(identity);
        }
    }

    fn text(&mut self, element: &str, text: &str, into: &mut Statement) {
        if element != "coordinates" {
            into.add_text(text);
            return;
        }
        for triple in text.split_whitespace() {
            let mut numbers = triple.split(',').map(str::parse::<f64>);
            if let (Some(Ok(x)), Some(Ok(y))) = (numbers.next(), numbers.next()) {
                into.place(y, x);
            }
        }
    }
}

/// Waypoints of finds, tracks and routes.
struct Gpx {
    in_waypoint: bool,
}

impl Form for Gpx {
    const OWN: &'static str = "wpt";

    fn start(&mut self, name: &str, tag: &BytesStart<'_>, into: &mut Statement) {
        if !matches!(name, "wpt" | "trkpt" | "rtept") {
            return;
        }
        self.in_waypoint = name == Self::OWN;
        let number = |name| attribute(tag, name).and_then(|text| text.parse().ok());
        if let (Some(latitude), Some(longitude)) = (number("lat"), number("lon")) {
            into.place(latitude, longitude);
        }
    }

    fn text(&mut self, element: &str, text: &str, into: &mut Statement) {
        if self.in_waypoint && element == "name" && into.number.is_none() {
            into.number = Some(text.to_owned());
            into.find = identity(text);
        }
        into.add_text(text);
    }
}

pub(super) fn kml(file: impl BufRead, each: &mut dyn FnMut(Statement)) -> io::Result<()> {
    walk(file, &mut Kml, each)
}

pub(super) fn gpx(file: impl BufRead, each: &mut dyn FnMut(Statement)) -> io::Result<()> {
    walk(file, &mut Gpx { in_waypoint: false }, each)
}

/// Reads a document: each `OWN` element is a statement, everything else is one more.
fn walk<F: Form>(
    file: impl BufRead,
    form: &mut F,
    each: &mut dyn FnMut(Statement),
) -> io::Result<()> {
    let mut reader = Reader::from_reader(file);
    let mut buffer = Vec::new();
    let (mut element, mut text) = (String::new(), String::new());
    let mut rest = Statement::default();
    let mut own: Option<Statement> = None;
    loop {
        buffer.clear();
        let event = reader.read_event_into(&mut buffer).map_err(io::Error::other)?;
        let into = own.as_mut().unwrap_or(&mut rest);
        match &event {
            Event::Text(more) => text.push_str(more),
            Event::CData(more) => text.push_str(more),
            Event::GeneralRef(name) => match name.resolve_char_ref() {
                Ok(Some(character)) => text.push(character),
                _ => text.push_str(resolve_predefined_entity(name).unwrap_or_default()),
            },
            _ => {
                if !text.trim().is_empty() {
                    form.text(&element, text.trim(), into);
                }
                text.clear();
            }
        }
        match &event {
            Event::Start(tag) | Event::Empty(tag) => {
                tag.local_name().into_inner().clone_into(&mut element);
                if element == F::OWN {
                    own = Some(Statement::default());
                }
                form.start(&element, tag, own.as_mut().unwrap_or(&mut rest));
                if element == F::OWN && matches!(event, Event::Empty(_)) {
                    own.take().into_iter().for_each(&mut *each);
                }
            }
            Event::End(tag) => {
                element.clear();
                if tag.local_name().into_inner() == F::OWN {
                    own.take().into_iter().for_each(&mut *each);
                }
            }
            Event::Eof => break,
            _ => {}
        }
    }
    each(rest);
    Ok(())
}

fn attribute(tag: &BytesStart<'_>, wanted: &str) -> Option<String> {
    let mut attributes = tag.attributes().flatten();
    let found = attributes.find(|attribute| attribute.key.into_inner() == wanted)?;
    quick_xml::escape::unescape(&found.value).ok().map(std::borrow::Cow::into_owned)
}
