//! Lengths on the ground and speeds along it. Layer: `units`.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Div, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

use super::Seconds;

/// A length in metres, signed.
///
/// Horizontal distances, differences of height and uncertainties are all lengths; what they are measured along is
/// said by whoever returns one. The value may be negative, zero, infinite or NaN: nothing is checked here. Where
/// only a finite length above zero makes sense, the type is [`Radius95`](crate::units::Radius95).
///
/// # Examples
/// ```
/// use trug::units::{Metres, Seconds};
///
/// let legs = [Metres(400.0), Metres(850.0)];
/// let whole: Metres = legs.into_iter().sum();
/// assert_eq!(whole.to_string(), "1.25 km");
/// assert_eq!(whole / Metres(500.0), 2.5);
/// // independent errors add in quadrature
/// assert_eq!(Metres(3.0).hypot(Metres(4.0)), Metres(5.0));
/// assert_eq!((whole / Seconds(1_000.0)).0, 1.25);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Metres(pub f64);

/// A speed over the ground in metres per second.
///
/// Made by dividing [`Metres`] by [`Seconds`]; multiplied by [`Seconds`] it is a length again. A walking
/// speed of 4 km/h is about 1.1 m/s.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MetresPerSecond(pub f64);

impl Metres {
    /// The length without its sign.
    #[must_use]
    pub fn abs(self) -> Self {
        Self(self.0.abs())
    }

    /// The longer of two lengths.
    ///
    /// A NaN counts as missing: the other length is returned, as by [`f64::max`].
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }

    /// The shorter of two lengths.
    ///
    /// A NaN counts as missing: the other length is returned, as by [`f64::min`].
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        Self(self.0.min(other.0))
    }

    /// The length of the hypotenuse: how independent random parts add up.
    ///
    /// Bounded parts (rounding of coordinates, an unknown datum) add linearly instead; see
    /// [`PartKind::is_bounded`](crate::model::PartKind::is_bounded).
    #[must_use]
    pub fn hypot(self, other: Self) -> Self {
        Self(self.0.hypot(other.0))
    }
}

impl Add for Metres {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Metres {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Metres {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<f64> for Metres {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}

impl Div<f64> for Metres {
    type Output = Self;
    fn div(self, divisor: f64) -> Self {
        Self(self.0 / divisor)
    }
}

impl Div for Metres {
    type Output = f64;
    fn div(self, other: Self) -> f64 {
        self.0 / other.0
    }
}

impl Div<Seconds> for Metres {
    type Output = MetresPerSecond;
    fn div(self, time: Seconds) -> MetresPerSecond {
        MetresPerSecond(self.0 / time.0)
    }
}

impl Mul<Seconds> for MetresPerSecond {
    type Output = Metres;
    fn mul(self, time: Seconds) -> Metres {
        Metres(self.0 * time.0)
    }
}

impl Sum for Metres {
    fn sum<I: Iterator<Item = Self>>(lengths: I) -> Self {
        Self(lengths.map(|length| length.0).sum())
    }
}

impl fmt::Display for Metres {
    /// `7.4 m`, `85 m`, `1.24 km`: three figures at the most, always with the unit.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let size = self.0.abs();
        let text = if size < 9.95 {
            format!("{:.1} m", self.0)
        } else if size < 999.5 {
            format!("{:.0} m", self.0)
        } else if size < 9_995.0 {
            format!("{:.2} km", self.0 / 1e3)
        } else if size < 99_950.0 {
            format!("{:.1} km", self.0 / 1e3)
        } else {
            format!("{:.0} km", self.0 / 1e3)
        };
        f.pad(&text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_shown_with_their_unit_and_no_more_than_three_figures() {
        let shown = |length: f64| Metres(length).to_string();
        assert_eq!(shown(7.44), "7.4 m");
        assert_eq!(shown(9.96), "10 m");
        assert_eq!(shown(999.6), "1.00 km");
        assert_eq!(shown(12_345.0), "12.3 km");
        assert_eq!(shown(-3.0), "-3.0 m");
        assert_eq!(shown(250_000.0), "250 km");
    }
}
