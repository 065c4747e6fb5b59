//! Identifies the reference system of written coordinates by the names that records use, and bounds
//! the error of an unstated datum from those in use at the place. Refuses unknown names.
//! Layer: `ingest`.
//!
//! A datum that is not stated may be any that maps of the place are on: the bound on the position is the largest
//! shift among those, not the worst case of the world.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{LazyLock, Mutex, PoisonError};

use crate::earth::datum::{self, UNKNOWN_DATUM};
use crate::earth::{geodesic, grid};
use crate::error::{Error, Result};
use crate::units::{LatLon, Metres};

/// The system that a record names.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum System {
    /// WGS 84.
    World,
    /// Not stated: assumed to be WGS 84, with a bound on the error.
    Unstated,
    /// Latitude and longitude on another datum.
    Geographic(String),
    /// A grid in metres, with the datum under it.
    Projected { name: String, datum: String },
}

/// The system stated by the record, without the UTM zone.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Named {
    pub(super) system: System,
    /// A UTM zone in the name of the system, with its letter: `UTM zone 55S`.
    pub(super) zone: Option<String>,
}

/// A cache of answers that every record of a file needs.
type Memory<K, V> = LazyLock<Mutex<HashMap<K, V>>>;
static NAMES: Memory<String, Result<Named>> = LazyLock::new(Mutex::default);
static BOUNDS: Memory<(i32, i32), Metres> = LazyLock::new(Mutex::default);
/// The most cached answers, against hostile files.
const MOST_REMEMBERED: usize = 4096;

/// The cached or computed answer.
fn remembered<K: Eq + Hash, V: Clone>(
    memory: &Memory<K, V>,
    question: K,
    answer: impl FnOnce(&K) -> V,
) -> V {
    let lock = || memory.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(known) = lock().get(&question) {
        return known.clone();
    }
    // unlocked meanwhile, since the computation may be recursive
    let found = answer(&question);
    let mut memory = lock();
    if memory.len() < MOST_REMEMBERED {
        memory.insert(question, found.clone());
    }
    found
}

/// Words of a system that name the notation, not the datum.
const FORMS: [&str; 16] = [
    "decimaldegrees",
    "degreesminutesseconds",
    "degreesdecimalminutes",
    "latitudelongitude",
    "latlong",
    "latlon",
    "geographic",
    "coordinates",
    "degrees",
    "mgrs",
    "usng",
    "utm",
    "dms",
    "ddm",
    "dmm",
    "dd",
];
const UNKNOWN: [&str; 7] = ["", "unknown", "notrecorded", "notstated", "none", "na", "unbekannt"];
const WORLD: [&str; 9] = [
    "wgs84",
    "wgs1984",
    "epsg4326",
    "epsg4979",
    "ogccrs84",
    "crs84",
    "gps",
    "gpswgs84",
    "worldgeodeticsystem1984",
];

/// Datums of printed maps and receiver settings; EPSG codes of their geographic systems.
///
/// # References
/// EPSG Geodetic Parameter Dataset as PROJ 9.6 carries it.
const MAP_DATUMS: [(u16, &str); 30] = [
    (4202, "AGD66"),
    (4203, "AGD84"),
    (4272, "NZGD49"),
    (4267, "NAD27"),
    (4135, "Old Hawaiian"),
    (4618, "SAD69"),
    (4248, "PSAD56"),
    (4225, "Corrego Alegre 1970-72"),
    (4221, "Campo Inchauspe"),
    (4222, "Cape"),
    (4209, "Arc 1950"),
    (4210, "Arc 1960"),
    (4201, "Adindan"),
    (4230, "ED50"),
    (4277, "OSGB36"),
    (4284, "Pulkovo 1942"),
    (4314, "DHDN"),
    (4312, "MGI"),
    (4149, "CH1903"),
    (4275, "NTF"),
    (4265, "Monte Mario"),
    (4124, "RT90"),
    (4301, "Tokyo"),
    (4240, "Indian 1975"),
    (4245, "Kertau 1968"),
    (4298, "Timbalai 1948"),
    (4253, "Luzon 1911"),
    (4611, "Hong Kong 1980"),
    (4146, "Kalianpur 1975"),
    (4211, "Batavia"),
];

impl Named {
    /// Interprets a record's reference system.
    ///
    /// # Errors
    /// When no system of that name or code is known.
    pub(super) fn read(written: Option<&str>) -> Result<Self> {
        remembered(&NAMES, written.unwrap_or_default().trim().to_owned(), |written| {
            Self::understand(written)
        })
    }

    fn understand(written: &str) -> Result<Self> {
        let bare = bare(written);
        if let Some(zone) = zone_of(written) {
            let upper = written.to_uppercase();
            let rest = upper.split_once("UTM").map_or("", |(before, _)| before);
            let datum = rest.trim().trim_end_matches(['/', ',']).trim();
            return Ok(Self { zone: Some(zone), ..Self::read(Some(datum))? });
        }
        let system = if UNKNOWN.contains(&bare.as_str()) || FORMS.contains(&bare.as_str()) {
            System::Unstated
        } else if WORLD.contains(&bare.as_str()) {
            System::World
        } else if let Some(datum) = without_form(written) {
            return Self::read(Some(&datum));
        } else {
            registered(written)?
        };
        Ok(Self { system, zone: None })
    }
}

/// The system of the register that a name or code means.
fn registered(written: &str) -> Result<System> {
    let full = datum::name(written)?;
    let plain = full.rsplit_once(" (").map_or(full.as_str(), |(name, _)| name);
    Ok(match plain.split_once(" / ") {
        Some((datum, _)) => System::Projected { name: written.to_owned(), datum: datum.to_owned() },
        // the grids of some countries carry no slash in their names
        None if is_projected(written) => {
            System::Projected { name: written.to_owned(), datum: plain.to_owned() }
        }
        None => System::Geographic(written.to_owned()),
    })
}

/// Distinguishes grids from geographic systems by converting metres, which the latter refuse.
fn is_projected(written: &str) -> bool {
    const METRES: [(f64, f64); 4] = [
        (500_000.0, 500_000.0),
        (400_000.0, 200_000.0),
        (1_500_000.0, 5_500_000.0),
        (600_000.0, 200_000.0),
    ];
    METRES.iter().any(|&(x, y)| datum::to_wgs84(written, x, y).is_ok())
}

/// `UTM zone 55S`, `WGS 84 / UTM zone 55 south`, `UTM 55G`: the zone with its letter.
fn zone_of(written: &str) -> Option<String> {
    let lower = written.to_lowercase();
    let behind = lower.split_once("utm")?.1;
    let behind = behind.trim_start_matches([' ', ':', '-']).trim_start_matches("zone").trim();
    let zone = behind.trim_end_matches(|c: char| !c.is_ascii_alphanumeric());
    zone.starts_with(|c: char| c.is_ascii_digit()).then(|| zone.to_owned())
}

/// `GDA94 UTM`, `MGRS (WGS84)`: the datum without the word for the form.
fn without_form(written: &str) -> Option<String> {
    let words: Vec<&str> =
        written.split([' ', '/', '(', ')', ',', ';']).filter(|word| !word.is_empty()).collect();
    let kept: Vec<&str> =
        words.iter().copied().filter(|word| !FORMS.contains(&bare(word).as_str())).collect();
    (kept.len() < words.len()).then(|| kept.join(" "))
}

fn bare(text: &str) -> String {
    text.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_lowercase()).collect()
}

impl System {
    /// The position on WGS 84 and the uncertainty from the datum.
    pub(super) fn to_wgs84(&self, latitude: f64, longitude: f64) -> Result<(LatLon, Metres)> {
        match self {
            Self::World => Ok((on_the_globe(latitude, longitude)?, Metres(0.0))),
            Self::Unstated => {
                let at = on_the_globe(latitude, longitude)?;
                Ok((at, unstated_bound(at)))
            }
            Self::Geographic(name) | Self::Projected { datum: name, .. } => {
                datum::to_wgs84(name, longitude, latitude)
            }
        }
    }

    /// A UTM position on this datum.
    pub(super) fn utm(
        &self,
        zone: u8,
        north: bool,
        east: f64,
        up: f64,
    ) -> Result<(LatLon, Metres)> {
        match self {
            Self::World | Self::Unstated => {
                let at = grid::Utm::new(zone, north, east, up)?.to_latlon();
                let bound = if *self == Self::World { Metres(0.0) } else { unstated_bound(at) };
                Ok((at, bound))
            }
            Self::Geographic(name) | Self::Projected { datum: name, .. } => {
                let half = if north { 'N' } else { 'S' };
                let grids = [
                    format!("{name} / UTM zone {zone}{half}"),
                    format!("{name} / MGA zone {zone}"),
                    format!("{name} / AMG zone {zone}"),
                ];
                let known = grids.iter().find(|grid| datum::name(grid).is_ok());
                let known = known.ok_or_else(|| {
                    Error::input(format!("no UTM grid of zone {zone} is defined on {name}"))
                        .hint("name the grid in full or by its EPSG code")
                })?;
                datum::to_wgs84(known, east, up)
            }
        }
    }

    /// A position converted to degrees as if on WGS 84, for datums for which the difference is
    /// negligible.
    pub(super) fn near_world(&self, at: LatLon) -> Result<(LatLon, Metres)> {
        let (moved, bound) = self.to_wgs84(at.latitude(), at.longitude())?;
        if geodesic::distance(at, moved).0 > 10.0 {
            return Err(Error::input("MGRS letters differ on older datums")
                .because(format!("the record names {}", self.name()))
                .hint("give the position in metres with the EPSG code of the grid"));
        }
        Ok((moved, bound))
    }

    fn name(&self) -> &str {
        match self {
            Self::World => "WGS 84",
            Self::Unstated => "no datum",
            Self::Geographic(name) | Self::Projected { name, .. } => name,
        }
    }

    /// The text for the manner of a reading.
    pub(super) fn words(&self) -> String {
        match self {
            Self::World => String::new(),
            Self::Unstated => ", datum not stated, assumed to be WGS 84".into(),
            other => format!(", on {}", other.name()),
        }
    }
}

fn on_the_globe(latitude: f64, longitude: f64) -> Result<LatLon> {
    let refused = |why: String| Error::input("these numbers are not a position").because(why);
    let at = LatLon::new(latitude, longitude).map_err(|off| refused(off.to_string()))?;
    if longitude > 180.0 {
        let west = 360.0 - longitude;
        return Err(refused(format!(
            "longitude {longitude} is beyond 180: if it counts eastward all the way round, write {west} W or \
             -{west}; otherwise it is misspelt"
        )));
    }
    Ok(at)
}

/// Bounds the error of an unstated datum: the largest shift among the datums in use at the place;
/// where none of them covers it, the largest anywhere.
///
/// # References
/// The method: Chapman & Wieczorek 2020, Georeferencing Best Practices, 3.4.4 (unknown datum, worst
/// case 5,359 m), doi:10.15468/doc-gg7h-s853. The shifts: EPSG dataset.
fn unstated_bound(at: LatLon) -> Metres {
    // within a tenth of a degree shifts differ by less than the metre that is rounded up
    #[allow(clippy::cast_possible_truncation, reason = "at most 1800")]
    let tenth = |degrees: f64| (degrees * 10.0).floor() as i32;
    remembered(&BOUNDS, (tenth(at.latitude()), tenth(at.longitude())), |&(latitude, longitude)| {
        let middle = |tenth: i32| (f64::from(tenth) + 0.5) / 10.0;
        largest_shift(LatLon::clamped(middle(latitude), middle(longitude)))
    })
}

fn largest_shift(at: LatLon) -> Metres {
    MAP_DATUMS
        .iter()
        .filter_map(|(code, _)| {
            let system = format!("EPSG:{code}");
            let (moved, accuracy) = datum::to_wgs84(&system, at.longitude(), at.latitude()).ok()?;
            (accuracy.0 < UNKNOWN_DATUM.0).then(|| geodesic::distance(at, moved) + accuracy)
        })
        .reduce(Metres::max)
        .map_or(UNKNOWN_DATUM, |largest| Metres(largest.0.ceil()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn system(written: &str) -> System {
        Named::read(Some(written)).unwrap().system
    }

    #[test]
    fn the_words_of_records_are_understood() {
        assert_eq!(system("WGS 84"), System::World);
        assert_eq!(system("epsg:4326"), System::World);
        assert_eq!(system("GPS"), System::World);
        assert_eq!(system("not recorded"), System::Unstated);
        assert_eq!(system("decimal degrees"), System::Unstated);
        assert_eq!(system("MGRS (WGS84)"), System::World);
        assert_eq!(system("GDA94"), System::Geographic("GDA94".into()));
        assert!(
            matches!(system("EPSG:28355"), System::Projected { datum, .. } if datum == "GDA94")
        );
        let named = Named::read(Some("WGS84 / UTM zone 55S")).unwrap();
        assert_eq!((named.system, named.zone.as_deref()), (System::World, Some("55s")));
        assert!(Named::read(Some("the old grid")).is_err());
    }

    #[test]
    fn the_register_knows_every_datum_of_the_list_by_that_name() {
        for (code, name) in MAP_DATUMS {
            assert_eq!(
                datum::name(&format!("EPSG:{code}")).unwrap(),
                format!("{name} (EPSG:{code})")
            );
        }
    }

    #[test]
    fn unstated_datum_adds_the_largest_local_shift() {
        let bound =
            |latitude, longitude| unstated_bound(LatLon::new(latitude, longitude).unwrap()).0;
        // AGD66 in Tasmania, ED50 in the Alps, Tokyo in Japan: some hundred metres each
        assert!((150.0..260.0).contains(&bound(-42.5, 146.25)), "{}", bound(-42.5, 146.25));
        assert!((100.0..300.0).contains(&bound(47.0, 8.0)), "{}", bound(47.0, 8.0));
        assert!((400.0..500.0).contains(&bound(36.0, 138.0)), "{}", bound(36.0, 138.0));
        assert_eq!(bound(-80.0, 0.0), UNKNOWN_DATUM.0);
    }
}
