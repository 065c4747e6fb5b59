//! Extracts positions from a `geo:` URI or a map link with latitude and longitude in its path,
//! query or fragment. The numbers are then parsed as any other text. Layer: `ingest`.

use crate::error::{Error, Result};
use crate::units::Metres;

/// Names under which links carry a latitude and a longitude apart from each other.
const LATITUDES: [&str; 3] = ["lat", "latitude", "mlat"];
const LONGITUDES: [&str; 5] = ["lon", "lng", "long", "longitude", "mlon"];
/// The longest address.
const LONGEST: usize = 4_000;

/// The numbers of an address.
#[derive(Clone, Debug, PartialEq)]
pub struct Linked {
    /// Latitude and longitude as written, on WGS 84.
    pub figures: String,
    /// The uncertainty that a `geo:` URI states.
    pub uncertainty: Option<Metres>,
}

/// The numbers of a `geo:` URI or a link; `None` where the text is neither.
///
/// # Errors
/// When the address holds no position, or several, or one on another system than WGS 84.
///
/// # Examples
/// ```
/// use trug::ingest::position::link;
/// let found = link::figures("geo:-42.6189,146.0912;u=35")?.ok_or("no address")?;
/// assert_eq!(found.figures, "-42.6189 146.0912");
/// assert!(link::figures("-42.6189 146.0912")?.is_none());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # References
/// RFC 5870, A Uniform Resource Identifier for Geographic Locations ('geo' URI), section 3.
pub fn figures(text: &str) -> Result<Option<Linked>> {
    let text = text.trim();
    let lower = text.to_ascii_lowercase();
    if !["geo:", "http://", "https://"].iter().any(|scheme| lower.starts_with(scheme)) {
        return Ok(None);
    }
    if text.len() > LONGEST {
        return Err(refused("it is too long for a link"));
    }
    match text.split_once(':') {
        Some((scheme, rest)) if scheme.eq_ignore_ascii_case("geo") => geo(rest).map(Some),
        _ => link(&decoded(text)).map(Some),
    }
}

/// The position of a `geo:` URI, with its uncertainty where it states one.
fn geo(rest: &str) -> Result<Linked> {
    let mut parts = rest.split(';');
    let coordinates: Vec<&str> = parts.next().unwrap_or_default().split(',').collect();
    let (Some(&latitude), Some(&longitude)) = (coordinates.first(), coordinates.get(1)) else {
        return Err(refused("a geo URI is written geo:LATITUDE,LONGITUDE"));
    };
    let rest_is_height = coordinates.len() <= 3;
    // what some programs put after a question mark is no part of the position, except where they write
    // the position there and `0,0` before it
    let (longitude, query) = longitude.split_once('?').unwrap_or((longitude, ""));
    if number(latitude) == Some(0.0) && number(longitude) == Some(0.0) && !query.is_empty() {
        return asked(rest);
    }
    if !rest_is_height || number(latitude).is_none() || number(longitude).is_none() {
        return Err(refused("a geo URI is written geo:LATITUDE,LONGITUDE"));
    }
    if let Ok(other) = asked(rest) {
        let (north, east) = other.figures.split_once(' ').unwrap_or_default();
        if (number(north), number(east)) != (number(latitude), number(longitude)) {
            let shown = format!("{latitude} {longitude}; {}", other.figures);
            return Err(refused(format!("it has 2 positions: {shown}")));
        }
    }
    let mut uncertainty = None;
    for parameter in parts {
        let (name, value) = parameter.split_once('=').unwrap_or((parameter, ""));
        match name.to_ascii_lowercase().as_str() {
            "crs" if !value.eq_ignore_ascii_case("wgs84") => {
                return Err(refused(format!("it uses the reference system {value}, not WGS 84")));
            }
            "u" => {
                let metres = number(value).filter(|metres| *metres >= 0.0);
                uncertainty = Some(Metres(metres.ok_or_else(|| {
                    refused("its uncertainty is not a number of metres, 0 or more")
                })?));
            }
            _ => {}
        }
    }
    Ok(Linked { figures: format!("{latitude} {longitude}"), uncertainty })
}

/// The position of `geo:0,0?q=LATITUDE,LONGITUDE(NAME)`: the figures before the question mark mean nothing
/// then. A name to search for is no position.
fn asked(rest: &str) -> Result<Linked> {
    let query = decoded(rest);
    let query = query.split_once('?').map_or("", |(_, query)| query);
    let wanted = query.split('&').find_map(|part| part.strip_prefix("q=")).unwrap_or_default();
    let figures = wanted.split('(').next().unwrap_or_default();
    match figures.split_once(',') {
        Some((latitude, longitude))
            if number(latitude.trim()).is_some() && number(longitude.trim()).is_some() =>
        {
            let figures = format!("{} {}", latitude.trim(), longitude.trim());
            Ok(Linked { figures, uncertainty: None })
        }
        _ => Err(refused("it asks a map to search for something, and names no position")),
    }
}

/// The one position of a web address, wherever behind the name of the host it stands. Two different ones are
/// refused: which of them is the place, and which the view of a map, cannot be known.
fn link(address: &str) -> Result<Linked> {
    let behind = address.split_once("://").map_or(address, |(_, rest)| rest);
    let behind = behind.find(['/', '?', '#']).map_or("", |start| &behind[start..]);
    let mut pairs = named(behind);
    pairs.extend(marked(behind));
    pairs.extend(valued(behind));
    if pairs.is_empty() {
        pairs = written_together(behind);
    }
    let mut distinct: Vec<(&str, &str)> = Vec::new();
    for pair in pairs {
        let same = |known: &&(&str, &str)| {
            (number(known.0), number(known.1)) == (number(pair.0), number(pair.1))
        };
        if !distinct.iter().any(|known| same(&known)) {
            distinct.push(pair);
        }
    }
    match distinct.as_slice() {
        [(latitude, longitude)] => {
            Ok(Linked { figures: format!("{latitude} {longitude}"), uncertainty: None })
        }
        [] => {
            Err(refused("it has no latitude and longitude; a shortened link must be opened first"))
        }
        several => {
            let shown: Vec<String> =
                several.iter().take(4).map(|(a, b)| format!("{a} {b}")).collect();
            Err(refused(format!("it has {} positions: {}", several.len(), shown.join("; "))))
        }
    }
}

/// `lat=-42.6&lon=146.1`: a latitude and the longitude named in the same manner.
fn named(text: &str) -> Vec<(&str, &str)> {
    let values: Vec<(&str, &str)> = text
        .split(['/', '?', '#', '&', ';'])
        .filter_map(|part| part.split_once('='))
        .filter(|(_, value)| number(value).is_some())
        .collect();
    let is =
        |names: &[&str], name: &str| names.iter().any(|known| name.eq_ignore_ascii_case(known));
    let marker = |name: &str| name.starts_with(['m', 'M']);
    values
        .iter()
        .filter(|(name, _)| is(&LATITUDES, name))
        .filter_map(|(name, latitude)| {
            let (_, longitude) = values
                .iter()
                .find(|(other, _)| is(&LONGITUDES, other) && marker(other) == marker(name))?;
            Some((*latitude, *longitude))
        })
        .collect()
}

/// Names under which links carry both numbers together.
const PLACES: [&str; 12] = [
    "ll",
    "q",
    "query",
    "sll",
    "cp",
    "center",
    "centre",
    "daddr",
    "destination",
    "marker",
    "pin",
    "pos",
];

/// `ll=-42.6,146.1`: two numbers as the value of a name for places, with decimals or not.
fn valued(text: &str) -> Vec<(&str, &str)> {
    let pair = |value: &'_ str| -> Option<(usize, usize)> {
        let figures = value.split('(').next()?;
        let (latitude, longitude) = figures.split_once([',', '~'])?;
        let is_angle =
            |text: &str, most: f64| number(text.trim()).is_some_and(|it| it.abs() <= most);
        (is_angle(latitude, 90.0) && is_angle(longitude, 180.0))
            .then_some((latitude.len(), figures.len()))
    };
    text.split(['?', '#', '&', ';'])
        .filter_map(|part| part.split_once('='))
        .filter(|(name, _)| PLACES.iter().any(|known| name.eq_ignore_ascii_case(known)))
        .filter_map(|(_, value)| {
            let (comma, end) = pair(value)?;
            Some((value[..comma].trim(), value[comma + 1..end].trim()))
        })
        .collect()
}

/// `!3d-42.6!4d146.1`: numbers after marks.
fn marked(text: &str) -> Vec<(&str, &str)> {
    let parts: Vec<&str> = text.split(['!', '/', '?', '&']).collect();
    parts
        .windows(2)
        .filter_map(|pair| Some((pair[0].strip_prefix("3d")?, pair[1].strip_prefix("4d")?)))
        .filter(|(latitude, longitude)| number(latitude).is_some() && number(longitude).is_some())
        .collect()
}

/// `-42.6,146.1` anywhere, and `15/-42.6/146.1` behind a scale.
fn written_together(text: &str) -> Vec<(&str, &str)> {
    let mut pairs = Vec::new();
    for part in text.split(['/', '?', '#', '&', ';', '=', '@', ':', '!', '(', ')']) {
        let figures: Vec<&str> = part.split([',', ' ', '+']).filter(|it| !it.is_empty()).collect();
        if let [latitude, longitude, ..] = figures.as_slice()
            && is_exact(latitude)
            && is_exact(longitude)
        {
            pairs.push((*latitude, *longitude));
        }
    }
    let steps: Vec<&str> = text.split(['/', '=', '#', '?', '&', '@']).collect();
    for three in steps.windows(3) {
        if number(three[0]).is_some() && is_exact(three[1]) && is_exact(three[2]) {
            pairs.push((three[1], three[2]));
        }
    }
    pairs
}

/// A number with decimals: whole numbers in a link are sizes, scales and identifiers.
fn is_exact(text: &str) -> bool {
    text.split_once('.').is_some_and(|(_, decimals)| decimals.len() >= 2) && number(text).is_some()
}

/// A plain decimal number: digits, one point and a sign.
fn number(text: &str) -> Option<f64> {
    let plain =
        text.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+'));
    let number: f64 = text.parse().ok().filter(|_| plain && text.len() <= 30)?;
    number.is_finite().then_some(number)
}

/// `%2C` is a comma, `%20` a space.
pub(super) fn decoded(text: &str) -> String {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((&first, behind)) = rest.split_first() {
        let code = behind
            .get(..2)
            .filter(|_| first == b'%')
            .and_then(|digits| std::str::from_utf8(digits).ok())
            .and_then(|digits| u8::from_str_radix(digits, 16).ok());
        bytes.push(code.unwrap_or(first));
        rest = if code.is_some() { &behind[2..] } else { behind };
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

fn refused(why: impl Into<String>) -> Error {
    Error::input("the link or URI has no position")
        .because(why)
        .hint("copy the coordinates instead, as -42.6189 146.0912")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Option<String> {
        figures(text).ok().flatten().map(|linked| linked.figures)
    }

    #[test]
    fn geo_uris_of_the_standard() {
        // RFC 5870, sections 1 and 6
        assert_eq!(read("geo:13.4125,103.8667").as_deref(), Some("13.4125 103.8667"));
        let marked = "geo:0,0?q=-42.62,146.1(Gate%20A)";
        assert_eq!(read(marked).as_deref(), Some("-42.62 146.1"));
        assert_eq!(read("geo:0,0?q=Hobart").as_deref(), None);
        let twice = "geo:47.305,11.405?q=47.3050,11.4050(Gate)";
        assert_eq!(read(twice).as_deref(), Some("47.305 11.405"));
        assert_eq!(read("geo:0,0?z=5").as_deref(), None);
        assert_eq!(read("geo:48.2010,16.3695,183").as_deref(), Some("48.2010 16.3695"));
        let full = figures("geo:48.198634,16.371648;crs=wgs84;u=40").unwrap().unwrap();
        assert_eq!(full.uncertainty, Some(Metres(40.0)));
        assert_eq!(read("GEO:-42.6189,146.0912?z=15").as_deref(), Some("-42.6189 146.0912"));
        for text in [
            "geo:",
            "geo:1",
            "geo:a,b",
            "geo:1,2,3,4",
            "geo:1,2;crs=Moon-2011",
            "geo:1,2;u=x",
            "geo:1,2;u=-5",
            "geo:inf,nan",
            "geo:47.3050,11.4050?q=47.2000,11.1000",
        ] {
            assert!(figures(text).is_err(), "{text}");
        }
    }

    #[test]
    fn links_with_figures_in_path_query_or_fragment() {
        for link in [
            "https://maps.example.org/?q=-42.6189,146.0912",
            "https://maps.example.org/place/Gate/@-42.6189,146.0912,15z",
            "https://maps.example.org/?lat=-42.6189&lon=146.0912&zoom=12",
            "https://maps.example.org/?zoom=12&lng=146.0912&latitude=-42.6189",
            "https://maps.example.org/#map=15/-42.6189/146.0912",
            "https://maps.example.org/@/data=!8m2!3d-42.6189!4d146.0912",
            "https://maps.example.org/?query=-42.6189%2C146.0912&api=1",
            "https://maps.example.org/?q=loc:-42.6189%20146.0912",
            "HTTP://MAPS.EXAMPLE.ORG/dir/-42.6189,+146.0912",
            "https://maps.example.org/?ll=-42.6189,146.0912&q=-42.6189,146.0912(Gate)&size=600,400",
            "https://maps.example.org/?ll=-42.6189,146.0912&q=Gate",
        ] {
            let found = read(link).unwrap_or_else(|| panic!("{link}: {:?}", figures(link)));
            let figures: Vec<f64> = found.split(' ').map(|it| it.parse().unwrap()).collect();
            assert_eq!(figures, [-42.6189, 146.0912], "{link}");
        }
    }

    #[test]
    fn a_link_with_no_position_or_two_is_refused() {
        for link in [
            "https://maps.example.org/x7Yq2",
            "https://",
            "https://maps.example.org/12/34/56",
            "https://maps.example.org/?lat=-42.6&lon=",
            "https://maps.example.org/dir/-42.61,146.09/-42.70,146.20",
            "https://maps.example.org/?mlat=-42.61&mlon=146.09&lat=-42.70&lon=146.20",
            "https://maps.example.org/?ll=-42.61,146.09&q=-42.70,146.20",
            "https://maps.example.org/?q=-42.7,146.2&ll=-42.6189,146.0912&z=14",
            "https://maps.example.org/?ll=-42,146&q=-42.6189,146.0912",
            "https://maps.example.org/?lat=-42.61&lon=146.09&q=-42.70,146.20(Gate)",
            "https://-42.61,146.09",
            "https://maps.example.org/%zz%",
        ] {
            assert!(figures(link).is_err(), "{link}");
        }
        assert!(figures("-42.6 146.1").unwrap().is_none() && figures("").unwrap().is_none());
        assert!(figures(&format!("https://x/{}", "9.99,".repeat(5_000))).is_err());
    }
}
