//! Lists single coordinates in unusual units, or without their whole degrees, that lie at a known place: scientific
//! notation, microdegrees and smaller units as whole numbers, radians, gon, minutes alone, decimals alone. Layer:
//! `ingest`.
//!
//! Any number can be one of these, so only what is almost exactly a coordinate of the place counts, at whatever level:
//! who writes a coordinate so writes the true one.

use super::figures::Figure;
use super::single::is_something_else;
use crate::ingest::position::precision::cell_diagonal;
use crate::model::{Mentioned, MentionedForm};
use crate::units::LatLon;

/// How far from the place such a coordinate may lie, metres: a shift between datums and a walker's error (chosen).
const REACH: f64 = 750.0;
/// Metres of a degree on a meridian.
const DEGREE: f64 = 111_195.0;
/// Degrees of a radian and of a gon.
const UNITS: [(f64, i32); 2] = [(180.0 / std::f64::consts::PI, 4), (0.9, 3)];
/// Parts of a degree that programs count in whole numbers: ten to this power.
const COUNTED: [i32; 3] = [5, 6, 7];

/// A number of degrees, perhaps without the whole ones.
#[derive(Clone, Copy)]
struct Value {
    degrees: f64,
    step: f64,
    /// Whether the whole degrees are those of the place.
    is_part: bool,
}

/// The coordinates near this place.
pub(super) fn coordinates(text: &str, figures: &[Figure], known: LatLon) -> Vec<Mentioned> {
    let mut found = Vec::new();
    for (index, figure) in figures.iter().enumerate() {
        let written = exponent(text, figure);
        if written.is_none() && is_something_else(text, figures, index, index) {
            continue;
        }
        let alone = match written {
            Some(power) => scientific(figure, power),
            None => [units(figure), counted(figure), parts(text, figure)].concat(),
        };
        found.extend(alone.iter().flat_map(|value| at(*value, known)).flatten());
        if let Some(next) = figures.get(index + 1).filter(|_| written.is_none()) {
            found.extend(pair([figure, next], known));
        }
    }
    found
}

/// The place with this latitude, and that with this longitude, where they are at the known one.
fn at(value: Value, known: LatLon) -> [Option<Mentioned>; 2] {
    let narrow = known.latitude().to_radians().cos();
    let size = |own: f64| value.degrees + if value.is_part { own.abs().trunc() } else { 0.0 };
    let signed = |own: f64| if own < 0.0 { -size(own) } else { size(own) };
    let (latitude, longitude) = (known.latitude(), known.longitude());
    let mention = |own: f64, wide: f64, place: Option<LatLon>, steps: (f64, f64)| {
        let off = ((size(own) - own.abs()).abs() - value.step).max(0.0) * DEGREE * wide;
        let at = place.filter(|_| off <= REACH)?;
        let precision = cell_diagonal(at, steps.0, steps.1);
        Some(Mentioned { at, precision, bare: true, form: MentionedForm::Coordinate })
    };
    [
        mention(latitude, 1.0, LatLon::new(signed(latitude), longitude).ok(), (value.step, 0.0)),
        mention(
            longitude,
            narrow,
            LatLon::new(latitude, signed(longitude)).ok(),
            (0.0, value.step),
        ),
    ]
}

/// The power of ten behind a number: `4.7305e1`, `4.7305 x 10^1`.
fn exponent(text: &str, figure: &Figure) -> Option<i32> {
    let behind = &text[figure.span.end..];
    let letter = behind.strip_prefix(['e', 'E']);
    let times = || {
        let times = behind.trim_start().strip_prefix(['x', 'X', '*', '\u{d7}'])?;
        times.trim_start().strip_prefix("10")?.strip_prefix('^')
    };
    let power = letter.or_else(times)?;
    let end = power
        .char_indices()
        .find(|(at, letter)| {
            let sign = *at == 0 && matches!(letter, '+' | '-');
            !letter.is_ascii_digit() && !sign
        })
        .map_or(power.len(), |(at, _)| at);
    power[..end].parse().ok().filter(|power: &i32| (-4..=9).contains(power))
}

/// Degrees, or a unit that programs count, in scientific notation.
fn scientific(figure: &Figure, power: i32) -> Vec<Value> {
    if figure.decimals < 2 {
        return Vec::new();
    }
    let (size, step) = (figure.size * 10_f64.powi(power), 10_f64.powi(power - figure.decimals));
    let scales = [1.0].into_iter().chain(COUNTED.map(|counted| 10_f64.powi(-counted)));
    scales.map(|scale| whole(size * scale, step * scale)).filter(|one| one.step <= 0.1).collect()
}

fn whole(degrees: f64, step: f64) -> Value {
    Value { degrees, step, is_part: false }
}

/// Radians and gon with so many decimals that they can be a coordinate.
fn units(figure: &Figure) -> Vec<Value> {
    let fine = UNITS.iter().filter(|(_, least)| figure.decimals >= *least);
    fine.map(|(unit, _)| whole(figure.size * unit, 10_f64.powi(-figure.decimals) * unit)).collect()
}

/// `47305120` and `473051200`.
fn counted(figure: &Figure) -> Vec<Value> {
    if !(7..=10).contains(&figure.whole) || figure.decimals > 0 {
        return Vec::new();
    }
    let scale = |power: &i32| 10_f64.powi(-power);
    COUNTED.iter().map(|power| whole(figure.size * scale(power), scale(power))).collect()
}

/// `18.809'` and `.30512`: minutes, and decimals of a degree.
fn parts(text: &str, figure: &Figure) -> Vec<Value> {
    let behind = text[figure.span.end..].trim_start();
    let before = text[..figure.span.start].trim_end();
    let is_marked = behind.starts_with(['\'', '\u{2032}', '\u{2019}'])
        && !before.ends_with(['\u{b0}', '\u{ba}', 'd', '*']);
    let mut found = Vec::new();
    if is_marked && figure.decimals >= 2 && figure.size < 60.0 {
        found.push(minutes(figure));
    }
    let point = text[..figure.span.start].strip_suffix('.');
    let begins = |front: &str| !front.ends_with(|letter: char| letter.is_alphanumeric());
    if point.is_some_and(begins) && figure.decimals == 0 && (4..=8).contains(&figure.whole) {
        found.push(decimals(figure));
    }
    found
}

fn minutes(figure: &Figure) -> Value {
    let step = 10_f64.powi(-figure.decimals) / 60.0;
    Value { degrees: figure.size / 60.0, step, is_part: true }
}

fn decimals(figure: &Figure) -> Value {
    let digits = i32::try_from(figure.whole).unwrap_or(0);
    let step = 10_f64.powi(-digits);
    Value { degrees: figure.size * step, step, is_part: true }
}

/// Two numbers of which one is the minutes or decimals of the latitude, the other those of the longitude:
/// `18.809 24.747`, `30512 41244`.
fn pair(two: [&Figure; 2], known: LatLon) -> Vec<Mentioned> {
    let read = |figure: &Figure| match (figure.decimals, figure.whole) {
        (2.., 1..=2) if figure.size < 60.0 => Some(minutes(figure)),
        (0, 5..=6) => Some(decimals(figure)),
        _ => None,
    };
    let ([Some(first), Some(second)], false) = (two.map(read), two[0].glued || two[1].glued) else {
        return Vec::new();
    };
    let ([north, east], [later_north, later_east]) = (at(first, known), at(second, known));
    let both = |one: Option<Mentioned>, other: Option<Mentioned>| one.zip(other);
    let pairs = [both(north, later_east), both(later_north, east)];
    pairs.into_iter().flatten().flat_map(|(one, other)| [one, other]).collect()
}
