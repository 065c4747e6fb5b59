//! Temperatures of the air and depths of rain. Layer: `units`.

use serde::{Deserialize, Serialize};

/// A temperature in degrees Celsius.
///
/// Of the air, as files of weather stations state it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Celsius(pub f64);

/// A depth of water or snow in millimetres.
///
/// One millimetre of rain is one litre on a square metre. Snow is given as measured, as depth; it is not converted
/// to water.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Millimetres(pub f64);

impl Celsius {
    /// From degrees Fahrenheit.
    ///
    /// # Examples
    /// ```
    /// use trug::units::Celsius;
    /// assert_eq!(Celsius::from_fahrenheit(50.0), Celsius(10.0));
    /// ```
    #[must_use]
    pub fn from_fahrenheit(degrees: f64) -> Self {
        Self((degrees - 32.0) / 1.8)
    }
}

impl Millimetres {
    /// From inches of 25.4 mm.
    #[must_use]
    pub fn from_inches(inches: f64) -> Self {
        Self(inches * 25.4)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fixed_points_and_the_inch() {
        assert_eq!(Celsius::from_fahrenheit(212.0), Celsius(100.0));
        assert_eq!(Celsius::from_fahrenheit(32.0), Celsius(0.0));
        assert_eq!(Millimetres::from_inches(2.0), Millimetres(50.8));
    }
}
