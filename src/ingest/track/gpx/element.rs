//! Classifies elements by name and namespace of GPX 1.0 and 1.1, regardless of their position in
//! the document. Layer: `ingest`.

use quick_xml::events::BytesStart;

/// An element as the assembly sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Element {
    Gpx,
    Track,
    Segment,
    Route,
    Point(PointKind),
    Field(Field),
    Other,
}

/// The three kinds of point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum PointKind {
    Track,
    Route,
    Waypoint,
}

/// An element that holds one value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Field {
    Time,
    Height,
    Hdop,
    Vdop,
    Pdop,
    Satellites,
    FixKind,
    Name,
    Description,
    Comment,
    Symbol,
}

impl Field {
    /// Whether it holds words rather than a number or a time.
    pub(super) fn is_text(self) -> bool {
        matches!(self, Self::Name | Self::Description | Self::Comment | Self::Symbol)
    }
}

impl Element {
    /// The element of this local name.
    #[inline]
    pub(super) fn named(local: &str) -> Self {
        // by length first, since this runs for a million tags
        match local.len() {
            3 => Self::of_three(local),
            4 => Self::of_four(local),
            5 if local == "trkpt" => Self::Point(PointKind::Track),
            5 if local == "rtept" => Self::Point(PointKind::Route),
            6 if local == "trkseg" => Self::Segment,
            _ => Self::Other,
        }
    }

    #[inline]
    fn of_three(local: &str) -> Self {
        match local {
            "ele" => Self::Field(Field::Height),
            "sat" => Self::Field(Field::Satellites),
            "fix" => Self::Field(Field::FixKind),
            "cmt" => Self::Field(Field::Comment),
            "sym" => Self::Field(Field::Symbol),
            "trk" => Self::Track,
            "rte" => Self::Route,
            "wpt" => Self::Point(PointKind::Waypoint),
            "gpx" => Self::Gpx,
            _ => Self::Other,
        }
    }

    #[inline]
    fn of_four(local: &str) -> Self {
        match local {
            "time" => Self::Field(Field::Time),
            "hdop" => Self::Field(Field::Hdop),
            "vdop" => Self::Field(Field::Vdop),
            "pdop" => Self::Field(Field::Pdop),
            "name" => Self::Field(Field::Name),
            "desc" => Self::Field(Field::Description),
            _ => Self::Other,
        }
    }

    /// A small number for an element that holds others; `None` for fields and unknown elements.
    #[inline]
    pub(super) fn container(self) -> Option<usize> {
        Some(match self {
            Self::Gpx => 0,
            Self::Track => 1,
            Self::Segment => 2,
            Self::Route => 3,
            Self::Point(PointKind::Track) => 4,
            Self::Point(PointKind::Route) => 5,
            Self::Point(PointKind::Waypoint) => 6,
            Self::Field(_) | Self::Other => return None,
        })
    }
}

/// How many [`Element::container`]s there are.
pub(super) const CONTAINERS: usize = 7;

/// The prefixes that stand for GPX in this file.
#[derive(Clone, Debug, Default)]
pub(super) struct Prefixes(Vec<String>);

impl Prefixes {
    /// Learns from the root element: its own prefix, and every one that it binds to GPX.
    pub(super) fn learn(&mut self, root: &BytesStart) {
        self.0.clear();
        if let Some((prefix, _)) = root.name().into_inner().split_once(':') {
            self.0.push(prefix.to_owned());
        }
        for attribute in root.html_attributes().with_checks(false).flatten().take(256) {
            if let Some(prefix) = attribute.key.into_inner().strip_prefix("xmlns:")
                && is_gpx_namespace(&attribute.value)
                && self.0.len() < 8
            {
                self.0.push(prefix.to_owned());
            }
        }
    }

    /// The element of this name: [`Element::Other`] where its prefix is not one of GPX.
    #[inline]
    pub(super) fn element(&self, name: &str) -> Element {
        if self.0.is_empty() {
            return Element::named(name);
        }
        match name.split_once(':') {
            None => Element::named(name),
            Some((prefix, local)) if self.0.iter().any(|own| own == prefix) => {
                Element::named(local)
            }
            Some(_) => Element::Other,
        }
    }
}

/// Whether a start tag turns itself and what it holds over to another namespace.
pub(super) fn leaves_gpx(start: &BytesStart) -> bool {
    // the rare letter first: most tags have only lat and lon
    let attributes = start.attributes_raw().as_bytes();
    memchr::memchr(b'x', attributes).is_some()
        && start
            .html_attributes()
            .with_checks(false)
            .flatten()
            .take(256)
            .any(|each| each.key.into_inner() == "xmlns" && !is_gpx_namespace(&each.value))
}

/// The namespace that a start tag turns itself and its content over to, where that is not GPX.
pub(super) fn foreign_namespace(start: &BytesStart) -> Option<String> {
    let mut attributes = start.html_attributes();
    let own = attributes.with_checks(false).flatten().take(256);
    let mut namespaces = own.filter(|each| each.key.into_inner() == "xmlns");
    let namespace = namespaces.next()?.value.trim().to_owned();
    // an empty one is no namespace, as in files without any
    (!namespace.is_empty() && !is_gpx_namespace(&namespace)).then_some(namespace)
}

fn is_gpx_namespace(name: &str) -> bool {
    let name = name.trim().trim_end_matches('/');
    ["http://www.topografix.com/GPX/1/", "https://www.topografix.com/GPX/1/"].iter().any(|start| {
        let head = name.get(..start.len());
        head.is_some_and(|head| head.eq_ignore_ascii_case(start))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn start(tag: &str) -> BytesStart<'_> {
        let length = tag.find(' ').unwrap_or(tag.len());
        BytesStart::from_content(tag, length)
    }

    #[test]
    fn only_prefixes_bound_to_gpx_count() {
        let mut prefixes = Prefixes::default();
        prefixes.learn(&start(
            r#"g:gpx xmlns:g="http://www.topografix.com/GPX/1/1" xmlns:x="http://example.org/x""#,
        ));
        assert_eq!(prefixes.element("g:ele"), Element::Field(Field::Height));
        assert_eq!(prefixes.element("ele"), Element::Field(Field::Height));
        assert_eq!(prefixes.element("x:ele"), Element::Other);
        assert_eq!(prefixes.element("unbound:trkpt"), Element::Other);
    }

    #[test]
    fn a_tag_may_leave_the_namespace() {
        assert!(leaves_gpx(&start(r#"trkpt xmlns="http://example.org/x" lat="1""#)));
        assert!(!leaves_gpx(&start(r#"trk xmlns="http://www.topografix.com/GPX/1/0""#)));
        assert!(!leaves_gpx(&start(r#"trkpt lat="1" lon="2""#)));
    }
}
