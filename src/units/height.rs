//! Heights: a receiver's own and one above sea level are different types. Layer: `units`.

use serde::{Deserialize, Serialize};

use super::Metres;

/// A height as a satellite receiver gave it. Receivers differ in whether it is above the ellipsoid or
/// above their own rough geoid, so it is good for differences along one track only.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct GpsHeight(pub Metres);

/// A height above mean sea level, from an elevation model or a map.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SeaLevelHeight(pub Metres);
