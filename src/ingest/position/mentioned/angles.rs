//! Lists the positions that angles within a text can mean, in either order and with every sign.
//! Layer: `ingest`.

use super::figures::{Figure, first_word, is_letter, last_word};
use crate::ingest::position::precision::cell_diagonal;
use crate::model::{Mentioned, MentionedForm};
use crate::units::LatLon;

/// An angle that some figures can mean.
#[derive(Clone, Copy, Debug)]
pub(super) struct Angle {
    /// Its last figure; the first is that of its list.
    pub(super) last: usize,
    pub(super) size: f64,
    /// One unit of the last digit, degrees.
    pub(super) step: f64,
    /// Whether marks, letters or decimals say that it is one.
    pub(super) marked: bool,
    /// Whether a hemisphere or a label stands beside it.
    pub(super) sided: bool,
    pub(super) parts: u8,
}

/// Figures between two angles: a radius, a height.
const BETWEEN: usize = 2;
/// Letters and marks between the parts of an angle.
const LONGEST_GAP: usize = 14;
const UNITS: [&str; 18] = [
    "d", "deg", "degs", "degree", "degrees", "grad", "m", "min", "mins", "minute", "minutes",
    "minuten", "s", "sec", "secs", "second", "seconds", "sekunden",
];
const SIDES: [&str; 25] = [
    "n",
    "s",
    "e",
    "w",
    "o",
    "north",
    "south",
    "east",
    "west",
    "nord",
    "sud",
    "s\u{fc}d",
    "ost",
    "est",
    "ouest",
    "norte",
    "sur",
    "este",
    "oeste",
    "lat",
    "lon",
    "long",
    "lng",
    "latitude",
    "longitude",
];

/// The positions of a cleaned text with these figures.
pub(super) fn positions(text: &str, figures: &[Figure], near: Option<LatLon>) -> Vec<Mentioned> {
    let all: Vec<Vec<Angle>> =
        (0..figures.len()).map(|first| angles(text, figures, first)).collect();
    let mut found = Vec::new();
    for first in all.iter().flatten() {
        let behind = all.get(first.last + 1..).unwrap_or_default();
        for second in behind.iter().take(BETWEEN + 1).flatten() {
            let bare = !first.marked || !second.marked;
            if !bare {
                found.extend(meanings(first, second, bare, |_| true));
            } else if let Some(known) = near.filter(|_| first.parts == second.parts) {
                found.extend(meanings(first, second, bare, |at| is_close(at, known)));
            }
        }
    }
    found
}

/// Figures that nothing marks as coordinates count within a degree.
fn is_close(at: LatLon, known: LatLon) -> bool {
    let east = (at.longitude() - known.longitude() + 540.0).rem_euclid(360.0) - 180.0;
    (at.latitude() - known.latitude()).abs() <= 1.0 && east.abs() <= 1.0
}

fn meanings(
    first: &Angle,
    second: &Angle,
    bare: bool,
    wanted: impl Fn(LatLon) -> bool,
) -> impl Iterator<Item = Mentioned> {
    const SIGNS: [f64; 2] = [1.0, -1.0];
    let orders = [(*first, *second), (*second, *first)];
    let signed = SIGNS.into_iter().flat_map(|north| SIGNS.map(|east| (north, east)));
    let choices = signed.flat_map(move |signs| orders.map(|order| (signs, order)));
    choices.filter_map(move |((north, east), (latitude, longitude))| {
        let at = LatLon::new(north * latitude.size, east * longitude.size).ok();
        let at = at.filter(|at| wanted(*at))?;
        let precision = cell_diagonal(at, latitude.step, longitude.step);
        Some(Mentioned { at, precision, bare, form: MentionedForm::Position })
    })
}

/// The angles that begin with this figure.
pub(super) fn angles(text: &str, figures: &[Figure], first: usize) -> Vec<Angle> {
    let mut found = Vec::new();
    let Some(degrees) = figures.get(first).filter(|figure| figure.size <= 1_800_000.0) else {
        return found;
    };
    if degrees.glued && degrees.decimals < 2 {
        return found;
    }
    let sided = |last: usize| has_side(text, figures, first, last);
    if degrees.size <= 180.0 {
        found.extend(decimal(text, figures, first, sided(first)));
        found.extend(in_parts(text, figures, first));
    }
    if (4..=7).contains(&degrees.whole) && sided(first) {
        found.push(unpacked(degrees, first));
    }
    found
}

fn decimal(text: &str, figures: &[Figure], first: usize, sided: bool) -> Vec<Angle> {
    let Some(degrees) = figures.get(first) else { return Vec::new() };
    let mark = gap(text, figures, first).is_some_and(|gap| gap.starts_with(DEGREE_MARKS));
    let marked = sided || mark || degrees.decimals >= 2;
    let step = 10_f64.powi(-degrees.decimals);
    let angle = |size, step| Angle { last: first, size, step, marked, sided, parts: 1 };
    let mut found = Vec::new();
    if degrees.decimals > 0 {
        found.push(angle(degrees.size, step));
    }
    // minutes behind the point
    let minutes = (degrees.size.fract() * 100.0).round();
    if degrees.decimals == 2 && minutes < 60.0 {
        found.push(angle(degrees.size.trunc() + minutes / 60.0, 1.0 / 60.0));
    }
    found
}

const DEGREE_MARKS: [char; 4] = ['\u{b0}', '\u{ba}', '\u{2da}', '*'];

/// Degrees and minutes, and with seconds.
fn in_parts(text: &str, figures: &[Figure], first: usize) -> Vec<Angle> {
    let mut found = Vec::new();
    let (mut size, mut scale, mut marked) = (figures[first].size, 1.0, false);
    for (parts, last) in [(2, first + 1), (3, first + 2)] {
        let whole = figures[last - 1].decimals == 0;
        let joined = gap(text, figures, last - 1).and_then(joins);
        let (Some(next), Some(mark), true) = (figures.get(last), joined, whole) else { break };
        if next.size > 60.0 || next.whole > 2 {
            break;
        }
        scale /= 60.0;
        size += next.size * scale;
        marked |= mark;
        let step = scale * 10_f64.powi(-next.decimals);
        let sided = has_side(text, figures, first, last);
        found.push(Angle { last, size, step, marked: marked || sided, sided, parts });
    }
    found
}

/// `4230S` and `423036S`.
pub(super) fn unpacked(figure: &Figure, last: usize) -> Angle {
    let (whole, fraction) = (figure.size.trunc(), figure.size.fract());
    let step = 10_f64.powi(-figure.decimals);
    let (size, step) = if figure.whole <= 5 {
        ((whole / 100.0).trunc() + (whole % 100.0 + fraction) / 60.0, step / 60.0)
    } else {
        let minutes = (whole / 100.0).trunc() % 100.0;
        let seconds = whole % 100.0 + fraction;
        ((whole / 10_000.0).trunc() + minutes / 60.0 + seconds / 3_600.0, step / 3_600.0)
    };
    Angle { last, size, step, marked: true, sided: true, parts: 2 }
}

/// The text behind a figure, up to the next one.
fn gap<'a>(text: &'a str, figures: &[Figure], before: usize) -> Option<&'a str> {
    let from = figures.get(before)?.span.end;
    text.get(from..figures.get(before + 1).map_or(text.len(), |next| next.span.start))
}

/// Whether a gap joins the parts of one angle, and whether a mark or unit says so.
fn joins(gap: &str) -> Option<bool> {
    const MARKS: &str =
        "\u{b0}\u{ba}\u{2da}*'\u{2019}\u{2018}\u{2032}`\u{b4}\"\u{2033}\u{201d}\u{201c}";
    if gap.chars().count() > LONGEST_GAP {
        return None;
    }
    let mut marked = false;
    for word in gap.split(|letter| !is_letter(letter)).filter(|word| !word.is_empty()) {
        let word = word.to_lowercase();
        if UNITS.contains(&word.as_str()) {
            marked = true;
        } else if !SIDES.contains(&word.as_str()) {
            return None;
        }
    }
    for mark in gap.chars().filter(|letter| !is_letter(*letter)) {
        if MARKS.contains(mark) {
            marked = true;
        } else if !" :-.,_;?\u{fffd}".contains(mark) {
            // a question mark replaces a degree sign that an encoding lacks
            return None;
        }
    }
    Some(marked)
}

/// Whether a hemisphere or a label stands beside the figures of an angle.
fn has_side(text: &str, figures: &[Figure], first: usize, last: usize) -> bool {
    let (Some(from), Some(to)) = (figures.get(first), figures.get(last)) else { return false };
    let before = text[..from.span.start].trim_end_matches([' ', ':', '=', '.', '-', '+', '(']);
    let behind = text[to.span.end..].trim_start_matches(|letter: char| !letter.is_alphanumeric());
    let is_side = |word: &str| SIDES.contains(&word.to_lowercase().as_str());
    is_side(last_word(before)) || is_side(first_word(behind))
}
