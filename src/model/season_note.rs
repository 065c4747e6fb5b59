//! Findings about the season of a taxon: quantities and a code each; sentences are made in `present`. Layer:
//! `model`.

use serde::Serialize;

/// A note on an estimated season.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum SeasonNote {
    /// The peak lies at an end of the searched period, so that the true one may lie outside.
    PeakAtEnd {
        /// Whether the rate is highest there; otherwise the interval of the peak ends there.
        highest: bool,
        /// The first day that was searched, a day of the year.
        first_searched: f64,
        /// The last one.
        last_searched: f64,
        /// Whether the true peak may be earlier.
        earlier: bool,
        /// Whether it may be later.
        later: bool,
    },
    /// The data show no clear peak.
    NoClearPeak {
        /// The p-value of equal rates on all dates.
        p: f64,
        /// Whether the rates differ all the same.
        differs: bool,
    },
    /// Days of the year were not searched.
    DaysNotSearched {
        /// How many.
        days: usize,
    },
    /// Finds of outings without a searched track do not count in the rate.
    WithoutSearchedTrack {
        /// The finds.
        finds: u32,
        /// The outings.
        outings: usize,
    },
}

/// Why no season can be estimated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum NoSeason {
    /// No outing with a find has a track with search time.
    NoSearchTime,
    /// Too few outings have a find.
    FewOutings {
        /// The finds.
        finds: u32,
        /// The outings with a find.
        outings: usize,
        /// The fewest outings.
        least: usize,
    },
}
