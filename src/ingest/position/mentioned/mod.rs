//! Finds the positions that any part of a free text can mean, for outputs that must not disclose a place.
//! Takes every notation that this module reads, in either order, with every sign and decimal comma; close to a
//! known place also figures that mean a position there alone. Layer: `ingest`.
//!
//! It errs on the side of finding too many: one that is far from anything protected discloses nothing.

mod angles;
mod codes;
mod figures;
mod grids;
mod scaled;
mod single;

#[cfg(test)]
mod tests;

use self::figures::Figure;
use super::link;
use crate::model::Mentioned;
#[cfg(doc)]
use crate::model::MentionedForm;
use crate::units::LatLon;

/// Digits of the shortest position.
const LEAST_DIGITS: usize = 3;
/// Bytes of a text that are searched at a time.
const PIECE: usize = 1_500;
/// Bytes by which pieces overlap: the longest position.
const OVERLAP: usize = 200;

/// The positions that parts of a text can mean. `near` is the place that the text is about; without it figures
/// that nothing marks as coordinates are left out. One coordinate alone is stated as the position that has it and is
/// the known place else ([`MentionedForm::Coordinate`]).
///
/// # Accuracy
/// Datums of maps are not distinguished: a position can be up to 500 m from where it was meant.
///
/// # Examples
/// ```
/// use trug::ingest::position::mentioned;
/// let found = mentioned("log below the track, 42\u{b0}30'44\"S 146\u{b0}15'25\"E, wet", None);
/// assert!(found.iter().any(|one| one.at.to_string() == "42.51222 S 146.25694 E"));
/// assert!(mentioned("12 caps on a log of 40 cm, photos 2041 to 2044", None).is_empty());
/// ```
#[must_use]
pub fn mentioned(text: &str, near: Option<LatLon>) -> Vec<Mentioned> {
    let mut found = codes::positions(text, near);
    if text.chars().filter(|letter| letter.is_numeric()).take(LEAST_DIGITS).count() < LEAST_DIGITS {
        return found;
    }
    let text = figures::cleaned(text);
    found.extend(linked(&text));
    for piece in pieces(&text) {
        found.extend(of_piece(piece, near));
    }
    found
}

fn of_piece(text: &str, near: Option<LatLon>) -> Vec<Mentioned> {
    let mut found = grids::mgrs(text);
    let mut seen: Vec<Vec<Figure>> = Vec::new();
    for split in figures::splits(text) {
        let figures = figures::figures(text, split);
        if figures.is_empty() || seen.contains(&figures) {
            continue;
        }
        found.extend(angles::positions(text, &figures, near));
        found.extend(grids::utm(&figures));
        found.extend(single::coordinates(text, &figures, near));
        if let Some(known) = near {
            found.extend(grids::near(text, &figures, known));
            found.extend(scaled::coordinates(text, &figures, known));
        }
        seen.push(figures);
    }
    found
}

/// Overlapping pieces of a long text, so that no position is cut.
fn pieces(text: &str) -> Vec<&str> {
    let boundary = |at: usize| boundary(text, at);
    let mut all = Vec::new();
    let mut from = 0;
    loop {
        let end = boundary((from + PIECE).min(text.len()));
        all.push(&text[from..end]);
        if end == text.len() {
            return all;
        }
        from = boundary(end - OVERLAP);
    }
}

/// The last place up to this one at which a text can be cut.
fn boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// Positions of links and `geo:` URIs, of which the figures may be encoded.
fn linked(text: &str) -> Vec<Mentioned> {
    let lower = text.to_ascii_lowercase();
    let starts = ["geo:", "http://", "https://"]
        .into_iter()
        .flat_map(|scheme| lower.match_indices(scheme).map(|(at, _)| at).collect::<Vec<_>>());
    let mut found = Vec::new();
    for at in starts.take(50) {
        let end = text[at..].find([' ', '<', '>', '"', '|']).map_or(text.len(), |end| at + end);
        let address = text[at..end].trim_end_matches(['.', ',', ';', ')', ']', '!']);
        if let Ok(Some(linked)) = link::figures(address) {
            found.extend(of_piece(&linked.figures, None));
        }
        found.extend(of_piece(&link::decoded(&address[..boundary(address, PIECE)]), None));
    }
    found
}
