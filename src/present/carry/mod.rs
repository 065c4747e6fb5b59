//! Writes the page to carry: the way out, the plan and the notebook on a telephone without a signal.
//!
//! A folder (page, service worker, manifest, picture) for a web space, or one file that opens by itself. The page
//! asks for nothing: a strict content security policy lists the digests of its own style and program. Layer:
//! `present`.
//!
//! # Privacy
//! Sensitive sites are left out, generalised, or encrypted under a passphrase ([`Sealed`]); known paths near them
//! are left out by published cells, so that the gap does not give the place away. `docs/carry.md` has the details
//! and the checks.
//!
//! # Size
//! Below 3 MB; an area of 10 by 10 km with ground, streams and a small network has 0.68 MB (`docs/carry.md`).

mod base;
mod data;
mod pack;
mod page;
pub mod seal;
mod worker;

use jiff::civil::Date;

use crate::earth::daylight::Interval;
use crate::earth::declination::Compass;
use crate::model::{BaseFeature, TrackPoint};
use crate::units::{Declination, Degrees, LatLon, Metres, TimeZone, Timestamp};
use crate::wayout::across::Area;
use crate::wayout::goal::Goal;
use crate::wayout::land_field::LandField;
use crate::wayout::paths::Part;

pub use page::{alone, folder};

/// What the page holds.
#[derive(Clone, Debug)]
pub struct Carry {
    /// When it is made.
    pub made: Timestamp,
    /// The day of the outing.
    pub day: Date,
    /// The local clock, and its name.
    pub zone: (TimeZone, String),
    /// The middle of the area.
    pub centre: LatLon,
    /// Half of its side.
    pub reach: Metres,
    /// The light of the darkest place of the area, without gaps.
    pub light: Vec<Interval>,
    /// The declination at the middle.
    pub declination: Declination,
    /// The declination on three by three places, row by row from the south-west corner of the area.
    pub declinations: Vec<Degrees>,
    /// The reliability of a compass.
    pub compass: Compass,
    /// Trailheads and other safe places.
    pub safe: Vec<Goal>,
    /// Closed areas.
    pub closed: Vec<Area>,
    /// Known paths.
    pub paths: Option<Part>,
    /// The least times across open ground.
    pub land: Option<LandField>,
    /// Features of base maps.
    pub base: Vec<BaseFeature>,
    /// The own track of the day.
    pub track: Vec<TrackPoint>,
    /// Sites.
    pub sites: Vec<CarriedSite>,
    /// The round of the day.
    pub round: Option<CarriedRound>,
    /// How many sites are withheld or generalised.
    pub withheld: usize,
    /// Whether known paths near sensitive finds are left out.
    pub paths_withheld: bool,
    /// Exact sensitive sites and the paths near them, encrypted.
    pub sealed: Option<Sealed>,
    /// Steps for a hundred metres.
    pub paces: f64,
    /// Slopes steeper than this are flagged.
    pub steep: Degrees,
    /// The first record number of the notebook.
    pub first_number: String,
}

/// A site of the page.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct CarriedSite {
    /// Its number.
    pub id: i64,
    /// The name that the user gave it.
    pub name: Option<String>,
    /// Latitude and longitude.
    pub at: [f64; 2],
    /// The radius of its circle or cell, metres.
    pub radius_m: f64,
    /// Whether the position is generalised.
    pub generalised: bool,
    /// What was found there, the most frequent first.
    pub taxa: Vec<String>,
    /// The last day with a find.
    pub last: Option<Date>,
}

/// The round of the day.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct CarriedRound {
    /// The sites in order.
    pub sites: Vec<i64>,
    /// Seconds since 1970 of setting out.
    pub start: i64,
    /// Of the latest time to turn back.
    pub turn_back_by: i64,
    /// Of the return.
    pub back: i64,
    /// Notes.
    pub remark: String,
}

/// Encrypted data with what is needed to open it with the passphrase.
///
/// Without the passphrase not even the number of sites in it can be read; how long it is tells their order of
/// magnitude.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Sealed {
    /// Rounds of PBKDF2 with HMAC-SHA-256.
    pub iterations: u32,
    /// Base 64.
    pub salt: String,
    /// Base 64; 96 bits.
    pub nonce: String,
    /// Base 64; AES-256-GCM with its tag at the end.
    pub data: String,
}

/// What is encrypted: the text that [`Sealed::data`] holds.
#[must_use]
pub fn secret(sites: &[CarriedSite], paths: Option<&Part>, centre: LatLon) -> String {
    data::secret(sites, paths, centre)
}

#[cfg(test)]
mod tests;
