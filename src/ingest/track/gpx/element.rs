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
pub(super) struct Prefixes {
    own: Vec<String>,
    /// Whether names without a prefix are of another namespace.
    bare_is_foreign: bool,
}

impl Prefixes {
    /// Learns from the root element: its own prefix, and every one that it binds to GPX.
    pub(super) fn learn(&mut self, root: &BytesStart) {
        self.own.clear();
        if let Some((prefix, _)) = root.name().into_inner().split_once(':') {
            self.own.push(prefix.to_owned());
            self.bare_is_foreign = namespace(root, None).is_some_and(|name| is_foreign(&name));
        }
        for attribute in root.html_attributes().with_checks(false).flatten().take(256) {
            if let Some(prefix) = attribute.key.into_inner().strip_prefix("xmlns:")
                && is_gpx_namespace(&attribute.value)
                && self.own.len() < 8
            {
                self.own.push(prefix.to_owned());
            }
        }
    }

    /// The element of this name: [`Element::Other`] where its prefix is not one of GPX.
    #[inline]
    pub(super) fn element(&self, name: &str) -> Element {
        if self.own.is_empty() {
            return Element::named(name);
        }
        match name.split_once(':') {
            None if self.bare_is_foreign => Element::Other,
            None => Element::named(name),
            Some((prefix, local)) if self.own.iter().any(|own| own == prefix) => {
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
    if memchr::memchr(b'x', attributes).is_none() {
        return false;
    }
    let prefix = start.name().into_inner().split_once(':').map(|(prefix, _)| prefix);
    namespace(start, prefix).is_some_and(|name| !is_gpx_namespace(&name))
}

/// The namespace of a first tag, where that is not GPX.
pub(super) fn foreign_namespace(start: &BytesStart) -> Option<String> {
    let prefix = start.name().into_inner().split_once(':').map(|(prefix, _)| prefix);
    namespace(start, prefix).filter(|name| is_foreign(name))
}

/// The namespace that a start tag binds to a prefix, or to names without one.
fn namespace(start: &BytesStart, prefix: Option<&str>) -> Option<String> {
    let binds = |key: &str| match (key.strip_prefix("xmlns"), prefix) {
        (Some(""), None) => true,
        (Some(bound), Some(prefix)) => bound.strip_prefix(':') == Some(prefix),
        _ => false,
    };
    let mut attributes = start.html_attributes();
    let mut own = attributes.with_checks(false).flatten().take(256);
    let found = own.find(|each| binds(each.key.into_inner()))?;
    Some(found.value.trim().to_owned())
}

/// Whether it is the name of another namespace; an empty one is none, as in files without any.
fn is_foreign(namespace: &str) -> bool {
    !namespace.is_empty() && !is_gpx_namespace(namespace)
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
        assert!(leaves_gpx(&start(r#"g:trkpt xmlns:g="http://example.org/x" lat="1""#)));
        assert!(!leaves_gpx(&start(r#"g:trkpt xmlns:x="http://example.org/x" lat="1""#)));
    }

    #[test]
    fn a_prefix_of_another_namespace_is_foreign() {
        let foreign = |tag: &str| foreign_namespace(&start(tag));
        let other =
            r#"x:gpx xmlns:x="http://example.org/x" xmlns="http://www.topografix.com/GPX/1/1""#;
        assert_eq!(foreign(other).as_deref(), Some("http://example.org/x"));
        assert_eq!(foreign(r#"g:gpx xmlns:g="http://www.topografix.com/GPX/1/0""#), None);
        assert_eq!(foreign(r#"g:gpx version="1.1""#), None);
        let mut prefixes = Prefixes::default();
        prefixes.learn(&start(
            r#"g:gpx xmlns:g="http://www.topografix.com/GPX/1/1" xmlns="http://example.org/x""#,
        ));
        assert_eq!(prefixes.element("g:trkpt"), Element::Point(PointKind::Track));
        assert_eq!(prefixes.element("trkpt"), Element::Other);
    }
}
