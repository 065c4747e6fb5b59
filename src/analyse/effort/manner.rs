//! The manners in which a collector spends an outing, and how much a manner counts as search.
//! Layer: `analyse`.

use serde::Serialize;

/// What a part of a track is to the search.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Manner {
    /// Slowly or to and fro, short stops without a find included.
    Searching,
    /// Walking off the regular paths, below [`BRISK`].
    Steady,
    /// Walking off the regular paths, faster.
    Brisk,
    /// Walking on a path that is used on many outings.
    Path,
    /// The rest of a long stop without a find.
    Rest,
    /// At a find, from arrival to leaving.
    Handling,
}

/// The manners that can count as search.
pub const SEARCHING: [Manner; 4] = [Manner::Searching, Manner::Steady, Manner::Brisk, Manner::Path];

/// The speed that parts steady from brisk walking, metres per second (project choice: between a
/// pace through a wood and one on a path).
pub const BRISK: f64 = 1.05;
/// Walking below this speed is searching, metres per second (project choice: half an easy walk).
pub const SLOW: f64 = 0.6;

impl Manner {
    /// Its place in [`SEARCHING`]; `None` for what never counts as search.
    #[must_use]
    pub fn class(self) -> Option<usize> {
        SEARCHING.iter().position(|manner| *manner == self)
    }
}

/// How much each manner of [`SEARCHING`] counts: 1 is the mean over finds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Weights {
    /// Per hour.
    pub hour: [f64; 4],
    /// Per kilometre.
    pub km: [f64; 4],
    /// Finds of known manner that they rest on.
    pub finds: u32,
    /// Of these, those made in each manner: where they are few, the weight is mostly the assumed one.
    pub by_manner: [u32; 4],
}

/// The weight of an hour on a regular path where nothing else is known (project choice).
const PATH: f64 = 0.25;
/// Usual speeds of the manners, metres per second (project choice), for weights per kilometre
/// before any track is known.
const USUAL_SPEEDS: [f64; 4] = [0.3, 0.8, 1.3, 1.3];

impl Default for Weights {
    /// An hour counts the same in every manner except on regular paths: what is noticed per minute
    /// does not depend on the speed (Koopman's random search), and so the searched width narrows as
    /// the speed grows.
    fn default() -> Self {
        let hour = [1.0, 1.0, 1.0, PATH];
        Self { hour, km: per_km(hour, USUAL_SPEEDS), finds: 0, by_manner: [0; 4] }
    }
}

/// Weights per kilometre that agree with those per hour at these speeds, a kilometre of steady walking at a usual speed
/// being 1.
pub(super) fn per_km(hour: [f64; 4], speeds: [f64; 4]) -> [f64; 4] {
    std::array::from_fn(|class| USUAL_SPEEDS[1] * hour[class] / speeds[class].max(0.05))
}

/// Ground counts as searched where a kilometre counts at least this much (project choice).
const LEAST: f64 = 0.05;

impl Weights {
    /// How much an hour in this manner counts.
    #[must_use]
    pub fn of_hour(&self, manner: Manner) -> f64 {
        manner.class().map_or(0.0, |class| self.hour[class])
    }

    /// How much a kilometre in this manner counts.
    #[must_use]
    pub fn of_km(&self, manner: Manner) -> f64 {
        manner.class().map_or(0.0, |class| self.km[class])
    }

    /// Whether ground passed in this manner counts as searched. Regular paths do where finds show
    /// that something is found on them.
    #[must_use]
    pub fn searches(&self, manner: Manner) -> bool {
        match manner {
            Manner::Path => self.finds >= ENOUGH && self.of_km(manner) >= LEAST,
            _ => self.of_km(manner) >= LEAST,
        }
    }
}

/// The fewest finds of known manner from which the weights are taken for more than assumptions
/// (project choice).
pub const ENOUGH: u32 = 20;
