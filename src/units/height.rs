//! Heights: a receiver's own and one above sea level are different types. Layer: `units`.

use serde::{Deserialize, Serialize};

use super::Metres;

/// A height as a satellite receiver gave it. Receivers differ in whether it is above the ellipsoid or
/// above their own rough geoid, so it is good for differences along one track only.
///
/// # Units
/// Metres above an unstated surface. Geoid and ellipsoid are up to some hundred metres apart, so two receivers at
/// one place can differ by that much.
///
/// There is no conversion to [`SeaLevelHeight`]: without the receiver's own surface none is right.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct GpsHeight(pub Metres);

/// A height above mean sea level, from an elevation model or a map.
///
/// # Units
/// Metres above the vertical datum of its source (EGM96 for SRTM tiles); trug does not convert between vertical
/// datums, which differ by metres at the most within one country.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SeaLevelHeight(pub Metres);
