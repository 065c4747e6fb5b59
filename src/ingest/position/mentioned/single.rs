//! Lists single coordinates within a text that lie near a known place: a latitude or a longitude alone, an easting
//! or a northing alone. What is left of a position with one of its two coordinates is a strip through the place.
//! Layer: `ingest`.
//!
//! Numbers that a text marks as something else are left out: with a unit of measurement, as a size (`12.5 x 8.2`), as
//! a date, as an identifier (`no. 391542`).

use super::angles::{Angle, angles};
use super::figures::{Figure, first_word, last_word};
use super::grids::{Origin, SURROUNDINGS, codes, local, step};
use crate::earth::geodesic;
use crate::ingest::position::precision::{cell_diagonal, square_diagonal};
use crate::model::{Mentioned, MentionedForm};
use crate::units::{Degrees, LatLon, Metres, TrueBearing};

/// From this size on a number with two decimals alone counts; smaller ones are sizes, ratios and acidities (chosen).
const SIZES: f64 = 20.0;
/// Digits of a full length on a grid.
const FULL: std::ops::RangeInclusive<usize> = 6..=7;
/// Numbers in a row that one unit behind the last measures: `8.5-9.75 x 4.5-5.25 um`.
const IN_A_ROW: usize = 4;
/// Units behind a number that is a measurement.
const UNITS: [&str; 36] = [
    "mm", "cm", "dm", "km", "um", "\u{b5}m", "\u{3bc}m", "nm", "ml", "cl", "l", "g", "kg", "mg",
    "ha", "ft", "in", "yd", "mi", "c", "f", "h", "hr", "hrs", "uhr", "am", "pm", "days", "min",
    "caps", "x", "ppm", "lux", "fuss", "masl", "asl",
];
/// Words before a number that identifies something.
const IDENTIFIED: [&str; 24] = [
    "no",
    "nr",
    "num",
    "number",
    "nummer",
    "numero",
    "id",
    "img",
    "dsc",
    "dscn",
    "photo",
    "photos",
    "foto",
    "fotos",
    "picture",
    "acc",
    "accession",
    "coll",
    "herb",
    "barcode",
    "isbn",
    "tel",
    "phone",
    "ph",
];
/// How far from the place a coordinate in kilometres may lie, metres: a shift between datums and a walker's error
/// (chosen).
const AT_THE_PLACE: f64 = 750.0;
/// Words beside a length on a grid.
const LABELS: [&str; 29] = [
    "e",
    "n",
    "o",
    "w",
    "s",
    "r",
    "h",
    "x",
    "y",
    "me",
    "mn",
    "rw",
    "hw",
    "easting",
    "northing",
    "rechtswert",
    "hochwert",
    "ostwert",
    "nordwert",
    "rechts",
    "hoch",
    "utm",
    "grid",
    "gk",
    "ref",
    "lambert",
    "coord",
    "east",
    "north",
];

/// Single coordinates near a place; without a place only those that letters mark as latitude or longitude.
pub(super) fn coordinates(text: &str, figures: &[Figure], near: Option<LatLon>) -> Vec<Mentioned> {
    let mut found = Vec::new();
    for first in 0..figures.len() {
        for angle in angles(text, figures, first) {
            found.extend(of_angle(text, figures, first, &angle, near));
        }
        found.extend(packed(text, figures, first).and_then(|angle| meant(&angle, near)));
    }
    if let Some(known) = near {
        found.extend(lengths(text, figures, known));
    }
    found
}

fn of_angle(
    text: &str,
    figures: &[Figure],
    first: usize,
    angle: &Angle,
    near: Option<LatLon>,
) -> Option<Mentioned> {
    let figure = figures.get(first)?;
    let in_marked_parts = angle.marked && angle.parts > 1;
    let is_other = || !in_marked_parts && is_something_else(text, figures, first, angle.last);
    if !angle.sided && (near.is_none() || is_other()) {
        return None;
    }
    let fine = match angle.parts {
        1 => figure.decimals >= 3 || figure.decimals == 2 && figure.size >= SIZES,
        2 => figures.get(angle.last)?.decimals >= 1,
        _ => true,
    };
    (fine || angle.sided || in_marked_parts).then(|| meant(angle, near)).flatten()
}

/// `522314` and `0132204`: degrees, minutes and seconds in one number.
fn packed(text: &str, figures: &[Figure], first: usize) -> Option<Angle> {
    let figure = figures.get(first)?;
    let possible = (6..=7).contains(&figure.whole) && !figure.glued;
    if !possible || is_something_else(text, figures, first, first) {
        return None;
    }
    let (minutes, seconds) = ((figure.size / 100.0).trunc() % 100.0, figure.size % 100.0);
    let angle = super::angles::unpacked(figure, first);
    (minutes < 60.0 && seconds < 60.0 && figure.size < 1_800_000.0).then_some(angle)
}

/// The place that has this latitude or longitude and is the known one else; the nearer one where both are possible.
fn meant(angle: &Angle, near: Option<LatLon>) -> Option<Mentioned> {
    let form = MentionedForm::Coordinate;
    let Some(known) = near else {
        let at = LatLon::new(angle.size.min(90.0), 0.0).ok()?;
        let precision = Metres(angle.step * 111_195.0);
        return Some(Mentioned { at, precision, bare: false, form });
    };
    let signed = |own: f64| if own < 0.0 { -angle.size } else { angle.size };
    let along = LatLon::new(signed(known.latitude()), known.longitude());
    let across = LatLon::new(known.latitude(), signed(known.longitude()));
    let places = [(along, angle.step, 0.0), (across, 0.0, angle.step)];
    let places = places.into_iter().filter_map(|(at, north, east)| {
        let at = at.ok()?;
        Some(Mentioned { at, precision: cell_diagonal(at, north, east), bare: true, form })
    });
    let distance = |one: &Mentioned| geodesic::distance(one.at, known).0;
    places.min_by(|a, b| distance(a).total_cmp(&distance(b)))
}

/// Eastings and northings in full, near those of the place on the grids in use there.
fn lengths(text: &str, figures: &[Figure], known: LatLon) -> Vec<Mentioned> {
    let mut found = Vec::new();
    let mut origins: Option<Vec<Origin>> = None;
    for (index, figure) in figures.iter().enumerate() {
        let zoned = figure.whole == 8;
        // `391.542` and `5240.31`: kilometres
        let in_km = matches!((figure.whole, figure.decimals), (3, 2..=3) | (4, 1..=3));
        if !FULL.contains(&figure.whole) && !zoned && !in_km || figure.decimals > 3 {
            continue;
        }
        let unit = if in_km { 1_000.0 } else { 1.0 };
        if !is_labelled(text, figure) && is_something_else(text, figures, index, index) {
            continue;
        }
        // `32391542`: the zone before the easting
        let size = unit * if zoned { figure.size % 1e6 } else { figure.size };
        let origins = origins.get_or_insert_with(|| local(known, &codes(text)));
        for origin in origins.iter() {
            if zoned && !origin.is_zone((figure.size / 1e6).trunc()) {
                continue;
            }
            let place = beside(origin, size, unit * step(figure), known);
            found.extend(place.into_iter().filter(|one| !in_km || is_at(one, known)));
        }
    }
    found
}

/// Whether a coordinate in kilometres, which any number can be, is that of the place itself.
fn is_at(one: &Mentioned, known: LatLon) -> bool {
    geodesic::distance(one.at, known).0 <= AT_THE_PLACE + one.precision.0
}

/// The known place moved to this easting, and to this northing.
fn beside(origin: &Origin, size: f64, step: f64, known: LatLon) -> Vec<Mentioned> {
    let Origin { at, x, y, .. } = *origin;
    let off = |own: f64| (size + step / 2.0 - own.abs()) * own.signum();
    let moved = |off: f64, bearing: f64| {
        let bearing = if off < 0.0 { bearing + 180.0 } else { bearing };
        geodesic::destination(at, TrueBearing::new(Degrees(bearing)), Metres(off.abs()))
    };
    let mut found = Vec::new();
    for (off, is_easting) in [(off(x), true), (off(y), false)] {
        if off.abs() > SURROUNDINGS {
            continue;
        }
        let at = if is_easting {
            LatLon::clamped(known.latitude(), moved(off, 90.0).longitude())
        } else {
            LatLon::clamped(moved(off, 0.0).latitude(), known.longitude())
        };
        // as for pairs of lengths
        let precision = square_diagonal(step) + Metres(off.abs() * 0.06);
        let form = MentionedForm::Coordinate;
        found.push(Mentioned { at, precision, bare: true, form });
    }
    found
}

fn is_labelled(text: &str, figure: &Figure) -> bool {
    let before = text[..figure.span.start].trim_end_matches([' ', ':', '=', '.', '-']);
    let behind = text[figure.span.end..].trim_start_matches(' ');
    let is_label = |word: &str| LABELS.contains(&word.to_lowercase().as_str());
    is_label(last_word(before)) || is_label(first_word(behind))
}

/// Whether the text says that figures are no coordinate.
pub(super) fn is_something_else(text: &str, figures: &[Figure], first: usize, last: usize) -> bool {
    let (Some(from), Some(to)) = (figures.get(first), figures.get(last)) else { return true };
    to.glued
        || is_no_reference(text, figures, first)
        || is_measured(text, figures, last, IN_A_ROW)
        || is_in_a_date(text, from, to)
}

/// Whether the text says that a figure is a measurement or an identifier.
pub(super) fn is_no_reference(text: &str, figures: &[Figure], index: usize) -> bool {
    let Some(figure) = figures.get(index) else { return true };
    figure.glued
        || is_measured(text, figures, index, IN_A_ROW)
        || is_second_side(text, figure)
        || is_identified(text, figure)
}

/// Whether a unit stands behind a figure, or behind the last of a row of sizes that it begins.
fn is_measured(text: &str, figures: &[Figure], index: usize, left: usize) -> bool {
    let Some(figure) = figures.get(index) else { return false };
    let behind = text[figure.span.end..].trim_start_matches([' ', ')', '\u{b0}', '\u{ba}']);
    if behind.starts_with(['%', '\u{d7}', '\u{2030}', '\u{2103}', '\u{2109}', '\u{20ac}', '$']) {
        return true;
    }
    let word = first_word(behind).to_lowercase();
    // a length of a thousand kilometres is on a grid
    let metres = word == "m" && figure.whole < *FULL.start();
    if UNITS.contains(&word.as_str()) || metres && !is_degrees(&text[figure.span.end..]) {
        return true;
    }
    let next = figures.get(index + 1).map(|next| &text[figure.span.end..next.span.start]);
    // not a comma or a space: the unit behind the next number is not that of a coordinate before it
    let joins = next.is_some_and(|gap| {
        let times = matches!(gap.trim(), "x" | "X" | "\u{d7}");
        times || !gap.is_empty() && gap.chars().all(|mark| "-()".contains(mark))
    });
    joins && left > 0 && is_measured(text, figures, index + 1, left - 1)
}

fn is_degrees(behind: &str) -> bool {
    behind.trim_start().starts_with(['\u{b0}', '\u{ba}', '\''])
}

/// Whether a figure is the second side of a size: `12.5 x 52.25`.
fn is_second_side(text: &str, figure: &Figure) -> bool {
    let before = text[..figure.span.start].trim_end();
    let side = before.strip_suffix(['x', 'X', '\u{d7}', '*']);
    side.is_some_and(|side| side.trim_end().ends_with(|c: char| c.is_ascii_digit() || c == ')'))
}

fn is_identified(text: &str, figure: &Figure) -> bool {
    let before = text[..figure.span.start].trim_end_matches([' ', ':', '.', '_', '-']);
    before.ends_with(['#', '\u{2116}'])
        || IDENTIFIED.contains(&last_word(before).to_lowercase().as_str())
}

/// `24.05.2026`, `14:32:05` and `20260524_143205`: a mark between figures without a space.
fn is_in_a_date(text: &str, from: &Figure, to: &Figure) -> bool {
    let bytes = text.as_bytes();
    let digit = |at: Option<usize>| at.and_then(|at| bytes.get(at)).is_some_and(u8::is_ascii_digit);
    let mark = |at: Option<usize>| {
        at.and_then(|at| bytes.get(at)).is_some_and(|byte| b".:-/_".contains(byte))
    };
    let before = from.span.start.checked_sub(1);
    let own = from.span.start.checked_sub(2);
    let behind = Some(to.span.end);
    mark(before) && digit(own) || mark(behind) && digit(Some(to.span.end + 1))
}
