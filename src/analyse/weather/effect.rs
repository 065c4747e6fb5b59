//! Estimates what rain and warmth before an outing do to the rate of finds, beside the season, and
//! whether these data can show it. Layer: `analyse`.
//!
//! # Method
//! The logarithm of finds per hour is the season (as in [`crate::analyse::season`]), a distributed lag of
//! rain and one of temperature over 60 days, and a random effect of each year. Weather
//! enters as the difference from what is usual on that day of the year, so the season
//! stays the season at usual weather. Each lag effect is held smooth and near zero by two penalties; all
//! weights are those of the highest restricted likelihood ([`crate::analyse::penalised`]).
//!
//! A series is included where the exchange of years rejects that it does nothing,
//! at a false discovery rate of 5 % over both. It has earned its place where the model then also predicts
//! years that were left out better than the season alone.

use serde::Serialize;

use super::cases::{AreaWeather, BLOCKS, Block, Cases, KNOWN, Layout};
use super::cross::{Gain, gain};
use super::exchange::{residuals, test};
use super::lags::{COEFFICIENTS, LONGEST, basis, columns};
use super::local::{Local, LocalDay};
use super::measures::{MEASURES, Measure};
use super::yearly::Yearly;
use super::{anomaly::Anomalies, rain_scale};
use crate::analyse::penalised::{Fit, Penalty};
use crate::analyse::season::Stint;
use crate::analyse::season::rate::KNOTS;
use crate::analyse::statistics::{Rng, false_discovery, quantile};
use jiff::civil::Date;

/// The fewest outings with a find and with weather (project choice).
pub const LEAST_WITH_FIND: usize = 10;
/// The share of false discoveries.
const LEVEL: f64 = 0.05;
/// Rain that an effect is stated for, mm.
pub const RAIN_STEP: f64 = 10.0;
/// The days up to a date whose weather counts, that day included.
pub const DAYS: usize = LONGEST + 1;
/// Draws for the lag of the highest effect, and for a forecast.
const DRAWS: usize = 1_000;

/// The effect of one series.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LagEffect {
    /// The p-value of the exchange of years; none where there are too few years.
    pub p: Option<f64>,
    /// The same after Benjamini and Hochberg over both series.
    pub q: Option<f64>,
    /// Whether the model includes it.
    pub included: bool,
    /// The factor on the rate by lag.
    pub curve: Vec<LagFactor>,
    /// The lag at which it acts most.
    pub strongest: LagEstimate,
    /// The factor of the whole time: of a step above the usual on each of the 61 days.
    pub total: Factor,
}

/// The factor of one step of weather so many days before.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LagFactor {
    /// Days before the outing.
    pub lag: usize,
    /// With its interval.
    #[serde(flatten)]
    pub factor: Factor,
}

/// A factor on the rate with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Factor {
    /// The estimate.
    pub factor: f64,
    /// The lower end.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
}

/// A lag with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LagEstimate {
    /// Days.
    pub days: f64,
    /// The lower end.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
}

/// The effect of a single number beside the season.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MeasureEffect {
    /// Which.
    pub measure: Measure,
    /// The step that the factor is of, in the unit of the measure.
    pub step: f64,
    /// The factor on the rate.
    #[serde(flatten)]
    pub factor: Factor,
    /// The p-value of the exchange of years.
    pub p: Option<f64>,
    /// After Benjamini and Hochberg over all measures.
    pub q: Option<f64>,
}

/// What the data can say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Weather improves the prediction of years left out.
    Earned,
    /// Nothing that these data can show.
    AddsNothing,
    /// It belongs to the finds of these years but does not predict others better.
    NotPredictive,
    /// Too few years for the test.
    TooFewYears,
}

/// The effect of weather on a taxon.
///
/// `verdict` comes first: where it is that these data cannot show an effect, the curves are no result.
#[derive(Clone, Debug, Serialize)]
pub struct WeatherEffect {
    /// In a word.
    pub verdict: Verdict,
    /// Outings with enough weather.
    pub outings: usize,
    /// Searched outings without it.
    pub outings_without_weather: usize,
    /// Finds on the former.
    pub finds: u32,
    /// Seasons of outings.
    pub years: usize,
    /// Years of weather that outings could be given in the test.
    pub weather_years: usize,
    /// Rain.
    pub rain: LagEffect,
    /// Temperature.
    pub warmth: LagEffect,
    /// What the included series add to the prediction of years left out.
    pub gain: Option<Gain>,
    /// Single numbers, each beside the season.
    pub measures: Vec<MeasureEffect>,
    /// The overdispersion between outings of the season alone.
    pub overdispersion_without: f64,
    /// With the weather.
    pub overdispersion_with: f64,
    #[serde(skip)]
    model: Option<Model>,
}

/// What a forecast needs.
#[derive(Clone, Debug)]
struct Model {
    fit: Yearly,
    layout: Layout,
    areas: Vec<AreaWeather>,
}

/// Why there is no estimate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct TooLittleWeather {
    /// Outings with weather.
    pub outings: usize,
    /// Searched outings without.
    pub outings_without_weather: usize,
    /// Of these, outings without enough days of rain.
    pub without_rain: usize,
    /// And without enough days of temperature.
    pub without_temperature: usize,
    /// Those with a find and with weather.
    pub with_find: usize,
}

/// Estimates the effect. `areas` has the weather of each area and the outings in it by their number in
/// the stints.
///
/// The same data always give the same result: arrangements of years and draws have fixed seeds.
///
/// # Errors
/// When fewer than [`LEAST_WITH_FIND`] outings with a find have weather.
pub fn estimate(
    stints: &[Stint],
    areas: &[(Vec<usize>, &Local)],
) -> Result<WeatherEffect, TooLittleWeather> {
    let (effect, basis) = series_effect(stints, areas)?;
    Ok(WeatherEffect { measures: measures(&basis.cases, &basis.residuals, areas), ..effect })
}

/// The same without the single measures: what a forecast and the adjustment of years need.
///
/// # Errors
/// As [`estimate`].
pub fn estimate_series(
    stints: &[Stint],
    areas: &[(Vec<usize>, &Local)],
) -> Result<WeatherEffect, TooLittleWeather> {
    series_effect(stints, areas).map(|(effect, _)| effect)
}

/// What the single measures are tested with.
struct Basis {
    cases: Cases,
    residuals: Vec<f64>,
}

/// Fits the season alone and with both series, tests each series, and decides on the verdict. Which series are
/// included follows from the tests, not from the fit; the model for forecasts exists only where the effect has
/// earned its place.
fn series_effect(
    stints: &[Stint],
    areas: &[(Vec<usize>, &Local)],
) -> Result<(WeatherEffect, Basis), TooLittleWeather> {
    let weather: Vec<AreaWeather> = areas.iter().map(|(_, local)| AreaWeather::of(local)).collect();
    let area_of = area_of(areas);
    let cases = Cases::of(stints, |outing| area_of.get(&outing).copied(), &weather);
    let with_find = cases.list.iter().filter(|case| case.finds > 0.0).count();
    let too_little = TooLittleWeather {
        outings: cases.list.len(),
        outings_without_weather: cases.without,
        without_rain: cases.without_series[0],
        without_temperature: cases.without_series[1],
        with_find,
    };
    if with_find < LEAST_WITH_FIND {
        return Err(too_little);
    }
    let plain = cases.problem(&[]);
    let season = plain.fit().ok_or(too_little)?;
    let whole = cases.problem(&BLOCKS);
    let full = Yearly::of(&cases, &whole, whole.fit().ok_or(too_little)?);
    let residuals = level_residuals(&cases).ok_or(too_little)?;
    let tested = BLOCKS.map(|block| tested(&cases, &residuals, &weather, block));
    let q = false_discovery(&tested.map(|test| test.0));
    let included: Vec<Block> = BLOCKS
        .into_iter()
        .zip(&q)
        .filter(|(_, q)| q.is_some_and(|q| q <= LEVEL))
        .map(|(block, _)| block)
        .collect();
    let chosen = cases.problem(&included);
    let with = if included.is_empty() { None } else { chosen.fit() };
    let gain = with.as_ref().and_then(|with| gain(&cases, &included, &season, with));
    let verdict = verdict(tested[0].0.is_none() && tested[1].0.is_none(), &included, gain);
    let layout = Layout { blocks: BLOCKS.to_vec(), years: cases.years.len() };
    let effect = |place: usize, step: f64| {
        let (p, q) = (tested[place].0, q[place]);
        lag_effect(&full, &layout, BLOCKS[place], step, (p, q))
    };
    let finds: f64 = cases.list.iter().map(|case| case.finds).sum();
    let overdispersion = |fit: &Fit| fit.scatter.per_outing.sqrt();
    let own = Layout { blocks: included, years: cases.years.len() };
    let effect = WeatherEffect {
        verdict,
        outings: cases.list.len(),
        outings_without_weather: cases.without,
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
        finds: finds as u32,
        years: cases.years.len(),
        weather_years: tested[0].1.max(tested[1].1),
        rain: effect(0, rain_scale(RAIN_STEP)),
        warmth: effect(1, 1.0),
        gain,
        measures: Vec::new(),
        overdispersion_without: overdispersion(&season),
        overdispersion_with: overdispersion(with.as_ref().unwrap_or(&full.fit)),
        model: with.filter(|_| verdict == Verdict::Earned).map(|fit| Model {
            fit: Yearly::of(&cases, &chosen, fit),
            layout: own,
            areas: weather,
        }),
    };
    Ok((effect, Basis { cases, residuals }))
}

fn area_of(areas: &[(Vec<usize>, &Local)]) -> std::collections::HashMap<usize, usize> {
    areas
        .iter()
        .enumerate()
        .flat_map(|(area, (outings, _))| outings.iter().map(move |outing| (*outing, area)))
        .collect()
}

fn verdict(untested: bool, included: &[Block], gain: Option<Gain>) -> Verdict {
    if untested {
        Verdict::TooFewYears
    } else if included.is_empty() {
        Verdict::AddsNothing
    } else if gain.is_some_and(|gain| gain.per_outing > 0.0) {
        Verdict::Earned
    } else {
        Verdict::NotPredictive
    }
}

/// Residuals of the season without an effect of years, which would take the weather of whole years out.
fn level_residuals(cases: &Cases) -> Option<Vec<f64>> {
    let mut problem = cases.problem(&[]);
    problem.columns = KNOTS;
    problem.penalties = vec![Penalty::bends(0, KNOTS, true)];
    problem.observations.iter_mut().for_each(|one| one.row.retain(|(column, _)| *column < KNOTS));
    let fit = problem.fit()?;
    Some(residuals(&problem, &fit))
}

/// The p-value of a block and the years that could be given.
fn tested(
    cases: &Cases,
    residuals: &[f64],
    weather: &[AreaWeather],
    block: Block,
) -> (Option<f64>, usize) {
    let spans = weather.iter().filter_map(|area| area.series(block).years());
    let span = spans.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
    let Some((from, until)) = span else { return (None, 0) };
    let tested = test(cases, residuals, (i32::from(from), i32::from(until)), |area, date| {
        let (before, known) = weather[area].series(block).before(date, LONGEST + 1);
        (10 * known >= 9 * (LONGEST + 1)).then_some(before)
    });
    (tested.p, tested.pool)
}

/// The factor of one step of a series at each lag, at the lag of its largest effect, and for one step on all 61
/// days.
fn lag_effect(
    fit: &Yearly,
    layout: &Layout,
    block: Block,
    step: f64,
    (p, q): (Option<f64>, Option<f64>),
) -> LagEffect {
    let first = layout.first(block).unwrap_or(KNOTS);
    let row = |lag: usize| basis(lag as f64).map(|(k, value)| (first + k, step * value));
    let curve: Vec<Factor> = (0..=LONGEST).map(|lag| fit.factor(&row(lag))).collect();
    let mut wider: Vec<f64> = (0..=LONGEST).map(|lag| fit.widened(&row(lag))).collect();
    wider.sort_unstable_by(f64::total_cmp);
    let wider = quantile(&wider, 0.5).unwrap_or(1.0);
    let mut total = [0.0; COEFFICIENTS];
    (0..=LONGEST).flat_map(|lag| basis(lag as f64)).for_each(|(k, value)| total[k] += value);
    let total: Vec<(usize, f64)> =
        total.iter().enumerate().map(|(k, value)| (first + k, step * value)).collect();
    LagEffect {
        p,
        q,
        included: q.is_some_and(|q| q <= LEVEL),
        strongest: strongest((&fit.fit, wider), first, &curve),
        curve: (curve.into_iter().enumerate())
            .map(|(lag, factor)| LagFactor { lag, factor })
            .collect(),
        total: fit.factor(&total),
    }
}

/// The lag of the largest effect in its direction. Draws of the coefficients are moved away from the
/// estimate by as much as intervals over years are wider.
fn strongest((fit, wider): (&Fit, f64), first: usize, curve: &[Factor]) -> LagEstimate {
    let log = |lag: usize| curve[lag].factor.ln();
    let best = (0..curve.len()).max_by(|a, b| log(*a).abs().total_cmp(&log(*b).abs()));
    let best = best.unwrap_or(0);
    let sign = if curve.is_empty() { 1.0 } else { log(best).signum() };
    let mut rng = Rng::new(0x1a65);
    let mut lags: Vec<f64> = fit
        .drawn(DRAWS, &mut rng)
        .iter()
        .map(|beta| {
            let effect = |lag: usize| -> f64 {
                let at = |k: usize| {
                    fit.beta[first + k] + wider * (beta[first + k] - fit.beta[first + k])
                };
                basis(lag as f64).iter().map(|(k, value)| sign * value * at(*k)).sum()
            };
            let top = (0..=LONGEST).max_by(|a, b| effect(*a).total_cmp(&effect(*b)));
            top.unwrap_or(0) as f64
        })
        .collect();
    lags.sort_unstable_by(f64::total_cmp);
    let at = |share: f64| quantile(&lags, share).unwrap_or(best as f64);
    LagEstimate { days: best as f64, low95: at(0.025), high95: at(0.975) }
}

/// The effect of each single number.
fn measures(
    cases: &Cases,
    residuals: &[f64],
    areas: &[(Vec<usize>, &Local)],
) -> Vec<MeasureEffect> {
    let mut effects: Vec<MeasureEffect> = MEASURES
        .into_iter()
        .filter_map(|measure| {
            let series = |days: &[LocalDay]| measure.series(days);
            let anomalies: Vec<Anomalies> = areas
                .iter()
                .map(|(_, local)| Anomalies::of(local.first, series(&local.days)))
                .collect();
            measure_effect(cases, residuals, &anomalies, measure)
        })
        .collect();
    let p: Vec<Option<f64>> = effects.iter().map(|effect| effect.p).collect();
    for (effect, q) in effects.iter_mut().zip(false_discovery(&p)) {
        effect.q = q;
    }
    effects
}

/// The effect of one single number of the weather beside the season; `None` where it is known for less than nine
/// outings in ten.
fn measure_effect(
    cases: &Cases,
    residuals: &[f64],
    anomalies: &[Anomalies],
    measure: Measure,
) -> Option<MeasureEffect> {
    let spans = anomalies.iter().filter_map(Anomalies::years);
    let (from, until) = spans.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))?;
    let value = |area: usize, date: Date| anomalies[area].on(date);
    let tested = test(cases, residuals, (i32::from(from), i32::from(until)), |area, date| {
        value(area, date).map(|value| vec![value])
    });
    let mut problem = cases.problem(&[]);
    let column = problem.columns;
    problem.columns += 1;
    let step = measure.step();
    let mut known = 0;
    for (one, case) in problem.observations.iter_mut().zip(&cases.list) {
        if let Some(value) = value(case.area, case.date) {
            one.row.push((column, value / step));
            known += 1;
        }
    }
    if 10 * known < 9 * cases.list.len() {
        return None;
    }
    let fit = Yearly::of(cases, &problem, problem.fit()?);
    let factor = fit.factor(&[(column, 1.0)]);
    Some(MeasureEffect { measure, step, factor, p: tested.p, q: None })
}

/// How many of the days up to a date must be known.
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
pub fn days_needed() -> usize {
    (KNOWN * DAYS as f64).ceil() as usize
}

impl WeatherEffect {
    /// The factor that the weather before a date in an area makes on the rate, against usual weather, and
    /// how many of the 61 days are known. None where the weather has not earned its place.
    #[must_use]
    pub fn forecast(&self, area: usize, date: Date) -> Option<(Factor, usize)> {
        let model = self.model.as_ref()?;
        let weather = model.areas.get(area)?;
        let (mut weights, mut least) = (Vec::new(), LONGEST + 1);
        for block in &model.layout.blocks {
            let (before, known) = weather.series(*block).before(date, LONGEST + 1);
            least = least.min(known);
            let first = model.layout.first(*block)?;
            weights.extend(columns(&before).iter().enumerate().map(|(k, v)| (first + k, *v)));
        }
        Some((model.fit.factor(&weights), least))
    }
}
