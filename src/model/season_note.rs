//! Findings about the season of a taxon: quantities and a code each; sentences are made in `present`. Layer:
//! `model`.

use jiff::civil::Date;
use serde::Serialize;

use crate::units::Metres;

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

/// The shift of a season with elevation, or why it cannot be determined.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum ShiftNote {
    /// Finds at a known elevation are too few, or the searched ground is too level.
    ShiftTooLittle {
        /// The finds at a known elevation.
        finds: u32,
        /// The fewest finds.
        least_finds: u32,
        /// The standard deviation of the searched elevations.
        #[serde(rename = "spread_m")]
        spread: Metres,
        /// The smallest one.
        #[serde(rename = "least_spread_m")]
        least_spread: Metres,
    },
    /// The model of a shift does not converge.
    ShiftNotConverged,
    /// The data exclude no shift that was tried, on one side or both.
    ShiftOpen {
        /// The lowest shift that is possible, days for each 100 m.
        low: f64,
        /// The highest.
        high: f64,
    },
    /// The shift is estimated.
    ShiftEstimated {
        /// Days later for each 100 m.
        days: f64,
        /// The lower end of its 95 % interval.
        low95: f64,
        /// The upper end.
        high95: f64,
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

/// How the finds and the effort of a store are brought together for rates.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum EffortNote {
    /// Finds of outings without a track count with the track of the same date.
    FindsByDate {
        /// The finds.
        finds: usize,
        /// The outings without a track.
        outings: usize,
    },
    /// Days are left out of rates, since finds of them cannot be counted with their effort.
    DaysLeftOut {
        /// The days.
        days: usize,
        /// The finds that cannot be counted.
        finds: usize,
    },
    /// Tracks show a walk that another track shows as well: its time counts once.
    SameWalk {
        /// The tracks whose time counts already.
        tracks: usize,
        /// The first of their dates.
        first: Date,
        /// The last of their dates.
        last: Date,
    },
    /// Outings of people who walked together count as one unit.
    WalkedTogether {
        /// The outings that were together with others.
        outings: usize,
        /// The units that they make.
        units: usize,
    },
    /// Outings of the hemisphere with fewer outings are not analysed together with the others.
    OtherHemisphere {
        /// The outings that are left out.
        outings: usize,
        /// Their finds.
        finds: usize,
        /// Whether they are in the southern hemisphere.
        southern: bool,
    },
    /// Outings were walked in styles between which an hour of search is assumed to count the same.
    StylesDiffer {
        /// Outings mostly searching slowly.
        searching: usize,
        /// Outings mostly walking.
        walking: usize,
        /// Outings mostly walking fast.
        fast: usize,
    },
}

/// Whether the weather before each outing is allowed for in the comparison of years, or why not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum YearsWeatherNote {
    /// It is: the change by decade is stated with it as well.
    YearsWeatherUsed,
    /// No station of the store is near enough to the outings.
    YearsWeatherNone,
    /// Too few outings with a find have weather.
    YearsWeatherTooLittle {
        /// Outings with a find and with weather.
        with_find: usize,
        /// The fewest.
        least: usize,
        /// Searched outings without rain of the days before.
        without_rain: usize,
        /// Searched outings without temperatures of the days before.
        without_temperature: usize,
    },
    /// Too few years for the test of the effect.
    YearsWeatherTooFewYears {
        /// Years of outings.
        years: usize,
        /// Years of weather.
        weather_years: usize,
    },
    /// It adds nothing to the season that these data can show.
    YearsWeatherAddsNothing,
    /// It does not predict years left out better.
    YearsWeatherNotPredictive,
    /// It has earned its place, but there are too few seasons for a change by decade.
    YearsWeatherFewSeasons {
        /// The seasons.
        seasons: usize,
        /// The fewest.
        least: usize,
    },
}
