//! Converts positions from other reference systems to WGS 84: any geographic or projected system of
//! the EPSG register, by code or name. Refuses unknown systems, ambiguous names and positions
//! outside the system's area of use. Layer: `earth`.
//!
//! PROJ converts; its table of systems, `proj.db`, is packed into the library and unpacked once into the user's cache
//! folder (or the folder for temporary files). Nothing is downloaded: shifts that need a grid file are replaced by the
//! best conversion without one, and the returned accuracy says so. One thread owns PROJ; calls from several threads
//! are answered in order. The first call opens the table.
//!
//! A datum that a record does not state is not guessed here: see [`UNKNOWN_DATUM`].

mod database;
mod register;

use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::LazyLock;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;

use proj::{Proj, ProjBuilder};

use self::register::{Register, System};
use crate::error::{Error, Result};
use crate::units::{LatLon, Metres};

/// The largest error of a position with unknown datum, metres.
///
/// The worst case over the whole world. Within one country the systems in use differ less; where the country is known
/// the readers of written positions compare those instead.
///
/// # References
/// Chapman & Wieczorek 2020, Georeferencing Best Practices, doi:10.15468/doc-gg7h-s853.
pub const UNKNOWN_DATUM: Metres = Metres(5_359.0);

/// The position on WGS 84 with the accuracy that the register states for the conversion.
///
/// `system` is a code (`EPSG:28355`, `28355`) or a name (`GDA94`, `NAD27`, `GDA94 / MGA zone 55`);
/// case, spaces and hyphens in a name do not matter.
///
/// # Units
/// `x` is the easting or longitude, `y` the northing or latitude, whatever order the register gives
/// its axes; in the units of the system.
///
/// # Accuracy
/// 0.01 mm against PROJ's own test values for the projection. Shifts between datums are as accurate
/// as the register states (3 m for GDA94); where only a rough conversion without any shift exists,
/// [`UNKNOWN_DATUM`] is returned. No grid files are used.
///
/// # Errors
/// When the system is unknown or ambiguous, or the position is not within 3 degrees of its area.
///
/// # Examples
/// ```
/// use trug::earth::datum;
/// let (place, accuracy) = datum::to_wgs84("EPSG:28355", 500_000.0, 5_250_000.0)?;
/// assert_eq!(place.to_string(), "42.90261 S 147.00000 E");
/// assert_eq!(accuracy.0, 3.0);
/// # Ok::<(), trug::error::Error>(())
/// ```
pub fn to_wgs84(system: &str, x: f64, y: f64) -> Result<(LatLon, Metres)> {
    if matches!(register::bare(system).as_str(), "wgs84" | "epsg4326") {
        return LatLon::new(y, x)
            .map(|place| (place, Metres(0.0)))
            .map_err(|off| refused(system, x, y).because(off.to_string()));
    }
    if !x.is_finite() || !y.is_finite() {
        return Err(refused(system, x, y).because("a coordinate is not a number"));
    }
    ask(|answer| Question::Convert { system: system.to_owned(), x, y, answer })
}

/// Easting (or longitude) and northing (or latitude) of a position in another system: the inverse
/// of [`to_wgs84`].
///
/// # Units
/// Metres or degrees, as the system has them; easting or longitude first.
///
/// # Errors
/// When the system is unknown or ambiguous, or cannot express the position.
///
/// # Examples
/// ```
/// use trug::{earth::datum, units::LatLon};
/// let (east, north) = datum::from_wgs84("GDA94 / MGA zone 55", LatLon::new(-42.902_61, 147.0)?)?;
/// assert!((east - 500_000.0).abs() < 1.0 && (north - 5_250_000.0).abs() < 1.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn from_wgs84(system: &str, place: LatLon) -> Result<(f64, f64)> {
    ask(|answer| Question::Figures { system: system.to_owned(), place, answer })
}

/// The full name under which the register keeps a system: `GDA94 / MGA zone 55 (EPSG:28355)`.
///
/// # Errors
/// When the system is unknown or ambiguous.
///
/// # Examples
/// ```
/// use trug::earth::datum;
/// assert_eq!(datum::name("epsg 28355")?, "GDA94 / MGA zone 55 (EPSG:28355)");
/// assert!(datum::name("a system of our own").is_err());
/// # Ok::<(), trug::error::Error>(())
/// ```
pub fn name(system: &str) -> Result<String> {
    ask(|answer| Question::Name { system: system.to_owned(), answer })
}

fn refused(system: &str, x: f64, y: f64) -> Error {
    Error::input(format!("{x} {y} is not a position in {system}"))
}

enum Question {
    Convert { system: String, x: f64, y: f64, answer: Sender<Result<(LatLon, Metres)>> },
    Figures { system: String, place: LatLon, answer: Sender<Result<(f64, f64)>> },
    Name { system: String, answer: Sender<Result<String>> },
}

/// PROJ's objects may not move between threads and its clean-up is not safe beside other calls, so
/// one thread owns all of them and answers requests in order.
static DESK: LazyLock<Option<Sender<Question>>> = LazyLock::new(|| {
    let (sender, receiver) = channel();
    thread::Builder::new().name("datum".into()).spawn(move || serve(&receiver)).ok()?;
    Some(sender)
});

fn ask<T>(question: impl FnOnce(Sender<Result<T>>) -> Question) -> Result<T> {
    let (sender, receiver) = channel();
    let no_answer = || Error::machine("positions of other systems cannot be converted now");
    let desk = DESK.as_ref().ok_or_else(|| no_answer().because("no thread could be started"))?;
    desk.send(question(sender)).map_err(|_| no_answer().because("the conversion thread ended"))?;
    receiver.recv().map_err(|_| no_answer().because("the conversion thread did not answer"))?
}

fn serve(questions: &Receiver<Question>) {
    let mut converter: Option<Converter> = None;
    for question in questions {
        match question {
            Question::Convert { system, x, y, answer } => {
                let _ = answer.send(with(&mut converter, |it| it.convert(&system, x, y)));
            }
            Question::Figures { system, place, answer } => {
                let _ = answer.send(with(&mut converter, |it| it.figures(&system, place)));
            }
            Question::Name { system, answer } => {
                let _ = answer.send(with(&mut converter, |it| {
                    it.register.find(&system).map(|system| system.to_string())
                }));
            }
        }
    }
}

/// The crate `proj` asserts on some results of the C library; a failed assertion must not abort the
/// program.
fn with<T>(
    converter: &mut Option<Converter>,
    work: impl FnOnce(&mut Converter) -> Result<T>,
) -> Result<T> {
    if converter.is_none() {
        *converter = Some(Converter::open()?);
    }
    let Some(ready) = converter.as_mut() else {
        return Err(Error::program("the register of coordinate systems could not be opened"));
    };
    catch_unwind(AssertUnwindSafe(|| work(ready))).unwrap_or_else(|_| {
        *converter = None;
        Err(Error::program("the coordinate conversion failed"))
    })
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Direction {
    ToWgs84,
    FromWgs84,
}

struct Converter {
    folder: String,
    register: Register,
    ready: HashMap<(String, Direction), Proj>,
}

impl Converter {
    fn open() -> Result<Self> {
        let folder = database::folder()?;
        let register = Register::open(&folder.join(database::NAME))?;
        let folder = folder.to_string_lossy().into_owned();
        Ok(Self { folder, register, ready: HashMap::new() })
    }

    fn convert(&mut self, named: &str, x: f64, y: f64) -> Result<(LatLon, Metres)> {
        let system = self.register.find(named)?;
        let converted = self.projection(&system, Direction::ToWgs84)?.convert((x, y));
        let (longitude, latitude) = converted
            .map_err(|reason| refused(&system.to_string(), x, y).because(reason.to_string()))?;
        let place = LatLon::new(latitude, longitude)
            .map_err(|off| refused(&system.to_string(), x, y).because(off.to_string()))?;
        system.covers(place).map_err(|why| {
            refused(&system.to_string(), x, y)
                .because(why)
                .hint("check the zone, the order (east before north) and the number of digits")
        })?;
        Ok((place, self.accuracy(&system)?))
    }

    fn figures(&mut self, named: &str, place: LatLon) -> Result<(f64, f64)> {
        let system = self.register.find(named)?;
        let converted = self
            .projection(&system, Direction::FromWgs84)?
            .convert((place.longitude(), place.latitude()));
        match converted {
            Ok((x, y)) if x.is_finite() && y.is_finite() => Ok((x, y)),
            Ok(_) => Err(Error::input(format!("{place} cannot be expressed in {system}"))
                .because("it is too far from the area for which that system is defined")),
            Err(reason) => Err(Error::input(format!("{place} cannot be expressed in {system}"))
                .because(reason.to_string())),
        }
    }

    /// As the register states it for the operation that was used last.
    fn accuracy(&mut self, system: &System) -> Result<Metres> {
        let stated = self.projection(system, Direction::ToWgs84)?.proj_info();
        let rough = stated.description.is_some_and(|it| it.to_lowercase().contains("ballpark"));
        if stated.accuracy < 0.0 || rough {
            return Ok(UNKNOWN_DATUM);
        }
        Ok(Metres(stated.accuracy))
    }

    fn projection(&mut self, system: &System, direction: Direction) -> Result<&Proj> {
        let key = (system.code(), direction);
        if !self.ready.contains_key(&key) {
            let made = self.make(&key.0, direction).map_err(|reason| {
                Error::machine(format!("no conversion between {system} and WGS 84"))
                    .because(reason)
                    .hint(
                        "if PROJ_DATA or PROJ_LIB is set, unset it: it names the files of another \
                         PROJ",
                    )
            })?;
            self.ready.insert(key.clone(), made);
        }
        self.ready.get(&key).ok_or_else(|| {
            Error::program(
                "a coordinate conversion returned no \
         result",
            )
        })
    }

    fn make(&self, code: &str, direction: Direction) -> std::result::Result<Proj, String> {
        let mut builder = ProjBuilder::new();
        builder.set_search_paths(&self.folder).map_err(|reason| reason.to_string())?;
        let (from, to) = match direction {
            Direction::ToWgs84 => (code, "EPSG:4326"),
            Direction::FromWgs84 => ("EPSG:4326", code),
        };
        builder.proj_known_crs(from, to, None).map_err(|reason| reason.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_is_known_by_code_and_by_name() {
        let by_code = to_wgs84("28355", 500_000.0, 5_250_000.0).unwrap();
        assert_eq!(by_code, to_wgs84("gda94/mga ZONE 55", 500_000.0, 5_250_000.0).unwrap());
        assert_eq!(by_code, to_wgs84("EPSG 28355", 500_000.0, 5_250_000.0).unwrap());
        assert_eq!(name("NAD 27").unwrap(), "NAD27 (EPSG:4267)");
        assert_eq!(name("OSGB 1936").unwrap(), "OSGB36 (EPSG:4277)");
    }

    #[test]
    fn an_old_datum_moves_the_place_and_says_how_well_that_is_known() {
        let (place, accuracy) = to_wgs84("AGD66", 146.0, -42.0).unwrap();
        let moved = crate::earth::geodesic::distance(place, LatLon::new(-42.0, 146.0).unwrap());
        assert!((150.0..250.0).contains(&moved.0), "{moved}");
        assert_eq!(accuracy, Metres(3.0));
    }

    #[test]
    fn what_is_unknown_ambiguous_or_elsewhere_is_refused_with_the_reason() {
        for nonsense in ["EPSG:999999", "foo", "", "+proj=utm +zone=55", "EPSG:", "5773", "a'; --"]
        {
            let error = to_wgs84(nonsense, 500_000.0, 5_250_000.0).unwrap_err();
            assert!(error.advice().is_some(), "{error}");
        }
        let ambiguous = to_wgs84("MGA zone 55", 500_000.0, 5_250_000.0).unwrap_err().to_string();
        assert!(ambiguous.contains("EPSG:28355") && ambiguous.contains("EPSG:7855"), "{ambiguous}");
        let swapped = to_wgs84("EPSG:28355", 5_250_000.0, 500_000.0).unwrap_err();
        assert!(swapped.to_string().contains("GDA94 / MGA zone 55"), "{swapped}");
        assert!(to_wgs84("EPSG:28355", f64::NAN, 0.0).is_err());
        assert!(to_wgs84("EPSG:28355", f64::INFINITY, 0.0).is_err());
        assert!(to_wgs84("WGS84", 146.0, 95.0).is_err());
    }

    #[test]
    fn concurrent_queries_are_supported() {
        let threads: Vec<_> = (0..8)
            .map(|_| thread::spawn(|| to_wgs84("EPSG:28355", 500_000.0, 5_250_000.0).unwrap()))
            .collect();
        for thread in threads {
            assert_eq!(thread.join().unwrap().1, Metres(3.0));
        }
    }
}
