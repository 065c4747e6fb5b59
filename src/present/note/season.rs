//! Words the findings about a season. Layer: `present`.

use std::fmt;

use crate::analyse::season::{day_words, p_words};
use crate::model::{EffortNote, NoSeason, SeasonNote, ShiftNote, YearsWeatherNote};
use crate::present::summary::words::counted;

impl fmt::Display for SeasonNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&match *self {
            Self::PeakAtEnd { highest, first_searched, last_searched, earlier, later } => {
                at_end(highest, (first_searched, last_searched), (earlier, later))
            }
            Self::NoClearPeak { p, differs: true } => format!(
                "no clear peak in these data: the rate differs between dates ({}), but not as one smooth \
                 season; the interval of the peak is the whole searched period",
                p_words(p)
            ),
            Self::NoClearPeak { p, differs: false } => format!(
                "no clear peak in these data ({}): the interval of the peak is the whole searched period, and \
                 median and deciles show when people searched, not when it fruits",
                p_words(p)
            ),
            Self::DaysNotSearched { days } => format!(
                "{days} of 365 days of the year were not searched within ten days: there the season is not \
                 known, and peak, median and deciles exclude them"
            ),
            Self::WithoutSearchedTrack { finds, outings } => format!(
                "{} of {} without a searched track count as dates but not in the rate",
                counted(finds as usize, "find", "finds"),
                counted(outings, "outing", "outings")
            ),
        })
    }
}

fn at_end(highest: bool, (first, last): (f64, f64), (earlier, later): (bool, bool)) -> String {
    let what = if highest { "the rate is highest" } else { "the interval of the peak ends" };
    let (side, beyond) = match (earlier, later) {
        (true, true) => {
            (format!("{} and {}", day_words(first), day_words(last)), "earlier or later")
        }
        (true, false) => (day_words(first), "earlier"),
        (false, _) => (day_words(last), "later"),
    };
    format!(
        "{what} at an end of the searched period, {side}: the true peak may be {beyond}, when nobody searched; \
         median and deciles are those of the searched period only"
    )
}

impl fmt::Display for ShiftNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::ShiftTooLittle { finds, least_finds, spread, least_spread } => write!(
                f,
                "a shift by elevation cannot be determined: {} at a known elevation (needs {least_finds}), \
                 searched ground spreads by {:.0} m (needs {})",
                counted(finds as usize, "find", "finds"),
                // rounded down, so that a value below the limit does not look sufficient
                spread.0.floor(),
                least_spread.0
            ),
            Self::ShiftNotConverged => {
                f.write_str("a shift cannot be determined: the model does not converge")
            }
            Self::ShiftOpen { low, high } => write!(
                f,
                "a shift for each 100 m higher cannot be determined: every one from {low:+.1} to {high:+.1} days \
                 is possible"
            ),
            Self::ShiftEstimated { days, low95, high95 } => {
                let verdict = match (low95 > 0.0, high95 < 0.0) {
                    (true, _) => "later",
                    (_, true) => "earlier",
                    _ => "no clear shift",
                };
                write!(
                    f,
                    "for each 100 m higher {days:+.1} days (95 %: {low95:+.1} to {high95:+.1}): {verdict}"
                )
            }
        }
    }
}

impl fmt::Display for NoSeason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoSearchTime => f.write_str("no outing with a find has a track with search time"),
            Self::FewOutings { finds, outings, least } => write!(
                f,
                "{} on {}: a season needs finds on at least {least} outings and is imprecise below twenty",
                counted(*finds as usize, "find", "finds"),
                counted(*outings, "outing", "outings")
            ),
        }
    }
}

impl fmt::Display for EffortNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::FindsByDate { finds, outings } => write!(
                f,
                "{} of {} without a track count with the track of the same date and collector.",
                counted(finds, "find", "finds"),
                counted(outings, "outing", "outings")
            ),
            Self::DaysLeftOut { days, finds } => write!(
                f,
                "{} left out of rates: {} of them cannot be counted with their effort.",
                counted(days, "day is", "days are"),
                counted(finds, "find", "finds")
            ),
            Self::SameWalk { tracks, first, last } => {
                write!(
                    f,
                    "{} a walk that another track of the same time and place shows as well ({first}",
                    counted(tracks, "track shows", "tracks show"),
                )?;
                if last != first {
                    write!(f, " to {last}")?;
                }
                f.write_str("): its time counts once.")
            }
            Self::WalkedTogether { outings, units } => write!(
                f,
                "{} of people who walked together count as {units}: their hours are added up, and intervals and \
                 tests take them as one.",
                counted(outings, "outing", "outings")
            ),
            Self::OtherHemisphere { outings, finds, southern } => write!(
                f,
                "{} with {} in the {} hemisphere {} not included: seasons of two hemispheres are half a year apart.",
                counted(outings, "outing", "outings"),
                counted(finds, "find", "finds"),
                if southern { "southern" } else { "northern" },
                if outings == 1 { "is" } else { "are" }
            ),
            Self::StylesDiffer { searching, walking, fast } => write!(
                f,
                "{}: an hour of search is assumed to count the same in each; kilometres and hectares compare only \
                 outings of one style, and years of different styles are not called rich or poor.",
                styles([(searching, "slow search"), (walking, "walking"), (fast, "walking fast")])
            ),
        }
    }
}

impl fmt::Display for YearsWeatherNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::YearsWeatherUsed => f.write_str("weather is allowed for"),
            Self::YearsWeatherNone => f.write_str(
                "weather is not used: no station of the store is near enough; add one with `trug weather add FILE...`",
            ),
            Self::YearsWeatherTooLittle { with_find, least, without_rain, without_temperature } => {
                write!(
                    f,
                    "weather is not used: {} with a find and with both rain and temperature of the 60 days before \
                     ({least} are needed); of the searched outings {without_rain} lack rain, {without_temperature} \
                     temperature",
                    counted(with_find, "outing", "outings")
                )
            }
            Self::YearsWeatherTooFewYears { years, weather_years } => write!(
                f,
                "weather is not used: whether it matters cannot be determined from {} of outings and {} of weather",
                counted(years, "year", "years"),
                counted(weather_years, "year", "years")
            ),
            Self::YearsWeatherAddsNothing => f.write_str(
                "weather is not used: it adds nothing to the season that these data can show",
            ),
            Self::YearsWeatherNotPredictive => f.write_str(
                "weather is not used: it belongs to the finds of these years but does not predict a year left out better",
            ),
            Self::YearsWeatherFewSeasons { seasons, least } => write!(
                f,
                "weather is not used: a change by decade needs {least} seasons, and there are {seasons}"
            ),
        }
    }
}

/// `20 outings are mostly slow search, 30 are mostly walking fast`.
fn styles(outings: [(usize, &str); 3]) -> String {
    let some = outings.into_iter().filter(|(count, _)| *count > 0);
    let one = |(place, (count, style)): (usize, (usize, &str))| match place {
        0 => format!("{} mostly {style}", counted(count, "outing is", "outings are")),
        _ => format!("{count} {} mostly {style}", if count == 1 { "is" } else { "are" }),
    };
    some.enumerate().map(one).collect::<Vec<_>>().join(", ")
}
