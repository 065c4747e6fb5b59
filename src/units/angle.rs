//! Angles and the three norths. True, magnetic and grid bearings are different types; the only
//! bridges between them are a [`Declination`] and a [`GridConvergence`]. Layer: `units`.

use std::fmt;
use std::ops::{Add, Neg, Sub};

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::LatLon;

/// An angle in degrees, signed.
///
/// Any size and sign: a turn, a latitude difference, the height of the sun. A direction over the ground is one of
/// the bearing types instead, which know their north.
///
/// # Examples
/// ```
/// use trug::units::Degrees;
///
/// assert_eq!(Degrees(-90.0).round_the_compass(), Degrees(270.0));
/// assert_eq!(Degrees(350.0).shortest_turn(), Degrees(-10.0));
/// // the shortest way from 179 degrees west to 179 degrees east
/// assert_eq!(Degrees(179.0 - -179.0).shortest_turn(), Degrees(-2.0));
/// assert_eq!(Degrees(-3.25).to_string(), "-3.2°");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Degrees(pub f64);

impl Degrees {
    /// The angle from radians.
    #[must_use]
    pub fn from_radians(radians: f64) -> Self {
        Self(radians.to_degrees())
    }

    /// The angle in radians.
    #[must_use]
    pub fn radians(self) -> f64 {
        self.0.to_radians()
    }

    /// The same direction in the range 0 (included) to 360 (excluded).
    #[must_use]
    pub fn round_the_compass(self) -> Self {
        let turned = self.0.rem_euclid(360.0);
        Self(if turned >= 360.0 { 0.0 } else { turned })
    }

    /// The same turn in the range -180 (excluded) to 180 (included).
    ///
    /// Also the shortest difference between two longitudes, valid across the 180th meridian.
    #[must_use]
    pub fn shortest_turn(self) -> Self {
        let turned = self.round_the_compass().0;
        Self(if turned > 180.0 { turned - 360.0 } else { turned })
    }

    /// The angle without its sign.
    #[must_use]
    pub fn abs(self) -> Self {
        Self(self.0.abs())
    }
}

impl Add for Degrees {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Degrees {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Degrees {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl fmt::Display for Degrees {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{:.1}\u{b0}", self.0))
    }
}

macro_rules! bearing {
    ($(#[$doc:meta])* $name:ident, $letter:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(Degrees);

        impl $name {
            /// The bearing at this angle clockwise from its north, brought into 0 to 360 degrees.
            #[must_use]
            pub fn new(clockwise: Degrees) -> Self {
                Self(clockwise.round_the_compass())
            }

            /// Degrees clockwise from its north, 0 (included) to 360 (excluded).
            #[must_use]
            pub fn degrees(self) -> Degrees {
                self.0
            }

            /// The opposite bearing.
            #[must_use]
            pub fn back(self) -> Self {
                Self::new(self.0 + Degrees(180.0))
            }

            /// The bearing after turning right by this angle (left when negative).
            #[must_use]
            pub fn turned(self, right: Degrees) -> Self {
                Self::new(self.0 + right)
            }

            /// The shortest turn from this bearing to the other, right positive.
            #[must_use]
            pub fn turn_to(self, other: Self) -> Degrees {
                (other.0 - self.0).shortest_turn()
            }
        }

        impl fmt::Display for $name {
            /// Three whole figures as on a compass, with the letter of its north.
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let whole = Degrees(self.0.0.round()).round_the_compass().0;
                f.pad(&format!(concat!("{:03.0}\u{b0}", $letter), whole))
            }
        }
    };
}

bearing! {
    /// A bearing from true north.
    ///
    /// What every computation of [`earth`](crate::earth) returns. A compass needs a [`MagneticBearing`]
    /// ([`Declination::to_magnetic`]), a protractor on a map's grid a [`GridBearing`]
    /// ([`GridConvergence::to_grid`]).
    ///
    /// # Examples
    /// ```
    /// use trug::units::{Degrees, TrueBearing};
    ///
    /// let out = TrueBearing::new(Degrees(300.0));
    /// assert_eq!(out.back().to_string(), "120°T");
    /// assert_eq!(out.turn_to(TrueBearing::new(Degrees(10.0))), Degrees(70.0));
    /// ```
    TrueBearing, "T"
}
bearing! {
    /// A bearing from magnetic north, as a compass reads.
    ///
    /// Steel, a telephone and iron in the rock turn the needle further; no model knows of them.
    MagneticBearing, "M"
}
bearing! {
    /// A bearing from the north of a map's grid.
    ///
    /// Belongs to one grid: beside the border of a UTM zone the same direction has two grid bearings, some
    /// degrees apart at high latitudes.
    GridBearing, "G"
}

/// Which model of the Earth's magnetic field a declination came from.
///
/// Decides whether a declination may be computed again for another place: that of a model may, a stated one is kept
/// (see [`earth::declination::nearby`](crate::earth::declination::nearby)).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum MagneticModel {
    /// World Magnetic Model 2025, valid from the start of 2025 to the end of 2029.
    Wmm2025,
    /// Stated by the user, for instance read off a map.
    Stated,
}

/// The angle from true to magnetic north, east positive, with what it was computed for.
///
/// Made by [`earth::declination::at`](crate::earth::declination::at), or stated by the user from a map. It holds for
/// one place and date: it changes by about 0.1 degree a year, and near the magnetic poles by degrees within a
/// kilometre.
///
/// # Examples
/// ```
/// use trug::units::{Declination, Degrees, LatLon, MagneticModel, TrueBearing};
///
/// let map = Declination {
///     east: Degrees(15.0),
///     uncertainty: Degrees(0.5),
///     model: MagneticModel::Stated,
///     date: jiff::civil::date(2026, 5, 2),
///     place: LatLon::new(-42.9, 146.1)?,
/// };
/// // where the needle points east of true north, a compass reads less
/// assert_eq!(map.to_magnetic(TrueBearing::new(Degrees(10.0))).to_string(), "355°M");
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Declination {
    /// East positive.
    pub east: Degrees,
    /// One standard deviation.
    pub uncertainty: Degrees,
    /// Where the value came from.
    pub model: MagneticModel,
    /// The day it holds for.
    pub date: Date,
    /// The place it holds for.
    pub place: LatLon,
}

impl Declination {
    /// magnetic = true - declination.
    #[must_use]
    pub fn to_magnetic(&self, bearing: TrueBearing) -> MagneticBearing {
        MagneticBearing::new(bearing.degrees() - self.east)
    }

    /// true = magnetic + declination.
    #[must_use]
    pub fn to_true(&self, bearing: MagneticBearing) -> TrueBearing {
        TrueBearing::new(bearing.degrees() + self.east)
    }
}

/// The angle from true to grid north at a place, east positive.
///
/// Zero on the central meridian of a zone and largest at its edges: about 3 degrees times the sine of the latitude for
/// UTM. Computed by [`earth::grid::convergence`](crate::earth::grid::convergence).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GridConvergence(pub Degrees);

impl GridConvergence {
    /// grid = true - convergence.
    #[must_use]
    pub fn to_grid(self, bearing: TrueBearing) -> GridBearing {
        GridBearing::new(bearing.degrees() - self.0)
    }

    /// true = grid + convergence.
    #[must_use]
    pub fn to_true(self, bearing: GridBearing) -> TrueBearing {
        TrueBearing::new(bearing.degrees() + self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bearing_is_normalised() {
        assert_eq!(TrueBearing::new(Degrees(-10.0)).degrees(), Degrees(350.0));
        assert_eq!(TrueBearing::new(Degrees(360.0)).degrees(), Degrees(0.0));
        assert_eq!(TrueBearing::new(Degrees(-1e-20)).degrees(), Degrees(0.0));
        assert_eq!(TrueBearing::new(Degrees(359.7)).to_string(), "000\u{b0}T");
        assert_eq!(MagneticBearing::new(Degrees(10.0)).back().degrees(), Degrees(190.0));
    }

    #[test]
    fn the_shortest_turn_crosses_north() {
        let turn = TrueBearing::new(Degrees(350.0)).turn_to(TrueBearing::new(Degrees(10.0)));
        assert_eq!(turn, Degrees(20.0));
        assert_eq!(Degrees(180.0).shortest_turn(), Degrees(180.0));
        assert_eq!(Degrees(-180.0).shortest_turn(), Degrees(180.0));
    }

    #[test]
    fn east_declination_reduces_the_magnetic_bearing() {
        let declination = Declination {
            east: Degrees(14.0),
            uncertainty: Degrees(0.4),
            model: MagneticModel::Stated,
            date: jiff::civil::date(2026, 5, 1),
            place: LatLon::new(-42.0, 146.0).unwrap(),
        };
        let compass = declination.to_magnetic(TrueBearing::new(Degrees(10.0)));
        assert_eq!(compass.degrees(), Degrees(356.0));
        assert_eq!(declination.to_true(compass).degrees(), Degrees(10.0));
    }
}
