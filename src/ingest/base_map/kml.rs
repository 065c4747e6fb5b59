//! Reads the placemarks of KML: points, lines and areas with their names, data and folders. A damaged
//! file gives what precedes the damage. Layer: `ingest`.

use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;

use super::collected::{Collected, Properties, area, line};
use crate::model::BaseShape;
use crate::units::LatLon;

pub(super) fn read(bytes: &[u8], collected: &mut Collected) {
    let text = encoding_rs::UTF_8.decode(bytes).0;
    let mut xml = Reader::from_str(&text);
    let config = xml.config_mut();
    config.check_end_names = false;
    config.allow_unmatched_ends = true;
    config.allow_dangling_amp = true;
    let mut state = State { collected, folders: Vec::new(), mark: None, text: String::new() };
    loop {
        match xml.read_event() {
            Ok(Event::Start(tag)) => state.start(&tag),
            Ok(Event::End(tag)) => state.end(tag.local_name().into_inner()),
            Ok(Event::Text(text)) => state.text.push_str(&text),
            Ok(Event::CData(text)) => state.text.push_str(&text),
            Ok(Event::GeneralRef(name)) => {
                if let Some(text) = quick_xml::escape::resolve_predefined_entity(&name) {
                    state.text.push_str(text);
                }
            }
            Ok(Event::Eof) => return,
            Ok(_) => {}
            Err(fault) => {
                let at = xml.error_position();
                state.collected.damage = Some(format!("damaged at byte {at}: {fault}"));
                return;
            }
        }
    }
}

struct State<'a> {
    collected: &'a mut Collected,
    /// The names of the open folders; empty until they are read.
    folders: Vec<String>,
    mark: Option<Mark>,
    text: String,
}

/// An open placemark.
#[derive(Default)]
struct Mark {
    properties: Properties,
    key: String,
    shapes: Vec<BaseShape>,
    rings: Vec<Vec<LatLon>>,
    shape: Shape,
}

#[derive(Clone, Copy, Default, PartialEq)]
enum Shape {
    #[default]
    Nothing,
    Point,
    Line,
    Area,
}

impl State<'_> {
    fn start(&mut self, tag: &BytesStart) {
        self.text.clear();
        match (tag.local_name().into_inner(), &mut self.mark) {
            ("Folder", None) => self.folders.push(String::new()),
            ("Placemark", _) => self.mark = Some(Mark::default()),
            ("Point", Some(mark)) => mark.shape = Shape::Point,
            ("LineString", Some(mark)) => mark.shape = Shape::Line,
            ("LinearRing", Some(mark)) if mark.shape != Shape::Area => mark.shape = Shape::Line,
            ("Polygon", Some(mark)) => mark.shape = Shape::Area,
            ("Data" | "SimpleData", Some(mark)) => {
                let mut attributes = tag.html_attributes();
                let mut attributes = attributes.with_checks(false).flatten();
                let name = attributes.find(|attribute| attribute.key.into_inner() == "name");
                mark.key = name.map(|name| name.value.to_lowercase()).unwrap_or_default();
            }
            _ => {}
        }
    }

    fn end(&mut self, name: &str) {
        let text = std::mem::take(&mut self.text);
        let text = text.trim();
        let Some(mark) = &mut self.mark else {
            match name {
                "Folder" => drop(self.folders.pop()),
                "name" => {
                    if let Some(folder) = self.folders.last_mut().filter(|name| name.is_empty()) {
                        text.clone_into(folder);
                    }
                }
                _ => {}
            }
            return;
        };
        match name {
            "name" => mark.properties.push(("name".to_owned(), text.to_owned())),
            "value" | "SimpleData" => {
                mark.properties.push((std::mem::take(&mut mark.key), text.to_owned()));
            }
            "coordinates" => mark.coordinates(text),
            "Polygon" => {
                mark.shapes.extend(area(std::mem::take(&mut mark.rings)));
                mark.shape = Shape::Nothing;
            }
            "Placemark" => self.finish(),
            _ => {}
        }
    }

    fn finish(&mut self) {
        let Some(mark) = self.mark.take() else { return };
        let folder = self.folders.iter().rev().find(|name| !name.is_empty());
        self.collected.add(&mark.properties, folder.map(String::as_str), mark.shapes);
    }
}

impl Mark {
    fn coordinates(&mut self, text: &str) {
        let places: Vec<LatLon> = text.split_whitespace().filter_map(place).collect();
        match self.shape {
            Shape::Point => self.shapes.extend(places.first().copied().map(BaseShape::Point)),
            Shape::Line => self.shapes.extend(line(places)),
            Shape::Area => self.rings.push(places),
            Shape::Nothing => {}
        }
    }
}

fn place(tuple: &str) -> Option<LatLon> {
    let mut numbers = tuple.split(',').map(|number| number.trim().parse::<f64>().ok());
    let longitude = numbers.next()??;
    LatLon::new(numbers.next()??, longitude).ok()
}
