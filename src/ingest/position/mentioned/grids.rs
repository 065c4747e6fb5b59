//! Lists the positions that grid figures within a text can mean: MGRS, UTM with a zone, and near a known place
//! also metres and map references without one, on the grids in use there. Layer: `ingest`.

use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};

use super::figures::{Figure, Split, figures};
use super::single::is_no_reference;
use crate::earth::{datum, geodesic, grid};
use crate::ingest::position::precision::square_diagonal;
use crate::model::{Mentioned, MentionedForm};
use crate::units::{Degrees, LatLon, Metres, TrueBearing};

/// Figures of a pair stand next to each other, or one apart.
const APART: usize = 2;
/// Farther from the known place figures are no reference to its surroundings, metres.
pub(super) const SURROUNDINGS: f64 = 20_000.0;
/// Northings of both halves of UTM are in use up to here, degrees (project choice).
const EQUATORIAL: f64 = 0.5;
/// The side of the squares within which map references repeat, metres.
const SQUARE: f64 = 100_000.0;

/// National grids by code, with the south, north, west and east of where maps use them, degrees.
///
/// # References
/// EPSG Geodetic Parameter Dataset; the limits are rounded outward from memory.
const NATIONAL: [(u16, [f64; 4]); 36] = [
    (27_700, [49.5, 61.2, -9.2, 2.2]),
    (29_902, [51.2, 55.6, -10.8, -5.2]),
    (29_903, [51.2, 55.6, -10.8, -5.2]),
    (2_157, [51.2, 55.6, -10.8, -5.2]),
    (2_056, [45.7, 48.0, 5.8, 10.7]),
    (21_781, [45.7, 48.0, 5.8, 10.7]),
    (31_466, [47.0, 55.3, 5.5, 8.0]),
    (31_467, [47.0, 55.3, 7.0, 11.0]),
    (31_468, [47.0, 55.3, 10.0, 14.0]),
    (31_469, [47.0, 55.3, 13.0, 15.3]),
    (2_154, [41.0, 51.7, -5.4, 10.0]),
    (27_572, [41.0, 51.7, -5.4, 10.0]),
    (28_992, [50.6, 53.8, 3.0, 7.4]),
    (31_370, [49.3, 51.7, 2.3, 6.6]),
    (3_812, [49.3, 51.7, 2.3, 6.6]),
    (3_006, [54.9, 69.3, 10.5, 24.4]),
    (3_021, [54.9, 69.3, 10.5, 24.4]),
    (3_067, [59.5, 70.3, 18.9, 31.8]),
    (2_393, [59.5, 70.3, 18.9, 31.8]),
    (25_833, [57.5, 71.5, 4.0, 31.5]),
    (3_035, [34.0, 72.0, -25.0, 45.0]),
    (31_287, [46.2, 49.2, 9.3, 17.3]),
    (31_254, [46.2, 49.2, 9.3, 12.5]),
    (31_255, [46.2, 49.2, 11.0, 15.5]),
    (31_256, [46.2, 49.2, 14.0, 17.3]),
    (5_514, [47.5, 51.2, 11.9, 22.7]),
    (2_180, [48.9, 55.1, 13.9, 24.3]),
    (3_763, [36.7, 42.3, -9.8, -6.0]),
    (3_003, [36.4, 47.2, 6.5, 13.0]),
    (3_004, [36.4, 47.2, 11.5, 18.7]),
    (3_301, [57.4, 59.9, 21.6, 28.4]),
    (3_059, [55.5, 58.2, 20.8, 28.4]),
    (3_346, [53.7, 56.6, 20.7, 27.0]),
    (2_193, [-47.6, -34.0, 166.0, 179.0]),
    (27_200, [-47.6, -34.0, 166.0, 179.0]),
    (3_857, [-85.0, 85.0, -180.0, 180.0]),
];

/// Bytes that hold the longest reference with all that people write between its parts.
const LONGEST_REFERENCE: usize = 60;

/// MGRS references within a cleaned text, those of the polar grid included.
pub(super) fn mgrs(text: &str) -> Vec<Mentioned> {
    let bytes = text.as_bytes();
    let starts = (0..bytes.len()).filter(|at| match bytes[*at] {
        byte if byte.is_ascii_digit() => {
            let before = at.checked_sub(1).and_then(|before| bytes.get(before));
            before.is_none_or(|byte| !byte.is_ascii_digit())
        }
        byte => b"ABYZ".contains(&byte.to_ascii_uppercase()),
    });
    starts.filter_map(|at| bytes.get(at..)).flat_map(references).collect()
}

/// The references at the beginning of a text: figures behind one can be its own digits or others.
fn references(text: &[u8]) -> Vec<Mentioned> {
    let near = text.iter().take(LONGEST_REFERENCE).filter(|byte| byte.is_ascii_alphanumeric());
    let bare: String = near.map(|byte| char::from(byte.to_ascii_uppercase())).collect();
    let zone = bare.bytes().take_while(u8::is_ascii_digit).count();
    let letters = bare[zone..].bytes().take_while(u8::is_ascii_uppercase).count();
    let from = zone + letters;
    let digits = bare[from..].bytes().take_while(u8::is_ascii_digit).count();
    if zone > 2 || letters != 3 {
        return Vec::new();
    }
    let lengths = (2..=digits.min(12)).step_by(2);
    lengths
        .filter_map(|length| {
            let found = grid::from_mgrs(&bare[..from + length]).ok()?;
            let precision = found.half_diagonal();
            Some(Mentioned {
                at: found.centre,
                precision,
                bare: length < 4,
                form: MentionedForm::Position,
            })
        })
        .collect()
}

/// UTM coordinates whose zone stands beside them, on either half of the Earth.
pub(super) fn utm(figures: &[Figure]) -> Vec<Mentioned> {
    let mut found = Vec::new();
    for (first, second) in pairs(figures) {
        let (Some(a), Some(b)) = (figures.get(first), figures.get(second)) else { continue };
        // close to the equator a northing has few digits
        if !(5..=8).contains(&a.whole.max(b.whole)) {
            continue;
        }
        let precision = square_diagonal(step(a).max(step(b)));
        let around = first.saturating_sub(APART)..(second + APART + 1).min(figures.len());
        for zone in figures[around].iter().filter_map(zone) {
            for (east, north) in [(a.size, b.size), (b.size, a.size)] {
                let halves = [true, false].into_iter();
                let places = halves.filter_map(|half| grid::Utm::new(zone, half, east, north).ok());
                let at = places.map(grid::Utm::to_latlon);
                let form = MentionedForm::Position;
                found.extend(at.map(|at| Mentioned { at, precision, bare: false, form }));
            }
        }
    }
    found
}

fn zone(figure: &Figure) -> Option<u8> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 60")]
    let zone = figure.size as u8;
    (figure.whole <= 2 && figure.decimals == 0 && (1..=60).contains(&zone)).then_some(zone)
}

pub(super) fn step(figure: &Figure) -> f64 {
    10_f64.powi(-figure.decimals)
}

fn pairs(figures: &[Figure]) -> impl Iterator<Item = (usize, usize)> + '_ {
    (0..figures.len()).flat_map(|first| {
        let last = (first + APART).min(figures.len().saturating_sub(1));
        (first + 1..=last).map(move |second| (first, second))
    })
}

/// Metres and map references that mean a place near the known one.
pub(super) fn near(text: &str, figures: &[Figure], known: LatLon) -> Vec<Mentioned> {
    let readings = readings(text, figures);
    if readings.is_empty() {
        return Vec::new();
    }
    let named = codes(text);
    let local = local(known, &named);
    let mut found = Vec::new();
    for reading in &readings {
        for origin in &local {
            found.extend(reading.beside(origin, named.contains(&origin.code)));
        }
    }
    found
}

/// Two lengths on a grid: in full, or within a square of 100 km.
#[derive(Clone, Copy, Debug)]
struct Reading {
    first: f64,
    second: f64,
    /// One unit of the last digit, metres.
    step: f64,
    in_full: bool,
}

fn readings(text: &str, figures: &[Figure]) -> Vec<Reading> {
    let other = |place: usize| is_no_reference(text, figures, place);
    let mut found = Vec::new();
    for (first, second) in pairs(figures) {
        let (Some(a), Some(b)) = (figures.get(first), figures.get(second)) else { continue };
        let whole = a.decimals == 0 && b.decimals == 0;
        // close to the origin of a grid, as UTM has it at the equator, one of them has few digits
        if (5..=8).contains(&a.whole.max(b.whole)) {
            let step = step(a).max(step(b));
            found.push(Reading { first: a.size, second: b.size, step, in_full: true });
        }
        let same = whole && a.whole == b.whole && (3..=5).contains(&a.whole);
        if same && !other(first) && !other(second) {
            found.extend(within_square(a.size, b.size, a.whole));
        }
    }
    for (place, figure) in figures.iter().enumerate().filter(|(_, one)| one.decimals == 0) {
        if let (6 | 8 | 10, Ok(half)) = (figure.whole, i32::try_from(figure.whole / 2))
            && !other(place)
        {
            let scale = 10_f64.powi(half);
            let (first, second) = ((figure.size / scale).trunc(), figure.size % scale);
            found.extend(within_square(first, second, figure.whole / 2));
        }
    }
    found
}

/// `475 502`: three to five digits each.
fn within_square(first: f64, second: f64, digits: usize) -> Option<Reading> {
    let power = i32::try_from(digits).ok().filter(|digits| (3..=5).contains(digits))?;
    let step = 10_f64.powi(5 - power);
    Some(Reading { first: first * step, second: second * step, step, in_full: false })
}

impl Reading {
    fn beside(&self, origin: &Origin, named: bool) -> impl Iterator<Item = Mentioned> {
        let orders = [(self.first, self.second), (self.second, self.first)];
        let Self { step, in_full, .. } = *self;
        let Origin { at, x, y, .. } = *origin;
        let off = move |written: f64, own: f64| {
            let off = written - own.abs();
            let signed = if own < 0.0 { -off } else { off };
            if in_full { signed } else { (signed + SQUARE / 2.0).rem_euclid(SQUARE) - SQUARE / 2.0 }
        };
        orders.into_iter().filter_map(move |(east, north)| {
            let (east, north) = (off(east + step / 2.0, x), off(north + step / 2.0, y));
            let distance = east.hypot(north);
            if distance > SURROUNDINGS {
                return None;
            }
            let bearing = TrueBearing::new(Degrees(east.atan2(north).to_degrees()));
            let place = geodesic::destination(at, bearing, Metres(distance));
            // grid north is within 3 degrees of north, and the scale of a grid within a hundredth of one
            let precision = square_diagonal(step) + Metres(distance * 0.06);
            let form = MentionedForm::Position;
            Some(Mentioned { at: place, precision, bare: !(named && in_full), form })
        })
    }
}

/// A place with its coordinates on a grid.
#[derive(Clone, Copy, Debug)]
pub(super) struct Origin {
    code: u32,
    pub(super) at: LatLon,
    pub(super) x: f64,
    pub(super) y: f64,
}

impl Origin {
    /// Whether the grid is this zone of UTM, on either half or on the European datum.
    pub(super) fn is_zone(&self, zone: f64) -> bool {
        [32_600, 32_700, 25_800]
            .iter()
            .any(|first| f64::from(self.code) - f64::from(*first) == zone)
    }
}

/// Codes of grids that a text names: `EPSG:2056`.
pub(super) fn codes(text: &str) -> Vec<u32> {
    let upper = text.to_uppercase();
    let named = upper.match_indices("EPSG").filter_map(|(at, _)| {
        let behind = &upper[at + 4..];
        let figure = figures(behind, Split::Plain).into_iter().next()?;
        let near = figure.span.start <= 3 && figure.decimals == 0 && figure.whole <= 5;
        let code = behind.get(figure.span).and_then(|code| code.parse().ok());
        code.filter(|_| near)
    });
    named.take(4).collect()
}

type Remembered = LazyLock<Mutex<HashMap<(i32, i32), Vec<Origin>>>>;
static ORIGINS: Remembered = LazyLock::new(Mutex::default);
/// The most cells of a hundredth of a degree that are kept, against hostile files.
const MOST_REMEMBERED: usize = 4_096;

/// The middle of the known place's cell on the grids in use there, and on the named ones.
pub(super) fn local(known: LatLon, named: &[u32]) -> Vec<Origin> {
    #[allow(clippy::cast_possible_truncation, reason = "at most 18000")]
    let cell = |degrees: f64| (degrees * 100.0).floor() as i32;
    let key = (cell(known.latitude()), cell(known.longitude()));
    let middle = |cell: i32| (f64::from(cell) + 0.5) / 100.0;
    let at = LatLon::clamped(middle(key.0), middle(key.1));
    let lock = || ORIGINS.lock().unwrap_or_else(PoisonError::into_inner);
    let kept = lock().get(&key).cloned();
    let mut origins = kept.unwrap_or_else(|| {
        let computed = in_use(at);
        let mut kept = lock();
        if kept.len() < MOST_REMEMBERED {
            kept.insert(key, computed.clone());
        }
        computed
    });
    origins.extend(named.iter().filter_map(|code| origin(*code, at)));
    origins
}

fn in_use(at: LatLon) -> Vec<Origin> {
    let (latitude, longitude) = (at.latitude(), at.longitude());
    let national = NATIONAL.iter().filter(|(_, [south, north, west, east])| {
        (*south..=*north).contains(&latitude) && (*west..=*east).contains(&longitude)
    });
    let own = grid::utm(at);
    let half = if own.is_north() { 32_600 } else { 32_700 };
    let beside = [59, 1].map(|step| u32::from((own.zone() + step - 1) % 60 + 1));
    let zones = beside.into_iter().filter(|_| own.zone() > 0).map(|zone| half + zone);
    let mut all: Vec<Origin> = national
        .map(|(code, _)| u32::from(*code))
        .chain(zones)
        .filter_map(|code| origin(code, at))
        .collect();
    let code = half + u32::from(own.zone());
    let (x, y) = (own.easting().0, own.northing().0);
    all.push(Origin { code, at, x, y });
    // beside the equator northings continue those of the other half
    if own.zone() > 0 && latitude.abs() < EQUATORIAL {
        let (code, y) = if own.is_north() { (code + 100, y + 1e7) } else { (code - 100, y - 1e7) };
        all.push(Origin { code, at, x, y });
    }
    all
}

fn origin(code: u32, at: LatLon) -> Option<Origin> {
    let (x, y) = datum::from_wgs84(&format!("EPSG:{code}"), at).ok()?;
    // degrees are read as such
    (x.abs().max(y.abs()) > 1_000.0).then_some(Origin { code, at, x, y })
}
