//! Findings about areas that nobody searched: whether any can be recommended, or why not; sentences are made in
//! `present`. Layer: `model`.

use serde::Serialize;

use crate::units::Metres;

/// What the data say about areas that nobody searched.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum UnsearchedNote {
    /// Areas are offered: elevation predicts finds, and there is unsearched ground at elevations with more of them.
    UnsearchedOffered,
    /// The store keeps no elevation tile that covers the searched ground.
    UnsearchedNoTiles,
    /// Too few outings found something on searched ground of known elevation.
    UnsearchedFewOutings {
        /// Outings with a find.
        with_find: usize,
        /// The fewest.
        least: usize,
    },
    /// Too few squares of ground were searched.
    UnsearchedLittleGround {
        /// Squares of 500 m that were searched.
        squares: usize,
        /// Those with a find.
        with_find: usize,
        /// The fewest squares.
        least: usize,
        /// The fewest with a find.
        least_with_find: usize,
    },
    /// The elevations that enough outings searched hardly differ.
    UnsearchedLevel {
        /// The lowest one.
        #[serde(rename = "from_m")]
        from: Metres,
        /// The highest one.
        #[serde(rename = "to_m")]
        to: Metres,
        /// The least difference.
        #[serde(rename = "least_m")]
        least: Metres,
    },
    /// Much of what was found lies at elevations that too few outings searched: the effect of elevation cannot be
    /// separated from what those outings had in common.
    UnsearchedConfounded {
        /// Finds at elevations that too few outings searched.
        finds: usize,
        /// All finds.
        of: usize,
        /// The outings that searched there.
        outings: usize,
        /// The fewest outings for an elevation.
        least: usize,
        /// The lowest elevation that enough outings searched.
        #[serde(rename = "from_m")]
        from: Metres,
        /// The highest one.
        #[serde(rename = "to_m")]
        to: Metres,
    },
    /// Elevation does not predict the finds of outings, or of ground, that were left out.
    UnsearchedNotPredictive {
        /// Whether it predicts outings that were left out better than the season alone.
        outings_better: bool,
        /// Whether it predicts ground that was left out better.
        ground_better: bool,
    },
    /// No elevation has a rate whose interval is above that of the searched ground.
    UnsearchedNoneRicher {
        /// The lowest elevation that was compared.
        #[serde(rename = "from_m")]
        from: Metres,
        /// The highest one.
        #[serde(rename = "to_m")]
        to: Metres,
    },
    /// No unsearched area at such elevations is within reach.
    UnsearchedNoArea {
        /// Areas of such elevations within the distance.
        richer: usize,
        /// Of them, areas that were searched or lie beside searched ground.
        searched: usize,
        /// Of the others, areas far from known paths.
        far_from_paths: usize,
        /// Of the others, areas on steep ground or on water.
        unsuitable: usize,
    },
}
