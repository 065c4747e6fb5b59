//! Writes the position of a photograph as an XMP packet for a file beside it, with Exif terms.
//! Layer: `present`.
//!
//! A sidecar: the photograph itself is never touched. Whether the position is exact or generalised is in the
//! packet.
//!
//! # References
//! ISO 16684-1:2019 (XMP), clause 7; Adobe, XMP Specification Part 2 (2016), section 2.4 for the form of
//! coordinates; CIPA DC-010-2017, Exif metadata for XMP. Names of terms from memory, and read back by
//! another library in `tests/outside/stamp.py`.

use super::markup::Element;
use crate::model::{Direction, Sensitivity};
use crate::units::{Degrees, LatLon, Radius95, Timestamp};

/// Attribute value that identifies a packet written by trug.
const TOOLKIT: &str = "trug";

/// The data published about one photograph.
#[derive(Clone, Debug)]
pub struct Stamp {
    /// The camera position.
    pub at: LatLon,
    /// Its uncertainty.
    pub radius: Radius95,
    /// The corrected time of the photograph.
    pub when: Option<Timestamp>,
    /// The viewing direction, where the camera recorded it.
    pub direction: Option<Direction>,
    /// The numbers of the finds it shows.
    pub numbers: Vec<String>,
    /// The grid step of a generalised position; `None` for an exact one.
    pub generalised: Option<Sensitivity>,
}

impl Stamp {
    /// The method of the position as text.
    #[must_use]
    pub fn method(&self) -> String {
        let how = match self.generalised.and_then(Sensitivity::grid) {
            None => "corrected camera time on the track".to_owned(),
            Some(step) => format!("generalised to the decimal grid of {step} degree"),
        };
        format!("{how}; the positioning error is a 95 % radius")
    }
}

/// The packet as the text of a file.
///
/// # Accuracy
/// Coordinates to a millionth of a minute, 2 mm.
///
/// # Examples
/// ```
/// use trug::present::xmp::{self, Stamp};
/// use trug::units::{LatLon, Metres, Radius95};
///
/// let stamp = Stamp {
///     at: LatLon::new(-42.615, 146.1)?,
///     radius: Radius95::new(Metres(8.0)).ok_or("no radius")?,
///     when: None,
///     direction: None,
///     numbers: vec!["TH-0017".into()],
///     generalised: None,
/// };
/// let packet = xmp::packet(&stamp);
/// assert!(xmp::is_ours(&packet));
/// let back = xmp::positions(&packet);
/// assert_eq!(back.len(), 1);
/// assert_eq!(back[0].to_string(), stamp.at.to_string());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn packet(stamp: &Stamp) -> String {
    let mut about = Element::new("rdf:Description")
        .set("rdf:about", "")
        .set("xmlns:exif", "http://ns.adobe.com/exif/1.0/")
        .set("xmlns:dc", "http://purl.org/dc/elements/1.1/")
        .set("exif:GPSVersionID", "2.3.0.0")
        .set("exif:GPSLatitude", coordinate(stamp.at.latitude(), 'N', 'S'))
        .set("exif:GPSLongitude", coordinate(stamp.at.longitude(), 'E', 'W'))
        .set("exif:GPSMapDatum", "WGS-84")
        .set("exif:GPSHPositioningError", rational(stamp.radius.metres().0))
        .set("exif:GPSProcessingMethod", stamp.method())
        .set_some("exif:GPSTimeStamp", stamp.when.map(|when| when.to_string()));
    if let Some((reference, degrees)) = stamp.direction.map(direction) {
        about = about
            .set("exif:GPSImgDirectionRef", reference)
            .set("exif:GPSImgDirection", rational(degrees.0));
    }
    if !stamp.numbers.is_empty() {
        let items = stamp.numbers.iter().map(|number| Element::new("rdf:li").with_text(number));
        let bag = Element::new("rdf:Bag").with_all(items);
        about = about.with(Element::new("dc:identifier").with(bag));
    }
    let tree = Element::new("rdf:RDF")
        .set("xmlns:rdf", "http://www.w3.org/1999/02/22-rdf-syntax-ns#")
        .with(about);
    let toolkit = format!("{TOOLKIT} {}", env!("CARGO_PKG_VERSION"));
    let meta = Element::new("x:xmpmeta")
        .set("xmlns:x", "adobe:ns:meta/")
        .set("x:xmptk", toolkit)
        .with(tree);
    format!(
        "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n{meta}\n<?xpacket end=\"w\"?>\n"
    )
}

/// Whether a packet was written by trug and may be rewritten.
///
/// A packet of another program is never replaced.
#[must_use]
pub fn is_ours(packet: &str) -> bool {
    packet.contains(&format!("x:xmptk=\"{TOOLKIT} "))
}

/// Every position in XMP text, whatever program wrote it: `exif:GPSLatitude="42,36.9S"` or an element of that
/// name, with degrees and decimal minutes or degrees, minutes and seconds.
#[must_use]
pub fn positions(text: &str) -> Vec<LatLon> {
    let values = |name: &str| -> Vec<f64> {
        text.match_indices(name)
            .filter_map(|(at, _)| angle(value(text.get(at + name.len()..)?)?))
            .collect()
    };
    let pairs = values("GPSLatitude").into_iter().zip(values("GPSLongitude"));
    pairs.filter_map(|(latitude, longitude)| LatLon::new(latitude, longitude).ok()).collect()
}

/// The value after the name of an attribute or element.
fn value(rest: &str) -> Option<&str> {
    let rest = rest.strip_prefix(['=', '>'])?.trim_start_matches(['"', '\'']);
    rest.get(..rest.find(['"', '\'', '<'])?)
}

/// Degrees of `42,36.900000S` or `42,36,54S`.
fn angle(text: &str) -> Option<f64> {
    let text = text.trim();
    let south = text.ends_with(['S', 'W']);
    let parts = text.trim_end_matches(['N', 'S', 'E', 'W']).split(',');
    let parts: Option<Vec<f64>> = parts.map(|part| part.trim().parse().ok()).collect();
    let size: f64 = parts?.iter().zip([1.0, 60.0, 3_600.0]).map(|(part, by)| part / by).sum();
    Some(if south { -size } else { size })
}

/// Degrees and decimal minutes with the letter of the half.
fn coordinate(degrees: f64, positive: char, negative: char) -> String {
    let half = if degrees < 0.0 { negative } else { positive };
    let millionths = (degrees.abs() * 60e6).round();
    let (whole, minutes) = ((millionths / 60e6).floor(), millionths % 60e6 / 1e6);
    format!("{whole:.0},{minutes:.6}{half}")
}

/// A number with two decimals as a fraction.
fn rational(number: f64) -> String {
    format!("{:.0}/100", number * 100.0)
}

fn direction(direction: Direction) -> (char, Degrees) {
    match direction {
        Direction::True(bearing) => ('T', bearing.degrees()),
        Direction::Magnetic(bearing) => ('M', bearing.degrees()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{MagneticBearing, Metres};

    #[test]
    fn coordinates_carry_over_into_the_next_degree() {
        assert_eq!(coordinate(-42.615, 'N', 'S'), "42,36.900000S");
        assert_eq!(coordinate(146.999_999_999_9, 'E', 'W'), "147,0.000000E");
        assert_eq!(coordinate(0.0, 'N', 'S'), "0,0.000000N");
    }

    #[test]
    fn positions_are_read_from_any_packet() {
        let stamp = Stamp {
            at: LatLon::new(-42.615, 146.096).unwrap(),
            radius: Radius95::new(Metres(9.44)).unwrap(),
            when: None,
            direction: None,
            numbers: Vec::new(),
            generalised: None,
        };
        let foreign = "<exif:GPSLatitude>42,36,54N</exif:GPSLatitude>\
                       <exif:GPSLongitude>146,5.76W</exif:GPSLongitude>";
        let read = positions(&(packet(&stamp) + foreign));
        let expected = [(-42.615, 146.096), (42.615, -146.096)];
        assert_eq!(read.len(), expected.len(), "{read:?}");
        for (at, (latitude, longitude)) in read.iter().zip(expected) {
            assert!((at.latitude() - latitude).abs() < 1e-9, "{read:?}");
            assert!((at.longitude() - longitude).abs() < 1e-9, "{read:?}");
        }
        assert!(positions("GPSLatitude GPSLongitude=").is_empty());
    }

    #[test]
    fn packet_is_recognised_and_escapes_hostile_numbers() {
        let stamp = Stamp {
            at: LatLon::new(-42.615, 146.096).unwrap(),
            radius: Radius95::new(Metres(9.44)).unwrap(),
            when: "2026-05-02T00:05:09Z".parse().ok(),
            direction: Some(Direction::Magnetic(MagneticBearing::new(Degrees(110.456)))),
            numbers: vec!["AQ-1\"/><evil".into()],
            generalised: None,
        };
        let packet = packet(&stamp);
        assert!(is_ours(&packet));
        assert!(!is_ours("<x:xmpmeta x:xmptk=\"Another 7\">"));
        assert!(packet.contains("exif:GPSHPositioningError=\"944/100\""));
        assert!(packet.contains("exif:GPSImgDirection=\"11046/100\""));
        assert!(packet.contains("<rdf:li>AQ-1&quot;/&gt;&lt;evil</rdf:li>"));
    }
}
