//! Represents the features of the user's own base maps: lines, areas and places with class and name.
//! Layer: `model`.
//!
//! Base maps are the user's own files. They are drawn below the results, and lines of the class *path* can lead a
//! way out; roads are never followed, since their class holds motorways and railways.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use crate::units::LatLon;

/// What a feature of a base map is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum BaseClass {
    /// Running water: a line.
    Stream,
    /// Standing water, the sea.
    Water,
    /// A road or a railway.
    Road,
    /// A path or a track.
    Path,
    /// A boundary of any kind.
    Boundary,
    /// A car park.
    Parking,
    /// A summit.
    Summit,
    /// A named place.
    Place,
    /// Nothing that trug knows: drawn in one neutral style.
    Other,
}

/// Where a feature is.
#[derive(Clone, Debug, PartialEq)]
pub enum BaseShape {
    /// One place.
    Point(LatLon),
    /// A line of two and more places.
    Line(Vec<LatLon>),
    /// An outline, then outlines of holes; each closed.
    Area(Vec<Vec<LatLon>>),
}

impl BaseShape {
    /// Its places in order.
    pub fn places(&self) -> impl Iterator<Item = LatLon> + '_ {
        let (point, line, rings) = match self {
            Self::Point(at) => (Some(*at), &[][..], &[][..]),
            Self::Line(line) => (None, line.as_slice(), &[][..]),
            Self::Area(rings) => (None, &[][..], rings.as_slice()),
        };
        point.into_iter().chain(line.iter().copied()).chain(rings.iter().flatten().copied())
    }
}

/// One feature.
#[derive(Clone, Debug, PartialEq)]
pub struct BaseFeature {
    /// What it is.
    pub class: BaseClass,
    /// Its name.
    pub name: Option<String>,
    /// Where it is.
    pub shape: BaseShape,
}

/// What was read of one base map.
///
/// A damaged file gives what can be read of it, with the damage stated.
#[derive(Clone, Debug, PartialEq)]
pub struct BaseMap {
    /// The file.
    pub path: PathBuf,
    /// BLAKE3 of its content in hexadecimal.
    pub hash: String,
    /// Its features.
    pub features: Vec<BaseFeature>,
    /// Kinds of features that trug does not know, as written, with their number; the most frequent first.
    pub unknown: Vec<(String, usize)>,
    /// Features without a usable geometry.
    pub without_place: usize,
    /// Positions beyond what one file may hold.
    pub beyond: usize,
    /// Where the file ended early or was damaged, in words.
    pub damage: Option<String>,
}
