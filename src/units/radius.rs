//! A radius that states its level. Layer: `units`.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::Metres;

/// The radius of the circle about a stated position that holds the true one with 95 % probability.
///
/// Always finite and above zero: Darwin Core takes no zero uncertainty, and an unknown one is
/// `Option::None`, never a large number.
///
/// The circle describes what is believed, not the shape of the error: a position from a long gap in a track has an
/// error far longer than wide, and the circle still holds 95 % of it. How often the truth lies within the stated
/// circles on days with known truth is measured by `tests/position` and printed in `docs/position.md`.
///
/// # Units
/// Metres on the ground.
///
/// # Examples
/// ```
/// use trug::units::{Metres, Radius95};
///
/// let radius = Radius95::from_sigma(Metres(5.0)).ok_or("no radius")?;
/// assert_eq!(radius.to_string(), "12 m");
/// assert!(Radius95::new(Metres(0.0)).is_none());
/// assert!(Radius95::new(Metres(f64::NAN)).is_none());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # References
/// Darwin Core quick reference guide, `coordinateUncertaintyInMeters`: zero is no valid value; an unknown
/// uncertainty is left blank.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Radius95(Metres);

impl Radius95 {
    /// The ratio of the 95 % radius to one standard deviation per axis of a circular normal error,
    /// sqrt(-2 ln 0.05).
    ///
    /// From the Rayleigh distribution, whose 95 % quantile this is. A receiver's "accuracy" is often the 50 % radius
    /// instead, which is 1.177 standard deviations: 2.08 times smaller.
    pub const PER_SIGMA: f64 = 2.447_746_830_680_816;

    /// One metre: what grows on a single tree stump.
    ///
    /// Common practice, not a measured limit.
    pub const ONE_METRE: Self = Self(Metres(1.0));

    /// The radius; `None` when the length is not finite or not above zero.
    #[must_use]
    pub fn new(length: Metres) -> Option<Self> {
        (length.0.is_finite() && length.0 > 0.0).then_some(Self(length))
    }

    /// The radius of a circular normal error with this standard deviation per axis.
    ///
    /// `None` when the deviation is not finite or not above zero. The two axes are taken as equal and independent.
    #[must_use]
    pub fn from_sigma(per_axis: Metres) -> Option<Self> {
        Self::new(per_axis * Self::PER_SIGMA)
    }

    /// The length of the radius.
    #[must_use]
    pub fn metres(self) -> Metres {
        self.0
    }

    /// One standard deviation per axis of the circular normal error with this radius.
    ///
    /// The inverse of [`Radius95::from_sigma`]; meaningful only where the error is about circular.
    #[must_use]
    pub fn sigma(self) -> Metres {
        self.0 / Self::PER_SIGMA
    }
}

impl fmt::Display for Radius95 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_radius_is_never_zero_or_unbounded() {
        assert_eq!(Radius95::new(Metres(0.0)), None);
        assert_eq!(Radius95::new(Metres(f64::INFINITY)), None);
        let radius = Radius95::from_sigma(Metres(10.0)).unwrap();
        assert!((radius.metres().0 - 24.477).abs() < 1e-3);
        assert!((radius.sigma().0 - 10.0).abs() < 1e-12);
    }
}
