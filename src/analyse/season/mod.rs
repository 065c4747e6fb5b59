//! Estimates the fruiting season of a taxon: dates with intervals, limits, the rate of finds per
//! hour searched through the year, shifts by elevation and by year. Refuses samples that are too
//! small. Layer: `analyse`.
//!
//! Finds of one outing are not independent of each other: intervals come from resampling outings.
//! Where the hours of search are unevenly spread over the year, dates of finds mislead; the rate
//! does not, so the peak and the median that are stated first are those of the rate.
//!
//! # Method
//! | step | module | method |
//! |---|---|---|
//! | rate through the year | `rate` | a cyclic smooth curve, log link, overdispersion between outings |
//! | is there a peak at all? | `evenness` | outings permuted over dates |
//! | intervals | `resample` | outings resampled 400 times |
//! | upper bound where nothing was found | `band` | profile likelihood |
//! | does the season reach beyond the search? | `edge` | rates at the ends of the searched period |
//! | onset and end | `limits` | the extreme dates of finds |
//! | shift with elevation | `shift` | profile likelihood |
//!
//! The curve is for equal effort on every day. Its quantiles say when half of what is there to be found is found,
//! not when half of the finds were made; those are in [`FindDates`].
//!
//! # Limits
//! Drought delays fruiting: the fitted interval is stated, never a fixed number of days. Finds of outings without a
//! searched track do not count in the rate. `docs/season.md` has the coverage on simulated seasons.
//!
//! # Examples
//! ```
//! use jiff::civil::date;
//! use trug::analyse::season::{Stint, estimate};
//!
//! // one walk of an hour every ten days over five years; finds from April to June
//! let mut stints = Vec::new();
//! for year in 2021..2026 {
//!     let mut day = date(year, 1, 5);
//!     while day.year() == year {
//!         let finds = match day.month() {
//!             5 => 4,
//!             4 | 6 => 1,
//!             _ => 0,
//!         };
//!         stints.push(Stint { outing: stints.len(), date: day, elevation: None, hours: 1.0, finds });
//!         day = day.checked_add(jiff::Span::new().days(10))?;
//!     }
//! }
//! let season = estimate(&stints).map_err(|little| format!("{little:?}"))?;
//! assert!(season.clear_peak);
//! // day 121 is the first of May, day 151 the last
//! assert!((121.0..152.0).contains(&season.peak.day), "{:?}", season.peak);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod band;
#[doc(hidden)]
pub mod circular;
mod dates;
mod edge;
mod evenness;
pub(crate) mod limits;
pub(crate) mod matrix;
#[doc(hidden)]
pub mod rate;
mod resample;
mod shift;

use jiff::civil::Date;
use serde::Serialize;

use crate::model::{NoSeason, SeasonNote};

pub use dates::{MONTHS, day_of_year, day_words, phase};
pub(in crate::analyse) use dates::{along, season_year};
pub use edge::Edges;
pub use shift::Shift;

use circular::Circular;
use limits::Limit;
use rate::{Curve, Tally};

/// What a rate refers to.
///
/// Hours where the time searched is known; kilometres or hectares for comparison with counts made that way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Per {
    /// An hour searched.
    #[default]
    Hour,
    /// A kilometre searched.
    Km,
    /// A hectare searched.
    Hectare,
}

/// Search and finds of one outing, as a whole or within one band of elevation.
///
/// Outings without a find matter as much as those with one: without them there is no rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stint {
    /// Which outing: stints with the same number are resampled together.
    pub outing: usize,
    /// Its local date.
    pub date: Date,
    /// The elevation searched, metres.
    pub elevation: Option<f64>,
    /// Hours searched, or another measure of effort in proportion to the finds to be expected; 0
    /// where there is no track.
    pub hours: f64,
    /// Finds of the taxon.
    pub finds: u32,
}

/// A day of the year with its 95 % interval: 1 to 365, in leap years 29 February to 31 December
/// reported a day earlier. An interval across New Year has its low end above its high end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DayEstimate {
    /// The estimate.
    pub day: f64,
    /// The lower end.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
}

/// The rate on one day of the year.
///
/// Where `searched` is false the curve runs on by its smoothness alone and has no interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DayRate {
    /// Day of the year.
    pub day: u16,
    /// Finds per hour searched.
    pub rate: f64,
    /// Lower end of its 95 % interval; none where nobody searched.
    pub low95: Option<f64>,
    /// Upper end.
    pub high95: Option<f64>,
    /// Whether it lies between outings of any year that are no more than three weeks apart; otherwise the
    /// curve is an extrapolation.
    pub searched: bool,
}

/// One week of the year, all years together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Week {
    /// Day of the year on which it begins: 1, 8, 15…
    pub day: u16,
    /// Finds.
    pub finds: u32,
    /// Hours searched.
    pub hours: f64,
    /// Outings.
    pub outings: usize,
}

/// One season, week by week.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SeasonWeeks {
    /// The calendar year in which it begins, at [`Season::begins`].
    pub from: i32,
    /// Finds and hours by week of the year.
    pub weeks: Vec<Week>,
}

/// Dates of the finds, not corrected for effort.
///
/// They show the season as far as somebody was out. Where the search was seasonal they describe the search.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FindDates {
    /// The first date in the season.
    pub first: DayEstimate,
    /// A tenth of the finds were earlier.
    pub tenth: DayEstimate,
    /// Half of them.
    pub median: DayEstimate,
    /// Nine tenths of them.
    pub ninetieth: DayEstimate,
    /// The last.
    pub last: DayEstimate,
}

/// The season of a taxon.
///
/// Read `remarks` and `edges` first: they say whether the peak may lie outside of what was searched, and whether
/// there is one at all.
#[derive(Clone, Debug, Serialize)]
pub struct Season {
    /// Outings, with or without a find.
    pub outings: usize,
    /// Outings that found it.
    pub outings_with_find: usize,
    /// Finds.
    pub finds: u32,
    /// What the rate refers to.
    pub per: Per,
    /// Hours searched in all, or kilometres.
    pub searched_hours: f64,
    /// Seasons in which anybody searched.
    pub years: usize,
    /// The day of the year in the middle of the longest period without a find: the origin of a
    /// chart.
    pub begins: f64,
    /// When the rate is highest. Without a clear peak the interval is the whole searched period.
    pub peak: DayEstimate,
    /// Whether the rate changes significantly within the searched period.
    pub clear_peak: bool,
    /// The p-value of that test, by permuting outings over dates.
    pub p_value: f64,
    /// The 10 % quantile of the rate curve, for equal effort on every day.
    pub tenth: DayEstimate,
    /// The median.
    pub median: DayEstimate,
    /// The 90 % quantile.
    pub ninetieth: DayEstimate,
    /// The estimated beginning, from the earliest dates; none where it would lie before the search.
    pub onset: Option<DayEstimate>,
    /// The estimated end, from the latest dates; none where it would lie after the search.
    pub end: Option<DayEstimate>,
    /// Where the searched period ends before the season.
    pub edges: Edges,
    /// The dates of the finds themselves.
    pub find_dates: FindDates,
    /// Circular mean of the dates of finds; its mean is a share of the year.
    pub circular: Option<Circular>,
    /// The overdispersion of counts relative to Poisson.
    pub dispersion: f64,
    /// The coefficient of variation of the rate between outings at the same time of the year
    /// (overdispersion from weather, year and other causes).
    pub overdispersion: f64,
    /// The rate on each day of the year.
    pub curve: Vec<DayRate>,
    /// Finds and hours by week.
    pub weeks: Vec<Week>,
    /// The same for each season with an outing, the earliest first.
    pub each_season: Vec<SeasonWeeks>,
    /// Days later with each 100 m of elevation.
    pub by_elevation: Shift,
    /// Notes on the result.
    pub remarks: Vec<SeasonNote>,
}

/// Why no season can be estimated.
///
/// A refusal with its reason; it is not an error, since more outings mend it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TooLittle {
    /// The available data.
    pub outings_with_find: usize,
    /// Finds in all.
    pub finds: u32,
    /// Outings with hours searched.
    pub searched_outings: usize,
    /// What is missing.
    pub why: NoSeason,
}

/// The fewest outings with a find for an interval (project choice).
///
/// With fewer, resampled outings vary too little for an interval.
pub const LEAST_OUTINGS: usize = 5;

/// The p-value above which no peak is reported (project choice).
const EVEN: f64 = 0.05;

/// Estimates the season from all stints of all outings, including those without a find.
///
/// The same stints always give the same result: resampling has a fixed seed. See the example of the
/// [module](crate::analyse::season).
///
/// # Errors
/// When fewer than [`LEAST_OUTINGS`] outings found the taxon, or search hours are unknown.
pub fn estimate(stints: &[Stint]) -> Result<Season, TooLittle> {
    estimate_per(stints, Per::Hour)
}

/// The same from stints whose effort is of another measure.
///
/// # Errors
/// As [`estimate`].
pub fn estimate_per(stints: &[Stint], per: Per) -> Result<Season, TooLittle> {
    let outings = Outings::of(stints);
    outings.enough()?;
    let each = outings.tallies(None);
    let scatter = rate::scatter(&each);
    let Some(curve) = rate::fit(&each, scatter) else {
        return Err(outings.too_little(NoSeason::NoSearchTime));
    };
    let cut = outings.cut();
    let searched = outings.searched_days();
    let between = edge::between_outings(&searched);
    let dispersion = rate::dispersion(&each, &curve);
    let drawn = resample::run(&outings, &curve, scatter, cut, &between);
    let marks = resample::Days::searched(&between, cut).marks(&curve.coefficients);
    let p_value = evenness::probability(&each, scatter);
    // a curve as flat as the penalty can make it has no peak, whatever the test says
    let clear_peak = p_value <= EVEN && curve.freedom >= 1.5;
    let mut edges = Edges::default();
    let peak = if clear_peak {
        edge::peak(&searched, drawn.peak(&marks), &curve, &mut edges)
    } else {
        anywhere(&between, &marks)
    };
    let days: Vec<f64> = outings.distinct_dates(cut);
    let limit = |limit: Limit| dates::along(cut, limit.at, limit.low95, limit.high95);
    let extreme =
        |along: Option<&f64>| along.map_or((0.0, 0.0), |a| (day_of_year(cut + a / 365.0), *a));
    let (from, until) =
        edge::searched_about(&searched, extreme(days.first()), extreme(days.last()));
    edges.searched(&searched, day_of_year(cut + from / 365.0), day_of_year(cut + until / 365.0));
    let onset = edge::onset(limits::onset(&days), from, &mut edges).map(limit);
    let end = edge::end(limits::end(&days), until, &mut edges).map(limit);
    let years = outings.season_years(cut);
    Ok(Season {
        outings: outings.list.len(),
        outings_with_find: outings.list.iter().filter(|outing| outing.finds > 0).count(),
        finds: outings.finds(),
        per,
        searched_hours: outings.list.iter().map(|outing| outing.hours).sum(),
        years: years.len(),
        begins: day_of_year(cut),
        peak,
        clear_peak,
        p_value,
        tenth: drawn.tenth(&marks, cut),
        median: drawn.median(&marks, cut),
        ninetieth: drawn.ninetieth(&marks, cut),
        onset,
        end,
        edges,
        find_dates: drawn.find_dates(&outings, cut),
        circular: circular::mean(&outings.find_phases()),
        dispersion,
        overdispersion: scatter.per_outing.sqrt(),
        curve: day_rates(&curve, &between, &band::upper(&each, &curve, scatter)),
        weeks: weeks(&outings.list),
        each_season: outings.each_season(cut),
        by_elevation: shift::by_elevation(stints, &curve, dispersion),
        remarks: remarks(
            &outings,
            &searched,
            (!clear_peak).then_some(p_value),
            edge::remark(&edges, peak),
        ),
    })
}

/// The start of the year of a taxon: the middle of the longest period without a find, a share of the year.
pub(in crate::analyse) fn beginning(stints: &[Stint]) -> f64 {
    Outings::of(stints).cut()
}

/// Whether the rate differs between dates as one smooth season.
pub(in crate::analyse) fn is_clear(each: &[Tally], curve: &Curve, scatter: rate::Scatter) -> bool {
    // a curve as flat as the penalty can make it has no peak, whatever the test says
    evenness::probability(each, scatter) <= EVEN && curve.freedom >= 1.5
}

/// The days of the year near which anybody searched in any year.
pub(in crate::analyse) fn searched(stints: &[Stint]) -> [bool; 365] {
    Outings::of(stints).searched_days()
}

/// `p = 0.31`, `p = 0.004`, `p < 0.001`.
#[must_use]
pub fn p_words(p: f64) -> String {
    if p < 0.001 {
        "p < 0.001".to_owned()
    } else if p < 0.01 {
        format!("p = {p:.3}")
    } else {
        format!("p = {p:.2}")
    }
}

fn day_rates(curve: &Curve, searched: &[bool; 365], upper: &[f64]) -> Vec<DayRate> {
    (1..=365_u16)
        .map(|day| {
            let phase = (f64::from(day) - 0.5) / 365.0;
            let (rate, error) = (curve.rate(phase), curve.log_error(phase));
            let index = usize::from(day) - 1;
            let searched = searched[index];
            // linear interpolation between days may lie slightly below a curve
            let high = (rate * (1.959_964 * error).exp()).min(upper[index].max(rate));
            DayRate {
                day,
                rate,
                low95: searched.then_some(rate * (-1.959_964 * error).exp()),
                high95: searched.then_some(high),
                searched,
            }
        })
        .collect()
}

/// The peak where none can be determined: anywhere in the searched time.
fn anywhere(searched: &[bool; 365], marks: &resample::Marks) -> DayEstimate {
    let gap = (0..365_usize)
        .map(|start| (start, (0..365).take_while(|on| !searched[(start + on) % 365]).count()))
        .max_by_key(|(start, length)| (*length, std::cmp::Reverse(*start)));
    let day = day_of_year(marks.peak());
    let (low95, high95) = match gap {
        Some((start, length)) if length > 0 => {
            (((start + length) % 365) as f64 + 1.0, ((start + 364) % 365) as f64 + 1.0)
        }
        _ => (day_of_year(marks.peak() - 0.5), day_of_year(marks.peak() + 0.498)),
    };
    DayEstimate { day, low95, high95 }
}

fn remarks(
    outings: &Outings,
    searched: &[bool; 365],
    even: Option<f64>,
    edge: Option<SeasonNote>,
) -> Vec<SeasonNote> {
    let mut remarks: Vec<SeasonNote> = edge.into_iter().collect();
    if let Some(probability) = even {
        remarks.push(SeasonNote::NoClearPeak { p: probability, differs: probability <= EVEN });
    }
    let blind = searched.iter().filter(|searched| !**searched).count();
    if blind > 0 {
        remarks.push(SeasonNote::DaysNotSearched { days: blind });
    }
    let untracked: Vec<&Outing> =
        outings.list.iter().filter(|outing| outing.finds > 0 && outing.hours <= 0.0).collect();
    if !untracked.is_empty() {
        let finds: u32 = untracked.iter().map(|outing| outing.finds).sum();
        remarks.push(SeasonNote::WithoutSearchedTrack { finds, outings: untracked.len() });
    }
    remarks
}

/// One outing, all its stints together.
#[derive(Clone, Copy, Debug)]
struct Outing {
    date: Date,
    phase: f64,
    hours: f64,
    finds: u32,
}

/// All outings.
struct Outings {
    list: Vec<Outing>,
}

impl Outings {
    fn of(stints: &[Stint]) -> Self {
        use std::collections::BTreeMap;
        let mut list: BTreeMap<usize, Outing> = BTreeMap::new();
        for stint in stints {
            let outing = list.entry(stint.outing).or_insert(Outing {
                date: stint.date,
                phase: phase(stint.date),
                hours: 0.0,
                finds: 0,
            });
            outing.hours += if stint.hours.is_finite() { stint.hours.max(0.0) } else { 0.0 };
            outing.finds += stint.finds;
        }
        Self { list: list.into_values().collect() }
    }

    fn finds(&self) -> u32 {
        self.list.iter().map(|outing| outing.finds).sum()
    }

    fn too_little(&self, why: NoSeason) -> TooLittle {
        TooLittle {
            outings_with_find: self.list.iter().filter(|outing| outing.finds > 0).count(),
            finds: self.finds(),
            searched_outings: self.list.iter().filter(|outing| outing.hours > 0.0).count(),
            why,
        }
    }

    fn enough(&self) -> Result<(), TooLittle> {
        let with_find = self.list.iter().filter(|outing| outing.finds > 0).count();
        if with_find >= LEAST_OUTINGS {
            return Ok(());
        }
        let (finds, least) = (self.finds(), LEAST_OUTINGS);
        Err(self.too_little(NoSeason::FewOutings { finds, outings: with_find, least }))
    }

    /// One tally for each outing, counted as often as `weights` says.
    fn tallies(&self, weights: Option<&[u32]>) -> Vec<Tally> {
        let times = |index: usize| weights.map_or(1.0, |weights| f64::from(weights[index]));
        self.list
            .iter()
            .enumerate()
            .map(|(index, outing)| Tally {
                phase: outing.phase,
                hours: outing.hours,
                finds: f64::from(outing.finds),
                times: times(index),
            })
            .filter(|tally| tally.times > 0.0 && tally.hours > 0.0)
            .collect()
    }

    fn find_phases(&self) -> Vec<f64> {
        self.list
            .iter()
            .flat_map(|outing| std::iter::repeat_n(outing.phase, outing.finds as usize))
            .collect()
    }

    /// The start of the year of this taxon: the middle of the longest period without a find.
    fn cut(&self) -> f64 {
        let mut phases: Vec<f64> =
            self.list.iter().filter(|o| o.finds > 0).map(|o| o.phase).collect();
        phases.sort_unstable_by(f64::total_cmp);
        let Some(last) = phases.last().copied() else { return 0.0 };
        let mut widest = (0.0, 0.0);
        let mut before = last - 1.0;
        for phase in phases {
            if phase - before > widest.0 {
                widest = (phase - before, f64::midpoint(before, phase));
            }
            before = phase;
        }
        widest.1.rem_euclid(1.0)
    }

    /// Different dates of finds, days from the cut, all years together.
    fn distinct_dates(&self, cut: f64) -> Vec<f64> {
        let mut days: Vec<f64> = self
            .list
            .iter()
            .filter(|outing| outing.finds > 0)
            .map(|outing| (outing.phase - cut).rem_euclid(1.0) * 365.0)
            .collect();
        days.sort_unstable_by(f64::total_cmp);
        days.dedup_by(|a, b| (*a - *b).abs() < 0.5);
        days
    }

    fn searched_days(&self) -> [bool; 365] {
        let near = i32::from(edge::NEAR);
        let mut searched = [false; 365];
        for outing in self.list.iter().filter(|outing| outing.hours > 0.0) {
            let day = i32::from(outing.date.day_of_year());
            for near in day - near..=day + near {
                let index = usize::try_from((near - 1).rem_euclid(365)).unwrap_or(0);
                searched[index] = true;
            }
        }
        searched
    }

    fn season_years(&self, cut: f64) -> std::collections::BTreeSet<i32> {
        self.list
            .iter()
            .filter(|outing| outing.hours > 0.0)
            .map(|outing| dates::season_year(outing.date, cut))
            .collect()
    }

    fn each_season(&self, cut: f64) -> Vec<SeasonWeeks> {
        let mut seasons: std::collections::BTreeMap<i32, Vec<Outing>> =
            std::collections::BTreeMap::new();
        for outing in self.list.iter().filter(|outing| outing.hours > 0.0 || outing.finds > 0) {
            seasons.entry(dates::season_start(outing.date, cut)).or_default().push(*outing);
        }
        seasons
            .into_iter()
            .map(|(from, outings)| SeasonWeeks { from, weeks: weeks(&outings) })
            .collect()
    }
}

fn weeks(outings: &[Outing]) -> Vec<Week> {
    let mut weeks: Vec<Week> =
        (0..53).map(|week| Week { day: week * 7 + 1, ..Week::default() }).collect();
    for outing in outings {
        let week = &mut weeks[usize::from(outing.date.day_of_year().unsigned_abs() - 1) / 7];
        week.finds += outing.finds;
        week.hours += outing.hours;
        week.outings += 1;
    }
    weeks
}

#[cfg(test)]
mod tests;
