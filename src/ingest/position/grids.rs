//! Lists the positions that grid coordinates can mean: MGRS of every precision, UTM with band or
//! hemisphere, metres on a named grid. Refuses metres without a grid. Layer: `ingest`.

use super::datum::{Named, System};
use super::degrees::Meanings;
use super::precision::square_diagonal;
use crate::earth::{datum, grid};
use crate::error::{Error, Result};
use crate::model::CoordinateReading;
use crate::units::LatLon;

/// Whether a text has the shape of an MGRS reference, right or wrong.
pub(super) fn looks_like_mgrs(text: &str) -> bool {
    let bare = squeezed(text);
    let zone = bare.bytes().take_while(u8::is_ascii_digit).count();
    let letters = bare[zone..].bytes().take_while(u8::is_ascii_uppercase).count();
    let figures = &bare[zone + letters..];
    let polar = zone == 0 && bare.starts_with(['A', 'B', 'Y', 'Z']);
    letters == 3
        && (matches!(zone, 1 | 2) || polar && !figures.is_empty())
        && figures.len() <= 12
        && figures.bytes().all(|byte| byte.is_ascii_digit())
}

fn squeezed(text: &str) -> String {
    let text = text.trim();
    let text = text.strip_prefix("MGRS").or(text.strip_prefix("mgrs")).unwrap_or(text);
    text.chars()
        .filter(|c| !c.is_whitespace() && *c != ':')
        .flat_map(char::to_uppercase)
        .filter(char::is_ascii)
        .collect()
}

/// Reads an MGRS reference: the centre of its square, half the diagonal as precision.
///
/// Digits are cut off in a reference, so that the position lies within the square and not about its corner.
pub(super) fn mgrs(text: &str, system: &System) -> Result<Meanings> {
    let reference = squeezed(text);
    let square = grid::from_mgrs(&reference)?;
    let (at, datum) = match system {
        System::World | System::Unstated => {
            system.to_wgs84(square.centre.latitude(), square.centre.longitude())?
        }
        other => other.near_world(square.centre)?,
    };
    let letters: String =
        reference.trim_start_matches(|c: char| c.is_ascii_digit()).chars().take(1).collect();
    let zone: String = reference.chars().take_while(char::is_ascii_digit).collect();
    let manner = format!(
        "MGRS {zone}{letters}, centre of a square of {:.0} m whose corner was written{}",
        square.side.0,
        system.words()
    );
    let reading = CoordinateReading { at, manner, precision: square.half_diagonal(), datum };
    Ok(Meanings { readings: vec![reading], ..Meanings::default() })
}

/// Grid coordinates as written.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Figures {
    zone: Option<u8>,
    /// The letters behind the zone: band or hemisphere.
    half: Option<String>,
    /// Easting and northing, or swapped where labels or sizes show it.
    first: Length,
    second: Length,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Length {
    metres: f64,
    decimals: i32,
    /// The letter beside it: E or N.
    label: Option<char>,
}

impl Figures {
    /// Finds two lengths of at least five digits, and a zone where there is one.
    pub(super) fn find(text: &str, zone: Option<&str>) -> Option<Self> {
        let pieces = pieces(&match zone {
            Some(zone) => format!("{zone} {text}"),
            None => text.to_owned(),
        })?;
        let (zone, half, lengths) = taken_apart(&pieces)?;
        match lengths[..] {
            [first, second] if first.metres.max(second.metres) >= 1e4 => {
                Some(Self { zone, half, first, second })
            }
            _ => None,
        }
    }

    /// Whether a zone was written.
    pub(super) fn has_zone(&self) -> bool {
        self.zone.is_some()
    }

    /// Easting, northing and how their order is known.
    fn ordered(&self) -> (Length, Length, &'static str) {
        let northing_first = match (self.first.label, self.second.label) {
            (Some('N'), _) | (_, Some('E')) => true,
            (Some('E'), _) | (_, Some('N')) => false,
            // a UTM easting never has seven digits
            _ => self.zone.is_some() && self.first.metres >= 1e6 && self.second.metres < 1e6,
        };
        if northing_first {
            (self.second, self.first, ", northing first")
        } else {
            (self.first, self.second, "")
        }
    }

    fn step(&self) -> f64 {
        10_f64.powi(-self.first.decimals.min(self.second.decimals))
    }

    /// Converts them: UTM where there is a zone, otherwise the grid that the record names.
    pub(super) fn meanings(&self, named: &Named) -> Result<Meanings> {
        match (self.zone, &named.system) {
            (Some(zone), system) => Ok(self.on_utm(zone, system)),
            (None, System::Projected { name, .. }) => Ok(self.on_grid(name, &named.system)),
            (None, _) => Err(Error::input("these numbers look like metres on a grid")
                .because(format!(
                    "{:.0} and {:.0} are not degrees, and no grid is named",
                    self.first.metres, self.second.metres
                ))
                .hint(
                    "write the zone before them (55G 500123 5250123), or name the grid: EPSG:28355",
                )),
        }
    }

    fn on_grid(&self, name: &str, system: &System) -> Meanings {
        let (east, north, note) = self.ordered();
        let reading = |x: f64, y: f64, note: &str| -> Result<CoordinateReading> {
            let (at, datum) = datum::to_wgs84(name, x, y)?;
            let manner = format!("metres on a grid{note}{}", system.words());
            Ok(CoordinateReading { at, manner, precision: square_diagonal(self.step()), datum })
        };
        let changed = reading(north.metres, east.metres, ", easting and northing swapped");
        let labelled = self.first.label.is_some() || self.second.label.is_some();
        let mut meanings = Meanings::default();
        match reading(east.metres, north.metres, note) {
            Ok(reading) => meanings.readings.push(reading),
            Err(error) => meanings.refusal = Some(error),
        }
        meanings.slips.extend(changed.ok().filter(|_| !labelled));
        meanings
    }

    fn on_utm(&self, zone: u8, system: &System) -> Meanings {
        let (east, north, note) = self.ordered();
        let mut meanings = Meanings::default();
        for (half, name) in self.halves(zone, north.metres) {
            match system.utm(zone, half, east.metres, north.metres) {
                Ok((at, datum)) => meanings.readings.push(CoordinateReading {
                    at,
                    manner: format!("UTM zone {zone} {name}{note}{}", system.words()),
                    precision: square_diagonal(self.step()),
                    datum,
                }),
                Err(error) => meanings.refusal = Some(error),
            }
        }
        if !meanings.readings.is_empty() {
            meanings.refusal = None;
        }
        meanings
    }

    /// The possible hemispheres of the letter, true for north, with the text of each reading.
    fn halves(&self, zone: u8, northing: f64) -> Vec<(bool, String)> {
        let both = |why: &str| vec![(true, format!("north{why}")), (false, format!("south{why}"))];
        let letters = self.half.as_deref().unwrap_or_default();
        match letters {
            // S is the southern half and a band of the northern one
            "S" if in_band('S', zone, northing) => vec![
                (false, "south (S read as the southern half)".into()),
                (true, "north (S read as the band from 32 to 40 N)".into()),
            ],
            "S" | "SOUTH" | "SOUTHERN" => vec![(false, "south".into())],
            "N" | "NORTH" | "NORTHERN" => vec![(true, "north".into())],
            letters => match letters.chars().next() {
                Some(band @ ('C'..='H' | 'J'..='N' | 'P'..='X')) if letters.len() == 1 => {
                    if in_band(band, zone, northing) {
                        vec![(band >= 'N', format!("band {band}"))]
                    } else {
                        both(&format!(" (its band {band} does not fit)"))
                    }
                }
                _ => both(" (no letter states the hemisphere)"),
            },
        }
    }
}

/// Whether a northing in the middle of a zone lies in the band of this letter, to a degree.
fn in_band(band: char, zone: u8, northing: f64) -> bool {
    const BANDS: &str = "CDEFGHJKLMNPQRSTUVWX";
    let Some(index) = BANDS.find(band) else { return false };
    let south = -80.0 + 8.0 * index as f64;
    let north = if band == 'X' { 84.0 } else { south + 8.0 };
    grid::Utm::new(zone, band >= 'N', 500_000.0, northing)
        .map(grid::Utm::to_latlon)
        .is_ok_and(|at: LatLon| (south - 1.0..=north + 1.0).contains(&at.latitude()))
}

/// The zone, the letters behind it and all lengths; `None` where a number is neither.
fn taken_apart(pieces: &[Piece]) -> Option<(Option<u8>, Option<String>, Vec<Length>)> {
    let mut lengths: Vec<Length> = Vec::new();
    let (mut zone, mut half, mut waiting) = (None, None, None);
    for (index, piece) in pieces.iter().enumerate() {
        let next = pieces.get(index + 1);
        match piece {
            Piece::Number { size, whole_figures: 1 | 2, decimals: 0 } if zone.is_none() => {
                zone = Some(format!("{size:.0}").parse().ok()?);
                half = next.and_then(Piece::letters);
            }
            // close to the equator a northing has few digits, an easting always six
            Piece::Number { size, whole_figures, decimals }
                if *whole_figures >= 5 || zone.is_some() =>
            {
                let behind = next.and_then(Piece::letters).and_then(|letters| label_of(&letters));
                let label = waiting.take().or(behind);
                lengths.push(Length { metres: *size, decimals: *decimals, label });
            }
            Piece::Number { .. } => return None,
            Piece::Letters(letters) => {
                // letters after the zone are its hemisphere, letters after a length are its label
                let of_zone = half.as_ref() == Some(letters) && lengths.is_empty();
                let labelled = lengths.last().is_some_and(|length| length.label.is_some());
                if !of_zone && !labelled && matches!(next, Some(Piece::Number { .. })) {
                    waiting = label_of(letters);
                }
            }
        }
    }
    Some((zone, half, lengths))
}

enum Piece {
    Number { size: f64, whole_figures: usize, decimals: i32 },
    Letters(String),
}

impl Piece {
    fn letters(&self) -> Option<String> {
        match self {
            Self::Letters(letters) => Some(letters.clone()),
            Self::Number { .. } => None,
        }
    }
}

/// Runs of digits and runs of letters; `None` where other characters occur.
fn pieces(text: &str) -> Option<Vec<Piece>> {
    let mut pieces = Vec::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let length = if first.is_ascii_digit() {
            let whole = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
            let behind = rest[whole..].strip_prefix('.').unwrap_or_default();
            let decimals = behind.find(|c: char| !c.is_ascii_digit()).unwrap_or(behind.len());
            let end = if decimals > 0 { whole + 1 + decimals } else { whole };
            if end > 20 {
                return None;
            }
            pieces.push(Piece::Number {
                size: rest[..end].parse().ok()?,
                whole_figures: whole,
                decimals: i32::try_from(decimals).ok()?,
            });
            end
        } else if first.is_ascii_alphabetic() {
            let end = rest.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(rest.len());
            let letters = rest[..end].to_ascii_uppercase();
            if !matches!(letters.as_str(), "UTM" | "ZONE" | "Z" | "M" | "GRID") {
                pieces.push(Piece::Letters(letters));
            }
            end
        } else if first.is_whitespace() || matches!(first, ',' | ';' | ':' | '/' | '=' | '.') {
            first.len_utf8()
        } else {
            return None;
        };
        rest = &rest[length..];
    }
    Some(pieces)
}

/// `E`, `mE`, `EASTING` and the like.
fn label_of(letters: &str) -> Option<char> {
    match letters {
        "E" | "ME" | "EAST" | "EASTING" | "X" => Some('E'),
        "N" | "MN" | "NORTH" | "NORTHING" | "Y" => Some('N'),
        _ => None,
    }
}
