//! Lists the positions that two written angles can mean: the conventional reading (latitude first,
//! north and east positive), and separately those that one common slip would explain.
//! Layer: `ingest`.
//!
//! Order and signs that are not stated give several readings, and common slips their own: the track of the day
//! decides.

use super::angle::Angle;
use super::datum::System;
use super::precision::cell_diagonal;
use super::words::{Axis, LetterO};
use crate::error::Error;
use crate::model::CoordinateReading;

/// All readings of two angles.
#[derive(Debug, Default)]
pub(super) struct Meanings {
    pub(super) readings: Vec<CoordinateReading>,
    pub(super) slips: Vec<CoordinateReading>,
    /// Why the conventional reading is invalid.
    pub(super) refusal: Option<Error>,
}

/// One choice of order and signs.
struct Choice<'a> {
    latitude: (&'a Angle, bool),
    longitude: (&'a Angle, bool),
    note: String,
}

const LATITUDE_FIRST: &str = ", latitude first";
const LONGITUDE_FIRST: &str = ", longitude first";
const CHANGED_OVER: &str = ", latitude and longitude swapped";

/// Reads two angles, of which columns or labels may say which is which.
pub(super) fn meanings(angles: &[Angle; 2], system: &System) -> Meanings {
    let mut meanings = Meanings::default();
    let Some(order) = Order::of(angles) else {
        meanings.refusal = Some(Error::input("both angles have the same direction").because(
            "two latitudes or two \
             longitudes",
        ));
        return meanings;
    };
    match order {
        Order::Known { latitude, lettered } => {
            let (first, second) = (&angles[latitude], &angles[1 - latitude]);
            meanings.add(first, second, "", system);
            meanings.suspect_signs(first, second, "", system);
            meanings.suspect_points(first, second, system);
            if !lettered {
                meanings.suspect(second, first, CHANGED_OVER, system);
                meanings.suspect_signs(second, first, CHANGED_OVER, system);
            }
        }
        Order::Open => {
            let [first, second] = angles;
            meanings.add(first, second, LATITUDE_FIRST, system);
            meanings.suspect_signs(first, second, LATITUDE_FIRST, system);
            meanings.suspect_points(first, second, system);
            if meanings.readings.is_empty() {
                meanings.add(second, first, LONGITUDE_FIRST, system);
            }
            meanings.suspect(second, first, LONGITUDE_FIRST, system);
            meanings.suspect_signs(second, first, LONGITUDE_FIRST, system);
        }
    }
    if !meanings.readings.is_empty() {
        meanings.refusal = None;
    }
    meanings
}

enum Order {
    Known { latitude: usize, lettered: bool },
    Open,
}

impl Order {
    /// `None` where both angles claim to be the same.
    fn of(angles: &[Angle; 2]) -> Option<Self> {
        let axis = |angle: &Angle| angle.sides.first().map(|side| side.axis()).or(angle.label);
        let lettered = angles.iter().any(|angle| !angle.sides.is_empty());
        match (axis(&angles[0]), axis(&angles[1])) {
            (None, None) => Some(Self::Open),
            (Some(a), Some(b)) if a == b => None,
            (Some(Axis::Latitude), _) | (None, Some(Axis::Longitude)) => {
                Some(Self::Known { latitude: 0, lettered })
            }
            _ => Some(Self::Known { latitude: 1, lettered }),
        }
    }
}

/// The possible signs of an angle as written; two where its letter or sign is ambiguous.
fn signs(angle: &Angle) -> Vec<bool> {
    let mut signs: Vec<bool> = angle.sides.iter().map(|side| side.is_negative()).collect();
    match (signs.as_slice(), angle.minus) {
        ([], minus) => signs.push(minus.unwrap_or(false)),
        // "-42.5 S" is redundant, "-42.5 N" is contradictory
        ([false], Some(true)) => signs.push(true),
        _ => {}
    }
    signs
}

fn first_sign(angle: &Angle) -> bool {
    signs(angle).first().copied().unwrap_or(false)
}

/// Whether its hemisphere is not stated.
fn is_bare(angle: &Angle) -> bool {
    angle.minus.is_none() && angle.sides.is_empty()
}

impl Meanings {
    /// The conventional readings.
    fn add(&mut self, latitude: &Angle, longitude: &Angle, note: &str, system: &System) {
        for south in signs(latitude) {
            for west in signs(longitude) {
                let choice = Choice::new(latitude, south, longitude, west, note);
                match choice.reading(system) {
                    Ok(reading) => self.readings.push(reading),
                    Err(error) => self.refusal = self.refusal.take().or(Some(error)),
                }
            }
        }
    }

    /// The same angles swapped.
    fn suspect(&mut self, latitude: &Angle, longitude: &Angle, note: &str, system: &System) {
        let (south, west) = (first_sign(latitude), first_sign(longitude));
        self.slip(&Choice::new(latitude, south, longitude, west, note), system);
    }

    /// A missing minus sign or letter. Not considered where one angle has a minus, since the writer
    /// then uses signs.
    fn suspect_signs(&mut self, latitude: &Angle, longitude: &Angle, order: &str, system: &System) {
        if latitude.minus.is_some() || longitude.minus.is_some() {
            return;
        }
        let (south, west) = (first_sign(latitude), first_sign(longitude));
        let note = format!("{order}, a minus or a letter missing");
        let mut flip = |turn_latitude: bool, turn_longitude: bool| {
            let (south, west) = (south ^ turn_latitude, west ^ turn_longitude);
            self.slip(&Choice::new(latitude, south, longitude, west, &note), system);
        };
        match (is_bare(latitude), is_bare(longitude)) {
            (true, true) => {
                flip(true, false);
                flip(false, true);
                flip(true, true);
            }
            (true, false) => flip(true, false),
            (false, true) => flip(false, true),
            (false, false) => {}
        }
    }

    /// `42.30` for 42 degrees 30 minutes.
    fn suspect_points(&mut self, latitude: &Angle, longitude: &Angle, system: &System) {
        let (Some(north), Some(east)) =
            (latitude.minutes_behind_point, longitude.minutes_behind_point)
        else {
            return;
        };
        let step = 1.0 / 60.0;
        let latitude = Angle { size: north, step, ..latitude.clone() };
        let longitude = Angle { size: east, step, ..longitude.clone() };
        self.suspect(&latitude, &longitude, ", minutes after the decimal point", system);
    }

    /// Adds the readings in which the letter O has its other meaning.
    pub(super) fn add_slips(&mut self, open: Self, letter: LetterO) {
        for mut reading in open.readings {
            if !self.readings.iter().chain(&self.slips).any(|known| known.at == reading.at) {
                reading.manner = letter.otherwise(&reading.manner);
                self.slips.push(reading);
            }
        }
    }

    fn slip(&mut self, choice: &Choice<'_>, system: &System) {
        if let Ok(reading) = choice.reading(system)
            && !self.readings.iter().chain(&self.slips).any(|known| known.at == reading.at)
        {
            self.slips.push(reading);
        }
    }
}

impl<'a> Choice<'a> {
    fn new(latitude: &'a Angle, south: bool, longitude: &'a Angle, west: bool, note: &str) -> Self {
        Self { latitude: (latitude, south), longitude: (longitude, west), note: note.to_owned() }
    }

    fn reading(&self, system: &System) -> Result<CoordinateReading, Error> {
        let signed = |(angle, negative): (&Angle, bool)| {
            if negative { -angle.size } else { angle.size }
        };
        let (at, datum) = system.to_wgs84(signed(self.latitude), signed(self.longitude))?;
        let (latitude, longitude) = (self.latitude.0, self.longitude.0);
        let form = latitude.form.max(longitude.form).words();
        let precision = cell_diagonal(at, latitude.step, longitude.step);
        Ok(CoordinateReading {
            at,
            manner: format!("{form}{}{}", self.note, system.words()),
            precision,
            datum,
        })
    }
}
