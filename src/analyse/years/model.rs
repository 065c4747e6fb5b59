//! Fits the model of years and reads the years off it. Layer: `analyse`.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use super::curve::{Days, Deviation, Marks, Scale, median, terms};
use super::{
    Amount, Difference, LEAST_FINDS, LEAST_FOR_TREND, LEAST_YEARS, TooFew, Trend, YearLine, YearsOf,
};
use crate::analyse::penalised::{Fit, Observation, Penalty, Problem};
use crate::analyse::season::rate::{self, KNOTS, Tally, basis};
use crate::analyse::season::{
    DayEstimate, Stint, along, beginning, is_clear, phase, searched, season_year,
};
use crate::analyse::statistics::{Rng, normal_below, quantile, student_beyond, student_quantile};

/// Draws for intervals.
const DRAWS: usize = 400;
/// Level, slope and curvature.
const TERMS: usize = 3;

/// What the weather of each outing did to the logarithm of its rate, by the number of the outing; outings
/// that are not in it have no weather.
pub type Adjust = BTreeMap<usize, f64>;

/// An outing.
struct Outing {
    date: Date,
    hours: f64,
    finds: u32,
    year: usize,
    weather: f64,
}

/// The outings of a taxon by season.
struct Cases {
    list: Vec<Outing>,
    years: Vec<i32>,
    cut: f64,
}

/// Compares the years of a taxon.
///
/// Needs at least 20 finds in three seasons with a find; a change by decade needs five seasons (project choices).
///
/// # Errors
/// When there are too few finds or seasons.
pub fn compare(taxon: &str, stints: &[Stint], weather: Option<&Adjust>) -> Result<YearsOf, TooFew> {
    let cut = beginning(stints);
    let cases = Cases::of(stints, cut, weather);
    let none = cases.enough()?;
    let days = Days::new(&searched(stints), cut);
    let (tallies, scatter) = (cases.tallies(), rate::scatter(&cases.tallies()));
    let start = rate::fit(&tallies, scatter).ok_or(none)?;
    let clear_season = is_clear(&tallies, &start, scatter);
    let days = days.scaled(&start.coefficients);
    let fit = cases.problem(days.scale(), false).fit().ok_or(none)?;
    let drawn = fit.drawn(DRAWS, &mut Rng::new(0x0ea2_5000));
    let model = Model { cases: &cases, days: &days, fit: &fit, drawn: &drawn };
    let with_weather = weather.and_then(|_| {
        let fit = cases.problem(days.scale(), true).fit()?;
        let drawn = fit.drawn(DRAWS, &mut Rng::new(0x0ea2_5001));
        let model = Model { cases: &cases, days: &days, fit: &fit, drawn: &drawn };
        Some((model.shift_trend()?, model.amount_trend()?))
    });
    let of = YearsOf { clear_season, ..model.read(taxon, with_weather) };
    Ok(if clear_season { of } else { YearsOf { onset: None, peak: None, end: None, ..of } })
}

impl Cases {
    fn of(stints: &[Stint], cut: f64, weather: Option<&Adjust>) -> Self {
        let mut outings: BTreeMap<usize, (Date, f64, u32)> = BTreeMap::new();
        // a find without an elevation has a stint of its own, without hours
        for stint in stints {
            let outing = outings.entry(stint.outing).or_insert((stint.date, 0.0, 0));
            outing.1 += if stint.hours.is_finite() { stint.hours.max(0.0) } else { 0.0 };
            outing.2 += stint.finds;
        }
        outings.retain(|_, (_, hours, _)| *hours > 0.0);
        let mut years: Vec<i32> =
            outings.values().map(|(date, ..)| season_year(*date, cut)).collect();
        years.sort_unstable();
        years.dedup();
        let list = outings
            .into_iter()
            .map(|(outing, (date, hours, finds))| Outing {
                date,
                hours,
                finds,
                year: years.binary_search(&season_year(date, cut)).unwrap_or(0),
                weather: weather.and_then(|of| of.get(&outing)).copied().unwrap_or(0.0),
            })
            .collect();
        Self { list, years, cut }
    }

    /// Whether there is enough to compare; what there is, if so.
    fn enough(&self) -> Result<TooFew, TooFew> {
        let found = || self.list.iter().filter(|outing| outing.finds > 0);
        let finds = found().map(|outing| outing.finds).sum();
        let years: BTreeSet<usize> = found().map(|outing| outing.year).collect();
        let of = TooFew { finds, years: years.len() };
        if finds >= LEAST_FINDS && years.len() >= LEAST_YEARS { Ok(of) } else { Err(of) }
    }

    fn tallies(&self) -> Vec<Tally> {
        let tally = |outing: &Outing| Tally {
            phase: phase(outing.date),
            hours: outing.hours,
            finds: f64::from(outing.finds),
            times: 1.0,
        };
        self.list.iter().map(tally).collect()
    }

    /// Decades from the middle of the years.
    fn decades(&self, year: usize) -> f64 {
        let mean = self.years.iter().map(|year| f64::from(*year)).sum::<f64>()
            / self.years.len().max(1) as f64;
        (f64::from(self.years[year]) - mean) / 10.0
    }

    /// The first column of a term of the years.
    fn first(&self, term: usize) -> usize {
        KNOTS + term * self.years.len()
    }

    /// Whether there are years enough for a change by decade.
    fn has_trend(&self) -> bool {
        self.years.len() >= LEAST_FOR_TREND
    }

    /// The column of the trend of the level; that of the slope follows.
    fn trend(&self) -> usize {
        self.first(TERMS)
    }

    /// The design: the cyclic season, then level, slope and curvature of each year with a ridge each, then the trends
    /// of level and slope without a penalty. Effort, and the effect of weather where it is used, are offsets.
    fn problem(&self, scale: Scale, weather: bool) -> Problem {
        let observations = self
            .list
            .iter()
            .map(|outing| {
                let phase = phase(outing.date);
                let mut row: Vec<(usize, f64)> = basis(phase, KNOTS).to_vec();
                let terms = terms(scale.place(phase));
                for (term, value) in terms.iter().enumerate() {
                    row.push((self.first(term) + outing.year, *value));
                }
                if self.has_trend() {
                    let decades = self.decades(outing.year);
                    row.push((self.trend(), decades));
                    row.push((self.trend() + 1, decades * terms[1]));
                }
                let offset = outing.hours.ln() + if weather { outing.weather } else { 0.0 };
                Observation { row, offset, count: f64::from(outing.finds) }
            })
            .collect();
        let mut penalties = vec![Penalty::bends(0, KNOTS, true)];
        let ridge = |term| Penalty::ridge(self.first(term), self.years.len()).kept();
        penalties.extend((0..TERMS).map(ridge));
        let columns = self.trend() + if self.has_trend() { 2 } else { 0 };
        Problem { observations, columns, penalties }
    }
}

/// A fitted model with draws of its coefficients.
struct Model<'a> {
    cases: &'a Cases,
    days: &'a Days,
    fit: &'a Fit,
    drawn: &'a [Vec<f64>],
}

impl Model<'_> {
    /// The deviation of a year.
    fn deviation(&self, beta: &[f64], year: usize) -> Deviation {
        let of = |term: usize| beta[self.cases.first(term) + year];
        let (level, slope, bend) = (of(0), of(1), of(2));
        if !self.cases.has_trend() {
            return Deviation { level, slope, bend };
        }
        let (decades, trend) = (self.cases.decades(year), self.cases.trend());
        Deviation {
            level: level + decades * beta[trend],
            slope: slope + decades * beta[trend + 1],
            bend,
        }
    }

    /// The median of the deviations of all years: that of the typical year.
    fn shared(&self, beta: &[f64]) -> Deviation {
        let years = || (0..self.cases.years.len()).map(|year| self.deviation(beta, year));
        Deviation {
            level: median(years().map(|own| own.level)),
            slope: median(years().map(|own| own.slope)),
            bend: median(years().map(|own| own.bend)),
        }
    }

    /// The marks of all years under these coefficients, and those of the typical year.
    fn all(&self, beta: &[f64]) -> (Vec<Marks>, Marks) {
        let years: Vec<Marks> =
            (0..self.cases.years.len()).map(|year| self.of_year(beta, year)).collect();
        let typical = Marks::typical(&years, self.days.marks(beta, self.shared(beta)));
        (years, typical)
    }

    fn of_year(&self, beta: &[f64], year: usize) -> Marks {
        self.days.marks(beta, self.deviation(beta, year))
    }

    fn day(&self, best: f64, drawn: &[Marks], pick: impl Fn(&Marks) -> f64) -> DayEstimate {
        let (low, high) = interval(drawn.iter().map(pick), best);
        along(self.cases.cut, best, low, high)
    }

    /// Reads the years off the fitted coefficients and, for intervals, off each draw.
    fn read(&self, taxon: &str, with_weather: Option<(Trend, Trend)>) -> YearsOf {
        let (best_years, best) = self.all(&self.fit.beta);
        let drawn: Vec<(Vec<Marks>, Marks)> =
            self.drawn.iter().map(|beta| self.all(beta)).collect();
        let typical: Vec<Marks> = drawn.iter().map(|(_, typical)| *typical).collect();
        let slopes = (1.0 / self.fit.lambda[2]).sqrt();
        YearsOf {
            taxon: taxon.to_owned(),
            clear_season: true,
            finds: self.cases.list.iter().map(|outing| outing.finds).sum(),
            outings: self.cases.list.len(),
            begins: crate::analyse::season::day_of_year(self.cases.cut),
            onset: Some(self.day(best.onset, &typical, |marks| marks.onset)),
            peak: self.peak(best, &typical),
            end: Some(self.day(best.end, &typical, |marks| marks.end)),
            years: (0..self.cases.years.len())
                .map(|year| {
                    let own: Vec<Marks> = drawn.iter().map(|(years, _)| years[year]).collect();
                    self.line(year, (best_years[year], &own), (best, &typical))
                })
                .collect(),
            shift_between_years: slopes * self.days_for_slope(),
            shift_about_trend: self.cases.has_trend(),
            amount_between_years: spread(best_years.iter().map(|own| own.total.ln())),
            shift: self.shift_trend(),
            amount: self.amount_trend(),
            with_weather,
            weather: None,
        }
    }

    /// How many days later the median lies for a slope of 1, near 0.
    fn days_for_slope(&self) -> f64 {
        let shared = self.shared(&self.fit.beta);
        let with = |more: f64| Deviation { slope: shared.slope + more, ..shared };
        let at = |more| self.days.marks(&self.fit.beta, with(more)).median;
        (at(0.1) - at(-0.1)) / 0.2
    }

    /// The peak; none where the rate is highest at the edge of the season that is compared, or where it may
    /// be on any day of it.
    fn peak(&self, best: Marks, drawn: &[Marks]) -> Option<DayEstimate> {
        let (low, high) = interval(drawn.iter().map(|marks| marks.peak), best.peak);
        (!best.at_edge && !self.days.is_all(low, high))
            .then(|| along(self.cases.cut, best.peak, low, high))
    }

    /// One year beside the typical one. Differences are taken within each draw, so that what all years share cancels.
    fn line(
        &self,
        year: usize,
        (best, drawn): (Marks, &[Marks]),
        (typical, typical_drawn): (Marks, &[Marks]),
    ) -> YearLine {
        let pairs = || drawn.iter().zip(typical_drawn);
        let shifts = pairs().map(|(own, all)| own.median - all.median);
        let levels: Vec<f64> = pairs().map(|(own, all)| (own.total / all.total).ln()).collect();
        let level = (best.total / typical.total).ln();
        let (low, high) = interval(levels.iter().copied(), level);
        let own = || self.cases.list.iter().filter(|outing| outing.year == year);
        let dates = || own().map(|outing| outing.date);
        let from = dates().min().unwrap_or_default();
        let until = dates().max().unwrap_or_default();
        let placed = |date: Date| (phase(date) - self.cases.cut).rem_euclid(1.0) * 365.0;
        YearLine {
            year: self.calendar_year(year, typical.onset),
            until_year: self.calendar_year(year, typical.end),
            outings: own().count(),
            hours: own().map(|outing| outing.hours).sum(),
            finds: own().map(|outing| outing.finds).sum(),
            searched_from: from,
            searched_until: until,
            onset: self.day(best.onset, drawn, |marks| marks.onset),
            onset_unsearched: best.onset < placed(from),
            peak: self.peak(best, drawn),
            peak_unsearched: !(placed(from)..=placed(until)).contains(&best.peak),
            end: self.day(best.end, drawn, |marks| marks.end),
            end_unsearched: best.end > placed(until),
            amount: Amount { factor: level.exp(), low95: low.exp(), high95: high.exp() },
            shift: difference(best.median - typical.median, shifts),
            level: difference(level, levels.into_iter()),
            named: Vec::new(),
        }
    }

    /// The calendar year of a day of a season, in days from its beginning.
    fn calendar_year(&self, year: usize, along: f64) -> i32 {
        // a season that begins in the second half of a year is named by the next
        let first = self.cases.years[year] - i32::from(self.cases.cut >= 0.5);
        first + i32::from(self.cases.cut + along / 365.0 >= 1.0)
    }

    /// Degrees of freedom of a trend: years less two.
    fn freedom(&self) -> f64 {
        (self.cases.years.len() as f64 - 2.0).max(1.0)
    }

    fn shift_trend(&self) -> Option<Trend> {
        if !self.cases.has_trend() {
            return None;
        }
        let trend = self.cases.trend() + 1;
        let of = |beta: &[f64]| {
            let shared = self.shared(beta);
            let half = |side: f64| {
                let slope = shared.slope + side * 0.5 * beta[trend];
                self.days.marks(beta, Deviation { slope, ..shared }).median
            };
            half(1.0) - half(-1.0)
        };
        let error = spread(self.drawn.iter().map(|beta| of(beta)));
        Some(self.trend(of(&self.fit.beta), error))
    }

    /// The factor on the amount, from the line through the logarithms of the amounts of the years. The level of the
    /// model is no amount where dates drift, since the slope changes the sum of the rate as well.
    ///
    /// Each draw is one possible set of amounts: the variance is that of the slope about its line in the mean of the
    /// draws, plus that of the slopes of the draws (Rubin 1987).
    fn amount_trend(&self) -> Option<Trend> {
        if !self.cases.has_trend() {
            return None;
        }
        let line = |beta: &[f64]| {
            self.line_through(
                (0..self.cases.years.len()).map(|year| self.of_year(beta, year).total.ln()),
            )
        };
        let drawn: Vec<(f64, f64)> = self.drawn.iter().map(|beta| line(beta)).collect();
        let count = drawn.len().max(1) as f64;
        let within = drawn.iter().map(|(_, variance)| variance).sum::<f64>() / count;
        let between = spread(drawn.iter().map(|(slope, _)| *slope)).powi(2) * (1.0 + 1.0 / count);
        let trend = self.trend(line(&self.fit.beta).0, (within + between).sqrt());
        let [by_decade, low95, high95] = [trend.by_decade, trend.low95, trend.high95].map(f64::exp);
        Some(Trend { by_decade, low95, high95, ..trend })
    }

    /// The slope by decade of the least-squares line through a value of each year, and its variance.
    fn line_through(&self, values: impl Iterator<Item = f64>) -> (f64, f64) {
        let values: Vec<f64> = values.collect();
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let decades = || (0..values.len()).map(|year| self.cases.decades(year));
        let width: f64 = decades().map(|at| at * at).sum();
        let slope =
            decades().zip(&values).map(|(at, value)| at * (value - mean)).sum::<f64>() / width;
        let away = |(at, value): (f64, &f64)| (value - mean - slope * at).powi(2);
        let squares: f64 = decades().zip(&values).map(away).sum();
        (slope, squares / self.freedom() / width)
    }

    fn trend(&self, value: f64, error: f64) -> Trend {
        let wide = student_quantile(self.freedom(), 0.975) * error;
        Trend {
            by_decade: value,
            low95: value - wide,
            high95: value + wide,
            p: student_beyond(value / error.max(1e-12), self.freedom()),
            q: None,
        }
    }
}

/// The middle 95 % of draws.
fn interval(drawn: impl Iterator<Item = f64>, best: f64) -> (f64, f64) {
    let mut sorted: Vec<f64> = drawn.collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let at = |share: f64| quantile(&sorted, share).unwrap_or(best);
    (at(0.025), at(0.975))
}

/// The standard deviation.
fn spread(values: impl Iterator<Item = f64>) -> f64 {
    let all: Vec<f64> = values.collect();
    let mean = all.iter().sum::<f64>() / all.len().max(1) as f64;
    let squares: f64 = all.iter().map(|value| (value - mean).powi(2)).sum();
    (squares / (all.len() as f64 - 1.0).max(1.0)).sqrt()
}

/// A difference with its p-value, from the spread of its draws.
fn difference(value: f64, drawn: impl Iterator<Item = f64>) -> Difference {
    let error = spread(drawn).max(1e-12);
    Difference { value, p: 2.0 * normal_below(-(value / error).abs()), q: None }
}
