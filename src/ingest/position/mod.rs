//! Parses positions as people write them: decimal degrees, degrees with minutes and seconds, UTM,
//! MGRS, metres on a named grid, on any datum of the register. Returns all readings with their
//! precision; the choice needs the day's track. Layer: `ingest`.
//!
//! | written | read as |
//! |---|---|
//! | `-42.51234 146.25678`, `42.51234 S 146.25678 E` | decimal degrees, latitude first |
//! | `42 30.74 S 146 15.41 E`, `42°30'44"S 146°15'25"E` | degrees, minutes, seconds |
//! | `55G 438880 5293530` | UTM; `G` a band, or the hemisphere where it is N or S |
//! | `55GDN3888093530` | MGRS: the centre of its square |
//! | `525000 5291000` beside `EPSG:28355` | metres on a named grid, east before north |
//! | `geo:-42.51,146.25`, links of maps | [`link`] |
//!
//! The number of digits bounds the rounding; a datum that is not stated adds a bound of its own.

mod angle;
mod datum;
mod degrees;
mod grids;
pub mod link;
mod mentioned;
mod notation;
mod precision;
mod words;

#[cfg(test)]
mod tests;

pub use mentioned::mentioned;
pub use precision::cell_diagonal;
pub use words::LetterO;

use self::angle::Angle;
use self::datum::{Named, System};
use self::degrees::Meanings;
use self::grids::Figures;
use self::words::Axis;
use crate::error::{Error, Result};
use crate::model::WrittenCoordinates;

/// What to write instead.
const HINT: &str = "write it like -42.51234 146.25678, 42 30.74 S 146 15.41 E, 42 30 44 S 146 15 25 E, \
                    55G 438880 5293530 or 55GDN3888093530";

/// Reads a position from one text. `system` is the datum or grid that is named beside it.
///
/// Several readings mean that the text is ambiguous: `55 S` is a hemisphere or a band, `O` is east
/// or west. Slips (latitude and longitude swapped, a missing minus) are separate.
///
/// # Accuracy
/// [`crate::model::CoordinateReading::precision`] is the diagonal of the cell that the last digit
/// spans, for MGRS half the diagonal of the square about its centre;
/// [`crate::model::CoordinateReading::datum`] is what the register states for the conversion, or,
/// for a datum that is not stated, the largest shift among those that maps of the place are on.
///
/// # Errors
/// When the text is not a position, or the system is unknown.
///
/// # Examples
/// ```
/// use trug::ingest::position;
/// let written = position::read("42\u{b0}30.5'S 146\u{b0}15.25'E", Some("WGS84"))?;
/// assert_eq!(written.readings[0].at.to_string(), "42.50833 S 146.25417 E");
/// assert_eq!(written.readings.len(), 1);
/// # Ok::<(), trug::error::Error>(())
/// ```
///
/// Digits that cannot be a position are refused with the reason:
///
/// ```
/// use trug::ingest::position;
/// assert!(position::read("42 75.0 S 146 15.0 E", None).is_err(), "75 minutes");
/// ```
///
/// # References
/// Chapman & Wieczorek 2020, Georeferencing Best Practices, doi:10.15468/doc-gg7h-s853. Convention
/// of order and sign: ISO 6709:2022.
pub fn read(text: &str, system: Option<&str>) -> Result<WrittenCoordinates> {
    read_with(text, system, LetterO::Open)
}

/// Reads a position where the meaning of the letter O is known, such as from the language of the table. A reading with
/// its other meaning is kept as a slip.
///
/// # Errors
/// As [`read`].
///
/// # Examples
/// ```
/// use trug::ingest::position::{self, LetterO};
/// let written = position::read_with("47\u{b0}30' N 11\u{b0}20' O", None, LetterO::East)?;
/// assert_eq!(written.readings.len(), 1);
/// assert_eq!(written.readings[0].at.to_string(), "47.50000 N 11.33333 E");
/// # Ok::<(), trug::error::Error>(())
/// ```
pub fn read_with(text: &str, system: Option<&str>, letter: LetterO) -> Result<WrittenCoordinates> {
    let named = Named::read(system)?;
    let of = |letter| meanings(text.trim(), &named, letter);
    let mut meanings = of(letter).map_err(|error| about(text, &error))?;
    if letter != LetterO::Open
        && let Ok(open) = of(LetterO::Open)
    {
        meanings.add_slips(open, letter);
    }
    written(text.trim().to_owned(), system, meanings)
}

/// Reads a position from a column of latitudes and a column of longitudes.
///
/// # Errors
/// As [`read`].
///
/// # Examples
/// ```
/// use trug::ingest::position;
/// let written = position::read_columns("-42,5083", "146,2542", Some("WGS 84"))?;
/// assert_eq!(written.readings[0].at.to_string(), "42.50830 S 146.25420 E");
/// # Ok::<(), trug::error::Error>(())
/// ```
pub fn read_columns(
    latitude: &str,
    longitude: &str,
    system: Option<&str>,
) -> Result<WrittenCoordinates> {
    read_columns_with(latitude, longitude, system, LetterO::Open)
}

/// Reads a position from two columns where the meaning of the letter O is known. A reading with its other meaning is
/// kept as a slip.
///
/// # Errors
/// As [`read`].
pub fn read_columns_with(
    latitude: &str,
    longitude: &str,
    system: Option<&str>,
    letter: LetterO,
) -> Result<WrittenCoordinates> {
    let verbatim = format!("{} {}", latitude.trim(), longitude.trim());
    let named = Named::read(system)?;
    let angle = |text: &str, axis, letter: LetterO| -> Result<Angle> {
        let usual = notation::usual(text);
        let text = usual.as_ref();
        let parsed = commas(text)
            .find_map_ok(|comma| angle::single(&letter.decided(words::split(text, comma)?)));
        let mut angle = parsed.map_err(|why| refused(&verbatim, &why))?;
        angle.label.get_or_insert(axis);
        Ok(angle)
    };
    let of = |letter| -> Result<Meanings> {
        let latitude = angle(latitude, Axis::Latitude, letter)?;
        let angles = [latitude, angle(longitude, Axis::Longitude, letter)?];
        Ok(degrees::meanings(&angles, &named.system))
    };
    let mut meanings = of(letter)?;
    if letter != LetterO::Open
        && let Ok(open) = of(LetterO::Open)
    {
        meanings.add_slips(open, letter);
    }
    written(verbatim, system, meanings)
}

/// Whether a text names a datum, a grid or another system of coordinates.
#[must_use]
pub fn is_system(text: &str) -> bool {
    Named::read(Some(text)).is_ok_and(|named| named.system != System::Unstated)
}

fn meanings(text: &str, named: &Named, letter: LetterO) -> Result<Meanings> {
    let usual = notation::usual(text);
    let text = usual.as_ref();
    if text.is_empty() {
        return Err(refused(text, "it is empty"));
    }
    if grids::looks_like_mgrs(text) {
        return grids::mgrs(text, &named.system);
    }
    let figures = Figures::find(text, named.zone.as_deref());
    if let Some(figures) = figures {
        let on_grid = figures.has_zone() || matches!(named.system, System::Projected { .. });
        let lettered = text.contains(['N', 'S', 'E', 'W', 'n', 's', 'e', 'w']);
        if on_grid || !lettered {
            return figures.meanings(named);
        }
    }
    let angles = commas(text)
        .find_map_ok(|comma| angle::pair(&letter.decided(words::split(text, comma)?)))
        .map_err(|why| refused(text, &why))?;
    Ok(degrees::meanings(&angles, &named.system))
}

/// The possible meanings of a comma between digits: a decimal comma first unless excluded.
fn commas(text: &str) -> Commas {
    let between = text
        .as_bytes()
        .windows(3)
        .any(|three| three[1] == b',' && three[0].is_ascii_digit() && three[2].is_ascii_digit());
    Commas { decimal: between && !text.contains('.') }
}

struct Commas {
    decimal: bool,
}

impl Commas {
    /// The first reading that works, otherwise the error of the plain one.
    fn find_map_ok<T>(
        &self,
        read: impl Fn(bool) -> std::result::Result<T, String>,
    ) -> std::result::Result<T, String> {
        if self.decimal
            && let Ok(found) = read(true)
        {
            return Ok(found);
        }
        read(false)
    }
}

fn written(
    verbatim: String,
    system: Option<&str>,
    meanings: Meanings,
) -> Result<WrittenCoordinates> {
    let Meanings { readings, slips, refusal } = meanings;
    if readings.is_empty() && slips.is_empty() {
        let refusal = refusal.unwrap_or_else(|| {
            refused(
                &verbatim,
                "it matches no supported \
         notation",
            )
        });
        return Err(about(&verbatim, &refusal));
    }
    Ok(WrittenCoordinates {
        verbatim,
        system: system.map(str::to_owned),
        readings,
        slips,
        stated_uncertainty: None,
        measured: false,
        stated_in: None,
    })
}

fn refused(text: &str, why: &str) -> Error {
    Error::input(format!("\"{}\" is not a position that trug can read", shown(text)))
        .because(why)
        .hint(HINT)
}

/// Adds the text to an error from a lower level.
fn about(text: &str, error: &Error) -> Error {
    let shown = shown(text);
    if error.what().starts_with(&format!("\"{shown}\" is not a")) {
        return error.clone();
    }
    let why = match error.why() {
        Some(why) => format!("{}: {why}", error.what()),
        None => error.what().to_owned(),
    };
    Error::input(format!("\"{shown}\" is not a position that trug can read"))
        .because(why)
        .hint(error.advice().unwrap_or(HINT))
}

/// At most sixty characters of it, on one line.
fn shown(text: &str) -> String {
    let line: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    match line.char_indices().nth(60) {
        Some((end, _)) => format!("{}…", &line[..end]),
        None => line,
    }
}
