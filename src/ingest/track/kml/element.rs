//! Classifies the elements of KML by their local names. Layer: `ingest`.

use quick_xml::events::BytesStart;

/// An element as the assembly sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Element {
    Kml,
    /// Document, folder or geometry that only groups others.
    Group,
    Placemark,
    Point,
    Line,
    Track,
    MultiTrack,
    Stamp,
    Span,
    Link,
    /// An entry of extended data, with its name as an attribute.
    Data,
    Field(Field),
    Other,
}

/// An element that holds one value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Field {
    Name,
    Description,
    When,
    Begin,
    End,
    AltitudeMode,
    Address,
    Coord,
    Coordinates,
    /// The text of an entry of extended data.
    Value,
}

/// The prefixes that stand for KML or its extension in this file.
#[derive(Clone, Debug)]
pub(super) struct Prefixes(Vec<String>);

impl Default for Prefixes {
    fn default() -> Self {
        Self(vec!["gx".to_owned(), "kml".to_owned()])
    }
}

impl Prefixes {
    /// Learns from the root element: its own prefix, and every one that it binds to KML.
    pub(super) fn learn(&mut self, root: &BytesStart) {
        if let Some((prefix, _)) = root.name().into_inner().split_once(':') {
            self.0.push(prefix.to_owned());
        }
        for attribute in root.html_attributes().with_checks(false).flatten().take(256) {
            if let Some(prefix) = attribute.key.into_inner().strip_prefix("xmlns:")
                && attribute.value.to_ascii_lowercase().contains("/kml")
                && self.0.len() < 8
            {
                self.0.push(prefix.to_owned());
            }
        }
    }

    /// The element of this name; another prefix marks another language.
    pub(super) fn element(&self, name: &str) -> Element {
        match name.split_once(':') {
            None => Element::named(name),
            Some((prefix, local)) if self.0.iter().any(|own| own == prefix) => {
                Element::named(local)
            }
            Some(_) => Element::Other,
        }
    }
}

impl Element {
    /// The element of this local name.
    fn named(local: &str) -> Self {
        match local {
            "kml" => Self::Kml,
            "Document" | "Folder" | "MultiGeometry" | "Link" | "Url" | "ExtendedData"
            | "SchemaData" => Self::Group,
            "Placemark" => Self::Placemark,
            "Point" => Self::Point,
            "LineString" => Self::Line,
            "Track" => Self::Track,
            "MultiTrack" => Self::MultiTrack,
            "TimeStamp" => Self::Stamp,
            "TimeSpan" => Self::Span,
            "NetworkLink" => Self::Link,
            "Data" | "SimpleData" => Self::Data,
            _ => Self::field(local),
        }
    }

    fn field(local: &str) -> Self {
        Self::Field(match local {
            "name" => Field::Name,
            "description" => Field::Description,
            "when" => Field::When,
            "begin" => Field::Begin,
            "end" => Field::End,
            "altitudeMode" => Field::AltitudeMode,
            "href" => Field::Address,
            "coord" => Field::Coord,
            "coordinates" => Field::Coordinates,
            "value" => Field::Value,
            _ => return Self::Other,
        })
    }
}
