//! Compares the seasons of a taxon from year to year: onset, peak, end and amount with intervals, and
//! their change by decade, with effort (and weather, where it has earned its place) allowed for. Layer:
//! `analyse`.
//!
//! # Method
//! The logarithm of finds per hour is the season of all years (as in [`crate::analyse::season`]) plus, for
//! each year, a level, a slope and a curvature over the season, each normal with a variance of its own,
//! plus a level and a slope in proportion to the year. For a bell-shaped season the slope is a shift, the
//! curvature a change of length. Variances are those of the highest restricted likelihood, kept from
//! vanishing ([`crate::analyse::penalised`]); a year with little search is drawn towards the others. Dates
//! are read off the curve of each year over the days of the season that anybody searched in any year: those
//! between which 99 % of the rate of all years lies, and 1.5 standard deviations of the season on either
//! side. The typical year has the median dates and the median amount of all years: their mean would move with one
//! year far from the others, and make the others poor or late. Intervals are those of 400 draws from the distribution of the coefficients.
//!
//! A year is called early, late, rich or poor where its difference from the typical year is significant at
//! a false discovery rate of 5 % over all taxa, years, dates and amounts of one table.
//!
//! # References
//! Laird & Ware 1982, Random-effects models for longitudinal data, Biometrics 38:963; Wood 2017,
//! Generalized Additive Models, 2nd ed., 7.7; Benjamini & Hochberg 1995, Controlling the false discovery
//! rate, JRSS B 57:289; Gelman, Hill & Yajima 2012, Why we (usually) don't have to worry about multiple
//! comparisons, Journal of Research on Educational Effectiveness 5:189 (partial pooling makes the
//! comparison of years conservative); Rubin 1987, Multiple Imputation for Nonresponse in Surveys, 3.1.

mod curve;
mod model;

use jiff::civil::Date;
use serde::Serialize;

use crate::model::YearsWeatherNote;

use super::season::DayEstimate;
use super::statistics::false_discovery;

pub use model::{Adjust, compare};

/// The fewest finds (project choice).
pub const LEAST_FINDS: u32 = 20;
/// The fewest seasons with a find (project choice).
pub const LEAST_YEARS: usize = 3;
/// The fewest seasons for a change by decade (project choice).
pub const LEAST_FOR_TREND: usize = 5;
/// The share of false discoveries among years that are named, and among trends.
pub const LEVEL: f64 = 0.05;

/// A factor with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Amount {
    /// Finds per hour over the season, over those of the typical year: the median of all years.
    pub factor: f64,
    /// The lower end.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
}

/// Beyond this ratio of its ends an interval of a factor says nothing (project choice).
const WIDEST: f64 = 100.0;

impl Amount {
    /// Whether the data determine it: its interval spans no more than a factor of 100 and holds it.
    #[must_use]
    pub fn is_determined(&self) -> bool {
        self.high95 <= WIDEST * self.low95 && (self.low95..=self.high95).contains(&self.factor)
    }
}

/// A difference from the typical year.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Difference {
    /// Days later, or the logarithm of the factor.
    pub value: f64,
    /// The p-value of none.
    pub p: f64,
    /// After Benjamini and Hochberg over the table.
    pub q: Option<f64>,
}

/// How a year stands out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Named {
    /// Its season is earlier.
    Early,
    /// Its season is later.
    Late,
    /// It yields more per hour.
    Rich,
    /// It yields less per hour.
    Poor,
}

/// One season.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct YearLine {
    /// The calendar year in which its onset lies in a typical year.
    pub year: i32,
    /// The calendar year in which its end does: another one where the season goes across New Year.
    pub until_year: i32,
    /// Outings with search.
    pub outings: usize,
    /// Hours searched.
    pub hours: f64,
    /// Finds.
    pub finds: u32,
    /// The first outing of it.
    pub searched_from: Date,
    /// The last outing of it.
    pub searched_until: Date,
    /// The day by which a tenth of its rate has passed.
    pub onset: DayEstimate,
    /// Whether nobody had searched by then in this year: the date rests on the other years.
    pub onset_unsearched: bool,
    /// The day of the highest rate; none where that is at the edge of the season that is compared, or may be
    /// any day of it.
    pub peak: Option<DayEstimate>,
    /// Whether that day is before the first or after the last outing of this year.
    pub peak_unsearched: bool,
    /// The day by which nine tenths have passed.
    pub end: DayEstimate,
    /// Whether nobody searched any more then in this year.
    pub end_unsearched: bool,
    /// The amount.
    pub amount: Amount,
    /// Days later than the typical year, by the median of the rate.
    pub shift: Difference,
    /// The logarithm of the amount.
    pub level: Difference,
    /// How it stands out.
    pub named: Vec<Named>,
}

/// A change by decade.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Trend {
    /// Days later, or the factor on the amount.
    pub by_decade: f64,
    /// The lower end of its 95 % interval.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
    /// The p-value of none.
    pub p: f64,
    /// After Benjamini and Hochberg over the table.
    pub q: Option<f64>,
}

/// The years of a taxon.
#[derive(Clone, Debug, Serialize)]
pub struct YearsOf {
    /// Its name.
    pub taxon: String,
    /// Finds.
    pub finds: u32,
    /// Outings with search.
    pub outings: usize,
    /// The start of its year, a day of the year.
    pub begins: f64,
    /// The typical year: dates are the median of those of all years; none without a clear season.
    pub onset: Option<DayEstimate>,
    /// Its peak; none also where the rate is highest at the edge of the season that is compared, or may be on any
    /// day of it.
    pub peak: Option<DayEstimate>,
    /// Its end.
    pub end: Option<DayEstimate>,
    /// Whether all years together have a season; else there are no typical dates, and no year is called early or late.
    pub clear_season: bool,
    /// The seasons.
    pub years: Vec<YearLine>,
    /// The standard deviation of shifts between years, days; about the trend where there is one.
    pub shift_between_years: f64,
    /// Whether a trend is taken out of it.
    pub shift_about_trend: bool,
    /// The standard deviation of the logarithm of the amounts of the years.
    pub amount_between_years: f64,
    /// Days later by decade; none with fewer than five seasons.
    pub shift: Option<Trend>,
    /// The factor on the amount by decade.
    pub amount: Option<Trend>,
    /// The same two with the weather allowed for, where it has earned its place.
    pub with_weather: Option<(Trend, Trend)>,
    /// Whether the weather is allowed for, or why not; none where it was not asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weather: Option<YearsWeatherNote>,
}

/// Why a taxon is not compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct TooFew {
    /// Finds on searched outings.
    pub finds: u32,
    /// Seasons with a find.
    pub years: usize,
}

/// The trends of a taxon, in a fixed order; those with weather only where there are some.
fn trends(of: &mut YearsOf) -> impl Iterator<Item = &mut Trend> {
    let (shift, amount) =
        of.with_weather.as_mut().map_or((None, None), |(a, b)| (Some(a), Some(b)));
    [of.shift.as_mut(), of.amount.as_mut(), shift, amount].into_iter().flatten()
}

/// The trends of a table, which are corrected together.
#[must_use]
pub fn trends_tested(all: &[YearsOf]) -> usize {
    let count = |of: &YearsOf| {
        usize::from(of.shift.is_some())
            + usize::from(of.amount.is_some())
            + of.with_weather.map_or(0, |_| 2)
    };
    all.iter().map(count).sum()
}

impl YearsOf {
    /// Calls no year rich or poor: years that were walked in other styles have hours that are only assumed to count
    /// alike.
    pub fn leave_amounts_unnamed(&mut self) {
        for year in &mut self.years {
            year.named.retain(|named| !matches!(named, Named::Rich | Named::Poor));
        }
    }
}

/// Names the years that stand out, over all taxa of a table together.
///
/// Run once over a whole table: with many taxa and years some would stand out by chance alone.
pub fn name_years(all: &mut [YearsOf]) {
    let p: Vec<Option<f64>> = all
        .iter()
        .flat_map(|of| {
            let clear = of.clear_season;
            let dates = move |year: &YearLine| clear.then_some(year.shift.p);
            let amounts = |year: &YearLine| year.amount.is_determined().then_some(year.level.p);
            of.years.iter().flat_map(move |year| [dates(year), amounts(year)])
        })
        .collect();
    let mut q = false_discovery(&p).into_iter();
    for year in all.iter_mut().flat_map(|of| &mut of.years) {
        year.shift.q = q.next().flatten();
        year.level.q = q.next().flatten();
        year.named = named(year);
    }
    let p: Vec<Option<f64>> = all.iter_mut().flat_map(trends).map(|trend| Some(trend.p)).collect();
    let mut q = false_discovery(&p).into_iter();
    for trend in all.iter_mut().flat_map(trends) {
        trend.q = q.next().flatten();
    }
}

fn named(year: &YearLine) -> Vec<Named> {
    let holds = |of: &Difference| of.q.is_some_and(|q| q <= LEVEL);
    let of = |difference: &Difference, below: Named, above: Named| {
        holds(difference).then_some(if difference.value < 0.0 { below } else { above })
    };
    [of(&year.shift, Named::Early, Named::Late), of(&year.level, Named::Poor, Named::Rich)]
        .into_iter()
        .flatten()
        .collect()
}

#[cfg(test)]
mod tests;
