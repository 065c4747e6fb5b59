//! Reads short codes of positions within a text: Open Location Code, in full or shortened, geohash, and Maidenhead
//! locators. Three words after slashes are a code that cannot be read without a list. Layer: `ingest`.
//!
//! A code without a plus sign looks like other identifiers: it counts near the known place alone.
//!
//! # References
//! Open Location Code specification, version 1.0 (open-location-code repository, Apache 2.0); geohash: Niemeyer 2008,
//! base 32; Maidenhead: IARU Region 1, VHF managers handbook. All from memory.

use crate::ingest::position::precision::cell_diagonal;
use crate::model::{Mentioned, MentionedForm};
use crate::units::{LatLon, Metres};

const PLUS: &[u8] = b"23456789CFGHJMPQRVWX";
const HASH: &[u8] = b"0123456789bcdefghjkmnpqrstuvwxyz";
/// Letters and digits of the longest code.
const LONGEST: usize = 16;

/// The positions of codes in a cleaned text.
pub(super) fn positions(text: &str, near: Option<LatLon>) -> Vec<Mentioned> {
    let mut found = Vec::new();
    let tokens = text.split(|letter: char| !letter.is_ascii_alphanumeric() && letter != '+');
    for token in tokens.filter(|token| (4..=LONGEST).contains(&token.len())) {
        found.extend(plus(token, near));
        if near.is_some() {
            found.extend(geohash(token));
            found.extend(locator(token));
        }
    }
    if has_three_words(text) {
        let at = near.unwrap_or(LatLon::clamped(0.0, 0.0));
        let form = MentionedForm::Words;
        found.push(Mentioned { at, precision: Metres(3.0), bare: false, form });
    }
    found
}

fn mentioned(low: (f64, f64), steps: (f64, f64), bare: bool) -> Option<Mentioned> {
    let at = LatLon::new(low.0 + steps.0 / 2.0, low.1 + steps.1 / 2.0).ok()?;
    let precision = cell_diagonal(at, steps.0, steps.1);
    Some(Mentioned { at, precision, bare, form: MentionedForm::Code })
}

/// `9F4MGCCW+VR` in full, `GCCW+VR` near a place.
fn plus(token: &str, near: Option<LatLon>) -> Option<Mentioned> {
    let (front, behind) = token.split_once('+')?;
    let digit = |byte: u8| PLUS.iter().position(|own| *own == byte.to_ascii_uppercase());
    let digits: Option<Vec<usize>> = front.bytes().chain(behind.bytes()).map(digit).collect();
    let digits = digits?;
    if !matches!(front.len(), 4 | 6 | 8) || !(2..=3).contains(&behind.len()) {
        return None;
    }
    let missing = 8 - front.len();
    // a shortened code is one by its form; where it means a place it is the nearest
    let Some(known) = near.or((missing == 0).then(|| LatLon::clamped(0.0, 0.0))) else {
        let at = LatLon::clamped(0.0, 0.0);
        let form = MentionedForm::Code;
        return Some(Mentioned { at, precision: Metres(14.0), bare: false, form });
    };
    let mut size = 400.0 / 20_f64.powi(i32::try_from(missing / 2).unwrap_or(0));
    let whole = size;
    let mut off = (0.0, 0.0);
    for pair in digits[..digits.len().min(front.len() + 2)].chunks_exact(2) {
        size /= 20.0;
        #[allow(clippy::cast_precision_loss, reason = "below 20")]
        let (north, east) = (pair[0] as f64 * size, pair[1] as f64 * size);
        off = (off.0 + north, off.1 + east);
    }
    let nearest = |own: f64, off: f64| {
        if missing == 0 {
            return off;
        }
        let low = (own / whole).floor() * whole + off;
        let choices = [low - whole, low, low + whole];
        let distance = |choice: &f64| (choice + size / 2.0 - own).abs();
        choices.into_iter().min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap_or(low)
    };
    let latitude = nearest(known.latitude() + 90.0, off.0) - 90.0;
    let longitude = nearest(known.longitude() + 180.0, off.1) - 180.0;
    mentioned((latitude, longitude), (size, size), false)
}

/// Five to twelve letters and digits, both among them.
fn geohash(token: &str) -> Option<Mentioned> {
    let has = |is: fn(&u8) -> bool| token.bytes().any(|byte| is(&byte));
    let mixed = has(u8::is_ascii_digit) && has(u8::is_ascii_alphabetic);
    if !(5..=12).contains(&token.len()) || !mixed {
        return None;
    }
    let mut low = [-180.0, -90.0];
    let mut steps = [360.0, 180.0];
    let mut axis = 0;
    for byte in token.bytes() {
        let value = HASH.iter().position(|own| *own == byte.to_ascii_lowercase())?;
        for bit in (0..5).rev() {
            steps[axis] /= 2.0;
            if value >> bit & 1 == 1 {
                low[axis] += steps[axis];
            }
            axis = 1 - axis;
        }
    }
    mentioned((low[1], low[0]), (steps[1], steps[0]), true)
}

/// Six, eight or ten letters and digits in pairs: `JO62qm`.
fn locator(token: &str) -> Option<Mentioned> {
    if !matches!(token.len(), 6 | 8 | 10) {
        return None;
    }
    let (mut low, mut steps) = ((-90.0, -180.0), (180.0, 360.0));
    for (place, pair) in token.as_bytes().chunks_exact(2).enumerate() {
        let (first, parts) = match place {
            0 => (b'A', 18_u8),
            1 | 3 => (b'0', 10),
            _ => (b'A', 24),
        };
        let value =
            |byte: u8| byte.to_ascii_uppercase().checked_sub(first).filter(|value| *value < parts);
        let (east, north) = (f64::from(value(pair[0])?), f64::from(value(pair[1])?));
        steps = (steps.0 / f64::from(parts), steps.1 / f64::from(parts));
        low = (low.0 + north * steps.0, low.1 + east * steps.1);
    }
    mentioned(low, steps, true)
}

/// `///one.two.three`
fn has_three_words(text: &str) -> bool {
    text.match_indices("///").any(|(at, _)| {
        let end = text[at + 3..].find(char::is_whitespace).map_or(text.len(), |end| at + 3 + end);
        let mut words = 0;
        let all = text[at + 3..end].trim_end_matches(['.', ',', ';', ')']).split('.').all(|word| {
            words += 1;
            !word.is_empty() && word.chars().all(char::is_alphabetic)
        });
        all && words == 3
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::earth::geodesic;

    #[test]
    fn codes_are_read_where_their_definitions_put_them() {
        let near = LatLon::new(52.517, 13.388).unwrap();
        for (code, latitude, longitude, within) in [
            ("9F4MG98Q+R6", 52.5170, 13.388, 60.0),
            ("at G98Q+R6, wet", 52.5170, 13.388, 60.0),
            ("u33db2", 52.517, 13.388, 1_500.0),
            ("JO62qm", 52.52, 13.37, 5_000.0),
        ] {
            let at = LatLon::new(latitude, longitude).unwrap();
            let found = positions(code, Some(near));
            let close = found.iter().any(|one| geodesic::distance(one.at, at).0 < within);
            assert!(close, "{code}: {found:?}");
        }
        assert_eq!(positions("G98Q+R6", None).len(), 1);
        assert_eq!(positions("///filled.count.soap", None).len(), 1);
        for other in ["KOH+FeSO4", "cap///stem", "///a..b", "Russula+Amanita", "white+pink"] {
            assert!(positions(other, None).is_empty(), "{other}");
        }
    }
}
