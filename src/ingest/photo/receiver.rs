//! Reads the GPS entries of a photograph: position, elevation, direction, UTC and error. Invalid
//! values are ignored and reported. Layer: `ingest`.
//!
//! Of a position that cannot be right (0, 0; no hemisphere; sixty minutes; another datum) nothing is used: half a
//! position is worse than none.

use exif::Tag;
use jiff::civil::{Date, DateTime};
use jiff::tz::Offset;

use super::moment::Moment;
use super::tags::Tags;
use crate::model::{Direction, PhotoGps};
use crate::units::{
    Degrees, GpsHeight, LatLon, MagneticBearing, Metres, Seconds, Timestamp, TrueBearing,
};

/// Plausible elevations.
const HEIGHTS: std::ops::RangeInclusive<f64> = -500.0..=9_000.0;

/// Reads the GPS directory.
pub(super) fn read(tags: &Tags<'_>, moment: &Moment, remarks: &mut Vec<String>) -> PhotoGps {
    PhotoGps {
        at: note(position(tags), remarks),
        height: note(height(tags), remarks),
        direction: note(direction(tags), remarks),
        time: note(time(tags, moment), remarks),
        error: note(error(tags), remarks),
    }
}

fn note<T>(part: Result<Option<T>, String>, remarks: &mut Vec<String>) -> Option<T> {
    part.unwrap_or_else(|remark| {
        remarks.push(remark);
        None
    })
}

fn position(tags: &Tags<'_>) -> Result<Option<LatLon>, String> {
    let latitude = angle(tags, Tag::GPSLatitude, Tag::GPSLatitudeRef, "latitude", ['N', 'S'])?;
    let longitude = angle(tags, Tag::GPSLongitude, Tag::GPSLongitudeRef, "longitude", ['E', 'W'])?;
    let (latitude, longitude) = match (latitude, longitude) {
        (Some(latitude), Some(longitude)) => (latitude, longitude),
        (None, None) => return Ok(None),
        _ => return Err("its position lacks latitude or longitude".into()),
    };
    if latitude == 0.0 && longitude == 0.0 {
        return Err("its position is 0, 0: the receiver had no fix".into());
    }
    if tags.text(Tag::GPSStatus).is_some_and(|status| status.starts_with(['V', 'v'])) {
        return Err("its position is outdated: the receiver reports no fix".into());
    }
    if let Some(datum) = tags.text(Tag::GPSMapDatum).filter(|datum| !is_world_datum(datum)) {
        return Err(format!("its position is on the datum {datum}, not WGS 84"));
    }
    LatLon::new(latitude, longitude)
        .map(Some)
        .map_err(|off| format!("its position was ignored: {off}"))
}

/// WGS 84 and the national datums that stay within two metres of it.
fn is_world_datum(datum: &str) -> bool {
    let name: String = datum.chars().filter(char::is_ascii_alphanumeric).collect();
    let name = name.to_ascii_uppercase();
    ["WGS84", "WGS1984", "WORLDGEODETICSYSTEM1984", "GDA", "NAD83", "ETRS89", "JGD", "NZGD2000"]
        .iter()
        .any(|world| name.starts_with(world))
}

/// Degrees, minutes and seconds with the letter of their hemisphere.
fn angle(
    tags: &Tags<'_>,
    value: Tag,
    hemisphere: Tag,
    name: &str,
    letters: [char; 2],
) -> Result<Option<f64>, String> {
    let (parts, written) = match (tags.numbers(value), tags.text(value)) {
        (Some(parts), _) => (whole_parts(&parts, name)?, None),
        (None, Some(text)) => match in_words(&text) {
            Some((parts, letter)) => (parts, letter),
            None => return Err(format!("its {name} is a text that is not an angle: {text}")),
        },
        (None, None) => return Ok(None),
    };
    let part = |index: usize| parts.get(index).copied().unwrap_or(0.0);
    // 60 seconds are the next minute where the seconds were rounded
    if !(0.0..60.0).contains(&part(1)) || !(0.0..=60.0).contains(&part(2)) {
        return Err(format!("its {name} has {} minutes and {} seconds", part(1), part(2)));
    }
    let degrees = part(0).abs() + part(1) / 60.0 + part(2) / 3600.0;
    let letter = tags
        .text(hemisphere)
        .and_then(|text| text.chars().next())
        .or(written)
        .map(|letter| letter.to_ascii_uppercase());
    match letter {
        Some(letter) if letter == letters[0] => Ok(Some(degrees.copysign(part(0)))),
        Some(letter) if letter == letters[1] => Ok(Some(-degrees)),
        // some programs write the sign into a signed fraction and leave the letter out
        None if part(0) < 0.0 => Ok(Some(-degrees)),
        _ if degrees == 0.0 => Ok(Some(0.0)),
        _ => Err(format!(
            "its {name} does not say {} or {}, so its position was not used",
            letters[0], letters[1]
        )),
    }
}

/// Degrees, minutes and seconds without those that are 0/0, "not stated": the part before must have
/// decimals, otherwise the angle is precise to a minute (1.9 km) or a degree only.
fn whole_parts(parts: &[f64], name: &str) -> Result<Vec<f64>, String> {
    let stated: Vec<f64> = parts.iter().copied().take_while(|part| part.is_finite()).collect();
    let shown = || -> String {
        let units = ["degrees", "minutes", "seconds"];
        let part = |(part, unit): (&f64, &str)| {
            if part.is_finite() { format!("{part} {unit}") } else { format!("{unit} n/0") }
        };
        parts.iter().zip(units).map(part).collect::<Vec<_>>().join(", ")
    };
    if stated.is_empty() || parts.iter().skip(stated.len()).any(|part| part.is_finite()) {
        return Err(format!("its {name} is not a number: {}", shown()));
    }
    let fine = stated.len() >= parts.len().min(3);
    let carries = stated.last().is_some_and(|last| last.fract() != 0.0);
    if fine || carries {
        return Ok(stated);
    }
    Err(format!("its {name} is not precise enough to be used: {}", shown()))
}

/// An angle written as text: `47.123456`, `47,7.5N`, `47 deg 7' 30"`.
fn in_words(text: &str) -> Option<(Vec<f64>, Option<char>)> {
    let letter =
        text.chars().rev().find(|c| !c.is_whitespace()).filter(|c| "NSEWnsew".contains(*c));
    let negative = text.trim_start().starts_with('-');
    let parts: Option<Vec<f64>> = text
        .split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .filter(|part| !part.is_empty())
        .map(|part| part.parse().ok())
        .collect();
    let mut parts = parts.filter(|parts| (1..=3).contains(&parts.len()))?;
    if negative {
        parts[0] = -parts[0];
    }
    Some((parts, letter))
}

fn height(tags: &Tags<'_>) -> Result<Option<GpsHeight>, String> {
    if !tags.has(Tag::GPSAltitude) {
        return Ok(None);
    }
    let height = tags.number(Tag::GPSAltitude).ok_or("its height is not a number")?;
    // Exif 3.0 has 2 and 3 for above and below the ellipsoid
    let below = matches!(tags.number(Tag::GPSAltitudeRef), Some(1.0 | 3.0));
    let height = if below { -height.abs() } else { height };
    if !HEIGHTS.contains(&height) {
        return Err(format!("its height of {height} m is not a height on land"));
    }
    Ok(Some(GpsHeight(Metres(height))))
}

fn direction(tags: &Tags<'_>) -> Result<Option<Direction>, String> {
    if !tags.has(Tag::GPSImgDirection) {
        return Ok(None);
    }
    let degrees = tags.number(Tag::GPSImgDirection).ok_or("its direction is not a number")?;
    if !(0.0..=360.0).contains(&degrees) {
        return Err(format!("its direction of {degrees} degrees is not on the compass"));
    }
    let north = tags.text(Tag::GPSImgDirectionRef).unwrap_or_default();
    match north.chars().next().map(|letter| letter.to_ascii_uppercase()) {
        Some('T') => Ok(Some(Direction::True(TrueBearing::new(Degrees(degrees))))),
        Some('M') => Ok(Some(Direction::Magnetic(MagneticBearing::new(Degrees(degrees))))),
        _ => Err(format!("its direction of {degrees} degrees does not say from which north")),
    }
}

fn error(tags: &Tags<'_>) -> Result<Option<Metres>, String> {
    if !tags.has(Tag::GPSHPositioningError) {
        return Ok(None);
    }
    let error = tags.number(Tag::GPSHPositioningError);
    let error = error.ok_or("the receiver's own error is not a number")?;
    Ok((error > 0.0).then_some(Metres(error)))
}

fn time(tags: &Tags<'_>, moment: &Moment) -> Result<Option<Timestamp>, String> {
    let Some(parts) = tags.numbers(Tag::GPSTimeStamp) else { return Ok(None) };
    let [hours, minutes, seconds] = parts[..] else {
        return Err("its GPS time does not have three parts".into());
    };
    let whole_day = Seconds(hours * 3600.0 + minutes * 60.0 + seconds);
    if !(0.0..=86_400.0).contains(&whole_day.0) {
        return Err("its GPS time is not a time of day".into());
    }
    let midnight = |date: Date| {
        let midnight = Offset::UTC.to_timestamp(DateTime::from(date)).ok();
        midnight.map(|midnight| whole_day.after(midnight))
    };
    match tags.text(Tag::GPSDateStamp) {
        Some(written) => match date(&written) {
            Some(date) => Ok(midnight(date)),
            None => Err(format!("its GPS date is not valid: {written}")),
        },
        None => match (moment.taken, moment.offset) {
            (Some(taken), Some(offset)) => Ok(nearest_day(taken, offset, midnight)),
            _ => Err("its GPS time has no date".into()),
        },
    }
}

/// The UTC day that brings a GPS time without a date nearest to the exposure.
fn nearest_day(
    taken: DateTime,
    offset: Offset,
    midnight: impl Fn(Date) -> Option<Timestamp>,
) -> Option<Timestamp> {
    let exposure = offset.to_timestamp(taken).ok()?;
    let day = Offset::UTC.to_datetime(exposure).date();
    [day.yesterday().ok(), Some(day), day.tomorrow().ok()]
        .into_iter()
        .flatten()
        .filter_map(midnight)
        .min_by(|a, b| {
            let distance = |time: &Timestamp| Seconds::between(exposure, *time).abs().0;
            distance(a).total_cmp(&distance(b))
        })
}

fn date(written: &str) -> Option<Date> {
    let mut parts = written.split([':', '-', '/', ' ']).map(str::trim);
    let year = parts.next()?.parse().ok()?;
    let month = parts.next()?.parse().ok()?;
    let day = parts.next()?.parse().ok()?;
    Date::new(year, month, day).ok().filter(|date| date.year() >= 1980)
}
