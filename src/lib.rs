//! trug locates, checks and stores a day's fungus finds.
//!
//! The inputs are what a collector brings home: GPS tracks, photographs and field records. trug decides
//! which of them belong together, estimates what the camera clock was off by and gives every find a
//! position with a 95 % radius, or the reason why it has none. Everything is kept in one GeoPackage
//! that any GIS opens; from there come sites, visits, seasons, densities, labels, files for others and
//! the way back before dark. Originals are only read, and nothing here says that anything is edible.
//!
//! The `trug` program is a thin layer over this library: each command parses, makes one call, and shows
//! the result.
//!
//! Every item states what it assumes and where that fails; figures without a test are marked "common practice",
//! "project choice" or "from memory".
//!
//! # Example
//! From a folder to a store, and from the store to a table that a data portal reads:
//!
//! ```
//! use trug::ingest;
//! use trug::join::{self, Options};
//! use trug::present::geoparquet;
//! use trug::store::{FindQuery, Store};
//! use trug::units::Timestamp;
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! // every file that can be read, and a reason for every other
//! let intake = ingest::read(&["sample-tracks/2026-05-02-thimble-spur"]);
//! for refused in &intake.set_aside {
//!     eprintln!("{refused}");
//! }
//!
//! // one day for each outing
//! let days = join::join(intake, &Options::default());
//! for find in &days[0].finds {
//!     let name = find.record.name.as_deref().unwrap_or("not determined");
//!     match &find.place {
//!         Ok(located) => println!("{name}: {}, 95 % radius {}", located.at, located.radius),
//!         Err(reason) => println!("{name}: {reason}"),
//!     }
//! }
//! assert!(days[0].finds.iter().filter(|find| find.place.is_ok()).count() >= 12);
//!
//! // one transaction; the same import again changes nothing
//! let folder = tempfile::tempdir()?;
//! let mut store = Store::create_or_open(&folder.path().join("my.gpkg"))?;
//! store.import(&days, Timestamp::now())?;
//! assert!(store.import(&days, Timestamp::now())?.changed_nothing());
//!
//! let query = FindQuery { taxon: Some("Mycena".to_owned()), ..FindQuery::default() };
//! let table = geoparquet::finds(&store.finds(&query)?)?;
//! assert_eq!(&table[..4], b"PAR1");
//! # Ok(())
//! # }
//! ```
//!
//! More programs are in the cookbook, `docs/cookbook.md`; tests run them.
//!
//! # Single questions
//! Most layers answer without a store or a folder. Where a written position is, how far the car is, and whether
//! the light is enough to get there:
//!
//! ```
//! use trug::earth::geodesic;
//! use trug::ingest::position;
//! use trug::units::{LatLon, Metres, Radius95, TimeZone};
//! use trug::wayout::{self, Advice, Goal, Request, Start};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let written = position::read("42 37.13 S, 146 05.47 E", Some("WGS84"))?;
//! let here = written.readings[0].at;
//! let car = LatLon::new(-42.6110, 146.1010)?;
//! assert_eq!(geodesic::distance(here, car).to_string(), "1.19 km");
//!
//! let start = Start::stated(here, Radius95::new(Metres(30.0)).ok_or("no radius")?);
//! let goal = Goal { name: "the car".into(), at: car };
//! let zone = TimeZone::get("Australia/Hobart")?;
//! let request = Request::new(start, goal, "2026-05-16T05:20:00Z".parse()?, zone)?;
//! let answer = wayout::find(&request)?;
//! assert_eq!(answer.best().ok_or("no route")?.verdict.advice, Advice::Comfortable);
//! # Ok(())
//! # }
//! ```
//!
//! # Map
//! Data flow down the first five rows. Imports point up this list, never down; `tests/layers` enforces
//! it. `join`, `analyse` and `wayout` are pure: no clock, no disk, no printing, "now" is an argument.
//!
//! | layer | content | begin with |
//! |---|---|---|
//! | [`ingest`] | readers of tracks, photographs, field records, written positions | [`ingest::read`] |
//! | [`join`](mod@join) | position and radius of each find, camera clocks, conflicts | [`join::join`] |
//! | [`store`] | the GeoPackage of all outings | [`store::Store`] |
//! | [`analyse`] | sites, visits, effort, season, density | [`analyse::Survey`] |
//! | [`present`] | maps, charts, labels, exchange files, HTML | [`present::geojson`] |
//! | [`wayout`] | routes back and daylight | [`wayout::Request`] |
//! | [`earth`] | geodesic, grids and datums, declination, sun, time zones, elevation | [`earth::geodesic`] |
//! | [`model`] | data of an outing: inputs and results | [`model::Day`] |
//! | [`error`] | what failed, where, why, one hint | [`error::Error`] |
//! | [`units`] | quantities that cannot be mixed up | [`units::LatLon`] |
//! | [`commands`] | the commands of the program | [`commands::run`] |
//!
//! # Units, errors, accuracy
//! Lengths are [`Metres`](units::Metres), angles [`Degrees`](units::Degrees) or one of the bearings,
//! positions [`LatLon`](units::LatLon) on WGS 84 with latitude first, instants
//! [`Timestamp`](units::Timestamp). A radius is a [`Radius95`](units::Radius95): the truth lies within
//! it in 95 of 100 cases; `docs/position.md` states how often it does on days with known truth.
//!
//! | result | accuracy | held by |
//! |---|---|---|
//! | 95 % circle of a find | holds the truth in 96 of 100 simulated finds, by condition 88 to 100 | `tests/position` |
//! | distance, bearing | 10 nm, 1e-9 degree | `tests/reference` |
//! | UTM, MGRS | 1 mm, zone exact | `tests/reference` |
//! | declination, 2025 to 2029 | 0.006 degree beside the error of the model | `tests/reference` |
//! | sunset on a level horizon | 60 s | `tests/reference` |
//! | visits to sites | recall and precision of at least 0.95 | `visits_are_detected_with_and_without_a_find` |
//! | occupancy intervals | cover 93 to 96 % | `coverage_of_detection` |
//!
//! No input makes a reader or an estimate panic. A file, a point or a find that cannot be used is
//! reported beside the result and does not stop the rest; [`error::Error`] is returned where there is
//! no result at all.
//!
//! # Files and the machine
//! Inputs are opened for reading only. The store is written by its own methods alone, `present` returns bytes and
//! writes nothing. Beside that the library writes to the user's cache folder: the table of reference systems,
//! unpacked once. Nothing is read from a network. Folders are read, and large analyses computed, on all processors;
//! results do not depend on how many there are.

pub mod analyse;
pub mod commands;
pub mod earth;
pub mod error;
pub mod ingest;
pub mod join;
pub mod model;
pub mod present;
pub mod store;
pub mod units;
pub mod wayout;

/// The programs of the cookbook, compiled and run as tests.
#[cfg(doctest)]
#[doc = include_str!("../docs/cookbook.md")]
struct Cookbook;
