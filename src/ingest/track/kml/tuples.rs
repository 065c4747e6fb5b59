//! Parses coordinates: longitude, latitude and an optional altitude, separated by commas in a list of
//! tuples and by spaces in a track. Layer: `ingest`.

use crate::ingest::track::fault::Fault;
use crate::ingest::track::value;
use crate::model::Fix;
use crate::units::{GpsHeight, LatLon, Metres};

/// One position as written, or the fault that it has. An altitude of exactly zero is the usual filler
/// and says nothing.
pub(super) fn position(tuple: &str) -> Result<Fix, Fault> {
    let mut numbers = tuple.split([',', ' ', '\t', '\n', '\r']).filter(|part| !part.is_empty());
    let (Some(longitude), Some(latitude)) = (numbers.next(), numbers.next()) else {
        return Err(Fault::NoCoordinates);
    };
    let degrees = |text| value::coordinate(text).map(|read| read.value);
    let (Some(longitude), Some(latitude)) = (degrees(longitude), degrees(latitude)) else {
        return Err(Fault::CoordinatesUnreadable);
    };
    let at = LatLon::new(latitude, longitude).map_err(|_| Fault::OffTheGlobe)?;
    let height = numbers.next().and_then(|text| value::height(text, false));
    let height =
        height.map(|read| read.value).filter(|height| *height != 0.0 && height.abs() <= 1e5);
    Ok(Fix { height: height.map(|height| GpsHeight(Metres(height))), ..Fix::bare(at, None) })
}

/// Splits the text of a list as its pieces come. A tuple that is not finished waits for the next piece.
#[derive(Debug, Default)]
pub(super) struct Tuples {
    waiting: String,
}

/// The longest text that can be one tuple.
const LONGEST: usize = 256;

impl Tuples {
    /// Forgets an unfinished tuple.
    pub(super) fn clear(&mut self) {
        self.waiting.clear();
    }

    /// Adds a piece; `each` is called for every finished tuple, with the number of line ends in the piece
    /// before its own end.
    pub(super) fn add(&mut self, piece: &str, mut each: impl FnMut(&str, u64)) {
        let mut rest = piece;
        let mut lines = 0;
        while let Some(end) = rest.find(char::is_whitespace) {
            let (tuple, after) = rest.split_at(end);
            self.keep(tuple);
            // "1, 2" is written by hand and is one tuple
            let unfinished = self.waiting.is_empty()
                || self.waiting.ends_with(',')
                || after.trim_start().starts_with(',');
            if !unfinished {
                each(&self.waiting, lines);
                self.waiting.clear();
            }
            rest = after.trim_start();
            let space = &after.as_bytes()[..after.len() - rest.len()];
            lines += memchr::memchr_iter(b'\n', space).count() as u64;
        }
        self.keep(rest);
    }

    /// The last tuple, at the end of the list.
    pub(super) fn finish(&mut self, mut each: impl FnMut(&str)) {
        if !self.waiting.trim().is_empty() {
            each(&self.waiting);
        }
        self.waiting.clear();
    }

    fn keep(&mut self, part: &str) {
        let room = LONGEST.saturating_sub(self.waiting.len());
        let end = (0..=room.min(part.len())).rev().find(|&end| part.is_char_boundary(end));
        self.waiting.push_str(&part[..end.unwrap_or(0)]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(pieces: &[&str]) -> Vec<String> {
        let mut tuples = Tuples::default();
        let mut found = Vec::new();
        for piece in pieces {
            tuples.add(piece, |tuple, _| found.push(tuple.to_owned()));
        }
        tuples.finish(|tuple| found.push(tuple.to_owned()));
        found
    }

    #[test]
    fn a_list_is_split_wherever_its_pieces_end() {
        assert_eq!(split(&["\n 1,2,3\n4,5 6,7,"]), ["1,2,3", "4,5", "6,7,"]);
        assert_eq!(split(&["1,2", ",3 4,", "5", "\t6,7"]), ["1,2,3", "4,5", "6,7"]);
        assert_eq!(split(&["1, 2, 3\n4 ,5"]), ["1,2,3", "4,5"]);
        assert_eq!(split(&["", " \n"]), [""; 0]);
        assert_eq!(split(&[&"9".repeat(999)])[0].len(), LONGEST);
    }

    #[test]
    fn positions_have_longitude_first() {
        let fix = position("146.25,-42.5,401.5").unwrap();
        assert_eq!((fix.at.latitude(), fix.at.longitude()), (-42.5, 146.25));
        assert_eq!(fix.height, Some(GpsHeight(Metres(401.5))));
        assert_eq!(position("146.25 -42.5 0").unwrap().height, None);
        assert_eq!(position("146.25"), Err(Fault::NoCoordinates));
        assert_eq!(position("x,1"), Err(Fault::CoordinatesUnreadable));
        assert_eq!(position("-42.5,146.25"), Err(Fault::OffTheGlobe));
    }
}
