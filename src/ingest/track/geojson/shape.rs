//! Reads coordinates of any depth into one list of positions with the ends of its lines, whatever else
//! stands among the numbers. Layer: `ingest`.

use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};

/// The most positions of one file.
pub(super) const MOST: usize = 1_000_000;

/// One position as written; NaN for a number that is missing or is none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Position {
    pub(super) longitude: f64,
    pub(super) latitude: f64,
    pub(super) height: f64,
    pub(super) fourth: f64,
}

/// Positions in order, and the lines that they make.
#[derive(Debug, Default)]
pub(super) struct Shape {
    pub(super) positions: Vec<Position>,
    /// How many positions end each line.
    pub(super) ends: Vec<usize>,
    /// How many positions were too many.
    pub(super) skipped: u64,
    /// How many positions the file may still hold.
    pub(super) room: usize,
}

/// What one value among coordinates is.
pub(super) enum Found {
    Number(f64),
    /// Text, null or anything else that is no number.
    Nothing,
    Position,
    Line,
}

/// Reads one value into a shape.
pub(super) struct Level<'a>(pub(super) &'a mut Shape);

impl<'de> DeserializeSeed<'de> for Level<'_> {
    type Value = Found;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Found, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Level<'_> {
    type Value = Found;

    fn expecting(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
        formatter.write_str("coordinates")
    }

    fn visit_f64<E>(self, number: f64) -> Result<Found, E> {
        Ok(Found::Number(number))
    }

    fn visit_i64<E>(self, number: i64) -> Result<Found, E> {
        Ok(Found::Number(number as f64))
    }

    fn visit_u64<E>(self, number: u64) -> Result<Found, E> {
        Ok(Found::Number(number as f64))
    }

    fn visit_bool<E>(self, _: bool) -> Result<Found, E> {
        Ok(Found::Nothing)
    }

    fn visit_unit<E>(self) -> Result<Found, E> {
        Ok(Found::Nothing)
    }

    fn visit_str<E>(self, text: &str) -> Result<Found, E> {
        Ok(text.trim().parse().map_or(Found::Nothing, Found::Number))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Found, A::Error> {
        while map.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
        Ok(Found::Nothing)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Found, A::Error> {
        let mut numbers = [f64::NAN; 4];
        let (mut flat, mut nested) = (0, false);
        while let Some(found) = seq.next_element_seed(Level(&mut *self.0))? {
            match found {
                Found::Number(number) => {
                    if let Some(place) = numbers.get_mut(flat) {
                        *place = number;
                    }
                    flat += 1;
                }
                Found::Nothing => flat += 1,
                Found::Position => nested = true,
                Found::Line => {}
            }
        }
        if flat > 0 && !nested {
            self.0.add(numbers);
            return Ok(Found::Position);
        }
        if nested {
            self.0.end_line();
        }
        Ok(Found::Line)
    }
}

impl Shape {
    fn add(&mut self, [longitude, latitude, height, fourth]: [f64; 4]) {
        if self.positions.len() >= self.room {
            self.skipped += 1;
            return;
        }
        self.positions.push(Position { longitude, latitude, height, fourth });
    }

    /// Ends a line at the positions so far.
    fn end_line(&mut self) {
        self.ends.push(self.positions.len());
    }

    /// The positions line by line; single positions are one line.
    pub(super) fn lines(&self) -> Vec<std::ops::Range<usize>> {
        let mut from = 0;
        let mut lines = Vec::with_capacity(self.ends.len() + 1);
        for &end in self.ends.iter().chain([&self.positions.len()]) {
            if end > from {
                lines.push(from..end);
                from = end;
            }
        }
        lines
    }
}
