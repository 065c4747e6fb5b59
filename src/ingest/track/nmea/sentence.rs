//! Finds sentences in a line, checks their checksums and extracts time, date and position. Layer:
//! `ingest`.

use chrono::{Datelike, NaiveDate, NaiveTime, Timelike};
use jiff::civil::Date;
use nmea::ParseResult;
use nmea::sentences::rmc::RmcStatusOfFix;
use nmea::sentences::{FaaMode, FixType};

use crate::model::FixKind;
use crate::units::LatLon;

/// The sentences that are read.
const KNOWN: [&str; 5] = ["RMC", "GGA", "GNS", "GLL", "ZDA"];

/// Something that begins with `$`.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Candidate {
    /// A sentence whose checksum, if any, is valid.
    Sound {
        text: String,
        /// Whether it is of a kind that is read.
        known: bool,
        /// Whether it had a checksum.
        checked: bool,
    },
    /// The checksum does not fit.
    Damaged {
        text: String,
        /// Whether it is of a kind that is read.
        known: bool,
    },
}

/// The sentences of a line. Whatever precedes a `$`, such as a logger's own time, is ignored.
pub(super) fn candidates(line: &[u8]) -> impl Iterator<Item = Candidate> + '_ {
    let starts = memchr::memchr_iter(b'$', line);
    starts.filter_map(move |start| {
        let rest = &line[start + 1..];
        let end = memchr::memchr(b'$', rest).unwrap_or(rest.len());
        candidate(&rest[..end])
    })
}

fn candidate(sentence: &[u8]) -> Option<Candidate> {
    let header = sentence.get(..6)?;
    let is_header = header[5] == b',' && header[..5].iter().all(u8::is_ascii_alphanumeric);
    // sentences of one maker begin with P and have other headers
    if header[0] == b'P' || !is_header {
        return None;
    }
    let text = String::from_utf8_lossy(sentence);
    let text = text.trim_end();
    let known = KNOWN.contains(&text.get(2..5)?);
    let Some((body, sum)) = text.split_once('*') else {
        let sum = checksum(text.as_bytes());
        return Some(Candidate::Sound {
            text: format!("${text}*{sum:02X}"),
            known,
            checked: false,
        });
    };
    let stated = sum.get(..2).and_then(|sum| u8::from_str_radix(sum, 16).ok());
    Some(if stated == Some(checksum(body.as_bytes())) {
        Candidate::Sound { text: format!("${body}*{}", &sum[..2]), known, checked: true }
    } else {
        Candidate::Damaged { text: format!("${text}"), known }
    })
}

fn checksum(body: &[u8]) -> u8 {
    body.iter().fold(0, |sum, byte| sum ^ byte)
}

/// What one sentence states.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Stated {
    /// Nanoseconds of the day in UTC.
    pub(super) clock: Option<i64>,
    pub(super) date: Option<Date>,
    pub(super) at: Option<LatLon>,
    /// Whether the receiver says that the position is not measured.
    pub(super) no_fix: bool,
    /// Whether the position combines all constellations.
    pub(super) combined: bool,
    /// Whether it speaks for the receiver as a whole, not for one constellation.
    pub(super) decides: bool,
    pub(super) height: Option<f32>,
    pub(super) hdop: Option<f32>,
    pub(super) satellites: Option<u8>,
    pub(super) kind: Option<FixKind>,
}

/// Why a sound sentence gives nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unusable {
    /// Its values cannot be parsed.
    Damaged,
    /// Latitude or longitude is impossible.
    OffTheGlobe,
}

/// Parses a sentence of a kind that is read.
pub(super) fn parse(text: &str) -> Result<Stated, Unusable> {
    let combined = text.as_bytes().get(1..3) == Some(b"GN");
    let (stated, at) = match nmea::parse_str(text) {
        Ok(ParseResult::RMC(rmc)) => {
            let no_fix = rmc.status_of_fix == RmcStatusOfFix::Invalid
                || !rmc.faa_mode.is_none_or(is_measured);
            let date = rmc.fix_date.and_then(date);
            let stated =
                Stated { clock: rmc.fix_time.map(clock), date, no_fix, ..Stated::default() };
            (stated, rmc.lat.zip(rmc.lon))
        }
        Ok(ParseResult::GGA(gga)) => (of_gga(&gga), gga.latitude.zip(gga.longitude)),
        Ok(ParseResult::GNS(gns)) => {
            let fix = FixType::from(gns.faa_modes);
            let stated = Stated {
                clock: gns.fix_time.map(clock),
                no_fix: !fix.is_valid(),
                height: gns.alt.filter(|height| height.abs() < 1e5),
                hdop: gns.hdop.filter(|hdop| (0.0..1e6).contains(hdop)),
                satellites: u8::try_from(gns.nsattelites).ok(),
                kind: kind(fix),
                ..Stated::default()
            };
            (stated, gns.lat.zip(gns.lon))
        }
        Ok(ParseResult::GLL(gll)) => {
            let no_fix = !gll.valid || !gll.faa_mode.is_none_or(is_measured);
            let stated = Stated { clock: gll.fix_time.map(clock), no_fix, ..Stated::default() };
            (stated, gll.latitude.zip(gll.longitude))
        }
        Ok(ParseResult::ZDA(zda)) => {
            let date = zda.utc_date().and_then(date);
            (Stated { clock: zda.utc_time.map(clock), date, ..Stated::default() }, None)
        }
        // a receiver without a fix leaves values out in its own manner
        _ if text.contains(",,,,") => (Stated { no_fix: true, ..Stated::default() }, None),
        _ => return Err(Unusable::Damaged),
    };
    let at = match at {
        Some(at) if !stated.no_fix => Some(place(at, text)?),
        _ => None,
    };
    let decides = combined || text.get(3..6) == Some("RMC");
    Ok(Stated { at, combined, decides, ..stated })
}

fn of_gga(gga: &nmea::sentences::GgaData) -> Stated {
    let fix = gga.fix_type.unwrap_or(FixType::Invalid);
    Stated {
        clock: gga.fix_time.map(clock),
        no_fix: !fix.is_valid(),
        height: gga.altitude.filter(|height| height.abs() < 1e5),
        hdop: gga.hdop.filter(|hdop| (0.0..1e6).contains(hdop)),
        satellites: gga.fix_satellites.and_then(|count| u8::try_from(count).ok()),
        kind: kind(fix),
        ..Stated::default()
    }
}

fn kind(fix: FixType) -> Option<FixKind> {
    match fix {
        FixType::DGps | FixType::Rtk | FixType::FloatRtk => Some(FixKind::Dgps),
        FixType::Pps => Some(FixKind::Pps),
        _ => None,
    }
}

fn is_measured(mode: FaaMode) -> bool {
    FixType::from(mode).is_valid()
}

fn place((latitude, longitude): (f64, f64), text: &str) -> Result<LatLon, Unusable> {
    let at = LatLon::new(latitude, longitude).map_err(|_| Unusable::OffTheGlobe)?;
    // 4875.0 is not 48 degrees and 75 minutes
    if minutes(text).any(|minutes| minutes >= 60.0) {
        return Err(Unusable::Damaged);
    }
    Ok(at)
}

/// The minutes of the values that a hemisphere follows.
fn minutes(text: &str) -> impl Iterator<Item = f64> + '_ {
    let values = text.split([',', '*']);
    values.clone().zip(values.skip(1)).filter_map(|(value, mark)| {
        let whole = value.find('.').unwrap_or(value.len());
        matches!(mark, "N" | "S" | "E" | "W").then_some(())?;
        // the variation of a compass is not degrees and minutes
        (whole >= 4).then(|| value.get(whole - 2..)?.parse().ok())?
    })
}

fn clock(time: NaiveTime) -> i64 {
    i64::from(time.num_seconds_from_midnight()) * 1_000_000_000 + i64::from(time.nanosecond())
}

fn date(date: NaiveDate) -> Option<Date> {
    let (month, day) = (i8::try_from(date.month()).ok()?, i8::try_from(date.day()).ok()?);
    Date::new(i16::try_from(date.year()).ok()?, month, day).ok()
}
